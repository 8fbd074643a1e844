"""Writing: every change is one entry, kept in the same transaction as its facts and sealed by a digest."""

import contextlib
import functools
import itertools
import uuid
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa

from qclog import config, times
from qclog.logbook import schema
from qclog.logbook.databases import revision
from qclog.logbook.engine import Store, newer_schema
from qclog.logbook.safekeeping.digests import SEALED, Row, digest_of_encoded
from qclog.logbook.safekeeping.written import Written

_ROWS_TOGETHER: Final = 100
"""Rows in one statement: with the 22 columns a table has at most, far below the parameters a statement may have."""


class Entry:
    """One entry in the making. Its row is written with its first fact: an entry without facts leaves no trace."""

    def __init__(self, connection: sa.Connection, what: str, who: str = "") -> None:
        self.connection = connection
        self.what = what
        self.who = who or config.person()
        self.station = config.station()
        self._id: int | None = None
        self._before: int | None = None
        self._written: dict[sa.Table, Written] = {}

    @property
    def id(self) -> int:
        if self._id is None:
            table = schema.entry
            last = self.connection.execute(
                sa.select(table.c.id, table.c.sequence)
                .where(table.c.station == self.station)
                .order_by(table.c.sequence.desc())
                .limit(1)
            ).first()
            values = {
                "uuid": str(uuid.uuid4()),
                "station": self.station,
                "sequence": last.sequence + 1 if last else 1,
                "at_utc": times.utc_stamp(),
                "who": self.who,
                "what": self.what,
            }
            self._before = last.id if last else None
            self._id = self._add(table, values)
        return self._id

    def add(self, table: sa.Table, **values: Any) -> int:
        """Insert one fact and return its id."""
        return self._add(table, {"entry_id": self.id, **values})

    def _add(self, table: sa.Table, values: dict[str, Any]) -> int:
        key = _primary_key(self.connection.execute(table.insert().values(values)))
        whole = {column.name: "" if column.server_default is not None else None for column in table.columns}
        self._note(table, [tuple((whole | values | {"id": key}).values())])
        return key

    def add_many(self, table: sa.Table, rows: Sequence[Mapping[str, Any]]) -> None:
        """Insert facts whose ids were taken from ``take_ids``; they say all columns but ``entry_id``."""
        columns = columns_of(table)
        self.add_rows(table, [tuple(row[name] for name in columns) for row in rows])

    def add_rows(self, table: sa.Table, rows: Sequence[Row]) -> None:
        """The same with rows whose cells stand as the columns of the table do."""
        if rows:
            insert(self.connection, table, (*columns_of(table), "entry_id"), rows, self.id)
            self._note(table, [(row[0], self.id, *row[1:]) for row in rows])

    def _note(self, table: sa.Table, rows: Sequence[Row]) -> None:
        if table not in self._written:
            self._written[table] = Written(table)
        self._written[table].add(rows)

    def seal(self) -> None:
        """Write the digest over everything that was written; the last thing an entry does."""
        if self._id is not None:
            own, written = self._id, self._written
            previous = self._digest_before()
            content = ((table, written[table].encoded(self.connection, own)) for table in SEALED if table in written)
            sealed = digest_of_encoded(previous, content)
            self.connection.execute(
                schema.entry_digest.insert().values(id=own, entry_id=own, previous=previous, digest=sealed)
            )

    def close(self) -> None:
        """Let go of what was kept for the digest."""
        for written in self._written.values():
            written.close()

    def _digest_before(self) -> str:
        table = schema.entry_digest
        return self.connection.scalar(sa.select(table.c.digest).where(table.c.entry_id == self._before)) or ""


@functools.cache
def columns_of(table: sa.Table) -> tuple[str, ...]:
    """The columns of a table of facts but for the one that says the entry."""
    return tuple(column.name for column in table.columns if column.name != "entry_id")


def insert(
    connection: sa.Connection, table: sa.Table, columns: Sequence[str], rows: Sequence[Sequence[Any]], *same: int
) -> None:
    """Insert rows; ``same``: what the last columns hold in all of them. They go to the driver as they are, which
    takes half the time of having each of them looked at; on SQLite many in one statement, a third of that again."""
    beginning = f"INSERT INTO {table.name} ({', '.join(columns)}) VALUES "
    apart = rows
    if connection.dialect.name == "sqlite":
        together = len(rows) // _ROWS_TOGETHER * _ROWS_TOGETHER
        if together:
            _insert_together(connection, beginning, rows[:together], same)
        apart = rows[together:]
    if apart:
        mark = "?" if connection.dialect.paramstyle == "qmark" else "%s"
        values = [*[mark] * (len(columns) - len(same)), *map(str, same)]
        connection.exec_driver_sql(f"{beginning}({', '.join(values)})", apart)


def _insert_together(
    connection: sa.Connection, beginning: str, rows: Sequence[Sequence[Any]], same: Sequence[int]
) -> None:
    """Insert a multiple of ``_ROWS_TOGETHER`` rows on SQLite. What a column holds in all of them stands in the
    statement, where it is a whole number or nothing."""
    values, varying = [], []
    for column in zip(*rows, strict=True):
        literal = _literal(column[0])
        if literal and column.count(column[0]) == len(column):
            values.append(literal)
        else:
            values.append("?")
            varying.append(column)
    row = f"({', '.join((*values, *map(str, same)))})"
    flat = tuple(itertools.chain.from_iterable(zip(*varying, strict=True)))
    width = _ROWS_TOGETHER * len(varying)
    connection.exec_driver_sql(
        beginning + ", ".join([row] * _ROWS_TOGETHER),
        [flat[start : start + width] for start in range(0, len(flat), width)],
    )


def _literal(value: object) -> str:
    """A whole number, no value or no text as SQL; '' for anything else."""
    if value is None:
        return "NULL"
    if value == "":
        return "''"
    return f"{value:d}" if type(value) is int else ""


def take_ids(connection: sa.Connection, table: sa.Table, count: int) -> range | list[int]:
    """``count`` fresh ids of ``table``, usable in this transaction only."""
    if connection.dialect.name == "sqlite":
        last = connection.exec_driver_sql(f"SELECT max(id) FROM {table.name}").scalar() or 0
        return range(last + 1, last + 1 + count)
    statement = sa.text("SELECT nextval(pg_get_serial_sequence(:table, 'id')) FROM generate_series(1, :count)")
    return list(connection.scalars(statement, {"table": table.name, "count": count}))


@contextlib.contextmanager
def new_entry(store: Store, what: str, who: str = "") -> Iterator[Entry]:
    """One entry and its facts: kept whole when the block ends, or not at all.

    Raises DamagedError where a newer program has moved the logbook since it was opened.
    """
    with store.writing() as connection:
        if (found := revision(connection)) != schema.REVISION:
            raise newer_schema(store.target, found or "")
        entry = Entry(connection, what, who)
        with contextlib.closing(entry):
            yield entry
            entry.seal()


def _primary_key(result: sa.CursorResult[Any]) -> int:
    key = result.inserted_primary_key
    assert key is not None
    return int(key[0])
