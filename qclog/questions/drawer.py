"""What is owned, in what state, the worst first; which sizes are missing, what is married, out, and to be ordered.

Everything is read once and laid beside each other: the verdicts of ``assess`` and the advice of ``wear`` for all items
together, never an item for itself.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.logbook.custody import Out, read_out
from qclog.logbook.engine import Store
from qclog.logbook.figures import Newest, read_newest
from qclog.logbook.owned import Owned, OwnedSetup, read_parts, read_setups
from qclog.logbook.statements import Issued, read_standing
from qclog.questions.assess import Answer, answers_of, told_in, unmeasured
from qclog.questions.codes import LOCKING, PUT_AWAY
from qclog.questions.gathered import Gathered, gather
from qclog.questions.judging.alike import JAWS
from qclog.questions.judging.groups import Group, goes_by
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NO_LIMIT, ValueGroup
from qclog.questions.known import Known
from qclog.questions.owned.prices import Total, totals
from qclog.questions.owned.reordering import Order, reorder
from qclog.questions.owned.sizes import Sizes, sizes
from qclog.questions.places import AtPlace, Place, place_of
from qclog.questions.wear import RETIRE, advice_of
from qclog.questions.wear import Answer as Worn

QUESTION: Final = "drawer"
_WORST_FIRST: Final = (DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT, HOLDS)
_OUT_OF_SERVICE, _FLAGGED, _FROM_HERE, _UNMEASURED, _PART, _PUT_AWAY = 0, 1, 2, 4, 8, 9


@dataclass(frozen=True, slots=True)
class Entry:
    """One item: what it is, the verdicts and the advice about it, and who has it out.

    ``newest``, ``newest_values``: of each group of the verdicts, and of each plain value, the day it was last measured
    and what with. ``part_of``: the setups it is a part of; what sits in them measures it. ``ever_read``: the
    characteristics that were read of it, whatever was done to it since. ``before``: of an item without run-out
    as it is now, the newest clamping of each place it was measured at.
    """

    item: Owned
    part_of: tuple[str, ...]
    assessed: Answer
    worn: tuple[Worn, ...]
    newest: tuple[Newest, ...]
    out: Out | None
    newest_values: tuple[Newest, ...] = ()
    ever_read: frozenset[str] = frozenset()
    before: tuple[tuple[Place, Newest], ...] = ()

    @property
    def out_of_service(self) -> bool:
        """Whether a finding has locked it, whatever its run-out."""
        return bool(LOCKING.intersection(self.item.findings))

    @property
    def put_away(self) -> bool:
        """Whether a person decided that it is not used any more."""
        return self.item.state in PUT_AWAY

    @property
    def to_retire(self) -> bool:
        """Whether wear advises to retire it wherever it was measured."""
        return bool(self.worn) and all(one.decision == RETIRE for one in self.worn)

    @property
    def to_bore_again(self) -> bool:
        """Whether they are jaws to be bored again: in use, and held nowhere."""
        return self.item.kind == JAWS and self.to_retire and not self.put_away and not self.out_of_service

    @property
    def worst(self) -> Group | None:
        """The group with the worst verdict, one that wear retires before the others."""
        retired = {one.place for one in self.worn if one.decision == RETIRE}
        return min(
            self.assessed.groups,
            key=lambda group: (
                group.place not in retired,
                _WORST_FIRST.index(goes_by(group)),
            ),
            default=None,
        )

    @property
    def worst_value(self) -> ValueGroup | None:
        """The plain value with the worst verdict."""
        return min(self.assessed.values, key=lambda value: _WORST_FIRST.index(goes_by(value)), default=None)

    @property
    def last_measured(self) -> str:
        """The day it was last measured as it is now, '' if it was not."""
        return max((one.day for one in (*self.newest, *self.newest_values)), default="")


@dataclass(frozen=True, slots=True)
class Married:
    """An item worked on in place: it holds there only.

    ``changed``: when the setup was changed since, and why; '' if it was not, or the item was measured in it again.
    """

    item: str
    what: str
    size_mm: float | None
    setup: str
    position: str
    changed: str
    reason: str


@dataclass(frozen=True, slots=True)
class Drawer:
    """The whole drawer; ``setups``: the answers about those that have a limit of their own. ``unpriced``: how many
    pieces to be ordered are in no total; ``statements``: the newest revision of each that was handed over."""

    entries: tuple[Entry, ...]
    setups: tuple[Answer, ...]
    sizes: tuple[Sizes, ...]
    married: tuple[Married, ...]
    reorder: tuple[Order, ...]
    totals: tuple[Total, ...]
    unpriced: int
    statements: tuple[Issued, ...]


def drawer(store: Store) -> Drawer:
    """Everything owned."""
    with store.reading() as connection:
        return drawer_in(connection)


def drawer_in(connection: sa.Connection) -> Drawer:
    """As ``drawer``, within a transaction."""
    entries, setups = entries_in(connection)
    owned = sorted((entry.item for entry in entries), key=lambda item: item.code.casefold())
    usable = [entry for entry in entries if not entry.put_away and not entry.out_of_service]
    found = sizes(owned, {entry.item.id for entry in usable})
    orders = reorder(
        owned,
        found,
        broken=[entry.item for entry in entries if entry.out_of_service],
        worn_out=[entry.item for entry in entries if entry.to_retire and entry.item.kind != JAWS],
    )
    added_up = totals(order.price for order in orders)
    return Drawer(
        entries=entries,
        setups=setups,
        sizes=found,
        married=_married(usable, read_setups(connection).values()),
        reorder=orders,
        totals=added_up,
        unpriced=len(orders) - sum(total.pieces for total in added_up),
        statements=tuple(read_standing(connection)),
    )


def entries_in(
    connection: sa.Connection, items: Sequence[int] | None = None
) -> tuple[tuple[Entry, ...], tuple[Answer, ...]]:
    """Everything owned or some items of it, the worst first, and the answers about setups with a limit of their own."""
    known = Known(connection, items)
    gathered = gather(known)
    told, newest = told_in(known, gathered), _newest_by_place(known, gathered)
    answers = answers_of(known, told)
    assessed = {answer.item: answer for answer in answers if answer.item}
    worn: dict[str, list[Worn]] = {}
    for advised in advice_of(known, gathered, told):
        worn.setdefault(advised.item, []).append(advised)
    parts, out = read_parts(connection), read_out(connection)
    ever: dict[str, list[Place]] = {}
    for place in newest:
        ever.setdefault(place.item, []).append(place)
    entries = [
        Entry(
            item=item,
            part_of=parts.get(item.id, ()),
            assessed=(answer := assessed.get(item.code) or unmeasured(item)),
            worn=tuple(worn.get(item.code, ())),
            newest=tuple(newest[group.place] for group in answer.groups),
            out=out.get(item.id),
            newest_values=tuple(newest[value.place] for value in answer.values),
            ever_read=frozenset(place.characteristic for place in ever.get(item.code, ())),
            before=() if answer.groups else tuple((place, newest[place]) for place in ever.get(item.code, ())),
        )
        for item in known.owned.values()
    ]
    return tuple(sorted(entries, key=_rank)), tuple(answer for answer in answers if answer.setup)


def document(found: Drawer) -> dict[str, Any]:
    """The answer as plain values for JSON."""
    return {
        "question": QUESTION,
        "answers": [_entry_document(entry) for entry in found.entries],
        "setups": [
            {"setup": setup.setup, "reasons": [dataclasses.asdict(reason) for reason in setup.reasons]}
            for setup in found.setups
        ],
        "sizes": [dataclasses.asdict(one) for one in found.sizes],
        "married": [dataclasses.asdict(one) for one in found.married],
        "reorder": [dataclasses.asdict(order) for order in found.reorder],
        "totals": [dataclasses.asdict(total) | {"amount": float(total.amount)} for total in found.totals],
        "unpriced": found.unpriced,
        "statements": [one.plain() for one in found.statements],
    }


def _entry_document(entry: Entry) -> dict[str, Any]:
    item, advice = entry.item, {one.place: one.decision for one in entry.worn}
    return {
        "item": item.code,
        "kind": item.kind,
        "system": item.system,
        "size_mm": None if item.size_pm is None else item.size_pm / 1e9,
        "modification": item.modification,
        "what": item.what,
        "place": item.place,
        "state": item.state,
        "part_of": list(entry.part_of),
        "findings": list(item.findings),
        "out": None if entry.out is None else dataclasses.asdict(entry.out),
        "reasons": [dataclasses.asdict(reason) for reason in entry.assessed.reasons],
        "last_measured": entry.last_measured or None,
        "places": [
            {
                **_there(group),
                "clampings": group.clampings,
                "limit_um": group.limit_um,
                "next_clampings": group.next_clampings,
                "wear": advice.get(group.place),
                "last_measured": newest.day,
            }
            for group, newest in zip(entry.assessed.groups, entry.newest, strict=True)
        ],
        "values": [
            {
                **_there(value),
                "readings": value.clampings,
                "limits_um": None if value.limits_um is None else dataclasses.asdict(value.limits_um),
                "next_clampings": value.next_clampings,
                "last_measured": newest.day,
            }
            for value, newest in zip(entry.assessed.values, entry.newest_values, strict=True)
        ],
    }


def _rank(entry: Entry) -> tuple[int, int, str]:
    told = [_WORST_FIRST.index(goes_by(group)) for group in entry.assessed.groups]
    told += [_WORST_FIRST.index(goes_by(value)) for value in entry.assessed.values]
    if entry.put_away:
        place = _PUT_AWAY
    elif entry.out_of_service:
        place = _OUT_OF_SERVICE
    elif entry.assessed.reasons or any(one.decision == RETIRE for one in entry.worn):
        place = _FLAGGED
    elif told:
        place = _FROM_HERE + min(told)
    else:
        place = _PART if entry.part_of else _UNMEASURED
    return place, min(told, default=len(_WORST_FIRST)), entry.item.code.casefold()


def _there(one: AtPlace) -> dict[str, Any]:
    return {key: value for key, value in one.place._asdict().items() if key != "item"}


def _newest_by_place(known: Known, gathered: Gathered) -> dict[Place, Newest]:
    """The newest clamping of each place that items are measured at as they are now."""
    newest, found = read_newest(known.connection, gathered.newest), {}
    for one in known.series:  # in the order of modifications: those as they are now come last
        if one.id in newest:
            found[place_of(one)] = newest[one.id]
    return found


def _married(entries: Iterable[Entry], setups: Iterable[OwnedSetup]) -> tuple[Married, ...]:
    by_code = {setup.code: setup for setup in setups}
    found = []
    for entry in entries:
        item, setup = entry.item, by_code.get(entry.item.married_setup)
        if setup is None:
            continue
        changed = times.order(setup.since) > times.order(item.modified_at) and not any(
            group.setup == setup.code and group.setup_revision == setup.revision for group in entry.assessed.groups
        )
        found.append(
            Married(
                item=item.code,
                what=item.what,
                size_mm=None if item.size_pm is None else item.size_pm / 1e9,
                setup=setup.code,
                position=item.married_position,
                changed=times.day(setup.since) if changed else "",
                reason=setup.reason if changed else "",
            )
        )
    return tuple(
        sorted(found, key=lambda one: (one.setup.casefold(), one.position.casefold(), one.size_mm or 0.0, one.item))
    )
