"""The performance index from percentiles: closed forms, the noncentral t, and simulated coverage."""

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.sittings import SittingSums, sitting_sums
from qclog.statistics.charting.capability import HIGH, capability, percentile_index


def sample(mean: float, sd: float, n: int) -> SittingSums:
    """n values, one in each sitting, with exactly this mean and standard deviation."""
    x = np.random.default_rng(0).normal(size=n)
    return sitting_sums((x - x.mean()) / x.std(ddof=1) * sd + mean, np.arange(n))


@pytest.mark.parametrize(
    ("name", "upper", "median", "high", "index"),
    [
        ("Rayleigh, 2 um", 10.0, 2.0 * (2 * np.log(2)) ** 0.5, 2.0 * (-2 * np.log(0.00135)) ** 0.5, 1.5552415),
        ("Weibull 1.5, 4 um", 20.0, 4 * np.log(2) ** (2 / 3), 4 * (-np.log(0.00135)) ** (2 / 3), 1.5400726),
        ("lognormal, 0.5", 6.0, 1.0, np.exp(0.5 * 2.999977), 1.4361058),
        ("normal", 4.0, 0.0, HIGH, 4 / 2.999977),
    ],
)
def test_the_index_of_known_distributions(name: str, upper: float, median: float, high: float, index: float) -> None:
    """Constructed with closed forms of their percentiles; computed apart to seven digits."""
    assert percentile_index(upper, median, high) == pytest.approx(index, abs=1e-6), name


@pytest.mark.parametrize(("n", "index"), [(20, 1.16), (30, 1.0), (50, 1.33), (100, 1.67)])
def test_the_interval_of_one_normal_sample_is_that_by_the_noncentral_t(n: int, index: float) -> None:
    """scipy: C with P(t' < 3 sqrt(n) index) = 0.975 or 0.025 at noncentrality 3 sqrt(n) C."""
    from scipy.optimize import brentq
    from scipy.stats import nct

    found = capability(sample(0.0, 1.0, n), HIGH * index, swings=False)
    assert found.index == pytest.approx(index, abs=1e-9)
    for end, share in ((found.low, 0.975), (found.high, 0.025)):

        def short(c: float, share: float = share) -> float:
            return float(nct.cdf(HIGH * n**0.5 * index, n - 1, HIGH * n**0.5 * c) - share)

        assert end == pytest.approx(brentq(short, 0.1, 4.0), rel=0.01)


def test_swings_without_a_systematic_part_come_near_their_exact_index() -> None:
    """A Rayleigh distribution of 2 um has 1.5552 against 10 um; on the scale T^(2/3) it comes out 1.4 per cent high."""
    swings = 2.0 * np.sqrt(-2 * np.log(1 - (np.arange(2000) + 0.5) / 2000))
    found = capability(sitting_sums(swings ** (2 / 3), np.arange(2000)), 10.0, swings=True)
    assert found.index == pytest.approx(1.5552415, rel=0.02)
    assert found.median == pytest.approx(2.0 * (2 * np.log(2)) ** 0.5, rel=0.02)


def test_the_share_beyond_the_limit_is_that_of_the_normal_distribution() -> None:
    found = capability(sample(5.0, 1.0, 40), 6.644854, swings=False)
    assert found.beyond == pytest.approx(0.05, abs=1e-6)
    assert found.beyond_at_most > found.beyond


def test_two_sittings_are_too_few() -> None:
    with pytest.raises(NotAnswerableError, match="2 sittings"):
        capability(sitting_sums(np.array([1.0, 2.0, 3.0]), np.array([0, 0, 1])), 5.0, swings=False)


@pytest.mark.parametrize(
    ("kappa", "sittings", "each", "between"), [(3.0, 8, 1, 0.0), (3.0, 6, 3, 0.7), (0.0, 10, 1, 0.0)]
)
def test_the_interval_holds_the_true_index(kappa: float, sittings: int, each: int, between: float) -> None:
    """Own simulation, Rice distributed swings, 150 samples each; over 550 of them 0.89 to 0.97, its lower end more."""
    rng = np.random.default_rng(int(10 * kappa) + sittings)

    def draw(m: int, k: int) -> np.ndarray:
        day = np.repeat(between * (rng.normal(size=m) + 1j * rng.normal(size=m)), k)
        return np.asarray(2 * np.abs(kappa + day + rng.normal(size=m * k) + 1j * rng.normal(size=m * k)))

    limit = 14.0 if kappa else 9.0
    whole = draw(300_000, 1)
    true = float(percentile_index(limit, np.median(whole), np.quantile(whole, 0.99865)))
    label = np.repeat(np.arange(sittings), each)
    found = [capability(sitting_sums(draw(sittings, each) ** (2 / 3), label), limit, swings=True) for _ in range(150)]
    assert 0.81 < np.mean([one.low <= true <= one.high for one in found]) < 0.995
    assert np.mean([one.low <= true for one in found]) > 0.93
