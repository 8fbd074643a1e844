"""With the high spot of every clamping two positions are compared as vectors too; which is better stays a question
of the swings. Figures are those of a constructed case, computed a second time with a general-purpose library."""

import cmath
import math
from typing import Any

import numpy as np
import pytest
import scipy.stats

from qclog.logbook import items
from qclog.questions.codes import Caveat, Worth
from qclog.questions.compare import BETTER, NO_DIFFERENCE, UNDECIDED, Answer, by_chance, compare, document
from qclog.records import Card, Clamping, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
SWINGS_A = (4.2, 5.6, 4.9, 6.3, 5.1)
SWINGS_B = (10.4, 12.1, 9.7, 11.8, 13.0)
SWINGS_NEAR_A = (6.1, 7.4, 5.2, 8.3, 6.6)
VECTORS_A = (2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j)
VECTORS_B = (-0.8 + 5.0j, 0.6 + 5.9j, -0.2 + 4.6j, 0.9 + 5.2j, -0.5 + 6.1j)
ONE_DAY = ("2026-03-01",)
RING = 0.3 * np.exp(2j * np.pi * np.arange(5) / 5)
"""Five clampings about their mean."""


def only(shop: Any, **options: Any) -> Answer:
    (answer,) = compare(shop.store, **options)
    return answer


def test_swings_reach_the_answer_with_their_known_figures(shop: Any) -> None:
    shop.log(SWINGS_A, days=ONE_DAY)
    shop.log(SWINGS_B, days=ONE_DAY, position="B")
    answer = only(shop)
    assert (answer.better, answer.outcome, answer.vectors) == ("A", BETTER, None)
    found = answer.difference_um
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((6.18, 4.517547, 7.842453), abs=6e-7)
    assert answer.p_better_next == pytest.approx(0.996891, abs=6e-7)
    assert answer.p_permutation == pytest.approx(0.007937, abs=6e-7)
    assert answer.pairs_better == 1.0


def test_a_difference_near_the_scatter_has_its_known_figures_and_its_missing_clampings(shop: Any) -> None:
    shop.log(SWINGS_A, days=ONE_DAY)
    shop.log(SWINGS_NEAR_A, days=ONE_DAY, position="B")
    answer = only(shop)
    assert (answer.better, answer.outcome, answer.mark) == (None, UNDECIDED, None)
    assert answer.p_value == pytest.approx(0.048796, abs=6e-7)
    assert answer.p_permutation == pytest.approx(0.055556, abs=6e-7)
    assert answer.p_better_next == pytest.approx(0.817251, abs=6e-7)
    assert answer.pairs_better == pytest.approx(0.88)
    assert answer.more_clampings == 4


def test_vectors_reach_the_answer_with_their_known_figures(shop: Any) -> None:
    shop.log_vectors(VECTORS_A)
    shop.log_vectors(VECTORS_B, position="B")
    answer = only(shop)
    vectors = answer.vectors
    assert vectors is not None
    assert (answer.better, answer.method, vectors.method) == ("A", "two groups of swings", "two groups of vectors")
    assert vectors.shift.tir_um == pytest.approx(2 * 5.064741, abs=2e-6)
    assert vectors.shift.direction_deg == pytest.approx(math.degrees(math.atan2(4.46, -2.40)), abs=1e-4)
    assert vectors.p_value == pytest.approx(float(scipy.stats.f.sf(86.485502, 2, 16)), rel=1e-5)
    pooled = (0.531507**2 + 0.677495**2) / 2
    radius = math.sqrt(2 * float(scipy.stats.f.isf(0.05, 2, 16)) * pooled * 2 / 5)
    assert vectors.shift.radius_um == pytest.approx(2 * radius, abs=1e-5)
    assert (vectors.scatter_ratio, vectors.p_scatter) == pytest.approx((0.615468, 0.507820), abs=1e-6)
    assert vectors.high_spots_deg == pytest.approx((20.556, 90.0), abs=1e-3)
    assert vectors.repeats_better is None
    assert answer.p_better_next == vectors.p_better_next
    assert 0.95 < vectors.p_better_low < vectors.p_better_next < vectors.p_better_high <= 1.0
    found = answer.difference_um
    assert found is not None
    assert (found.value, found.low, found.high) == pytest.approx((5.588489, 3.875030, 7.301947), abs=2e-4)


def test_positions_a_quarter_turn_apart_differ_in_direction_and_neither_is_better(shop: Any) -> None:
    shop.log_vectors(3.0 + RING)
    shop.log_vectors(3.0j + RING, position="B")
    answer = only(shop)
    assert (answer.better, answer.outcome) == (None, NO_DIFFERENCE)
    assert answer.vectors is not None
    assert answer.vectors.differ_in_direction
    assert answer.vectors.high_spots_deg == pytest.approx((0.0, 90.0), abs=1e-3)
    assert answer.vectors.shift.direction_deg == pytest.approx(135.0, abs=1e-3)


def test_positions_that_differ_in_size_alone_are_not_said_to_differ_in_direction(shop: Any) -> None:
    shop.log_vectors(3.0 + RING)
    shop.log_vectors(3.8 + RING, position="B")
    vectors = only(shop).vectors
    assert vectors is not None
    assert vectors.p_value < 0.0125
    assert not vectors.differ_in_direction


def test_the_one_that_repeats_better_is_named(shop: Any) -> None:
    shop.log_vectors(3.0 + 10 * RING, days=ONE_DAY)
    shop.log_vectors(9.0 + RING, position="B")
    vectors = only(shop).vectors
    assert vectors is not None
    assert vectors.scatter_ratio == pytest.approx(100.0, rel=1e-4)
    assert vectors.repeats_better == "B"


def test_two_clampings_each_are_compared_as_vectors_though_they_are_too_few_swings(shop: Any) -> None:
    shop.log_vectors((3.0, 3.2))
    shop.log_vectors((3.0j, 3.2j), position="B")
    answer = only(shop)
    assert (answer.difference_um, answer.p_value, answer.outcome) == (None, None, UNDECIDED)
    assert answer.vectors is not None
    assert answer.p_better_next == answer.vectors.p_better_next


def test_one_clamping_without_its_high_spot_leaves_vectors_out_and_says_so(shop: Any) -> None:
    shop.log_vectors(3.0 + RING)
    shop.log_vectors(3.0j + RING, position="B")
    shop.log((6.1,), days=ONE_DAY, position="B")
    answer = only(shop)
    assert answer.vectors is None
    assert Caveat.HIGH_SPOTS_MISSING in answer.caveats
    assert answer.method == "two groups of swings"


def test_high_spots_by_the_clock_are_not_compared_and_that_is_said(shop: Any, log: Any) -> None:
    shop.log_vectors(3.0 + RING)
    for swing in (6.0, 6.1, 5.9):
        by_the_clock = Reading(round(swing * UM), "", UM // 10, angle_mdeg=90_000, angle_within_mdeg=15_000)
        turn = Turn("tir", (by_the_clock,), 16 * MM)
        log(shop.store, Clamping("C-046", "LATHE", ONE_DAY[0], (turn,), position="B", instrument="D-1", lever_mdeg=0))
    answer = only(shop)
    assert answer.vectors is None
    assert Caveat.HIGH_SPOTS_BY_EYE in answer.caveats
    assert answer.difference_um is not None


def test_high_spots_of_different_setups_have_nothing_to_do_with_each_other(shop: Any) -> None:
    shop.log_vectors(3.0 + RING)
    shop.log_vectors(3.0j + RING, setup="TAIL", position="")
    answer = only(shop, by="setup")
    assert {member.name for member in answer.groups} == {"LATHE A", "TAIL"}
    assert answer.vectors is None
    assert answer.difference_um is not None


def test_items_in_one_setup_share_a_frame_and_are_compared_as_vectors(shop: Any) -> None:
    shop.log_vectors(3.0 + RING)
    shop.log_vectors(3.0j + RING, "C-047")
    vectors = only(shop, by="item").vectors
    assert vectors is not None
    assert vectors.differ_in_direction


def test_an_item_measured_with_several_pins_is_compared_with_others_once(shop: Any) -> None:
    shop.log(SWINGS_A[:3], days=ONE_DAY, pin="P-3")
    shop.log(SWINGS_A, days=ONE_DAY, pin="P-65")
    shop.log(SWINGS_B, "C-047", days=ONE_DAY, pin="P-65")
    answer = only(shop, by="item")
    assert [(member.name, member.clampings) for member in answer.groups] == [("C-046", 5), ("C-047", 5)]


@pytest.mark.parametrize(
    ("on_the_other_pin", "said"),
    [((SWINGS_A, SWINGS_B), False), ((SWINGS_B, SWINGS_A), True), ((SWINGS_A, SWINGS_NEAR_A), True)],
)
def test_where_pins_of_several_diameters_do_not_agree_the_winner_may_change_with_them(
    shop: Any, on_the_other_pin: tuple[tuple[float, ...], tuple[float, ...]], said: bool
) -> None:
    for pin, both in (("P-65", (SWINGS_A, SWINGS_B)), ("P-3", on_the_other_pin)):
        for position, swings in zip("AB", both, strict=True):
            shop.log(swings, days=ONE_DAY, position=position, pin=pin)
    answers = compare(shop.store)
    assert {answer.diameter_mm for answer in answers} == {6.5, 3.0}
    assert {Caveat.DIAMETER_MATTERS in answer.caveats for answer in answers} == {said}


def test_where_nothing_is_settled_on_any_of_the_pins_the_winner_may_change_with_them(shop: Any) -> None:
    for pin in ("P-65", "P-3"):
        shop.log(SWINGS_A, days=ONE_DAY, pin=pin)
        shop.log(SWINGS_NEAR_A, days=ONE_DAY, position="B", pin=pin)
    assert [Caveat.DIAMETER_MATTERS in answer.caveats for answer in compare(shop.store)] == [True, True]


def test_a_list_stands_in_the_order_of_p_and_each_is_marked_for_what_it_is_worth_among_so_many(shop: Any) -> None:
    alike, hint, real = (5.0, 5.6, 4.9, 6.3, 5.1), (6.1, 7.4, 5.2, 8.3, 6.6), (10.4, 12.1, 9.7, 11.8, 13.0)
    for distance in range(10, 90, 10):
        shop.log(SWINGS_A, days=ONE_DAY, distance_mm=distance)
        shop.log({50: hint, 70: real}.get(distance, alike), days=ONE_DAY, position="B", distance_mm=distance)
    shop.log((4.0, 4.2), "C-047", days=ONE_DAY)
    shop.log((9.0, 9.2), "C-047", days=ONE_DAY, position="B")
    answers = compare(shop.store)
    assert [(answer.distance_mm, answer.mark) for answer in answers[:3]] == [
        (70.0, Worth.LIKELY_REAL),
        (50.0, Worth.SINGLE_HINT),
        (10.0, None),
    ]
    assert (answers[-1].item, answers[-1].p_value) == ("C-047", None)
    chance = by_chance(answers)
    assert chance is not None
    assert chance.expected == pytest.approx(0.4)
    assert chance.found == 2
    assert document(answers)["expected_by_chance"] == chance.expected
    assert by_chance(answers[-1:]) is None


def _many(shop: Any, count: int, scatter: float, level: dict[str, complex], clampings: int, seed: int) -> list[Answer]:
    """Comparisons of so many items, with vectors scattered normally about the level at each position."""
    rng = np.random.default_rng(seed)
    codes = [f"S-{i:03d}" for i in range(count)]
    shop.do(lambda e, r: [items.add_item(e, r, code, Card(kind="collet")) for code in codes])
    for code in codes:
        for position, mean in level.items():
            axes = rng.standard_normal((2, clampings)) * scatter
            shop.log_vectors(mean + axes[0] + 1j * axes[1], code, position=position)
    answers: list[Answer] = compare(shop.store)
    assert len(answers) == count
    return answers


def _holds_a_quarter_turn(answer: Answer) -> bool:
    """Whether the circle of the shift holds that from 4 to 4j, or back where B swings less."""
    assert answer.vectors is not None
    shift = answer.vectors.shift
    true = (8.0j - 8.0) * (1 if answer.groups[0].name == "A" else -1)
    return bool(abs(cmath.rect(shift.tir_um, math.radians(shift.direction_deg)) - true) <= shift.radius_um)


def test_simulated_positions_of_the_same_level_are_seldom_called_different_in_size(shop: Any) -> None:
    """100 items with a repeat of 1 µm at 4 µm of eccentricity, a quarter turn apart; own simulation."""
    answers = _many(shop, 100, 1.0, {"A": 4.0, "B": 4.0j}, 6, 20260711)
    assert sum(answer.outcome == BETTER for answer in answers) <= 8
    told = [answer.vectors for answer in answers if answer.vectors is not None]
    assert len(told) == 100
    assert sum(vectors.differ_in_direction for vectors in told) >= 95
    assert sum(vectors.repeats_better is not None for vectors in told) <= 6
    assert 0.89 <= np.mean([_holds_a_quarter_turn(answer) for answer in answers]) <= 0.99


def test_simulated_positions_of_one_level_and_direction_are_seldom_called_different(shop: Any) -> None:
    answers = _many(shop, 100, 1.0, {"A": 3.0 + 1.0j, "B": 3.0 + 1.0j}, 5, 20260712)
    assert sum(answer.outcome == BETTER for answer in answers) <= 8
    assert sum(answer.vectors is not None and answer.vectors.differ_in_direction for answer in answers) <= 5
    assert sum(answer.mark is Worth.LIKELY_REAL for answer in answers) <= 2


def test_simulated_positions_are_never_picked_the_wrong_way(shop: Any) -> None:
    """3.2 against 6.2 µm of eccentricity with a repeat of 1 µm, six clampings each, in 60 items; own simulation."""
    answers = _many(shop, 60, 1.0, {"A": 3.2, "B": -6.2}, 6, 20260713)
    named = [answer.better for answer in answers]
    assert "B" not in named
    assert named.count("A") >= 54
    assert np.mean([answer.p_better_next for answer in answers]) >= 0.9
