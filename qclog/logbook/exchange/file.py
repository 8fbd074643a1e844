"""Reading a file in the exchange form as a stream of rows: encoding, delimiter, header, shape of each row."""

import csv
import difflib
import io
import itertools
import operator
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final, NamedTuple, Self, TextIO

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.spreadsheets import unguarded

HEAD: Final = (
    "taken_at",
    "sitting",
    "item",
    "modification",
    "setup",
    "position",
    "clocking",
    "clamping",
    "pin",
    "diameter",
    "instrument",
    "operator",
    "note",
)
"""The columns that belong to a clamping."""
COLUMNS: Final = (*HEAD, "turn", "distance", "characteristic", "kind", "value", "unit", "angle_deg", "limit")
"""All columns of the exchange form, in the order in which rows are handed on and written."""
REQUIRED: Final = ("taken_at", "item", "setup", "clamping", "distance", "kind", "value", "unit")
LONGEST_ROW: Final = 65_536

_DELIMITERS: Final = (",", ";", "\t")
_DELIMITER_NAMES: Final = {",": "commas", ";": "semicolons", "\t": "tabs"}
_NOT_UTF8: Final = re.compile("[\udc80-\udcff]")
_ASK_FOR_CARE: Final = ('"', "'", "\0")
_BLOCK: Final = 2**15
"""Characters that are read at once."""
_SAVE_AS_UTF8: Final = "Save it again as CSV UTF-8."

Row = tuple[str, ...]


class Block(NamedTuple):
    """Rows that follow each other: the line each begins in, and their cells, column by column as in the file."""

    lines: Sequence[int]
    columns: Sequence[Sequence[str]]


class _RowTooLongError(Exception):
    pass


class _Lines:
    """The lines of an open file in blocks that end with a line, to be taken one by one or a whole block at once.

    ``number``: how many were taken. Of the row that began last: ``dirty``, it has NUL or bytes that are no UTF-8;
    ``guarded``, it has apostrophes. ``too_long``: it was, and nothing behind it is given.
    """

    def __init__(self, file: TextIO) -> None:
        self._file = file
        self.number = 0
        self.dirty = self.guarded = self.too_long = False
        self._size = 0
        self._use(file.readline(LONGEST_ROW + 1))  # the header is a block of its own

    def _use(self, block: str) -> None:
        self._block = block
        self._lines: list[str] | None = None
        self._taken = 0

    @property
    def whole_block(self) -> str:
        """The block at hand, '' if something of it was taken."""
        return self._block if self._lines is None else ""

    def used_up(self) -> bool:
        """Whether nothing of the block is left."""
        return not self._block if self._lines is None else self._taken == len(self._lines)

    def next_block(self) -> bool:
        """Whether there is one."""
        block = self._file.read(_BLOCK)
        self._use(block + self._file.readline(LONGEST_ROW + 1) if block else "")
        return bool(block)

    def took_block(self, lines: int) -> None:
        self.number += lines
        self._use("")

    def begin_row(self) -> None:
        self._size = 0
        self.dirty = self.guarded = False

    def __iter__(self) -> Self:
        return self

    def __next__(self) -> str:
        if self.used_up() and not self.next_block():
            raise StopIteration
        if self._lines is None:
            self._lines = list(io.StringIO(self._block, newline=""))
        line = self._lines[self._taken]
        self._taken += 1
        self.number += 1
        self._size += len(line)
        if self._size > LONGEST_ROW:
            self.too_long = True
            raise _RowTooLongError
        self.dirty = self.dirty or "\0" in line or _not_utf8(line)
        self.guarded = self.guarded or "'" in line
        return line


def _not_utf8(text: str) -> bool:
    return not text.isascii() and _NOT_UTF8.search(text) is not None


class ExchangeFile:
    """A file in the exchange form with its header read. ``blocks`` may be run through more than once."""

    def __init__(self, path: Path) -> None:
        """Raises NotFoundError where there is no such file, ImportRefusedError for a header that will not do."""
        self.path = path
        faults = Faults(path.name)
        _refuse_other_encodings(path, faults)
        with _opened(path) as file:
            header = file.readline(LONGEST_ROW)
        self.delimiter, names = _split_header(header)
        self.width = len(names)
        _check_header(header, names, faults)
        faults.refuse_if_any()
        self.names = names
        self._places = {name: place for place, name in enumerate(names)}

    def column(self, block: Block, name: str) -> Sequence[str]:
        """The cells of a column; '' for one that the file has not."""
        place = self._places.get(name)
        return [""] * len(block.lines) if place is None else block.columns[place]

    def cells(self, block: Block, columns: Iterable[str]) -> Iterator[Row]:
        """The cells of each row in some columns, in their order; '' for a column that the file has not."""
        return zip(*(self.column(block, name) for name in columns), strict=True)

    def row(self, block: Block, index: int) -> Row:
        """All cells of one row of a block, in the order of ``COLUMNS``."""
        there = self._places
        return tuple(block.columns[there[name]][index] if name in there else "" for name in COLUMNS)

    def heads(self, block: Block) -> tuple[Sequence[int], Block]:
        """Where in a block the cells of a clamping differ from those of the row before, and these rows."""
        own = list(zip(*(block.columns[self._places[name]] for name in HEAD if name in self._places), strict=True))
        others = [True, *map(operator.ne, own[1:], own)]
        if all(others):
            return range(len(own)), block
        starts = list(itertools.compress(range(len(own)), others))
        columns = [list(itertools.compress(column, others)) for column in block.columns]
        return starts, Block([block.lines[start] for start in starts], columns)

    def blocks(self, faults: Faults) -> Iterator[Block]:
        """The rows of the file, some hundred together.

        Blank rows are left out; a row that is no row goes to ``faults``. Where nothing in a stretch of the file asks
        for care, quotation marks above all, it is taken apart all at once.
        """
        with _opened(self.path) as file:
            lines = _Lines(file)
            reader = csv.reader(lines, delimiter=self.delimiter, strict=True)
            next(reader)
            while not lines.too_long and (not lines.used_up() or lines.next_block()):
                block = self._plain_block(lines) or self._careful_block(reader, lines, faults)
                if block.lines:
                    yield block

    def _plain_block(self, lines: _Lines) -> Block | None:
        """The block at hand, if it is plain and all of it is left.

        All of it is split at once, the ends of lines as cells of their own: it is a block of rows if these stand in one
        column.
        """
        block = lines.whole_block
        if not block or any(mark in block for mark in _ASK_FOR_CARE) or _not_utf8(block):
            return None
        text = block.replace("\r\n", "\n").removesuffix("\n")
        mark, width = self.delimiter, self.width + 1
        if "\r" in text or f"\n{mark * (self.width - 1)}\n" in f"\n{text}\n":
            return None
        if len(text) >= LONGEST_ROW and max(map(len, text.split("\n"))) >= LONGEST_ROW:
            return None
        ends = text.count("\n")
        cells = text.replace("\n", f"{mark}\n{mark}").split(mark)
        if len(cells) != (ends + 1) * width - 1 or cells[self.width :: width].count("\n") != ends:
            return None
        first = lines.number + 1
        lines.took_block(ends + 1)
        return Block(range(first, first + ends + 1), [cells[place::width] for place in range(self.width)])

    def _careful_block(self, reader: Iterator[list[str]], lines: _Lines, faults: Faults) -> Block:
        """The rows up to the end of a block, one by one."""
        begins: list[int] = []
        rows: list[list[str]] = []
        while not lines.too_long and not lines.used_up():
            line = lines.number + 1
            if cells := self._careful_row(reader, lines, line, faults):
                begins.append(line)
                rows.append(cells)
        return Block(begins, list(zip(*rows, strict=True)))

    def _careful_row(self, reader: Iterator[list[str]], lines: _Lines, line: int, faults: Faults) -> list[str]:
        """The next row; none for a blank one, and for one that is no row."""
        lines.begin_row()
        try:
            cells = next(reader)
        except StopIteration:
            return []
        except csv.Error as error:
            _add_quoting_fault(faults, line, str(error))
            cells = []
        except _RowTooLongError:
            faults.add(
                line,
                "",
                "",
                f"The row is longer than {LONGEST_ROW} characters.",
                "Look for a quotation mark that is never closed; nothing behind this line was looked at.",
            )
            return []
        if lines.dirty and self._add_byte_faults(faults, line, cells):
            return []
        if len(cells) != self.width:
            if any(cells):
                self._add_width_fault(faults, line, cells)
            return []
        if lines.guarded:
            cells = list(map(unguarded, cells))
        return cells if any(cells) else []

    def _add_byte_faults(self, faults: Faults, line: int, cells: list[str]) -> bool:
        before = faults.total
        for column, cell in zip(self.names, cells, strict=False):
            shown = _NOT_UTF8.sub("\ufffd", cell)
            if found := _NOT_UTF8.search(cell):
                byte = ord(found[0]) - 0xDC00
                guess = ": a micro sign saved as Latin-1" if byte == 0xB5 else ""
                faults.add(line, column, shown, f"The byte 0x{byte:02X} is not UTF-8{guess}.", _SAVE_AS_UTF8)
            elif "\0" in cell:
                faults.add(line, column, shown, "There is a NUL byte in this cell.", _SAVE_AS_UTF8)
        return faults.total > before

    def _add_width_fault(self, faults: Faults, line: int, cells: list[str]) -> None:
        text = self.delimiter.join(cells)
        others = [mark for mark in _DELIMITERS if mark != self.delimiter and text.count(mark) >= len(REQUIRED) - 1]
        if others:
            what = f"The header is separated by {_DELIMITER_NAMES[self.delimiter]}, this row by "
            faults.add(line, "", "", f"{what}{_DELIMITER_NAMES[others[0]]}.", "Separate all rows alike.")
        else:
            many = "fields" if len(cells) > 1 else "field"
            faults.add(
                line,
                "",
                "",
                f"The row has {len(cells)} {many}, the header {self.width}.",
                "Put a cell that contains the separator between quotation marks.",
            )


_LOOKED_AT: Final = 4096
_DATABASE: Final = b"SQLite format 3\0"


@contextmanager
def _opened(path: Path) -> Iterator[TextIO]:
    """The file as text; bytes that are no UTF-8 come as lone surrogates, so that they can be named."""
    try:
        with path.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as file:
            yield file
    except FileNotFoundError:
        raise NotFoundError(f"There is no file {path}.", "Check its name.") from None
    except OSError as error:
        raise RefusedError(f"{path} cannot be read: {error.strerror}.", "Name a CSV file.") from error


def _refuse_other_encodings(path: Path, faults: Faults) -> None:
    try:
        with path.open("rb") as file:
            first = file.read(_LOOKED_AT)
    except OSError:
        return  # said by whoever opens it to read
    if not first:
        faults.add(1, "", "", "The file is empty.", f"It needs a header with {', '.join(REQUIRED)}, and rows.")
    elif first[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in first[:2]:
        faults.add(1, "", "", "The file is in UTF-16.", _SAVE_AS_UTF8)
    elif b"\0" in first.partition(b"\n")[0]:
        what = (
            "This is a database, no CSV."
            if first.startswith(_DATABASE)
            else "This is no CSV: its first line is no text."
        )
        faults.add(1, "", "", what, "Name a CSV file; a logbook is asked by qclog --logbook FILE.")
    faults.refuse_if_any()


def _split_header(header: str) -> tuple[str, list[str]]:
    """The delimiter that finds the most known columns in the header, and the header's names."""
    split = {mark: _names(header, mark) for mark in _DELIMITERS}
    delimiter = max(_DELIMITERS, key=lambda mark: (len(set(COLUMNS) & set(split[mark])), len(split[mark])))
    return delimiter, split[delimiter]


def _names(header: str, delimiter: str) -> list[str]:
    try:
        return [name.strip().casefold() for name in next(csv.reader([header], delimiter=delimiter))]
    except (csv.Error, StopIteration):
        return []


def _check_header(header: str, names: list[str], faults: Faults) -> None:
    if not header.strip():
        faults.add(1, "", "", "The first line is empty.", f"Begin with a header: {', '.join(REQUIRED)}.")
        return
    for name, count in Counter(names).items():
        if name not in COLUMNS:
            near = difflib.get_close_matches(name, COLUMNS, n=1)
            remedy = f"Did you mean {near[0]}?" if near else f"Known columns: {', '.join(COLUMNS)}."
            faults.add(1, name, name, "This column is not known.", remedy)
        elif count > 1:
            faults.add(1, name, name, f"This column is there {count} times.", "Leave one of them.")
    for name in REQUIRED:
        if name not in names:
            faults.add(1, name, "", "This column is missing.", f"Add it to the header: {', '.join(REQUIRED)}.")


def _add_quoting_fault(faults: Faults, line: int, message: str) -> None:
    if "end of data" in message:
        what = "A quotation mark opened in this row is never closed."
    elif "field limit" in message:
        what = "A cell of this row is too long."
    else:
        what = "A quotation mark stands inside a quoted cell."
    faults.add(line, "", "", what, 'Close it, or double it inside a quoted cell, as "5 "" long".')
