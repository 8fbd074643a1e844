"""A study of the measuring at the machine: what is said, what is logged, what changes and what survives a stop."""

from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import gauges, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.life import read_life
from qclog.logbook.lookup import Register
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted
from qclog.occasion.plan import Plan, Stop
from qclog.occasion.planning import Study, planned
from qclog.occasion.progress import BADLY_CLAMPED, MISREAD
from qclog.questions.doubts import Doubt
from qclog.questions.study import study
from qclog.questions.studying.plan import plan_study
from reports.occasion import in_the_middle, opening, prompt

MM, UM = 1_000_000_000, 1_000_000


@pytest.fixture
def book(sqlite_book: Store) -> Store:
    with new_entry(sqlite_book, "pins") as entry:
        register = Register(entry.connection)
        for code, size in (("P-66", 6_480 * UM), ("P-67", 6_480 * UM), ("P-70", 7 * MM)):
            gauges.add_pin(entry, register, code, diameter_pm=size, roundness_pm=None, kind="pin", grade="")
    return sqlite_book


def plan_of(store: Store, **said: object) -> Plan:
    asked: dict[str, Any] = {
        "setup": "LATHE",
        "positions": [],
        "distance_pm": 16 * MM,
        "clampings": 2,
        "steps": 1,
        "until_settled": True,
        "pin": "",
        "instrument": "D-1",
        "operator": "",
        "check": "",
        "study": Study(("P-65", "P-66"), ("AK", "MO"), 2),
    }
    return planned(store, "C-046", **{**asked, **said})


def begun(store: Store, folder: Path, **said: object) -> Guided:
    return Guided(store, Journal.begin(folder, "book", plan_of(store, **said)))


def gone_on(store: Store, folder: Path, guided: Guided) -> Guided:
    """In another program, once the one before is gone."""
    guided.journal.leave()
    (path,) = interrupted(folder, "book")
    return Guided(store, Journal.resume(path))


def said(guided: Guided) -> str:
    wanted = guided.wanted()
    assert wanted is not None
    return " ".join(prompt(wanted, guided.plan, ""))


def read_on(guided: Guided) -> None:
    """The next reading, no five running alike."""
    guided.take(f"{4 + len(guided.journal.events) % 7 / 10:.1f}")


def logged(store: Store) -> list[tuple[Stop, list[tuple[str, ...]]]]:
    """How each clamping that counts was made, and the texts of its turns."""
    with store.reading() as connection:
        life = read_life(connection, "C-046").clampings
    return [
        (Stop(one.position, one.clocking, one.pin, one.operator), [turn.texts for turn in one.turns])
        for one in life
        if not one.struck
    ]


def test_what_is_shown_as_a_plan_is_what_is_measured(book: Store, tmp_path: Path) -> None:
    shown = plan_study(
        book, "C-046", setup="LATHE", pins=["P-65", "P-66"], people=["AK", "MO"], clampings=2, readings=2
    )
    guided = begun(book, tmp_path)
    number = 0
    while guided.wanted() is not None:
        number += 1
        guided.take(f"{4 + number / 10:.1f}")
    made = logged(book)
    assert [stop for stop, _ in made] == [Stop(s.position, "", s.pin, s.person) for s in shown.steps]
    assert [turns for _, turns in made][:2] == [[("4.1",), ("4.2",)], [("4.3",), ("4.4",)]]
    assert (guided.over, len(guided.logged)) == (True, 16)
    (answer,) = study(book, ["C-046"])
    assert (answer.clampings, answer.readings, answer.balanced) == (16, 32, True)
    guided.close()


def test_each_step_is_said_in_words(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    first, second = guided.plan.stops[:2]
    told = " ".join(opening(guided.plan, 0, "", "um"))
    assert "16 clampings, pins P-65, P-66; AK, MO in turn, in an order that was drawn by lot and stays." in told
    assert said(guided).startswith(f"--- clamping 1 of 16: AK, pin {first.pin}, key at {first.position} ---")
    assert f"AK clamps and reads. Pin {first.pin} wiped, in. Key at {first.position}: tighten. KEY OUT." in said(guided)
    assert "Read 1 of 2, the first." in said(guided)
    guided.take("4")
    assert said(guided).startswith("Read 2 of 2, WITHOUT OPENING.")
    guided.take("4.1")
    out = f"{first.pin} right out. Pin {second.pin} wiped, in." if first.pin != second.pin else "right out, wiped, in"
    assert out in said(guided)
    for _ in range(3):
        guided.take("4")
        guided.take("4.1")
    assert "MO clamps and reads from here on." in said(guided)
    guided.journal.leave()


def test_turns_read_in_steps_are_turns_of_one_clamping(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path, steps=4)
    asked = []
    for text in ("0", "3", "5", "2", "0", "1", "4", "6", "3", "1"):
        wanted = guided.wanted()
        assert wanted is not None
        asked.append((wanted.turn, wanted.angle_deg, wanted.new_clamping, wanted.returning))
        guided.take(text)
    assert asked[4:6] == [(1, 0, False, True), (2, 0, False, False)]
    assert [turns for _, turns in logged(book)] == [[("0", "3", "5", "2"), ("1", "4", "6", "3")]]
    with book.reading() as connection:
        (one,) = read_life(connection, "C-046").clampings
    assert {turn.kind for turn in one.turns} == {"point"}
    guided.journal.leave()


def test_it_goes_on_at_any_reading_in_the_order_that_was_drawn(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    order = guided.plan.stops
    for number in range(32):
        wanted = guided.wanted()
        assert wanted is not None
        assert (wanted.clamping, wanted.turn) == (number // 2 + 1, number % 2 + 1)
        guided.take(f"{5 + number / 10:.1f}")
        guided = gone_on(book, tmp_path, guided)
        if number == 4:
            middle = guided.wanted()
            assert middle is not None
            third = order[2]
            assert (
                f"clamping 3 of 16 (AK, pin {third.pin}, key at {third.position}), reading 2 of 2; read so far: 5.4"
                in (in_the_middle(middle, guided.plan, guided.read_so_far))
            )
    assert [stop for stop, _ in logged(book)] == list(order)
    assert [text for _, turns in logged(book) for turn in turns for text in turn] == [
        f"{5 + number / 10:.1f}" for number in range(32)
    ]
    guided.close()


def test_a_misread_last_reading_is_read_again_without_opening(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    guided.take("4.1")
    guided.take("5.9")
    guided.undo(MISREAD)
    assert (logged(book), guided.read_so_far) == ([], ("4.1",))
    guided = gone_on(book, tmp_path, guided)
    assert said(guided).startswith("Read 2 of 2, WITHOUT OPENING.")
    guided.take("4.2")
    assert logged(book) == [(guided.plan.stops[0], [("4.1",), ("4.2",)])]
    guided.undo(MISREAD)
    guided.undo(MISREAD)
    wanted = guided.wanted()
    assert wanted is not None
    assert (wanted.clamping, wanted.new_clamping, guided.badly_clamped) == (1, True, 0)
    guided.journal.leave()


def test_a_clamping_taken_up_again_stays_as_it_was_made(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    guided.take("4.1")
    guided.take("4.2")
    first = guided.logged[0]
    guided.change("pin", "P-67", alone=True)
    guided.take("5.1")
    guided.take("5.2")
    with new_entry(book, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), first, reason="misread")
    guided = gone_on(book, tmp_path, guided)
    guided.undo(MISREAD)
    wanted = guided.wanted()
    assert wanted is not None
    assert wanted.pin == "P-67"
    guided.take("5.3")
    ((stop, turns),) = logged(book)
    assert (stop.pin, turns) == ("P-67", [("5.1",), ("5.3",)])
    guided.journal.leave()


def test_another_pin_from_now_on_takes_the_place_of_the_planned_one(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    while (wanted := guided.wanted()) is not None and not (wanted.clamping > 4 and wanted.pin == "P-66"):
        read_on(guided)
    assert wanted is not None
    guided.change("pin", "p-67", alone=False)
    guided = gone_on(book, tmp_path, guided)
    while (wanted := guided.wanted()) is not None:
        assert wanted.clampings == 16
        read_on(guided)
    before, after = [stop for stop, _ in logged(book)][:4], [stop for stop, _ in logged(book)][4:]
    assert Counter(stop.pin for stop in before) == {"P-65": 2, "P-66": 2}
    assert Counter(stop.pin for stop in after) == {"P-65": 6, "P-67": 6}
    assert [(s.position, s.operator) for s in before + after] == [(s.position, s.operator) for s in guided.plan.stops]
    guided.close()


def test_another_pin_of_the_plan_in_one_clamping_only_changes_the_order_and_no_more(
    book: Store, tmp_path: Path
) -> None:
    guided = begun(book, tmp_path)
    planned_first = guided.plan.stops[0]
    other = "P-66" if planned_first.pin == "P-65" else "P-65"
    guided.change("pin", other, alone=True)
    while guided.wanted() is not None:
        read_on(guided)
    made = [stop for stop, _ in logged(book)]
    assert (made[0].pin, len(made)) == (other, 16)
    assert Counter(made) == Counter(guided.plan.stops)
    guided.close()


def test_a_pin_outside_the_plan_in_one_clamping_only_is_one_clamping_more(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    guided.take("4")
    guided.change("pin", "P-67", alone=True)
    assert guided.read_so_far == ("4",)
    while guided.wanted() is not None:
        read_on(guided)
    made = [stop for stop, _ in logged(book)]
    assert (made[0].pin, len(made)) == ("P-67", 17)
    assert Counter(made[1:]) == Counter(guided.plan.stops)
    guided.close()


def test_another_person_is_noted_with_what_is_read_from_then_on(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    assert (guided.meant("mo"), guided.meant("P-67"), guided.meant("EL")) == ("operator", "pin", None)
    guided.take("4")
    guided.take("4")
    guided.change("operator", "EL", alone=False)
    while guided.wanted() is not None:
        read_on(guided)
    assert Counter(stop.operator for stop, _ in logged(book)) == {"AK": 1, "EL": 7, "MO": 8}
    guided.close()


def test_a_change_that_cannot_be_is_refused_and_nothing_is_noted(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    with pytest.raises(NotFoundError, match="no pin 'P-99'"):
        guided.change("pin", "P-99", alone=True)
    with pytest.raises(RefusedError, match="larger than the bore"):
        guided.change("pin", "P-70", alone=True)
    with pytest.raises(RefusedError, match="tab"):
        guided.change("operator", "A\tK", alone=True)
    assert guided.journal.events == []
    guided.journal.leave()


def test_a_clamping_read_alike_each_time_is_no_indicator_on_hold(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    for text in ("4", "4", "4", "4", "4", "4", "4", "4"):
        assert guided.take(text).doubts == ()
    guided.take("4")
    assert [doubtful.doubt for doubtful in guided.take("4").doubts] == [Doubt.FIVE_EQUAL]
    guided.journal.leave()


def test_a_bad_clamping_of_a_study_is_done_again_and_counted(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path)
    guided.change("pin", "P-67", alone=True)
    guided.take("4")
    guided.undo(BADLY_CLAMPED)
    wanted = guided.wanted()
    assert wanted is not None
    assert (wanted.pin, wanted.new_clamping, guided.badly_clamped) == (guided.plan.stops[0].pin, True, 1)
    guided.journal.leave()


def test_the_check_piece_is_read_once_at_both_ends_of_a_study(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path, check="C-048", study=Study(("P-65",), ("AK",), 3), positions=["A"])
    checks = []
    while (wanted := guided.wanted()) is not None:
        checks.append(wanted.check)
        assert wanted.turns == (1 if wanted.check else 3)
        read_on(guided)
    assert checks == ["start", *6 * [""], "end"]
    assert [len(turns) for _, turns in logged(book)] == [3, 3]
    guided.journal.leave()


def test_another_pin_in_a_plain_occasion_is_noted_too(book: Store, tmp_path: Path) -> None:
    guided = begun(book, tmp_path, study=None, positions=["A"], pin="P-65", operator="AK", until_settled=False)
    guided.take("4")
    guided.change("pin", "P-66", alone=False)
    assert "Pin P-66 right out, wiped, in again." in said(guided)
    guided.take("5")
    assert [stop.pin for stop, _ in logged(book)] == ["P-65", "P-66"]
    assert guided.over
    guided.close()


def test_a_clamping_is_read_ten_times_at_the_most(book: Store) -> None:
    with pytest.raises(RefusedError, match="cannot be read 11 times"):
        plan_of(book, study=Study(("P-65",), (), 11))
