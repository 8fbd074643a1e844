"""Who owns the run-out, from what stands in the logbook: what is told and advised, what is withheld and why."""

import cmath
import dataclasses
import json
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotAnswerableError, NotFoundError, RefusedError
from qclog.logbook import striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.items import inspect_item
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.chain import Answer, chain, document
from qclog.questions.chains.plan import plan_chain
from qclog.questions.codes import Caveat, Clocking, SenseState
from qclog.questions.sense import sense
from qclog.records import Clamping, Reading, Turn
from qclog.statistics.chains.index_plan import index_plan

UM = 1_000_000
MM = 1_000_000_000
Log = Callable[..., list[int]]
STAYS, COLLET, PIN = (cmath.rect(size / 2, math.radians(at)) for size, at in ((4, 20), (9, 140), (2, 260)))
SIX = index_plan((None, None)).runs
HALVES = ((0, 0), (180, 180), (180, 0), (0, 180))


def known(value: float | None) -> float:
    assert value is not None
    return value


def turn(axis: complex, distance_mm: int = 16) -> Turn:
    """Quarter turns; a high spot at 0 reads high as the mark passes."""
    values = [(axis * (-1j) ** k).real for k in range(4)]
    readings = tuple(
        Reading(round(value * UM), f"{value:.2f}", UM // 100, k * 90_000) for k, value in enumerate(values)
    )
    return Turn("point", readings, distance_mm * MM)


def swing(size_um: float) -> Turn:
    return Turn("tir", (Reading(round(size_um * UM), f"{size_um:.2f}", UM // 100),), 16 * MM)


def axis_of(angles: Sequence[float], parts: Sequence[complex] = (STAYS, COLLET, PIN)) -> complex:
    return parts[0] + sum(part * cmath.exp(1j * math.radians(at)) for part, at in zip(parts[1:], angles, strict=True))


def clampings(
    runs: Iterable[Sequence[float]],
    *,
    scatter: float = 0.2,
    wrong: bool = False,
    turns: Callable[[complex, complex], Sequence[Turn]] | None = None,
    bodies: Sequence[str] = ("C-046", "P-65"),
    **changes: Any,
) -> list[Clamping]:
    """A clamping for each run, moved by a scatter that adds up to nothing in six."""
    made = []
    for number, angles in enumerate(runs):
        moved = scatter * cmath.exp(2j * math.pi * number * number / 7)
        axis = axis_of([-at for at in angles] if wrong else angles) + moved
        clocking = tuple((body, round(at * 1000)) for body, at in zip(bodies, angles, strict=True))
        read = turns(axis, moved) if turns is not None else (turn(axis),)
        taken = f"2026-03-04T{8 + number:02d}:00"
        one = Clamping("C-046", "LATHE", taken, tuple(read), position="A", clocking=clocking)
        made.append(dataclasses.replace(one, pin="P-65", **changes))
    return made


def only(store: Store, code: str | None = "C-046", **asked: Any) -> Answer:
    (answer,) = chain(store, code, **asked)
    return answer


def test_the_owner_and_the_best_clocking_of_a_chain_that_was_told_apart(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    answer = only(sqlite_book)
    assert (answer.bodies, answer.kinds, answer.pins) == (("C-046", "P-65"), ("collet", "pin"), ("P-65",))
    assert (answer.unturned, answer.sense) == (("S-1", "K-1"), SenseState.PROVEN)
    stays, collet, pin = answer.decisive.parts
    assert (stays.tir_um, collet.tir_um, pin.tir_um) == pytest.approx((4, 9, 2), abs=0.5)
    assert collet.high_spot_deg == pytest.approx(140, abs=4)
    assert known(stays.low_um) < 4 < known(stays.high_um)
    assert answer.decisive.owner == ("C-046",)
    assert (answer.decisive.limit_um, answer.decisive.limit_from) == (8.0, "item")
    # opposite to what stays: 20 + 180 - 140 = 60
    assert answer.advice.what is Clocking.TURN
    assert [(one.body, one.to_deg) for one in answer.advice.turn] == [("C-046", 60.0)]
    assert answer.advice.expected_um == pytest.approx(9 - 4, abs=0.7)
    assert known(answer.advice.bound_um) > known(answer.advice.expected_um)
    rest = axis_of(SIX[-1]) - PIN * cmath.exp(1j * math.radians(SIX[-1][1]))
    assert pin.without_um == pytest.approx(2 * abs(rest), abs=0.5)
    assert (answer.add, Caveat.ONE_SITTING in answer.caveats, Caveat.PIN_COUNTS in answer.caveats) == ("", True, False)


def test_the_document_is_plain_json_with_every_key_told(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    told = json.loads(json.dumps(document(chain(sqlite_book, "C-046"))))
    assert told["question"] == "chain"
    (answer,) = told["answers"]
    assert answer["advice"]["what"] == "turn"
    assert answer["distances"][0]["parts"][1]["bodies"] == ["C-046"]
    for record in (
        Answer,
        type(only(sqlite_book).advice),
        type(only(sqlite_book).decisive),
        type(only(sqlite_book).decisive.parts[0]),
    ):
        doc = record.__doc__ or ""
        plain = {"item", "modification", "setup", "setup_revision", "position", "diameter_mm", "characteristic"}
        plain |= {"distance_mm", "clampings", "sittings", "parts", "distances", "sense", "limit_um", "limit_from"}
        missing = [f.name for f in dataclasses.fields(record) if f"``{f.name}``" not in doc and f.name not in plain]
        assert not missing, (record, missing)


def test_a_setup_and_all_are_asked_alike(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    assert [answer.item for answer in chain(sqlite_book, "LATHE")] == ["C-046"]
    assert [answer.item for answer in chain(sqlite_book, "P-65")] == ["C-046"]
    assert chain(sqlite_book, "C-047") == []
    assert chain(sqlite_book, "TAIL") == []
    assert chain(sqlite_book, "C-046", setup="TAIL") == []
    assert chain(sqlite_book) == chain(sqlite_book, "C-046")
    with pytest.raises(NotFoundError):
        chain(sqlite_book, "C-999")


def test_angles_counted_the_wrong_way_round_advise_nothing(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX, wrong=True))
    answer = only(sqlite_book)
    assert (answer.sense, answer.advice.what, answer.advice.turn) == (SenseState.OTHER_WAY, Clocking.SENSE_WRONG, ())
    assert sense(sqlite_book, "LATHE")[0].state is SenseState.OTHER_WAY


def test_a_chain_with_a_cracked_part_advises_nothing(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    with new_entry(sqlite_book, "inspect") as entry:
        register = Register(entry.connection)
        inspect_item(entry, register, register.need("K-1", "item"), finding="crack", seen_on="2026-03-05", note="")
    assert only(sqlite_book).advice.what is Clocking.LOCKED


def test_a_plan_in_which_no_body_is_turned_alone_proves_the_sense_too(sqlite_book: Store, log: Log) -> None:
    nine = index_plan((None, None, None)).runs
    made = clampings([run[1:] for run in nine])
    parts = (STAYS, COLLET / 2, COLLET, PIN)
    bodies = ("K-1", "C-046", "P-65")
    turned = [
        dataclasses.replace(
            one,
            turns=(turn(axis_of(run, parts)),),
            clocking=tuple((body, round(at * 1000)) for body, at in zip(bodies, run, strict=True)),
        )
        for one, run in zip(made, nine, strict=True)
    ]
    log(sqlite_book, *turned)
    (told,) = sense(sqlite_book, "LATHE")
    assert told.state is SenseState.PROVEN


def test_half_turns_alone_need_no_sense_and_advise_half_turns(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(HALVES * 2))
    answer = only(sqlite_book)
    assert answer.sense is SenseState.NOT_TRIED
    best = min((0, 180), key=lambda at: abs(STAYS + COLLET * cmath.exp(1j * math.radians(at))))
    if answer.advice.what is Clocking.TURN:
        assert [one.to_deg for one in answer.advice.turn] == [best]
    else:
        assert answer.advice.what is Clocking.NOTHING_BETTER
    assert answer.advice.half_turns_only


def test_other_angles_without_a_proven_sense_advise_nothing(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([(0, 0), (90, 0), (0, 180), (90, 180)] * 2))
    assert only(sqlite_book).advice.what is Clocking.SENSE_NOT_PROVEN


def test_two_settings_are_the_reversal_and_say_what_is_missing(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([(0, 0), (180, 0)], scatter=0.0))
    answer = only(sqlite_book)
    stays, collet = answer.decisive.parts
    assert stays.bodies == ("P-65",)
    assert stays.tir_um == pytest.approx(2 * abs(STAYS + PIN), abs=0.02)
    assert collet.tir_um == pytest.approx(9, abs=0.02)
    assert (collet.low_um, collet.circle_um, answer.decisive.repeat_um) == (None, None, None)
    assert answer.advice.what is Clocking.REPEAT_NOT_KNOWN
    assert answer.add == "C-046=180 P-65=180"
    assert Caveat.PIN_COUNTS in answer.caveats


def test_bodies_always_turned_together_are_named_together(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([(0, 0), (120, 120), (240, 240), (0, 0)]))
    answer = only(sqlite_book)
    assert [part.bodies for part in answer.decisive.parts] == [(), ("C-046", "P-65")]
    assert answer.advice.what is Clocking.NOT_PARTED
    assert answer.add


def test_a_pin_alone_is_nothing_to_clock(sqlite_book: Store, log: Log) -> None:
    runs = [(0,), (120,), (240,), (0,)]
    parts = (STAYS, PIN)
    made = [
        dataclasses.replace(one, turns=(turn(axis_of(run, parts)),))
        for one, run in zip(clampings([(0, run[0]) for run in runs]), runs, strict=True)
    ]
    log(sqlite_book, *(dataclasses.replace(one, clocking=one.clocking[1:]) for one in made))
    assert only(sqlite_book).advice.what is Clocking.NOTHING_TO_TURN


def test_the_repeat_of_the_shop_serves_where_the_runs_leave_none(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([(0, 0), (180, 0), (0, 180)], scatter=0.0))
    assert only(sqlite_book).decisive.repeat_um is None
    seats = [turn(3 + 0.5j * (-1) ** i) for i in range(6)]
    others = [
        Clamping("C-047", "LATHE", f"2026-03-03T{8 + i:02d}:00", (seat,), position="A", pin="P-65")
        for i, seat in enumerate(seats)
    ]
    log(sqlite_book, *others)
    told = only(sqlite_book).decisive
    assert (told.repeat_from, told.repeat_df) == ("shop", 10)
    assert told.repeat_um == pytest.approx(2 * math.sqrt(6 * 0.25 / 10), rel=1e-3)
    assert told.parts[1].circle_um is not None


def test_two_distances_give_tilt_and_any_overhang(sqlite_book: Store, log: Log) -> None:
    """A chain with tilt, exact: at 100 mm what 10 and 60 mm carry on to."""
    tilt = 0.02 * cmath.exp(1j)

    def both(axis: complex, moved: complex) -> tuple[Turn, Turn]:
        return turn(axis, 10), turn(axis + 50 * tilt + 0.3 * moved, 60)

    log(sqlite_book, *clampings(SIX, turns=both))
    answer = only(sqlite_book, at_mm=100.0)
    assert [(one.distance_mm, one.extrapolated) for one in answer.distances] == [(10, False), (60, False), (100, True)]
    near, far, there = (one.parts[0] for one in answer.distances)

    def vector(part: Any) -> complex:
        return complex(cmath.rect(part.tir_um, math.radians(part.high_spot_deg)))

    assert vector(there) == pytest.approx(vector(near) * -0.8 + vector(far) * 1.8, abs=1e-6)
    assert cmath.rect(known(near.tilt_um), math.radians(known(near.tilt_deg))) == pytest.approx(200 * tilt, abs=0.5)
    assert answer.between_distances == pytest.approx(1.0, abs=0.05)
    # sd at z: |w1 s1 + w2 s2| for scatter fully correlated, s2 = 1.3 s1
    first, _, third = answer.distances
    assert known(third.repeat_um) / known(first.repeat_um) == pytest.approx(-0.8 + 1.8 * 1.3, abs=0.05)
    assert Caveat.FAR_OUT not in answer.caveats
    assert Caveat.FAR_OUT in only(sqlite_book, at_mm=170.0).caveats


def test_another_overhang_takes_two_distances(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    with pytest.raises(RefusedError, match="one distance"):
        chain(sqlite_book, "C-046", at_mm=100.0)


def test_swings_alone_give_both_sizes_and_leave_open_whose(sqlite_book: Store, log: Log) -> None:
    runs = [(0, 0), (90, 0), (180, 0), (270, 0)]
    log(sqlite_book, *clampings(runs, scatter=0.0, turns=lambda axis, _: (swing(2 * abs(axis)),)))
    answer = only(sqlite_book)
    assert answer.advice.what is Clocking.NO_HIGH_SPOTS
    assert answer.swings_alone is not None
    assert answer.swings_alone.body == "C-046"
    assert answer.swings_alone.larger_um == pytest.approx(9, abs=0.05)
    assert answer.swings_alone.smaller_um == pytest.approx(2 * abs(STAYS + PIN), abs=0.05)


def test_high_spots_by_eye_advise_no_clocking(sqlite_book: Store, log: Log) -> None:
    def seen(axis: complex, _: complex) -> tuple[Turn]:
        hour = round(math.degrees(cmath.phase(axis)) % 360 / 30) % 12 * 30_000
        return (Turn("tir", (Reading(round(2 * abs(axis) * UM), "9", UM, hour, 15_000),), 16 * MM),)

    log(sqlite_book, *clampings([*SIX, *SIX[::-1]], scatter=0.0, turns=seen))
    assert only(sqlite_book).advice.what in (Clocking.BY_EYE, Clocking.SENSE_NOT_PROVEN)


def test_what_was_struck_out_or_has_no_high_spot_is_left_out_and_said(sqlite_book: Store, log: Log) -> None:
    first, *_ = log(sqlite_book, *clampings([*SIX, *SIX[::-1]]))
    with new_entry(sqlite_book, "strike") as entry:
        striking.strike(entry, Register(entry.connection).need("C-046", "item"), first, reason="misread")
    log(sqlite_book, *clampings(SIX[:1], turns=lambda *_: (swing(5),), taken_at="2026-03-04T22:00"))
    answer = only(sqlite_book)
    assert answer.decisive.clampings == 11
    assert Caveat.NO_HIGH_SPOT_LEFT_OUT in answer.caveats


def test_what_is_turned_can_be_bounded(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    answer = only(sqlite_book, turn={"c-046": (0.0, 180.0)})
    assert all(one.to_deg in (0.0, 180.0) for one in answer.advice.turn)
    assert only(sqlite_book, turn={"p-65": None}).advice.what is Clocking.NOTHING_TO_TURN


def test_a_whole_day_that_lies_elsewhere_leaves_the_bodies_where_they_are(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings(SIX))
    before = only(sqlite_book)
    moved = [
        dataclasses.replace(one, taken_at=f"2026-03-05T{8 + i:02d}:00", turns=(turn(axis_of(run) + 3 + 2j),))
        for i, (one, run) in enumerate(zip(clampings(SIX), SIX, strict=True))
    ]
    log(sqlite_book, *moved)
    after = only(sqlite_book)
    assert after.decisive.sittings == 2
    for part, same in zip(before.decisive.parts[1:], after.decisive.parts[1:], strict=True):
        assert same.tir_um == pytest.approx(part.tir_um, abs=0.3)
    assert known(after.decisive.parts[0].circle_um) > 2 * known(before.decisive.parts[0].circle_um)


def test_clockings_that_were_only_tried_are_no_verdict_on_the_item(sqlite_book: Store, log: Log) -> None:
    """The plan reads far over the limit of 8; as clocked for work it stays below."""
    log(sqlite_book, *clampings(SIX))
    (answer,) = assess(sqlite_book, "C-046")
    assert [group.clocking for group in answer.groups] == ["C-046=0 P-65=180"]
    used = [
        dataclasses.replace(one, taken_at=f"2026-03-04T{18 + i}:00") for i, one in enumerate(clampings([(60, 0)] * 3))
    ]
    log(sqlite_book, *used)
    (answer,) = assess(sqlite_book, "C-046")
    assert [(group.clocking, group.clampings) for group in answer.groups] == [("C-046=60 P-65=0", 3)]
    assert only(sqlite_book).now == "C-046=60 P-65=0"
    assert only(sqlite_book).decisive.clampings == 9


def test_a_clocking_in_use_stays_one_when_another_is_tried(sqlite_book: Store, log: Log) -> None:
    log(sqlite_book, *clampings([(0, 0)] * 3), *clampings([(90, 0)], taken_at="2026-03-05"))
    assert [group.clocking for group in assess(sqlite_book, "C-046")[0].groups] == ["C-046=0 P-65=0"]


def test_a_plan_names_what_is_turned_and_what_it_will_tell(sqlite_book: Store) -> None:
    plan = plan_chain(sqlite_book, "C-046", setup="LATHE", position="A", pin="P-65", within_um=0.8, repeat_um=1.0)
    assert (plan.bodies, plan.kinds, plan.unturned) == (("C-046", "P-65"), ("collet", "pin"), ("S-1", "K-1"))
    assert (len(plan.clockings), plan.clampings, plan.reaches) == (6, 6 * plan.rounds, True)
    assert known(plan.circle_um) <= 0.8
    bare = plan_chain(sqlite_book, "C-046", setup="LATHE", position="A", pin="P-65")
    assert (bare.repeat_um, bare.circle_um, bare.rounds) == (None, None, 1)
    never = plan_chain(sqlite_book, "C-046", setup="LATHE", position="A", pin="P-65", within_um=0.01, repeat_um=1.0)
    assert (never.reaches, never.clampings) == (False, 48)
    whole = (("P-65", ()), ("S-1", (0, 180_000)), ("C-046", ()))
    plan = plan_chain(sqlite_book, "C-046", setup="LATHE", position="A", turn=whole)
    assert plan.bodies == ("S-1", "C-046", "P-65")
    assert plan.turnable == "S-1=0/180,C-046,P-65"


@pytest.mark.parametrize(
    ("asked", "error"),
    [
        ({"setup": "LATHE"}, RefusedError),
        ({}, RefusedError),
        ({"setup": "LATHE", "position": "A", "turn": (("X-9", ()),)}, NotFoundError),
        ({"setup": "LATHE", "position": "A", "turn": (("C-046", (0, 0)),)}, NotAnswerableError),
    ],
)
def test_a_plan_that_leaves_something_open_is_refused(
    sqlite_book: Store, asked: dict[str, Any], error: type[Exception]
) -> None:
    with pytest.raises(error):
        plan_chain(sqlite_book, "C-046", **asked)


def test_both_databases_tell_the_same(book: Store, log: Log) -> None:
    log(book, *clampings(SIX))
    parts = only(book).decisive.parts
    told = np.array([part.tir_um for part in parts])
    expected = np.linalg.lstsq(
        np.column_stack([np.ones(6), np.exp(1j * np.radians(SIX))]),
        np.array([_read(one) for one in clampings(SIX)]),
        rcond=None,
    )[0]
    assert told == pytest.approx(2 * np.abs(expected), abs=1e-9)


def _read(one: Clamping) -> complex:
    """The once-per-turn part of quarter turns, as read to 0.01 um: e = sum r_j exp(i t_j) / 2."""
    values = [reading.value_pm / UM for reading in one.turns[0].readings]
    return complex(sum(value * 1j**k for k, value in enumerate(values))) / 2
