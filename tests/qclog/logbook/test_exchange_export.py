"""Writing readings in the exchange form, and reading them back. The readings are constructed cases."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import Imported, export_readings, import_readings
from qclog.logbook.exchange.written import written_angle, written_value
from qclog.logbook.lookup import Register
from qclog.logbook.striking import strike
from qclog.records import Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]


def swing(text: str, picometres: int, step: int = UM, **more: int) -> Turn:
    return Turn("tir", (Reading(picometres, text, step, **more),), 16 * MM)


def point_turn(values: tuple[int, ...] = (4, 1, -3, 0), label: str = "") -> Turn:
    readings = tuple(Reading(value * UM, f"{value}um", UM) for value in values)
    return Turn("point", readings, 16 * MM, label=label)


def clamping(*turns: Turn, taken_at: str = "2026-03-04T10:00", setup: str = "LATHE", **more: object) -> Clamping:
    fields = {"item": "C-046", "position": "A" if setup == "LATHE" else "", **more}
    return Clamping(setup=setup, taken_at=taken_at, turns=turns, **fields)  # type: ignore[arg-type]


def exported(store: Store, path: Path) -> list[dict[str, str]]:
    export_readings(store, path)
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def everything(store: Store) -> list[tuple[object, ...]]:
    """All clampings with their readings and figures, without the ids."""
    c, t, r, f, n, s = (
        schema.clamping,
        schema.turn,
        schema.reading,
        schema.figure,
        schema.name,
        schema.sitting,
    )
    query = (
        sa.select(
            n.c.text,
            *(c.c[k] for k in ("uuid", "position", "clocking", "label", "taken_at", "diameter_pm", "recalled", "note")),
            s.c.label,
            *(t.c[k] for k in ("distance_pm", "characteristic", "kind")),
            *(r.c[k] for k in ("rank", "angle_mdeg", "angle_within_mdeg", "value_pm", "low_pm", "high_pm", "step_pm")),
            *(f.c[k] for k in ("value_um", "eccentricity_x_um", "eccentricity_y_um", "residual_sd_um", "step_pm")),
        )
        .join(n, n.c.id == c.c.item_id)
        .join(s, s.c.id == c.c.sitting_id)
        .join(t, t.c.clamping_id == c.c.id)
        .join(r, r.c.turn_id == t.c.id)
        .join(f, f.c.turn_id == t.c.id)
        .order_by(c.c.uuid, t.c.id, r.c.rank)
    )
    with store.reading() as connection:
        return [tuple(row) for row in connection.execute(query)]


MANY = [
    clamping(point_turn(), pin="P-65", instrument="D-1", operator="ab", note='=said "twice", and; more'),
    clamping(point_turn((1, 2, 3, 4, 5, 6, 7)), taken_at="2026-03-04T10:05"),
    clamping(swing("5um@120", 5 * UM, angle_mdeg=120_000), taken_at="2026-03-05", clocking=(("C-046", 120_000),)),
    clamping(swing("7", 7 * UM, angle_mdeg=135_000, angle_within_mdeg=7_500), taken_at="2026-03-05", sitting="evening"),
    clamping(swing("2 tenths", 5_080_000, 2_540_000), taken_at="2026-03-05T11:00", position="B"),
    clamping(swing("0,50 thou", 12_700_000, 254_000), taken_at="2026-03-05T12:00", position="B"),
    clamping(swing("6-8um", 7 * UM, low_pm=6 * UM, high_pm=8 * UM), taken_at="2019-05", recalled=True),
    clamping(swing("5", 5 * UM), taken_at="2019-06", recalled=True),
    clamping(swing("5", 5 * UM), taken_at="2019-06-01", recalled=True),
    clamping(swing("a", UM), swing("b", 2 * UM), taken_at="2026-03-06", label="two alike"),
    clamping(point_turn(), taken_at="2026-03-04", setup="TAIL", clocking=(("S-1", 90_000), ("K-1", 0))),
    clamping(swing("8@4 o'clock", 8 * UM, angle_mdeg=120_000, angle_within_mdeg=15_000), setup="TAIL"),
    Clamping(
        "C-046",
        "",
        "2026-03-04",
        (Turn("value", (Reading(6_481 * UM, "6.481mm", UM),), 0, "bore"),),
    ),
]


def test_exported_readings_are_all_skipped_when_they_are_imported_again(book: Store, log: Log, tmp_path: Path) -> None:
    log(book, *MANY)
    before = everything(book)
    path = tmp_path / "out.csv"
    assert export_readings(book, path) == len(before)
    assert import_readings(book, path) == Imported(clampings=0, skipped=len(MANY), readings=0)


def test_exported_readings_say_the_same_in_another_logbook(sqlite_workshop: Path, log: Log, tmp_path: Path) -> None:
    stores = []
    for name in ("one", "other"):
        copy = tmp_path / f"{name}.sqlite"
        copy.write_bytes(sqlite_workshop.read_bytes())
        stores.append(open_store(str(copy)))
    one, other = stores
    log(one, *MANY)
    export_readings(one, tmp_path / "out.csv")
    import_readings(other, tmp_path / "out.csv")
    assert everything(other) == everything(one)
    export_readings(other, tmp_path / "again.csv")
    assert (tmp_path / "again.csv").read_bytes() == (tmp_path / "out.csv").read_bytes()
    for store in stores:
        store.close()


def test_angles_and_clockings_are_written_as_the_setup_counts_them(
    sqlite_book: Store, log: Log, tmp_path: Path
) -> None:
    log(sqlite_book, clamping(point_turn(), setup="TAIL", clocking=(("S-1", 90_500), ("K-1", 0))))
    rows = exported(sqlite_book, tmp_path / "out.csv")
    assert [row["angle_deg"] for row in rows] == ["0", "90", "180", "270"]
    assert {row["clocking"] for row in rows} == {"K-1=0 S-1=90.5"}


def test_what_is_struck_out_is_left_out(book: Store, log: Log, tmp_path: Path) -> None:
    whole = log(book, clamping(point_turn(label="a"), point_turn(label="b")), clamping(point_turn(), label="x"))
    small = log(
        book,
        clamping(point_turn((4, 1, -3)), point_turn((7, 8, 9), "b"), label="y"),
        clamping(point_turn((4, 1, -3, 0, 2)), label="z"),
    )
    with new_entry(book, "strike") as entry:
        item = Register(entry.connection).need("C-046", "item")
        strike(entry, item, whole[0], reason="misread", turn=2)
        strike(entry, item, whole[1], reason="misread")
        strike(entry, item, small[0], reason="misread", turn=1, reading=2)
        strike(entry, item, small[1], reason="misread", turn=1, reading=2)
    path = tmp_path / "out.csv"
    rows = exported(book, path)
    assert [(row["clamping"], row["turn"], row["value"]) for row in rows] == [
        *(("1", "a", value) for value in ("4", "1", "-3", "0")),
        *(("y", "b", value) for value in ("7", "8", "9")),
        *(("z", "", value) for value in ("4", "-3", "0", "2")),
    ]
    assert import_readings(book, path) == Imported(clampings=0, skipped=3, readings=0)


def test_the_header_is_the_promised_one(sqlite_book: Store, tmp_path: Path) -> None:
    assert export_readings(sqlite_book, tmp_path / "out.csv") == 0
    assert (tmp_path / "out.csv").read_text().splitlines() == [
        "taken_at,sitting,item,modification,setup,position,clocking,clamping,pin,diameter,instrument,operator,note,"
        "turn,distance,characteristic,kind,value,unit,angle_deg,limit"
    ]


def test_only_the_chosen_items_are_written(sqlite_book: Store, log: Log, tmp_path: Path) -> None:
    log(sqlite_book, clamping(swing("5", 5 * UM)), clamping(swing("6", 6 * UM), item="C-047"))
    assert export_readings(sqlite_book, tmp_path / "out.csv", items=["c-047"]) == 1
    assert "C-047" in (tmp_path / "out.csv").read_text()
    with pytest.raises(NotFoundError, match="C-099"):
        export_readings(sqlite_book, tmp_path / "other.csv", items=["C-099"])
    assert not (tmp_path / "other.csv").exists()


def test_limits_go_with_the_readings_of_their_distance(sqlite_book: Store, log: Log, tmp_path: Path) -> None:
    far = Turn("tir", (Reading(9 * UM, "9", UM),), 40 * MM)
    log(sqlite_book, clamping(swing("5", 5 * UM), far))
    assert [row["limit"] for row in exported(sqlite_book, tmp_path / "out.csv")] == ["8um", ""]


def test_two_clampings_of_one_label_are_not_written_as_one(sqlite_book: Store, log: Log, tmp_path: Path) -> None:
    log(sqlite_book, *(clamping(swing("5", 5 * UM), taken_at=f"2026-03-04T1{n}:00", label="1") for n in range(2)))
    with pytest.raises(RefusedError, match="same label '1'"):
        export_readings(sqlite_book, tmp_path / "out.csv")
    assert list(tmp_path.glob("*.csv")) == []


def test_an_old_file_stays_whole_where_the_new_one_cannot_be_written(
    sqlite_book: Store, log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log(sqlite_book, clamping(swing("5", 5 * UM)))
    path = tmp_path / "out.csv"
    path.write_text("old")

    def no_room(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("qclog.logbook.exchange.export.os.fsync", no_room)
    with pytest.raises(RefusedError, match="No space left"):
        export_readings(sqlite_book, path)
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir() if "csv" in one.name] == ["out.csv"]


def test_a_folder_that_is_not_there_is_refused(sqlite_book: Store, tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match="could not be written"):
        export_readings(sqlite_book, tmp_path / "nowhere" / "out.csv")


WRITTEN = [
    # as typed, in a unit in which the number means the same
    ((5 * UM, "5", UM), ("5", "um")),
    ((5 * UM, "5um", UM), ("5", "um")),
    ((5 * UM, "5um@120", UM), ("5", "um")),
    ((5 * UM, "5 um at 4 o'clock", UM), ("5", "um")),
    ((5 * UM, "0.0050mm", UM // 10), ("0.0050", "mm")),
    ((5 * UM, "0,005", UM), ("0.005", "mm")),
    ((5_080_000, "2 tenths", 2_540_000), ("2", "tenths")),
    ((5_080_000, '.0002"', 2_540_000), (".0002", "in")),
    ((5_080_000, "2e-4in", 2_540_000), ("2e-4", "in")),
    ((0, "0", 2_540_000), ("0", "tenths")),
    ((-3 * UM, "\u22123um", UM), ("\u22123", "um")),
    # else in the unit in which value and finest place come out whole
    ((5 * UM, "+3/-2", UM), ("5", "um")),
    ((50 * UM, "5 hundredths", 10 * UM), ("0.05", "mm")),
    ((12_700_000, "half a thou", 12_700_000), ("12.7", "um")),
    ((5_080_000, "2 div", 2_540_000), ("2", "tenths")),
    ((25_400, "1 millionth", 25_400), ("0.000001", "in")),
    ((7 * UM, "seven, or so", UM), ("7", "um")),
]


@pytest.mark.parametrize(("kept", "cells"), WRITTEN)
def test_a_value_is_written_as_typed_where_the_number_says_the_same(
    kept: tuple[int, str, int], cells: tuple[str, str]
) -> None:
    value_pm, text, step_pm = kept
    assert written_value(value_pm, text, step_pm, None, None, False) == cells


@pytest.mark.parametrize(
    ("text", "low", "high", "cell"),
    [("6-8", 6, 8, "6-8"), ("<5um", 0, 5, "<5"), ("between six and eight", 6, 8, "6-8"), ("at most five", 0, 5, "<5")],
)
def test_a_value_recalled_within_limits_is_written_with_both(text: str, low: int, high: int, cell: str) -> None:
    middle = (low + high) * UM // 2
    assert written_value(middle, text, UM, low * UM, high * UM, False) == (cell, "um")


@pytest.mark.parametrize(
    ("angle", "within", "backwards", "cell"),
    [
        (None, 0, False, ""),
        (0, 0, False, "0"),
        (51_429, 0, False, "51.429"),
        (120_000, 0, True, "240"),
        (0, 0, True, "0"),
        (120_000, 15_000, False, "4 o'clock"),
        (0, 15_000, False, "12 o'clock"),
        (120_000, 15_000, True, "8 o'clock"),
        (135_000, 7_500, False, "half past 4"),
        (15_000, 7_500, False, "half past 12"),
    ],
)
def test_an_angle_is_written_as_it_was_said(angle: int | None, within: int, backwards: bool, cell: str) -> None:
    assert written_angle(angle, within, backwards=backwards) == cell
