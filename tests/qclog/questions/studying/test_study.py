"""What study answers: whose the scatter is, as far as the logbook tells. Constructed cases and own simulation."""

import dataclasses
import itertools
import json
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotFoundError, RefusedError, UsageError
from qclog.logbook import gauges
from qclog.questions.codes import Cause, Caveat, NotTold
from qclog.questions.study import Answer, document, study
from qclog.questions.studying.plan import plan_study
from qclog.records import Clamping
from reports.study import study as text
from reports.study import study_plan

MM = 1_000_000_000
UM = 1_000_000
DAYS = ("2026-03-02", "2026-03-03", "2026-03-04")


def second_pin(shop: Any) -> None:
    def add(entry: Any, register: Any) -> None:
        gauges.add_pin(entry, register, "P-66", diameter_pm=6_480 * UM, roundness_pm=None, kind="pin", grade="")

    shop.do(add)


def log_study(shop: Any, seed: int = 1, **sds: float) -> None:
    """Two persons clamp two pins at two positions three times each and read every clamping twice; µm TIR.

    Standard deviations by cause; positions at 12 and 18 µm.
    """
    second_pin(shop)
    rng = np.random.default_rng(seed)
    effect = {
        (cause, level): rng.normal(0.0, sds.get(cause, 0.0))
        for cause, levels in (("person", ("AK", "MO")), ("pin", ("P-65", "P-66")))
        for level in levels
    }
    base = Clamping("C-046", "LATHE", "2026-03-02", (), instrument="D-1", lever_mdeg=0)
    made = []
    stops = itertools.product(("AK", "MO"), ("A", "B"), ("P-65", "P-66"), range(3))
    for number, (person, position, pin, _) in enumerate(stops):
        level = {"A": 12.0, "B": 18.0}[position] + effect["person", person] + effect["pin", pin]
        level += rng.normal(0.0, sds.get("clamping", 0.0))
        swings = [level + rng.normal(0.0, sds.get("reading", 0.0)) for _ in range(2)]
        turns = tuple(dataclasses.replace(shop.swing(round(v, 1)), label=str(i)) for i, v in enumerate(swings, start=1))
        at = f"2026-03-02T{8 + number // 12:02d}:{number % 12 * 5:02d}"
        made.append(dataclasses.replace(base, taken_at=at, position=position, pin=pin, operator=person, turns=turns))
    shop._log(shop.store, *made)


def asked(shop: Any, *codes: str) -> Answer:
    (found,) = study(shop.store, codes or ("C-046",))
    return found


def part(answer: Answer, cause: Cause) -> Any:
    (found,) = [one for one in answer.parts if one.cause == cause]
    return found


def test_a_whole_study_is_told_apart_by_its_causes(shop: Any) -> None:
    log_study(shop, reading=0.2, clamping=0.8, pin=2.0, person=0.0)
    answer = asked(shop)
    assert (answer.clampings, answer.readings, answer.scale, answer.balanced) == (24, 48, "swings", True)
    assert answer.method == "mean squares"
    for cause, true in ((Cause.READING, 0.2), (Cause.CLAMPING, 0.8), (Cause.PIN, 2.0)):
        found = part(answer, cause)
        assert found.low_um < true < found.high_um
    assert answer.parts[0].cause == Cause.PIN
    assert sum(one.share for one in answer.parts) == pytest.approx(1.0)
    assert {one.cause for one in answer.missing} == {Cause.INDICATOR, Cause.SITTING}
    assert [(place.position, place.clampings) for place in answer.places] == [("A", 12), ("B", 12)]
    assert "Mend first: pin" in " ".join(text([answer]).split())
    assert Caveat.FEW_LEVELS in answer.caveats


def test_the_parts_add_up_and_the_sums_agree_with_them(shop: Any) -> None:
    log_study(shop, seed=4, reading=0.3, clamping=0.8, pin=1.0, person=1.5)
    answer = asked(shop)
    sums = {one.cause: one.sd_um**2 for one in answer.parts}
    assert answer.reproducibility is not None
    assert answer.one_clamping is not None
    assert answer.repeatability is not None
    assert answer.one_clamping.sd_um**2 == pytest.approx(sums[Cause.READING] + sums[Cause.CLAMPING])
    assert answer.repeatability.sd_um**2 == pytest.approx(sums[Cause.READING])
    # components that come out negative are 0 among the parts, and taken off the whole as they are
    assert answer.reproducibility.sd_um**2 <= sum(sums.values()) + 1e-9


def test_without_repeated_readings_reading_and_clamping_stand_together(shop: Any) -> None:
    shop.log((4.0, 4.6, 4.3), days=DAYS)
    answer = asked(shop)
    assert part(answer, Cause.CLAMPING).together_with == (Cause.READING,)
    assert answer.repeatability is None
    whys = {one.cause: one.why for one in answer.missing}
    assert whys[Cause.READING] == NotTold.NOT_REPEATED
    assert whys[Cause.PERSON] == NotTold.NOT_NAMED
    assert part(answer, Cause.SITTING).levels == 3
    assert "re-clamping and reading" in text([answer])


def test_persons_who_each_measured_on_a_day_of_their_own_are_not_told_from_the_day(shop: Any) -> None:
    for day, person in zip(DAYS, ("AK", "MO", "EL"), strict=True):
        shop.log((4.0, 4.6, 4.3), days=(day,), operator=person)
    answer = asked(shop)
    assert part(answer, Cause.PERSON).together_with == (Cause.SITTING,)
    assert [(m.cause, m.why, m.other) for m in answer.missing if m.cause == Cause.SITTING] == [
        (Cause.SITTING, NotTold.WITH_ANOTHER, Cause.PERSON)
    ]


def test_days_nested_in_persons_are_told_apart(shop: Any) -> None:
    for number, person in enumerate(("AK", "AK", "MO", "MO", "EL", "EL"), start=1):
        shop.log((4.0, 4.6, 4.3), days=(f"2026-03-{number:02d}",), operator=person)
    assert {one.cause for one in asked(shop).parts} == {Cause.PERSON, Cause.SITTING, Cause.CLAMPING}


def test_days_that_differ_from_place_to_place_are_told_apart_from_the_day(shop: Any) -> None:
    for day, (at_a, at_b) in zip(DAYS, ((4.0, 9.0), (4.9, 8.2), (4.1, 9.6)), strict=True):
        shop.log((at_a, at_a + 0.1, at_a + 0.2), days=(day,))
        shop.log((at_b, at_b + 0.1, at_b + 0.2), days=(day,), position="B")
    answer = asked(shop)
    assert part(answer, Cause.SITTING_AT_PLACE).df == 2
    assert answer.parts[0].cause == Cause.SITTING_AT_PLACE


def test_one_clamping_a_day_cannot_be_told_from_the_day(shop: Any) -> None:
    for day in DAYS:
        shop.log((4.0 + 0.1 * len(day),), days=(day,))
    assert part(asked(shop), Cause.CLAMPING).together_with == (Cause.READING, Cause.SITTING)


def test_items_each_with_a_pin_of_its_own_leave_the_pin_to_the_places(shop: Any) -> None:
    second_pin(shop)
    shop.log((4.0, 4.6, 4.3), days=DAYS[:1], pin="P-65")
    shop.log((5.0, 5.6, 5.3), days=DAYS[:1], item="C-047", pin="P-66")
    answer = asked(shop, "C-046", "C-047")
    assert answer.items == ("C-046", "C-047")
    assert [m.why for m in answer.missing if m.cause == Cause.PIN] == [NotTold.OF_THE_PLACE]


def test_high_spots_are_studied_on_both_axes(shop: Any) -> None:
    rng = np.random.default_rng(3)
    for day in DAYS:
        shift = complex(*rng.normal(0.0, 0.2, 2))
        shop.log_vectors([2.0 + shift + complex(*rng.normal(0.0, 0.5, 2)) for _ in range(8)], days=(day,))
    answer = asked(shop)
    found = part(answer, Cause.CLAMPING)
    assert answer.scale == "vectors"
    assert found.df == 2 * 21
    assert found.low_um < 2 * 0.5 < found.high_um


def test_small_swings_are_studied_on_the_scale_on_which_they_are_near_normal(shop: Any) -> None:
    rng = np.random.default_rng(5)
    swings = [round(float(v), 1) + 0.1 for v in 2 * np.hypot(*rng.normal(0.0, 1.0, (2, 12)))]
    shop.log(swings, days=DAYS[:1])
    answer = asked(shop)
    assert answer.scale == "powers of swings"
    y = np.array(swings) ** (2 / 3)
    by_hand = 1.5 * np.mean(swings) ** (1 / 3) * y.std(ddof=1)
    assert part(answer, Cause.CLAMPING).sd_um == pytest.approx(by_hand, rel=1e-9)


def test_readings_that_agree_better_than_the_step_are_warned_about(shop: Any) -> None:
    log_study(shop, clamping=1.0)
    assert Caveat.RESOLUTION_FLOOR in asked(shop).caveats


def test_two_places_read_once_each_tell_nothing_and_say_what_to_do(shop: Any) -> None:
    shop.log((4.0,), days=DAYS[:1])
    shop.log((9.0,), days=DAYS[:1], position="B")
    answer = asked(shop)
    assert (answer.parts, answer.reproducibility) == ((), None)
    assert "qclog study C-046 --plan" in " ".join(text([answer]).split())


def test_one_clamping_alone_tells_nothing(shop: Any) -> None:
    shop.log((4.0,), days=DAYS[:1])
    answer = asked(shop)
    assert (answer.parts, answer.clampings) == ((), 1)
    assert study(shop.store, ["C-047"]) == []


def test_what_is_alike_is_said_to_be_so_at_what_was_studied(shop: Any) -> None:
    """Key positions alone tell the places apart, then items too."""
    log_study(shop, reading=0.2, clamping=0.8, pin=2.0, person=2.0)
    answer = asked(shop)
    unseen = next(one for one in answer.parts if one.cause == Cause.PERSON_AT_PLACE)
    answer = dataclasses.replace(answer, parts=(*answer.parts[:-1], dataclasses.replace(unseen, sd_um=0.0)))
    assert "the people differ by the same amount at each key position" in " ".join(text([answer]).split())
    other = dataclasses.replace(answer.places[0], item="C-047")
    answer = dataclasses.replace(answer, places=(*answer.places, other))
    assert "the same amount with each item and key position" in " ".join(text([answer]).split())


def test_the_document_is_plain_json_and_the_text_fits_a_terminal(shop: Any) -> None:
    log_study(shop, reading=0.2, clamping=0.8, pin=1.0, person=1.0)
    told = json.loads(json.dumps(document([asked(shop)])))
    assert (told["question"], told["answers"][0]["scale"]) == ("study", "swings")
    assert max(map(len, text([asked(shop)]).splitlines())) <= 100


def test_persons_take_turns_and_what_each_clamps_in_a_round_is_drawn_by_lot(shop: Any) -> None:
    second_pin(shop)
    shop.log((4.0,), pin="P-65", operator="AK")
    plan = plan_study(shop.store, "C-046", people=["AK", "MO"])
    assert (plan.pins, plan.positions, plan.distance_mm) == (("P-65", "P-66"), ("A", "B"), 16.0)
    assert [step.person for step in plan.steps] == [*4 * ["AK"], *8 * ["MO"], *8 * ["AK"], *4 * ["MO"]]
    blocks = [[(s.position, s.pin) for s in plan.steps[start : start + 4]] for start in range(0, 24, 4)]
    assert {tuple(sorted(block)) for block in blocks} == {tuple(itertools.product(("A", "B"), ("P-65", "P-66")))}
    assert len({tuple(block) for block in blocks}) > 2
    shown = study_plan(plan)
    first = plan.steps[0]
    assert f"--same-clamping --setup LATHE --position {first.position} --pin {first.pin}" in shown
    assert "Isolate the machine" in shown


def test_the_same_study_is_drawn_alike_until_the_item_is_clamped_again(shop: Any) -> None:
    second_pin(shop)
    shop.log((4.0,), pin="P-65", operator="AK")
    plan = plan_study(shop.store, "C-046")
    assert plan_study(shop.store, "C-046") == plan
    shop.log((4.0,), pin="P-65", operator="AK", days=DAYS[1:2])
    again = plan_study(shop.store, "C-046")
    assert again.steps != plan.steps
    assert {(s.position, s.pin) for s in again.steps} == {(s.position, s.pin) for s in plan.steps}


def test_a_plan_that_is_no_study_or_names_what_is_unknown_is_refused(shop: Any) -> None:
    shop.log((4.0,), pin="P-65")
    with pytest.raises(RefusedError, match="no study"):
        plan_study(shop.store, "C-046", clampings=1)
    with pytest.raises(NotFoundError):
        plan_study(shop.store, "C-046", pins=["P-99"])

    def too_large(entry: Any, register: Any) -> None:
        gauges.add_pin(entry, register, "P-70", diameter_pm=7 * MM, roundness_pm=None, kind="pin", grade="")

    shop.do(too_large)
    with pytest.raises(RefusedError, match="larger than the bore"):
        plan_study(shop.store, "C-046", pins=["P-70"])
    with pytest.raises(NotFoundError, match="Which pins"):
        plan_study(shop.store, "C-047", setup="LATHE")


def test_the_command_plans_one_item_only(shop: Any, tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from qclog.cli.main import main

    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["study", "--plan"]) == UsageError.exit_code
    log_study(shop, reading=0.2, clamping=0.8)
    assert main(["study", "C-046"]) == 0
    assert main(["study", "C-046", "--plan", "--pins", "P-65,P-66"]) == 0


def test_the_parts_of_what_is_read_are_told_first_and_in_order(shop: Any) -> None:
    log_study(shop, reading=0.2, clamping=0.8, pin=2.0, person=0.0)
    answer = asked(shop)
    told = " ".join(text([answer]).split())
    seen = [one for one in answer.parts if one.sd_um > 0]
    assert told.startswith(f"C-046 in LATHE, 16 mm out: {answer.mean_um:.1f} µm on the mean over 2 key positions;")
    assert answer.reproducibility is not None
    assert f"up to {1.96 * answer.reproducibility.sd_um:.1f} µm above or below" in told
    assert f"Alone, pin would make {1.96 * seen[0].sd_um:.1f} µm of that, re-clamping" in told
    assert f"Mend first: pin, which leaves {1.96 * (answer.without_largest_um or 0):.1f} µm" in told
    assert told.index("Mend first") < told.index("cause alone ±")
    assert "Not told apart: indicator, day; each was the same all the time." in told


def test_scatter_larger_than_the_mean_is_not_said_to_go_below_nothing(shop: Any) -> None:
    rng = np.random.default_rng(5)
    shop.log([round(float(v), 1) + 0.1 for v in 2 * np.hypot(*rng.normal(0.0, 1.0, (2, 12)))], days=DAYS[:1])
    answer = asked(shop)
    assert answer.reproducibility is not None
    below = 1.96 * answer.reproducibility.sd_um < answer.mean_um
    assert f"above or {'below' if below else 'down to nothing'}," in " ".join(text([answer]).split())


def test_reading_and_clamping_together_are_told_apart_by_reading_twice(shop: Any) -> None:
    shop.log((4.0, 4.6, 4.3), days=DAYS[:1])
    told = " ".join(text([asked(shop)]).split())
    assert "Mend first: re-clamping and reading. Which of the two it is shows where each clamping is read twice" in told
    assert "reading a clamping again gains little" not in told


def test_the_plan_says_what_to_type_at_the_machine(shop: Any) -> None:
    second_pin(shop)
    shop.log((4.0,), pin="P-65")
    shown = study_plan(plan_study(shop.store, "C-046", people=["AK", "MO"]))
    assert (
        'qclog measure C-046 --study --setup LATHE --positions A,B --pins P-65,P-66 --people "AK,MO" --clampings 3 '
        "--readings 2 --distance 16 --instrument D-1" in shown
    )
