"""What an entry in the making has written into one table, for its digest."""

import tempfile
from collections.abc import Iterator, Sequence
from typing import IO, Any, Final

import sqlalchemy as sa

from qclog.logbook.safekeeping.digests import encoded_as_read, encoded_as_written, read_between

_IN_MEMORY: Final = 2**20
"""Bytes; what is more goes to a file that has no name."""
_AT_ONCE: Final = 2**16


class Written:
    """Rows are encoded as they come. Where they did not come in the order of their ids, or the disk has no room for
    what is encoded, they are read from the database once more."""

    def __init__(self, table: sa.Table) -> None:
        self._table = table
        self._ids: tuple[int, int] | None = None
        self._as_they_came = True
        self._part = bytearray()
        self._file: IO[bytes] | None = None

    def add(self, columns: Sequence[Sequence[Any]]) -> None:
        """At least one row, in the order of their ids, given column by column as those of the table stand."""
        first, last = columns[0][0], columns[0][-1]
        if self._ids is None:
            self._ids = (first, last)
            comma = b""
        else:
            self._as_they_came = self._as_they_came and first > self._ids[1]
            self._ids = (min(self._ids[0], first), max(self._ids[1], last))
            comma = b","
        if self._as_they_came:
            self._part += comma
            self._part += encoded_as_written(self._table, columns)
            if len(self._part) > _IN_MEMORY:
                self._put_away()

    def _put_away(self) -> None:
        try:
            self._file = self._file or tempfile.TemporaryFile()  # noqa: SIM115 (open as long as the entry is)
            self._file.write(self._part)
        except OSError:
            self._as_they_came = False
        self._part.clear()

    def encoded(self, connection: sa.Connection, entry_id: int) -> Iterator[bytes]:
        """All of them, in the order of their ids."""
        assert self._ids is not None
        if not self._as_they_came:
            yield from encoded_as_read(self._table, read_between(connection, self._table, entry_id, *self._ids))
            return
        if self._file:
            self._file.seek(0)
            while part := self._file.read(_AT_ONCE):
                yield part
        yield bytes(self._part)

    def close(self) -> None:
        if self._file:
            self._file.close()
