"""The logbook as it stood after one of its entries, in memory, to be asked the same questions as the logbook itself.

Facts are only added, and every one belongs to an entry: written again up to an entry they are the logbook of that
moment, and what is derived is derived anew from them. What is supposed of a replay changes nothing in the logbook.
"""

import contextlib
from collections.abc import Collection, Iterator, Sequence
from typing import Any, Final

import sqlalchemy as sa

from qclog.characteristics import SIZE_FROM_PM
from qclog.logbook import schema
from qclog.logbook.deriving import rebuild
from qclog.logbook.engine import Store

_AT_ONCE: Final = 5_000
_SIZE_UM: Final = SIZE_FROM_PM / 1e6
_SCALED: Final = ("value_um", "eccentricity_x_um", "eccentricity_y_um", "residual_sd_um")


class Replay:
    """Facts from ``connection``, written again into ``store`` as far as ``advance`` was told. Close it, or use it in a
    ``with`` block.

    ``items``: only the clampings of these; everything else is there in full.
    """

    def __init__(self, connection: sa.Connection, items: Collection[int] | None = None) -> None:
        engine = sa.create_engine("sqlite://", poolclass=sa.pool.StaticPool)
        self.store = Store(engine, "a replay of the logbook")
        with self.store.writing() as own:
            schema.metadata.create_all(own)
        self._ahead = {table: _rows(connection, table, items) for table in schema.FACTS}
        self._started = False

    def __enter__(self) -> "Replay":
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def advance(self, entry_id: int | None = None) -> None:
        """Go on to where the entry has been written, or to the end. There is no way back."""
        with self.store.writing() as own:
            touched: set[int] = set()
            for table, rows in self._ahead.items():
                due = _take_due(rows, "id" if table is schema.entry else "entry_id", entry_id)
                for start in range(0, len(due), _AT_ONCE):
                    own.execute(table.insert(), due[start : start + _AT_ONCE])
                if table is schema.clamping:
                    touched.update(row["id"] for row in due)
                elif table is schema.strike:
                    touched.update(_struck(own, due))
            if not self._started:
                rebuild(own)
                self._started = True
                return
            behind = sorted(touched)
            for start in range(0, len(behind), _AT_ONCE):
                rebuild(own, behind[start : start + _AT_ONCE])

    def suppose_scaled(self, clampings: Sequence[int], ratio: float) -> None:
        """Suppose that what was read in these clampings was so many times larger; sizes are not, only differences."""
        f = schema.figure
        scaled = {column: f.c[column] * ratio for column in _SCALED}
        with self.store.writing() as own:
            for start in range(0, len(clampings), _AT_ONCE):
                some = f.c.clamping_id.in_(clampings[start : start + _AT_ONCE])
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
    for start in range(0, len(clampings), _AT_ONCE):
        some = c.c.id.in_(clampings[start : start + _AT_ONCE])
        for item_id, revision_id in connection.execute(
            sa.select(c.c.item_id, c.c.setup_revision_id).where(some).distinct()
        ):
            items.add(item_id)
            if revision_id is not None:
                revisions.add(revision_id)
    alike = sa.select(c.c.item_id).where(c.c.setup_revision_id.in_(revisions)).distinct()
    return items | set(connection.scalars(alike))


def _rows(connection: sa.Connection, table: sa.Table, items: Collection[int] | None) -> list[dict[str, Any]]:
    """The rows of a table of facts, those written last first."""
    query = sa.select(table)
    if items is not None:
        own = sa.select(schema.clamping.c.id).where(schema.clamping.c.item_id.in_(items))
        turns = sa.select(schema.turn.c.id).where(schema.turn.c.clamping_id.in_(own))
        if table is schema.clamping:
            query = query.where(table.c.item_id.in_(items))
        elif table in (schema.turn, schema.clamping_body):
            query = query.where(table.c.clamping_id.in_(own))
        elif table is schema.reading:
            query = query.where(table.c.turn_id.in_(turns))
    by_entry = () if table is schema.entry else (table.c.entry_id.desc(),)
    rows = connection.execute(query.order_by(*by_entry, table.c.id.desc()))
    return [dict(row) for row in rows.mappings()]


def _take_due(rows: list[dict[str, Any]], key: str, entry_id: int | None) -> list[dict[str, Any]]:
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
