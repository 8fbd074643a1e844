"""One-sided tolerance factors and distribution-free sizes against published figures."""

import numpy as np
import pytest

from qclog.statistics.bounding.factors import distribution_free_size, tolerance_factor, upper_factor


def test_the_handbooks_one_sided_example_has_its_exact_factor() -> None:
    """NIST/SEMATECH e-Handbook 7.2.6.3: 43 wafers, content 0.90, confidence 0.99, exact k1 = 1.8740.

    The page's approximate k1 = 1.8752 is 0.07 % above it. 1.8739536 was computed a second time independently.
    """
    k = float(tolerance_factor(43, 42, 0.99, 0.90))
    assert k == pytest.approx(1.8739536, abs=5e-8)
    assert round(k, 4) == 1.8740
    assert k == pytest.approx(1.8752, rel=1e-3)
    assert 97.07 + k * 0.0268 == pytest.approx(97.1202, abs=5e-5)


K1_AT_95 = [
    (5, 3.4066, 4.2027, 5.7411),
    (10, 2.3546, 2.9110, 3.9811),
    (15, 2.0684, 2.5660, 3.5201),
    (20, 1.9260, 2.3960, 3.2952),
    (25, 1.8381, 2.2917, 3.1580),
    (30, 1.7773, 2.2198, 3.0639),
    (50, 1.6456, 2.0650, 2.8624),
    (100, 1.5267, 1.9265, 2.6840),
]


@pytest.mark.parametrize(("n", "at_90", "at_95", "at_99"), K1_AT_95)
def test_one_sided_factors_have_the_digits_of_the_table(n: int, at_90: float, at_95: float, at_99: float) -> None:
    """Confidence 0.95, contents 0.90, 0.95, 0.99; layout of Meeker, Hahn and Escobar, Statistical Intervals,
    computed independently with a general-purpose library."""
    found = tolerance_factor(n, n - 1, 0.95, 0.90), upper_factor([n])[0], tolerance_factor(n, n - 1, 0.95, 0.99)
    np.testing.assert_allclose(np.array(found), [at_90, at_95, at_99], rtol=0.0, atol=6e-5)


NATRELLA = [(3, 7.655), (4, 5.145), (5, 4.202), (6, 3.707), (7, 3.399), (8, 3.188), (9, 3.031), (10, 2.911)]


@pytest.mark.parametrize(("n", "printed"), NATRELLA)
def test_one_sided_factors_agree_with_the_old_hand_computed_table(n: int, printed: float) -> None:
    """Natrella 1963, NBS Handbook 91, table A-7, content 0.95, confidence 0.95 (from memory). Its third decimal
    is off by one in places."""
    assert float(upper_factor([n])[0]) == pytest.approx(printed, abs=1.6e-3)


SIZES = [
    (0.90, 0.95, 29),
    (0.95, 0.90, 45),
    (0.95, 0.95, 59),
    (0.95, 0.99, 90),
    (0.99, 0.95, 299),
    (0.99, 0.99, 459),
    (0.999, 0.95, 2995),
]


@pytest.mark.parametrize(("content", "confidence", "size"), SIZES)
def test_the_largest_of_so_many_values_is_a_bound_for_any_distribution(
    content: float, confidence: float, size: int
) -> None:
    """Wilks 1941 (from memory): 59 and 299 are the sizes every handbook prints."""
    assert distribution_free_size(content, confidence) == size
    assert content**size <= 1.0 - confidence < content ** (size - 1)


def test_a_size_that_meets_the_confidence_exactly_is_not_raised() -> None:
    assert distribution_free_size(0.5, 0.75) == 2
    assert distribution_free_size(0.9, 1.0 - 0.9**7) == 7
