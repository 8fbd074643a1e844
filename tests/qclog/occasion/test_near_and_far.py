"""An occasion that reads every clamping near the front face and far out, before it is opened."""

from pathlib import Path

import pytest

from qclog.errors import RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.life import read_life
from qclog.logbook.lookup import Register
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted
from qclog.occasion.plan import Plan
from qclog.occasion.progress import MISREAD
from qclog.occasion.writing import figures_of
from qclog.questions.assess import assess
from reports.numbers import METRIC
from reports.occasion import in_the_middle, opening, prompt
from reports.occasion import logged as told_logged

MM = 1_000_000_000
PLAN = Plan("C-046", "LATHE", ("A",), 2 * MM, clampings=2, steps=1, instrument="D-1", also_pm=(16 * MM,))
QUARTERS = Plan("C-046", "LATHE", ("A",), 2 * MM, clampings=1, pin="P-65", instrument="D-1", also_pm=(16 * MM,))


def turns(store: Store) -> list[list[tuple[int, str, tuple[str, ...]]]]:
    with store.reading() as connection:
        life = read_life(connection, "C-046").clampings
    return [
        sorted((turn.distance_pm // MM, turn.kind, turn.texts) for turn in one.turns) for one in life if not one.struck
    ]


def said(guided: Guided) -> str:
    wanted = guided.wanted()
    assert wanted is not None
    return " ".join(prompt(wanted, guided.plan, ""))


def test_each_clamping_is_read_near_and_far_without_opening(sqlite_book: Store, tmp_path: Path) -> None:
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", PLAN))
    assert "2 mm and 16 mm out" in " ".join(opening(PLAN, 0, "", "um"))
    assert "Read at 2 mm out. Turn once round" in said(guided)
    guided.take("3")
    assert said(guided).startswith("Read at 16 mm out, WITHOUT OPENING. Turn once round")
    wanted = guided.wanted()
    assert wanted is not None
    assert "clamping 1 of 2 at position A, 16 mm out; read so far: 3" in in_the_middle(wanted, PLAN, guided.read_so_far)
    guided.take("6")
    assert turns(sqlite_book) == [[(2, "tir", ("3",)), (16, "tir", ("6",))]]
    assert "3.0 µm TIR at 2 mm; 6.0 µm TIR at 16 mm" in told_logged(1, figures_of(sqlite_book, 1), METRIC)
    guided.undo(MISREAD)
    guided.take("6.5")
    guided.take("3.5")
    guided.take("7")
    assert turns(sqlite_book)[0] == [(2, "tir", ("3",)), (16, "tir", ("6.5",))]
    assert guided.over
    (answer,) = assess(sqlite_book, "C-046", setup="LATHE", position="A")
    assert [(group.distance_mm, group.clampings) for group in answer.groups] == [(2.0, 2), (16.0, 2)]
    guided.close()


def test_a_turn_in_steps_at_each_distance_goes_on_where_it_was_stopped(sqlite_book: Store, tmp_path: Path) -> None:
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", QUARTERS))
    for text in ("0", "3", "5", "2", "0", "1", "5", "9"):
        guided.take(text)
    guided.journal.leave()
    (path,) = interrupted(tmp_path, "book")
    guided = Guided(sqlite_book, Journal.resume(path))
    wanted = guided.wanted()
    assert wanted is not None
    assert (wanted.distance_pm, wanted.angle_deg, wanted.reading) == (16 * MM, 270, 4)
    guided.take("5")
    guided.take("1")
    assert turns(sqlite_book) == [[(2, "point", ("0", "3", "5", "2")), (16, "point", ("1", "5", "9", "5"))]]
    guided.close()


def test_the_distance_that_has_a_limit_settles_the_question(sqlite_book: Store, tmp_path: Path) -> None:
    """C-046 has a limit 16 mm out and none near the face."""
    with sqlite_book.reading() as connection:
        register = Register(connection)
        assert [limit.distance_pm for limit in register.limits(register.need("C-046", "item").id)] == [16 * MM]
    plan = Plan("C-046", "LATHE", ("A",), 2 * MM, clampings=20, steps=1, instrument="D-1", also_pm=(16 * MM,))
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    while (wanted := guided.wanted()) is not None:
        guided.take(f"{2 + 0.1 * (wanted.clamping % 3) + (wanted.distance_pm > 2 * MM):.1f}")
    assert guided.settled
    assert len(guided.logged) < 20
    guided.close()


def test_a_distance_named_twice_is_refused() -> None:
    with pytest.raises(RefusedError, match="same distance stands twice"):
        Plan("C-046", "LATHE", ("A",), 2 * MM, also_pm=(2 * MM,))
