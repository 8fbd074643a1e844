"""An item's life, or that of a setup, a pin or an indicator: who logged, struck out, modified, refitted, judged.

Verdicts are not kept but computed: what was judged is what ``assess`` says of the logbook as it stood then, asked of a
replay of it.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog.errors import NotFoundError
from qclog.logbook.chronicle import Event, Happened, read_chronicle, read_chronicle_by_day
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Name, Register
from qclog.logbook.replay import Replay, read_first_measured_alike
from qclog.questions.assess import Answer as Assessed
from qclog.questions.assess import answers_in
from qclog.questions.codes import Caveat
from qclog.questions.judging.alike import where_of
from qclog.questions.judging.groups import Group, waits_for_doubt
from qclog.questions.judging.lending import MOST
from qclog.questions.judging.values import CANNOT_TELL, NO_LIMIT, Limits, ValueGroup
from qclog.questions.known import Known

QUESTION: Final = "history"
_JUDGED_AFTER: Final = frozenset(
    {
        *(Happened.CLAMPED, Happened.STRUCK, Happened.LIMITED, Happened.MODIFIED, Happened.CHANGED),
        *(Happened.FOUND_WRONG, Happened.CLEARED),
    }
)


@dataclass(frozen=True, slots=True)
class Judged:
    """A verdict at a place that was not the same before; ``in_sitting``: of the last sitting only. ``limits_um``: of
    what is no swing."""

    setup: str
    position: str
    clocking: str
    distance_mm: float
    diameter_mm: float | None
    characteristic: str
    limit_um: float | None
    verdict: str
    in_sitting: bool
    in_doubt: bool
    limits_um: Limits | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """Something that happened, and what was judged otherwise after it than before."""

    event: Event
    judged: tuple[Judged, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    code: str
    kind: str
    events: tuple[Told, ...]


def history(store: Store, code: str, *, by_day: bool = False) -> Answer:
    """The life of an item, setup, pin or indicator in the order of time. Raises NotFoundError.

    ``by_day``: of many clampings in a setup or with a gauge those of a day together, as they are read.
    """
    with store.reading() as connection:
        thing = Register(connection).find(code)
        if thing is None:
            raise NotFoundError(f"There is nothing {code!r}.", "See: qclog item list, setup list, pin list")
        read = read_chronicle_by_day if by_day and thing.kind != "item" else read_chronicle
        events = read(connection, thing)
        judged = _judged(connection, thing, events) if thing.kind == "item" else {}
    return Answer(thing.text, thing.kind, tuple(Told(event, judged.get(i, ())) for i, event in enumerate(events)))


def document(answer: Answer) -> dict[str, Any]:
    """The answer as plain values for JSON."""
    events = [
        {**dataclasses.asdict(told.event), "judged": [dataclasses.asdict(one) for one in told.judged]}
        for told in answer.events
    ]
    return {"question": QUESTION, "answers": [{"code": answer.code, "kind": answer.kind, "events": events}]}


def _judged(connection: sa.Connection, item: Name, events: Sequence[Event]) -> dict[int, tuple[Judged, ...]]:
    """What was judged anew after entries, by the last event of each; events by their place in the list."""
    entered = events[0].entry
    last = {e.entry: i for i, e in enumerate(events) if e.what in _JUDGED_AFTER and e.entry >= entered}
    if not any(event.what == Happened.CLAMPED for event in events):
        return {}
    before: dict[Judged, Judged] = {}
    found = {}
    alike = read_first_measured_alike(connection, item.id)
    with Replay(connection, [item.id]) as replay:
        for entry, i in sorted(last.items()):
            by_then = {there: [one for one, first in some if first <= entry] for there, some in alike.items()}
            answer = _assessed(replay, item.id, entry, by_then)
            judged = (*map(_of, answer.groups), *map(_of, answer.values))
            now = {_place(one): one for one in judged if one is not None}
            found[i] = tuple(one for place, one in now.items() if before.get(place) != one)
            before = now
    return found


def _assessed(replay: Replay, item_id: int, entry: int, alike: Mapping[tuple[Any, ...], Sequence[int]]) -> Assessed:
    """What was said of an item after an entry. Of those measured alike by then, the last added first, only as many are
    replayed as lend to it."""
    size = MOST
    while True:
        replay.add([one for some in alike.values() for one in some[:size]])
        replay.advance(entry)
        with replay.store.reading() as own:
            known = Known(own, [item_id])
            (answer,) = [one for one in answers_in(known) if one.item]
        sought = [(alike[where_of(key)], back_to) for key, back_to in known.lenders.back_to.items()]
        if all(size >= len(others) or back_to >= others[size - 1] for others, back_to in sought):
            return answer
        size *= 2


def _of(group: Group | ValueGroup) -> Judged | None:
    """What is told of a group; None of one in a setup as it no longer is, or without a limit."""
    if group.next_clampings == NO_LIMIT or Caveat.SETUP_CHANGED in group.caveats:
        return None
    in_sitting = group.next_clampings == CANNOT_TELL and group.this_sitting != CANNOT_TELL
    return Judged(
        setup=group.setup,
        position=group.position,
        clocking=group.clocking,
        distance_mm=group.distance_mm,
        diameter_mm=group.diameter_mm,
        characteristic=group.characteristic,
        limit_um=group.limit_um if isinstance(group, Group) else None,
        verdict=group.this_sitting if in_sitting else group.next_clampings,
        in_sitting=in_sitting,
        in_doubt=waits_for_doubt(group),
        limits_um=group.limits_um if isinstance(group, ValueGroup) else None,
    )


def _place(one: Judged) -> Judged:
    return dataclasses.replace(one, limit_um=None, limits_um=None, verdict="", in_sitting=False, in_doubt=False)
