"""Whatever stands in a file is read or refused, never anything else; what is read comes back the same."""

import contextlib
import csv
import io
import itertools
import tempfile
from pathlib import Path
from unittest import mock

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qclog.logbook.engine import Store
from qclog.logbook.exchange import Imported, ImportRefusedError, export_readings, import_readings
from qclog.logbook.exchange import file as file_of_exchange
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, ExchangeFile
from qclog.logbook.exchange.gathering import Gatherer, Survey
from qclog.logbook.exchange.spreadsheets import unguarded

FEW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
PLAUSIBLE = {
    "taken_at": ["2026-03-04", "2026-03-04T10:00", "2019-05", "03/04/26", ""],
    "item": ["C-046", "c-046", "C-047", "4-Mar", "=A1", ""],
    "modification": ["", "0", "1", "x"],
    "setup": ["LATHE", "TAIL", ""],
    "position": ["A", "B", ""],
    "clocking": ["", "C-046=120", "C-046=120 P-3=0", "="],
    "clamping": ["1", "2", ""],
    "turn": ["", "a"],
    "distance": ["16", "40", "-1", "", "1/2 in"],
    "kind": ["tir", "point", "value", "?"],
    "characteristic": ["", "runout", "bore"],
    "angle_deg": ["", "0", "90", "180", "360", "4 o'clock"],
    "value": ["5", "-3", "0.5", "6-8", "<5", "~6", "1e-3", "nan", "1 000", ""],
    "unit": ["um", "thou", "mil"],
    "limit": ["", "", "8um", "9um"],
}
CELL = st.text(max_size=12) | st.sampled_from(["1e99", "-" * 5, "½", "\x00", "’", "٣", "1_000", "0x10", "5" * 70])


@st.composite
def wild_rows(draw: st.DrawFn) -> list[list[str]]:
    one = [
        st.sampled_from(PLAUSIBLE[column]) if column in PLAUSIBLE and draw(st.integers(0, 9)) else CELL
        for column in COLUMNS
    ]
    return draw(st.lists(st.tuples(*one).map(list), min_size=1, max_size=8))


def csv_text(rows: list[list[str]], delimiter: str = ",") -> str:
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=delimiter)
    writer.writerow(COLUMNS)
    writer.writerows(rows)
    return buffer.getvalue()


@given(rows=wild_rows(), delimiter=st.sampled_from(",;\t"))
@FEW
def test_random_cells_are_read_or_named_as_faults(tmp_path: Path, rows: list[list[str]], delimiter: str) -> None:
    path = tmp_path / "wild.csv"
    path.write_bytes(csv_text(rows, delimiter).encode("utf-8", "surrogatepass"))
    faults = Faults(path.name)
    with contextlib.suppress(ImportRefusedError):
        file = ExchangeFile(path)
        gathered = list(Gatherer(file, Survey(file), faults).clampings())
        assert gathered or faults.total or not any(any(row) for row in rows)
        with pytest.raises(ImportRefusedError) if faults.total else contextlib.nullcontext():
            faults.refuse_if_any()


@given(content=st.binary(max_size=300))
@FEW
def test_random_bytes_are_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "wild.csv"
    path.write_bytes(content)
    with pytest.raises(ImportRefusedError):
        ExchangeFile(path)


@given(content=st.binary(min_size=1, max_size=300))
@FEW
def test_random_bytes_under_a_good_header_are_read_or_named(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "wild.csv"
    path.write_bytes(csv_text([]).encode() + content)
    faults = Faults(path.name)
    with contextlib.suppress(ImportRefusedError):
        file = ExchangeFile(path)
        list(Gatherer(file, Survey(file), faults).clampings())


NUMBERS = itertools.count()
LABEL = st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=8)
VALUE = st.decimals(-999, 999, places=4).map(str) | st.integers(-999, 999).map(str)


@st.composite
def valid_clamping(draw: st.DrawFn) -> list[list[str]]:
    """The rows of one clamping with a label of its own."""
    head = {
        "taken_at": draw(st.datetimes().map(lambda at: at.replace(year=2025).isoformat(timespec="minutes"))),
        "sitting": draw(st.just("") | LABEL),
        "item": draw(st.sampled_from(["C-046", "C-047"])),
        "clocking": draw(st.sampled_from(["", "C-048=120 P-3=180.5"])),
        "clamping": f"{draw(LABEL)} {next(NUMBERS)}",
        "distance": draw(st.sampled_from(["16", "40.25", "0", "1in"])),
        "unit": draw(st.sampled_from(["um", "mm", "in", "thou", "tenths"])),
        "note": draw(st.text(st.characters(categories=("L", "N", "P", "S", "Zs")), max_size=20)),
    } | draw(st.sampled_from([{"setup": "LATHE", "position": "A"}, {"setup": "TAIL"}]))
    if draw(st.booleans()):
        angle = draw(st.sampled_from(["", "120", "0.5", "4 o'clock", "half past 7"]))
        rows = [{"kind": "tir", "value": draw(VALUE).lstrip("-"), "angle_deg": angle}]
    else:
        values = draw(st.lists(VALUE, min_size=3, max_size=8))
        given_angles = draw(st.lists(st.integers(0, 359_999), min_size=8, max_size=8, unique=True))
        angles = draw(st.sampled_from([[""] * 8, [str(angle / 1000) for angle in given_angles]]))
        rows = [{"kind": "point", "value": v, "angle_deg": a} for v, a in zip(values, angles, strict=False)]
    return [[(head | row).get(column, "") for column in COLUMNS] for row in rows]


@given(clampings=st.lists(valid_clamping(), min_size=1, max_size=6))
@settings(FEW, max_examples=15)
def test_a_valid_file_goes_through_two_logbooks_and_comes_back_the_same(
    two_books: tuple[Store, Store], tmp_path: Path, clampings: list[list[list[str]]]
) -> None:
    one, other = two_books
    path, out, again = (tmp_path / name for name in ("in.csv", "out.csv", "again.csv"))
    path.write_text(csv_text([row for rows in clampings for row in rows]), encoding="utf-8", newline="")
    readings = sum(map(len, clampings))
    assert import_readings(one, path) == Imported(len(clampings), 0, readings)
    export_readings(one, out)
    import_readings(other, out)
    export_readings(other, again)
    assert again.read_bytes() == out.read_bytes()
    assert import_readings(one, again).clampings == 0
    woven = [row for rows in itertools.zip_longest(*clampings) for row in rows if row is not None]
    path.write_text(csv_text(woven), encoding="utf-8", newline="")
    assert import_readings(one, path) == Imported(0, len(clampings), 0)


PLAIN_CELL = st.text("aC-046 .5\u00b5\u2028\x0b", max_size=6)
CAREFUL_CELL = st.text("a5,'\"\n\0=", max_size=4)
WIDTH = len(COLUMNS)


@settings(deadline=None)
@given(
    rows=st.lists(st.lists(PLAIN_CELL, min_size=WIDTH, max_size=WIDTH), max_size=12),
    careful=st.lists(st.tuples(st.integers(0, 11), st.integers(0, WIDTH - 1), CAREFUL_CELL), max_size=2),
    ends=st.sampled_from(["\n", "\r\n"]),
    block=st.sampled_from([7, 200, 10_000]),
)
def test_lines_taken_apart_all_at_once_are_the_rows_that_csv_reads(
    rows: list[list[str]], careful: list[tuple[int, int, str]], ends: str, block: int
) -> None:
    """Wherever the file is cut into blocks, and whether or not a row of one asks for care."""
    for row, column, cell in careful:
        if row < len(rows):
            rows[row][column] = cell
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator=ends).writerows([COLUMNS, *rows])
    with tempfile.TemporaryDirectory() as folder, mock.patch.object(file_of_exchange, "_BLOCK", block):
        path = Path(folder) / "readings.csv"
        path.write_text(buffer.getvalue(), encoding="utf-8", newline="")
        blocks = list(ExchangeFile(path).blocks(Faults(path.name)))
    buffer.seek(0)
    reader = csv.reader(buffer, strict=True)
    next(reader)
    expected, line = [], reader.line_num + 1
    for cells in reader:
        if any(cells) and not any("\0" in cell for cell in cells):
            expected.append((line, list(map(unguarded, cells))))
        line = reader.line_num + 1
    found = [(line, list(cells)) for some in blocks for line, *cells in zip(some.lines, *some.columns, strict=True)]
    assert found == expected
