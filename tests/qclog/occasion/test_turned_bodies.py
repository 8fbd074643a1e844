"""An occasion in which bodies are turned against each other: what is said, what is logged, what is done again."""

import cmath
import math
from pathlib import Path
from typing import Any

import pytest

from qclog.errors import RefusedError
from qclog.logbook import striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.life import read_life
from qclog.logbook.lookup import Register
from qclog.notation import parse_clocking, parse_turnable
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted
from qclog.occasion.plan import Plan
from qclog.occasion.planning import planned
from qclog.occasion.wanted import Wanted
from qclog.questions.chain import chain
from qclog.questions.codes import Clocking
from reports.chain import chains
from reports.occasion import prompt

PARTS = {"": 2 * cmath.exp(0.4j), "C-046": 4 * cmath.exp(2.4j), "P-65": 1 + 0j, "K-1": 2j}


def plan_of(store: Store, **said: object) -> Plan:
    asked: dict[str, Any] = {
        "setup": "LATHE",
        "positions": ["A"],
        "distance_pm": None,
        "clampings": None,
        "steps": 4,
        "until_settled": True,
        "pin": "P-65",
        "instrument": "D-1",
        "operator": "tester",
        "check": "",
    }
    return planned(store, "C-046", **{**asked, **said})


def reading(wanted: Wanted) -> str:
    turned = {one.body: one.angle_mdeg / 1000 for one in wanted.bodies}
    axis = PARTS[""] + sum(PARTS[body] * cmath.exp(1j * math.radians(at)) for body, at in turned.items())
    assert wanted.angle_deg is not None
    return f"{(axis * cmath.exp(-1j * math.radians(wanted.angle_deg))).real:.1f}um"


def go_on(guided: Guided, clampings: int) -> None:
    for _ in range(5 * clampings):
        wanted = guided.wanted()
        assert wanted is not None
        guided.take(reading(wanted))


def logged(store: Store) -> list[str]:
    with store.reading() as connection:
        return [one.clocking for one in read_life(connection, "C-046").clampings if not one.struck]


def test_a_whole_plan_tells_who_owns_the_run_out(sqlite_book: Store, tmp_path: Path) -> None:
    plan = plan_of(sqlite_book, turn=parse_turnable("C-046, P-65"))
    assert (len(plan.clockings), plan.clampings, plan.until_settled) == (6, 1, False)
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    go_on(guided, 6)
    assert guided.over
    assert logged(sqlite_book) == list(plan.clockings)
    (answer,) = chain(sqlite_book, "C-046")
    assert answer.decisive.owner == ("C-046",)
    assert answer.advice.what is Clocking.TURN
    guided.close()


def test_where_marks_go_is_said_from_the_spindle_out(sqlite_book: Store, tmp_path: Path) -> None:
    plan = plan_of(sqlite_book, turn=parse_turnable("P-65, K-1, C-046"))
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    wanted = guided.wanted()
    assert wanted is not None
    said = " ".join(prompt(wanted, plan, ""))
    assert "Marks: chuck K-1 to 0°; collet C-046 to 0°; pin P-65 to 0°." in said
    go_on(guided, 1)
    wanted = guided.wanted()
    assert wanted is not None
    first, second = (dict(parse_clocking(clocking)) for clocking in plan.clockings[:2])
    for one in wanted.bodies:
        assert one.angle_mdeg == second[one.body]
        assert one.moved is (first[one.body] != second[one.body])
    assert "again at" in prompt(wanted, plan, "")[1] or all(one.moved for one in wanted.bodies)
    guided.journal.leave()


def test_an_occasion_cut_off_goes_on_with_the_clocking_that_is_missing(sqlite_book: Store, tmp_path: Path) -> None:
    plan = plan_of(sqlite_book, turn=parse_turnable("C-046, P-65"))
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    go_on(guided, 3)
    second = guided.logged[1]
    guided.journal.leave()
    with new_entry(sqlite_book, "strike") as entry:
        owner = Register(entry.connection).need("C-046", "item")
        striking.strike(entry, owner, second, reason="misread")
    (path,) = interrupted(tmp_path, "book")
    again = Guided(sqlite_book, Journal.resume(path))
    wanted = again.wanted()
    assert wanted is not None
    assert {one.body: one.angle_mdeg for one in wanted.bodies} == dict(parse_clocking(plan.clockings[1]))
    go_on(again, 4)
    assert again.over
    assert sorted(logged(sqlite_book)) == sorted(plan.clockings)
    again.close()


def test_one_clocking_is_confirmed_three_times(sqlite_book: Store, tmp_path: Path) -> None:
    plan = plan_of(sqlite_book, clocking="P-65=0 C-046=60")
    assert (plan.clockings, plan.clampings) == (("C-046=60 P-65=0",), 3)
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    go_on(guided, 3)
    assert logged(sqlite_book) == ["C-046=60 P-65=0"] * 3
    guided.close()


def test_a_setup_counted_the_other_way_is_planned_and_told_as_it_counts(sqlite_book: Store, tmp_path: Path) -> None:
    """Everything typed is the mirror image of what stands in the logbook; what is advised is typed back."""
    plan = plan_of(sqlite_book, setup="TAIL", positions=[], distance_pm=16 * 10**9, turn=parse_turnable("C-046, P-65"))
    guided = Guided(sqlite_book, Journal.begin(tmp_path, "book", plan))
    go_on(guided, 6)
    guided.close()
    (answer,) = chain(sqlite_book, "TAIL")
    assert answer.now == "C-046=0 P-65=180"
    assert logged(sqlite_book)[1] == "C-046=240 P-65=180"
    collet = answer.decisive.parts[1]
    assert collet.high_spot_deg == pytest.approx(360 - math.degrees(2.4), abs=2)
    (turn,) = answer.advice.turn
    best = min(range(0, 360, 10), key=lambda at: abs(PARTS[""] + PARTS["C-046"] * cmath.exp(1j * math.radians(at))))
    assert turn.to_deg == 360 - best
    assert f'--clocking "C-046={best} P-65=180"' in chains([answer])


def test_what_does_not_go_with_turned_bodies_is_refused(sqlite_book: Store) -> None:
    with pytest.raises(RefusedError, match="Swings alone"):
        plan_of(sqlite_book, turn=parse_turnable("C-046"), steps=1)
    with pytest.raises(RefusedError, match="at one key position"):
        plan_of(sqlite_book, turn=parse_turnable("C-046"), positions=["A", "B"])


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("C-046", (("C-046", ()),)),
        ("S-1 = 0 / 180, C-046;P-3", (("S-1", (0, 180_000)), ("C-046", ()), ("P-3", ()))),
        ("K-1=0/120/240 P-3", (("K-1", (0, 120_000, 240_000)), ("P-3", ()))),
    ],
)
def test_what_can_be_turned_is_typed_as_codes_with_their_angles(
    typed: str, meant: tuple[tuple[str, tuple[int, ...]], ...]
) -> None:
    assert parse_turnable(typed) == meant


@pytest.mark.parametrize("typed", ["C-046=", "C-046=0", "C-046=0/360", "=0/180", "C-046, c-046", "C-046=0/400"])
def test_what_cannot_be_turned_so_is_refused(typed: str) -> None:
    with pytest.raises(RefusedError):
        parse_turnable(typed)
