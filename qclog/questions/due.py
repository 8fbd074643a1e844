"""What should be measured next, the most urgent first, and which gauges are due.

First what may not be relied on as it is (in doubt, worked on, its setup changed since), then what is not known at all,
then what changes, then what is not yet decided, then what was read at a rhythm and is not any more; then the gauges.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.characteristics import known
from qclog.logbook.custody import Out
from qclog.logbook.engine import Store
from qclog.logbook.figures import Newest
from qclog.logbook.owned import KeptGauge, Owned, OwnedSetup, read_kept_gauges, read_owned, read_setups
from qclog.questions.changing.histories import WORK
from qclog.questions.codes import Caveat, Sign
from qclog.questions.codes import Due as Why
from qclog.questions.drawer import Entry, entries_in
from qclog.questions.judging.alike import JAWS
from qclog.questions.judging.groups import Group, goes_by, to_work_again, waits_for_doubt
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, Limits
from qclog.questions.wear import Answer as Worn
from qclog.records import EVERY_DISTANCE, RUNOUT, SWINGS

QUESTION: Final = "due"
SOON_DAYS: Final = 30
"""A gauge due within so many days is told beforehand."""
_UNDER_PM: Final = 20_000_000
"""A pin at most this much below the bore is the one kept for it (common practice)."""
_ORDER: Final = list(Why)
_PAST_LIMIT: Final = {Sign.DOES_NOT_HOLD, Sign.SETUP_LIMIT}


@dataclass(frozen=True, slots=True)
class Due:
    """One thing to do: an item to measure in a setup, or a gauge to calibrate.

    ``since``: when it was worked on, its setup changed or the gauge found wrong; ``because``: what was done or why;
    ``last_measured``: the day, None if it was not. ``until``: when the limit is met (a date, or clampings in work), or
    when the gauge is due; ``now``: already. ``more_clampings``: days with one clamping each that would decide it;
    ``more_in_sitting``: the same of jaws and gaps, which go by their sitting: clampings or readings in it.
    ``every_days``: how often it was read as a rule, for what was not read for long.
    ``characteristic``: what is to be read, ``limits_um`` its limits where it is no swing; ``diameter_mm``: the circle a
    face is read on; ``by_pins``: pins told it so far. The rest is where it is to be
    measured, how bodies stand there (``clocking``) and what with, as far as that is known.
    """

    why: Why
    code: str
    kind: str
    since: str | None = None
    because: str = ""
    last_measured: str | None = None
    until: str | None = None
    axis: str | None = None
    now: bool = False
    limit_um: float | None = None
    more_clampings: int | None = None
    more_in_sitting: int | None = None
    setup: str = ""
    positions: tuple[str, ...] = ()
    clocking: str = ""
    distance_mm: float | None = None
    pin: str = ""
    instrument: str = ""
    place: str = ""
    out: Out | None = None
    characteristic: str = RUNOUT
    limits_um: Limits | None = None
    diameter_mm: float | None = None
    by_pins: bool = False
    every_days: float | None = None


def due(store: Store) -> list[Due]:
    """Everything that is due today."""
    with store.reading() as connection:
        return due_in(connection)


def has_items(store: Store) -> bool:
    """Whether there is an item that something could be due of."""
    with store.reading() as connection:
        return bool(read_owned(connection))


def due_in(connection: sa.Connection, items: Sequence[int] | None = None) -> list[Due]:
    """As ``due``, of all items or of some, and of the gauges; within a transaction."""
    setups = {setup.code: setup for setup in read_setups(connection).values()}
    gauges, today = read_kept_gauges(connection), times.day(times.now())
    found: list[Due] = []
    for entry in entries_in(connection, items)[0]:
        if not entry.put_away and not entry.out_of_service:
            found += _of_item(entry, setups, gauges, today)
    found += _of_gauges(gauges.values(), today)
    return sorted(found, key=_urgency)


def document(found: Iterable[Due]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(one) for one in found]}


def _urgency(one: Due) -> tuple[Any, ...]:
    waiting = one.last_measured if one.every_days else one.until if one.axis is None else None
    return (
        _ORDER.index(one.why),
        not one.now,
        one.more_clampings or one.more_in_sitting or 0,
        waiting or one.since or "",
        one.code.casefold(),
        one.setup.casefold(),
    )


def _of_item(entry: Entry, setups: Mapping[str, OwnedSetup], gauges: Mapping[int, KeptGauge], today: str) -> list[Due]:
    """What is due of one item; of each place only the most urgent. A part of a setup is measured by what sits in it."""
    values = _of_values(entry, setups, gauges)
    if not entry.assessed.groups:
        only_values = (bool(entry.assessed.values) or bool(values)) and not _swings_wanted(entry.item)
        return values if entry.part_of or only_values else [_unmeasured(entry, setups, gauges), *values]
    current = {
        (group.setup, group.position) for group in entry.assessed.groups if Caveat.SETUP_CHANGED not in group.caveats
    }
    worn = {one.place: one for one in entry.worn}
    told: dict[tuple[str, str, str, float | None, Why], Due] = {}
    seen: dict[tuple[str, str], Why] = {}
    reasons = [
        (why, group, newest, worn.get(group.place))
        for group, newest in zip(entry.assessed.groups, entry.newest, strict=True)
        if (why := _why(entry, group, newest, worn.get(group.place), current, today)) is not None
    ]
    for why, group, newest, advice in sorted(reasons, key=lambda reason: _ORDER.index(reason[0])):
        if seen.setdefault((group.setup, group.position), why) == why:
            one = _measured(entry, why, group, newest, advice, setups, gauges)
            place = group.setup, group.clocking, one.characteristic, one.diameter_mm, why
            known = told.get(place)
            told[place] = one if known is None else _together(known, one)
    return [*told.values(), *values]


def _of_values(entry: Entry, setups: Mapping[str, OwnedSetup], gauges: Mapping[int, KeptGauge]) -> list[Due]:
    """What is due of an item's sizes, gaps and differences, and those it has a limit for that were never read."""
    found = []
    for value, newest in zip(entry.assessed.values, entry.newest_values, strict=True):
        setup, why = setups.get(value.setup), None
        if newest.order < times.order(entry.item.crashed_at):
            why = Why.CRASHED
        elif Caveat.SETUP_CHANGED in value.caveats:
            why = Why.SETUP_CHANGED
        elif waits_for_doubt(value):
            why = Why.IN_DOUBT
        elif to_work_again(value):
            why = Why.BEYOND
        elif value.more_readings is not None or value.more_in_sitting is not None:
            why = Why.UNDECIDED
        if why is not None:
            changed = setup if why == Why.SETUP_CHANGED else None
            crashed = times.day(entry.item.crashed_at) if why == Why.CRASHED else None
            found.append(
                Due(
                    why=why,
                    code=entry.item.code,
                    kind=entry.item.kind,
                    since=crashed if changed is None else times.day(changed.since),
                    because="" if changed is None else changed.reason,
                    last_measured=newest.day,
                    more_clampings=value.more_readings if why == Why.UNDECIDED else None,
                    more_in_sitting=value.more_in_sitting if why == Why.UNDECIDED else None,
                    setup=value.setup,
                    positions=(value.position,) if value.position else (),
                    clocking=value.clocking,
                    distance_mm=value.distance_mm or None,
                    instrument=_sound(gauges, newest.instrument_id),
                    place=entry.item.place,
                    out=entry.out,
                    characteristic=value.characteristic,
                    limits_um=value.limits_um,
                    by_pins=value.by_pins,
                )
            )
    read = {value.characteristic for value in entry.assessed.values}
    limits = {limit.characteristic: limit for limit in entry.item.limits if limit.characteristic not in SWINGS}
    for name, limit in limits.items():
        bonded = known(name).once and name in entry.ever_read
        if name not in read and not bonded:
            ends = (None if end is None else end / 1e6 for end in (limit.lower_pm, limit.upper_pm))
            found.append(
                Due(
                    why=Why.MODIFIED if entry.item.modification else Why.NEVER_MEASURED,
                    code=entry.item.code,
                    kind=entry.item.kind,
                    since=times.day(entry.item.modified_at) if entry.item.modification else None,
                    because=entry.item.what if entry.item.modification else "",
                    place=entry.item.place,
                    out=entry.out,
                    characteristic=name,
                    limits_um=Limits(*ends),
                )
            )
    return found


def _swings_wanted(item: Owned) -> bool:
    """Whether it is made to a run-out too."""
    return any(limit.characteristic in SWINGS for limit in item.limits)


def _days(before: str, today: str) -> int:
    """From one day to another; 0 where the first is known by its month or year only."""
    known = len(before) == len(today) and not before.endswith("-00")
    return (date.fromisoformat(today) - date.fromisoformat(before)).days if known else 0


def _why(
    entry: Entry, group: Group, newest: Newest, advice: Worn | None, current: set[tuple[str, str]], today: str
) -> Why | None:
    if newest.order < times.order(entry.item.crashed_at):
        return Why.CRASHED
    if Caveat.SETUP_CHANGED in group.caveats:
        return None if (group.setup, group.position) in current else Why.SETUP_CHANGED
    if waits_for_doubt(group):
        return Why.IN_DOUBT
    if entry.item.kind == JAWS and goes_by(group) == DOES_NOT_HOLD:
        return Why.BEYOND
    if advice is not None and _rises(advice):
        if not _PAST_LIMIT.isdisjoint(advice.because):
            return Why.PAST_LIMIT
        if _meets_limit(advice):
            return Why.MEETS_LIMIT
    if goes_by(group) == CANNOT_TELL and (group.more_clampings or group.more_in_sitting) is not None:
        return Why.UNDECIDED
    if advice is not None and advice.rhythm is not None and advice.rhythm.broken_after(_days(newest.day, today)):
        return Why.OVERDUE
    return None


def _rises(advice: Worn) -> bool:
    """Whether a rise is shown."""
    return any(test.found and test.sign == Sign.LEVEL_RISES for test in advice.tests)


def _meets_limit(advice: Worn) -> bool:
    """Whether what rises meets the limit before the next check, or may have met it."""
    if advice.crosses is None or advice.next_check is None:
        return False
    early, check = advice.crosses.early, advice.next_check
    return advice.crosses.now or (int(early) <= int(check) if advice.axis == WORK else early <= check)


def _measured(
    entry: Entry,
    why: Why,
    group: Group,
    newest: Newest,
    advice: Worn | None,
    setups: Mapping[str, OwnedSetup],
    gauges: Mapping[int, KeptGauge],
) -> Due:
    setup = setups.get(group.setup)
    changed = setup if why == Why.SETUP_CHANGED else None
    crashed = times.day(entry.item.crashed_at) if why == Why.CRASHED else None
    crosses = advice.crosses if advice is not None and why == Why.MEETS_LIMIT else None
    rhythm = advice.rhythm if advice is not None and why == Why.OVERDUE else None
    return Due(
        why=why,
        code=entry.item.code,
        kind=entry.item.kind,
        since=crashed if changed is None else times.day(changed.since),
        because="" if changed is None else changed.reason,
        last_measured=newest.day,
        until=None if crosses is None else crosses.early,
        axis=None if crosses is None or advice is None else advice.axis,
        now=crosses is not None and crosses.now,
        every_days=None if rhythm is None else rhythm.every_days,
        limit_um=group.limit_um,
        more_clampings=group.more_clampings if why == Why.UNDECIDED else None,
        more_in_sitting=group.more_in_sitting if why == Why.UNDECIDED else None,
        setup=group.setup,
        positions=(group.position,) if group.position else (),
        clocking=group.clocking,
        distance_mm=group.distance_mm,
        characteristic=group.characteristic,
        diameter_mm=None if group.characteristic == RUNOUT else group.diameter_mm,
        pin=_sound(gauges, newest.pin_id),
        instrument=_sound(gauges, newest.instrument_id),
        place=entry.item.place,
        out=entry.out,
    )


def _sound(gauges: Mapping[int, KeptGauge], gauge_id: int) -> str:
    """The code of a gauge to measure with again; '' where none was named, or it was found wrong or out."""
    gauge = gauges.get(gauge_id)
    return "" if gauge is None or gauge.wrong_since or gauge.check_failed else gauge.code


def _together(known: Due, one: Due) -> Due:
    """Two positions of one setup measured on one occasion."""
    return dataclasses.replace(
        known,
        positions=tuple(dict.fromkeys((*known.positions, *one.positions))),
        more_clampings=max(known.more_clampings or 0, one.more_clampings or 0) or None,
        more_in_sitting=max(known.more_in_sitting or 0, one.more_in_sitting or 0) or None,
        last_measured=max(known.last_measured or "", one.last_measured or "") or None,
        now=known.now or one.now,
    )


def _unmeasured(entry: Entry, setups: Mapping[str, OwnedSetup], gauges: Mapping[int, KeptGauge]) -> Due:
    item = entry.item
    worked_on = item.modification > 0
    setup = item.married_setup or (next(iter(setups)) if len(setups) == 1 else "")
    distance, limit_um = _limit_of(item)
    crashed = times.day(item.crashed_at)
    done = item.what if worked_on else ""
    pin_id, instrument_id = _read_with(entry, setup, item.married_position)
    return Due(
        why=Why.CRASHED if crashed else Why.MODIFIED if worked_on else Why.NEVER_MEASURED,
        code=item.code,
        kind=item.kind,
        since=crashed or (times.day(item.modified_at) if worked_on else None),
        because=f"{done} {times.day(item.modified_at)}" if done and crashed else done,
        limit_um=limit_um,
        setup=setup,
        positions=(item.married_position,) if item.married_position else (),
        distance_mm=distance,
        pin=_pin_for(item, gauges.values()) or _sound(gauges, pin_id),
        instrument=_sound(gauges, instrument_id),
        place=item.place,
        out=entry.out,
    )


def _read_with(entry: Entry, setup: str, position: str) -> tuple[int, int]:
    """The ids of pin and indicator that its run-out was last read with there before it was worked on; 0 where it was
    not, or none was named."""
    here = (setup, position, RUNOUT)
    found = [newest for at, newest in entry.before if (at.setup, at.position, at.characteristic) == here]
    last = max(found, key=lambda newest: newest.order, default=None)
    return (0, 0) if last is None else (last.pin_id, last.instrument_id)


def _limit_of(item: Owned) -> tuple[float | None, float | None]:
    """The distance, mm, and the size, µm, of the limit that an item as it is now has on its run-out."""
    limits = [x for x in item.limits if x.characteristic == RUNOUT and x.upper_pm is not None]
    newest = max((x.modification_number for x in limits), default=0)
    for limit in limits:
        if limit.modification_number == newest and limit.distance_pm != EVERY_DISTANCE:
            return limit.distance_pm / 1e9, (limit.upper_pm or 0) / 1e6
    return None, None


def _pin_for(item: Owned, gauges: Iterable[KeptGauge]) -> str:
    """The pin kept for a bore: the largest not above it and hardly below; '' where there is none."""
    if item.size_pm is None:
        return ""
    kept = [(pin.size_pm, pin.code) for pin in gauges if pin.size_pm is not None and not pin.wrong_since]
    fitting = [pin for pin in kept if 0 <= item.size_pm - pin[0] <= _UNDER_PM]
    return max(fitting, key=lambda pin: pin[0], default=(0, ""))[1]


def _of_gauges(gauges: Iterable[KeptGauge], today: str) -> Iterable[Due]:
    """The indicators that are due; of pins, which a card describes, only those that are calibrated at all."""
    soon = (date.fromisoformat(today) + timedelta(days=SOON_DAYS)).isoformat()
    for gauge in gauges:
        why, due_on = None, times.day(gauge.due_on)
        if gauge.wrong_since:
            why = Why.GAUGE_WRONG
        elif gauge.check_failed:
            why = Why.CHECK_FAILED
        elif due_on and due_on < today:
            why = Why.GAUGE_OVERDUE
        elif not gauge.calibrated_on and gauge.kind == "instrument":
            why = Why.GAUGE_NEVER
        elif due_on and due_on <= soon:
            why = Why.GAUGE_SOON
        if why is not None:
            since = times.day(gauge.wrong_since or (gauge.checked_at if gauge.check_failed else "")) or None
            yield Due(
                why=why,
                code=gauge.code,
                kind=gauge.what or gauge.kind,
                since=since,
                because=gauge.check_failed if why == Why.CHECK_FAILED else "",
                until=due_on or None,
            )
        if gauge.check_due and gauge.check_due <= today and why not in (Why.GAUGE_WRONG, Why.CHECK_FAILED):
            yield Due(why=Why.CHECK_DUE, code=gauge.code, kind=gauge.kind, until=gauge.check_due)
