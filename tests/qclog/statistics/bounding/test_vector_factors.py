"""Factors of bounds from vectors: shipped tables against printed figures and direct computation.

Printed figures are from own computation with a general-purpose library.
"""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.statistics import rice
from qclog.statistics.bounding import factors
from qclog.statistics.bounding.factors import (
    prediction_factor,
    rice_95,
    tolerance_factor,
    vector_lower_factor_verdict,
    vector_upper_factor,
    vector_upper_factor_verdict,
)
from qclog.statistics.bounding.looking import OWN_DOES_NOT_HOLD, OWN_HOLDS, risk

# n, then k 95/95 and prediction factor at 2(n-1) degrees of freedom
FACTORS = """
2 7.845454 3.576237
3 4.377198 2.461645
4 3.557039 2.172542
5 3.175428 2.037033
6 2.948538 1.957682
7 2.795377 1.905346
8 2.683658 1.868152
9 2.597804 1.840323
10 2.529308 1.818701
12 2.425947 1.787261
15 2.320253 1.756920
20 2.209514 1.727589
30 2.088695 1.699184
"""
# n, then k at 0.993 and at 0.012, 2(n-1) degrees of freedom
VERDICT_FACTORS = """
3 7.580438 0.335279
4 5.344499 0.491498
5 4.444092 0.598008
6 3.950397 0.677397
8 3.412207 0.790716
10 3.116835 0.869738
12 2.926214 0.929149
15 2.736999 0.996095
20 2.544675 1.073866
"""


def rows(printed: str) -> npt.NDArray[np.float64]:
    return np.array([line.split() for line in printed.strip().splitlines()], dtype=np.float64)


def test_vector_factors_are_the_printed_ones() -> None:
    shown, verdict = rows(FACTORS), rows(VERDICT_FACTORS)
    n = shown[:, 0].astype(int)
    np.testing.assert_allclose(vector_upper_factor(n), shown[:, 1], rtol=0, atol=6e-7)
    np.testing.assert_allclose(prediction_factor(n, 2 * (n - 1)), shown[:, 2], rtol=0, atol=6e-7)
    n = verdict[:, 0].astype(int)
    np.testing.assert_allclose(vector_upper_factor_verdict(n), verdict[:, 1], rtol=0, atol=6e-7)
    np.testing.assert_allclose(vector_lower_factor_verdict(n), verdict[:, 2], rtol=0, atol=6e-7)


@pytest.mark.parametrize("n", [2, 5, 20, 21, 33, 200, 201, 450])
def test_vector_factors_hold_within_the_table_and_beyond(n: int) -> None:
    df = 2 * (n - 1)
    np.testing.assert_allclose(vector_upper_factor([n]), tolerance_factor(n, df, 0.95), rtol=1e-10)
    upper, lower = 1.0 - risk(n, OWN_HOLDS), risk(n, OWN_DOES_NOT_HOLD)
    np.testing.assert_allclose(vector_upper_factor_verdict([n]), tolerance_factor(n, df, upper), rtol=1e-10)
    np.testing.assert_allclose(vector_lower_factor_verdict([n]), tolerance_factor(n, df, lower), rtol=1e-10)
    assert np.all(np.isposinf(vector_upper_factor([0, 1])))
    assert np.all(np.isneginf(vector_lower_factor_verdict([0, 1])))


@pytest.mark.parametrize("df", [201, 256, 400, 402])
def test_quantiles_hold_at_the_degrees_of_freedom_of_two_hundred_vectors(df: int) -> None:
    for tail in (0.05, 0.007, 0.012):
        assert float(factors.t_quantile(df, tail)) == pytest.approx(scipy.stats.t.isf(tail, df), rel=1e-9)
        excess = df / scipy.stats.chi2.ppf(tail, df) - 1.0
        assert float(factors.variance_excess(df, tail)) == pytest.approx(excess, rel=1e-8)


def test_the_rice_point_without_the_library_is_that_with_it() -> None:
    kappa = np.concatenate([np.linspace(0.0, 12.0, 601), np.geomspace(12.0, 1e4, 50)])
    np.testing.assert_allclose(rice_95(kappa), rice.quantile(kappa), rtol=0, atol=1e-8)
