"""Two groups of swings: known figures of constructed cases, a general-purpose library beside them, and size and power.

Figures come from constructed cases, computed a second time with a general-purpose library; shares from own
simulation with Rice-distributed swings and fixed seeds.
"""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.comparing.swings import (
    Sums,
    Welch,
    better_next,
    compare,
    pairs_better,
    permutation_p,
    sums_of,
    welch,
)
from qclog.statistics.samples import power_scale

Floats = npt.NDArray[np.float64]

A = [4.2, 5.6, 4.9, 6.3, 5.1]
B = [10.4, 12.1, 9.7, 11.8, 13.0]
NEAR_A = [6.1, 7.4, 5.2, 8.3, 6.6]
FINE = 0.01


def near(found: float, printed: float) -> None:
    assert found == pytest.approx(printed, abs=6e-7)


def swings(rng: np.random.Generator, shape: tuple[int, ...], nu: float, sigma: float) -> Floats:
    vectors = nu + sigma * (rng.standard_normal(shape) + 1j * rng.standard_normal(shape))
    return np.abs(vectors)


def welch_of_rows(a: Floats, b: Floats) -> Welch:
    """Welch for every row of a and b."""

    def sums(values: Floats) -> Sums:
        return Sums(np.full(len(values), values.shape[1]), values.mean(axis=1), values.std(axis=1, ddof=1))

    return welch(sums(a), sums(b))


def test_two_positions_far_apart_have_their_known_figures() -> None:
    found = compare(A, B, resolution_um=FINE)
    near(found.difference_um, 6.18)
    near(found.df, 6.481059)
    near(found.p_value, 0.000071)
    near(found.low_um, 4.517547)
    near(found.high_um, 7.842453)
    assert found.p_permutation is not None
    near(found.p_permutation, 0.007937)
    near(found.p_a_better_next, 0.996891)
    level = welch(sums_of(np.array(A), 0.0), sums_of(np.array(B), 0.0))
    near(float(level.error), 0.691665)
    near(float(level.t), 8.934966)


def test_the_scale_of_the_bounds_is_the_scale_of_the_chance_for_the_next_clamping() -> None:
    y_a, y_b = (sums_of(*power_scale(np.array(x), FINE)) for x in (A, B))
    near(float(y_a.mean), 3.003103)
    near(float(y_b.mean), 5.059052)
    near(float(y_a.sd) ** 2, 0.091156)
    near(float(y_b.sd) ** 2, 0.157092)


def test_two_positions_close_together_have_their_known_figures() -> None:
    found = compare(A, NEAR_A, resolution_um=FINE)
    near(found.difference_um, 1.5)
    near(found.df, 6.928233)
    near(found.p_value, 0.051320)
    near(found.low_um, -0.011351)
    near(found.high_um, 3.011351)
    assert found.p_permutation is not None
    near(found.p_permutation, 0.055556)
    near(found.p_a_better_next, 0.817251)
    assert found.pairs_a_better == pytest.approx(0.88)
    assert found.p_a_better_low < found.p_a_better_next < found.p_a_better_high


def test_swings_of_vectors_compare_to_their_known_figures() -> None:
    a = 2 * np.abs([2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j])
    b = 2 * np.abs([-0.8 + 5.0j, 0.6 + 5.9j, -0.2 + 4.6j, 0.9 + 5.2j, -0.5 + 6.1j])
    found = compare(a, b, resolution_um=FINE)
    near(found.difference_um, 5.588489)
    near(found.df, 7.848164)
    near(found.low_um, 3.875030)
    near(found.high_um, 7.301947)


def test_welch_agrees_with_a_library() -> None:
    rng = np.random.default_rng(1)
    a, b = rng.normal(5.0, 1.0, 7), rng.normal(6.0, 3.0, 4)
    found = compare(a, b, resolution_um=1e-9)
    theirs = scipy.stats.ttest_ind(b, a, equal_var=False)
    ends = theirs.confidence_interval(0.95)
    assert found.p_value == pytest.approx(float(theirs.pvalue), rel=1e-10)
    assert found.df == pytest.approx(float(theirs.df), rel=1e-12)
    assert (found.low_um, found.high_um) == pytest.approx((float(ends.low), float(ends.high)), rel=1e-10)


@pytest.mark.parametrize("sizes", [(4, 4), (4, 6), (5, 5)])
def test_the_permutation_over_all_splits_agrees_with_a_library(sizes: tuple[int, int]) -> None:
    rng = np.random.default_rng(2)
    a, b = rng.normal(5.0, 1.0, sizes[0]), rng.normal(6.2, 1.0, sizes[1])

    def apart(x: Floats, y: Floats, axis: int) -> Floats:
        return np.asarray(np.abs(x.mean(axis) - y.mean(axis)))

    theirs = scipy.stats.permutation_test((a, b), apart, alternative="greater", n_resamples=10_000)
    assert permutation_p(a, b) == pytest.approx(float(theirs.pvalue), abs=1e-12)


def test_the_permutation_over_random_splits_is_repeatable_and_near_the_t_test() -> None:
    rng = np.random.default_rng(3)
    a, b = rng.normal(5.0, 1.0, 15), rng.normal(5.7, 1.0, 15)
    assert permutation_p(a, b) == permutation_p(a, b)
    assert permutation_p(a, b) == pytest.approx(float(scipy.stats.ttest_ind(a, b).pvalue), abs=0.025)


def test_pairs_agree_with_the_count_of_a_rank_test() -> None:
    a, b = np.array([1.0, 2.0, 2.0, 5.0]), np.array([2.0, 3.0, 6.0])
    assert pairs_better(a, b) == pytest.approx(float(scipy.stats.mannwhitneyu(b, a).statistic) / 12.0)


def test_three_against_three_is_only_indicative() -> None:
    found = compare(A[:3], B[:3], resolution_um=FINE)
    assert found.indicative
    assert found.p_permutation is None
    assert not compare(A[:4], B[:4], resolution_um=FINE).indicative


def test_equal_readings_are_no_proof_beyond_the_step_they_were_read_to() -> None:
    within_a_step = compare([5.0] * 4, [6.0] * 4, resolution_um=5.0)
    far = compare([5.0] * 4, [6.0] * 4, resolution_um=0.1)
    assert within_a_step.p_value > 0.3
    assert far.p_value < 1e-6
    assert np.isfinite([far.p_a_better_next, far.low_um, far.p_a_better_low]).all()


def test_turning_the_groups_round_turns_the_answer_round() -> None:
    one, other = compare(A, NEAR_A, resolution_um=FINE), compare(NEAR_A, A, resolution_um=FINE)
    assert other.difference_um == pytest.approx(-one.difference_um)
    assert other.low_um == pytest.approx(-one.high_um)
    assert other.p_value == pytest.approx(one.p_value)
    assert other.p_a_better_next == pytest.approx(1.0 - one.p_a_better_next)


@pytest.mark.parametrize(
    ("b", "words"),
    [
        ([5.0, np.nan, 5.1], "swing 2 of 3"),
        ([5.0, 5.1, -0.1], "swing 3 of 3"),
        ([5.0, 5.1], "2 swings given, 3 needed"),
        ([], "0 swings given, 3 needed"),
    ],
)
def test_swings_no_answer_can_come_of_are_refused(b: list[float], words: str) -> None:
    with pytest.raises(NotAnswerableError, match=words):
        compare(A, b, resolution_um=FINE)


@pytest.mark.parametrize(("n", "nu"), [(4, 0.0), (5, 2.5), (8, 5.0)])
def test_positions_alike_are_called_different_in_five_percent(n: int, nu: float) -> None:
    rng = np.random.default_rng(4)
    found = welch_of_rows(swings(rng, (20_000, n), nu, 1.0), swings(rng, (20_000, n), nu, 1.0))
    assert 0.035 <= float(np.mean(found.p_value <= 0.05)) <= 0.06


def test_of_a_hundred_pairs_alike_at_most_eight_are_called_different() -> None:
    rng = np.random.default_rng(5)
    found = [
        compare(swings(rng, (6,), 6.0, 2.0), swings(rng, (6,), 6.0, 2.0), resolution_um=0.1).p_value for _ in range(100)
    ]
    assert sum(p <= 0.05 for p in found) <= 8


def test_the_interval_of_the_difference_covers_what_it_promises() -> None:
    rng = np.random.default_rng(6)
    found = welch_of_rows(swings(rng, (20_000, 5), 5.0, 1.0), swings(rng, (20_000, 5), 11.0, 3.0))
    low, high = found.interval(0.95)
    mean_a, mean_b = (float(scipy.stats.rice.mean(nu / s, scale=s)) for nu, s in ((5.0, 1.0), (11.0, 3.0)))
    truth = mean_b - mean_a
    assert 0.94 <= float(np.mean((low <= truth) & (truth <= high))) <= 0.965


def test_six_clampings_each_tell_six_and_a_half_from_twelve_and_a_half() -> None:
    rng = np.random.default_rng(7)
    found = welch_of_rows(swings(rng, (5_000, 6), 6.5, 2.0), swings(rng, (5_000, 6), 12.5, 2.0))
    assert float(np.mean((found.p_value <= 0.05) & (found.difference > 0))) >= 0.97
    assert not np.any((found.p_value <= 0.05) & (found.difference < 0))


def test_the_chance_for_the_next_clamping_and_its_interval_hold_the_truth() -> None:
    rng = np.random.default_rng(8)
    truth = 0.7174  # Rice lengths 5, 6 against 11, 6: closed form, own simulation
    point, held = [], []
    for _ in range(400):
        a, b = swings(rng, (5,), 5.0, 6.0), swings(rng, (5,), 11.0, 6.0)
        found = compare(a, b, resolution_um=1e-6)
        point.append(better_next(*(sums_of(*power_scale(x, 1e-6)) for x in (a, b))))
        held.append(found.p_a_better_low <= truth <= found.p_a_better_high)
    assert 0.65 <= float(np.mean(point)) <= 0.73
    assert 0.89 <= float(np.mean(held)) <= 0.98
