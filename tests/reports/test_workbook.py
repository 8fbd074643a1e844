"""The workbook, read back by another library: types, units, dates, and text that looks like a formula."""

import dataclasses
import datetime
import zipfile
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell import Cell
from openpyxl.utils.escape import unescape

from qclog.cli.main import main
from qclog.logbook import items
from qclog.logbook.engine import open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.life import LoggedTurn
from qclog.logbook.lookup import Register
from qclog.logbook.readings import count_rows
from qclog.records import Card
from reports import workbook

FORMULAS = Card(
    note='=HYPERLINK("http://example.invalid";"9 µm")',
    place="+1+1",
    price="-180",
    acquired="@SUM(A1)",
    mark="=1",
    material="@1",
    system="=cmd|' /C calc'!A0",
)
SHEETS = ["readings", "clampings", "items", "verdicts", "words"]


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """C-735 in a drawer of formulas; clampings with a day, a time, an offset, a month alone, one struck out."""
    path = tmp_path_factory.mktemp("book") / "book.sqlite"
    for line in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "N-6", "--kind", "collet"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7"],
        ["modify", "C-735", "bored", "--size", "7.35", "--in", "L2", "--position", "A", "--on", "2026-03-02T09:00"],
        ["limit", "C-735", "9um@25mm"],
        ["log", "C-735", "4.2", "5", "--position", "A", "--on", "2026-03-02T10:00"],
        ["log", "C-735", "4.4", "--position", "A", "--on", "2026-03-03", "--note", "=1+1", "--operator", "@SUM(A1)"],
        ["log", "C-735", "--quarters", "4 1 -3 0", "--position", "A", "--on", "2026-03-04T10:00+01:00"],
        ["log", "C-735", "--recalled", "--on", "2019-05", "6-8", "--position", "A", "--modification", "0"],
        ["log", "C-735", "0.008in", "--position", "A", "--on", "2026-03-05", "--accept"],
        ["strike", "C-735", "last", "--reason", "-misread"],
    ):
        assert main(["--logbook", str(path), *line]) == 0, line
    store = open_store(str(path))
    with new_entry(store, "tests", "tester") as entry:
        register = Register(entry.connection)
        items.write_card(entry, register, register.need("C-735", "item"), FORMULAS)
    store.close()
    return path


@pytest.fixture(scope="module")
def book(logbook: Path, tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    path = tmp_path_factory.mktemp("written") / "readings.XLSX"
    assert main(["--logbook", str(logbook), "export", "--to", str(path)]) == 0
    with zipfile.ZipFile(path) as parts:
        for name in parts.namelist():
            assert b"<f>" not in parts.read(name)
            assert b"<hyperlink" not in parts.read(name)
    return openpyxl.load_workbook(path)


def _rows(book: openpyxl.Workbook, sheet: str) -> list[dict[str, Cell]]:
    """The rows of a sheet, their cells by heading."""
    heading, *rows = book[sheet].iter_rows()
    return [{str(head.value): cell for head, cell in zip(heading, row, strict=True)} for row in rows]  # type: ignore[misc]


def _values(row: dict[str, Cell]) -> dict[str, Any]:
    return {head: cell.value for head, cell in row.items() if cell.value is not None}


def test_text_that_begins_like_a_formula_stays_text_and_is_marked_as_such(book: openpyxl.Workbook) -> None:
    found = set()
    for sheet in book:
        for cells in sheet.iter_rows():
            for cell in cells:
                assert cell.data_type in "snd", cell.coordinate
                text = unescape(str(cell.value))
                formula = cell.data_type == "s" and text[0] in "=+-@\t\r\n"
                assert cell.quotePrefix == formula, cell.coordinate
                found |= {text} if formula else set()
    on_the_card = set(dataclasses.asdict(FORMULAS).values()) - {None}
    assert found == on_the_card | {"=1+1", "@SUM(A1)", "-misread", "-3"}


def test_headings_carry_the_unit_and_stay_in_sight(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == SHEETS
    for sheet in book:
        assert sheet.freeze_panes == "B2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert sheet["A1"].font.bold
        assert all(sheet.column_dimensions[column].width >= 5 for column in "ABCDE")
    headings = [str(cell.value) for sheet in book for cell in sheet[1]]
    lengths = [
        head for head in headings if any(word in head for word in ("TIR", "bore", "distance", "value", "limit ("))
    ]
    assert len(lengths) >= 8
    assert all("(µm)" in head or "(mm)" in head for head in lengths), lengths


def test_readings_are_numbers_in_their_unit_and_dates_are_dates(book: openpyxl.Workbook) -> None:
    rows = _rows(book, "readings")
    assert len(rows) == 3 + 4 + 1  # without the one that is struck out
    recalled, first = _values(rows[0]), _values(rows[1])
    assert (recalled["taken"], recalled["value (µm)"], recalled["as typed"]) == ("2019-05", 7, "6-8")
    assert recalled["recalled"] == "recalled"
    assert first["taken"] == datetime.datetime(2026, 3, 2, 10)
    assert rows[1]["taken"].number_format == "yyyy-mm-dd hh:mm:ss"
    assert (first["value (µm)"], first["distance (mm)"], first["modification"]) == (4.2, 25, 1)
    day, turn = rows[3], [_values(row) for row in rows[4:]]
    assert (day["taken"].value, day["taken"].number_format) == (datetime.datetime(2026, 3, 3), "yyyy-mm-dd")
    assert [row["angle (° clockwise)"] for row in turn] == [0, 90, 180, 270]
    assert [row["value (µm)"] for row in turn] == [4, 1, -3, 0]
    assert turn[0]["taken"] == datetime.datetime(2026, 3, 4, 10)
    assert turn[0]["taken, as written"] == "2026-03-04T10:00+01:00"


def test_clampings_that_are_struck_out_stay_and_say_why(book: openpyxl.Workbook) -> None:
    rows = [_values(row) for row in _rows(book, "clampings")]
    assert len(rows) == 6
    assert [row["TIR (µm)"] for row in rows[1:4]] == [4.2, 5, 4.4]
    assert not any("value (µm)" in row for row in rows)
    struck = [row for row in rows if "struck out because" in row]
    assert [(row["struck out because"], row["readings as typed (struck out)"]) for row in struck] == [
        ("-misread", "0.008in")
    ]
    numbers = {row["clamping"] for row in rows}
    assert {_values(row)["clamping"] for row in _rows(book, "readings")} < numbers


def test_a_reading_that_is_struck_out_stands_in_brackets() -> None:
    turn = LoggedTurn(0, "runout", "point", 5.0, None, None, ("4", "9", "-3"), "", (2,))
    assert workbook._as_typed(turn) == "4 (9) -3"


def test_items_and_verdicts_say_what_the_logbook_answers(book: openpyxl.Workbook) -> None:
    found = {row["item"].value: _values(row) for row in _rows(book, "items")}
    assert set(found) == {"C-735", "N-6"}
    assert (found["C-735"]["bore (mm)"], found["C-735"]["nominal size (mm)"]) == (7.35, 7)
    assert (found["C-735"]["married to setup"], found["C-735"]["at position"]) == ("L2", "A")
    assert (found["C-735"]["made to"], found["C-735"]["since"]) == ("9 µm at 25 mm", datetime.datetime(2026, 3, 2, 9))
    verdict, unmeasured = [_values(row) for row in _rows(book, "verdicts")]
    assert unmeasured == {"item": "N-6", "verdict": "NOT MEASURED", "modification": 0}
    assert (verdict["clampings"], verdict["limit (µm)"], verdict["next clampings"]) == (4, 9, "cannot tell")
    assert verdict["mean TIR (µm)"] == pytest.approx((4.2 + 5 + 4.4 + 5 * 2**0.5) / 4, abs=0.2)


def test_the_words_of_the_verdicts_are_explained(book: openpyxl.Workbook) -> None:
    words = {row["word"].value: _values(row) for row in _rows(book, "words")}
    assert {"cannot tell", "TIR", "19 in 20 under"} <= set(words)
    for row in words.values():
        assert all(len(str(row[part])) > 5 for part in ("what it means", "where it comes from", "how good it is"))
    assert "simulated" in str(words["19 in 20 under"]["how good it is"])


def test_of_some_items_only_theirs_is_written(logbook: Path, tmp_path: Path) -> None:
    path = tmp_path / "one.xlsx"
    assert main(["--logbook", str(logbook), "export", "--to", str(path), "n-6"]) == 0
    book = openpyxl.load_workbook(path)
    assert [sheet.max_row for sheet in book][:-1] == [1, 1, 2, 2]
    assert main(["--logbook", str(logbook), "export", "--to", str(tmp_path / "none.xlsx"), "X-9"]) == 3
    assert openpyxl.load_workbook(path)["items"].max_row == 2


def test_more_rows_than_a_sheet_holds_are_left_out_and_the_verdicts_are_there_all_the_same(
    logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "all.xlsx"
    monkeypatch.setattr(workbook, "count_rows", lambda *of: (count_rows(*of)[0], 2_000_000))
    assert main(["--logbook", str(logbook), "export", "--to", str(path)]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert "without the readings: a sheet of a workbook holds 1048575 rows, and there are 2000000 readings" in said
    assert openpyxl.load_workbook(path).sheetnames == [name for name in SHEETS if name != "readings"]
    monkeypatch.setattr(workbook, "MOST_ROWS", 1)
    assert main(["--logbook", str(logbook), "export", "--to", str(tmp_path / "none.xlsx")]) == 4
    assert "A sheet of a workbook holds 1 rows, and there are more items" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("written", ["1899-12-31", "1900-01-01T10:00", "0001-01-01", "2019", "2019-05"])
def test_a_date_a_spreadsheet_cannot_hold_stays_text(written: str) -> None:
    assert workbook._moment(written) is None


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    folder = tmp_path_factory.mktemp("demonstration")
    kept, path = folder / "demo.sqlite", folder / "demo.xlsx"
    assert main(["demo", "--keep", str(kept)]) == 0
    assert main(["--logbook", str(kept), "export", "--to", str(path)]) == 0
    return openpyxl.load_workbook(path)


def test_the_verdict_that_counts_stands_beside_each_item_as_its_page_says_it(demonstration: openpyxl.Workbook) -> None:
    swings = {row["item"].value: row["verdict"].value for row in _rows(demonstration, "verdicts")}
    assert swings["B-870"] == "OUT OF SERVICE"
    assert swings["B-860"] == "RETIRE"
    assert swings["JW-3"] == "HOLDS (sitting)"
    assert swings["B-1236"] == "NOT MEASURED"
    assert swings["B-780"] == "DOES NOT HOLD"
    assert swings["B-412"] == "HOLDS"
    assert "CH-1" not in swings
    sizes = {
        (row["item"].value, row["characteristic"].value): row["verdict"].value for row in _rows(demonstration, "sizes")
    }
    assert sizes["KI-8", "diametral gap"] == "HOLDS (sitting)"
    assert sizes["ST-12", "depth"] == "DOES NOT HOLD"
    assert {"out of service", "retire", "not measured"} <= {row["word"].value for row in _rows(demonstration, "words")}


def test_bounds_stand_as_the_pages_show_them_rounded_outward_and_only_where_of_use(
    demonstration: openpyxl.Workbook,
) -> None:
    swings = {row["item"].value: _values(row) for row in _rows(demonstration, "verdicts")}
    assert swings["B-860"]["19 in 20 stay under (µm)"] == 26.4
    assert "19 in 20 stay under (µm)" not in swings["B-655"]
    flush = next(row for row in _rows(demonstration, "sizes") if row["characteristic"].value == "flushness")
    assert (flush["19 in 20 from"].value, flush["to"].value) == (-30.6, -23.6)


def test_a_face_is_read_on_a_circle_and_not_on_a_pin(demonstration: openpyxl.Workbook) -> None:
    for sheet in ("verdicts", "readings"):
        face = next(_values(row) for row in _rows(demonstration, sheet) if row["characteristic"].value == "face runout")
        assert face["item"] == "JW-3"
        assert face["circle on the face (mm)"] == 52
        assert not {"pin diameter (mm)", "distance (mm)"} & set(face)


def test_sizes_stand_in_the_unit_of_their_page_and_pins_are_told_as_there(demonstration: openpyxl.Workbook) -> None:
    sizes = {row["item"].value: _values(row) for row in _rows(demonstration, "sizes")}
    depth, bore, lift = sizes["ST-12"], sizes["BB-8"], sizes["VI-1"]
    assert [depth[head] for head in ("unit of sizes and limits", "least", "mean", "upper limit")] == [
        *("mm", 12.019, 12.0445, 12.05)
    ]
    assert (lift["unit of sizes and limits"], lift["most"], lift["to"]) == ("µm", 9.8, 11.5)
    assert "The pins count with the tolerance of the widest class" in bore["to be known"]
    assert "No gauge was named" not in bore["to be known"]


def test_long_texts_go_on_below_and_every_printed_page_has_the_headings(demonstration: openpyxl.Workbook) -> None:
    for sheet in demonstration:
        assert sheet.print_title_rows == "$1:$1"
        assert (sheet.page_setup.orientation, sheet.page_setup.fitToHeight) == ("landscape", 0)
    for name, heading in (("words", "what it means"), ("verdicts", "to be known"), ("sizes", "to be known")):
        cells = [row[heading] for row in _rows(demonstration, name) if row[heading].value]
        assert all(cell.alignment.wrap_text for cell in cells)
        longest = max(cells, key=lambda cell: len(str(cell.value)))
        width = demonstration[name].column_dimensions[longest.column_letter].width
        height = demonstration[name].row_dimensions[longest.row].height
        assert height >= 15 * len(str(longest.value)) / width
    words = {row["word"].value for row in _rows(demonstration, "words")}
    assert "more days" in words
    assert "more days" in {cell.value for cell in demonstration["verdicts"][1]}
