"""Is it getting worse, since when, and is it time: keep, watch or retire, and why?

Level, repeat and the ratio far to near are looked at each for itself, for each has its own cure. What was seen on
the item outranks its numbers. A drift is judged where the next check will find it, not where the record ends.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.figures import Series, read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned, read_setups
from qclog.questions.alike import is_current
from qclog.questions.assess import DOES_NOT_HOLD, HOLDS, NO_LIMIT, Group, assess
from qclog.questions.changes import far_to_near_grown, repeat_grown, signal_of, trend_of
from qclog.questions.codes import Caveat, Sign
from qclog.questions.histories import History, as_count, as_date, clampings_in_work, history_of
from qclog.statistics import retirement
from qclog.statistics.crossing import crossing
from qclog.statistics.running_chart import FALSE_ALARM_EVERY
from qclog.statistics.step import FEWEST_CLAMPINGS as STEP_FROM
from qclog.statistics.step import find_step
from qclog.statistics.trend import CONFIDENCE, FEWEST_POINTS, RISK
from qclog.statistics.trend import Trend as Record

QUESTION: Final = "wear"
KEEP, WATCH, RETIRE = "keep", "watch", "retire"
_ROUND_LIMITS_UM: Final = (3, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)
_DAYS_A_YEAR: Final = 365.25
_RETIRING: Final = {Sign.DOES_NOT_HOLD, Sign.CRACK, Sign.BLUE, Sign.SLIPPED_AGAIN}
_ALL_WELL: Final = {Sign.HOLDS, Sign.NO_LIMIT}
_SEEN: Final = {
    "crack": Sign.CRACK,
    "blue": Sign.BLUE,
    "bell-mouth": Sign.BELL_MOUTH,
    "lost spring": Sign.LOST_SPRING,
}


@dataclass(frozen=True, slots=True)
class Trend:
    """Slope of the swing, µm a year or µm in 1,000 clampings in work, with its interval."""

    per_year_um: float | None
    per_1000_um: float | None
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Step:
    """The first clamping after a step, and the change of the mean swing."""

    at: str
    change_um: float


@dataclass(frozen=True, slots=True)
class Crosses:
    """When 5 % of the clampings will exceed the limit: dates or clampings in work; not before ``early``.

    ``now``: even today it cannot be said that they do not yet.
    """

    early: str | None
    median: str | None
    late: str | None
    now: bool


@dataclass(frozen=True, slots=True)
class Answer:
    """One item at one place. ``good_for_um``: the smallest round limit it would still hold, None if unknown."""

    item: str
    modification: int
    setup: str
    position: str
    distance_mm: float
    characteristic: str
    clampings: int
    axis: str
    level_um: float
    limit_um: float | None
    trend: Trend | None
    step: Step | None
    signal: str | None
    crosses: Crosses | None
    decision: str
    because: tuple[Sign, ...]
    good_for_um: float | None
    caveats: tuple[Caveat, ...]


def wear(store: Store, codes: Sequence[str] = ()) -> list[Answer]:
    """One answer for each item, setup, position and distance, of the items named or of all that have clampings.

    Raises NotFoundError.
    """
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        owned, setups = read_owned(connection, items), read_setups(connection)
        series = [
            one
            for one in read_series(connection, items=items)
            if is_current(one, owned) and (not one.setup_id or one.revision == setups[one.setup_id].revision)
        ]
        figures = read_figures(connection, [one.id for one in series])
        used, slips = clampings_in_work(connection, items), _slips(connection, items)
    answers = [answer for code in codes for answer in assess(store, code)] if codes else assess(store)
    groups = {_place(group): group for answer in answers if answer.item for group in answer.groups}
    histories = {one.id: history_of(one, figures, used.get(one.item_id, [])) for one in series}
    points = {one.id: h.by_sitting() for one in series if (h := histories[one.id]) is not None}
    ratios = far_to_near_grown(series, histories)
    return [
        _answer(
            one,
            history,
            points[one.id],
            groups[_key(one)],
            owned[one.item_id],
            slips.get(one.item_id, 0),
            ratios.get(one.id, False),
        )
        for one in series
        if (history := histories[one.id]) is not None and _key(one) in groups
    ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    answers = list(answers)
    return {
        "question": QUESTION,
        "answers": [dataclasses.asdict(answer) for answer in answers],
        "expected_by_chance": expected_by_chance(answers),
    }


def expected_by_chance(answers: Sequence[Answer]) -> float:
    """How many signs of a change would appear with nothing wrong: trend tests at 5 %, chart alarms one in 370."""
    trends = sum(answer.trend is not None for answer in answers)
    return RISK * trends + sum(answer.clampings for answer in answers) / FALSE_ALARM_EVERY


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything is to be retired, 8 if anything is to be watched, else 0."""
    told = {answer.decision for answer in answers}
    return 1 if RETIRE in told else 8 if WATCH in told or not told else 0


def _answer(
    one: Series, history: History, points: History, group: Group, item: Owned, slips: int, wider: bool
) -> Answer:
    record = trend_of(history)
    seen = trend_of(points)
    drifting = record is not None and seen is not None and seen.worse
    signs = [_SEEN[finding] for finding in item.findings if finding in _SEEN]
    if slips:
        signs.append(Sign.SLIPPED_AGAIN if slips > 1 else Sign.SLIPPED)
    held = _held(history, group, record if drifting else None)
    signs.append(Sign.SETUP_LIMIT if held == Sign.DOES_NOT_HOLD and group.limit_from == "setup" else held)
    step = find_step(points.swings, resolution_um=points.step_um) if points.swings.size >= STEP_FROM else None
    stepped = step is not None and step.proven and step.change_um > 0
    signal = signal_of(points)
    told: list[tuple[Sign, bool]] = [
        (Sign.LEVEL_RISES, drifting),
        (Sign.STEPPED, stepped),
        (Sign.CHART_SIGNAL, signal is not None),
        (Sign.REPEAT_GROWN, repeat_grown(history)),
        (Sign.FAR_TO_NEAR_GROWN, wider),
    ]
    signs += [sign for sign, so in told if so]
    if not set(signs) <= _ALL_WELL:
        signs = [sign for sign in signs if sign not in _ALL_WELL]
    decision = RETIRE if _RETIRING.intersection(signs) else KEEP if set(signs) <= _ALL_WELL else WATCH
    level = (
        float(record.line.level + record.line.slope * (history.x[-1] - record.line.x_mean))
        if drifting and record
        else 0.0
    )
    return Answer(
        item=one.item,
        modification=one.modification,
        setup=one.setup,
        position=one.position,
        distance_mm=one.distance_tenths / 10,
        characteristic=one.characteristic,
        clampings=history.swings.size,
        axis=history.axis,
        level_um=level if drifting else float(history.swings.mean()),
        limit_um=group.limit_um,
        trend=_told_trend(record, history.axis) if record is not None and seen is not None else None,
        step=Step(points.dates[step.before], step.change_um) if step is not None and step.proven else None,
        signal=signal,
        crosses=_crosses(history, group, drifting=drifting),
        decision=decision,
        because=tuple(dict.fromkeys(signs)),
        good_for_um=_good_for(group, record if drifting else None, history)
        if decision == RETIRE and not {Sign.CRACK, Sign.BLUE}.intersection(signs)
        else None,
        caveats=tuple(code for code in group.caveats if code not in (Caveat.MORE_WILL_NOT_TELL, Caveat.LOOKED_AGAIN)),
    )


def _told_trend(record: Record, axis: str) -> Trend:
    per = 1_000.0 if axis == "clampings" else _DAYS_A_YEAR
    slope = record.line.slope * per
    return Trend(
        per_year_um=slope if axis == "date" else None,
        per_1000_um=slope if axis == "clampings" else None,
        low=record.low * per,
        high=record.high * per,
        confidence=CONFIDENCE,
    )


def _held(history: History, group: Group, drift: Record | None) -> Sign:
    """Whether it holds its limit: as assessed, or with a drift where the next check will find it."""
    if group.limit_um is None:
        return Sign.NO_LIMIT
    if drift is None:
        return {HOLDS: Sign.HOLDS, DOES_NOT_HOLD: Sign.DOES_NOT_HOLD, NO_LIMIT: Sign.NO_LIMIT}.get(
            group.next_clampings, Sign.CANNOT_TELL
        )
    limits = retirement.drift_limits(drift.line, _next_check(history))
    decided = retirement.decide(
        limits.upper_um,
        limits.lower_um,
        limits.centre_um,
        group.limit_um,
        (group.uncertainty_um or 0.0) / 2,
        _assumed(group),
    )
    return {
        retirement.Decision.KEEP: Sign.HOLDS,
        retirement.Decision.RETIRE: Sign.DOES_NOT_HOLD,
    }.get(retirement.Decision(int(decided)), Sign.CANNOT_TELL)


def _assumed(group: Group) -> bool:
    return bool({Caveat.INSTRUMENT_UNKNOWN, Caveat.INSTRUMENT_UNCALIBRATED}.intersection(group.caveats))


def _next_check(history: History) -> float:
    """Where the next check will be: as far on as the checks so far lie apart."""
    places = np.unique(history.x)
    return float(places[-1] + (places[-1] - places[0]) / max(places.size - 1, 1))


def _crosses(history: History, group: Group, *, drifting: bool) -> Crosses | None:
    """When the limit will be crossed: the early end always, the rest only with a drift, nothing too far ahead."""
    if history.swings.size < FEWEST_POINTS or np.unique(history.x).size < 2 or group.limit_um is None:
        return None
    found = crossing(history.x, history.swings, limit_um=group.limit_um, resolution_um=history.step_um)
    say = as_date if history.axis == "date" else as_count

    def within(place: float | None) -> str | None:
        return None if place is None or place > found.now + found.horizon else say(place)

    early, now = within(found.early), found.early is not None and found.early <= found.now
    return (
        Crosses(early, within(found.median), within(found.late), now) if drifting else Crosses(early, None, None, now)
    )


def _good_for(group: Group, drift: Record | None, history: History) -> float | None:
    """The smallest round limit above its own that it would still be found to hold."""
    if group.limit_um is None or group.bound is None:
        return None
    upper = group.bound.value_um
    if drift is not None:
        upper = retirement.drift_limits(drift.line, _next_check(history)).upper_um
    needed = upper + 1.645 * (group.uncertainty_um or 0.0) / 2
    return next((float(limit) for limit in _ROUND_LIMITS_UM if limit >= needed and limit > group.limit_um), None)


def _slips(connection: sa.Connection, items: Sequence[int] | None) -> dict[int, int]:
    """How often work slipped in an item since it was last found sound."""
    seen = schema.inspection
    query = sa.select(seen.c.item_id, seen.c.finding).order_by(seen.c.seen_on, seen.c.id)
    if items is not None:
        query = query.where(seen.c.item_id.in_(items))
    found: dict[int, int] = {}
    for item_id, finding in connection.execute(query):
        found[item_id] = 0 if finding == "sound" else found.get(item_id, 0) + (finding == "slip")
    return found


def _place(group: Group) -> tuple[Any, ...]:
    place = (group.item, group.setup, group.position, group.clocking, group.distance_mm)
    return (*place, group.diameter_mm, group.characteristic)


def _key(one: Series) -> tuple[Any, ...]:
    diameter = None if one.diameter_tenths < 0 else one.diameter_tenths / 10
    place = (one.item, one.setup, one.position, one.clocking, one.distance_tenths / 10)
    return (*place, diameter, one.characteristic)
