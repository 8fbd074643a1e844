"""Reading a file in the exchange form as a stream of rows: encoding, delimiter, header, shape of each row."""

import csv
import difflib
import operator
import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final, TextIO

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
_SAVE_AS_UTF8: Final = "Save it again as CSV UTF-8."

Row = tuple[str, ...]


class _RowTooLongError(Exception):
    pass


class ExchangeFile:
    """A file in the exchange form with its header read. ``rows`` may be run through more than once."""

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
        places = {name: place for place, name in enumerate(names)}
        self._names = names
        self._pick = operator.itemgetter(*(places.get(name, self.width) for name in COLUMNS))

    def rows(self, faults: Faults) -> Iterator[tuple[int, Row]]:
        """The line each row begins in and its cells in the order of ``COLUMNS``; '' for a column not there.

        Blank rows are left out; a row that is no row goes to ``faults``. Cells are as they stand in the file.
        """
        fed = 0
        dirty = quoted = False

        def lines(file: TextIO) -> Iterator[str]:
            nonlocal fed, dirty, quoted
            readline = file.readline
            while line := readline(LONGEST_ROW + 1):
                fed += len(line)
                if fed > LONGEST_ROW:
                    raise _RowTooLongError
                if "\0" in line or (not line.isascii() and _NOT_UTF8.search(line)):
                    dirty = True
                quoted = quoted or "'" in line
                yield line

        with _opened(self.path) as file:
            reader = csv.reader(lines(file), delimiter=self.delimiter, strict=True)
            width, pick = self.width, self._pick
            next(reader)
            line = reader.line_num + 1
            while True:
                fed = 0
                try:
                    cells = next(reader)
                except StopIteration:
                    return
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
                    return
                if dirty:
                    dirty = False
                    if self._add_byte_faults(faults, line, cells):
                        cells = []
                if len(cells) == width:
                    cells.append("")
                    row = pick(cells)
                    if quoted:
                        quoted = False
                        row = tuple(map(unguarded, row))
                    if any(row):
                        yield line, row
                elif any(cells):
                    self._add_width_fault(faults, line, cells)
                line = reader.line_num + 1

    def _add_byte_faults(self, faults: Faults, line: int, cells: list[str]) -> bool:
        before = faults.total
        for column, cell in zip(self._names, cells, strict=False):
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
            first = file.read(4)
    except OSError:
        return  # said by whoever opens it to read
    if not first:
        faults.add(1, "", "", "The file is empty.", f"It needs a header with {', '.join(REQUIRED)}, and rows.")
    elif first[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in first[:2]:
        faults.add(1, "", "", "The file is in UTF-16.", _SAVE_AS_UTF8)
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
