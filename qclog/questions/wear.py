"""Is it getting worse, since when, and is it time: keep, watch or retire, and why?

Level, repeat and the ratio far to near are looked at each for itself, for each has its own cure. What was seen on
the item outranks its numbers. A drift is judged where the next check will find it, not where the record ends.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.findings import read_standing
from qclog.logbook.lookup import Register
from qclog.questions.assess import Told, told_in
from qclog.questions.changing.by_chance import by_chance, marks
from qclog.questions.changing.changes import Changes, Tested
from qclog.questions.changing.histories import DATE, WORK, History, written
from qclog.questions.changing.outlook import Crosses, crosses, good_for, held
from qclog.questions.changing.replacing import Costs, Replacing, replacing
from qclog.questions.changing.rhythm import Rhythm
from qclog.questions.codes import PUT_AWAY, ByCost, Caveat, Sign, Worth
from qclog.questions.gathered import Gathered, gather
from qclog.questions.judging.groups import VECTORS, Group, for_its_sitting
from qclog.questions.known import Known
from qclog.questions.places import AtPlace, place_of
from qclog.statistics.changing.trend import CONFIDENCE
from qclog.statistics.changing.trend import Trend as Record

QUESTION: Final = "wear"
KEEP, WATCH, RETIRE = "keep", "watch", "retire"
_PER: Final = {DATE: 365.25, WORK: 1_000.0}
"""What a slope is told for: a year, or 1,000 clampings in work."""

_PAST_LIMIT: Final = {Sign.DOES_NOT_HOLD, Sign.SETUP_LIMIT}
_RETIRING: Final = {Sign.DOES_NOT_HOLD, Sign.CRACK, Sign.BLUE, Sign.COLLAPSED, Sign.SLIPPED_AGAIN}
_LOCKED: Final = {Sign.CRACK, Sign.BLUE}
"""Whatever else there is to say of an item, it is out of service."""
_ALL_WELL: Final = {Sign.HOLDS, Sign.NO_LIMIT}
_SEEN: Final = {
    "crack": Sign.CRACK,
    "blue": Sign.BLUE,
    "bell-mouth": Sign.BELL_MOUTH,
    "lost spring": Sign.LOST_SPRING,
    "crash": Sign.CRASHED,
    "burr": Sign.BURR,
    "fretting": Sign.FRETTING,
    "collapsed": Sign.COLLAPSED,
}
_NOT_OF_WEAR: Final = {Caveat.LOOKED_AGAIN}


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
class Answer(AtPlace):
    """One item at one place.

    ``worked``: clampings in work noted since the last modification. ``tests``: those for a change, with their marks
    among all that were asked about together. ``single_hint``: the advice to watch rests on single hints alone.
    ``next_check``: where on the axis the next check will be if it is made when the others were, None before a line can
    be drawn. ``rhythm``: how often it was read, None where there is none. ``more_days``: sittings missing before
    anything can be said of a trend. ``more_clampings``: days with one clamping each that would tell whether it holds.
    ``good_for_um``: with "does not hold", the smallest round limit it would still be found to hold, None if unknown.
    ``cost``: None unless asked for. ``level_um``: what it runs now, after a step that is likely real the mean since
    it. ``read_over_days``: from the first to the last day it was read on, None where ``axis`` is use.
    """

    modification: int
    clampings: int
    sittings: int
    axis: str
    worked: int | None
    read_over_days: int | None
    level_um: float
    limit_um: float | None
    trend: Trend | None
    step: Step | None
    signal: str | None
    crosses: Crosses | None
    next_check: str | None
    rhythm: Rhythm | None
    tests: tuple[Tested, ...]
    decision: str
    because: tuple[Sign, ...]
    single_hint: bool
    more_days: int
    more_clampings: int | None
    good_for_um: float | None
    cost: Replacing | None
    caveats: tuple[Caveat, ...]

    @property
    def stepped(self) -> bool:
        """Whether it went up in a step that is likely real and no rise is shown: then no line through all of it tells
        anything."""
        return self.step is not None and _went_in_a_step(self.tests)


def wear(store: Store, codes: Sequence[str] = (), costs: Costs | None = None) -> list[Answer]:
    """One answer for each item, setup, position and distance, of the items named or of all that have clampings and are
    not out or scrap.

    Raises NotFoundError.
    """
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        return advice_in(Known(connection, items), costs)


def advice_in(known: Known, costs: Costs | None = None) -> list[Answer]:
    """What ``wear`` answers about items."""
    gathered = gather(known, histories=costs is not None)
    return advice_of(known, gathered, told_in(known, gathered), costs)


def advice_of(known: Known, gathered: Gathered, told: Told, costs: Costs | None = None) -> list[Answer]:
    """What ``wear`` answers, from what was ``gathered`` of items and ``told`` of their places.

    A drawer's list leaves out what a person decided not to use any more; asked for by name it is answered.
    """
    owned, slips = known.owned, _slips(known.connection, known.items)
    groups = {one.id: group for one, group in told.groups}
    kept = [
        changes
        for one in known.series
        if (changes := gathered.changes.get(one.id)) is not None
        and (known.named or owned[one.item_id].state not in PUT_AWAY)
    ]
    at = [groups[changes.series.id] for changes in kept]
    crossed = crosses(kept, [group.limit_um for group in at])
    answers = []
    for changes, group, crossing in zip(kept, at, crossed, strict=True):
        item = changes.series.item_id
        seen = _seen(owned[item].findings, slips.get(item, 0))
        answer = _answer(changes, group, seen, crossing)
        if costs is not None:
            history = gathered.histories[changes.series.id]
            answer = dataclasses.replace(
                answer, cost=_cost(known.connection, answer, changes, history, group, seen, costs)
            )
        answers.append(answer)
    told_marks = iter(marks([test for answer in answers for test in answer.tests]))
    return [
        _marked(answer, [next(told_marks) for _ in answer.tests], changes.since_step_um)
        for answer, changes in zip(answers, kept, strict=True)
    ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    answers = list(answers)
    chance = by_chance([test for answer in answers for test in answer.tests])
    return {
        "question": QUESTION,
        "answers": [dataclasses.asdict(answer) for answer in answers],
        "tests": sum(len(answer.tests) for answer in answers),
        "signs": chance.found,
        "expected_by_chance": chance.expected,
        "no_more_than_chance": chance.no_more_than_chance,
    }


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything is to be retired, 8 if anything is to be watched, else 0."""
    told = {answer.decision for answer in answers}
    return 1 if RETIRE in told else 8 if WATCH in told or not told else 0


def _answer(changes: Changes, group: Group, seen: list[Sign], crossed: Crosses | None) -> Answer:
    """One answer before its tests are marked."""
    trended, drift, step = changes.trend, changes.drift, changes.step
    limit = held(changes, group)
    signs = [*seen, limit, *changes.signs]
    if _LOCKED.intersection(seen):
        signs = [sign for sign in seen if sign in _LOCKED]
    if not set(signs) <= _ALL_WELL:
        signs = [sign for sign in signs if sign not in _ALL_WELL]
    decision = RETIRE if _RETIRING.intersection(signs) else KEEP if set(signs) <= _ALL_WELL else WATCH
    past_only = limit == Sign.DOES_NOT_HOLD and not _RETIRING.intersection(seen)
    caveats = [code for code in group.caveats if code not in _NOT_OF_WEAR]
    if changes.more_days and not changes.in_doubt and not for_its_sitting(group):
        caveats.append(Caveat.FEW_DAYS)
    if trended is not None and trended.dependent:
        caveats.append(Caveat.NOT_INDEPENDENT)
    return Answer(
        **place_of(changes.series)._asdict(),
        modification=changes.series.modification,
        clampings=changes.clampings,
        sittings=changes.sittings,
        axis=changes.axis,
        worked=changes.worked,
        read_over_days=int(changes.span) if changes.axis == DATE else None,
        level_um=_level(changes),
        limit_um=group.limit_um,
        trend=None if trended is None else _told_trend(trended, changes.axis),
        step=Step(changes.stepped_on, step.change_um) if step is not None and step.proven else None,
        signal=changes.signal,
        crosses=crossed,
        next_check=None if changes.line is None else written(changes.axis, changes.next_check),
        rhythm=changes.rhythm,
        tests=changes.tests,
        decision=decision,
        because=tuple(signs),
        single_hint=False,
        more_days=0 if changes.in_doubt else changes.more_days,
        more_clampings=group.more_clampings if drift is None else None,
        good_for_um=good_for(changes, group) if past_only else None,
        cost=None,
        caveats=tuple(caveats),
    )


def _marked(answer: Answer, worth: Sequence[Worth | None], since_step: float | None) -> Answer:
    """With the marks of its tests, and what follows from them."""
    if not any(worth):
        return answer
    tests = tuple(test.marked(mark) for test, mark in zip(answer.tests, worth, strict=True))
    hints = {test.sign for test in tests if test.mark == Worth.SINGLE_HINT}
    level = since_step if since_step is not None and _went_in_a_step(tests) else answer.level_um
    single_hint = bool(hints) and hints >= set(answer.because)
    return dataclasses.replace(answer, tests=tests, level_um=level, single_hint=single_hint)


def _went_in_a_step(tests: Sequence[Tested]) -> bool:
    """Whether a step is likely real, and no rise is shown beside it: a steady rise looks like a step too."""
    found = {test.sign: test.mark for test in tests if test.found}
    return found.get(Sign.STEPPED) == Worth.LIKELY_REAL and Sign.LEVEL_RISES not in found


def _level(changes: Changes) -> float:
    """What it runs now, unless it went up in a step: where the drift ends, else the mean of all."""
    if changes.drift is None:
        return changes.mean_um
    return max(float(changes.drift.at(changes.ends)), 0.0)


def _seen(findings: Sequence[str], slips: int) -> list[Sign]:
    """The signs of what was found on an item."""
    signs = [_SEEN[finding] for finding in findings if finding in _SEEN]
    return signs + ([Sign.SLIPPED_AGAIN] if slips > 1 else [Sign.SLIPPED] if slips else [])


def _told_trend(record: Record, axis: str) -> Trend:
    per = _PER[axis]
    slope = record.line.slope * per
    return Trend(
        per_year_um=slope if axis == DATE else None,
        per_1000_um=slope if axis == WORK else None,
        low=record.low * per,
        high=record.high * per,
        confidence=CONFIDENCE,
    )


def _cost(
    connection: sa.Connection,
    draft: Answer,
    changes: Changes,
    history: History,
    group: Group,
    seen: list[Sign],
    costs: Costs,
) -> Replacing:
    """What the costs advise; findings and a limit that is not held outrank them."""
    if Sign.IN_DOUBT in draft.because and not seen:
        return Replacing(None, costs.threshold, None, ByCost.CANNOT_TELL)
    if seen or _PAST_LIMIT.intersection(draft.because):
        return Replacing(None, costs.threshold, None, ByCost.OUTRANKED)
    return replacing(
        connection,
        history,
        group.limit_um,
        costs,
        drift=changes.drift,
        next_check=changes.next_check,
        from_vectors=group.bound is not None and group.bound.method.endswith(VECTORS),
    )


def _slips(connection: sa.Connection, items: Sequence[int] | None) -> dict[int, int]:
    """How often work slipped in an item since it was last found sound."""
    standing = read_standing(connection, items)
    return {item_id: sum(one.finding == "slip" for one in found) for item_id, found in standing.items()}
