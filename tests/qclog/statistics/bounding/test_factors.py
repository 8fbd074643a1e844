"""Factors and quantiles: shipped tables against direct computation and against printed figures.

Printed figures without another source are from own computation with a general-purpose library.
"""

import subprocess
import sys

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.statistics.bounding import factors
from qclog.statistics.bounding.factors import (
    compute_tables,
    exceeds_pool,
    lower_factor_verdict,
    prediction_factor,
    t_95,
    t_quantile,
    tolerance_factor,
    upper_factor,
    upper_factor_verdict,
    variance_excess,
)
from qclog.statistics.bounding.looking import LOOKS, OWN_DOES_NOT_HOLD, OWN_HOLDS, SHOP_HOLDS, risk

# n: tolerance 95/95, 90/95, 95/90 (content/confidence), 99/95; prediction 95 %, 90 %
OWN = """
2 26.259674 20.581468 13.089742 37.093581 7.732735 3.769377
3 7.655900 6.155281 5.311478 10.552730 3.371709 2.177324
4 5.143875 4.161933 3.956565 7.042363 2.631140 1.831054
5 4.202681 3.406633 3.399834 5.741085 2.335321 1.679543
6 3.707684 3.006257 3.091878 5.061989 2.176501 1.594137
7 3.399469 2.755432 2.893798 4.641720 2.077347 1.539164
8 3.187294 2.581909 2.754284 4.353856 2.009504 1.500753
9 3.031238 2.453755 2.649902 4.143022 1.960136 1.472373
10 2.910963 2.354640 2.568373 3.981118 1.922585 1.450533
11 2.814994 2.275314 2.502618 3.852336 1.893054 1.433199
12 2.736343 2.210132 2.448251 3.747085 1.869216 1.419103
13 2.670504 2.155440 2.402402 3.659196 1.849567 1.407413
14 2.614434 2.108766 2.363107 3.584512 1.833090 1.397560
15 2.566000 2.068372 2.328977 3.520127 1.819073 1.389141
16 2.523659 2.032999 2.298995 3.463942 1.807003 1.381865
17 2.486264 2.001711 2.272405 3.414402 1.796499 1.375512
18 2.452947 1.973795 2.248624 3.370332 1.787276 1.369917
19 2.423036 1.948700 2.227201 3.330821 1.779112 1.364952
20 2.396002 1.925991 2.207779 3.295157 1.771834 1.360517
25 2.291675 1.838100 2.132295 3.157955 1.744764 1.343934
30 2.219838 1.777329 2.079817 3.063901 1.727214 1.333112
40 2.125494 1.697179 2.010271 2.940942 1.705806 1.319833
50 2.064993 1.645565 1.965294 2.862449 1.693233 1.311995
100 1.926539 1.526749 1.861252 2.683958 1.668672 1.296596
"""

# pooled scatter, content and confidence 95 %, rows n, columns f
POOLED_DF = [4, 6, 8, 10, 12, 15, 20, 30, 40, 60, 100]
POOLED_TOLERANCE = """
1 5.0766 4.3597 4.0519 3.8813 3.7730 3.6689 3.5686 3.4721 3.4253 3.3792 3.3430
2 4.5747 3.8680 3.5644 3.3959 3.2888 3.1856 3.0862 2.9902 2.9435 2.8975 2.8613
3 4.3772 3.6680 3.3625 3.1926 3.0844 2.9799 2.8789 2.7812 2.7335 2.6865 2.6494
4 4.2701 3.5570 3.2490 3.0772 2.9676 2.8615 2.7588 2.6591 2.6102 2.5620 2.5239
5 4.2027 3.4859 3.1754 3.0019 2.8910 2.7834 2.6790 2.5773 2.5274 2.4779 2.4388
6 4.1562 3.4362 3.1236 2.9485 2.8364 2.7275 2.6215 2.5180 2.4670 2.4165 2.3763
8 4.0963 3.3712 3.0551 2.8775 2.7633 2.6522 2.5435 2.4369 2.3841 2.3315 2.2895
10 4.0593 3.3304 3.0117 2.8321 2.7164 2.6034 2.4926 2.3833 2.3289 2.2745 2.2309
15 4.0086 3.2737 2.9506 2.7676 2.6492 2.5330 2.4182 2.3039 2.2465 2.1886 2.1416
20 3.9826 3.2442 2.9185 2.7334 2.6133 2.4949 2.3775 2.2597 2.2000 2.1394 2.0899
"""
POOLED_PREDICTION = """
1 3.0149 2.7481 2.6298 2.5632 2.5205 2.4792 2.4391 2.4003 2.3813 2.3627 2.3479
2 2.6110 2.3799 2.2775 2.2198 2.1828 2.1470 2.1123 2.0787 2.0623 2.0461 2.0334
3 2.4616 2.2438 2.1472 2.0928 2.0580 2.0242 1.9915 1.9598 1.9443 1.9291 1.9171
4 2.3835 2.1725 2.0790 2.0264 1.9927 1.9600 1.9283 1.8976 1.8826 1.8678 1.8562
5 2.3353 2.1286 2.0370 1.9855 1.9524 1.9204 1.8893 1.8593 1.8446 1.8301 1.8187
6 2.3027 2.0989 2.0085 1.9577 1.9251 1.8935 1.8629 1.8333 1.8188 1.8045 1.7933
8 2.2612 2.0611 1.9723 1.9224 1.8904 1.8594 1.8293 1.8002 1.7860 1.7720 1.7609
10 2.2359 2.0380 1.9503 1.9009 1.8693 1.8386 1.8089 1.7801 1.7660 1.7522 1.7413
15 2.2018 2.0069 1.9205 1.8719 1.8407 1.8105 1.7813 1.7529 1.7391 1.7254 1.7147
20 2.1845 1.9912 1.9055 1.8572 1.8263 1.7963 1.7673 1.7392 1.7254 1.7119 1.7012
"""

# f, then t and A at the risks 0.05, 0.007, 0.012
RISKS = [0.05, 0.007, 0.012]
QUANTILES = """
1 6.313752 253.314445 45.465510 12990.906917 26.513256 4419.637301
2 2.919986 18.495726 8.362541 141.356557 6.338197 81.832327
3 2.353363 7.526450 5.175465 32.301502 4.241388 22.065222
4 2.131847 4.628072 4.172753 15.226120 3.540621 11.229603
5 2.015048 3.364997 3.699959 9.519795 3.199820 7.332350
6 1.943180 2.668866 3.428320 6.851601 3.000265 5.425811
8 1.859548 1.927575 3.130722 4.397495 2.777960 3.600952
10 1.812461 1.537878 2.971911 3.272315 2.657550 2.732522
15 1.753050 1.065847 2.780483 2.066070 2.510562 1.770466
20 1.724718 0.843180 2.692692 1.557923 2.442415 1.352678
"""

# n, then swings 0.95, 0.993, lower 0.05, lower 0.012; vectors 0.993, lower 0.012; swings 0.989
VERDICT = """
3 7.655900 20.783574 0.639145 0.329928 7.580438 0.335279 16.555917
4 5.143875 10.264743 0.743304 0.472382 5.344499 0.491498 8.790164
5 4.202681 7.232357 0.817779 0.569766 4.444092 0.598008 6.412564
6 3.707684 5.848379 0.874772 0.643035 3.950397 0.677397 5.291853
8 3.187294 4.553521 0.958032 0.749086 3.412207 0.790716 4.215322
10 2.910963 3.932818 1.017299 0.824289 3.116835 0.869738 3.687164
12 2.736343 3.564250 1.062468 0.881603 2.926214 0.929149 3.369105
15 2.566000 3.222086 1.113970 0.947062 2.736999 0.996095 3.070519
20 2.396002 2.897343 1.174582 1.024366 2.544675 1.073866 2.783915
"""


def rows(printed: str) -> npt.NDArray[np.float64]:
    return np.array([line.split() for line in printed.strip().splitlines()], dtype=np.float64)


def agree(found: npt.NDArray[np.float64], printed: npt.NDArray[np.float64], decimals: int = 6) -> None:
    np.testing.assert_allclose(found, printed, rtol=0.0, atol=0.6 * 10.0**-decimals)


@pytest.mark.parametrize("name", sorted(compute_tables()))
def test_every_shipped_entry_is_what_is_computed_directly(name: str) -> None:
    shipped, computed = factors._shipped()[name], compute_tables()[name]
    assert shipped.shape == computed.shape
    np.testing.assert_allclose(shipped, computed, rtol=1e-10, atol=1e-13)


def test_nothing_is_shipped_but_what_is_computed_directly() -> None:
    assert set(factors._shipped()) == set(compute_tables())


def test_sums_of_chebyshev_polynomials_are_those_of_numpy() -> None:
    coefficients, x = np.random.default_rng(1).normal(size=29), np.linspace(-1.0, 1.0, 101)
    direct = np.polynomial.chebyshev.chebval(x, coefficients)
    np.testing.assert_allclose(factors._chebyshev(x, coefficients), direct, rtol=0.0, atol=1e-12)


def test_own_data_factors_are_the_printed_ones() -> None:
    printed = rows(OWN)
    n = printed[:, 0].astype(int)
    agree(upper_factor(n), printed[:, 1])
    for column, content, confidence in ((1, 0.95, 0.95), (2, 0.90, 0.95), (3, 0.95, 0.90), (4, 0.99, 0.95)):
        agree(tolerance_factor(n, n - 1, confidence, content), printed[:, column])
    agree(prediction_factor(n, n - 1), printed[:, 5])
    agree(t_quantile(n - 1, 0.10) * np.sqrt(1.0 + 1.0 / n), printed[:, 6])


def test_pooled_scatter_factors_are_the_printed_ones() -> None:
    tolerance, prediction = rows(POOLED_TOLERANCE), rows(POOLED_PREDICTION)
    n, df = tolerance[:, :1], np.array(POOLED_DF)
    agree(tolerance_factor(n, df, 0.95), tolerance[:, 1:], 4)
    agree(prediction_factor(n, df), prediction[:, 1:], 4)


def test_the_pooled_scatter_example_has_its_printed_figures() -> None:
    """Constructed case: mean 5.22 of 5 clampings, scatter 1.1 with 20 degrees of freedom."""
    k, k_prediction = float(tolerance_factor(5, 20, 0.95)), float(prediction_factor(5, 20))
    agree(np.array([k, k_prediction]), np.array([2.678981, 1.889334]))
    agree(5.22 + 1.1 * np.array([k, k_prediction]), np.array([8.166879, 7.298268]))


def test_quantiles_are_the_printed_ones() -> None:
    printed = rows(QUANTILES)
    df = printed[:, :1]
    agree(t_quantile(df, RISKS), printed[:, 1::2])
    agree(variance_excess(df, RISKS), printed[:, 2::2])


def test_verdict_factors_are_the_printed_ones() -> None:
    printed = rows(VERDICT)
    n = printed[:, 0].astype(int)
    agree(upper_factor(n), printed[:, 1])
    agree(upper_factor_verdict(n), printed[:, 2])
    agree(tolerance_factor(n, n - 1, 0.05), printed[:, 3])
    agree(lower_factor_verdict(n), printed[:, 4])
    agree(tolerance_factor(n, 2 * (n - 1), 0.993), printed[:, 5])
    agree(tolerance_factor(n, 2 * (n - 1), 0.012), printed[:, 6])
    agree(tolerance_factor(n, n - 1, 0.989), printed[:, 7])


@pytest.mark.parametrize("n", [2, 5, 20, 21, 32, 33, 199, 200, 201, 450])
def test_verdict_factors_follow_the_price_of_looking_within_the_table_and_beyond(n: int) -> None:
    upper = tolerance_factor(n, n - 1, 1.0 - risk(n, OWN_HOLDS))
    lower = tolerance_factor(n, n - 1, risk(n, OWN_DOES_NOT_HOLD))
    np.testing.assert_allclose(upper_factor_verdict([n]), upper, rtol=1e-10)
    np.testing.assert_allclose(lower_factor_verdict([n]), lower, rtol=1e-10)
    np.testing.assert_allclose(upper_factor([n]), tolerance_factor(n, n - 1, 0.95), rtol=1e-10)


def test_factors_are_not_available_below_two_clampings() -> None:
    assert np.all(np.isposinf(upper_factor([0, 1])))
    assert np.all(np.isposinf(upper_factor_verdict([0, 1])))
    assert np.all(np.isneginf(lower_factor_verdict([0, 1])))


@pytest.mark.parametrize(("n", "confidence"), [(2, 0.95), (3, 0.993), (5, 0.012), (9, 0.988), (40, 0.95)])
def test_the_tolerance_factor_solves_its_defining_equation(n: int, confidence: float) -> None:
    """P(mean + k s above the 95 % point) by quadrature over s, without the noncentral t distribution."""
    k = float(tolerance_factor(n, n - 1, confidence))
    levels = (np.arange(20_000) + 0.5) / 20_000
    sd = np.sqrt(scipy.stats.chi2.ppf(levels, n - 1) / (n - 1))
    above = scipy.stats.norm.cdf(np.sqrt(n) * (k * sd - factors.Z_95))
    assert float(np.mean(above)) == pytest.approx(confidence, abs=2e-5)


def test_student_at_95_holds_for_any_degrees_of_freedom() -> None:
    df = np.concatenate([np.geomspace(1.0, 1e6, 999), [2.642515, 1e300]])
    np.testing.assert_allclose(t_95(df), scipy.stats.t.ppf(0.95, df), rtol=1e-11)


@pytest.mark.parametrize("df", [1.0, 2.5, 200.0, 201.0, 3000.0])
@pytest.mark.parametrize("tail", [0.05, 0.007, 0.0123, 0.012 * 20 / 63])
def test_quantiles_hold_on_and_off_the_table(df: float, tail: float) -> None:
    assert float(t_quantile(df, tail)) == pytest.approx(scipy.stats.t.isf(tail, df), rel=1e-9)
    excess = df / scipy.stats.chi2.ppf(tail, df) - 1.0
    assert float(variance_excess(df, tail)) == pytest.approx(excess, rel=1e-8)


def test_own_scatter_exceeds_the_pool_just_above_the_f_quantile() -> None:
    df, pool_df = np.meshgrid([1, 2, 5, 12, 60, 100], [1, 2, 8, 30, 200])
    border = scipy.stats.f.ppf(0.95, df, pool_df)
    assert not exceeds_pool(border * 0.9999, df, pool_df).any()
    assert exceeds_pool(border * 1.0001, df, pool_df).all()


def test_many_degrees_of_freedom_never_make_the_pool_test_stricter() -> None:
    df, pool_df = np.meshgrid([5, 100, 500], [200, 201, 5000])
    assert not exceeds_pool(scipy.stats.f.ppf(0.95, df, pool_df) * 0.9999, df, pool_df).any()
    assert exceeds_pool(scipy.stats.f.ppf(0.95, 5, 5000) * 1.02, 5, 5000)


def test_without_degrees_of_freedom_nothing_exceeds_the_pool() -> None:
    assert not exceeds_pool([1e9, 1e9], [0, 3], [12, 0]).any()


def test_every_look_of_the_ladder_is_on_the_table() -> None:
    tabled = factors._shipped()["risk"]
    for confidence in (OWN_HOLDS, SHOP_HOLDS):
        assert np.isin(risk(np.array(LOOKS), confidence), tabled).all()


def test_no_table_has_a_hole() -> None:
    for name, table in factors._shipped().items():
        assert not np.isnan(table).any(), name


def test_whole_sizes_up_to_two_hundred_load_no_scipy() -> None:
    program = (
        "import sys, numpy as np\n"
        "from qclog.statistics.bounding.factors import *\n"
        "from qclog.statistics.bounding.looking import risk, SHOP_HOLDS, OWN_HOLDS\n"
        "n = np.arange(1, 201)\n"
        "upper_factor(n), upper_factor_verdict(n), lower_factor_verdict(n), prediction_factor(n, n + 0.5)\n"
        "t_quantile(n, risk(n, SHOP_HOLDS)), variance_excess(n, risk(n, OWN_HOLDS)), t_quantile(n, 0.05)\n"
        "exceeds_pool(np.full(200, 9.0), n, n)\n"
        "sys.exit('scipy' in sys.modules)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
