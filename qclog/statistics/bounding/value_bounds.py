"""Bounds on further readings of a plain value with one limit or two: sizes, gaps, flushness, differences.

Values scatter about their own level, normally as far as anybody can tell; nothing is cut off at zero. What is asked is
the share of further readings beyond an upper limit, below a lower one, or outside both: with both, the middle 95 %
(``statistics.bounding.two_sided``), with one the 95 % point on its side (ISO 16269-6). Over sittings as for swings
(``qclog.statistics.bounding.sittings``).

A value told by go and no-go pins is known to lie between two sizes, no better: its bounds are the farthest that any
likely mean and scatter reach (``statistics.bounding.likely_values``). Of a sitting with several such values the hull
counts once, as that of one clamping.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.bounds import FEWEST_CLAMPINGS, FEWEST_SITTINGS_ONE_EACH, Method
from qclog.statistics.bounding.factors import SHOWN_RISK, Z_95, Floats, tolerance_factor
from qclog.statistics.bounding.likely_values import Region, likely_region
from qclog.statistics.bounding.looking import OWN_DOES_NOT_HOLD, OWN_HOLDS, risk
from qclog.statistics.bounding.sittings import Ints, SittingSums, Spread, own_spread, sitting_sums
from qclog.statistics.bounding.two_sided import two_sided_factor
from qclog.statistics.samples import checked, rounding_sd

Z_MIDDLE: Final = 1.959963984540054
"""The middle 95 % of a normal distribution lie within so many standard deviations."""


@dataclass(frozen=True, slots=True)
class Ends:
    """A lower and an upper end, minus and plus infinity where there is none."""

    low: float = -inf
    high: float = inf


@dataclass(frozen=True, slots=True)
class ValueBounds:
    """Bounds of one group, in the unit of its values.

    ``shown``: with 95 % confidence 95 % of further readings lie between. ``holds``: the same at the confidence of the
    verdict. ``fails``: as surely 5 % lie beyond each end, ``high`` the least that the upper 95 % point may be, ``low``
    the most that the lower may be. ``centre``: the middle value. ``sd``: scatter of a further reading, None where it is
    known by pins only.
    """

    shown: Ends
    holds: Ends
    fails: Ends
    centre: float
    sd: float | None
    method: Method


NOTHING: Final = ValueBounds(Ends(), Ends(), Ends(inf, -inf), 0.0, None, Method.NONE)


def values_within_sitting(low: npt.ArrayLike, high: npt.ArrayLike, step: float, *, both: bool) -> ValueBounds:
    """Bounds for more readings on the same occasion, from three on; NOTHING below.

    low, high (n,): the ends between which each value is known, equal where it was read. ``step``: of the readings;
    their scatter is never taken below that of rounding to it. ``both``: two limits are asked about, else one.
    Raises NotAnswerableError for values that are not finite.
    """
    low, high = _checked(low, high)
    return _one_group(low, high, low.size, step, both, Method.ONE_SITTING)


def values_next_sittings(
    low: npt.ArrayLike, high: npt.ArrayLike, sitting: npt.ArrayLike, step: float, *, both: bool
) -> ValueBounds:
    """Bounds for readings on other days, from two sittings on, from three where pins told the value; else NOTHING.

    sitting (n,): whole numbers, equal for one sitting; the rest as in ``values_within_sitting``.
    """
    low, high = _checked(low, high)
    _, cell = np.unique(np.asarray(sitting), return_inverse=True)
    sittings = int(cell.max(initial=-1)) + 1
    if (low < high).any():
        hull_low, hull_high = np.full(sittings, inf), np.full(sittings, -inf)
        np.minimum.at(hull_low, cell, low)
        np.maximum.at(hull_high, cell, high)
        return _one_group(hull_low, hull_high, low.size, step, both, Method.ONE_EACH)
    if sittings == low.size and sittings >= FEWEST_SITTINGS_ONE_EACH:
        return _one_group(low, high, low.size, step, both, Method.ONE_EACH)
    if sittings < 2:
        return NOTHING
    return _over_sittings(low, cell, step, both)


def days_needed(bounds: ValueBounds, read: Ends, room: Ends, sittings: int, most: int) -> int:
    """How many days in all, one reading on each, would find readings like those so far inside; 0 if not by ``most``.

    ``read``: the ends of what was read, where pins told it; then every further day is taken to tell the same.
    ``room``: the limits less what the gauge asks for.
    """
    both = bool(np.isfinite(room.low) and np.isfinite(room.high))

    def inside(days: int) -> bool:
        tail = float(risk(days, OWN_HOLDS))
        if bounds.sd is None:
            reach = _likely(likely_region([read.low], [read.high], tail, [days]), both)
        else:
            margin = _upper_factor(days, 1.0 - tail, both) * bounds.sd
            reach = Ends(bounds.centre - margin, bounds.centre + margin)
        return bool(reach.low >= room.low and reach.high <= room.high)

    return _first_of(inside, sittings, most)


def days_to_fail(bounds: ValueBounds, read: Ends, past: Ends, sittings: int, most: int) -> int:
    """How many days in all, one reading on each, would show that readings like those so far lie beyond a limit; 0 if
    not by ``most``.

    ``past``: the limits moved outward by what the gauge asks for; the rest as in ``days_needed``.
    """

    def beyond(days: int) -> bool:
        tail = float(risk(days, OWN_DOES_NOT_HOLD))
        if bounds.sd is None:
            region = likely_region([read.low], [read.high], tail, [days])
            least = Ends(region.most_below(Z_95), region.least_above(Z_95))
        else:
            margin = float(tolerance_factor(days, days - 1, tail)) * bounds.sd
            least = Ends(bounds.centre - margin, bounds.centre + margin)
        return bool(least.low < past.low or least.high > past.high)

    return _first_of(beyond, sittings, most)


def _first_of(told: Callable[[int], bool], sittings: int, most: int) -> int:
    """The first number of days, more than ``sittings``, by which something is told; 0 if not by ``most``."""
    first, last = max(sittings + 1, FEWEST_SITTINGS_ONE_EACH), most
    if first > last or not told(last):
        return 0
    while first < last:
        middle = (first + last) // 2
        first, last = (first, middle) if told(middle) else (middle + 1, last)
    return first


def _one_group(low: Floats, high: Floats, looks: int, step: float, both: bool, method: Method) -> ValueBounds:
    """Values as one group; ``looks``: how many clampings stand behind them."""
    n = low.size
    if n < FEWEST_CLAMPINGS:
        return NOTHING
    holds, fails = float(risk(looks, OWN_HOLDS)), float(risk(looks, OWN_DOES_NOT_HOLD))
    if (low < high).any():
        return _told_by_pins(low, high, step, both, holds, fails, method)
    sd, centre = max(float(low.std(ddof=1)), rounding_sd(step)), float(low.mean())
    k = float(tolerance_factor(n, n - 1, fails))

    def ends(tail: float) -> Ends:
        margin = _upper_factor(n, 1.0 - tail, both) * sd
        return Ends(centre - margin, centre + margin)

    return ValueBounds(ends(SHOWN_RISK), ends(holds), Ends(centre - k * sd, centre + k * sd), centre, sd, method)


def _told_by_pins(
    low: Floats, high: Floats, step: float, both: bool, holds: float, fails: float, method: Method
) -> ValueBounds:
    """A value that was read to a number among them is known to half a step."""
    half = np.where(low < high, 0.0, step / 2)
    low, high = low - half, high + half
    doubtful = likely_region(low, high, fails)
    return ValueBounds(
        shown=_likely(likely_region(low, high, SHOWN_RISK), both),
        holds=_likely(likely_region(low, high, holds), both),
        fails=Ends(doubtful.most_below(Z_95), doubtful.least_above(Z_95)),
        centre=float((low.mean() + high.mean()) / 2),
        sd=None,
        method=method,
    )


def _likely(region: Region, both: bool) -> Ends:
    z = Z_MIDDLE if both else Z_95
    return Ends(region.below(z), region.above(z))


def _over_sittings(values: Floats, cell: Ints, step: float, both: bool) -> ValueBounds:
    own = _floored(sitting_sums(values, cell), rounding_sd(step) ** 2)
    spread, centre = own_spread(own), float(own.centre)
    k = float(spread.lower_margin(risk(values.size, OWN_DOES_NOT_HOLD)))

    def ends(tail: float) -> Ends:
        margin = _margin(spread, tail, both)
        return Ends(centre - margin, centre + margin)

    return ValueBounds(
        shown=ends(SHOWN_RISK),
        holds=ends(float(risk(values.size, OWN_HOLDS))),
        fails=Ends(centre - k, centre + k),
        centre=centre,
        sd=float(spread.sd),
        method=Method.SITTINGS,
    )


def _margin(spread: Spread, tail: float, both: bool) -> float:
    return float(spread.upper_margin(tail, Z_MIDDLE) if both else spread.upper_margin(tail))


def _floored(own: SittingSums, floor: float) -> SittingSums:
    return SittingSums(
        own.centre,
        np.where(own.df_between > 0, np.maximum(own.between, floor / own.harmonic_size), 0.0),
        own.df_between,
        np.where(own.df_within > 0, np.maximum(own.within, floor), 0.0),
        own.df_within,
        own.harmonic_size,
        own.sittings,
    )


def _upper_factor(n: int, confidence: float, both: bool) -> float:
    if both:
        return two_sided_factor(n, n - 1, confidence)
    return float(tolerance_factor(n, n - 1, confidence))


def _checked(low: npt.ArrayLike, high: npt.ArrayLike) -> tuple[Floats, Floats]:
    return checked(low, 1), checked(high, 1)
