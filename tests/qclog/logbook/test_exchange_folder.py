"""A logbook as a folder of tables: verbatim, and the same answers to the last digit."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import ImportRefusedError, export_folder, import_folder
from qclog.logbook.items import record_use
from qclog.logbook.lookup import Register
from qclog.logbook.striking import strike
from qclog.records import Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
VALUES = [(4, 1, -3, 0), (5, 2, -1, 1), (7, 3, -2, 2), (3, 0, -4, 1), (8, 8, 8, 9)]


def turn(values: tuple[int, ...], label: str = "") -> Turn:
    readings = tuple(Reading(value * UM + 123_457, f"{value}.123457um", 1) for value in values)
    return Turn("point", readings, 16 * MM, label=label)


@pytest.fixture
def full(sqlite_workshop: Path, tmp_path: Path, log: Callable[..., list[int]]) -> Iterator[Store]:
    """The small workshop with clampings in it, things struck out, and every sort of cell that is hard to write."""
    (tmp_path / "full.sqlite").write_bytes(sqlite_workshop.read_bytes())
    full = open_store(str(tmp_path / "full.sqlite"))
    clampings = [
        Clamping(
            "C-046",
            "LATHE",
            f"2026-03-04T10:{number:02d}",
            (turn(values), turn(values[::-1], "b")),
            position="AB"[number % 2],
            pin="P-65",
            instrument="D-1",
            lever_mdeg=12_500,
            torque="by feel",
            note='=1+1, "quoted"; second ' if number == 0 else " @trailing ",
        )
        for number, values in enumerate(VALUES)
    ]
    for one in clampings:
        log(full, one)
    recalled = Reading(7 * UM, "6-8", UM, 120_000, 15_000, 6 * UM, 8 * UM)
    ids = log(
        full,
        Clamping("C-047", "TAIL", "2019-05", (Turn("tir", (recalled,), 16 * MM),), recalled=True),
        Clamping("C-046", "TAIL", "2026-03-05", (turn((1, 2, 3, 4)), turn((4, 3, 2, 1), "b"))),
        Clamping("C-046", "TAIL", "2026-03-06", (turn((1, 2, 3, 4)),), label="gone"),
    )
    with new_entry(full, "strike") as entry:
        register = Register(entry.connection)
        item = register.need("C-046", "item")
        strike(entry, item, ids[1], reason="misread", turn=2)
        strike(entry, item, ids[1], reason="misread", turn=1, reading=3)
        strike(entry, item, ids[2], reason="wrong pin")
        record_use(entry, item, used_on="2026-03-05", clampings=None, hours=0.1 + 0.2, note="")
    yield full
    full.close()


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Store]:
    store = open_store(str(tmp_path / "empty.sqlite"), create=True)
    yield store
    store.close()


def facts(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    with store.reading() as connection:
        return {
            table.name: [tuple(row) for row in connection.execute(sa.select(table).order_by(table.c.id))]
            for table in schema.FACTS
        }


def figures(store: Store) -> list[tuple[Any, ...]]:
    """Every row of figures with its series and gauging by what they say, floats as they are."""
    f, s, g = schema.figure, schema.series, schema.gauging
    columns = [column for column in f.c if column.name not in ("series_id", "gauging_id")]
    query = (
        sa.select(*columns, *list(s.c)[1:], *list(g.c)[1:])
        .join(s, s.c.id == f.c.series_id)
        .join(g, g.c.id == f.c.gauging_id)
        .order_by(f.c.turn_id)
    )
    with store.reading() as connection:
        return [tuple(row) for row in connection.execute(query)]


def test_a_folder_gives_the_same_facts_and_figures_to_the_last_digit(full: Store, store: Store, tmp_path: Path) -> None:
    counts = export_folder(full, tmp_path / "folder")
    assert counts["reading"] == len(VALUES) * 8 + 1 + 12
    assert counts["strike"] == 3
    assert import_folder(store, tmp_path / "folder") == sum(counts.values()) - counts["schema_revision"]
    assert facts(store) == facts(full)
    assert figures(store) == figures(full)


def test_a_logbook_filled_from_a_folder_goes_on_where_the_other_stopped(
    full: Store, store: Store, tmp_path: Path, log: Callable[..., list[int]]
) -> None:
    export_folder(full, tmp_path / "folder")
    import_folder(store, tmp_path / "folder")
    one = Clamping("C-046", "TAIL", "2026-04-01", (turn((1, 2, 3, 4)),))
    assert log(store, one) == log(full, one)


def test_a_second_folder_is_the_same_to_the_byte(full: Store, empty: Store, tmp_path: Path) -> None:
    export_folder(full, tmp_path / "one")
    import_folder(empty, tmp_path / "one")
    export_folder(empty, tmp_path / "two")
    names = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert names == sorted(f"{table.name}.csv" for table in (schema.schema_revision, *schema.FACTS))
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_a_folder_that_holds_something_is_not_written_to(sqlite_book: Store, tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "mine.txt").write_text("mine")
    for target in (tmp_path / "folder", tmp_path / "folder" / "mine.txt"):
        with pytest.raises(RefusedError, match="not an empty folder"):
            export_folder(sqlite_book, target)
    assert [path.name for path in (tmp_path / "folder").iterdir()] == ["mine.txt"]


def test_a_logbook_with_entries_is_not_filled_from_a_folder(sqlite_book: Store, tmp_path: Path) -> None:
    export_folder(sqlite_book, tmp_path / "folder")
    with pytest.raises(RefusedError, match="is not empty"):
        import_folder(sqlite_book, tmp_path / "folder")


def test_a_folder_that_is_not_there_is_not_found(sqlite_book: Store, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no folder"):
        import_folder(sqlite_book, tmp_path / "nowhere")


DAMAGES: dict[str, tuple[str, str, str, int, str, str]] = {
    # name: (file, what stands there, what is put instead, line, column, part of what)
    "another revision": ("schema_revision.csv", schema.REVISION, "0099", 2, "version_num", "revision '0099'"),
    "another header": ("pin_card.csv", "roundness_pm", "roundness", 1, "", "header must be"),
    "no whole number": ("pin_card.csv", "6479000000", "6479000000.0", 2, "diameter_pm", "not a whole number"),
    "an empty number": ("pin_card.csv", "6479000000", "", 2, "diameter_pm", "cannot be empty"),
    "a number too great": ("pin_card.csv", "6479000000", "9" * 30, 2, "diameter_pm", "too great"),
    "not finite": ("use_record.csv", "0.30000000000000004", "nan", 2, "hours", "too great"),
    "no number": ("use_record.csv", "0.30000000000000004", "some", 2, "hours", "not a number"),
    "against a rule": ("pin_card.csv", "6479000000", "-1", 2, "", "refuses this row"),
    "the same id twice": ("pin_card.csv", "\r\n2,", "\r\n1,", 3, "", "refuses this row"),
    "no such owner": ("pin_card.csv", "\r\n1,1,", "\r\n1,999,", 2, "", "refuses this row"),
    "a field more": ("pin_card.csv", "\r\n1,", "\r\n1,1,", 2, "", "fields, the header"),
    "an unclosed quote": ("pin_card.csv", "\r\n1,", '\r\n"1,', 2, "", "no CSV"),
    "a NUL byte": ("use_record.csv", "2026-03-05", "2026\0", 2, "used_on", "U+0000"),
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_damaged_folder_is_refused_with_file_line_and_column(
    full: Store, empty: Store, tmp_path: Path, name: str
) -> None:
    file, old, new, line, column, what = DAMAGES[name]
    export_folder(full, tmp_path / "folder")
    path = tmp_path / "folder" / file
    content = path.read_bytes().decode()
    assert old in content
    path.write_bytes(content.replace(old, new, 1).encode())
    fault = _refusal(empty, tmp_path / "folder").faults[0]
    assert (fault.file, fault.line, fault.column) == (file, line, column)
    assert what in fault.what
    assert str(fault).startswith(f"{file}, line {line}")


@pytest.mark.parametrize(
    ("file", "old", "new", "named"),
    [
        ("use_record.csv", "0.30000000000000004", "0.3", "Entry 8 of bench (strike, "),
        ("entry.csv", "tester,strike", "somebody,strike", "Entry 8 of bench (strike, "),
        ("sitting.csv", "\r\n2,7,", "\r\n2,5,", "Entry 5 of bench (log, "),
    ],
)
def test_a_folder_changed_by_hand_is_refused_with_the_entry(
    full: Store, empty: Store, tmp_path: Path, file: str, old: str, new: str, named: str
) -> None:
    export_folder(full, tmp_path / "folder")
    path = tmp_path / "folder" / file
    content = path.read_bytes().decode()
    assert old in content, content
    path.write_bytes(content.replace(old, new, 1).encode())
    with pytest.raises(RefusedError, match="changed by hand") as refusal:
        import_folder(empty, tmp_path / "folder")
    assert str(refusal.value).startswith(named)
    assert facts(empty)["entry"] == []


def test_bytes_that_are_no_utf8_are_refused(full: Store, empty: Store, tmp_path: Path) -> None:
    export_folder(full, tmp_path / "folder")
    path = tmp_path / "folder" / "name.csv"
    path.write_bytes(path.read_bytes().replace(b"P-65", b"P-\xb5"))
    assert "no UTF-8" in _refusal(empty, tmp_path / "folder").faults[0].what


def test_missing_and_unknown_files_are_named(full: Store, empty: Store, tmp_path: Path) -> None:
    export_folder(full, tmp_path / "folder")
    (tmp_path / "folder" / "strike.csv").rename(tmp_path / "folder" / "strikes.csv")
    faults = _refusal(empty, tmp_path / "folder").faults
    assert [(fault.file, fault.what) for fault in faults] == [
        ("strike.csv", "This file is missing."),
        ("strikes.csv", "This file is none of a logbook's."),
    ]


def _refusal(store: Store, folder: Path) -> ImportRefusedError:
    """The refusal of a folder, after which the logbook must be as empty as before."""
    with pytest.raises(ImportRefusedError) as refusal:
        import_folder(store, folder)
    with store.reading() as connection:
        for table in schema.metadata.sorted_tables:
            rows = connection.scalar(sa.select(sa.func.count()).select_from(table))
            assert rows == (1 if table is schema.schema_revision else 0), table.name
    return refusal.value
