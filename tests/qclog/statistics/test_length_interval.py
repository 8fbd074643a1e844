"""The interval of the mean vector's length: its known figures, its limits, its coverage."""

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import scipy.integrate
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.vector_bounds import vector_bounds_next_clampings, vector_bounds_within_sitting
from qclog.statistics.length_interval import length_interval, vector_exceedance
from qclog.statistics.vectors import VectorGroups, group_vectors

VECTORS = np.array([2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j])


def one_group(vectors: npt.ArrayLike, sitting: npt.ArrayLike = 0, **given: Any) -> VectorGroups:
    e = np.asarray(vectors, dtype=np.complex128)
    labels = np.broadcast_to(np.asarray(sitting), e.shape)
    return group_vectors(e, 2.0 * np.abs(e), np.zeros(e.size, dtype=int), labels, groups=1, resolution_um=0.01, **given)


def test_five_vectors_have_their_known_interval() -> None:
    moments = one_group(VECTORS).plain
    low, high = length_interval(np.abs(moments.mean), moments.sd_um / np.sqrt(5), moments.df)
    assert float(low[0]) == pytest.approx(1.990814, abs=6e-7)
    assert float(high[0]) == pytest.approx(3.092473, abs=6e-7)
    assert 2 * float(low[0]) == pytest.approx(3.981628, abs=1e-6)
    assert 2 * float(high[0]) == pytest.approx(6.184946, abs=1e-6)


def test_the_limits_solve_the_averaged_probability_by_adaptive_quadrature() -> None:
    length, error, df = 3.5, 0.6, 4

    def averaged(true: float) -> float:
        def at(w: float) -> float:
            share = w / (df * error**2)
            inside = scipy.stats.ncx2.cdf(length**2 * share, 2, true**2 * share)
            return float(inside * scipy.stats.chi2.pdf(w, df))

        return float(scipy.integrate.quad(at, 0.0, 80.0, epsabs=1e-10, limit=200)[0])

    low, high = length_interval(length, error, df)
    assert averaged(float(low)) == pytest.approx(0.975, abs=1e-6)
    assert averaged(float(high)) == pytest.approx(0.025, abs=1e-6)


def test_with_many_degrees_of_freedom_the_interval_is_that_of_known_scatter() -> None:
    low, high = length_interval([0.5, 2.0, 3.0, 4.0, 10.0], 1.0, 10_000_000)
    np.testing.assert_allclose(low, [0.0, 0.0, 0.69531, 1.85716, 7.98408], atol=2e-5)
    np.testing.assert_allclose(high, [1.81481, 3.77650, 4.82818, 5.85650, 11.91415], atol=2e-5)


def test_a_length_too_short_for_any_leaves_nothing_but_zero() -> None:
    low, high = length_interval(0.05, 1.0, 8)
    assert (float(low), float(high)) == (0.0, 0.0)
    low, high = length_interval(0.0, 1.0, 8)
    assert (float(low), float(high)) == (0.0, 0.0)


def test_a_length_far_beyond_its_error_has_nearly_the_interval_of_a_straight_line() -> None:
    low, high = length_interval(1e3, 1.0, 18)
    t = scipy.stats.t.ppf(0.975, 18)
    assert float(low) == pytest.approx(1e3 - t, abs=2e-3)
    assert float(high) == pytest.approx(1e3 + t, abs=2e-3)


def test_the_interval_grows_with_confidence_and_follows_the_unit() -> None:
    low, high = length_interval(3.0, 0.5, 6, 0.95)
    lower, higher = length_interval(3.0, 0.5, 6, 0.99)
    assert lower < low < high < higher
    np.testing.assert_allclose(length_interval(3000.0, 500.0, 6), (1000 * low, 1000 * high), rtol=1e-9)


@pytest.mark.parametrize(
    "given", [(np.nan, 1.0, 8), (-1.0, 1.0, 8), (1.0, 0.0, 0), (1.0, 1.0, 0), (1.0, np.inf, 8), ([1.0, np.inf], 1.0, 8)]
)
def test_figures_that_are_missing_are_refused(given: tuple[Any, Any, Any]) -> None:
    with pytest.raises(NotAnswerableError, match="missing"):
        length_interval(*given)


@pytest.mark.parametrize("n", [2, 3, 10])
def test_the_interval_covers_the_true_length(n: int) -> None:
    """The shadow of the 95 % circle covers 0.98; at 0 the length counts as covered where only 0 is left (0.975).

    The limits over the error depend on the length over the error alone: found on a grid, interpolated between.
    """
    rng = np.random.default_rng(71)
    sets, df = 20_000, 2 * (n - 1)
    grid = np.concatenate([np.arange(0.0, 12.0, 0.25), np.geomspace(12.0, 300.0, 6)])
    low_of, high_of = length_interval(grid, 1.0, df)
    for kappa in (0.0, 1.0, 2.0, 3.0, 5.0):
        e = kappa + rng.standard_normal((sets, n)) + 1j * rng.standard_normal((sets, n))
        mean = e.mean(axis=1)
        error = np.sqrt(np.sum(np.abs(e - mean[:, None]) ** 2, axis=1) / df / n)
        found = np.abs(mean) / error
        low, high = error * np.interp(found, grid, low_of), error * np.interp(found, grid, high_of)
        covered = np.mean((low <= kappa) & (kappa <= high))
        assert 0.925 <= covered <= (0.985 if kappa == 0.0 else 0.965), kappa
        assert np.mean(kappa > high) <= 0.060, kappa


def test_the_chance_of_exceeding_a_limit_has_its_known_figure() -> None:
    groups = one_group(VECTORS)
    assert float(vector_exceedance(groups, 8.0)[0]) == pytest.approx(0.025661, abs=6e-7)
    assert vector_exceedance(groups, np.nan)[0] == 0.0
    assert vector_exceedance(groups, 0.0)[0] == 1.0


def test_over_sittings_the_chance_is_that_of_a_clamping_in_a_new_sitting() -> None:
    """By adaptive quadrature with the prediction variance 0.295139 and its 7.655181 degrees of freedom."""
    chance = vector_exceedance(one_group(VECTORS, [1, 1, 2, 2, 3]), 8.0)
    assert float(chance[0]) == pytest.approx(0.024885, abs=5e-6)


@pytest.mark.parametrize("sitting", [0, [1, 1, 2, 2, 3]])
def test_the_next_swing_exceeds_its_own_prediction_bound_in_about_five_of_a_hundred(sitting: npt.ArrayLike) -> None:
    groups = one_group(VECTORS, sitting)
    bounds = vector_bounds_within_sitting(groups) if sitting == 0 else vector_bounds_next_clampings(groups)
    assert 0.040 <= float(vector_exceedance(groups, bounds.p95_um)[0]) <= 0.060


@pytest.mark.parametrize(("n", "kappa"), [(3, 0.0), (3, 3.0), (10, 1.0), (10, 3.0)])
def test_the_chance_of_exceeding_a_limit_is_uniform_over_what_comes_next(n: int, kappa: float) -> None:
    rng = np.random.default_rng(72)
    sets = 2_000
    e = kappa + rng.standard_normal((sets, n + 1)) + 1j * rng.standard_normal((sets, n + 1))
    logged, following = e[:, :n].ravel(), 2.0 * np.abs(e[:, n])
    group = np.repeat(np.arange(sets), n)
    groups = group_vectors(logged, 2 * np.abs(logged), group, np.zeros(sets * n), groups=sets, resolution_um=1e-6)
    chance = vector_exceedance(groups, following)
    assert 0.015 <= np.mean(chance < 0.05) <= 0.065
    assert (0.28 if kappa == 0.0 else 0.42) <= np.mean(chance < 0.5) <= 0.55


def test_below_two_clampings_nothing_is_known_of_the_next() -> None:
    assert vector_exceedance(one_group(VECTORS[:1]), 100.0)[0] == 1.0
    assert vector_exceedance(one_group([]), 100.0)[0] == 1.0
