"""The chain of digests: every entry with all its facts, after the entry before it at the same station.

The digest of an entry is the SHA-256, in hexadecimal, of one JSON document, compact and in ASCII:

    [previous, [table, [row, row, ...]], [table, [row, ...]], ...]

``previous`` is the digest of the entry before it at its station, "" for the first. The tables are those of the facts
that have rows of the entry, ``entry`` itself among them, by name; the digests are left out. A row is the array of its
columns in the order of the table, without the nulls at its end, so that a column may be added later; rows stand in
the order of their ids. Numbers are as Python writes them (the shortest decimal that reads back the same); zero has
no sign.

Whoever looks through a logbook takes the rows as the database holds them. An entry in the making hashes its rows as
they are written, encoded as the column will hold them: whole numbers and texts as given, real numbers as doubles.
"""

import contextlib
import functools
import hashlib
import itertools
import json
import operator
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from json.encoder import encode_basestring_ascii
from typing import Any, Final

import sqlalchemy as sa

from qclog.logbook import schema

SEALED: Final = tuple(sorted((table for table in schema.FACTS if table is not schema.entry_digest), key=str))
"""The tables a digest covers, in its order."""

ROWS_AT_ONCE: Final = 2_000
_NO_ENTRY: Final = 2**63
_encode: Final = json.JSONEncoder(separators=(",", ":"), default=repr).encode
"""What no logbook holds, bytes, may stand in a damaged one."""
_last: Final = operator.itemgetter(-1)

Row = tuple[Any, ...]


def read_rows(connection: sa.Connection, table: sa.Table, where: str = "", *, streaming: bool = True) -> Iterator[Row]:
    """The rows of a table in the order of their ids; streaming, only some of them are in memory at a time."""
    columns = ", ".join(column.name for column in table.columns)
    result = connection.exec_driver_sql(
        f"SELECT {columns} FROM {table.name} {where} ORDER BY id",
        execution_options={"yield_per": ROWS_AT_ONCE} if streaming else None,
    )
    with contextlib.closing(result):
        while batch := result.fetchmany(ROWS_AT_ONCE):
            yield from map(tuple, batch)


def read_between(connection: sa.Connection, table: sa.Table, entry_id: int, first: int, last: int) -> Iterator[Row]:
    """The rows of one entry, known to have ids from ``first`` to ``last``."""
    of_entry = "" if table is schema.entry else f" AND entry_id = {entry_id:d}"
    where = f"WHERE id BETWEEN {first:d} AND {last:d}{of_entry}"
    return read_rows(connection, table, where, streaming=last - first >= ROWS_AT_ONCE)


def digest(previous: str, content: Iterable[tuple[sa.Table, Iterable[Row]]]) -> str:
    """The digest of one entry from its rows, by table in the order of ``SEALED``."""
    return digest_of_encoded(previous, ((table, encoded_as_read(table, rows)) for table, rows in content))


def digest_of_encoded(previous: str, content: Iterable[tuple[sa.Table, Iterable[bytes]]]) -> str:
    """The same from rows that are encoded, with the commas between them."""
    hashed = hashlib.sha256(f"[{_encode(previous)}".encode())
    for table, parts in content:
        hashed.update(_beginning(table))
        for part in parts:
            hashed.update(part)
        hashed.update(b"]]")
    hashed.update(b"]")
    return hashed.hexdigest()


@functools.cache
def _beginning(table: sa.Table) -> bytes:
    return f",[{_encode(table.name)},[".encode()


def encoded_as_read(table: sa.Table, rows: Iterable[Row]) -> Iterator[bytes]:
    """Rows out of the database, whatever is in them, some thousand at a time."""
    reals = [i for i, column in enumerate(table.columns) if isinstance(column.type, sa.Double)]
    comma = ""
    rows = iter(rows)
    while batch := list(itertools.islice(rows, ROWS_AT_ONCE)):
        plain = [_plain(row, reals) for row in batch] if reals or None in map(_last, batch) else batch
        yield f"{comma}{_encode(plain)[1:-1]}".encode()
        comma = ","


def encoded_as_written(table: sa.Table, columns: Sequence[Sequence[Any]]) -> bytes:
    """Rows as they are handed to the database, column by column as those of the table stand: most cells of a column are
    alike, so that this takes a quarter of the time."""
    kinds, columns = _kinds(table), list(columns)
    if len(columns[0]) == 1:
        return _row(kinds, [cell for (cell,) in columns]).encode()
    while not any(cell is not None for cell in columns[-1]):
        columns.pop()
    if None in columns[-1]:
        return ",".join([_row(kinds, row) for row in zip(*columns, strict=True)]).encode()
    form, varying = [], []
    for kind, column in zip(kinds, columns, strict=False):
        if column[0] == column[-1] and column.count(column[0]) == len(column):
            form.append(_cell(kind, column[0]).replace("%", "%%"))
        elif kind is int and None not in column:
            form.append("%d")
            varying.append(column)
        elif kind is str and set(map(type, column)) == {str}:
            form.append("%s")
            varying.append(list(map(encode_basestring_ascii, column)))
        else:
            known = {cell: _cell(kind, cell) for cell in set(column)}
            form.append("%s")
            varying.append([known[cell] for cell in column])
    if not varying:
        return ",".join([f"[{','.join(form)}]".replace("%%", "%")] * len(columns[0])).encode()
    row = f"[{','.join(form)}]"
    return ",".join(map(row.__mod__, zip(*varying, strict=True))).encode()


@functools.cache
def _kinds(table: sa.Table) -> tuple[type, ...]:
    return tuple(column.type.python_type for column in table.columns)


def _row(kinds: Sequence[type], row: Sequence[Any]) -> str:
    """One row, without the nulls at its end."""
    count = len(row)
    while row[count - 1] is None:
        count -= 1
    cells = [
        "null"
        if cell is None
        else str(cell)
        if type(cell) is int is kind
        else encode_basestring_ascii(cell)
        if type(cell) is str is kind
        else _cell(kind, cell)
        for kind, cell in zip(kinds, row[:count], strict=False)
    ]
    return f"[{','.join(cells)}]"


def _cell(kind: type, cell: Any) -> str:
    """A cell as a column of this kind will hold it."""
    if cell is None:
        return "null"
    if kind is str:
        return encode_basestring_ascii(str(cell))
    return str(int(cell)) if kind is int else _encode(float(cell) + 0.0)


def _plain(row: Row, reals: list[int]) -> list[Any]:
    values = list(row)
    for i in reals:
        if values[i] is not None:
            values[i] += 0.0  # SQLite does not keep the sign of a zero
    while values[-1] is None:
        values.pop()
    return values


@dataclass(slots=True)
class EntryRows:
    """One entry with what was written under it. ``content`` can be gone through once, before the next entry."""

    entry: Row
    content: Iterator[tuple[sa.Table, Iterable[Row]]]
    sealed: Row | None
    """Its row of ``entry_digest``, None where there is none."""


@dataclass(slots=True)
class Walk:
    """Goes through a whole logbook entry by entry. ``strays``: rows that stand under no entry or not in its order,
    those that follow each other together: table, id of the first, how many."""

    connection: sa.Connection
    strays: list[tuple[str, int, int]] = field(default_factory=list)

    def __iter__(self) -> Iterator[EntryRows]:
        tables = [table for table in SEALED if table is not schema.entry]
        streams = {table: _Stream(self.connection, table) for table in (*tables, schema.entry_digest)}
        for entry in read_rows(self.connection, schema.entry):
            for stream in streams.values():
                while stream.entry_id < entry[0]:
                    self._stray(stream)
            sealed = streams[schema.entry_digest].take(entry[0])
            yield EntryRows(entry, _content(entry, streams), sealed[0] if sealed else None)
        for stream in streams.values():
            while stream.entry_id != _NO_ENTRY:
                self._stray(stream)

    def _stray(self, stream: "_Stream") -> None:
        first = next(stream.rows)
        self.strays.append((stream.table.name, first[0], 1 + sum(1 for _ in stream.rows)))
        stream.go_on()


def _content(entry: Row, streams: dict[sa.Table, "_Stream"]) -> Iterator[tuple[sa.Table, Iterable[Row]]]:
    for table in SEALED:
        if table is schema.entry:
            yield table, [entry]
        elif streams[table].entry_id == entry[0]:
            yield table, streams[table].rows
            streams[table].go_on()


class _Stream:
    """The rows of one table, those of one entry after those of another."""

    def __init__(self, connection: sa.Connection, table: sa.Table) -> None:
        self.table = table
        self._groups = itertools.groupby(read_rows(connection, table), key=operator.itemgetter(1))
        self.go_on()

    def go_on(self) -> None:
        self.entry_id: int
        self.rows: Iterator[Row]
        self.entry_id, self.rows = next(self._groups, (_NO_ENTRY, iter(())))

    def take(self, entry_id: int) -> list[Row]:
        """The rows of one entry, if it is next."""
        if self.entry_id != entry_id:
            return []
        rows = list(self.rows)
        self.go_on()
        return rows


def seal_all(connection: sa.Connection) -> int:
    """Give a digest to every entry of a logbook that has none yet; returns how many."""
    heads: dict[str, str] = {}
    rows: list[dict[str, Any]] = []
    count = 0
    station = [column.name for column in schema.entry.columns].index("station")
    for one in Walk(connection):
        previous = heads.get(one.entry[station], "")
        made = digest(previous, one.content)
        heads[one.entry[station]] = made
        rows.append({"id": one.entry[0], "entry_id": one.entry[0], "previous": previous, "digest": made})
        if len(rows) == ROWS_AT_ONCE:
            connection.execute(schema.entry_digest.insert(), rows)
            count += len(rows)
            rows = []
    if rows:
        connection.execute(schema.entry_digest.insert(), rows)
    return count + len(rows)
