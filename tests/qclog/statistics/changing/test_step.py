"""Steps: a constructed case by brute force, the limits, size and power by simulation with fixed seeds."""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.step import Step, find_step, step_limits, step_p

RECORD = [5.0, 4.6, 5.4, 4.9, 5.3, 4.7, 5.1, 5.6, 4.8, 5.2, 7.1, 6.6, 7.4, 6.9]


def found_in(rng: np.random.Generator, sets: int, n: int, nu: float, after: float) -> list[Step]:
    """Steps found where the level goes from nu to ``after`` half way."""
    level = np.where(np.arange(n) < n // 2, nu, after)
    z = rng.standard_normal((sets, n)) + 1j * rng.standard_normal((sets, n))
    swings: npt.NDArray[np.float64] = np.abs(level + z)
    return [find_step(row, resolution_um=1e-6) for row in swings]


def test_the_step_is_the_largest_two_sample_t_over_all_places() -> None:
    y = np.array(RECORD) ** (2 / 3)
    every = [abs(float(scipy.stats.ttest_ind(y[:k], y[k:]).statistic)) for k in range(3, 12)]
    found = find_step(RECORD, resolution_um=0.01)
    assert found.t == pytest.approx(max(every), rel=1e-10)
    assert found.before == 3 + int(np.argmax(every)) == 10
    assert found.change_um == pytest.approx(7.0 - 5.06)
    assert found.proven


def test_the_limits_are_the_tables_and_between_them_in_order() -> None:
    np.testing.assert_allclose(step_limits(8), [2.597, 3.193, 4.697])
    np.testing.assert_allclose(step_limits(40), [2.773, 3.090, 3.711])
    np.testing.assert_allclose(step_limits(500), step_limits(200))
    assert np.all(np.diff(step_limits(17)) > 0.0)
    assert step_limits(20)[2] < step_limits(17)[2] < step_limits(15)[2]


@pytest.mark.parametrize("n", [8, 15, 40, 130])
def test_the_p_is_that_of_the_limits_and_falls_with_t(n: int) -> None:
    for limit, level in zip(step_limits(n), (0.10, 0.05, 0.01), strict=True):
        assert step_p(n, float(limit)) == pytest.approx(level, rel=1e-9)
    p = [step_p(n, t) for t in np.linspace(0.5, 12.0, 200)]
    assert np.all(np.diff(p) <= 0.0)
    assert p[0] == 1.0


@pytest.mark.parametrize(("n", "nu"), [(8, 0.0), (13, 2.0), (20, 5.0), (70, 3.0)])
def test_a_steady_record_shows_a_step_in_five_percent(n: int, nu: float) -> None:
    found = found_in(np.random.default_rng(1), 2_000, n, nu, nu)
    assert 0.035 <= np.mean([s.proven for s in found]) <= 0.068
    assert 0.075 <= np.mean([s.p_value <= 0.10 for s in found]) <= 0.125


@pytest.mark.parametrize(("n", "nu", "low", "high"), [(10, 5.0, 0.76, 0.85), (20, 2.0, 0.31, 0.42)])
def test_a_step_of_half_the_level_is_found_as_often_as_known(n: int, nu: float, low: float, high: float) -> None:
    """0.807 with 10 clampings at 5 times the scatter, 0.363 with 20 at twice (own simulation)."""
    found = found_in(np.random.default_rng(2), 1_000, n, nu, 1.5 * nu)
    assert low <= np.mean([s.proven for s in found]) <= high


def test_a_large_step_is_located_to_a_clamping() -> None:
    found = found_in(np.random.default_rng(3), 300, 20, 5.0, 10.0)
    assert np.mean([abs(s.before - 10) <= 1 for s in found]) >= 0.97
    assert np.mean([s.change_um for s in found]) == pytest.approx(5.0, abs=0.2)


def test_equal_readings_have_no_step() -> None:
    assert not find_step([5.0] * 10, resolution_um=1.0).proven


def test_too_few_or_impossible_swings_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match=r"7 swings given, 8 needed\. Log 1 more"):
        find_step(RECORD[:7], resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="swing 4 of 8"):
        find_step([1, 2, 3, -4, 5, 6, 7, 8], resolution_um=0.1)
