"""Writing clampings: identity, labels, exact values, angles as they are kept, and what is refused."""

import dataclasses
import uuid
from collections.abc import Callable
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from qclog.errors import NotFoundError, QclogError, RefusedError
from qclog.logbook import clampings, schema, setups
from qclog.logbook.clampings import Resolver
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.records import FACE_RUNOUT, Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]


def read(
    *values_um: float, angles_deg: tuple[float | None, ...] | None = None, step_um: float = 1
) -> tuple[Reading, ...]:
    angles = angles_deg or (None,) * len(values_um)
    return tuple(
        Reading(round(value * UM), f"{value:g}", round(step_um * UM), None if angle is None else round(angle * 1000))
        for value, angle in zip(values_um, angles, strict=True)
    )


TIR = Turn("tir", read(5), 16 * MM)
POINT = Turn("point", read(4, 1, -3, 0), 16 * MM)
PLAIN = Clamping("C-046", "LATHE", "2026-03-04", (TIR,), position="A")


def clamping(turn: Turn = TIR, **changes: Any) -> Clamping:
    return dataclasses.replace(PLAIN, turns=(turn,), **changes)


def rows(store: Store, table: sa.Table) -> list[Any]:
    with store.reading() as connection:
        return list(connection.execute(sa.select(table).order_by(table.c.id)))


def refused(store: Store, log: Log, record: Clamping, error: type[QclogError] = RefusedError) -> str:
    before = len(rows(store, schema.entry))
    with pytest.raises(error) as said:
        log(store, record)
    assert "\n" not in str(said.value)
    assert len(rows(store, schema.entry)) == before
    return str(said.value)


def test_a_clamping_is_kept_with_everything_that_was_said_of_it(book: Store, log: Log) -> None:
    record = clamping(
        dataclasses.replace(TIR, label="1", closure_pm=-UM),
        position=" a ",
        clocking=(("P-65", 180_000), ("c-046", -90_000)),
        pin="p-65",
        instrument="d-1",
        lever_mdeg=10_000,
        pin_out="yes",
        torque="by feel",
        conditions="cold",
        operator="anna",
        note="first after lunch",
    )
    (clamping_id,) = log(book, record)
    (row,) = rows(book, schema.clamping)
    (turn,) = rows(book, schema.turn)
    with book.reading() as connection:
        register = Register(connection)
        names = {code: register.need(code, kind).id for code, kind in (("P-65", "pin"), ("D-1", "instrument"))}
        revision = register.revision_at(register.need("LATHE", "setup"), "2026-03-04").id
        calibration = register.calibration_at(names["D-1"], "2026-03-04")
        bodies = {
            register.text(body.body_id): body.angle_mdeg for body in connection.execute(sa.select(schema.clamping_body))
        }
    assert calibration is not None
    assert row.id == clamping_id
    assert (row.position, row.label, row.taken_at, row.setup_revision_id) == ("A", "1", "2026-03-04", revision)
    assert row.clocking == "C-046=270 P-65=180"
    assert bodies == {"C-046": 270_000, "P-65": 180_000}
    assert (row.pin_id, row.diameter_pm) == (names["P-65"], 6_479 * UM)
    assert (row.instrument_id, row.calibration_id, row.lever_mdeg) == (names["D-1"], calibration["id"], 10_000)
    assert (row.pin_out, row.torque, row.conditions) == ("yes", "by feel", "cold")
    assert (row.operator, row.note, row.recalled) == ("anna", "first after lunch", 0)
    assert (turn.label, turn.closure_pm, turn.kind, turn.characteristic) == ("1", -UM, "tir", "runout")


def test_a_diameter_that_is_given_goes_before_that_of_the_pin(book: Store, log: Log) -> None:
    log(book, clamping(pin="P-65", diameter_pm=6_480 * UM), clamping(pin="P-65"), clamping(diameter_pm=6 * MM), PLAIN)
    assert [row.diameter_pm for row in rows(book, schema.clamping)] == [6_480 * UM, 6_479 * UM, 6 * MM, None]


def test_values_are_kept_exactly_with_the_text_as_typed(book: Store, log: Log) -> None:
    typed = (
        Reading(25_400, "1 microinch", 25_400),
        Reading(-123_456_789_012, "-123,456789012 mm", 1),
        Reading(0, "0", UM),
    )
    log(book, clamping(Turn("point", typed, 16 * MM)))
    assert [(r.value_pm, r.text, r.step_pm) for r in rows(book, schema.reading)] == [
        (25_400, "1 microinch", 25_400),
        (-123_456_789_012, "-123,456789012 mm", 1),
        (0, "0", UM),
    ]


def test_a_recalled_swing_keeps_its_ends(book: Store, log: Log) -> None:
    reading = Reading(7 * UM, "6-8", UM, low_pm=6 * UM, high_pm=8 * UM)
    log(book, clamping(Turn("tir", (reading,), 16 * MM), taken_at="2019-05", recalled=True))
    (row,) = rows(book, schema.reading)
    assert (row.low_pm, row.high_pm, row.text) == (6 * UM, 8 * UM, "6-8")
    assert rows(book, schema.clamping)[0].recalled == 1


# --- identity ---


def identity(store: Store, record: Clamping) -> str:
    with store.reading() as connection:
        return Resolver(Register(connection)).resolve(record).uuid


def test_the_uuid_of_a_clamping_is_made_of_what_identifies_it_alone(sqlite_book: Store) -> None:
    base = clamping(sitting="spring", label="1")
    told = identity(sqlite_book, base)
    assert uuid.UUID(told).version == 5
    for same in (
        {"item": "c-046"},
        {"setup": "lathe", "position": "a"},
        {"note": "again"},
        {"operator": "b"},
        {"pin": "P-65"},
        {"turns": (POINT,)},
    ):
        assert identity(sqlite_book, dataclasses.replace(base, **same)) == told, same
    others = [
        {"item": "C-047"},
        {"setup": "TAIL", "position": ""},
        {"position": "B"},
        {"clocking": (("C-046", 1),)},
        {"sitting": "summer"},
        {"label": "2"},
        {"taken_at": "2026-03-05"},
    ]
    made = [identity(sqlite_book, dataclasses.replace(base, **other)) for other in others]  # type: ignore[arg-type]
    assert len({told, *made}) == 8


def test_the_uuid_of_a_clamping_never_changes(sqlite_book: Store) -> None:
    """A constructed case, fixed so that logbooks of later versions still know their clampings again."""
    assert identity(sqlite_book, clamping(label="1")) == "bf2dc935-af1b-5934-a0fd-87dd9aaae8c9"
    turned = clamping(label="7", clocking=(("C-046", 120_000), ("P-3", 180_500)), taken_at="2026-03-04 10:30")
    assert identity(sqlite_book, turned) == "1959352f-00b3-5879-bcd9-0265b6c6dc1d"


def test_the_same_clamping_twice_is_refused(book: Store, log: Log) -> None:
    log(book, clamping(label="1"))
    refused(book, log, clamping(label="1"))
    assert len(rows(book, schema.clamping)) == 1


# --- labels and sittings ---


def test_clampings_without_label_are_numbered_within_item_and_sitting(book: Store, log: Log) -> None:
    log(book, PLAIN)
    log(book, PLAIN, PLAIN, clamping(taken_at="2026-03-05"), clamping(item="C-047"))
    log(book, clamping(sitting="evening"), PLAIN)
    labels = [row.label for row in rows(book, schema.clamping)]
    assert labels == ["1", "2", "3", "1", "1", "1", "4"]


def test_numbering_passes_over_labels_that_were_given(book: Store, log: Log) -> None:
    log(book, clamping(label="2"))
    log(book, PLAIN, clamping(label="4"), PLAIN)
    labels = [row.label for row in rows(book, schema.clamping)]
    assert len(set(labels)) == 4


def test_the_sitting_is_the_day_unless_it_is_named(book: Store, log: Log) -> None:
    log(book, PLAIN, clamping(taken_at="2026-03-04T10:30+01:00"), clamping(sitting=" night "), clamping(item="C-047"))
    sittings = {row.id: row.label for row in rows(book, schema.sitting)}
    assert sorted(sittings.values()) == ["2026-03-04", "night"]
    assert [sittings[row.sitting_id] for row in rows(book, schema.clamping)] == [
        "2026-03-04",
        "2026-03-04",
        "night",
        "2026-03-04",
    ]


# --- angles ---


def angles(store: Store) -> list[int | None]:
    return [row.angle_mdeg for row in rows(store, schema.reading)]


def test_a_turn_without_angles_is_evenly_spaced(book: Store, log: Log) -> None:
    log(book, clamping(POINT))
    log(book, clamping(Turn("point", read(1, 2, 3, 4, 5, 6, 7), 16 * MM)))
    assert angles(book) == [0, 90_000, 180_000, 270_000, 0, 51_429, 102_857, 154_286, 205_714, 257_143, 308_571]


def test_angles_of_a_setup_read_counterclockwise_are_turned_round_on_entry(book: Store, log: Log) -> None:
    tail = {"setup": "TAIL", "position": ""}
    log(book, clamping(POINT, **tail))
    log(book, clamping(Turn("point", read(4, 1, -3, angles_deg=(10, 130, 250)), 16 * MM), **tail))
    log(book, clamping(Turn("tir", read(5, angles_deg=(120,)), 16 * MM), **tail, clocking=(("C-046", 90_000),)))
    assert angles(book) == [0, 270_000, 180_000, 90_000, 350_000, 230_000, 110_000, 240_000]
    assert rows(book, schema.clamping)[-1].clocking == "C-046=270"
    assert [r.value_pm for r in rows(book, schema.reading)][:4] == [4 * UM, UM, -3 * UM, 0]


def test_the_high_spot_of_a_swing_keeps_how_well_it_is_known(book: Store, log: Log) -> None:
    spot = Reading(5 * UM, "5 at 4 o'clock", UM, 120_000, 15_000)
    log(
        book,
        clamping(Turn("tir", (spot,), 16 * MM)),
        clamping(Turn("tir", (spot,), 16 * MM), setup="TAIL", position=""),
    )
    assert [(r.angle_mdeg, r.angle_within_mdeg) for r in rows(book, schema.reading)] == [
        (120_000, 15_000),
        (240_000, 15_000),
    ]


# --- what is refused ---

BAD_TURNS = [
    (Turn("point", read(1, 2), 16 * MM), "at least 3 readings, not 2"),
    (Turn("point", (), 16 * MM), "at least 3 readings, not 0"),
    (Turn("point", read(1, 2, 3, 4, angles_deg=(0, 90, None, 270)), 16 * MM), "have an angle and some have none"),
    (Turn("point", read(1, 2, 3, 4, angles_deg=(0, 90, 90, 270)), 16 * MM), "same angle twice"),
    (Turn("tir", read(5, 6), 16 * MM), "one number, not 2"),
    (Turn("tir", (), 16 * MM), "one number, not 0"),
    (Turn("tir", read(-5), 16 * MM), "'-5' of C-046 is negative"),
    (Turn("tir", read(5), -MM), "distance of C-046 is negative"),
    (Turn("value", read(5), 16 * MM), "Its kind is tir or point"),
    (Turn("value", read(5), 16 * MM, FACE_RUNOUT), "Its kind is tir or point"),
    (Turn("tir", read(5), 16 * MM, "bore"), "Its kind is value"),
    (Turn("point", read(1, 2, 3), 16 * MM, "height"), "Its kind is value"),
]


@pytest.mark.parametrize(("turn", "said"), BAD_TURNS)
def test_a_turn_that_cannot_be_is_refused_and_leaves_nothing(
    sqlite_book: Store, log: Log, turn: Turn, said: str
) -> None:
    assert said in refused(sqlite_book, log, clamping(turn))


def test_the_same_angle_twice_is_seen_across_a_whole_turn(sqlite_book: Store, log: Log) -> None:
    turn = Turn("point", read(1, 2, 3, angles_deg=(0, 120, 360)), 16 * MM)
    assert "same angle twice" in refused(sqlite_book, log, clamping(turn))


@pytest.mark.parametrize(
    ("changes", "error", "said"),
    [
        ({"item": "C-049"}, NotFoundError, "no item 'C-049'"),
        ({"item": "LATHE"}, NotFoundError, "is a setup, not an item"),
        ({"setup": "MILL"}, NotFoundError, "no setup 'MILL'"),
        ({"setup": ""}, RefusedError, "Which setup was C-046 measured in"),
        ({"position": "C"}, NotFoundError, "no key position 'C'"),
        ({"position": ""}, RefusedError, "key positions A, B"),
        ({"pin": "P-9"}, NotFoundError, "no pin 'P-9'"),
        ({"instrument": "D-9"}, NotFoundError, "no instrument 'D-9'"),
        ({"clocking": (("X-1", 0),)}, NotFoundError, "no item 'X-1'"),
        ({"taken_at": "4.3.2026"}, RefusedError, "more than one way"),
        ({"taken_at": "2026-02-30"}, RefusedError, "no date '2026-02-30'"),
        ({"taken_at": "2026-03"}, RefusedError, "has no day"),
        ({"lever_mdeg": 60_001}, RefusedError, "lever angle"),
        ({"lever_mdeg": -1}, RefusedError, "lever angle"),
        ({"note": "x" * 501}, RefusedError, "note is too long"),
        ({"torque": "x" * 501}, RefusedError, "torque is too long"),
    ],
)
def test_a_clamping_that_cannot_be_is_refused_and_leaves_nothing(
    sqlite_book: Store, log: Log, changes: dict[str, Any], error: type[QclogError], said: str
) -> None:
    assert said in refused(sqlite_book, log, clamping(**changes), error)


def test_one_bad_clamping_of_a_batch_leaves_nothing_of_the_others(book: Store, log: Log) -> None:
    with pytest.raises(RefusedError):
        log(book, PLAIN, clamping(Turn("tir", read(-5), 16 * MM)))
    assert rows(book, schema.clamping) == []
    assert len(rows(book, schema.entry)) == 1


def test_other_characteristics_are_plain_values_and_need_no_setup(book: Store, log: Log) -> None:
    below = Turn("value", (Reading(-3 * UM, "-3", UM),), 0, "flushness")
    log(book, Clamping("C-046", "", "2026-03-04", (below,)))
    (row,) = rows(book, schema.clamping)
    assert row.setup_revision_id is None
    assert rows(book, schema.reading)[0].value_pm == -3 * UM


def test_face_runout_is_a_swing(book: Store, log: Log) -> None:
    log(book, clamping(Turn("tir", read(2), 16 * MM, FACE_RUNOUT)))
    assert rows(book, schema.turn)[0].characteristic == FACE_RUNOUT


def test_the_revision_in_force_when_it_was_taken_is_kept(book: Store, log: Log) -> None:
    with new_entry(book, "refit") as entry:
        register = Register(entry.connection)
        setups.refit(entry, register, register.need("LATHE", "setup"), reason="crash", since="2026-03-04T12:00")
    log(book, clamping(taken_at="2026-03-04T11:59"), clamping(taken_at="2026-03-04T12:01"))
    numbers = {row.id: row.number for row in rows(book, schema.setup_revision)}
    assert [numbers[row.setup_revision_id] for row in rows(book, schema.clamping)] == [1, 2]


@given(st.text(st.characters(codec="utf-8")))
def test_the_uuid_of_a_clamping_is_the_name_based_one_of_the_standard(identity: str) -> None:
    """Version 5 of RFC 9562, against the standard library."""
    assert clampings._uuids([identity]) == [str(uuid.uuid5(clampings._NAMESPACE, identity))]


@pytest.mark.parametrize(
    ("angles", "apart"),
    [((0, 90_000, 180_000), True), ((0, 360_000, 90_000), False), ((0, None, 90_000), False), ((None,) * 3, False)],
)
def test_angles_tell_readings_apart(angles: tuple[int | None, ...], apart: bool) -> None:
    assert clampings.tell_apart(angles) is apart
