"""A guided occasion: the order of positions, what is wanted, what is lost (nothing) and when it stops."""

import dataclasses
import itertools
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import DamagedError, LengthError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.life import read_life
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted
from qclog.occasion.plan import Plan, Stop
from qclog.occasion.progress import BADLY_CLAMPED, MISREAD
from qclog.questions.doubts import Doubt

PLAN = Plan("C-046", "LATHE", ("A", "B"), 16_000_000_000, clampings=4, steps=1, instrument="D-1", operator="tester")
QUARTERS = dataclasses.replace(PLAN, steps=4)
OPEN: list[Guided] = []


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "occasions"


def _begin(store: Store, folder: Path, plan: Plan = PLAN) -> Guided:
    OPEN.append(Guided(store, Journal.begin(folder, "book", plan)))
    return OPEN[-1]


def _again(store: Store, folder: Path) -> Guided:
    """Goes on in another program, once the one before is gone."""
    while OPEN:
        OPEN.pop().journal.leave()
    (path,) = interrupted(folder, "book")
    OPEN.append(Guided(store, Journal.resume(path)))
    return OPEN[-1]


def _logged(store: Store) -> list[tuple[str, tuple[str, ...]]]:
    with store.reading() as connection:
        life = read_life(connection, "C-046")
    return [(c.position, c.turns[0].texts) for c in life.clampings if not c.struck]


def test_positions_go_there_and_back_so_that_a_steady_drift_favours_none() -> None:
    order = tuple(stop.position for stop in PLAN.order())
    assert order == ("A", "B", "B", "A", "A", "B", "B", "A")
    drift = {position: sum(i for i, at in enumerate(order) if at == position) for position in "AB"}
    assert drift["A"] == drift["B"]
    assert Plan("C-046", "LATHE", ("",), 1, clampings=3).order() == (Stop(""),) * 3


@pytest.mark.parametrize("wrong", [{"clampings": 0}, {"clampings": 51}, {"steps": 5}, {"positions": ("A", "A")}])
def test_a_plan_that_cannot_be_carried_out_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(RefusedError):
        dataclasses.replace(PLAN, **wrong)


def test_every_number_is_a_clamping_at_the_position_wanted(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, dataclasses.replace(PLAN, until_settled=False))
    for i in itertools.count():
        wanted = guided.wanted()
        if wanted is None:
            break
        assert (wanted.clamping, wanted.clampings, wanted.new_clamping) == (i + 1, 8, True)
        guided.take({"A": ("4", "5")[i % 2], "B": ("9", "11")[i % 2]}[wanted.position])
    assert [position for position, _ in _logged(sqlite_book)] == [stop.position for stop in PLAN.order()]
    assert len(guided.logged) == 8


def test_a_turn_is_read_at_its_angles_and_back_at_zero(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    asked = []
    for text in ("0", "3", "5", "2", "0"):
        wanted = guided.wanted()
        assert wanted is not None
        asked.append((wanted.angle_deg, wanted.new_clamping, wanted.returning))
        guided.take(text)
    assert asked == [(0, True, False), (90, False, False), (180, False, False), (270, False, False), (0, False, True)]
    assert _logged(sqlite_book) == [("A", ("0", "3", "5", "2"))]


def test_it_stops_by_itself_once_the_question_is_settled(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, dataclasses.replace(PLAN, clampings=12))
    noise = itertools.cycle((0.0, 0.4, 0.2, 0.6))
    while (wanted := guided.wanted()) is not None:
        guided.take(f"{ {'A': 4.0, 'B': 11.0}[wanted.position] + next(noise):.1f}")
    assert guided.settled
    assert len(guided.logged) == 8  # four of each, the fewest a verdict is given on


def test_it_goes_on_to_the_end_of_the_plan_where_nothing_is_settled(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder)
    swings = itertools.cycle((4.0, 6.0, 7.0, 5.0, 3.5))
    while guided.wanted() is not None:
        guided.take(f"{next(swings):.1f}")
    assert not guided.settled
    assert len(guided.logged) == 8


def test_what_is_no_reading_is_refused_and_changes_nothing(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder)
    before = guided.wanted()
    for text in ("four", "", "4 kg", "-3", "2 tenths"):
        with pytest.raises(LengthError):
            guided.take(text)
    assert guided.wanted() == before
    assert guided.journal.events == []


def test_a_misread_number_is_read_again_and_what_was_logged_is_struck_out(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    guided.take("0")
    guided.take("30")
    guided.undo(MISREAD)
    wanted = guided.wanted()
    assert wanted is not None
    assert wanted.angle_deg == 90
    for text in ("3", "5", "2", "0"):
        guided.take(text)
    assert _logged(sqlite_book) == [("A", ("0", "3", "5", "2"))]
    guided.undo(MISREAD)
    assert _logged(sqlite_book) == []
    wanted = guided.wanted()
    assert wanted is not None
    assert (wanted.clamping, wanted.position, guided.badly_clamped) == (1, "A", 0)


def test_a_bad_clamping_is_done_again_and_counted(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    guided.take("0")
    guided.undo(BADLY_CLAMPED)
    for text in ("0", "3", "5", "2", "0"):
        guided.take(text)
    guided.undo(BADLY_CLAMPED)
    assert guided.badly_clamped == 2
    assert _logged(sqlite_book) == []
    wanted = guided.wanted()
    assert wanted is not None
    assert wanted.new_clamping
    with pytest.raises(RefusedError, match="nothing to take back"):
        guided.undo(MISREAD)


def test_what_looks_like_a_slip_waits_for_an_answer(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder)
    taken = guided.take("90")
    assert [found.doubt for found in taken.doubts] == [Doubt.TEN_TIMES]
    assert guided.wanted() is None
    with pytest.raises(RefusedError):
        guided.take("4")
    guided.it_is_wrong()
    assert _logged(sqlite_book) == []
    assert guided.take("90").doubts
    assert len(guided.it_is_right().logged) == 1
    assert _logged(sqlite_book) == [("A", ("90",))]


@pytest.mark.parametrize("stop", range(12))
def test_an_interrupted_occasion_goes_on_where_it_stopped(sqlite_book: Store, folder: Path, stop: int) -> None:
    texts = ["0", "3", "5", "2", "0"] * 2 + ["0", "4", "6", "3", "0"]
    guided = _begin(sqlite_book, folder, QUARTERS)
    for text in texts[:stop]:
        guided.take(text)
    before = guided.wanted()
    guided = _again(sqlite_book, folder)
    assert guided.wanted() == before
    for text in texts[stop:]:
        guided.take(text)
    assert _logged(sqlite_book) == [
        ("A", ("0", "3", "5", "2")),
        ("B", ("0", "3", "5", "2")),
        ("B", ("0", "4", "6", "3")),
    ]


def test_a_clamping_logged_just_before_a_crash_is_not_logged_twice(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder)
    guided.take("4")
    (path,) = interrupted(folder, "book")
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-1]))  # the logbook has it, the journal does not say so yet
    guided = _again(sqlite_book, folder)
    assert len(guided.complete().logged) == 1
    assert _logged(sqlite_book) == [("A", ("4",))]
    assert guided.wanted() is not None


def test_a_torn_line_is_left_out_and_the_journal_goes_on_behind_it(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    guided.take("0")
    (path,) = interrupted(folder, "book")
    with path.open("ab") as file:
        file.write(b'{"what": "reading", "te')
    guided = _again(sqlite_book, folder)
    guided.take("3")
    assert [event.text for event in _again(sqlite_book, folder).journal.events] == ["0", "3"]


def test_a_clamping_struck_out_by_hand_meanwhile_is_wanted_again(sqlite_book: Store, folder: Path, shop: Any) -> None:
    from qclog.logbook import striking

    guided = _begin(sqlite_book, folder)
    (number,) = guided.take("4").logged
    shop.do(lambda entry, register: striking.strike(entry, register.need("C-046", "item"), number, reason="wrong pin"))
    wanted = _again(sqlite_book, folder).wanted()
    assert wanted is not None
    assert (wanted.clamping, wanted.position) == (1, "A")


def test_an_occasion_is_open_in_one_program_only(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder)
    (path,) = interrupted(folder, "book")
    with pytest.raises(RefusedError, match="open in another window"):
        Journal.resume(path)
    guided.journal.leave()
    Journal.resume(path).leave()


def test_one_unit_typed_among_bare_numbers_is_that_of_the_one_reading(sqlite_book: Store, folder: Path) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    for text in ("0um", "3", "0.005mm", "2", "0"):
        guided.take(text)
    assert _logged(sqlite_book) == [("A", ("0um", "3 um", "0.005mm", "2 um"))]


def test_journals_of_another_logbook_are_left_alone_and_a_damaged_one_is_named(
    sqlite_book: Store, folder: Path
) -> None:
    guided = _begin(sqlite_book, folder)
    assert interrupted(folder, "another") == []
    guided.close()
    assert interrupted(folder, "book") == []
    (folder / "x.jsonl").write_text("nonsense\n", encoding="utf-8")
    with pytest.raises(DamagedError, match=r"x\.jsonl"):
        interrupted(folder, "book")


def test_everything_kept_of_a_reading_is_on_the_disk_before_the_next_is_wanted(
    sqlite_book: Store, folder: Path
) -> None:
    guided = _begin(sqlite_book, folder, QUARTERS)
    guided.take("0")
    (path,) = interrupted(folder, "book")
    assert b'"text": "0"' in path.read_bytes()
    with sqlite_book.reading() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.clamping)) == 0
