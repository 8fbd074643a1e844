"""Two-sided tolerance factors against printed tables and a worked example."""

import math

import numpy as np
import pytest

from qclog.statistics.bounding.two_sided import two_sided_factor

EXACT = [
    (2, 36.519),
    (3, 9.789),
    (4, 6.341),
    (5, 5.077),
    (6, 4.422),
    (7, 4.020),
    (8, 3.746),
    (9, 3.546),
    (10, 3.393),
    (15, 2.965),
    (20, 2.760),
    (30, 2.555),
    (50, 2.382),
    (100, 2.234),
]


@pytest.mark.parametrize(("n", "printed"), EXACT)
def test_two_sided_factors_have_the_digits_of_the_exact_table(n: int, printed: float) -> None:
    """Content 0.95, confidence 0.95: Odeh and Owen 1980, Tables for Normal Tolerance Limits (from memory)."""
    assert two_sided_factor(n, n - 1, 0.95) == pytest.approx(printed, abs=6e-4)


def test_the_handbooks_approximate_two_sided_factor_lies_close_below_the_exact_one() -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3: 43 wafers, content 0.90, confidence 0.99, approximate k2 = 2.2173 (Howe 1969),
    97.07 -/+ k2 0.0268 = 97.0106 to 97.1294."""
    exact = two_sided_factor(43, 42, 0.99, 0.90)
    assert exact == pytest.approx(2.2173, rel=4e-3)
    assert exact > 2.2173
    assert 97.07 - exact * 0.0268 == pytest.approx(97.0106, abs=2e-4)
    assert 97.07 + exact * 0.0268 == pytest.approx(97.1294, abs=2e-4)


def test_with_ever_more_values_the_factor_comes_down_to_the_normal_quantile() -> None:
    """1.959964, the 97.5 % point of the standard normal distribution."""
    factors = [two_sided_factor(n, n - 1, 0.95) for n in (100, 1_000, 10_000, 100_000)]
    assert factors == sorted(factors, reverse=True)
    assert 1.959964 < factors[-1] < 1.97


def test_the_factor_holds_what_it_says_of_simulated_samples() -> None:
    """Own simulation, 40,000 samples of 6: the share of them whose interval holds 95 % of all values."""
    rng = np.random.default_rng(16269)
    sample = rng.standard_normal((40_000, 6))
    k = two_sided_factor(6, 5, 0.95)
    low, high = (sample.mean(axis=1) + side * k * sample.std(axis=1, ddof=1) for side in (-1, 1))
    cdf = np.vectorize(lambda x: 0.5 * math.erfc(-x / math.sqrt(2)))
    assert 0.945 < float(np.mean(cdf(high) - cdf(low) >= 0.95)) < 0.955


def test_too_few_values_have_no_factor() -> None:
    assert two_sided_factor(1, 0, 0.95) == math.inf
    assert two_sided_factor(0, 0, 0.95) == math.inf
