"""Published trends, change points and lines, to the digits they are printed with.

Gilbert 1987, Statistical Methods for Environmental Pollution Monitoring, chapter 16; US EPA QA/G-9; Helsel and Hirsch,
Statistical Methods in Water Resources; annual flow of the Nile at Aswan 1871-1970, Cobb 1978, Biometrika 65;
NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.3, 4.4.4 and 4.5.1.2. Data and printed figures partly from
memory; figures with more digits than printed were computed a second time with a general-purpose library.
"""

import numpy as np
import pytest

from qclog.statistics.bounding.factors import t_quantile
from qclog.statistics.changing.step import find_step
from qclog.statistics.changing.trend import kendall_tail, least_squares, rank_trend
from qclog.statistics.comparing.swings import Sums, welch

NILE = np.array([
    *(1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140),
    *(1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969),
    *(831, 726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759),
    *(781, 865, 845, 944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890),
    *(744, 749, 838, 1050, 918, 986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740),
], dtype=float)  # fmt: skip
TEMPERATURE = [
    *(54.749, 23.323, 58.775, 25.854, 68.297, 37.481, 49.542, 34.101, 33.901, 29.242, 39.506, 43.004, 53.226, 54.467),
    *(57.549, 61.204, 31.489, 68.476, 51.144, 68.774, 55.35, 44.692, 50.995, 21.602, 54.673, 41.449, 35.451, 42.989),
    *(48.599, 21.448, 56.982, 47.901, 40.285, 25.609, 22.971, 25.838, 49.127, 54.936, 50.917, 41.976),
]
PRESSURE = [
    *(
        225.066,
        100.331,
        230.863,
        106.16,
        277.502,
        148.314,
        197.562,
        138.537,
        137.969,
        117.41,
        164.442,
        181.044,
        222.179,
    ),
    *(227.01, 232.496, 253.557, 139.894, 273.931, 207.969, 280.205, 227.06, 180.605, 206.229, 91.464, 223.869, 172.91),
    *(
        152.073,
        169.427,
        192.561,
        94.448,
        222.794,
        199.003,
        168.668,
        109.387,
        98.445,
        110.987,
        202.662,
        224.773,
        216.058,
    ),
    171.469,
]


@pytest.mark.parametrize(
    ("values", "s", "p", "slope"),
    [([10, 15, 14, 20], 4, 0.167, 2.9166667), ([5, 6, 11, 8, 10], 6, 0.117, 1.125)],
    ids=["Gilbert", "EPA QA/G-9"],
)
def test_exact_one_sided_p_and_slope_of_short_records(values: list[float], s: int, p: float, slope: float) -> None:
    found = rank_trend(np.arange(len(values), dtype=float), np.array(values, dtype=float))
    assert found.s == s
    assert found.p_rising == pytest.approx(p, abs=0.0005)
    assert found.slope == pytest.approx(slope, abs=1e-7)


def test_gilberts_and_the_epas_p_to_more_digits() -> None:
    assert kendall_tail(4, 4) == pytest.approx(0.1666667, abs=1e-7)
    assert kendall_tail(5, 6) == pytest.approx(0.1166667, abs=1e-7)


def test_helsel_and_hirschs_kendall_example() -> None:
    x = np.array([2, 24, 99, 197, 377, 544, 632, 3452, 6587, 53170], dtype=float)
    y = np.array([1.22, 2.20, 4.80, 1.28, 1.97, 1.46, 2.34, 2.64, 4.84, 2.96])
    found = rank_trend(x, y)
    assert found.s == 23
    assert found.p_value == pytest.approx(0.0466226, abs=1e-7)


def test_helsel_and_hirschs_line_with_one_gross_value() -> None:
    x, y = np.arange(1.0, 8.0), np.array([1, 2, 3, 4, 5, 16, 7], dtype=float)
    found = rank_trend(x, y)
    assert found.slope == 1.0
    assert found.s == 19
    assert found.p_value == pytest.approx(0.0027778, abs=1e-7)
    assert found.low == 1.0
    assert least_squares(x, y, resolution_um=1e-6).slope == pytest.approx(1.7142857, abs=1e-7)


def test_the_flow_of_the_nile_falls() -> None:
    found = rank_trend(np.arange(100.0), NILE)
    assert found.s == -1387
    assert found.slope == pytest.approx(-2.6, abs=1e-9)
    assert 2.5e-05 < found.p_value < 3.6583e-05  # printed: by the normal distribution, whose tail is longer
    assert found.high < 0.0


def test_the_flow_of_the_nile_stepped_down_after_1898() -> None:
    found = find_step(NILE, resolution_um=1.0)
    assert found.before == 1898 - 1871 + 1
    assert found.change_um == pytest.approx(849.972222 - 1097.75, abs=1e-6)
    assert found.p_value < 1e-6


def test_the_handbooks_line_of_pressure_over_temperature() -> None:
    line = least_squares(TEMPERATURE, PRESSURE, resolution_um=1e-6)
    assert float(line.at(0.0)) == pytest.approx(7.74899, abs=1e-5)
    assert line.slope == pytest.approx(3.93014, abs=5e-6)
    assert line.sd == pytest.approx(4.299098, abs=1.5e-6)
    assert line.slope_error == pytest.approx(0.0507018, abs=6e-8)


@pytest.mark.parametrize(
    ("x", "fitted", "of_fit", "ahead"), [(25, 106.002508, 2.424447, 9.034455), (47, 192.465598, 1.400797, 8.815082)]
)
def test_the_handbooks_line_with_its_intervals(x: float, fitted: float, of_fit: float, ahead: float) -> None:
    line = least_squares(TEMPERATURE, PRESSURE, resolution_um=1e-6)
    t = float(t_quantile(line.df, 0.025))
    assert float(line.at(x)) == pytest.approx(fitted, abs=6e-7)
    assert t * line.sd * np.sqrt(float(line.leverage(x))) == pytest.approx(of_fit, abs=6e-7)
    assert t * line.sd * np.sqrt(1.0 + float(line.leverage(x))) == pytest.approx(ahead, abs=6e-7)


def test_the_handbooks_two_samples_of_cars_with_unequal_scatter() -> None:
    one, other = (
        Sums(np.asarray(n), np.asarray(mean), np.asarray(sd))
        for n, mean, sd in ((249, 20.14458, 6.41470), (79, 30.48101, 6.10771))
    )
    found = welch(other, one)
    assert float(found.t) == pytest.approx(-12.946273, abs=2e-5)  # from sums printed to 7 digits
    assert float(found.df) == pytest.approx(136.87498, abs=1e-3)
