"""An overhang told from two distances."""

import math

import numpy as np
import pytest

from qclog.statistics.chains.overhang import at_overhang, correlation, tilt_per_100, weights


def test_two_planes_tell_a_third_and_the_nose() -> None:
    """Constructed case, checked by an independent calculation."""
    near, far = [1.0 + 0.5j], [2.2 - 0.3j]
    assert at_overhang(near, far, 10, 60, 100)[0] == pytest.approx(3.16 - 0.94j, abs=1e-12)
    assert 2 * abs(at_overhang(near, far, 10, 60, 100)[0]) == pytest.approx(6.593694, abs=1e-6)
    assert at_overhang(near, far, 10, 60, 0)[0] == pytest.approx(0.76 + 0.66j, abs=1e-12)
    assert tilt_per_100(near, far, 10, 60)[0] == pytest.approx(2.4 - 1.6j, abs=1e-12)


@pytest.mark.parametrize(
    ("at", "grown"),
    [
        (10, (1.000, 1.000, 1.000)),
        (35, (0.707, 0.866, 0.975)),
        (60, (1.000, 1.000, 1.000)),
        (80, (1.456, 1.249, 1.055)),
        (100, (1.970, 1.562, 1.135)),
        (150, (3.329, 2.458, 1.417)),
    ],
)
def test_scatter_grows_with_the_overhang_by_its_correlation(at: int, grown: tuple[float, float, float]) -> None:
    """Growth of the standard deviation for correlations 0, 0.5 and 0.9 (propagation of errors, JCGM 100, 5.2.2), and
    what the scatter of extrapolated clampings shows of it."""
    first, second = weights(10, 60, at)
    chance = np.random.default_rng(at)
    for rho, expected in zip((0.0, 0.5, 0.9), grown, strict=True):
        assert math.sqrt(first**2 + second**2 + 2 * first * second * rho) == pytest.approx(expected, abs=6e-4)
        both = chance.multivariate_normal([0, 0], [[1, rho], [rho, 1]], size=(2, 4000))
        near, far = (both[0, :, i] + 1j * both[1, :, i] for i in (0, 1))
        assert np.std(at_overhang(near, far, 10, 60, at)) / math.sqrt(2) == pytest.approx(expected, rel=0.05)
        assert correlation(near, far) == pytest.approx(rho, abs=0.05)


def test_scatter_that_is_not_there_has_no_correlation() -> None:
    assert correlation(np.zeros(3, dtype=complex), np.ones(3, dtype=complex)) is None
