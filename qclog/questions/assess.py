"""Does this item, as it is now, hold what it was made to: here, at this key position, at this distance?

Three verdicts are kept apart: the clampings that were read, what more clampings of the same sitting would do,
and what the next clampings of other days will do. Uncertainty counts against whoever makes the claim
(ISO 14253-1): the bounds are widened by that of the indicator before they are held against the limit.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from qclog.logbook.engine import Store
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.questions.codes import FINDINGS, Flag
from qclog.questions.gathered import Gathered, gather
from qclog.questions.judging.groups import Group, goes_by, waits_for_doubt
from qclog.questions.judging.judgement import judgement_in
from qclog.questions.judging.plain_values import value_groups
from qclog.questions.judging.values import DOES_NOT_HOLD, HOLDS, ValueGroup
from qclog.questions.known import Known
from qclog.records import RUNOUT

QUESTION: Final = "assess"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is flagged: a code, and the group it was seen in ('' and None where it is the whole item).

    ``limit_from``: whose limit is not held, the "item"'s or the "setup"'s.
    """

    code: Flag
    item: str = ""
    setup: str = ""
    position: str = ""
    distance_mm: float | None = None
    limit_from: str = ""
    characteristic: str = RUNOUT


@dataclass(frozen=True, slots=True)
class Answer:
    """About one item (``setup`` ''), or about one setup that has a limit of its own (``item`` '').

    ``groups``: its swings; ``values``: its sizes, gaps and differences. ``state``: what a person decided: in service,
    restricted, out, scrap; '' for a setup. ``elsewhere``: why the item is flagged at places that were not asked about.
    """

    item: str
    setup: str
    modification: int
    what: str
    reasons: tuple[Reason, ...]
    groups: tuple[Group, ...]
    state: str = ""
    values: tuple[ValueGroup, ...] = ()
    elsewhere: tuple[Reason, ...] = ()

    @property
    def measured(self) -> bool:
        """Whether anything was read of it as it is now."""
        return bool(self.groups or self.values)


def assess(
    store: Store, code: str | None = None, *, setup: str | None = None, position: str | None = None
) -> list[Answer]:
    """One answer an item, as it is now; of all items that have clampings, or of the one named.

    ``code`` may name a setup: then the items measured in it are judged against the setup's own limit.
    Raises NotFoundError.
    """
    with store.reading() as connection:
        register = Register(connection)
        if code is not None and (found := register.find(code)) is not None and found.kind == "setup":
            return [a for a in answers_in(Known(connection), found.text, position) if a.setup == found.text]
        items = None if code is None else [register.need(code, "item").id]
        if setup is not None:
            setup = register.need(setup, "setup").text
        answers = answers_in(Known(connection, items), setup, position)
        if code is None:
            return answers
        (own,) = [answer for answer in answers if answer.item]
        if setup is None and position is None:
            return [own]
        (whole,) = [answer for answer in answers_in(Known(connection, items)) if answer.item]
        elsewhere = tuple(reason for reason in whole.reasons if reason not in own.reasons)
        return [dataclasses.replace(own, elsewhere=elsewhere)]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def answers_in(
    known: Known, setup: str | None = None, position: str | None = None, *, limit_um: float | None = None
) -> list[Answer]:
    """The answers about items, those about setups after them.

    ``limit_um``: held against this everywhere, instead of what they were made to; sizes keep their own limits.
    """
    return answers_of(known, told_in(known, gather(known, changes=False), setup, position, limit_um=limit_um))


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What is told of places, each with its series: of swings, and of plain values."""

    groups: list[tuple[Series, Group]]
    values: list[tuple[Series, ValueGroup]]


def told_in(
    known: Known,
    gathered: Gathered,
    setup: str | None = None,
    position: str | None = None,
    *,
    limit_um: float | None = None,
) -> Told:
    """What is told of places from what was ``gathered`` of items, see ``answers_in``."""
    judged = judgement_in(known, setup, position, limit_um=limit_um, sums=gathered.sums_of).groups
    return Told([(one, group) for one, group, _ in judged], value_groups(known, known.current(setup, position)))


def answers_of(known: Known, told: Told) -> list[Answer]:
    """The answers of ``answers_in``, from what is told of all places."""
    groups: dict[int, list[Group]] = {}
    for one, group in told.groups:
        groups.setdefault(one.item_id, []).append(group)
    values: dict[int, list[ValueGroup]] = {}
    for one, value in told.values:
        values.setdefault(one.item_id, []).append(value)
    answers = [
        Answer(
            item=item.code,
            setup="",
            modification=item.modification,
            what=item.what,
            reasons=_item_reasons(item, groups.get(item.id, ()), values.get(item.id, ())),
            groups=tuple(groups.get(item.id, ())),
            state=item.state,
            values=tuple(values.get(item.id, ())),
        )
        for item in known.owned.values()
        if item.id in groups or item.id in values or known.named or item.findings
    ]
    return answers + _setup_answers(told, known.setups)


def unmeasured(item: Owned) -> Answer:
    """What there is to say of an item that was not measured as it is now, and has no finding."""
    return Answer(item.code, "", item.modification, item.what, (), (), item.state)


def _item_reasons(item: Owned, groups: Sequence[Group], values: Sequence[ValueGroup]) -> tuple[Reason, ...]:
    found = [Reason(FINDINGS[finding], item.code) for finding in item.findings]
    return tuple(dict.fromkeys(found + _reasons(groups, values)))


def _reasons(groups: Sequence[Group], values: Sequence[ValueGroup]) -> list[Reason]:
    of_swings = [reason for group in groups for reason in _group_reasons(group)]
    return of_swings + [reason for group in values for reason in _group_reasons(group)]


def _group_reasons(group: Group | ValueGroup) -> list[Reason]:
    """Why a group is flagged: the strongest thing that can be said of it."""

    def reason(code: Flag, limit_from: str = "") -> list[Reason]:
        place = (group.item, group.setup, group.position, group.distance_mm)
        return [Reason(code, *place, limit_from, group.characteristic)]

    for word, code in (
        (group.next_clampings, Flag.NEXT_CLAMPINGS),
        (group.this_sitting, Flag.THIS_SITTING),
        (group.as_read, Flag.AS_READ),
    ):
        if word == DOES_NOT_HOLD:
            return reason(code, group.limit_from or "")
    if waits_for_doubt(group):
        return reason(Flag.IN_DOUBT)
    return []


def _setup_answers(told: Told, setups: dict[int, OwnedSetup]) -> list[Answer]:
    """One answer for each setup with a limit of its own: the groups that this limit governs."""
    answers = []
    for setup in setups.values():
        groups = tuple(g for one, g in told.groups if one.setup_id == setup.id and g.limit_from == "setup")
        values = tuple(g for one, g in told.values if one.setup_id == setup.id and g.limit_from == "setup")
        if groups or values:
            reasons = tuple(_reasons(groups, values))
            answers.append(Answer("", setup.code, setup.revision, setup.reason, reasons, groups, values=values))
    return answers


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything does not hold or is flagged for more than being in doubt, 8 if
    anything cannot be told or has no limit, else 0. Without any group nothing can be told. What counts for its sitting
    (a gap, jaws for a job) goes by the verdict of that."""
    answers = list(answers)
    told = {goes_by(group) for answer in answers for group in answer.groups}
    told |= {goes_by(group) for answer in answers for group in answer.values}
    if DOES_NOT_HOLD in told or any(r.code != Flag.IN_DOUBT for answer in answers for r in answer.reasons):
        return 1
    return 0 if told == {HOLDS} and all(answer.measured for answer in answers) else 8
