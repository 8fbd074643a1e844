"""Which clampings tell how a setup's angles are counted, how often each counts, and where that is said."""

import cmath
import dataclasses
import math
from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotFoundError
from qclog.logbook import setups, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.codes import Caveat, SenseState
from qclog.questions.sense import Answer, Body, sense
from qclog.records import Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]
THIRDS = (0, 120, 240)
SEATS = (0.12 + 0.02j, -0.06 - 0.11j, -0.05 + 0.10j)
FAINT = 0.6
"""A run-out that three clampings with these seats do not prove and six do."""


def quarters(axis: complex, distance_mm: int = 16) -> Turn:
    values = [(axis * (-1j) ** k).real for k in range(4)]
    readings = tuple(
        Reading(round(value * UM), f"{value:.2f}", UM // 100, k * 90_000) for k, value in enumerate(values)
    )
    return Turn("point", readings, distance_mm * MM)


def axis_at(turned_deg: float, run_out: complex = 5.0, wrong: bool = False) -> complex:
    return (2 + 1j) + run_out * cmath.exp(1j * math.radians(-turned_deg if wrong else turned_deg))


def clamping(turned: int, *turns: Turn, body: str = "P-65", **changes: Any) -> Clamping:
    made = Clamping("C-046", "LATHE", "2026-03-04", turns, position="A", clocking=((body, turned * 1000),))
    return dataclasses.replace(made, **changes)


def clampings(
    run_out: complex = 5.0, *, wrong: bool = False, angles: Iterable[int] = THIRDS, **changes: Any
) -> list[Clamping]:
    return [clamping(a, quarters(axis_at(a, run_out, wrong) + SEATS[i % 3]), **changes) for i, a in enumerate(angles)]


def of(store: Store, code: str = "LATHE") -> Answer:
    (answer,) = sense(store, code)
    return answer


def only(store: Store) -> Body:
    (body,) = of(store).bodies
    return body


def test_a_setup_nobody_tried_names_what_was_measured_in_it_last(book: Store, log: Log) -> None:
    assert of(book).state is SenseState.NOT_TRIED
    assert dataclasses.astuple(of(book).last_use) == ("", "A", "", None)
    log(book, Clamping("C-047", "LATHE", "2026-03-04", (quarters(3),), position="B", pin="P-65"))
    assert dataclasses.astuple(of(book).last_use) == ("C-047", "B", "P-65", 16.0)
    assert [answer.setup for answer in sense(book)] == ["LATHE", "TAIL"]
    assert of(book, "tail").counted == "counterclockwise"
    with pytest.raises(NotFoundError):
        sense(book, "LATHE-9")


def test_any_states_of_any_body_tell_an_item_as_well(book: Store, log: Log) -> None:
    log(book, *clampings(angles=(0, 90, 180, 270, 45), body="C-046"))
    body = only(book)
    assert (body.code, body.state, body.clampings) == ("C-046", SenseState.PROVEN, 5)


@pytest.mark.parametrize("angles", [(0, 180), (0, 0, 0, 120), (30,)])
def test_fewer_than_three_states_are_no_trial(book: Store, log: Log, angles: tuple[int, ...]) -> None:
    log(book, *clampings(angles=angles))
    assert of(book).state is SenseState.NOT_TRIED


def test_only_the_setup_as_it_is_now_counts(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(wrong=True))
    assert of(sqlite_book).state is SenseState.OTHER_WAY
    with new_entry(sqlite_book, "refit") as entry:
        register = Register(entry.connection)
        setups.refit(entry, register, register.need("LATHE", "setup"), reason="crash", since="2026-03-20")
    assert (of(sqlite_book).state, of(sqlite_book).setup_revision) == (SenseState.NOT_TRIED, 2)
    log(sqlite_book, *clampings(taken_at="2026-03-21"))
    assert of(sqlite_book).state is SenseState.PROVEN


def test_what_is_struck_out_recalled_a_steep_lever_or_a_swing_without_direction_tells_nothing(
    sqlite_book: Store, log: Log
) -> None:
    first, *_ = log(sqlite_book, *clampings())
    with new_entry(sqlite_book, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), first, reason="misread")
    log(sqlite_book, *clampings(recalled=True, label="old"))
    log(sqlite_book, *clampings(instrument="D-1", lever_mdeg=40_000, label="steep"))
    swing = Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM)
    log(sqlite_book, *(clamping(a, swing, label=f"swing {a}") for a in THIRDS))
    assert of(sqlite_book).state is SenseState.NOT_TRIED


def test_places_are_fitted_apart_and_added_up(sqlite_book: Store, log: Log) -> None:
    """The fixed part differs from place to place; in one fit it would drown the body's run-out."""
    here = clampings(FAINT)
    there = [
        dataclasses.replace(one, position="B", turns=(quarters(axis_at(a, FAINT) + 40 + SEATS[(i + 1) % 3]),))
        for i, (a, one) in enumerate(zip(THIRDS, clampings(FAINT), strict=True))
    ]
    log(sqlite_book, *here)
    alone = only(sqlite_book)
    log(sqlite_book, *there, *clampings(FAINT, item="C-047"))
    together = only(sqlite_book)
    assert (alone.clampings, together.clampings) == (3, 9)
    assert (alone.state, together.state) == (SenseState.CANNOT_TELL, SenseState.PROVEN)
    assert [(one.item, len(one.clampings)) for one in together.logged] == [("C-046", 6), ("C-047", 3)]


def test_two_distances_of_the_same_clamping_are_one_witness(sqlite_book: Store, log: Log) -> None:
    both = [
        clamping(a, quarters(axis_at(a, FAINT) + seat, 40), quarters(axis_at(a, FAINT) + seat, 16))
        for a, seat in zip(THIRDS, SEATS, strict=True)
    ]
    log(sqlite_book, *both)
    body = only(sqlite_book)
    assert (body.state, body.clampings) == (SenseState.CANNOT_TELL, 3)
    log(sqlite_book, *clampings(FAINT, label="again", sitting="again"))
    assert (only(sqlite_book).state, only(sqlite_book).clampings) == (SenseState.PROVEN, 6)


def test_of_two_distances_the_one_farther_out_tells(sqlite_book: Store, log: Log) -> None:
    leaning = [
        clamping(a, quarters(axis_at(a, 0.0) + seat, 16), quarters(axis_at(a, 5.0) + seat, 40))
        for a, seat in zip(THIRDS, SEATS, strict=True)
    ]
    log(sqlite_book, *leaning)
    assert only(sqlite_book).state is SenseState.PROVEN


def test_bodies_beside_it_have_to_stand_still(sqlite_book: Store, log: Log) -> None:
    for a, b in zip(THIRDS, (0, 240, 120), strict=True):
        log(sqlite_book, clamping(a, quarters(axis_at(a)), clocking=(("C-046", b * 1000), ("P-65", a * 1000))))
    assert of(sqlite_book).state is SenseState.NOT_TRIED
    still = [
        dataclasses.replace(one, clocking=(("C-046", 90_000), *one.clocking), label=str(i))
        for i, one in enumerate(clampings())
    ]
    log(sqlite_book, *still)
    assert (only(sqlite_book).code, only(sqlite_book).state) == ("P-65", SenseState.PROVEN)


def test_of_several_bodies_the_one_counted_wrongly_decides(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(), *clampings(wrong=True, body="K-1"), *clampings(0.01, body="C-046", label="x"))
    answer = of(sqlite_book)
    assert [(body.code, body.state) for body in answer.bodies] == [
        ("K-1", SenseState.OTHER_WAY),
        ("P-65", SenseState.PROVEN),
        ("C-046", SenseState.CANNOT_TELL),
    ]
    assert answer.state is SenseState.OTHER_WAY


def test_the_more_bodies_are_tried_the_more_each_has_to_show(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(1.25))
    alone = only(sqlite_book)
    assert 105 < alone.ratio < 180  # F of 2 and 2 at 1 % is 99, at 0.5 % it is 199
    assert alone.state is SenseState.PROVEN
    log(sqlite_book, *clampings(0.0, item="C-048", body="K-1"))
    bodies = {body.code: body for body in of(sqlite_book).bodies}
    assert bodies["P-65"] == dataclasses.replace(alone, state=SenseState.CANNOT_TELL)


# --- sittings ---


def _days(angles: Iterable[int], each: int, day_scatter: float, rng: np.random.Generator, run_out: float) -> Any:
    for day, angle in enumerate(angles, start=1):
        shift = day_scatter * complex(*rng.normal(size=2))
        for k in range(each):
            axis = axis_at(angle, run_out) + shift + 0.1 * complex(*rng.normal(size=2))
            yield clamping(angle, quarters(axis), taken_at=f"2026-03-{day:02d}", label=f"{day} {k}")


def test_one_clocking_a_day_tells_by_the_means_of_the_days(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *_days(THIRDS, 4, 0.1, np.random.default_rng(1), 8.0))
    assert (only(sqlite_book).state, only(sqlite_book).clampings) == (SenseState.PROVEN, 12)


def test_clampings_of_one_day_at_one_clocking_are_no_independent_witnesses(sqlite_book: Store, log: Log) -> None:
    """Days that differ far more than clampings do, a pin that runs true: with each clamping as a witness of its own
    about every third such trial would be called proven, one way or the other (own simulation)."""
    rng = np.random.default_rng(12)
    items = [("C-046", "A"), ("C-046", "B"), ("C-047", "A"), ("C-047", "B"), ("C-048", "A"), ("C-048", "B")]
    wrongly = 0
    for month, (item, position) in enumerate(items * 2, start=1):
        with new_entry(sqlite_book, "refit") as entry:
            register = Register(entry.connection)
            setups.refit(
                entry, register, register.need("LATHE", "setup"), reason="re-seated", since=f"2027-{month:02d}-01T00:00"
            )
        made = [
            dataclasses.replace(one, taken_at=f"2027-{month:02d}-{i // 5 + 2:02d}T10:00", item=item, position=position)
            for i, one in enumerate(_days(THIRDS, 5, 1.0, rng, 0.0))
        ]
        log(sqlite_book, *made)
        wrongly += of(sqlite_book).state is not SenseState.CANNOT_TELL
        assert only(sqlite_book).clampings == 15
    assert wrongly == 0


def test_a_day_with_two_clockings_tells_nothing_beside_days_with_one(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(angles=(0, 120)), *clampings(angles=(240,), taken_at="2026-03-05"))
    log(sqlite_book, *clampings(angles=(120,), taken_at="2026-03-06"))
    assert of(sqlite_book).state is SenseState.NOT_TRIED


def test_the_same_three_days_serve_one_place_only(sqlite_book: Store, log: Log) -> None:
    made = [
        dataclasses.replace(one, taken_at=f"2026-03-{day:02d}", item=item)
        for item in ("C-046", "C-047")
        for day, one in enumerate(clampings(FAINT), start=1)
    ]
    log(sqlite_book, *made)
    assert (only(sqlite_book).clampings, only(sqlite_book).state) == (3, SenseState.CANNOT_TELL)


# --- how well a vector is known ---


def _swing(axis: complex, *, step_um: float = 1.0, within_mdeg: int = 0) -> Turn:
    high = round(math.degrees(cmath.phase(axis)) % 360 * 1000)
    return Turn("tir", (Reading(round(2 * abs(axis) * UM), "x", round(step_um * UM), high, within_mdeg),), 16 * MM)


def test_clampings_that_agree_better_than_the_step_prove_no_more_than_it(sqlite_book: Store, log: Log) -> None:
    for step, state in ((1.0, SenseState.PROVEN), (10.0, SenseState.CANNOT_TELL)):
        turns = [(a, _swing(axis_at(a, 3.0), step_um=step)) for a in THIRDS]
        log(sqlite_book, *(clamping(a, turn, item="C-047", sitting=str(step), label=str(step)) for a, turn in turns))
        assert only(sqlite_book).state is state
        for number in only(sqlite_book).logged[0].clampings:
            with new_entry(sqlite_book, "strike") as entry:
                item = Register(entry.connection).need("C-047", "item")
                striking.strike(entry, item, number, reason="next case")


def test_high_spots_by_the_clock_prove_no_more_than_the_eye_can_see(sqlite_book: Store, log: Log) -> None:
    turns = [(a, _swing(20 + 2 * cmath.exp(1j * math.radians(a)), step_um=0.1, within_mdeg=15_000)) for a in THIRDS]
    log(sqlite_book, *(clamping(a, turn) for a, turn in turns))
    assert only(sqlite_book).state is SenseState.CANNOT_TELL
    turns = [
        (a, dataclasses.replace(t, readings=(dataclasses.replace(t.readings[0], angle_within_mdeg=0),)))
        for a, t in turns
    ]
    log(sqlite_book, *(clamping(a, turn, sitting="exact", item="C-047") for a, turn in turns))
    assert only(sqlite_book).ratio < 99
    log(
        sqlite_book, *(clamping(a, turn, sitting="exact", item="C-048", setup="TAIL", position="") for a, turn in turns)
    )
    assert of(sqlite_book, "TAIL").state is SenseState.PROVEN


# --- where it is said ---


def test_assess_warns_of_every_shown_eccentricity_in_that_setup_and_of_none_elsewhere(
    sqlite_book: Store, log: Log
) -> None:
    log(sqlite_book, *clampings(wrong=True, item="C-048"))
    log(
        sqlite_book,
        Clamping("C-046", "LATHE", "2026-03-04", (quarters(2),), position="A"),
        Clamping("C-046", "LATHE", "2026-03-04", (Turn("tir", (Reading(5 * UM, "5", UM),), 16 * MM),), position="B"),
        Clamping("C-046", "TAIL", "2026-03-04", (quarters(2),)),
    )
    for answers in (assess(sqlite_book), assess(sqlite_book, "C-046")):
        groups = [group for answer in answers for group in answer.groups if group.item == "C-046"]
        warned = {(g.setup, g.position): Caveat.SENSE_WRONG in g.caveats for g in groups}
        assert warned == {("LATHE", "A"): True, ("LATHE", "B"): False, ("TAIL", ""): False}
    with new_entry(sqlite_book, "refit") as entry:
        register = Register(entry.connection)
        setups.refit(entry, register, register.need("LATHE", "setup"), reason="crash", since="2026-03-20")
    assert not any(Caveat.SENSE_WRONG in g.caveats for answer in assess(sqlite_book) for g in answer.groups)


@pytest.mark.parametrize("run_out", [5.0, 0.01])
def test_a_sense_that_is_proven_or_cannot_be_told_is_no_caveat(sqlite_book: Store, log: Log, run_out: float) -> None:
    log(sqlite_book, *clampings(run_out))
    assert of(sqlite_book).state in (SenseState.PROVEN, SenseState.CANNOT_TELL)
    assert not any(Caveat.SENSE_WRONG in g.caveats for answer in assess(sqlite_book) for g in answer.groups)
