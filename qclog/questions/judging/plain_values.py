"""Plain values held against one limit or two: sizes, gaps, flushness, differences, lift. Never a swing.

The same three verdicts as for swings, by the same rules: uncertainty counts against whoever makes the claim, one
sitting says nothing of other days, looking again is paid for. What pins tell is judged by both of its ends.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, sqrt
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.characteristics import SIZE_FROM_PM
from qclog.characteristics import known as known_characteristic
from qclog.logbook.figures import Figures, Series, read_figures
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.logbook.told_by_pins import read_value_ends
from qclog.questions.codes import Caveat
from qclog.questions.judging.gauging import GaugeOfGroups, Gauges
from qclog.questions.judging.limits import governing_values
from qclog.questions.judging.own_pins import OwnPins, read_own_pins, together
from qclog.questions.judging.values import (
    LINEAR,
    METHODS,
    ROOT_SUM_OF_SQUARES,
    WORDS,
    Between,
    DecisionBetween,
    Limits,
    Read,
    ValueGroup,
)
from qclog.questions.judging.values import Ends as EndsOf
from qclog.questions.known import Known
from qclog.questions.places import place_of
from qclog.records import SWINGS
from qclog.statistics.bounding.bounds import FEWEST_CLAMPINGS, Method, verdict_confidence
from qclog.statistics.bounding.conformity import (
    Verdict,
    as_read_between,
    between,
    guard_band,
    widen_ends,
    widen_ends_inward,
)
from qclog.statistics.bounding.forecast import NEVER, SITTINGS_FOR_AN_ANSWER
from qclog.statistics.bounding.value_bounds import (
    NOTHING,
    Ends,
    ValueBounds,
    days_needed,
    days_to_fail,
    values_next_sittings,
    values_within_sitting,
)
from qclog.statistics.uncertainty import (
    default_indicator_u,
    default_pins_u,
    default_size_u,
    smallest_provable_limit,
)

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_SIZE_UM: Final = SIZE_FROM_PM / 1e6
_OF_TWO: Final = {"difference": sqrt(2.0), "half difference": sqrt(0.5), "spread": sqrt(2.0)}
"""What two readings kept together have of the uncertainty of one."""
K: Final = 2.0
"""The coverage factor of the uncertainty told."""
_FEW: Final = 3
_MOST_DAYS: Final = 200


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """The readings of one series in the order of time, arrays (n,)."""

    low: Floats
    high: Floats
    sitting: Ints
    step_um: float
    in_doubt: bool

    @property
    def by_pins(self) -> bool:
        return bool((self.low < self.high).any())


def of_two(characteristic: str) -> float:
    """By how much the uncertainty of a value is that of one reading: more where two kept together tell it."""
    return _OF_TWO.get(known_characteristic(characteristic).joined, 1.0)


def value_groups(known: Known, series: Sequence[Series]) -> list[tuple[Series, ValueGroup]]:
    """The groups of those series that are plain values and have readings."""
    connection, items, setups = known.connection, known.owned, known.setups
    plain = [one for one in series if one.characteristic not in SWINGS]
    if not plain:
        return []
    ids = [one.id for one in plain]
    figures, gauges = read_figures(connection, ids), known.gauges
    ends = read_value_ends(connection, ids)
    pins = read_own_pins(connection, plain) if ends else {}
    found = _judged(plain, figures, ends, pins, items, setups, gauges)
    if not figures.newest_left_out:
        return found
    everything = read_figures(connection, ids, also_in_doubt=True)
    told = {one.id: group for one, group in _judged(plain, everything, ends, pins, items, setups, gauges)}
    return [
        (one, _unless_contradicted(group, told[one.id]) if one.id in figures.newest_left_out else group)
        for one, group in found
    ]


def _judged(
    plain: Sequence[Series],
    figures: Figures,
    ends: Mapping[tuple[int, int], tuple[float, float]],
    pins: Mapping[tuple[int, int], OwnPins],
    items: Mapping[int, Owned],
    setups: Mapping[int, OwnedSetup],
    gauges: Gauges,
) -> list[tuple[Series, ValueGroup]]:
    place = {one.id: i for i, one in enumerate(plain)}
    group = np.array([place[int(i)] for i in figures.series], dtype=np.int64)
    rows = {one.id: _rows_of(one, group == place[one.id], figures, ends, gauges) for one in plain}
    gauge = _gauge(plain, rows, group, figures, gauges)
    found = []
    for i, one in enumerate(plain):
        read = rows[one.id]
        if read is not None:
            caveats, u, assumed = gauge.caveats(i), float(gauge.u_um[i]), bool(gauge.assumed[i])
            if own := together(pins.get((one.id, int(clamping))) for clamping in figures.clamping[group == i]):
                caveats, u, assumed = own.caveats, own.u_um, False
            if one.id in figures.left_out:
                caveats.append(Caveat.IN_DOUBT_LEFT_OUT)
            if figures.set_aside.get(one.id, (0, 0))[0]:
                caveats.append(Caveat.RECALLED_LEFT_OUT)
            u *= of_two(one.characteristic)
            found.append((one, _group(one, read, u, assumed, items, setups, caveats)))
    return found


def _rows_of(
    one: Series,
    here: npt.NDArray[np.bool_],
    figures: Figures,
    ends: Mapping[tuple[int, int], tuple[float, float]],
    gauges: Gauges,
) -> _Rows | None:
    if not here.any():
        return None
    values, clampings = figures.value_um[here], figures.clamping[here]
    known_between = [ends.get((one.id, int(c)), (v, v)) for c, v in zip(clampings, values, strict=True)]
    low, high = np.array(known_between).T
    step = float(gauges.steps_um(figures.gauging[here], figures.step_um[here]).min())
    return _Rows(low, high, figures.sitting[here], step, bool(figures.in_doubt[here].any()))


def _gauge(
    plain: Sequence[Series], rows: Mapping[int, _Rows | None], group: Ints, figures: Figures, gauges: Gauges
) -> GaugeOfGroups:
    """What each group's gauge adds: to a size as a micrometer or calliper, to a small difference as an indicator."""
    count = len(plain)
    largest, step, pins = np.zeros(count), np.ones(count), np.zeros(count, dtype=np.bool_)
    for i, one in enumerate(plain):
        read = rows[one.id]
        if read is not None:
            largest[i], step[i], pins[i] = np.abs((read.low, read.high)).max(), read.step_um, read.by_pins
    joined = np.array([bool(known_characteristic(one.characteristic).joined) for one in plain])
    size = joined | (largest >= _SIZE_UM)
    difference = np.where(size, 0.0, largest)

    def default(groups: Ints, steps: Floats) -> Floats:
        assumed = np.where(size[groups], default_size_u(steps), default_indicator_u(steps, difference[groups]))
        assumed = np.where(pins[groups], default_pins_u(), assumed)
        # a gap of which pins told the bore has its pin's uncertainty still to be told
        return np.where(pins[groups] & joined[groups], np.maximum(assumed, default_size_u(1.0)), assumed)

    read_with = gauges.read_with(group, figures.gauging, figures.order)
    return gauges.of_groups(read_with, difference, step, default)


def _group(
    one: Series,
    read: _Rows,
    u_um: float,
    assumed: bool,
    items: Mapping[int, Owned],
    setups: Mapping[int, OwnedSetup],
    caveats: list[Caveat],
) -> ValueGroup:
    limits, limit_from = governing_values(one, items, setups)
    both = all(map(isfinite, limits)) or not any(map(isfinite, limits))
    latest = read.sitting == read.sitting[-1]
    here = values_within_sitting(read.low[latest], read.high[latest], read.step_um, both=both)
    following = values_next_sittings(read.low, read.high, read.sitting, read.step_um, both=both)
    current = one.setup_id == 0 or one.revision == setups[one.setup_id].revision
    told = [as_read_between(read.low, read.high, limits, u_um)]
    told += [_verdict(bounds, limits, u_um, assumed) for bounds in (here, following)]
    if not current:
        told[1:] = [Verdict.NO_LIMIT if told[0] == Verdict.NO_LIMIT else Verdict.CANNOT_TELL] * 2
    if read.in_doubt:
        told = [verdict if verdict == Verdict.NO_LIMIT else Verdict.CANNOT_TELL for verdict in told]
    sittings, n = len(np.unique(read.sitting)), read.low.size
    unsuited = not read.in_doubt and bool(_room(one, limits) < smallest_provable_limit(u_um))
    once, before = known_characteristic(one.characteristic).once, one.modification < items[one.item_id].modification
    undecided = told[2] == Verdict.CANNOT_TELL and current and not read.in_doubt
    more = more_here = 0
    if undecided and not once:
        more = _more_readings(read, following, limits, u_um, sittings, SITTINGS_FOR_AN_ANSWER)
    elif undecided and told[1] == Verdict.CANNOT_TELL and not before:
        in_sitting = replace(read, low=read.low[latest], high=read.high[latest], sitting=read.sitting[latest])
        more_here = _more_readings(in_sitting, here, limits, u_um, in_sitting.low.size, FEWEST_CLAMPINGS)
    if undecided and _paid(here if following.method == Method.NONE else following, told, limits):
        caveats.append(Caveat.LOOKED_AGAIN)
    if NEVER in (more, more_here) and (n >= _FEW or unsuited):
        caveats.append(Caveat.MORE_WILL_NOT_TELL)
    of_sitting = once and undecided
    decides, verdict, looks = (here, told[1], int(latest.sum())) if of_sitting else (following, told[2], n)
    caveats += _codes(one, read, following, told, sittings, limits, items, current=current)
    if unsuited:
        caveats.append(Caveat.INSTRUMENT_NOT_SUITED)
    shown = next((bounds for bounds in (decides, following) if bounds.method != Method.NONE), here)
    return ValueGroup(
        **place_of(one)._asdict(),
        clampings=n,
        sittings=sittings,
        by_pins=read.by_pins,
        read_um=_read(read),
        bounds_um=None if read.in_doubt else _between(shown, limits, both),
        uncertainty_um=K * u_um,
        resolution_um=read.step_um,
        limits_um=None if limit_from is None else Limits(*(end if isfinite(end) else None for end in limits)),
        limit_from=limit_from,
        as_read=WORDS[told[0]],
        this_sitting=WORDS[told[1]],
        next_clampings=WORDS[told[2]],
        more_readings=more if more > 0 else None,
        caveats=tuple(code for code in Caveat if code in _agreeing(caveats)),
        decision=_decision(decides, verdict, limits, u_um, assumed, looks),
        more_in_sitting=more_here if more_here > 0 else None,
        before_bonding=one.modification if before else None,
    )


def _agreeing(caveats: Sequence[Caveat]) -> set[Caveat]:
    """Where more readings will not tell, none that asks for more of them."""
    asks_for_more = {Caveat.FEW_CLAMPINGS} if Caveat.MORE_WILL_NOT_TELL in caveats else set()
    return set(caveats) - asks_for_more


def _decision(
    bounds: ValueBounds, told: Verdict, limits: tuple[float, float], u_um: float, assumed: bool, n: int
) -> DecisionBetween | None:
    """Of ``n`` readings with a verdict."""
    if told not in (Verdict.HOLDS, Verdict.DOES_NOT_HOLD):
        return None
    holds = told == Verdict.HOLDS
    ends = bounds.holds if holds else bounds.fails
    moved = (widen_ends if holds else widen_ends_inward)((ends.low, ends.high), bounds.centre, u_um, assumed)

    def where_limited(low: float, high: float) -> EndsOf:
        return EndsOf(low if isfinite(limits[0]) else None, high if isfinite(limits[1]) else None)

    return DecisionBetween(
        confidence=float(verdict_confidence(n, bounds.method, holds=holds)),
        bounds_um=where_limited(ends.low, ends.high),
        centre_um=bounds.centre,
        guard_um=float(guard_band(u_um)),
        added=LINEAR if assumed else ROOT_SUM_OF_SQUARES,
        decides_um=where_limited(*moved),
    )


def _room(one: Series, limits: tuple[float, float]) -> float:
    """How far the limits leave a value to either side, µm; infinite where only one side is limited."""
    if all(map(isfinite, limits)):
        return (limits[1] - limits[0]) / 2
    return limits[1] if known_characteristic(one.characteristic).alone == "upper" and isfinite(limits[1]) else inf


def _verdict(bounds: ValueBounds, limits: tuple[float, float], u_um: float, assumed: bool) -> Verdict:
    holds, fails = (bounds.holds.low, bounds.holds.high), (bounds.fails.low, bounds.fails.high)
    return between(holds, fails, bounds.centre, limits, u_um, assumed)


def _paid(bounds: ValueBounds, told: Sequence[Verdict], limits: tuple[float, float]) -> bool:
    """Whether the ``bounds`` that are shown lie inside the limits and those of the verdict, farther apart, do not."""
    if bounds.method == Method.NONE:
        return False
    of_sitting = bounds.method == Method.ONE_SITTING and told[1] != Verdict.CANNOT_TELL
    return not of_sitting and bounds.shown.low >= limits[0] and bounds.shown.high <= limits[1]


def _more_readings(
    read: _Rows, bounds: ValueBounds, limits: tuple[float, float], u_um: float, so_far: int, first: int
) -> int:
    """How many more would show that it holds, or where all of it was read beyond a limit that it does not; NEVER where
    none would: days with one reading each, or readings.

    ``bounds`` from ``so_far`` of them. Where their scatter is not known yet, as many as give the ``first`` answer.
    """
    guard = float(guard_band(u_um))
    room = Ends(limits[0] + guard, limits[1] - guard)
    ends = Ends(float(read.low.min()), float(read.high.max()))
    past = Ends(limits[0] - guard, limits[1] + guard)
    beyond = ends.low >= past.high or ends.high <= past.low
    if not beyond and (ends.low < room.low or ends.high > room.high):
        return NEVER
    if bounds is NOTHING and not read.by_pins:
        return max(first - so_far, 1)
    if beyond:
        needed = days_to_fail(bounds, ends, past, so_far, _MOST_DAYS)
    else:
        needed = days_needed(bounds, ends, room, so_far, _MOST_DAYS)
    return needed - so_far if needed else NEVER


def _codes(
    one: Series,
    read: _Rows,
    following: ValueBounds,
    told: Sequence[Verdict],
    sittings: int,
    limits: tuple[float, float],
    items: Mapping[int, Owned],
    *,
    current: bool,
) -> list[Caveat]:
    """What follows from how many readings and sittings there are, how they scatter, and where the limits are."""
    n, none, kind = read.low.size, following.method == Method.NONE, known_characteristic(one.characteristic)
    floor = not read.by_pins and n > 1 and read.low.std(ddof=1) < read.step_um / np.sqrt(12.0)
    elsewhere = not any(map(isfinite, limits)) and any(
        limit.characteristic == one.characteristic for limit in items[one.item_id].limits
    )
    if read.in_doubt:
        return [Caveat.IN_DOUBT]
    return [
        code
        for code, true in {
            Caveat.FEW_CLAMPINGS: n < _FEW,
            Caveat.ONE_SITTING: none and sittings == 1 and not kind.once,
            Caveat.ROUGH_BOUND: n >= _FEW and (sittings == 2 or n == _FEW),
            Caveat.RESOLUTION_FLOOR: floor,
            Caveat.BY_PINS: read.by_pins,
            Caveat.KEPT_TOGETHER: bool(kind.joined),
            Caveat.LOOKED_AGAIN: n > _FEW and told[2] in (Verdict.HOLDS, Verdict.DOES_NOT_HOLD),
            Caveat.LIMIT_ELSEWHERE: elsewhere,
            Caveat.SETUP_CHANGED: not current,
        }.items()
        if true
    ]


def _read(read: _Rows) -> Read:
    low, high = float(read.low.min()), float(read.high.max())
    if read.by_pins:
        return Read(low, high, None, None, None)
    sd = float(read.low.std(ddof=1)) if read.low.size > 1 else None
    return Read(low, high, float(read.low.mean()), sd, float(read.low[-1]))


def _between(bounds: ValueBounds, limits: tuple[float, float], both: bool) -> Between | None:
    if bounds.method == Method.NONE:
        return None
    low = bounds.shown.low if both or isfinite(limits[0]) else None
    high = bounds.shown.high if both or isfinite(limits[1]) else None
    return Between(low, high, 0.95, 0.95, METHODS[bounds.method])


def _unless_contradicted(group: ValueGroup, with_doubt: ValueGroup) -> ValueGroup:
    """A verdict without the newest readings, which are in doubt, stands only if it is the same with them."""

    def agreed(one: str, other: str) -> str:
        return one if one == other else WORDS[Verdict.CANNOT_TELL]

    following = agreed(group.next_clampings, with_doubt.next_clampings)
    here, same = agreed(group.this_sitting, with_doubt.this_sitting), following == group.next_clampings
    contradicts = () if same else (Caveat.IN_DOUBT_CONTRADICTS,)
    return replace(
        group,
        as_read=agreed(group.as_read, with_doubt.as_read),
        this_sitting=here,
        next_clampings=following,
        caveats=(*group.caveats, *contradicts),
        decision=group.decision if same and here == group.this_sitting else None,
    )
