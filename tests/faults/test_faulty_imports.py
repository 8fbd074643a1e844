"""Files that must not be imported: each fault is named by line, column, value and remedy, and nothing is left behind.

The files are constructed cases, written against the small workshop (see ``conftest``). How spreadsheets damage
codes (dates, powers) and save files (Latin-1, UTF-16, semicolons) is common practice.
"""

from collections.abc import Sequence
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import Fault, ImportRefusedError, import_readings
from qclog.logbook.exchange.file import COLUMNS as KNOWN
from qclog.logbook.items import modify
from qclog.logbook.lookup import Register
from qclog.logbook.setups import refit
from qclog.records import Work

COLUMNS = list(KNOWN)
SWING = {
    "taken_at": "2026-03-04T10:00",
    "item": "C-046",
    "setup": "LATHE",
    "position": "A",
    "clamping": "1",
    "distance": "16",
    "kind": "tir",
    "value": "5",
    "unit": "um",
}
TURN = [SWING | {"kind": "point", "value": value} for value in ("4", "1", "-3", "0")]


def row(cells: dict[str, str], delimiter: str = ",") -> str:
    return delimiter.join(cells.get(column, "") for column in COLUMNS)


def text(*rows: dict[str, str] | str, delimiter: str = ",") -> str:
    lines = [one if isinstance(one, str) else row(one, delimiter) for one in rows]
    return "\n".join([delimiter.join(COLUMNS), *lines]) + "\n"


def turn(*changes: dict[str, str]) -> list[dict[str, str]]:
    """The rows of a four-point turn, each changed as told."""
    padded = [*changes, *({} for _ in TURN)]
    return [one | change for one, change in zip(TURN, padded, strict=False)]


def without(column: str) -> str:
    names = [name for name in COLUMNS if name != column]
    return "\n".join([",".join(names), ",".join(SWING.get(name, "") for name in names)]) + "\n"


def counts(store: Store) -> dict[str, int]:
    with store.reading() as connection:
        return {
            table.name: connection.scalar(sa.select(sa.func.count()).select_from(table)) or 0
            for table in schema.metadata.sorted_tables
        }


def refused(store: Store, tmp_path: Path, content: str | bytes, *, create: bool) -> Sequence[Fault]:
    """The faults of a file that must be refused without a trace."""
    path = tmp_path / "readings.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    before = counts(store)
    with pytest.raises(ImportRefusedError) as refusal:
        import_readings(store, path, create=create)
    assert counts(store) == before
    error = refusal.value
    assert error.total == len(error.faults)
    assert "nothing was imported" in str(error)
    assert str(error.faults[0]) in str(error)
    for fault in error.faults:
        assert fault.what.endswith((".", "?"))
        assert fault.remedy
    return error.faults


SECOND = SWING | {"clamping": "2"}

# name: (file, line, column, value, part of what, part of the remedy)
WRONG_WHATEVER_IS_KNOWN: dict[str, tuple[str | bytes, int, str, str, str, str]] = {
    # the file
    "empty file": (b"", 1, "", "", "file is empty", "header"),
    "blank file": (b"\n\n", 1, "", "", "first line is empty", "header"),
    "header only": (text(), 1, "", "", "no row", "Export"),
    "header and blank rows": (text({}, {}), 1, "", "", "no row", "Export"),
    "missing column": (without("distance"), 1, "distance", "", "missing", "Add it"),
    "unknown column": (
        text(SWING).replace("operator", "opperator"),
        1,
        "opperator",
        "opperator",
        "not known",
        "Did you mean operator?",
    ),
    "column twice": (text(SWING).replace("operator", "note"), 1, "note", "note", "2 times", "Leave one"),
    "UTF-16": (text(SWING).encode("utf-16"), 1, "", "", "UTF-16", "CSV UTF-8"),
    "UTF-16 without mark": (text(SWING).encode("utf-16-le"), 1, "", "", "UTF-16", "CSV UTF-8"),
    "Latin-1 micro sign": (
        text(SWING, SECOND | {"unit": "µm"}).encode("latin-1"),
        3,
        "unit",
        "�m",
        "0xB5 is not UTF-8: a micro sign saved as Latin-1",
        "CSV UTF-8",
    ),
    "Latin-1 umlaut": (text(SWING | {"note": "Süd"}).encode("latin-1"), 2, "note", "S�d", "0xFC", "CSV UTF-8"),
    "NUL byte": (text(SWING | {"note": "a\0b"}), 2, "note", "a\0b", "NUL", "CSV UTF-8"),
    "too many fields": (text(row(SWING) + ",7"), 2, "", "", "22 fields, the header 21", "quotation marks"),
    "too few fields": (text("2026-03-04,C-046"), 2, "", "", "2 fields, the header 21", "quotation marks"),
    "mixed separators": (text(SWING, row(SECOND, ";")), 3, "", "", "commas, this row by semicolons", "alike"),
    "unclosed quote": (text(SWING, row(SECOND) + ',"open'), 3, "", "", "never closed", "Close it"),
    "quote in a quoted cell": (text(row(SWING)[:-1] + '"a"b'), 2, "", "", "inside a quoted cell", "double it"),
    "unclosed quote in a long file": (
        text(SWING | {"note": '"open'}, *[SECOND] * 2000),
        2,
        "",
        "",
        "longer than 65536",
        "quotation mark",
    ),
    "row without end": (text(SWING | {"note": "x" * 200_000}), 2, "", "", "longer than 65536", "quotation mark"),
    # codes
    "missing item": (text(SWING | {"item": ""}), 2, "item", "", "missing", "code"),
    "code made a date, 4-Mar": (text(SWING | {"item": "4-Mar"}), 2, "item", "4-Mar", "date", "as text"),
    "code made a date, Mar-04": (text(SWING | {"item": "Mar-04"}), 2, "item", "Mar-04", "date", "as text"),
    "code made a date and time": (
        text(SWING | {"item": "2026-03-04 00:00:00"}),
        2,
        "item",
        "2026-03-04 00:00:00",
        "date",
        "as text",
    ),
    "code made a power": (text(SWING | {"item": "1E+05"}), 2, "item", "1E+05", "number", "as text"),
    "setup made a date": (text(SWING | {"setup": "10-Jan"}), 2, "setup", "10-Jan", "date", "as text"),
    "formula =": (text(SWING | {"item": "=A1"}), 2, "item", "=A1", "formula", "as text"),
    "formula +": (text(SWING | {"item": "+A1"}), 2, "item", "+A1", "formula", "as text"),
    "formula @": (text(SWING | {"pin": "@SUM"}), 2, "pin", "@SUM", "formula", "as text"),
    "formula error": (text(SWING | {"item": "#NAME?"}), 2, "item", "#NAME?", "formula", "as text"),
    "unknown instrument": (text(SWING | {"instrument": "D-9"}), 2, "instrument", "D-9", "no instrument", "--division"),
    "pin named as item": (text(SWING | {"item": "P-65"}), 2, "item", "P-65", "is a pin", "Name an item"),
    "key position left out": (text(SWING | {"position": ""}), 2, "position", "", "key positions A, B", "which"),
    "missing setup": (text(SWING | {"setup": "", "position": ""}), 2, "setup", "", "needs the setup", "Name it"),
    "missing clamping": (text(SWING | {"clamping": ""}), 2, "clamping", "", "no label", "Number"),
    "no clocking": (text(SWING | {"clocking": "C-046"}), 2, "clocking", "C-046", "no clocking", "code=degrees"),
    # times
    "slashed date": (text(SWING | {"taken_at": "03/04/2026"}), 2, "taken_at", "03/04/2026", "more than one", "2026-"),
    "dotted date": (text(SWING | {"taken_at": "4.3.2026"}), 2, "taken_at", "4.3.2026", "more than one", "2026-"),
    "impossible date": (text(SWING | {"taken_at": "2026-02-30"}), 2, "taken_at", "2026-02-30", "no date", "day"),
    "month in words": (text(SWING | {"taken_at": "May 2019"}), 2, "taken_at", "May 2019", "not a date", "2026-"),
    "month with one figure": (text(SWING | {"taken_at": "2019-5"}), 2, "taken_at", "2019-5", "not a date", "2026-"),
    "missing date": (text(SWING | {"taken_at": ""}), 2, "taken_at", "", "not a date", "2026-"),
    # numbers
    "missing value": (text(SWING | {"value": ""}), 2, "value", "", "missing", "fill it in"),
    "two commas": (text(SWING | {"value": '"5,,2"'}), 2, "value", "5,,2", "comma", "decimal point"),
    "no number": (text(SWING | {"value": "good"}), 2, "value", "good", "not a number", "one number"),
    "NaN": (text(SWING | {"value": "NaN"}), 2, "value", "NaN", "not a number that can be measured", "Leave the row"),
    "infinity": (text(SWING | {"value": "-inf"}), 2, "value", "-inf", "not a number", "Leave the row"),
    "spreadsheet error": (text(SWING | {"value": "#DIV/0!"}), 2, "value", "#DIV/0!", "not a number", "Leave the row"),
    "thousands, comma and point": (text(SWING | {"value": '"1,234.5"'}), 2, "value", "1,234.5", "thousands", "1234.5"),
    "thousands, blank": (text(SWING | {"value": "1 234"}), 2, "value", "1 234", "thousands", "1234.5"),
    "thousands, apostrophe": (text(SWING | {"value": "1'234"}), 2, "value", "1'234", "thousands", "1234.5"),
    "comma between commas": (text(SWING | {"value": '"1,234"'}), 2, "value", "1,234", "thousands sign", "point"),
    "decimal comma and point": (
        text(SWING | {"value": "5,5"}, SECOND | {"value": "5.5"}, delimiter=";"),
        3,
        "value",
        "5.5",
        "decimal comma",
        "one of them",
    ),
    "negative swing": (text(SWING | {"value": "-5"}), 2, "value", "-5", "negative", "full swing"),
    "dial's two ends": (text(SWING | {"value": "+3/-2"}), 2, "value", "+3/-2", "not a number", "one number"),
    "angle in the value": (text(SWING | {"value": "5@120"}), 2, "value", "5@120", "not a number", "one number"),
    "finer than a picometre": (text(SWING | {"value": "5.00000001"}), 2, "value", "5.00000001", "finer", "fewer"),
    "unknown unit": (text(SWING | {"unit": "furlong"}), 2, "unit", "furlong", "not a unit", "um, mm, in"),
    "ambiguous unit": (text(SWING | {"unit": "mil"}), 2, "unit", "mil", "not a unit", "thou"),
    "missing unit": (text(SWING | {"unit": ""}), 2, "unit", "", "not a unit", "um, mm, in"),
    "unit against unit": (
        text(SWING | {"value": "5 mm"}),
        2,
        "value",
        "5 mm",
        "in mm, the column unit says um",
        "alone",
    ),
    "range in a turn": (text(*turn({"value": "6-8"})), 2, "value", "6-8", "one number", "one number"),
    "distance no length": (text(SWING | {"distance": "end"}), 2, "distance", "end", "not a length", "number"),
    "distance missing": (text(SWING | {"distance": ""}), 2, "distance", "", "no length", "number"),
    "negative distance": (text(SWING | {"distance": "-16"}), 2, "distance", "-16", "negative", "front face"),
    "diameter of nothing": (text(SWING | {"diameter": "0"}), 2, "diameter", "0", "above zero", "actual diameter"),
    "limit without unit": (text(SWING | {"limit": "8"}), 2, "limit", "8", "no unit", "8um"),
    "limit of nothing": (text(SWING | {"limit": "0um"}), 2, "limit", "0um", "above zero", "8um"),
    "modification no number": (text(SWING | {"modification": "new"}), 2, "modification", "new", "whole number", "0"),
    "modification it has not": (text(SWING | {"modification": "3"}), 2, "modification", "3", "no modification 3", "0"),
    # turns
    "bad kind": (text(SWING | {"kind": "swing"}), 2, "kind", "swing", "no kind", "tir"),
    "value of run-out": (text(SWING | {"kind": "value"}), 2, "kind", "value", "runout cannot be", "tir or point"),
    "misspelt characteristic": (
        text(SWING | {"kind": "value", "characteristic": "flushnes"}),
        2,
        "characteristic",
        "flushnes",
        "is no characteristic known here",
        'Did you mean "flushness"? If it is a name of its own, end it with a colon: "flushnes:".',
    ),
    "misspelt run-out": (
        text(SWING | {"characteristic": "runouts"}),
        2,
        "characteristic",
        "runouts",
        "no char",
        "runout",
    ),
    "swing of a bore": (text(SWING | {"characteristic": "bore"}), 2, "kind", "tir", "bore cannot be", "value"),
    "no angle": (text(*turn({}, {"angle_deg": "left"})), 3, "angle_deg", "left", "not an angle", "120"),
    "angle beyond a turn": (text(SWING | {"angle_deg": "361"}), 2, "angle_deg", "361", "within a turn", "360"),
    "negative angle": (text(SWING | {"angle_deg": "-10"}), 2, "angle_deg", "-10", "within a turn", "360"),
    "clock in a turn": (text(*turn({"angle_deg": "4 o'clock"})), 2, "angle_deg", "4 o'clock", "in degrees", "120"),
    "same angle twice": (
        text(*turn(*({"angle_deg": angle} for angle in ("0", "90", "180", "360")))),
        5,
        "angle_deg",
        "0",
        "same angle as in line 2",
        "each angle once",
    ),
    "some angles missing": (
        text(*turn(*({"angle_deg": angle} for angle in ("0", "90", "", "270")))),
        4,
        "angle_deg",
        "",
        "some have none",
        "all or none",
    ),
    "two readings of a turn": (text(*turn()[:2]), 2, "value", "4 um", "at least 3 readings, this one has 2", "four"),
    "two swings in a turn": (text(SWING, SWING), 3, "value", "5 um", "Two swings", "own turn"),
    # one clamping, one of each
    "two limits": (
        text(SWING | {"limit": "8um"}, SECOND | {"limit": "9um"}),
        3,
        "limit",
        "9um",
        "Line 2 gives 8um",
        "one limit",
    ),
    "two pins": (text(*turn({"pin": "P-65"}, {"pin": "P-3"})), 3, "pin", "P-3", "Another pin than in line 2", "label"),
    "two diameters": (text(*turn({"diameter": "6.5"}, {"diameter": "6.4"})), 3, "diameter", "6.4", "Another", "label"),
    "two instruments": (
        text(*turn({"instrument": "D-1"}, {}, {"instrument": "D-2"})),
        4,
        "instrument",
        "D-2",
        "Another instrument",
        "label",
    ),
    "note too long": (text(SWING | {"note": "x" * 501}), 2, "note", "x" * 120, "too long", "500"),
    "label too long": (text(SWING | {"sitting": "x" * 101}), 2, "sitting", "x" * 101, "too long", "100"),
    "control character in a label": (text(SWING | {"operator": "a\x07b"}), 2, "operator", "a\x07b", "hidden", "again"),
}


@pytest.mark.parametrize("name", WRONG_WHATEVER_IS_KNOWN)
def test_a_faulty_file_is_refused_with_line_column_value_and_remedy(
    sqlite_book: Store, tmp_path: Path, name: str
) -> None:
    content, line, column, value, what, remedy = WRONG_WHATEVER_IS_KNOWN[name]
    for create in (False, True):
        fault = refused(sqlite_book, tmp_path, content, create=create)[0]
        assert (fault.line, fault.column, fault.value) == (line, column, value)
        assert what in fault.what
        assert remedy in fault.remedy


UNKNOWN_NAMES: dict[str, tuple[dict[str, str], str, str, str]] = {
    "item": ({"item": "C-099"}, "item", "no item 'C-099'", "qclog item add C-099, or import with --create"),
    "item misspelt": ({"item": "C-0461"}, "item", "no item", "Did you mean C-046"),
    "setup": ({"setup": "MILL"}, "setup", "no setup 'MILL'", "qclog setup add MILL, or import with --create"),
    "position": ({"position": "C"}, "position", "no key position 'C'", "It has A, B"),
    "pin": ({"pin": "P-9", "diameter": "9"}, "pin", "no pin 'P-9'", "--diameter"),
    "body in the clocking": ({"clocking": "X-1=90"}, "clocking", "no item 'X-1'", "qclog item add"),
}


@pytest.mark.parametrize("name", UNKNOWN_NAMES)
def test_an_unknown_name_is_refused_unless_it_may_be_created(sqlite_book: Store, tmp_path: Path, name: str) -> None:
    change, column, what, remedy = UNKNOWN_NAMES[name]
    content = text(SWING | change)
    (fault,) = refused(sqlite_book, tmp_path, content, create=False)
    assert (fault.line, fault.column, fault.value) == (2, column, change[column])
    assert what in fault.what
    assert remedy in fault.remedy
    assert import_readings(sqlite_book, tmp_path / "readings.csv", create=True).clampings == 1


def test_a_name_is_faulted_once_however_many_rows_have_it(sqlite_book: Store, tmp_path: Path) -> None:
    rows = [SWING | {"item": "C-099", "clamping": str(number), "position": "AB"[number % 2]} for number in range(5)]
    (fault,) = refused(sqlite_book, tmp_path, text(SWING, *rows), create=False)
    assert fault.line == 3


def test_a_pin_cannot_be_created_without_its_diameter(sqlite_book: Store, tmp_path: Path) -> None:
    (fault,) = refused(sqlite_book, tmp_path, text(SWING | {"pin": "P-9"}), create=True)
    assert (fault.line, fault.column, fault.value) == (2, "pin", "P-9")
    assert "diameter is needed" in fault.what
    assert "qclog pin add P-9" in fault.remedy


def test_a_pin_cannot_be_created_with_two_diameters(sqlite_book: Store, tmp_path: Path) -> None:
    rows = [SWING | {"pin": "P-9", "diameter": "9"}, SECOND | {"pin": "P-9", "diameter": "9.1"}]
    (fault,) = refused(sqlite_book, tmp_path, text(*rows), create=True)
    assert (fault.line, fault.column, fault.value) == (3, "diameter", "9.1")
    assert "in line 2" in fault.what


def test_two_modifications_in_one_clamping_are_refused(sqlite_book: Store, tmp_path: Path) -> None:
    _modify(sqlite_book, "2026-03-04")
    rows = turn({"modification": "0"}, {"modification": "1"}, {"modification": "0"}, {"modification": "0"})
    (fault,) = refused(sqlite_book, tmp_path, text(*rows), create=False)
    assert (fault.line, fault.column, fault.value) == (3, "modification", "1")


def test_a_day_on_which_the_item_was_modified_is_refused_naming_both_modifications(
    sqlite_book: Store, tmp_path: Path
) -> None:
    _modify(sqlite_book, "2026-03-04")
    (fault,) = refused(sqlite_book, tmp_path, text(SWING | {"taken_at": "2026-03-04"}), create=False)
    assert (fault.line, fault.column) == (2, "modification")
    assert "times do not tell which came first" in fault.what
    assert "0 (before) or 1 (after)" in fault.remedy


def test_a_day_on_which_the_setup_was_changed_is_refused(sqlite_book: Store, tmp_path: Path) -> None:
    with new_entry(sqlite_book, "refit") as entry:
        register = Register(entry.connection)
        refit(entry, register, register.need("LATHE", "setup"), reason="re-seated", since="2026-03-04")
    (fault,) = refused(sqlite_book, tmp_path, text(SWING | {"taken_at": "2026-03-04"}), create=False)
    assert (fault.line, fault.column, fault.value) == (2, "taken_at", "2026-03-04")


SAME_IDENTITY: dict[str, tuple[list[dict[str, str]], str]] = {
    "other value": (turn({"value": "5"}), "readings"),
    "one reading more, at other angles": ([*TURN, TURN[0] | {"value": "2"}], "readings"),
    "other distance": ([one | {"distance": "17"} for one in TURN], "readings"),
    "a swing instead of a turn": ([SWING], "readings"),
    "other angles": (turn(*({"angle_deg": angle} for angle in ("10", "90", "180", "270"))), "readings"),
    "other pin": ([one | {"pin": "P-3"} for one in TURN], "pin"),
    "other diameter": ([one | {"diameter": "6.3"} for one in TURN], "diameter"),
    "other instrument": ([one | {"instrument": "D-2"} for one in TURN], "instrument"),
}


@pytest.mark.parametrize("name", SAME_IDENTITY)
def test_a_clamping_known_with_other_content_is_refused(sqlite_book: Store, tmp_path: Path, name: str) -> None:
    known = tmp_path / "known.csv"
    known.write_text(text(*(one | {"pin": "P-65", "instrument": "D-1"} for one in TURN)))
    import_readings(sqlite_book, known)
    rows, remark = SAME_IDENTITY[name]
    (fault,) = refused(sqlite_book, tmp_path, text(SECOND, *rows), create=True)
    assert fault.line == 3
    assert f"already with other {remark}" in fault.what


def test_every_fault_is_named_and_the_first_thousand_are_kept(sqlite_book: Store, tmp_path: Path) -> None:
    path = tmp_path / "readings.csv"
    path.write_text(text(*(SWING | {"clamping": str(n), "value": "x"} for n in range(1_500)), SWING | {"item": "Q"}))
    with pytest.raises(ImportRefusedError) as refusal:
        import_readings(sqlite_book, path)
    assert refusal.value.total == 1_501
    assert [fault.line for fault in refusal.value.faults] == list(range(2, 1_002))
    assert str(refusal.value).startswith(
        "readings.csv has 1501 faults; nothing was imported. First: line 2, column value"
    )


def test_faults_of_cells_names_and_turns_come_together_by_line(sqlite_book: Store, tmp_path: Path) -> None:
    rows = [
        *turn({}, {"value": '"5,,2"'}),
        SECOND | {"item": "C-099"},
        SECOND | {"clamping": "3", "unit": "mil", "distance": "x"},
        *turn()[:2],
    ]
    faults = refused(sqlite_book, tmp_path, text(*rows), create=False)
    assert [(fault.line, fault.column) for fault in faults] == [
        (3, "value"),
        (6, "item"),
        (7, "distance"),
        (7, "unit"),
    ]
    assert str(faults[0]).startswith("line 3, column value, '5,,2': ")


def test_lines_are_counted_over_line_breaks_inside_cells(sqlite_book: Store, tmp_path: Path) -> None:
    content = text(SWING | {"note": '"two\nlines"'}, SECOND, SECOND | {"clamping": "3", "value": "x"})
    (fault,) = refused(sqlite_book, tmp_path, content, create=False)
    assert fault.line == 5


def test_a_fault_is_one_printable_line(sqlite_book: Store, tmp_path: Path) -> None:
    (fault,) = refused(sqlite_book, tmp_path, text(SWING | {"operator": "\x1b[31m" + "x" * 200}), create=False)
    assert str(fault).isprintable()
    assert len(str(fault)) < 200


def test_a_file_that_is_not_there_is_not_found(sqlite_book: Store, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match=r"no file .*nowhere\.csv"):
        import_readings(sqlite_book, tmp_path / "nowhere.csv")


def test_a_folder_in_place_of_a_file_is_refused(sqlite_book: Store, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="cannot be read"):
        import_readings(sqlite_book, tmp_path)


def _modify(store: Store, done_at: str) -> None:
    with new_entry(store, "modify") as entry:
        register = Register(entry.connection)
        modify(entry, register, register.need("C-046", "item"), Work(what="bored", done_at=done_at))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"SQLite format 3\0\x10\0\x01\x01\0@  \0\0", "This is a database, no CSV."),
        (b"\x89PNG\r\x1a\0\0\0\rIHDR", "This is no CSV: its first line is no text."),
    ],
)
def test_a_file_that_is_no_text_is_said_to_be_none_in_one_line(
    sqlite_book: Store, tmp_path: Path, content: bytes, said: str
) -> None:
    (fault,) = refused(sqlite_book, tmp_path, content, create=False)
    assert (fault.what, fault.remedy) == (said, "Name a CSV file; a logbook is asked by qclog --logbook FILE.")
