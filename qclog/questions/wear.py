"""Is it getting worse, since when, and is it time: keep, watch or retire, and why?

Level, repeat and the ratio far to near are looked at each for itself, for each has its own cure. What was seen on
the item outranks its numbers. A drift is judged where the next check will find it, not where the record ends.
"""

import dataclasses
import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.figures import Figures, Series, read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned, read_setups
from qclog.questions.alike import is_current
from qclog.questions.assess import DOES_NOT_HOLD, HOLDS, NO_LIMIT, Group, assess
from qclog.questions.codes import Caveat, Sign
from qclog.statistics import retirement
from qclog.statistics.crossing import crossing
from qclog.statistics.running_chart import FALSE_ALARM_EVERY, running_chart
from qclog.statistics.running_chart import FEWEST_CLAMPINGS as CHART_FROM
from qclog.statistics.step import FEWEST_CLAMPINGS as STEP_FROM
from qclog.statistics.step import find_step
from qclog.statistics.trend import CONFIDENCE, FEWEST_POINTS, RISK, trend
from qclog.statistics.trend import Trend as Record

QUESTION: Final = "wear"
KEEP, WATCH, RETIRE = "keep", "watch", "retire"
_ROUND_LIMITS_UM: Final = (3, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)
_DAYS_A_YEAR: Final = 365.25
_REPEAT_FROM: Final = 10
_REPEAT_DOUBLED: Final = 2.0
_RATIO_DOUBLED: Final = 2.0

Floats = npt.NDArray[np.float64]


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


@dataclass(frozen=True, slots=True, eq=False)
class _History:
    """The swings of one series in the order of time, and where they stand on the axis."""

    swings: Floats
    x: Floats
    dates: tuple[str, ...]
    step_um: float
    axis: str

    def by_sitting(self, sitting: npt.NDArray[np.int64]) -> "_History":
        """One point a sitting, its mean: clampings of one sitting are not independent witnesses of a change."""
        _, first, cell = np.unique(sitting, return_index=True, return_inverse=True)
        count = np.bincount(cell)
        order = np.argsort(first)
        means, places = np.bincount(cell, self.swings) / count, np.bincount(cell, self.x) / count
        dates = tuple(self.dates[first[i]] for i in order)
        return _History(means[order], places[order], dates, self.step_um, self.axis)


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
        used, slips = _clampings_in_work(connection, items), _slips(connection, items)
    answers = [answer for code in codes for answer in assess(store, code)] if codes else assess(store)
    groups = {_place(group): group for answer in answers if answer.item for group in answer.groups}
    histories = {one.id: _history(one, figures, used.get(one.item_id, [])) for one in series}
    points = {one.id: h.by_sitting(_sittings(one, figures)) for one in series if (h := histories[one.id]) is not None}
    ratios = _far_to_near(series, histories)
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
    one: Series, history: _History, points: _History, group: Group, item: Owned, slips: int, wider: bool
) -> Answer:
    record = _trend(history)
    seen = _trend(points)
    drifting = record is not None and seen is not None and seen.worse
    signs = [_SEEN[finding] for finding in item.findings if finding in _SEEN]
    if slips:
        signs.append(Sign.SLIPPED_AGAIN if slips > 1 else Sign.SLIPPED)
    held = _held(history, group, record if drifting else None)
    signs.append(Sign.SETUP_LIMIT if held == Sign.DOES_NOT_HOLD and group.limit_from == "setup" else held)
    step = find_step(points.swings, resolution_um=points.step_um) if points.swings.size >= STEP_FROM else None
    stepped = step is not None and step.proven and step.change_um > 0
    signal = _signal(points)
    told: list[tuple[Sign, bool]] = [
        (Sign.LEVEL_RISES, drifting),
        (Sign.STEPPED, stepped),
        (Sign.CHART_SIGNAL, signal is not None),
        (Sign.REPEAT_GROWN, _repeat_grown(history)),
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


def _history(one: Series, figures: Figures, used: list[tuple[int, int]]) -> _History | None:
    start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
    if start == end:
        return None
    order = figures.order[start:end]
    days = np.array([_day_number(int(at)) for at in order])
    x = days
    if used:
        when = np.array([at for at, _ in used])
        total = np.cumsum([count for _, count in used])
        x = np.array([float(total[when <= at].max(initial=0)) for at in order])
    in_work = bool(used) and np.unique(x).size > 2
    dates = tuple(_date(int(at)) for at in order)
    step_um = float(figures.step_um[start:end].min())
    return _History(
        figures.value_um[start:end], x if in_work else days, dates, step_um, "clampings" if in_work else "date"
    )


def _sittings(one: Series, figures: Figures) -> npt.NDArray[np.int64]:
    start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
    return figures.sitting[start:end]


def _trend(history: _History) -> Record | None:
    if history.swings.size < FEWEST_POINTS or np.unique(history.x).size < 2:
        return None
    return trend(history.x, history.swings, resolution_um=history.step_um)


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


def _held(history: _History, group: Group, drift: Record | None) -> Sign:
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


def _next_check(history: _History) -> float:
    """Where the next check will be: as far on as the checks so far lie apart."""
    places = np.unique(history.x)
    return float(places[-1] + (places[-1] - places[0]) / max(places.size - 1, 1))


def _signal(history: _History) -> str | None:
    """The date of the clamping from which the running chart sees a change for the worse."""
    if history.swings.size < CHART_FROM:
        return None
    chart = running_chart(history.swings, resolution_um=history.step_um)
    return None if chart.alarm_at is None or chart.changed_after is None else history.dates[chart.changed_after]


def _repeat_grown(history: _History) -> bool:
    """Whether the later half scatters at least twice as much as the earlier one, about its own line, at 5 %."""
    from scipy.special import fdtrc

    n = history.swings.size
    if n < _REPEAT_FROM:
        return False
    early, late = _scatter(history, slice(None, n // 2)), _scatter(history, slice(n // 2, None))
    ratio = late[0] / early[0]
    return bool(ratio >= _REPEAT_DOUBLED**2 and fdtrc(late[1], early[1], ratio) <= RISK)


def _scatter(history: _History, part: slice) -> tuple[float, int]:
    """Mean square of the swings within each place of the axis, and its degrees of freedom."""
    x, swings = history.x[part], history.swings[part]
    _, cell = np.unique(x, return_inverse=True)
    mean = np.bincount(cell, swings) / np.bincount(cell)
    df = max(swings.size - mean.size, 0)
    floor = history.step_um**2 / 12
    if df < 3:
        return float(max(swings.var(ddof=1), floor)), swings.size - 1
    return float(max(np.sum((swings - mean[cell]) ** 2) / df, floor)), df


def _far_to_near(series: Sequence[Series], histories: dict[int, _History | None]) -> dict[int, bool]:
    """For the farther of two distances of the same place: whether the ratio far to near doubled since the first."""
    found: dict[int, bool] = {}
    places: dict[tuple[Any, ...], list[Series]] = {}
    for one in series:
        key = (one.item_id, one.setup_id, one.position, one.clocking, one.diameter_tenths, one.characteristic)
        places.setdefault(key, []).append(one)
    for alike in places.values():
        near, far = min(alike, key=lambda s: s.distance_tenths), max(alike, key=lambda s: s.distance_tenths)
        first, last = (histories[near.id], histories[far.id])
        if near.id == far.id or first is None or last is None:
            continue
        days = sorted(set(first.dates) & set(last.dates))
        if len(days) > 1:
            ratios = [_mean_on(last, day) / max(_mean_on(first, day), first.step_um / 4) for day in (days[0], days[-1])]
            found[far.id] = ratios[1] >= _RATIO_DOUBLED * ratios[0]
    return found


def _mean_on(history: _History, day: str) -> float:
    return float(np.mean([swing for swing, date in zip(history.swings, history.dates, strict=True) if date == day]))


def _crosses(history: _History, group: Group, *, drifting: bool) -> Crosses | None:
    """When the limit will be crossed: the early end always, the rest only with a drift, nothing too far ahead."""
    if history.swings.size < FEWEST_POINTS or np.unique(history.x).size < 2 or group.limit_um is None:
        return None
    found = crossing(history.x, history.swings, limit_um=group.limit_um, resolution_um=history.step_um)
    say = _as_date if history.axis == "date" else _as_count

    def within(place: float | None) -> str | None:
        return None if place is None or place > found.now + found.horizon else say(place)

    early, now = within(found.early), found.early is not None and found.early <= found.now
    return (
        Crosses(early, within(found.median), within(found.late), now) if drifting else Crosses(early, None, None, now)
    )


def _good_for(group: Group, drift: Record | None, history: _History) -> float | None:
    """The smallest round limit above its own that it would still be found to hold."""
    if group.limit_um is None or group.bound is None:
        return None
    upper = group.bound.value_um
    if drift is not None:
        upper = retirement.drift_limits(drift.line, _next_check(history)).upper_um
    needed = upper + 1.645 * (group.uncertainty_um or 0.0) / 2
    return next((float(limit) for limit in _ROUND_LIMITS_UM if limit >= needed and limit > group.limit_um), None)


def _clampings_in_work(connection: sa.Connection, items: Sequence[int] | None) -> dict[int, list[tuple[int, int]]]:
    """By item: when work was noted, and how many clampings."""
    use = schema.use_record
    query = sa.select(use.c.item_id, use.c.used_on, use.c.clampings).where(use.c.clampings.is_not(None))
    if items is not None:
        query = query.where(use.c.item_id.in_(items))
    found: dict[int, list[tuple[int, int]]] = {}
    for item_id, used_on, clampings in connection.execute(query):
        found.setdefault(item_id, []).append((times.order(used_on), clampings))
    return {item_id: sorted(noted) for item_id, noted in found.items()}


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


def _date(order: int) -> str:
    digits = f"{order:014d}"
    return f"{digits[:4]}-{digits[4:6]}-{digits[6:8]}"


def _day_number(order: int) -> float:
    digits = f"{order:014d}"
    year, month, day = int(digits[:4]), max(int(digits[4:6]), 1), max(int(digits[6:8]), 1)
    seconds = int(digits[8:10]) * 3600 + int(digits[10:12]) * 60 + int(digits[12:14])
    return datetime.date(year, month, day).toordinal() + seconds / 86_400


def _as_date(place: float) -> str:
    return datetime.date.fromordinal(int(place)).isoformat()


def _as_count(place: float) -> str:
    return str(int(place))
