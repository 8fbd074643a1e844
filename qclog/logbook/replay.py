"""The logbook as it stood after one of its entries, in memory, to be asked the same questions as the logbook itself.

Facts are only added, and every one belongs to an entry: written again up to an entry they are the logbook of that
moment, and what is derived is derived anew from them. What is supposed of a replay changes nothing in the logbook.
"""

import contextlib
from collections.abc import Collection, Iterator, Sequence
from operator import itemgetter
from typing import Any, Final

import sqlalchemy as sa

from qclog.characteristics import SIZE_FROM_PM
from qclog.logbook import schema
from qclog.logbook.deriving import rebuild, tenths_of_mm
from qclog.logbook.driver import marks, run_for_each
from qclog.logbook.engine import Store

_Row = tuple[Any, ...]
_AT_ONCE: Final = 5_000
_A_TENTH_PM: Final = 10**8
"""Of a millimetre: distances in one tenth are no farther apart."""
_SIZE_UM: Final = SIZE_FROM_PM / 1e6
_SCALED: Final = ("value_um", "eccentricity_x_um", "eccentricity_y_um", "residual_sd_um")
_OF_ITEMS: Final = (
    *(schema.entry, schema.sitting, schema.clamping),
    *(schema.clamping_body, schema.turn, schema.reading),
)
"""Facts that there are as many of as clampings: where only some items are wanted, only what belongs to theirs."""


class Replay:
    """Facts from ``connection``, written again into ``store`` as far as ``advance`` was told. Close it, or use it in a
    ``with`` block.

    ``items``: only the clampings of these, and of those that are added; everything else is there in full.
    """

    def __init__(self, connection: sa.Connection, items: Collection[int] | None = None) -> None:
        engine = sa.create_engine("sqlite://", poolclass=sa.pool.StaticPool)
        self.store = Store(engine, "a replay of the logbook")
        with self.store.writing() as own:
            schema.metadata.create_all(own)
        self._connection = connection
        self._items: set[int] = set()
        self._entries: set[int] = set()
        self._sittings: set[int] = set()
        chosen = schema.FACTS if items is None else [one for one in schema.FACTS if one not in _OF_ITEMS]
        self._ahead: dict[sa.Table, list[_Row]] = {table: [] for table in schema.FACTS}
        self._ahead |= {table: _rows(connection, table) for table in chosen}
        self._started = False
        if items is not None:
            self.add(items)

    def __enter__(self) -> "Replay":
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def add(self, items: Collection[int]) -> None:
        """Have the clampings of these items too, from the next time that it is told to advance."""
        more = sorted(set(items) - self._items)
        if self._started and not more:
            return
        self._items.update(more)
        for some in _some(more):
            for table, rows in _rows_of(self._connection, some).items():
                self._ahead[table] += rows
        for table, known in ((schema.sitting, self._sittings), (schema.entry, self._entries)):
            ids = {row[at] for rows, at in self._naming(table) for row in rows} - known
            known |= ids
            for some in _some(sorted(ids)):
                self._ahead[table] += _rows(self._connection, table, table.c.id.in_(some))
        for table, rows in self._ahead.items():
            rows.sort(key=itemgetter(_place(table, _entry_of(table)), _place(table, "id")), reverse=True)

    def _naming(self, table: sa.Table) -> Iterator[tuple[list[_Row], int]]:
        """The rows ahead that name those of a table, each with the place in them where they do."""
        name = f"{table.name}_id"
        for other, rows in self._ahead.items():
            if name in other.c and other is not table:
                yield rows, _place(other, name)

    def advance(self, entry_id: int | None = None) -> None:
        """Go on to where the entry has been written, or to the end. There is no way back."""
        with self.store.writing() as own:
            touched: set[int] = set()
            for table, rows in self._ahead.items():
                due = _take_due(rows, _place(table, _entry_of(table)), entry_id)
                names = table.c.keys()
                run_for_each(own, f"INSERT INTO {table.name} ({', '.join(names)}) VALUES ({marks(len(names))})", due)
                if table is schema.clamping:
                    touched.update(row[_place(table, "id")] for row in due)
                elif table is schema.strike:
                    touched.update(_struck(own, [dict(zip(names, row, strict=True)) for row in due]))
            if not self._started:
                rebuild(own)
                self._started = True
                return
            for some in _some(sorted(touched)):
                rebuild(own, some)

    def suppose_scaled(self, clampings: Sequence[int], ratio: float) -> None:
        """Suppose that what was read in these clampings was so many times larger; sizes are not, only differences."""
        f = schema.figure
        scaled = {column: f.c[column] * ratio for column in _SCALED}
        with self.store.writing() as own:
            for some in map(f.c.clamping_id.in_, _some(clampings)):
                own.execute(f.update().where(some, sa.func.abs(f.c.value_um) < _SIZE_UM).values(scaled))

    def suppose_never_recalled(self, recall_id: int) -> None:
        """Suppose that the gauge had not been found wrong."""
        with self.store.writing() as own:
            for table, column in ((schema.recall_clearing, "recall_id"), (schema.gauge_recall, "id")):
                own.execute(table.delete().where(table.c[column] == recall_id))

    @contextlib.contextmanager
    def before_later_work(
        self, item_id: int, modification: int, setup_id: int, revision: int
    ) -> Iterator[sa.Connection]:
        """A view in which an item was not worked on after a modification, nor a setup changed after a revision."""
        m, r, s = schema.modification, schema.setup_revision, schema.series
        later = sa.select(r.c.id).where(r.c.setup_id == setup_id, r.c.number > revision)
        with self.store.engine.connect() as own, own.begin() as undone:
            own.execute(m.delete().where(m.c.item_id == item_id, m.c.number > modification))
            own.execute(s.delete().where(s.c.setup_revision_id.in_(later)))
            own.execute(r.delete().where(r.c.setup_id == setup_id, r.c.number > revision))
            yield own
            undone.rollback()


def read_measured_alike(connection: sa.Connection, clampings: Sequence[int]) -> set[int]:
    """The items of some clampings, and all that were measured in the same setup revisions: those lend each other
    their repeat."""
    c = schema.clamping
    items: set[int] = set()
    revisions: set[int] = set()
    for some in map(c.c.id.in_, _some(clampings)):
        for item_id, revision_id in connection.execute(
            sa.select(c.c.item_id, c.c.setup_revision_id).where(some).distinct()
        ):
            items.add(item_id)
            if revision_id is not None:
                revisions.add(revision_id)
    alike = sa.select(c.c.item_id).where(c.c.setup_revision_id.in_(revisions)).distinct()
    return items | set(connection.scalars(alike))


def read_first_measured_alike(connection: sa.Connection, item_id: int) -> dict[tuple[Any, ...], list[tuple[int, int]]]:
    """All other items that were measured where one was, those added last first, each with the entry of its first
    clamping there.

    By setup revision (its id) and position; and, of those, by revision, position, clocking, distance in tenths of a
    millimetre and characteristic.
    """
    c, t = schema.clamping.c, schema.turn.c
    turns = schema.clamping.join(schema.turn, t.clamping_id == c.id)
    own = sa.select(c.setup_revision_id, c.position, c.clocking, t.distance_pm, t.characteristic).select_from(turns)
    places = connection.execute(own.where(c.item_id == item_id, c.setup_revision_id.is_not(None)).distinct()).all()
    first = sa.select(c.item_id, sa.func.min(c.entry_id)).where(c.item_id != item_id)
    first = first.group_by(c.item_id).order_by(c.item_id.desc())
    wanted: dict[tuple[Any, ...], sa.Select[Any]] = {}
    for revision, position, clocking, distance, characteristic in places:
        there = first.where(c.setup_revision_id == revision, c.position == position)
        wanted[revision, position] = there
        so = there.select_from(turns).where(c.clocking == clocking, t.characteristic == characteristic)
        near = t.distance_pm.between(distance - _A_TENTH_PM, distance + _A_TENTH_PM)
        wanted[revision, position, clocking, tenths_of_mm(distance), characteristic] = so.where(near)
    return {where: [(other, entry) for other, entry in connection.execute(query)] for where, query in wanted.items()}


def _rows(connection: sa.Connection, table: sa.Table, *chosen: sa.ColumnElement[bool]) -> list[_Row]:
    """The chosen rows of a table of facts, those written last first."""
    by_entry = () if table is schema.entry else (table.c.entry_id.desc(),)
    rows = connection.execute(sa.select(table).where(*chosen).order_by(*by_entry, table.c.id.desc()))
    return [tuple(row) for row in rows]


def _rows_of(connection: sa.Connection, items: Sequence[int]) -> dict[sa.Table, list[_Row]]:
    """The rows of the clampings of some items, by table."""
    c, t = schema.clamping, schema.turn
    own = sa.select(c.c.id).where(c.c.item_id.in_(items))
    turns = sa.select(t.c.id).where(t.c.clamping_id.in_(own))
    return {
        c: _rows(connection, c, c.c.item_id.in_(items)),
        schema.clamping_body: _rows(connection, schema.clamping_body, schema.clamping_body.c.clamping_id.in_(own)),
        t: _rows(connection, t, t.c.clamping_id.in_(own)),
        schema.reading: _rows(connection, schema.reading, schema.reading.c.turn_id.in_(turns)),
    }


def _some(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    """Of many ids as many as go into one statement."""
    for start in range(0, len(ids), _AT_ONCE):
        yield ids[start : start + _AT_ONCE]


def _place(table: sa.Table, column: str) -> int:
    return table.c.keys().index(column)


def _entry_of(table: sa.Table) -> str:
    """The column that says in which entry a row was written."""
    return "id" if table is schema.entry else "entry_id"


def _take_due(rows: list[_Row], key: int, entry_id: int | None) -> list[_Row]:
    """Take from the end of ``rows`` those that were written up to an entry, in their order."""
    left = len(rows)
    while left and (entry_id is None or rows[left - 1][key] <= entry_id):
        left -= 1
    due = rows[left:][::-1]
    del rows[left:]
    return due


def _struck(connection: sa.Connection, strikes: Sequence[dict[str, Any]]) -> set[int]:
    """The clampings in which something was struck out."""
    t, r = schema.turn, schema.reading
    found = {row["clamping_id"] for row in strikes if row["clamping_id"] is not None}
    turns = {row["turn_id"] for row in strikes if row["turn_id"] is not None}
    readings = [row["reading_id"] for row in strikes if row["reading_id"] is not None]
    turns.update(connection.scalars(sa.select(r.c.turn_id).where(r.c.id.in_(readings))))
    return found | set(connection.scalars(sa.select(t.c.clamping_id).where(t.c.id.in_(turns))))
