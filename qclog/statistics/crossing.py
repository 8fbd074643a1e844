"""When will it be past its limit? Where 5 % of the clampings exceed it, from the line through the swings.

The band that with a confidence the 95 % point lies below is level + slope (x - mean) + s sqrt(h) t', t' the
quantile of the noncentral t distribution with z/sqrt(h): the tolerance factor of size 1/h. "Early" is not later
than the truth in 0.94-0.97 of simulated records (0.90 with 20 clampings of hardly any systematic part), and
early to late holds it in 0.90. Given that a drift is shown the latter is 0.82-0.93, 0.75-0.85 for a weak drift
over five points: say "about". Resampling residuals covers less and is not used.

Several clampings a sitting: the line goes through the means of the sittings, and its band is that of a sum of two
mean squares (``qclog.statistics.sittings.Spread``); it covers 0.92-0.96 whatever the share of the scatter between
sittings, where a line through all clampings alike covers down to 0.63 (own simulation).

Sources: Hahn and Meeker 1991, Statistical Intervals; Krishnamoorthy and Mathew 2009, Statistical Tolerance
Regions; sharing between items, Morris 1983, JASA 78 (all from memory).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.factors import Z_95, Floats, t_95, tolerance_factor
from qclog.statistics.samples import checked
from qclog.statistics.sittings import Spread, satterthwaite
from qclog.statistics.trend import Line

CONFIDENCE = 0.95
DRIFT_SHOWN_BELOW = 0.10
FEWEST_ITEMS_TO_SHARE = 5
_RECORDS_SEARCHED = 10.0
_STEPS = 200
_BISECTIONS = 50


@dataclass(frozen=True, slots=True)
class Crossing:
    """Places on the axis where 5 % of the clampings exceed the limit; none before the record's end ``now``.

    early: not before there, with 95 % confidence; now itself where that cannot be said even today; None beyond ten
    record lengths. median, late: None unless a drift is shown (p_rising at most 0.10); late is None where there
    is no upper end. [early, late] is a 90 % interval. horizon: one record length ahead; nothing beyond it should
    be told as a forecast.
    """

    now: float
    early: float | None
    median: float | None
    late: float | None
    horizon: float
    p_rising: float


def crossing(line: Line, x: npt.ArrayLike, *, limit_um: float) -> Crossing:
    """Where a line of swings over x (n,) will cross a limit.

    Raises NotAnswerableError for a limit that is not above 0.
    """
    if not 0.0 < limit_um < np.inf:
        raise NotAnswerableError(f"A limit of {limit_um:g} µm is none.", "Give it above 0.")
    at = checked(x, 0)
    now, length = float(at.max()), float(np.ptp(at))
    p_rising = line.p_rising()
    median = late = None
    if p_rising <= DRIFT_SHOWN_BELOW:
        median = max(now, line.x_mean + (limit_um - Z_95 * line.clamping_sd - line.level) / line.slope)
        late = _first_reached(line, limit_um, 1.0 - CONFIDENCE, now, length)
    early = _first_reached(line, limit_um, CONFIDENCE, now, length)
    return Crossing(now, early, median, late, now + length, p_rising)


def prediction_bound(line: Line, x: npt.ArrayLike) -> Floats:
    """What the next clamping at x stays below with probability 95 %; x of any shape."""
    sd, df = _prediction(line, x)
    return line.at(x) + t_95(df) * sd


def tolerance_band(line: Line, x: npt.ArrayLike, confidence: float) -> Floats:
    """What the 95 % point at x lies below with this confidence (small: its lower limit); x of any shape."""
    leverage = line.leverage(x)
    if line.rest == 0.0:
        return line.at(x) + tolerance_factor(1.0 / leverage, line.df, confidence) * line.sd
    between = np.broadcast_to(line.sd**2, leverage.shape)
    spread = Spread(
        between=between,
        df_between=np.broadcast_to(line.df, leverage.shape),
        rest=np.broadcast_to(line.rest, leverage.shape),
        df_rest=np.broadcast_to(line.df_rest, leverage.shape),
        centre_variance=between * leverage,
        prediction_df=_prediction(line, x)[1],
    )
    upper = confidence > 0.5
    return line.at(x) + (spread.upper_margin(1.0 - confidence) if upper else spread.lower_margin(confidence))


def exceedance_at(line: Line, x: npt.ArrayLike, limit_um: float) -> Floats:
    """Probability that the next clamping at x exceeds the limit; x of any shape."""
    from scipy.special import stdtr

    sd, df = _prediction(line, x)
    return np.asarray(stdtr(df, (line.at(x) - limit_um) / sd))


def shared_slopes(slopes: npt.ArrayLike, variances: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Slopes (J,) of comparable items drawn towards their common mean, and their variances (J,).

    Empirical Bayes for J from 5 on; variances: of each slope, s²/sum (x - mean)² with s pooled over the items.
    Simulated 90 % intervals cover 0.90-0.99. Raises NotAnswerableError below five items.
    """
    b, v = checked(slopes, FEWEST_ITEMS_TO_SHARE, "slope"), checked(variances, FEWEST_ITEMS_TO_SHARE, "variance")
    j = b.size
    between = max(float(np.var(b, ddof=1) - v.mean()), 0.0)
    weight = 1.0 / (v + between)
    away = b - np.sum(weight * b) / weight.sum()
    drawn = (j - 3) / (j - 1) * v * weight
    return b - drawn * away, v * (1.0 - (j - 1) * drawn / j) + 2.0 * drawn**2 * away**2 / (j - 3)


def _prediction(line: Line, x: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Standard deviation of the next clamping at x about the line found there, and its degrees of freedom."""
    point = line.sd**2 * (1.0 + line.leverage(x))
    df = satterthwaite(point, np.asarray(line.df), np.asarray(line.rest), np.asarray(line.df_rest))
    return np.sqrt(point + line.rest), df


def _first_reached(line: Line, limit: float, confidence: float, now: float, length: float) -> float | None:
    """The first place from now on where the band reaches the limit, within ten record lengths."""
    ahead = now + length * np.linspace(0.0, _RECORDS_SEARCHED, _STEPS + 1)
    reached = np.flatnonzero(tolerance_band(line, ahead, confidence) >= limit)
    if not reached.size:
        return None
    first = int(reached[0])
    if first == 0:
        return now
    low, high = float(ahead[first - 1]), float(ahead[first])
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        if tolerance_band(line, middle, confidence) >= limit:
            high = middle
        else:
            low = middle
    return high
