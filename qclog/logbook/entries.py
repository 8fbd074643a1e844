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
from qclog.logbook.driver import marks, not_waiting, run, run_for_each
from qclog.logbook.engine import Store, newer_schema
from qclog.logbook.safekeeping.digests import SEALED, digest_of_encoded
from qclog.logbook.safekeeping.written import Written

_ROWS_TOGETHER: Final = 100
"""Rows in one statement: with the 22 columns a table has at most, far below the parameters a statement may have."""
_REVISION: Final = "SELECT version_num FROM schema_revision"
_LAST: Final = (
    "SELECT sequence, digest FROM entry LEFT JOIN entry_digest ON entry_digest.entry_id = entry.id "
    "WHERE station = ? ORDER BY sequence DESC LIMIT 1"
)
"""The newest entry of a station, with its digest."""


class Entry:
    """One entry in the making. Its row is written with its first fact: an entry without facts leaves no trace."""

    def __init__(self, connection: sa.Connection, what: str, who: str = "") -> None:
        self.connection = connection
        self.what = what
        self.who = who or config.person()
        self.station = config.station()
        self._id: int | None = None
        self._before = ""
        self._written: dict[sa.Table, Written] = {}

    @property
    def id(self) -> int:
        if self._id is None:
            sequence, digest = next(iter(run(self.connection, _LAST, (self.station,))), (0, ""))
            values = {
                "uuid": str(uuid.uuid4()),
                "station": self.station,
                "sequence": sequence + 1,
                "at_utc": times.utc_stamp(),
                "who": self.who,
                "what": self.what,
            }
            self._before = digest or ""
            self._id = self._add(schema.entry, values)
        return self._id

    def add(self, table: sa.Table, **values: Any) -> int:
        """Insert one fact and return its id."""
        return self._add(table, {"entry_id": self.id, **values})

    def _add(self, table: sa.Table, values: dict[str, Any]) -> int:
        ((key,),) = run(self.connection, f"{_insert(table, tuple(values))} RETURNING id", tuple(values.values()))
        whole = _unsaid(table) | values | {"id": key}
        self._note(table, [(value,) for value in whole.values()])
        return int(key)

    def add_many(self, table: sa.Table, rows: Sequence[Mapping[str, Any]]) -> None:
        """Insert facts whose ids were taken from ``take_ids``; they say all columns but ``entry_id``."""
        self.add_columns(table, [[row[name] for row in rows] for name in columns_of(table)])

    def add_columns(self, table: sa.Table, columns: Sequence[Sequence[Any]]) -> None:
        """The same given column by column, as those of the table stand but for ``entry_id``."""
        ids, *others = columns
        if ids:
            insert(self.connection, table, (*columns_of(table), "entry_id"), columns, self.id)
            self._note(table, [ids, [self.id] * len(ids), *others])

    def not_waiting(self) -> contextlib.AbstractContextManager[None]:
        """A block of ``add_columns`` only: a server is sent all of it before its answers are waited for."""
        assert self.id
        return not_waiting(self.connection)

    def _note(self, table: sa.Table, columns: Sequence[Sequence[Any]]) -> None:
        if table not in self._written:
            self._written[table] = Written(table)
        self._written[table].add(columns)

    def seal(self) -> None:
        """Write the digest over everything that was written; the last thing an entry does."""
        if self._id is not None:
            own, written = self._id, self._written
            content = ((table, written[table].encoded(self.connection, own)) for table in SEALED if table in written)
            row = (own, self._before, digest_of_encoded(self._before, content))
            columns = [(value,) for value in row]
            insert(self.connection, schema.entry_digest, ("id", "previous", "digest", "entry_id"), columns, own)

    def close(self) -> None:
        """Let go of what was kept for the digest."""
        for written in self._written.values():
            written.close()


@functools.cache
def columns_of(table: sa.Table) -> tuple[str, ...]:
    """The columns of a table of facts but for the one that says the entry."""
    return tuple(column.name for column in table.columns if column.name != "entry_id")


@functools.cache
def _unsaid(table: sa.Table) -> dict[str, str | None]:
    """What the columns of a table hold where nothing is said."""
    return {column.name: "" if column.server_default is not None else None for column in table.columns}


@functools.cache
def _insert(table: sa.Table, names: tuple[str, ...]) -> str:
    return f"INSERT INTO {table.name} ({', '.join(names)}) VALUES ({marks(len(names))})"


def insert(
    connection: sa.Connection, table: sa.Table, names: tuple[str, ...], columns: Sequence[Sequence[Any]], *same: int
) -> None:
    """Insert rows, given column by column; ``same``: what the last of the columns named hold in all of them. They go to
    the driver as they are, which takes half the time of having each of them looked at; on SQLite many in one statement,
    a third of that again."""
    count = len(columns[0])
    together = count // _ROWS_TOGETHER * _ROWS_TOGETHER if connection.dialect.name == "sqlite" else 0
    if together:
        beginning = f"INSERT INTO {table.name} ({', '.join(names)}) VALUES "
        _insert_together(connection, beginning, [column[:together] for column in columns], same)
        columns = [column[together:] for column in columns]
    if count > together:
        rows = list(zip(*columns, *map(itertools.repeat, same), strict=False))
        run_for_each(connection, _insert(table, names), rows)


def _insert_together(
    connection: sa.Connection, beginning: str, columns: Sequence[Sequence[Any]], same: Sequence[int]
) -> None:
    """Insert a multiple of ``_ROWS_TOGETHER`` rows on SQLite. What a column holds in all of them stands in the
    statement, where it is a whole number or nothing."""
    values, varying = [], []
    for column in columns:
        literal = _literal(column[0])
        if literal and column[0] == column[-1] and column.count(column[0]) == len(column):
            values.append(literal)
        else:
            values.append("?")
            varying.append(column)
    row = f"({', '.join((*values, *map(str, same)))})"
    flat = itertools.chain.from_iterable(zip(*varying, strict=True))
    statements = list(zip(*[flat] * (_ROWS_TOGETHER * len(varying)), strict=True))
    run_for_each(connection, beginning + ", ".join([row] * _ROWS_TOGETHER), statements)


def _literal(value: object) -> str:
    """A whole number, no value or no text as SQL; '' for anything else."""
    if value is None:
        return "NULL"
    if value == "":
        return "''"
    return f"{value:d}" if type(value) is int else ""


def take_ids(connection: sa.Connection, table: sa.Table, count: int) -> Sequence[int]:
    """``count`` fresh ids of ``table``, usable in this transaction only."""
    return take_ids_of(connection, {table: count})[0]


def take_ids_of(connection: sa.Connection, counts: Mapping[sa.Table, int]) -> list[Sequence[int]]:
    """The same of several tables, of each so many."""
    if connection.dialect.name == "sqlite":
        (last,) = run(connection, _newest_ids(tuple(counts)))
        return [range((old or 0) + 1, (old or 0) + 1 + many) for old, many in zip(last, counts.values(), strict=True)]
    (taken,) = run(connection, _next_ids(tuple(counts)), tuple(counts.values()))
    return list(taken)


@functools.cache
def _next_ids(tables: tuple[sa.Table, ...]) -> str:
    each = "ARRAY(SELECT nextval(pg_get_serial_sequence('{}', 'id')) FROM generate_series(1, ?))"
    return "SELECT " + ", ".join(each.format(table.name) for table in tables)


@functools.cache
def _newest_ids(tables: tuple[sa.Table, ...]) -> str:
    return "SELECT " + ", ".join(f"(SELECT max(id) FROM {table.name})" for table in tables)


@contextlib.contextmanager
def new_entry(store: Store, what: str, who: str = "") -> Iterator[Entry]:
    """One entry and its facts: kept whole when the block ends, or not at all.

    Raises DamagedError where a newer program has moved the logbook since it was opened.
    """
    with store.writing() as connection:
        if (found := run(connection, _REVISION)) != [(schema.REVISION,)]:
            raise newer_schema(store.target, found[0][0] if found else "")
        entry = Entry(connection, what, who)
        with contextlib.closing(entry):
            yield entry
            entry.seal()
