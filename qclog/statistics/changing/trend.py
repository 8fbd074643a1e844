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

from dataclasses import dataclass, fields, replace
from functools import lru_cache
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats, t_quantile
from qclog.statistics.bounding.sittings import Ints
from qclog.statistics.grouping import Grouping
from qclog.statistics.many import OneOrMany
from qclog.statistics.samples import checked, rounding_sd

FEWEST_POINTS = 5
RANKS_DECIDE_FROM = 10
AUTOCORRELATION_FROM = 20
DEPENDENT_ABOVE = 0.3
CONFIDENCE = 0.95
RISK = 0.05
RISK_DEPENDENT = 0.01
_EXACT_UP_TO = 200
_PAIRS_AT_ONCE = 1 << 20


@dataclass(frozen=True, slots=True)
class Line:
    """Least squares line level + slope (x - x_mean); x_squares = sum (x - x_mean)². One, or many: all of one shape.

    sd: of a point about it, with df = points - 2. rest: mean square, with df_rest, by which a single clamping
    scatters more than its point, the mean of a sitting; 0 where every point is one clamping.
    """

    points: OneOrMany
    x_mean: OneOrMany
    x_squares: OneOrMany
    level: OneOrMany
    slope: OneOrMany
    sd: OneOrMany
    clampings: OneOrMany
    rest: OneOrMany
    df_rest: OneOrMany

    def across(self) -> "Line":
        """Many lines (...) with a last axis for places along each, (..., 1)."""
        return Line(*(np.asarray(getattr(self, field.name))[..., None] for field in fields(self)))

    @property
    def df(self) -> OneOrMany:
        return self.points - 2

    @property
    def clamping_sd(self) -> OneOrMany:
        """Standard deviation of a clamping about the line."""
        return np.sqrt(self.sd**2 + self.rest)

    @property
    def slope_error(self) -> OneOrMany:
        """Standard error of the slope."""
        return self.sd / np.sqrt(self.x_squares)

    def at(self, x: npt.ArrayLike) -> Floats:
        """Value of the line at x; broadcasts."""
        return np.asarray(self.level + self.slope * (np.asarray(x, dtype=np.float64) - self.x_mean))

    def leverage(self, x: npt.ArrayLike) -> Floats:
        """Variance of the line's value at x, in units of sd²; broadcasts."""
        away = np.asarray(x, dtype=np.float64) - self.x_mean
        return np.asarray(1.0 / self.points + away**2 / self.x_squares)

    def p_rising(self) -> OneOrMany:
        """One-sided p of no rise."""
        from scipy.special import stdtr

        return stdtr(self.df, -self.slope / self.slope_error)


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
    """Trend of a record, or of records of one length (...), per unit of x.

    line with low, high (95 % interval of its slope) and p_value. autocorrelation: lag-1, of what is left over the
    line, bias corrected; None below 20 points. dependent: it is above 0.3, successive points are not independent
    and both p too small. p_worse: the one-sided p that decides, ``worse`` whether it does.
    """

    line: Line
    low: OneOrMany
    high: OneOrMany
    p_value: OneOrMany
    autocorrelation: OneOrMany
    dependent: OneOrMany
    p_worse: OneOrMany
    worse: OneOrMany


def trend(x: npt.ArrayLike, values: npt.ArrayLike, *, resolution_um: npt.ArrayLike) -> Trend:
    """Trend of values (..., n) over x (..., n), in the order they were taken; five points or more.

    The line decides below 10 points, ranks (``rank_trend``) from 10 on, at 5 % one-sided; where 20 points or more are
    not independent, the ranks of the pre-whitened values at 1 %. Raises NotAnswerableError as ``least_squares``.
    """
    line = least_squares(x, values, resolution_um=resolution_um)
    at, y = np.asarray(x, dtype=np.float64), np.asarray(values, dtype=np.float64)
    n = y.shape[-1]
    lag_1 = autocorrelation(y - line.across().at(at)) if n >= AUTOCORRELATION_FROM else None
    dependent = np.zeros(y.shape[:-1], dtype=np.bool_) if lag_1 is None else lag_1 > DEPENDENT_ABOVE
    p_line = line.p_rising()
    p_worse = p_line if n < RANKS_DECIDE_FROM else np.asarray(kendall_tail(n, kendall_s(at, y)))
    if lag_1 is not None and dependent.any():
        x_left, y_left = at[dependent], y[dependent]
        white = y_left[:, 1:] - lag_1[dependent][:, None] * y_left[:, :-1]
        p_worse[dependent] = kendall_tail(n - 1, kendall_s(x_left[:, 1:], white))
    reach = t_quantile(line.df, (1.0 - CONFIDENCE) / 2.0) * line.slope_error
    return Trend(
        line=line,
        low=line.slope - reach,
        high=line.slope + reach,
        p_value=2.0 * np.minimum(p_line, 1.0 - p_line),
        autocorrelation=lag_1,
        dependent=dependent,
        p_worse=p_worse,
        worse=p_worse <= np.where(dependent, RISK_DEPENDENT, RISK),
    )


def least_squares(x: npt.ArrayLike, values: npt.ArrayLike, *, resolution_um: npt.ArrayLike) -> Line:
    """Straight line through values (..., n) over x (..., n); sd not below that of the rounding to resolution_um (...).

    Raises NotAnswerableError for a figure that is not finite, below five points, for arrays of different
    length, and where all x of a record are equal.
    """
    at, y = checked(x, FEWEST_POINTS, "place"), checked(values, FEWEST_POINTS, "point")
    n = y.shape[-1]
    if at.shape != y.shape:
        raise NotAnswerableError(f"{at.shape[-1]} places for {n} points.", "Give one for each.")
    mean = at.mean(axis=-1)
    away = at - mean[..., None]
    squares = np.sum(away**2, axis=-1)
    if not squares.all():
        where = mean[squares == 0.0].flat[0]
        raise NotAnswerableError(f"All {n} points stand at {where:g}: no line.", "Log more later on.")
    level, slope = y.mean(axis=-1), np.sum(away * y, axis=-1) / squares
    left = y - level[..., None] - slope[..., None] * away
    least = rounding_sd(np.asarray(resolution_um, dtype=np.float64))
    sd = np.maximum(np.sqrt(np.sum(left**2, axis=-1) / (n - 2)), least)
    count = np.full(sd.shape, n)
    return Line(count, mean, squares, level, slope, sd, count, rest=np.zeros(sd.shape), df_rest=np.ones_like(count))


def line_through_sittings(
    x: npt.ArrayLike, values: npt.ArrayLike, sitting: npt.ArrayLike, *, resolution_um: npt.ArrayLike
) -> Line:
    """Straight line through the means of five sittings or more, each one point whatever its size.

    x, values (..., n) of the clampings and a label each (..., n). The scatter of a clamping about the line is the mean
    square of the points plus (1 - 1/size) of that within the sittings, size their harmonic mean: unweighted means, as
    in ``qclog.statistics.bounding.sittings``. Raises NotAnswerableError as ``least_squares``, for the points.
    """
    at, y = np.asarray(x, dtype=np.float64), np.asarray(values, dtype=np.float64)
    n, shape = y.shape[-1], y.shape[:-1]
    step = np.broadcast_to(np.asarray(resolution_um, dtype=np.float64), shape).reshape(-1)
    cells = Grouping(np.repeat(np.arange(step.size), n), np.asarray(sitting).reshape(-1), step.size)
    mean, place = cells.sitting_means(y.reshape(-1)), cells.sitting_means(at.reshape(-1))
    squares = np.sum((y.reshape(-1, n) - mean[cells.cell].reshape(-1, n)) ** 2, axis=-1)
    first = np.cumsum(cells.sittings) - cells.sittings
    lines: list[Line] = []
    rows: list[Ints] = []
    for points in np.unique(cells.sittings):
        row = np.flatnonzero(cells.sittings == points)
        of_row = first[row, None] + np.arange(points)
        line = least_squares(place[of_row], mean[of_row], resolution_um=step[row])
        df_within = n - line.points
        within = np.maximum(squares[row] / np.maximum(df_within, 1), rounding_sd(step[row]) ** 2)
        rest = np.where(df_within > 0, (1.0 - np.mean(1.0 / cells.size[of_row], axis=-1)) * within, 0.0)
        lines.append(replace(line, clampings=np.full(row.size, n), rest=rest, df_rest=np.maximum(df_within, 1)))
        rows.append(row)
    back = np.argsort(np.concatenate(rows)).reshape(shape)
    return Line(*(np.concatenate([getattr(line, field.name) for line in lines])[back] for field in fields(Line)))


def kendall_s(x: Floats, values: Floats) -> Ints:
    """Kendall's S (...) of values (..., n) over x (..., n): rising pairs less falling ones."""
    n = values.shape[-1]
    first, second = np.triu_indices(n, 1)
    at, y = x.reshape(-1, n), values.reshape(-1, n)
    s = np.empty(len(y), dtype=np.int64)
    rows = max(_PAIRS_AT_ONCE // max(first.size, 1), 1)
    for start in range(0, len(y), rows):
        part = slice(start, start + rows)
        run, rise = (np.sign(one[part, second] - one[part, first]) for one in (at, y))
        s[part] = np.sum(run * rise, axis=-1)
    return np.asarray(s.reshape(values.shape[:-1]))


def rank_trend(x: Floats, values: Floats) -> RankTrend:
    """Theil and Sen's line and Mann and Kendall's test of values (n,) over x (n,), not all x equal.

    The interval ends at the pair slopes of rank (N - C)/2 + 1 and (N + C)/2, C the smallest S with tail at most
    2.5 %. Equal values count 0 in S; its distribution is that without ties, so that ties make p too large.
    """
    n = values.size
    first, second = np.triu_indices(n, 1)
    run, rise = x[second] - x[first], values[second] - values[first]
    slopes = np.sort(rise[run != 0.0] / run[run != 0.0])
    s = int(kendall_s(x, values))
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
        p_rising=float(kendall_tail(n, s)),
        p_value=min(1.0, 2.0 * float(kendall_tail(n, abs(s)))),
    )


def kendall_tail(n: int, s: npt.ArrayLike) -> Floats:
    """P(S >= s) of Kendall's S of n values in random order, s of any shape: exact up to 200, beyond by the normal
    distribution."""
    from scipy.special import ndtr

    s = np.asarray(s)
    if n > _EXACT_UP_TO:
        return np.asarray(ndtr((1 - s) / _kendall_sd(n)))
    return np.asarray(_up_to_inversions(n)[(n * (n - 1) // 2 - s) // 2])


def kendall_critical(n: int, tail: float) -> int:
    """Smallest S with P(S >= s) at most ``tail``; above the largest possible S where there is none."""
    if n > _EXACT_UP_TO:
        return int(np.ceil(1.0 + NormalDist().inv_cdf(1.0 - tail) * _kendall_sd(n)))
    inversions = int(np.searchsorted(_up_to_inversions(n), tail, side="right")) - 1
    return n * (n - 1) // 2 - 2 * inversions


def autocorrelation(residuals: Floats) -> Floats:
    """Lag-1 correlation of residuals (..., n), n above 4, from a line, corrected for its bias: (n r + 2)/(n - 4)."""
    n, squares = residuals.shape[-1], np.sum(residuals**2, axis=-1)
    products = np.sum(residuals[..., 1:] * residuals[..., :-1], axis=-1)
    r = np.where(squares > 0.0, products / np.where(squares > 0.0, squares, 1.0), 0.0)
    return np.asarray((n * r + 2.0) / (n - 4))


def _kendall_sd(n: int) -> float:
    return float(np.sqrt(n * (n - 1) * (2 * n + 5) / 18.0))


@lru_cache(maxsize=_EXACT_UP_TO)
def _up_to_inversions(n: int) -> Floats:
    """Probability of at most 0, 1, … inversions in a random order of n."""
    return np.cumsum(_inversions(n))


@lru_cache(maxsize=_EXACT_UP_TO)
def _inversions(n: int) -> Floats:
    """Probability of 0, 1, … inversions in a random order of n: a sum of uniform counts 0 … i."""
    return np.ones(1) if n < 2 else np.convolve(_inversions(n - 1), np.full(n, 1.0 / n))
