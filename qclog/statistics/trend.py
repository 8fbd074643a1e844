"""Is it getting worse? A straight line through swings against clampings or dates, and a test without a line.

Least squares has the more power with clean data and is the basis of a forecast; Theil and Sen's slope with
Mann and Kendall's test stands isolated gross values (a chip, dirt): from 5 % of them on it wins with 10 points or
more. Which of the two decides is chosen by the number of points before looking. Several clampings of one
sitting are to be given as their mean, one point: taken one by one, clampings that scatter as much from day to day
as within a day give a 95 % interval of the slope that covers 0.69 (five a day; own simulation). A modification
starts a new record; never fit across it.

Sources: Mann 1945, Econometrica 13; Kendall 1975, Rank Correlation Methods; Sen 1968, JASA 63; correction of
a lag-1 correlation after Marriott and Pope 1954 and pre-whitening after von Storch 1995 (all from memory).
Sizes from own simulation.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.factors import Floats, t_quantile
from qclog.statistics.samples import checked, rounding_sd

FEWEST_POINTS = 5
RANKS_DECIDE_FROM = 10
AUTOCORRELATION_FROM = 20
DEPENDENT_ABOVE = 0.3
CONFIDENCE = 0.95
RISK = 0.05
RISK_DEPENDENT = 0.01
_EXACT_UP_TO = 200


@dataclass(frozen=True, slots=True)
class Line:
    """Least squares line level + slope (x - x_mean); x_squares = sum (x - x_mean)².

    sd: of a point about it, with df = points - 2. rest: mean square, with df_rest, by which a single clamping
    scatters more than its point, the mean of a sitting; 0 where every point is one clamping.
    """

    points: int
    x_mean: float
    x_squares: float
    level: float
    slope: float
    sd: float
    clampings: int
    rest: float = 0.0
    df_rest: int = 1

    @property
    def df(self) -> int:
        return self.points - 2

    @property
    def clamping_sd(self) -> float:
        """Standard deviation of a clamping about the line."""
        return float(np.sqrt(self.sd**2 + self.rest))

    @property
    def slope_error(self) -> float:
        """Standard error of the slope."""
        return self.sd / float(np.sqrt(self.x_squares))

    def at(self, x: npt.ArrayLike) -> Floats:
        """Value of the line at x, any shape."""
        return self.level + self.slope * (np.asarray(x, dtype=np.float64) - self.x_mean)

    def leverage(self, x: npt.ArrayLike) -> Floats:
        """Variance of the line's value at x, in units of sd²; any shape."""
        return 1.0 / self.points + (np.asarray(x, dtype=np.float64) - self.x_mean) ** 2 / self.x_squares

    def p_rising(self) -> float:
        """One-sided p of no rise."""
        from scipy.special import stdtr

        return float(stdtr(self.df, -self.slope / self.slope_error))


@dataclass(frozen=True, slots=True)
class RankTrend:
    """Theil and Sen's slope with its 95 % interval and intercept; Kendall's S with exact p of no trend.

    low and high are infinite where too few points differ in x. p_rising is one-sided.
    """

    slope: float
    low: float
    high: float
    intercept: float
    s: int
    p_rising: float
    p_value: float


@dataclass(frozen=True, slots=True)
class Trend:
    """Trend of a record, per unit of x.

    line with low, high (95 % interval of its slope) and p_value; ranks beside it. autocorrelation: lag-1, of what
    is left over the line, bias corrected; None below 20 points. dependent: it is above 0.3, successive points
    are not independent and both p too small. p_worse: the one-sided p that decides, ``worse`` whether it does.
    """

    line: Line
    low: float
    high: float
    p_value: float
    ranks: RankTrend
    autocorrelation: float | None
    dependent: bool
    p_worse: float
    worse: bool


def trend(x: npt.ArrayLike, values: npt.ArrayLike, *, resolution_um: float) -> Trend:
    """Trend of values (n,) over x (n,), in the order they were taken; five points or more.

    The line decides below 10 points, the ranks from 10 on, at 5 % one-sided; where 20 points or more are not
    independent, the ranks of the pre-whitened values at 1 %. Raises NotAnswerableError as ``least_squares``.
    """
    line = least_squares(x, values, resolution_um=resolution_um)
    at, y = np.asarray(x, dtype=np.float64), np.asarray(values, dtype=np.float64)
    ranks = rank_trend(at, y)
    lag_1 = autocorrelation(y - line.at(at)) if line.points >= AUTOCORRELATION_FROM else None
    dependent = lag_1 is not None and lag_1 > DEPENDENT_ABOVE
    p_line = line.p_rising()
    p_worse = p_line if line.points < RANKS_DECIDE_FROM else ranks.p_rising
    if lag_1 is not None and dependent:
        p_worse = rank_trend(at[1:], y[1:] - lag_1 * y[:-1]).p_rising
    reach = float(t_quantile(line.df, (1.0 - CONFIDENCE) / 2.0)) * line.slope_error
    return Trend(
        line=line,
        low=line.slope - reach,
        high=line.slope + reach,
        p_value=2.0 * min(p_line, 1.0 - p_line),
        ranks=ranks,
        autocorrelation=lag_1,
        dependent=dependent,
        p_worse=p_worse,
        worse=p_worse <= (RISK_DEPENDENT if dependent else RISK),
    )


def least_squares(x: npt.ArrayLike, values: npt.ArrayLike, *, resolution_um: float) -> Line:
    """Straight line through values (n,) over x (n,); sd not below that of the rounding to resolution_um.

    Raises NotAnswerableError for a figure that is not finite, below five points, for arrays of different
    length, and where all x are equal.
    """
    at, y = checked(x, FEWEST_POINTS, "place"), checked(values, FEWEST_POINTS, "point")
    if at.size != y.size:
        raise NotAnswerableError(f"{at.size} places for {y.size} points.", "Give one for each.")
    mean = float(at.mean())
    away = at - mean
    squares = float(np.sum(away**2))
    if squares == 0.0:
        raise NotAnswerableError(f"All {at.size} points stand at {mean:g}: no line.", "Log more later on.")
    level, slope = float(y.mean()), float(np.sum(away * y) / squares)
    left = y - level - slope * away
    sd = max(float(np.sqrt(np.sum(left**2) / (y.size - 2))), rounding_sd(resolution_um))
    return Line(y.size, mean, squares, level, slope, sd, clampings=y.size)


def line_through_sittings(
    x: npt.ArrayLike, values: npt.ArrayLike, sitting: npt.ArrayLike, *, resolution_um: float
) -> Line:
    """Straight line through the means of five sittings or more, each one point whatever its size.

    x, values (n,) of the clampings and a label each (n,). The scatter of a clamping about the line is the mean square
    of the points plus (1 - 1/size) of that within the sittings, size their harmonic mean: unweighted means, as in
    ``qclog.statistics.sittings``. Raises NotAnswerableError as ``least_squares``, for the points.
    """
    at, y = np.asarray(x, dtype=np.float64), np.asarray(values, dtype=np.float64)
    _, cell, size = np.unique(sitting, return_inverse=True, return_counts=True)
    mean = np.bincount(cell, y) / size
    line = least_squares(np.bincount(cell, at) / size, mean, resolution_um=resolution_um)
    df_within = y.size - size.size
    if df_within == 0:
        return line
    within = max(float(np.sum((y - mean[cell]) ** 2)) / df_within, rounding_sd(resolution_um) ** 2)
    rest = (1.0 - float(np.mean(1.0 / size))) * within
    return replace(line, clampings=y.size, rest=rest, df_rest=df_within)


def rank_trend(x: Floats, values: Floats) -> RankTrend:
    """Theil and Sen's line and Mann and Kendall's test of values (n,) over x (n,), not all x equal.

    The interval ends at the pair slopes of rank (N - C)/2 + 1 and (N + C)/2, C the smallest S with tail at most
    2.5 %. Equal values count 0 in S; its distribution is that without ties, so that ties make p too large.
    """
    n = values.size
    first, second = np.triu_indices(n, 1)
    run, rise = x[second] - x[first], values[second] - values[first]
    slopes = np.sort(rise[run != 0.0] / run[run != 0.0])
    s = int(np.sum(np.sign(run) * np.sign(rise)))
    slope = float(np.median(slopes))
    critical = kendall_critical(n, (1.0 - CONFIDENCE) / 2.0)
    outside = (slopes.size - critical) // 2
    inside = outside >= 0
    return RankTrend(
        slope=slope,
        low=float(slopes[outside]) if inside else -np.inf,
        high=float(slopes[-1 - outside]) if inside else np.inf,
        intercept=float(np.median(values - slope * x)),
        s=s,
        p_rising=kendall_tail(n, s),
        p_value=min(1.0, 2.0 * kendall_tail(n, abs(s))),
    )


def kendall_tail(n: int, s: int) -> float:
    """P(S >= s) of Kendall's S of n values in random order: exact up to 200, beyond by the normal distribution."""
    if n > _EXACT_UP_TO:
        return NormalDist().cdf((1 - s) / _kendall_sd(n))
    return float(_up_to_inversions(n)[(n * (n - 1) // 2 - s) // 2])


def kendall_critical(n: int, tail: float) -> int:
    """Smallest S with P(S >= s) at most ``tail``; above the largest possible S where there is none."""
    if n > _EXACT_UP_TO:
        return int(np.ceil(1.0 + NormalDist().inv_cdf(1.0 - tail) * _kendall_sd(n)))
    inversions = int(np.searchsorted(_up_to_inversions(n), tail, side="right")) - 1
    return n * (n - 1) // 2 - 2 * inversions


def autocorrelation(residuals: Floats) -> float:
    """Lag-1 correlation of residuals (n,), n above 4, from a line, corrected for its bias: (n r + 2)/(n - 4)."""
    n, squares = residuals.size, float(np.sum(residuals**2))
    r = float(np.sum(residuals[1:] * residuals[:-1])) / squares if squares > 0.0 else 0.0
    return (n * r + 2.0) / (n - 4)


def _kendall_sd(n: int) -> float:
    return float(np.sqrt(n * (n - 1) * (2 * n + 5) / 18.0))


@lru_cache(maxsize=64)
def _up_to_inversions(n: int) -> Floats:
    """Probability of at most 0, 1, … inversions in a random order of n: a sum of uniform counts 0 … i."""
    each = np.ones(1)
    for i in range(2, n + 1):
        each = np.convolve(each, np.full(i, 1.0 / i))
    return np.cumsum(each)
