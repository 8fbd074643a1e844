"""A check piece, read at the start and at the end: has anything moved?"""

import dataclasses
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.life import read_life
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted
from qclog.occasion.plan import Plan
from qclog.occasion.planning import planned
from qclog.occasion.progress import MISREAD
from qclog.questions.check_piece import CheckPiece

PLAN = Plan(
    "C-046",
    "LATHE",
    ("A", "B"),
    16_000_000_000,
    clampings=1,
    steps=1,
    instrument="D-1",
    operator="tester",
    check="C-048",
)


def _begin(store: Store, folder: Path, plan: Plan = PLAN) -> Guided:
    return Guided(store, Journal.begin(folder, "book", plan))


def _occasion(store: Store, folder: Path, *texts: str, plan: Plan = PLAN) -> Guided:
    guided = _begin(store, folder, plan)
    for text in texts:
        guided.take(text)
    return guided


def _logged(store: Store, item: str) -> list[tuple[str, ...]]:
    with store.reading() as connection:
        life = read_life(connection, item)
    return [(c.position, *c.turns[0].texts) for c in life.clampings if not c.struck]


def test_the_check_piece_is_wanted_first_and_last_and_logged_as_its_own(sqlite_book: Store, tmp_path: Path) -> None:
    guided = _begin(sqlite_book, tmp_path)
    asked = []
    for text in ("2", "4", "9", "3"):
        wanted = guided.wanted()
        assert wanted is not None
        asked.append((wanted.check, wanted.position, wanted.clamping))
        guided.take(text)
    assert asked == [("start", "A", 0), ("", "A", 1), ("", "B", 2), ("end", "A", 2)]
    assert guided.wanted() is None
    assert _logged(sqlite_book, "C-046") == [("A", "4"), ("B", "9")]
    assert _logged(sqlite_book, "C-048") == [("A", "2"), ("A", "3")]
    assert guided.logged == (2, 3)


@pytest.mark.parametrize(("end", "moved"), [("5", False), ("6", True)])
def test_until_its_own_scatter_is_known_three_steps_are_allowed(
    sqlite_book: Store, tmp_path: Path, end: str, moved: bool
) -> None:
    piece = _occasion(sqlite_book, tmp_path, "2", "4", "9", end).checked()
    assert piece is not None
    assert piece == CheckPiece("C-048", 2.0, float(end), float(end) - 2.0, 3.0, 0, directions=False)
    assert piece.moved is moved


def test_its_earlier_readings_say_what_it_may_move(sqlite_book: Store, tmp_path: Path) -> None:
    for _ in range(3):
        guided = _occasion(sqlite_book, tmp_path, "2.0", "4", "9", "2.2")
        guided.close()
    piece = _occasion(sqlite_book, tmp_path, "2.0", "4", "9", "3.1").checked()
    assert piece is not None
    assert (piece.earlier, piece.moved) == (6, True)  # never below a step of the indicator, 1 um
    assert piece.allowed_um == 1.0


def test_with_its_high_spot_known_what_turned_is_seen_too(sqlite_book: Store, tmp_path: Path) -> None:
    plan = dataclasses.replace(PLAN, steps=4)
    there, turned = ("5", "0", "-5", "0", "5"), ("-5", "0", "5", "0", "-5")
    guided = _occasion(sqlite_book, tmp_path, *there, *there, *there, *turned, plan=plan)
    piece = guided.checked()
    assert piece is not None
    assert [piece.start_um, piece.end_um] == pytest.approx([10.0, 10.0])
    assert piece.directions
    assert piece.change_um == pytest.approx(20.0)
    assert piece.moved


def test_what_was_measured_is_struck_out_on_request_and_the_occasion_is_over(
    sqlite_book: Store, tmp_path: Path
) -> None:
    guided = _occasion(sqlite_book, tmp_path, "2", "4", "9", "12")
    guided.strike_all()
    assert guided.wanted() is None
    assert guided.checked() is None
    assert _logged(sqlite_book, "C-046") == []
    assert len(_logged(sqlite_book, "C-048")) == 2


def test_what_is_kept_in_spite_of_it_has_the_doubt_beside_it(sqlite_book: Store, tmp_path: Path) -> None:
    guided = _occasion(sqlite_book, tmp_path, "2", "4", "9", "12")
    guided.keep_in_spite()
    assert guided.checked() is None
    with sqlite_book.reading() as connection:
        rows = connection.execute(sa.select(schema.doubt.c.clamping_id, schema.doubt.c.why, schema.doubt.c.typed)).all()
    assert [tuple(row) for row in rows] == [(number, "check_piece_moved", "C-048") for number in guided.logged]


@pytest.mark.parametrize("stop", range(5))
def test_it_is_asked_for_just_as_well_after_an_interruption(sqlite_book: Store, tmp_path: Path, stop: int) -> None:
    texts = ("2", "4", "9", "12")
    before = _occasion(sqlite_book, tmp_path, *texts[:stop])
    (path,) = interrupted(tmp_path, "book")
    before.journal.leave()
    guided = Guided(sqlite_book, Journal.resume(path))
    assert guided.wanted() == before.wanted()
    for text in texts[stop:]:
        guided.take(text)
    assert (piece := guided.checked()) is not None
    assert piece.moved
    guided.strike_all()
    guided.journal.leave()
    assert Guided(sqlite_book, Journal.resume(path)).wanted() is None


def test_a_misread_check_is_read_again(sqlite_book: Store, tmp_path: Path) -> None:
    guided = _occasion(sqlite_book, tmp_path, "2")
    guided.undo(MISREAD)
    wanted = guided.wanted()
    assert wanted is not None
    assert wanted.check == "start"
    assert _logged(sqlite_book, "C-048") == []


def test_an_item_is_no_check_piece_of_itself(sqlite_book: Store) -> None:
    with pytest.raises(RefusedError, match="cannot be the check piece of itself"):
        planned(
            sqlite_book,
            "C-046",
            setup="LATHE",
            positions=["A"],
            distance_pm=None,
            clampings=1,
            steps=1,
            until_settled=True,
            pin="",
            instrument="",
            operator="",
            check="c-046",
        )
