"""When will it be past its limit? Where 5 % of the clampings exceed it, from the line through the swings.

The band that with a confidence the 95 % point lies below is level + slope (x - mean) + s sqrt(h) t', t' the
quantile of the noncentral t distribution with z/sqrt(h): the tolerance factor of size 1/h. "Early" is not later
than the truth in 0.94-0.97 of simulated records (0.90 with 20 clampings of hardly any systematic part), and
early to late holds it in 0.90. Given that a drift is shown the latter is 0.82-0.93, 0.75-0.85 for a weak drift
over five points: say "about". Resampling residuals covers less and is not used.

Several clampings a sitting: the line goes through the means of the sittings, and its band is that of a sum of two
mean squares (``statistics.bounding.sittings.Spread``); it covers 0.92-0.96 whatever the share of the scatter between
sittings, where a line through all clampings alike covers down to 0.63 (own simulation).

Sources: Hahn and Meeker 1991, Statistical Intervals; Krishnamoorthy and Mathew 2009, Statistical Tolerance
Regions; sharing between items, Morris 1983, JASA 78 (all from memory).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Z_95, Floats, t_95, tolerance_factor
from qclog.statistics.bounding.sittings import Spread, satterthwaite
from qclog.statistics.changing.trend import Line
from qclog.statistics.many import OneOrMany, of
from qclog.statistics.samples import checked

CONFIDENCE = 0.95
DRIFT_SHOWN_BELOW = 0.10
FEWEST_ITEMS_TO_SHARE = 5
_STEPS = 20
_BISECTIONS = 50


@dataclass(frozen=True, slots=True)
class Crossing:
    """Places on the axis where 5 % of the clampings exceed the limit, of one line or of many (...); none before the
    record's end ``now``.

    early: not before there, with 95 % confidence; now itself where that cannot be said even today. median: infinite
    unless a drift is shown (p_rising at most 0.10), and so is late, also where there is no upper end. [early, late] is
    a 90 % interval. horizon: one record length ahead; nothing beyond it is told as a forecast, early and late are
    infinite there.
    """

    now: OneOrMany
    early: OneOrMany
    median: OneOrMany
    late: OneOrMany
    horizon: OneOrMany
    p_rising: OneOrMany


def crossing(line: Line, x: npt.ArrayLike, *, limit_um: npt.ArrayLike) -> Crossing:
    """Where lines of swings (...) over x (..., n), of which only the ends matter, will cross a limit (...).

    Raises NotAnswerableError for a limit that is not above 0.
    """
    limit = np.asarray(limit_um, dtype=np.float64)
    if not ((limit > 0.0) & (limit < np.inf)).all():
        raise NotAnswerableError(f"A limit of {limit.min():g} µm is none.", "Give it above 0.")
    at = checked(x, 0)
    now, length = at.max(axis=-1), np.ptp(at, axis=-1)
    p_rising = line.p_rising()
    median, late = np.full(now.shape, np.inf), np.full(now.shape, np.inf)
    early = _first_reached(line, limit, CONFIDENCE, now, length)
    shown = p_rising <= DRIFT_SHOWN_BELOW
    if shown.any():
        drift, most = of(line, shown), np.broadcast_to(limit, now.shape)[shown]
        reached = drift.x_mean + (most - Z_95 * drift.clamping_sd - drift.level) / drift.slope
        median[shown] = np.maximum(now[shown], reached)
        late[shown] = _first_reached(drift, most, 1.0 - CONFIDENCE, now[shown], length[shown])
    return Crossing(now, early, median, late, now + length, p_rising)


def prediction_bound(line: Line, x: npt.ArrayLike) -> Floats:
    """What the next clamping at x stays below with probability 95 %; broadcasts."""
    sd, df = _prediction(line, x)
    return line.at(x) + t_95(df) * sd


def tolerance_band(line: Line, x: npt.ArrayLike, confidence: npt.ArrayLike) -> Floats:
    """What the 95 % point at x lies below with this confidence (small: its lower limit).

    Broadcasts: of many lines (K,) at places (K, p) give ``line.across()``, and confidences of one kind.
    """
    at, confidence = line.at(x), np.asarray(confidence)
    single = line.rest == 0.0
    if np.all(single):
        return np.asarray(at + tolerance_factor(1.0 / line.leverage(x), line.df, confidence) * line.sd)
    if not np.any(single):
        return at + _margin(line, x, confidence)
    places, needed = np.broadcast_to(x, at.shape), np.broadcast_to(confidence, np.shape(line.rest))
    band = np.empty(at.shape)
    for which in (single.reshape(-1), ~single.reshape(-1)):
        band[which] = tolerance_band(of(line, which), places[which], needed[which])
    return band


def exceedance_at(line: Line, x: npt.ArrayLike, limit_um: float) -> Floats:
    """Probability that the next clamping at x exceeds the limit; broadcasts."""
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


def _margin(line: Line, x: npt.ArrayLike, confidence: Floats) -> Floats:
    """What to add to lines through sittings of several clampings for the band at x; broadcasts."""
    between = line.sd**2
    spread = Spread(
        between=between,
        df_between=line.df,
        rest=line.rest,
        df_rest=line.df_rest,
        centre_variance=between * line.leverage(x),
        prediction_df=_prediction(line, x)[1],
    )
    if np.all(confidence > 0.5):
        return spread.upper_margin(np.round(1.0 - confidence, 12))
    return spread.lower_margin(confidence)


def _first_reached(line: Line, limit: Floats, confidence: float, now: Floats, length: Floats) -> Floats:
    """The first place from now on where the band of each line (...) reaches its limit; infinite beyond the horizon."""
    ahead = now[..., None] + length[..., None] * np.linspace(0.0, 1.0, _STEPS + 1)
    reached = tolerance_band(line.across(), ahead, confidence) >= limit[..., None]
    first = np.asarray(reached.argmax(axis=-1))
    place = np.where(reached.any(axis=-1), now, np.inf)
    later = first > 0
    if later.any():
        some, most, at = of(line, later), np.broadcast_to(limit, now.shape)[later], first[later, None]
        low, high = (np.take_along_axis(ahead[later], at + step, axis=-1)[:, 0] for step in (-1, 0))
        for _ in range(_BISECTIONS):
            middle = (low + high) / 2.0
            beyond = tolerance_band(some, middle, confidence) >= most
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
        place[later] = high
    return place
