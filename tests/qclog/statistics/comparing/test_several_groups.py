"""Three or more groups at once: adjusted p values, Welch's test of all, and the error of picking the best."""

import inspect

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.comparing.several import holm, rank, welch_f_p
from qclog.statistics.comparing.swings import Sums, sums_of, welch


def swings(rng: np.random.Generator, shape: tuple[int, ...], nu: float, sigma: float) -> npt.NDArray[np.float64]:
    return np.abs(nu + sigma * (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)))


def stacked(groups: list[npt.NDArray[np.float64]]) -> Sums:
    each = [sums_of(group, 0.0) for group in groups]
    return Sums(np.array([s.n for s in each]), np.array([s.mean for s in each]), np.array([s.sd for s in each]))


def test_p_values_are_adjusted_after_holm() -> None:
    """Constructed case: 0.01 x 3 and 0.03 x 2, the last not below the one before it."""
    np.testing.assert_allclose(holm(np.array([0.04, 0.01, 0.03])), [0.06, 0.03, 0.06])
    np.testing.assert_allclose(holm(np.array([0.9, 0.8])), [1.0, 1.0])


def test_for_two_groups_the_test_of_all_is_the_test_of_two() -> None:
    rng = np.random.default_rng(1)
    a, b = rng.normal(5.0, 1.0, 6), rng.normal(6.0, 2.0, 9)
    both = welch(sums_of(a, 0.0), sums_of(b, 0.0))
    assert welch_f_p(stacked([a, b])) == pytest.approx(float(both.p_value), rel=1e-10)


@pytest.mark.skipif("equal_var" not in inspect.signature(scipy.stats.f_oneway).parameters, reason="older library")
def test_the_test_of_all_agrees_with_a_library() -> None:
    rng = np.random.default_rng(2)
    groups = [rng.normal(mean, sd, n) for mean, sd, n in ((5.0, 1.0, 5), (6.0, 2.0, 8), (5.5, 0.5, 6), (7.0, 1.0, 4))]
    theirs = scipy.stats.f_oneway(*groups, equal_var=False)
    assert welch_f_p(stacked(groups)) == pytest.approx(float(theirs.pvalue), rel=1e-10)


def test_the_best_comes_first_and_is_settled_only_against_all_others() -> None:
    low, high = [4.0, 4.4, 3.8, 4.1, 4.3], [12.0, 12.5, 11.6, 12.2, 11.9]
    found = rank([high, low, [x + 0.1 for x in high]], resolution_um=0.01)
    assert found.order[0] == 1
    assert found.settled
    twins = rank([high, low, [x + 0.1 for x in low]], resolution_um=0.01)
    assert twins.order[0] == 1
    assert not twins.settled
    assert twins.p_all < 1e-6
    np.testing.assert_allclose(twins.p_pairs, twins.p_pairs.T)


def test_two_groups_or_too_few_clampings_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="2 groups given, 3 needed"):
        rank([[1, 2, 3], [1, 2, 3]], resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="2 swings given, 3 needed"):
        rank([[1, 2, 3], [1, 2], [1, 2, 3]], resolution_um=0.1)


def test_among_four_alike_a_best_one_is_seldom_settled_over_all_looks() -> None:
    """Without the adjustment a quarter would be."""
    rng = np.random.default_rng(3)
    settled = 0
    for _ in range(300):
        groups = swings(rng, (4, 12), 5.0, 2.0)
        settled += any(rank(list(groups[:, :n]), resolution_um=1e-6).settled for n in range(4, 13))
    assert settled <= 18


def test_one_much_better_among_four_is_found() -> None:
    rng = np.random.default_rng(4)
    found = [
        rank([swings(rng, (8,), nu, 2.0) for nu in (12.5, 6.5, 12.5, 13.5)], resolution_um=0.1) for _ in range(200)
    ]
    assert sum(r.settled and r.order[0] == 1 for r in found) >= 180
    assert not any(r.settled and r.order[0] != 1 for r in found)


def test_any_difference_among_four_alike_is_found_in_five_percent() -> None:
    rng = np.random.default_rng(5)
    found = [welch_f_p(stacked(list(swings(rng, (4, 6), 5.0, 1.0)))) <= 0.05 for _ in range(3_000)]
    assert 0.035 <= np.mean(found) <= 0.068
