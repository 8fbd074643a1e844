"""Key holes of a chuck over several collets: the known case, coverage, and what may be said.

Figures of a constructed case; shares from own simulation with fixed seeds.
"""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.comparing.key_positions import KeyShift, Statement, key_shift, key_swings, predict_b

Vectors = npt.NDArray[np.complex128]

IN_A = np.array([4.1 + 1.2j, 0.9 + 3.8j, 5.6 - 1.1j, 1.2 - 1.9j])
IN_B = np.array([1.3 + 0.8j, -1.8 + 3.0j, 2.4 - 1.7j, -1.9 - 2.2j])
THREE = np.sqrt(1.0 / 3.0) * np.exp(2j * np.pi * np.arange(3) / 3)
"""Three clampings about their mean with a variance of 0.25 per axis over all eight cells."""


def normal(rng: np.random.Generator, shape: tuple[int, ...]) -> Vectors:
    return rng.standard_normal(shape) + 1j * rng.standard_normal(shape)


def chuck(
    rng: np.random.Generator, collets: int, e: complex, p: complex, c: float, sigma: float
) -> tuple[Vectors, ...]:
    """Vectors (collets, 3) in hole A and in hole B, collets far out by c per axis."""
    out = c * normal(rng, (collets, 1))
    return e + p + out + sigma * normal(rng, (collets, 3)), e - p + out + sigma * normal(rng, (collets, 3))


def known() -> KeyShift:
    return key_shift([a + THREE for a in IN_A], [b + THREE for b in IN_B], resolution_um=0.01)


def test_the_known_case_by_vectors_has_its_known_figures() -> None:
    found = known()
    assert found.shift_um == pytest.approx(1.475 + 0.2625j, abs=1e-12)
    assert found.shift_variance == pytest.approx(0.013229, abs=6e-7)
    assert found.f == pytest.approx(339.330709, abs=6e-7)
    assert found.radius_um == pytest.approx(0.184446, abs=6e-7)
    assert found.p_a_wins == pytest.approx(0.295891, abs=6e-7)
    assert (found.p_a_low, found.p_a_high) == pytest.approx((0.049368, 0.666498), abs=6e-7)
    assert found.wins_a == 1
    assert found.variance == pytest.approx(0.25)
    assert found.statement is Statement.NO_WINNER_SHOWN


def test_a_collet_measured_only_in_a_is_predicted_in_b_with_its_known_figures() -> None:
    mean, radius = predict_b(known(), 3 + 2j + THREE)
    assert mean == pytest.approx(0.05 + 1.475j, abs=1e-12)
    assert radius == pytest.approx(0.996640, abs=6e-7)


def test_the_known_case_by_swings_has_its_known_figures() -> None:
    found = key_swings(
        [2 * abs(a) + np.zeros(2) for a in IN_A], [2 * abs(b) + np.zeros(2) for b in IN_B], resolution_um=0.01
    )
    assert (found.narrow_low_um, found.narrow_high_um) == pytest.approx((1.382962, 2.577054), abs=6e-7)
    assert found.wins_a == 1
    assert (found.wins_low, found.wins_high) == pytest.approx((0.006309, 0.805880), abs=6e-7)
    assert found.next_a_wins == pytest.approx(0.3)
    assert found.low_um < found.narrow_low_um < found.narrow_high_um < found.high_um


@pytest.mark.parametrize("wins", [0, 2, 5])
def test_the_interval_of_the_wins_agrees_with_a_library(wins: int) -> None:
    better, worse = np.array([4.0, 4.1]), np.array([6.0, 6.1])
    a = [better if i < wins else worse for i in range(5)]
    b = [worse if i < wins else better for i in range(5)]
    found = key_swings(a, b, resolution_um=0.1)
    ends = scipy.stats.binomtest(wins, 5).proportion_ci(0.95, method="exact")
    assert (found.wins_low, found.wins_high) == pytest.approx((float(ends.low), float(ends.high)), abs=1e-9)


@pytest.mark.parametrize("collets", [3, 5])
def test_a_chuck_without_shift_shows_one_in_five_percent(collets: int) -> None:
    rng = np.random.default_rng(1)
    found = [key_shift(*map(list, chuck(rng, collets, 2.0, 0.0, 3.0, 0.5)), resolution_um=0.01) for _ in range(1_000)]
    share = np.mean([k.p_value <= 0.05 for k in found])
    assert 0.03 <= share <= 0.072
    assert np.mean([k.statement is Statement.NO_EFFECT_SHOWN for k in found]) == pytest.approx(1.0 - share)
    assert 0.03 <= np.mean([k.p_depends <= 0.05 for k in found]) <= 0.072


def test_the_circle_of_the_shift_the_chance_of_a_win_and_the_prediction_hold_the_truth() -> None:
    rng = np.random.default_rng(2)
    truth = float(scipy.stats.norm.cdf(-2.0 / 3.0))
    circle, chance, predicted = [], [], []
    for _ in range(1_000):
        a, b = chuck(rng, 6, 2.0, 1.5, 3.0, 0.5)
        key = key_shift(list(a[:5]), list(b[:5]), resolution_um=0.01)
        circle.append(abs(key.shift_um - 1.5) <= key.radius_um)
        chance.append(key.p_a_low <= truth <= key.p_a_high)
        mean, radius = predict_b(key, a[5])
        true_b = a[5].mean() - 3.0  # in hole A its mean is known to the scatter of the three only
        predicted.append(abs(mean - true_b) <= radius)
    assert 0.93 <= np.mean(circle) <= 0.97
    assert 0.93 <= np.mean(chance) <= 0.975
    assert np.mean(predicted) >= 0.97


def test_a_chuck_far_off_along_the_shift_has_a_winner() -> None:
    rng = np.random.default_rng(3)
    toward = [key_shift(*map(list, chuck(rng, 8, 20.0, 1.5, 2.0, 0.3)), resolution_um=0.01) for _ in range(50)]
    away = [key_shift(*map(list, chuck(rng, 8, -20.0, 1.5, 2.0, 0.3)), resolution_um=0.01) for _ in range(50)]
    assert sum(k.statement is Statement.HOLE_B for k in toward) == 50
    assert sum(k.statement is Statement.HOLE_A for k in away) == 50


@pytest.mark.parametrize("ratio", [-30.0, -12.0, -3.0, -0.5, 0.0, 0.5, 3.0, 12.0, 30.0])
def test_the_interval_of_the_chance_is_ordered_and_symmetric_however_far_off(ratio: float) -> None:
    out = np.array([-1.5, -0.5, 0.5, 1.5])[:, None] * 1j + np.array([1.0, -1.0, -1.0, 1.0])[:, None]
    e = -ratio * np.sqrt(np.sum(np.abs(out) ** 2) / 6.0)
    key = key_shift(list(e + 1.0 + out + THREE / 10.0), list(e - 1.0 + out + THREE / 10.0), resolution_um=0.01)
    other = key_shift(list(-e + 1.0 + out + THREE / 10.0), list(-e - 1.0 + out + THREE / 10.0), resolution_um=0.01)
    assert 0.0 <= key.p_a_low <= key.p_a_high <= 1.0
    if abs(ratio) < 5.0:
        assert key.p_a_low < key.p_a_wins < key.p_a_high
    else:
        assert max(key.p_a_wins, key.p_a_high) < 1e-3 or min(key.p_a_wins, key.p_a_low) > 0.999
    assert (other.p_a_low, other.p_a_high) == pytest.approx((1.0 - key.p_a_high, 1.0 - key.p_a_low), abs=1e-9)


def test_the_chance_falls_steadily_the_further_the_chuck_is_off() -> None:
    out = 2.0 * np.exp(2j * np.pi * np.arange(8) / 8)[:, None] + THREE / 10.0
    keys = [key_shift(list(e + 1.0 + out), list(e - 1.0 + out), resolution_um=0.01) for e in np.linspace(0.1, 60.0, 90)]
    for ends in ([key.p_a_low for key in keys], [key.p_a_high for key in keys]):
        assert np.all(np.diff(ends) <= 1e-12)


def test_two_collets_that_agree_by_luck_count_their_clampings_scatter_instead() -> None:
    key = key_shift(list(2.0 + np.stack([THREE, THREE])), list(1.0 + np.stack([THREE, THREE])), resolution_um=0.01)
    assert key.variance == pytest.approx(0.25)
    assert key.shift_variance == pytest.approx(0.25 * (1 / 3 + 1 / 3) / 4)


def test_swings_widen_the_bracket_by_their_scatter_at_five_percent_over_all_collets() -> None:
    """Constructed case: three clampings 1 µm apart everywhere, so a variance of 1 with 12 degrees of freedom."""
    apart = np.array([-1.0, 0.0, 1.0])
    found = key_swings(
        [5.0 + apart, 9.0 + apart, 8.0 + apart], [9.0 + apart, 6.0 + apart, 9.0 + apart], resolution_um=0.01
    )
    out = float(scipy.stats.t.isf(0.025 / 3, 12)) * np.sqrt(2 / 3) / 4
    assert (found.low_um, found.high_um) == pytest.approx((4 / 4 - out, 14 / 4 + out), rel=1e-9)


def test_a_chuck_whose_collets_cross_is_chosen_per_collet() -> None:
    rng = np.random.default_rng(4)
    found = [key_shift(*map(list, chuck(rng, 10, 0.5, 2.0, 5.0, 0.2)), resolution_um=0.01) for _ in range(50)]
    assert sum(k.statement is Statement.PER_COLLET for k in found) >= 47


def test_a_difference_of_the_mean_swing_is_no_reason_for_a_chuck_wide_winner() -> None:
    """E 2, p 1.5, collets 3 µm out: B is better on average, A for more than a quarter of the collets."""
    rng = np.random.default_rng(5)
    said = []
    for _ in range(300):
        out = 3.0 * np.exp(2j * np.pi * rng.random((4, 1)))
        a, b = (2.0 + p + out + 0.5 * normal(rng, (4, 3)) for p in (1.5, -1.5))
        said.append(key_shift(list(a), list(b), resolution_um=0.01).statement)
    assert said.count(Statement.HOLE_B) <= 30
    assert said.count(Statement.HOLE_A) == 0


def test_swings_bracket_the_size_of_the_shift() -> None:
    rng = np.random.default_rng(6)
    held = []
    for _ in range(500):
        a, b = chuck(rng, 4, 2.0, 1.5, 3.0, 0.5)
        found = key_swings(list(2 * np.abs(a)), list(2 * np.abs(b)), resolution_um=0.01)
        held.append(found.low_um <= 1.5 <= found.high_um)
    assert np.mean(held) >= 0.94


@pytest.mark.parametrize(("clampings", "proven"), [(2, False), (3, True)])
def test_swings_prove_a_crossing_from_three_clampings_on(clampings: int, proven: bool) -> None:
    low, high = np.array([4.0, 4.1, 4.2])[:clampings], np.array([9.0, 9.1, 9.2])[:clampings]
    assert key_swings([low, high], [high, low], resolution_um=0.1).crossing_proven is proven
    assert not key_swings([low, low], [high, high], resolution_um=0.1).crossing_proven


def test_swings_whose_collets_do_not_cross_are_said_to_in_less_than_five_percent() -> None:
    rng = np.random.default_rng(8)
    found = [
        key_swings(list(6.0 + rng.standard_normal((4, 3))), list(6.0 + rng.standard_normal((4, 3))), resolution_um=0.01)
        for _ in range(1_000)
    ]
    assert np.mean([key.crossing_proven for key in found]) <= 0.01


def test_swings_that_do_not_depend_on_the_collet_are_said_to_in_five_percent() -> None:
    rng = np.random.default_rng(7)
    found = []
    for _ in range(1_000):
        level = rng.uniform(4.0, 12.0, (4, 1))
        a, b = level + 3.0 + rng.standard_normal((4, 3)), level + rng.standard_normal((4, 3))
        found.append(key_swings(list(np.abs(a)), list(np.abs(b)), resolution_um=0.01).p_depends <= 0.05)
    assert 0.03 <= np.mean(found) <= 0.072


def test_equal_readings_in_both_holes_show_no_effect() -> None:
    same = [np.array([2.0 + 1.0j, 2.0 + 1.0j]), np.array([1.0 - 1.0j, 1.0 - 1.0j])]
    assert key_shift(same, same, resolution_um=0.1).statement is Statement.NO_EFFECT_SHOWN


def test_too_few_collets_or_unmatched_lists_are_refused() -> None:
    one = [np.array([1.0 + 1.0j, 1.1 + 1.0j])]
    with pytest.raises(NotAnswerableError, match="1 collets given, 2 needed"):
        key_shift(one, one, resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="1 collets in hole A, 2 in hole B"):
        key_swings([np.array([1.0, 2.0])], [np.array([1.0, 2.0])] * 2, resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="1 vectors given, 2 needed"):
        key_shift([one[0], one[0][:1]], [one[0], one[0]], resolution_um=0.1)
