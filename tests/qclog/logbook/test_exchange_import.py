"""Importing the exchange form into the small workshop (see ``conftest``). The files are constructed cases."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import Imported, ImportRefusedError, export_readings, import_readings
from qclog.logbook.items import modify
from qclog.logbook.lookup import Register
from qclog.logbook.striking import last_clamping, strike
from qclog.questions.assess import assess
from qclog.records import EVERY_DISTANCE, Work

HEADER = "taken_at,item,setup,position,clamping,distance,kind,value,unit"
SWING = "2026-03-04T10:00,C-046,LATHE,A,{clamping},16,tir,{value},um"


def import_text(store: Store, tmp_path: Path, text: str, *, create: bool = False, encoding: str = "utf-8") -> Imported:
    path = tmp_path / "readings.csv"
    path.write_text(text, encoding=encoding, newline="")
    return import_readings(store, path, create=create)


def rows_of(store: Store, query: sa.Select[Any]) -> list[tuple[Any, ...]]:
    with store.reading() as connection:
        return [tuple(row) for row in connection.execute(query)]


def table(store: Store, fact: sa.Table, *columns: str) -> list[tuple[Any, ...]]:
    return rows_of(store, sa.select(*(fact.c[column] for column in columns)).order_by(fact.c.id))


def swings(*values: tuple[str, str]) -> str:
    return "\n".join([HEADER, *(SWING.format(clamping=label, value=value) for label, value in values)]) + "\n"


def test_a_swing_becomes_one_clamping_with_its_figure(book: Store, tmp_path: Path) -> None:
    assert import_text(book, tmp_path, swings(("1", "5"))) == Imported(clampings=1, skipped=0, readings=1)
    assert table(book, schema.clamping, "position", "label", "taken_at", "recalled") == [
        ("A", "1", "2026-03-04T10:00", 0)
    ]
    assert table(book, schema.sitting, "label") == [("2026-03-04",)]
    assert table(book, schema.reading, "value_pm", "step_pm", "text") == [(5_000_000, 1_000_000, "5 um")]
    assert rows_of(book, sa.select(schema.figure.c.value_um)) == [(5.0,)]


def test_the_whole_file_is_one_entry(sqlite_book: Store, tmp_path: Path) -> None:
    before = len(table(sqlite_book, schema.entry, "id"))
    import_text(sqlite_book, tmp_path, swings(("1", "5"), ("2", "6")))
    assert table(sqlite_book, schema.entry, "what")[before:] == [("import readings.csv",)]


def test_the_same_file_again_is_skipped_and_leaves_no_entry(book: Store, tmp_path: Path) -> None:
    text = swings(("1", "5"), ("2", "6"))
    import_text(book, tmp_path, text)
    entries = table(book, schema.entry, "id")
    assert import_text(book, tmp_path, text) == Imported(clampings=0, skipped=2, readings=0)
    assert table(book, schema.entry, "id") == entries


def test_a_longer_file_adds_only_what_is_new(sqlite_book: Store, tmp_path: Path) -> None:
    import_text(sqlite_book, tmp_path, swings(("1", "5")))
    assert import_text(sqlite_book, tmp_path, swings(("1", "5"), ("2", "6"))) == Imported(1, 1, 1)


@pytest.mark.parametrize(("turn", "reading"), [(None, None), (1, None), (1, 2)])
def test_what_was_struck_out_since_is_skipped_too(
    book: Store, tmp_path: Path, turn: int | None, reading: int | None
) -> None:
    text = points(["0", "90", "180", "270"])
    import_text(book, tmp_path, text)
    with new_entry(book, "strike") as entry:
        item = Register(entry.connection).need("C-046", "item")
        clamping = last_clamping(entry.connection, item)
        strike(entry, item, clamping, reason="misread", turn=turn, reading=reading)
    assert import_text(book, tmp_path, text) == Imported(clampings=0, skipped=1, readings=0)


def test_an_earlier_time_makes_another_clamping(sqlite_book: Store, tmp_path: Path) -> None:
    import_text(sqlite_book, tmp_path, swings(("1", "5")))
    assert import_text(sqlite_book, tmp_path, swings(("1", "5")).replace("T10:00", "T09:00")).clampings == 1


def points(angles: Sequence[str], values: Sequence[str] = ("4", "1", "-3", "0"), setup: str = "LATHE,A") -> str:
    lines = ["taken_at,item,setup,position,clamping,distance,kind,angle_deg,value,unit"]
    for angle, value in zip(angles, values, strict=True):
        lines.append(f"2026-03-04T10:00,C-046,{setup},1,16,point,{angle},{value},um")
    return "\n".join(lines) + "\n"


def test_empty_angles_mean_evenly_spaced_in_row_order(sqlite_book: Store, tmp_path: Path) -> None:
    import_text(sqlite_book, tmp_path, points([""] * 4))
    assert table(sqlite_book, schema.reading, "angle_mdeg", "value_pm") == [
        (0, 4_000_000),
        (90_000, 1_000_000),
        (180_000, -3_000_000),
        (270_000, 0),
    ]


def test_angles_of_a_setup_read_counterclockwise_are_kept_clockwise(sqlite_book: Store, tmp_path: Path) -> None:
    import_text(sqlite_book, tmp_path, points(["0", "90", "180", "270"], setup="TAIL,"))
    assert table(sqlite_book, schema.reading, "angle_mdeg") == [(0,), (270_000,), (180_000,), (90_000,)]


def test_rows_of_a_clamping_that_stand_apart_are_one_clamping(sqlite_book: Store, tmp_path: Path) -> None:
    header, *rows = points([""] * 4).splitlines()
    others = [f"2026-03-04T11:00,C-047,LATHE,B,{number},16,tir,,7,um" for number in range(3)]
    mixed = [row for pair in zip(rows, [*others, ""], strict=True) for row in pair]
    assert import_text(sqlite_book, tmp_path, "\n".join([header, *mixed])) == Imported(4, 0, 7)
    by_clamping = rows_of(
        sqlite_book,
        sa.select(schema.clamping.c.label, sa.func.count())
        .join(schema.turn, schema.turn.c.clamping_id == schema.clamping.c.id)
        .join(schema.reading, schema.reading.c.turn_id == schema.turn.c.id)
        .join(schema.name, schema.name.c.id == schema.clamping.c.item_id)
        .where(schema.name.c.text == "C-046")
        .group_by(schema.clamping.c.id, schema.clamping.c.label),
    )
    assert by_clamping == [("1", 4)]


def test_scattered_and_sorted_rows_say_the_same(sqlite_book: Store, tmp_path: Path) -> None:
    header, *rows = points(["0", "90", "180", "270"]).splitlines()
    other = [row.replace(",1,16", ",2,16") for row in rows]
    import_text(sqlite_book, tmp_path, "\n".join([header, *rows, *other]))
    woven = [row for pair in zip(rows, other, strict=True) for row in pair]
    assert import_text(sqlite_book, tmp_path, "\n".join([header, *woven])) == Imported(0, 2, 0)


def test_names_are_compared_without_case_and_clockings_without_order(sqlite_book: Store, tmp_path: Path) -> None:
    header = HEADER + ",clocking,angle_deg"
    lines = [
        "2026-03-04,C-046,LATHE,A,1,16,point,4,um,C-046=120 P-3=180,0",
        "2026-03-04,c-046,lathe,a,1,16.0,Point,1,UM,P-3=180 C-046=120,120",
        "2026-03-04, C-046 ,LATHE,A,1,16,point,0,um,c-046=120 p-3=180,240",
    ]
    assert import_text(sqlite_book, tmp_path, "\n".join([header, *lines])) == Imported(1, 0, 3)
    assert table(sqlite_book, schema.clamping, "clocking") == [("C-046=120 P-3=180",)]
    assert len(table(sqlite_book, schema.clamping_body, "body_id")) == 2


def test_turns_of_a_clamping_are_told_apart_by_label_and_distance(sqlite_book: Store, tmp_path: Path) -> None:
    header = HEADER + ",turn"
    lines = [SWING.format(clamping="1", value="5") + f",{label}" for label in ("a", "b")]
    lines.append(SWING.format(clamping="1", value="9").replace(",16,", ",40,") + ",a")
    assert import_text(sqlite_book, tmp_path, "\n".join([header, *lines])) == Imported(1, 0, 3)
    assert table(sqlite_book, schema.turn, "label", "distance_pm") == [
        ("a", 16 * 10**9),
        ("b", 16 * 10**9),
        ("a", 40 * 10**9),
    ]


def test_the_earliest_time_of_its_rows_is_the_time_of_a_clamping(sqlite_book: Store, tmp_path: Path) -> None:
    header, *rows = points([""] * 4).splitlines()
    times = ("T10:05", "T10:05", "T10:01", "T10:02")
    at_times = [row.replace("T10:00", time) for row, time in zip(rows, times, strict=True)]
    import_text(sqlite_book, tmp_path, "\n".join([header, *at_times]))
    assert table(sqlite_book, schema.clamping, "taken_at") == [("2026-03-04T10:01",)]


def test_notes_and_operators_of_the_rows_are_kept_once_each(sqlite_book: Store, tmp_path: Path) -> None:
    header, *rows = points([""] * 4).splitlines()
    said = [",first,ab", ",second,", ",first,cd", ",,ab"]
    text = "\n".join([header + ",note,operator", *(row + tail for row, tail in zip(rows, said, strict=True))])
    import_text(sqlite_book, tmp_path, text)
    assert table(sqlite_book, schema.clamping, "note", "operator") == [("first; second", "ab, cd")]


UNITS = [
    ("5", "um", 5_000_000, 1_000_000),
    ("5", "µm", 5_000_000, 1_000_000),
    ("5", "μm", 5_000_000, 1_000_000),
    ("0.0050", "mm", 5_000_000, 100_000),
    (".0002", "in", 5_080_000, 2_540_000),
    ("0.5", "thou", 12_700_000, 2_540_000),
    ("2", "tenths", 5_080_000, 2_540_000),
    ("2e-4", "in", 5_080_000, 2_540_000),
    ("5um", "um", 5_000_000, 1_000_000),
    ("5 micron", "µm", 5_000_000, 1_000_000),
]


@pytest.mark.parametrize(("value", "unit", "picometres", "step"), UNITS)
def test_a_value_is_kept_exactly_with_the_finest_place_and_its_text(
    sqlite_book: Store, tmp_path: Path, value: str, unit: str, picometres: int, step: int
) -> None:
    text = swings(("1", value)).replace(f"{value},um", f"{value},{unit}")
    import_text(sqlite_book, tmp_path, text)
    assert table(sqlite_book, schema.reading, "value_pm", "step_pm", "text") == [(picometres, step, f"{value} {unit}")]


RECALLED = [
    ("2019-05", "5", 5_000_000, None, None),
    ("2019", "5", 5_000_000, None, None),
    ("2019-05-03", "6-8", 7_000_000, 6_000_000, 8_000_000),
    ("2019-05-03", "<5", 2_500_000, 0, 5_000_000),
    ("2019-05-03", "~6", 6_000_000, None, None),
]


@pytest.mark.parametrize(("taken_at", "value", "picometres", "low", "high"), RECALLED)
def test_what_was_only_recalled_is_marked_so(
    sqlite_book: Store, tmp_path: Path, taken_at: str, value: str, picometres: int, low: int | None, high: int | None
) -> None:
    text = swings(("1", value)).replace("2026-03-04T10:00", taken_at)
    import_text(sqlite_book, tmp_path, text)
    assert table(sqlite_book, schema.clamping, "recalled", "taken_at") == [(1, taken_at)]
    assert table(sqlite_book, schema.reading, "value_pm", "low_pm", "high_pm") == [(picometres, low, high)]


@pytest.mark.parametrize(
    ("delimiter", "encoding", "newline"),
    [(",", "utf-8-sig", "\r\n"), (";", "utf-8-sig", "\r\n"), ("\t", "utf-8", "\n"), (",", "utf-8", "\r")],
)
def test_delimiter_byte_order_mark_and_line_ends_are_recognised(
    sqlite_book: Store, tmp_path: Path, delimiter: str, encoding: str, newline: str
) -> None:
    text = swings(("1", "5"), ("2", "6")).replace(",", delimiter).replace("\n", newline)
    assert import_text(sqlite_book, tmp_path, text, encoding=encoding).clampings == 2


def test_a_decimal_comma_is_read_between_semicolons(sqlite_book: Store, tmp_path: Path) -> None:
    import_text(sqlite_book, tmp_path, swings(("1", "5.25")).replace(",", ";").replace("5.25", "5,25"))
    assert table(sqlite_book, schema.reading, "value_pm") == [(5_250_000,)]


def test_columns_may_stand_in_any_order_and_in_capitals(sqlite_book: Store, tmp_path: Path) -> None:
    rows = [line.split(",")[::-1] for line in swings(("1", "5")).splitlines()]
    rows[0] = [name.upper() for name in rows[0]]
    import_text(sqlite_book, tmp_path, "\n".join(",".join(row) for row in rows))
    assert table(sqlite_book, schema.reading, "value_pm") == [(5_000_000,)]


def test_a_line_break_inside_a_note_becomes_a_blank(sqlite_book: Store, tmp_path: Path) -> None:
    header, row = swings(("1", "5")).splitlines()
    assert import_text(sqlite_book, tmp_path, f'{header},note\n{row},"two \r\nlines"\n').clampings == 1
    assert table(sqlite_book, schema.clamping, "note") == [("two lines",)]


def test_a_value_of_another_characteristic_needs_no_setup(sqlite_book: Store, tmp_path: Path) -> None:
    text = HEADER + ",characteristic\n2026-03-04,C-046,,,1,16,value,6.481,mm,bore\n"
    assert import_text(sqlite_book, tmp_path, text) == Imported(1, 0, 1)
    assert table(sqlite_book, schema.clamping, "setup_revision_id") == [(None,)]


def test_a_name_like_a_known_one_is_its_own_with_a_colon_behind_it(sqlite_book: Store, tmp_path: Path) -> None:
    """It goes out as it comes in, so that what is exported can be imported again."""
    text = HEADER + ",characteristic\n2026-03-04,C-046,,,1,0,value,6.481,mm,heights:\n"
    text += "2026-03-04,C-046,,,2,0,value,6.481,mm,stroke\n"
    assert import_text(sqlite_book, tmp_path, text) == Imported(2, 0, 2)
    assert table(sqlite_book, schema.turn, "characteristic") == [("heights",), ("stroke",)]
    export_readings(sqlite_book, tmp_path / "out.csv")
    assert import_readings(sqlite_book, tmp_path / "out.csv") == Imported(0, 2, 0)


def test_a_value_may_leave_its_distance_empty_and_its_limit_then_counts_at_any(
    sqlite_book: Store, tmp_path: Path
) -> None:
    text = HEADER + ",characteristic,limit\n2026-03-04,N-8,,,1,,value,-24,um,flushness,-50..0um\n"
    assert import_text(sqlite_book, tmp_path, text, create=True).limits == 1
    with sqlite_book.reading() as connection:
        register = Register(connection)
        (limit,) = register.limits(register.need("N-8", "item").id)
    assert (limit.distance_pm, limit.lower_pm, limit.upper_pm) == (EVERY_DISTANCE, -50_000_000, 0)
    (group,) = assess(sqlite_book, "N-8")[0].values
    assert group.limits_um is not None
    assert (group.limits_um.lower, group.limits_um.upper) == (-50.0, 0.0)


def test_each_point_of_a_flushness_in_one_clamping_counts_by_itself(sqlite_book: Store, tmp_path: Path) -> None:
    """One that stands proud is not hidden by a mean; the height read beside them stays one clamping with the first."""
    row = "2026-03-04,C-046,,,1,{},value,{},mm,{},{}\n"
    points = [("0", "-0.024", "flushness", "a"), ("0", "0.004", "flushness", "b"), ("5", "-0.022", "flushness", "c")]
    text = HEADER + ",characteristic,turn\n" + "".join(row.format(*one) for one in (*points, ("0", "8", "height", "a")))
    assert import_text(sqlite_book, tmp_path, text) == Imported(2, 0, 4)
    assert table(sqlite_book, schema.clamping, "label") == [("1",), ("1 point 2",)]
    values = assess(sqlite_book, "C-046")[0].values
    proud = {(one.characteristic, one.distance_mm): one.read_um.high for one in values}
    assert proud == {("flushness", 0.0): 4.0, ("flushness", 5.0): -22.0, ("height", 0.0): 8_000.0}
    assert import_text(sqlite_book, tmp_path, text) == Imported(0, 2, 0)
    export_readings(sqlite_book, tmp_path / "out.csv")
    assert import_readings(sqlite_book, tmp_path / "out.csv") == Imported(0, 2, 0)


def test_create_makes_items_setups_positions_pins_and_limits(book: Store, tmp_path: Path) -> None:
    header = HEADER + ",pin,diameter,limit"
    lines = [
        "2026-03-04,N-1,MILL,left,1,16,tir,5,um,P-9,9.001,8um",
        "2026-03-04,N-1,MILL,right,2,16,tir,6,um,P-9,9.001,",
        "2026-03-04,N-1,MILL,right,3,40,tir,6,um,p-9,9.001,0.5 thou",
        "2026-03-04,C-047,LATHE,C,4,16,tir,6,um,,,4um",
    ]
    text = "\n".join([header, *lines])
    done = import_text(book, tmp_path, text, create=True)
    assert done == Imported(4, 0, 4, ("N-1",), ("MILL",), ("MILL left", "MILL right", "LATHE C"), ("P-9",), 2)
    with book.reading() as connection:
        register = Register(connection)
        item, pin = register.need("N-1", "item"), register.need("P-9", "pin")
        card, pin_card = register.item_card(item.id), register.pin_card(pin.id)
        assert card is not None
        assert card["kind"] == "other"
        assert pin_card is not None
        assert pin_card["diameter_pm"] == 9_001_000_000
        limits = [(one.distance_pm, one.upper_pm, one.text) for one in register.limits(item.id)]
        assert limits == [(16 * 10**9, 8_000_000, "8um"), (40 * 10**9, 12_700_000, "0.5 thou")]
        assert register.limits(register.need("C-047", "item").id) == []
    assert import_text(book, tmp_path, text, create=True) == Imported(0, 4, 0)


def test_an_import_never_changes_the_limit_of_a_known_item(sqlite_book: Store, tmp_path: Path) -> None:
    text = swings(("1", "5")).replace("unit", "unit,limit").replace("5,um", "5,um,4um")
    import_text(sqlite_book, tmp_path, text, create=True)
    with sqlite_book.reading() as connection:
        register = Register(connection)
        limits = register.limits(register.need("C-046", "item").id)
    assert [limit.upper_pm for limit in limits] == [8_000_000]
    assert EVERY_DISTANCE not in [limit.distance_pm for limit in limits]


def test_a_modification_is_the_newest_not_later_or_the_one_named(sqlite_book: Store, tmp_path: Path) -> None:
    with new_entry(sqlite_book, "modify") as entry:
        register = Register(entry.connection)
        modify(entry, register, register.need("C-046", "item"), Work(what="bored", done_at="2026-03-03"))
    header = HEADER + ",modification"
    lines = [SWING.format(clamping=str(n), value="5") + f",{said}" for n, said in enumerate(("", "0", "1"))]
    import_text(sqlite_book, tmp_path, "\n".join([header, *lines]))
    numbers = rows_of(
        sqlite_book,
        sa.select(schema.modification.c.number)
        .join(schema.clamping, schema.clamping.c.modification_id == schema.modification.c.id)
        .order_by(schema.clamping.c.id),
    )
    assert numbers == [(1,), (0,), (1,)]


def test_figures_do_not_depend_on_how_the_clampings_were_batched(
    sqlite_book: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    header, *rows = points([""] * 4).splitlines()
    clampings = [row.replace(",1,16", f",{number},16") for number in range(7) for row in rows]
    monkeypatch.setattr("qclog.logbook.exchange.importing._BATCH_CLAMPINGS", 2)
    import_text(sqlite_book, tmp_path, "\n".join([header, *clampings]))
    assert rows_of(sqlite_book, sa.select(schema.figure.c.value_um).distinct()) == [
        (rows_of(sqlite_book, sa.select(schema.figure.c.value_um))[0][0],)
    ]
    assert len(table(sqlite_book, schema.clamping, "id")) == 7


def test_clampings_that_share_their_cells_keep_their_own_time_item_and_label(
    sqlite_book: Store, tmp_path: Path
) -> None:
    rows = [f"2026-03-0{day}T10:00,{item},LATHE,A,{day},16,tir,5,um" for day in (4, 5) for item in ("C-046", "C-047")]
    assert import_text(sqlite_book, tmp_path, "\n".join([HEADER, *rows])).clampings == 4
    name, clamping = schema.name, schema.clamping
    query = sa.select(name.c.text, clamping.c.taken_at, clamping.c.label).join(name, name.c.id == clamping.c.item_id)
    assert rows_of(sqlite_book, query.order_by(clamping.c.id)) == [
        ("C-046", "2026-03-04T10:00", "4"),
        ("C-047", "2026-03-04T10:00", "4"),
        ("C-046", "2026-03-05T10:00", "5"),
        ("C-047", "2026-03-05T10:00", "5"),
    ]


def test_a_faulty_cell_that_many_clampings_share_is_named_at_each(sqlite_book: Store, tmp_path: Path) -> None:
    rows = [f"{SWING.format(clamping=label, value=5)},x" for label in range(1, 4)]
    with pytest.raises(ImportRefusedError) as refused:
        import_text(sqlite_book, tmp_path, "\n".join([f"{HEADER},modification", *rows]))
    assert [(fault.line, fault.column) for fault in refused.value.faults] == [(n, "modification") for n in (2, 3, 4)]
