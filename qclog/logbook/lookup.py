"""Finding what the logbook knows: names, cards, modifications, setups, limits. The newest card wins."""

import difflib
from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple, TypeVar

import sqlalchemy as sa

from qclog import texts, times
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.driver import run

T = TypeVar("T")


class Name(NamedTuple):
    id: int
    text: str
    kind: str


class Modification(NamedTuple):
    id: int
    number: int
    done_at: str
    what: str
    size_pm: int | None
    holder: str
    position: str


class Revision(NamedTuple):
    id: int
    number: int
    since: str
    reason: str
    sense: str


class Limit(NamedTuple):
    modification_number: int
    characteristic: str
    distance_pm: int
    setup_id: int | None
    position: str
    upper_pm: int | None
    lower_pm: int | None
    text: str


class Link(NamedTuple):
    rank: int
    item_id: int
    text: str
    modification_id: int
    clocking_mdeg: int | None


_BY_CODE: Final = "SELECT id, text, kind FROM name WHERE folded = ?"
_MODIFICATIONS: Final = (
    "SELECT id, number, done_at, what, size_pm, holder, position FROM modification WHERE item_id = ? ORDER BY number"
)
_REVISIONS: Final = "SELECT id, number, since, reason, sense FROM setup_revision WHERE setup_id = ? ORDER BY number"
_POSITIONS: Final = "SELECT position FROM setup_position WHERE setup_id = ? ORDER BY id"
"""What every clamping asks for."""

_HOW_TO_ADD = {
    "item": "qclog item add {code}",
    "setup": "qclog setup add {code}",
    "pin": "qclog pin add {code} --diameter ...",
    "instrument": "qclog instrument add {code} --division ...",
}


class Register:
    """What is registered, read as needed within one transaction and remembered."""

    def __init__(self, connection: sa.Connection) -> None:
        self.connection = connection
        self._known: dict[tuple[Any, ...], Any] = {}

    def forget(self) -> None:
        """Read everything anew: something was registered in this transaction."""
        self._known.clear()

    def _remember(self, key: tuple[Any, ...], read: Callable[[], T]) -> T:
        if key not in self._known:
            self._known[key] = read()
        found: T = self._known[key]
        return found

    def _of(self, make: Callable[..., T], statement: str, wanted: object) -> list[T]:
        return [make(*row) for row in run(self.connection, statement, (wanted,))]

    # --- names ---

    def find(self, code: str) -> Name | None:
        """The thing of this code, whatever it is; upper and lower case are the same."""
        folded = code.strip().casefold()
        found = self._remember(("name", folded), lambda: self._of(Name, _BY_CODE, folded))
        return found[0] if found else None

    def need(self, code: str, kind: str) -> Name:
        """The item, setup, pin or instrument of this code. Raises NotFoundError naming the nearest ones."""
        found = self.find(code)
        if found is not None and found.kind == kind:
            return found
        article = "an" if kind[0] in "aeiou" else "a"
        if found is not None:
            other = "an" if found.kind[0] in "aeiou" else "a"
            raise NotFoundError(
                f"{found.text} is {other} {found.kind}, not {article} {kind}.", f"Name {article} {kind}."
            )
        near = difflib.get_close_matches(
            code.casefold(), [n.text.casefold() for n in self.names(kind)], n=3, cutoff=0.6
        )
        meant = [n.text for n in self.names(kind) if n.text.casefold() in near]
        hint = f"Did you mean {' or '.join(meant)}? Otherwise add it: " if meant else "Add it: "
        raise NotFoundError(
            f"There is no {kind} {texts.shown(code)!r}.", hint + _HOW_TO_ADD[kind].format(code=texts.shown(code))
        )

    def names(self, kind: str) -> list[Name]:
        """All things of a kind, in the order of their codes."""
        table = schema.name
        return self._remember(
            ("names", kind),
            lambda: _all(
                self.connection,
                Name,
                sa.select(table.c.id, table.c.text, table.c.kind).where(table.c.kind == kind).order_by(table.c.folded),
            ),
        )

    def text(self, name_id: int) -> str:
        """The code of a thing known by its id."""
        return self._remember(
            ("text", name_id),
            lambda: self.connection.scalar(sa.select(schema.name.c.text).where(schema.name.c.id == name_id)) or "",
        )

    # --- cards ---

    def _newest(self, table: sa.Table, column: str, owner: int) -> Mapping[str, Any] | None:
        def read() -> Mapping[str, Any] | None:
            names = [column.name for column in table.columns]
            query = f"SELECT {', '.join(names)} FROM {table.name} WHERE {column} = ? ORDER BY id DESC LIMIT 1"
            found = run(self.connection, query, (owner,))
            return dict(zip(names, found[0], strict=True)) if found else None

        return self._remember((table.name, owner), read)

    def item_card(self, item_id: int) -> Mapping[str, Any] | None:
        return self._newest(schema.item_card, "item_id", item_id)

    def item_state(self, item_id: int) -> Mapping[str, Any] | None:
        return self._newest(schema.item_state, "item_id", item_id)

    def pin_card(self, pin_id: int) -> Mapping[str, Any] | None:
        return self._newest(schema.pin_card, "pin_id", pin_id)

    def instrument_card(self, instrument_id: int) -> Mapping[str, Any] | None:
        return self._newest(schema.instrument_card, "instrument_id", instrument_id)

    def calibration_at(self, gauge_id: int, taken_at: str) -> sa.RowMapping | None:
        """The calibration in force at a time: the newest done not later than that day."""
        table = schema.calibration
        rows = self._remember(
            ("calibrations", gauge_id),
            lambda: list(
                self.connection.execute(
                    sa.select(table).where(table.c.gauge_id == gauge_id).order_by(table.c.done_on, table.c.id)
                ).mappings()
            ),
        )
        return next((row for row in reversed(rows) if row["done_on"] <= times.day(taken_at)), None)

    def setting(self, key: str, default: str = "") -> str:
        table = schema.setting
        query = sa.select(table.c.value).where(table.c.key == key).order_by(table.c.id.desc()).limit(1)
        return self._remember(("setting", key), lambda: self.connection.scalar(query) or default)

    # --- modifications ---

    def modifications(self, item_id: int) -> list[Modification]:
        """All of an item's, number 0 (as received) first."""
        return self._remember(("modifications", item_id), lambda: self._of(Modification, _MODIFICATIONS, item_id))

    def modification(self, item: Name, number: int) -> Modification:
        """Raises NotFoundError for a number the item does not have."""
        found = next((m for m in self.modifications(item.id) if m.number == number), None)
        if found is None:
            raise NotFoundError(
                f"{item.text} has no modification {number}.",
                f"Its newest is {self.modifications(item.id)[-1].number}.",
            )
        return found

    def modification_at(self, item: Name, taken_at: str) -> Modification:
        """The newest modification not later than a time. Raises RefusedError where the dates cannot tell."""
        before = self.modifications(item.id)[0]
        for candidate in self.modifications(item.id)[1:]:
            if _same_day_unclear(candidate.done_at, taken_at):
                raise RefusedError(
                    f"{item.text} was modified ({candidate.what}, modification {candidate.number}) and measured on "
                    f"{times.day(taken_at)}, and the times do not tell which came first.",
                    f"Say --modification {before.number} (before) or {candidate.number} (after).",
                )
            if times.order(candidate.done_at) <= times.order(taken_at):
                before = candidate
        return before

    def newest_modification(self, item: Name) -> Modification:
        return self.modifications(item.id)[-1]

    # --- setups ---

    def revisions(self, setup_id: int) -> list[Revision]:
        return self._remember(("revisions", setup_id), lambda: self._of(Revision, _REVISIONS, setup_id))

    def revision_at(self, setup: Name, taken_at: str) -> Revision:
        """The revision in force at a time (the first one also before it was written down).

        A change noted with its day only counts from the start of that day. Raises RefusedError where a measurement
        of that day is noted without its time.
        """
        before = self.revisions(setup.id)[0]
        for candidate in self.revisions(setup.id)[1:]:
            if times.day(candidate.since) == times.day(taken_at) and not times.has_time(taken_at):
                raise RefusedError(
                    f"Setup {setup.text} was changed ({candidate.reason}) on {times.day(taken_at)}, and the times do "
                    "not tell whether this was measured before or after.",
                    "Give the time of the measurement too, as 2026-03-04T14:30.",
                )
            if times.order(candidate.since) <= times.order(taken_at):
                before = candidate
        return before

    def positions(self, setup_id: int) -> list[str]:
        return self._remember(
            ("positions", setup_id), lambda: [row[0] for row in run(self.connection, _POSITIONS, (setup_id,))]
        )

    def links(self, revision_id: int) -> list[Link]:
        t, n = schema.setup_link, schema.name

        def read() -> list[Link]:
            query = (
                sa.select(t.c.rank, t.c.item_id, n.c.text, t.c.modification_id, t.c.clocking_mdeg)
                .join(n, n.c.id == t.c.item_id)
                .where(t.c.revision_id == revision_id)
                .order_by(t.c.rank)
            )
            return _all(self.connection, Link, query)

        return self._remember(("links", revision_id), read)

    # --- limits ---

    def limits(self, body_id: int) -> list[Limit]:
        """The limits of an item or setup in force, newest of each key, all modifications."""
        t = schema.made_to

        def read() -> list[Limit]:
            query = (
                sa.select(
                    t.c.modification_number,
                    t.c.characteristic,
                    t.c.distance_pm,
                    t.c.setup_id,
                    t.c.position,
                    t.c.upper_pm,
                    t.c.lower_pm,
                    t.c.text,
                )
                .where(t.c.body_id == body_id)
                .order_by(t.c.id)
            )
            newest = {limit[:5]: limit for limit in _all(self.connection, Limit, query)}
            return list(newest.values())

        return self._remember(("limits", body_id), read)


def _same_day_unclear(changed: str, taken: str) -> bool:
    if times.day(changed) != times.day(taken):
        return False
    return not (times.has_time(changed) and times.has_time(taken))


def _all(connection: sa.Connection, make: Callable[..., T], query: sa.Select[Any]) -> list[T]:
    return [make(*row) for row in connection.execute(query)]
