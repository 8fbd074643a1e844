"""Control charts against published figures.

Constants: as printed in ISO 7870-2 and the NIST/SEMATECH e-Handbook 6.3.2.1, to six places by quadrature done apart.
Run lengths: e-Handbook 6.3.2.3.1; Lucas and Crosier 1982 (head start); Lucas and Saccucci 1990 (weighted means); Champ
and Woodall 1987 (run rules); all from memory. Worked examples: e-Handbook 6.3.2.2 (single values), 6.3.2.3 (cumulative
sum), 6.3.2.4 (weighted mean), data and results from memory, in agreement with their own arithmetic.
"""

import numpy as np
import pytest

from qclog.statistics.charting import control_charts, run_lengths
from qclog.statistics.charting.chart_constants import constants
from qclog.statistics.charting.run_lengths import BEYOND, FOUR_OF_FIVE, NINE_IN_A_ROW, TWO_OF_THREE, Rule

EIGHT_IN_A_ROW = Rule(8, 8, 0.0)
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


@pytest.mark.parametrize(
    ("n", "d2", "d3", "c4", "a2", "a3", "b", "d"),
    [
        (2, 1.128379, 0.852502, 0.797885, 1.8800, 2.6587, (0, 3.2665), (0, 3.2665)),
        (3, 1.692569, 0.888368, 0.886227, 1.0233, 1.9544, (0, 2.5682), (0, 2.5746)),
        (5, 2.325929, 0.864082, 0.939986, 0.5768, 1.4273, (0, 2.0890), (0, 2.1145)),
        (7, 2.704357, 0.833205, 0.959369, 0.4193, 1.1819, (0.1177, 1.8823), (0.0757, 1.9243)),
        (10, 3.077505, 0.797051, 0.972659, 0.3083, 0.9754, (0.2837, 1.7163), (0.2230, 1.7770)),
        (25, 3.930629, 0.708441, 0.989640, 0.1526, 0.6063, (0.5648, 1.4352), (0.4593, 1.5407)),
    ],
)
def test_the_constants_of_charts(
    n: int, d2: float, d3: float, c4: float, a2: float, a3: float, b: tuple[float, float], d: tuple[float, float]
) -> None:
    found = constants(n)
    assert (found.d2, found.d3, found.c4) == pytest.approx((d2, d3, c4), abs=6e-7)
    assert (found.a2, found.a3) == pytest.approx((a2, a3), abs=6e-5)
    assert (*found.deviations, *found.ranges) == pytest.approx((*b, *d), abs=6e-5)


def test_the_constants_of_two_and_three_in_closed_form() -> None:
    """d2 = 2/sqrt(pi) and 3/sqrt(pi); d3 = sqrt(2 - 4/pi)."""
    assert (constants(2).d2, constants(3).d2) == pytest.approx((2 / np.pi**0.5, 3 / np.pi**0.5), abs=1e-10)
    assert constants(2).d3 == pytest.approx((2 - 4 / np.pi) ** 0.5, abs=1e-9)


def test_the_run_lengths_of_single_points() -> None:
    shifts = (0, 0.25, 0.5, 1, 1.5, 2, 3, 4)
    printed = (370.398, 281.153, 155.224, 43.895, 14.968, 6.303, 2.000, 1.189)
    assert [run_lengths.single_points(shift) for shift in shifts] == pytest.approx(printed, abs=6e-4)


@pytest.mark.parametrize(
    ("shift", "one_4", "one_5", "two_4", "two_5", "ahead_4", "ahead_5"),
    [
        (0, 335.368, 930.887, 167.684, 465.444, 148.696, 430.391),
        (0.5, 26.679, 38.010, 26.630, 37.996, 20.064, 28.666),
        (1, 8.383, 10.376, 8.383, 10.376, 5.287, 6.347),
        (2, 3.343, 4.009, 3.343, 4.009, 2.014, 2.362),
        (4, 1.708, 2.013, 1.708, 2.013, 1.067, 1.159),
    ],
)
def test_the_run_lengths_of_cumulative_sums(
    shift: float, one_4: float, one_5: float, two_4: float, two_5: float, ahead_4: float, ahead_5: float
) -> None:
    found = [run_lengths.cumulative_sum(shift, 0.5, limit) for limit in (4, 5)]
    found += [run_lengths.two_sided_sums(shift, 0.5, limit) for limit in (4, 5)]
    found += [run_lengths.two_sided_sums(shift, 0.5, limit, limit / 2) for limit in (4, 5)]
    assert found == pytest.approx([one_4, one_5, two_4, two_5, ahead_4, ahead_5], abs=6e-4, rel=2e-6)


@pytest.mark.parametrize(
    ("weight", "width", "printed"),
    [
        (0.40, 3.054, (500, 71.2, 14.3, 3.5, 1.4)),
        (0.20, 2.962, (500, 41.8, 10.5, 3.7, 1.9)),
        (0.10, 2.814, (500, 31.3, 10.3, 4.4, 2.2)),
        (0.05, 2.615, (500, 28.8, 11.4, 5.2, 2.7)),
    ],
)
def test_the_run_lengths_of_weighted_means(weight: float, width: float, printed: tuple[float, ...]) -> None:
    found = [run_lengths.weighted_mean(shift, weight, width) for shift in (0, 0.5, 1, 2, 4)]
    assert found == pytest.approx(printed, abs=0.051, rel=1.2e-3)


@pytest.mark.parametrize(
    ("rules", "in_control", "shifted"),
    [
        ((BEYOND,), 370.40, 43.89),
        ((BEYOND, TWO_OF_THREE), 225.44, 20.01),
        ((BEYOND, FOUR_OF_FIVE), 166.05, 12.66),
        ((BEYOND, EIGHT_IN_A_ROW), 152.73, 14.58),
        ((BEYOND, TWO_OF_THREE, FOUR_OF_FIVE), 132.89, 10.95),
        ((BEYOND, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_IN_A_ROW), 91.75, 9.22),
        ((BEYOND, NINE_IN_A_ROW), 216.70, 17.05),
    ],
)
def test_the_run_lengths_with_run_rules(rules: tuple[Rule, ...], in_control: float, shifted: float) -> None:
    assert run_lengths.with_rules(0.0, rules) == pytest.approx(in_control, abs=6e-3)
    assert run_lengths.with_rules(1.0, rules) == pytest.approx(shifted, abs=6e-3)


def test_single_values_of_the_handbook() -> None:
    """Printed: centre 50.81, limits 55.8041 and 45.8159 with the mean moving range 1.8778 and d2 rounded to 1.128."""
    found = control_charts.single_values(FLOW, least_sd=0.0)
    assert found.centre == pytest.approx(50.81)
    assert (found.upper, found.lower) == pytest.approx((55.8041, 45.8159), abs=2e-3)
    assert found.sd * constants(2).d2 == pytest.approx(1.8778, abs=5e-5)


def test_the_weighted_mean_of_the_handbook() -> None:
    """Printed: target 50, standard deviation 2.0539, weight 0.3, limits 52.5884 and 47.4115; 20 weighted means."""
    flow = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, *FLOW[3:]]
    printed = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36]
    printed += [49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]
    assert control_charts.weighted(flow, 0.3, start=50.0) == pytest.approx(printed, abs=6e-3)
    assert 50 + 2.0539 * control_charts.limit_of_weighted(0.3, 3.0) == pytest.approx(52.5884, abs=5e-5)


def test_the_cumulative_sum_of_the_handbook() -> None:
    """Printed: target 325, allowance 0.3175; the upper sums 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04 from
    group 13 on, the first over 4.1959 at group 14."""
    means = [324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600, 324.625, 325.150]
    means += [328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350]
    up, _ = control_charts.sums(np.array(means) - 325.0, 0.3175)
    assert up[12:] == pytest.approx([3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04], abs=6e-3)
    assert int(np.flatnonzero(up > 4.1959)[0]) + 1 == 14
