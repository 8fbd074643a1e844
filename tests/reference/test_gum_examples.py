"""Worked examples of JCGM 100:2008 (the GUM), to the digits printed there.

Inputs and results of H.1 and H.5 as quoted in listings of the guide; table G.2 from memory.
"""

from math import sqrt

import pytest

from qclog.statistics.summaries import mean_and_sd
from qclog.statistics.turn.turns import pool_residual_sd
from qclog.statistics.uncertainty import ARCSINE, RECTANGULAR, Contribution, combine, coverage_factor

DIFFERENCE = combine(
    (
        Contribution("repeated observations", 13.0, "normal", sqrt(5), df=24),
        Contribution("comparator, random", 10.0, "normal", 2.57, df=5),
        Contribution("comparator, systematic", 20.0, "normal", 3.0, df=8),
    )
)
LENGTH_NM = 50.000623e6
END_GAUGE = combine(
    (
        Contribution("standard", 75.0, "normal", 3.0, df=18),
        Contribution("difference", DIFFERENCE.u_um, "normal", 1.0, df=DIFFERENCE.df),
        Contribution("difference in expansion", 1e-6, "rectangular", RECTANGULAR, -LENGTH_NM * -0.1, 50),
        Contribution("difference in temperature", 0.05, "rectangular", RECTANGULAR, -LENGTH_NM * 11.5e-6, 2),
    )
)  # in nm throughout


def test_h1_the_end_gauge_calibration_line_by_line() -> None:
    assert [line.u for line in DIFFERENCE.contributions] == pytest.approx([5.8, 3.9, 6.7], abs=0.05)
    assert DIFFERENCE.u_um == pytest.approx(9.7, abs=0.05)
    assert DIFFERENCE.df == pytest.approx(25.6, abs=0.05)
    assert [line.u for line in END_GAUGE.contributions] == pytest.approx([25, 9.7, 2.9, 16.6], abs=0.05)


def test_h1_combined_uncertainty_and_effective_degrees_of_freedom() -> None:
    assert END_GAUGE.u_um**2 == pytest.approx(1002, abs=0.5)
    assert END_GAUGE.u_um == pytest.approx(32, abs=0.5)
    assert END_GAUGE.df == pytest.approx(16.7, abs=0.05)
    assert 2.92 * END_GAUGE.u_um == pytest.approx(93, abs=0.6)  # printed with u rounded up to 32: 2.92 x 32


def test_h1_a_cyclic_temperature_is_u_shaped() -> None:
    cyclic = combine(
        (Contribution("cycle", 0.5, "arcsine", ARCSINE), Contribution("mean", 0.2, "normal", 1.0)),
    )
    assert cyclic.contributions[0].u == pytest.approx(0.35, abs=0.005)
    assert cyclic.u_um == pytest.approx(0.41, abs=0.005)


def test_h5_uncertainty_of_a_mean_with_and_without_an_effect_of_the_day() -> None:
    # J = 10 days of K = 5 observations: day means and standard deviations in V
    means = [10.000172, 10.000116, 10.000013, 10.000144, 10.000106]
    means += [10.000031, 10.000060, 10.000125, 10.000163, 10.000041]
    sds = [60e-6, 77e-6, 111e-6, 101e-6, 67e-6, 93e-6, 80e-6, 73e-6, 88e-6, 86e-6]
    mean, sd_of_means = mean_and_sd(means)
    within, df_within = pool_residual_sd(sds, 4)
    assert mean == pytest.approx(10.000097, abs=5e-7)
    assert sd_of_means * 1e6 == pytest.approx(57, abs=0.5)
    assert sd_of_means * sqrt(5) * 1e6 == pytest.approx(128, abs=0.5)
    assert within * 1e6 == pytest.approx(85, abs=0.5)
    assert df_within == 40
    assert 5 * sd_of_means**2 / within**2 == pytest.approx(2.25, abs=0.02)  # printed from rounded figures
    assert sqrt(sd_of_means**2 - within**2 / 5) * 1e6 == pytest.approx(43, abs=0.5)
    assert Contribution("days", sd_of_means * 1e6, "normal", sqrt(10)).u == pytest.approx(18, abs=0.5)
    everything, df = pool_residual_sd([sd_of_means * sqrt(5), within], [9, 40])
    assert df == 49
    assert Contribution("all", everything * 1e6, "normal", sqrt(50)).u == pytest.approx(13, abs=0.5)


@pytest.mark.parametrize(
    ("df", "t95"),
    [
        (1, 12.71),
        (2, 4.30),
        (3, 3.18),
        (4, 2.78),
        (5, 2.57),
        (8, 2.31),
        (10, 2.23),
        (15, 2.13),
        (20, 2.09),
        (30, 2.04),
        (50, 2.01),
    ],
)
def test_table_g2_the_95_percent_column_down_to_the_factor_of_two(df: int, t95: float) -> None:
    assert coverage_factor(df) == pytest.approx(t95, abs=0.005)
