"""Vectors against published samples and figures.

Johnson and Wichern, Applied Multivariate Statistical Analysis: example 5.1 and the paired effluent data of
example 6.1 (figures from memory, recomputed). Zar, Biostatistical Analysis (2010), chapters 26 and 27: second-order
mean of seven mean vectors, as distributed with test data of circular statistics. Lengths with known scatter,
Marcum's Q and Rice figures recomputed by quadrature to 30 digits.
"""

import numpy as np
import numpy.typing as npt
import pytest

from qclog.statistics import rice
from qclog.statistics.bounding.factors import Z_95, rice_95
from qclog.statistics.length_interval import length_interval
from qclog.statistics.vectors import VectorMoments, group_vectors

EXAMPLE_5_1 = [(6, 9), (10, 6), (8, 3)]
LABORATORY_1 = [
    (6, 27),
    (6, 23),
    (18, 64),
    (8, 44),
    (11, 30),
    (34, 75),
    (28, 26),
    (71, 124),
    (43, 54),
    (33, 30),
    (20, 14),
]
LABORATORY_2 = [
    (25, 15),
    (28, 13),
    (36, 22),
    (35, 29),
    (15, 31),
    (44, 64),
    (42, 30),
    (54, 64),
    (34, 56),
    (29, 20),
    (39, 21),
]
MEAN_VECTORS = [
    (160, 0.8954), (169, 0.7747), (117, 0.4696), (140, 0.8794), (186, 0.3922), (134, 0.6952), (171, 0.3338),
]  # fmt: skip


def moments_of(xy: npt.ArrayLike) -> VectorMoments:
    e = np.asarray(xy, dtype=np.float64) @ np.array([1.0, 1.0j])
    zeros = np.zeros(e.size, dtype=int)
    return group_vectors(e, 2 * np.abs(e), zeros, zeros, groups=1, resolution_um=1e-9).plain


def t2_of(moments: VectorMoments) -> float:
    """Hotelling's T² = n m'S^-1 m from the sums that verdicts start from: mean, squares and twist."""
    n, mean, squares, twist = moments.clampings[0], moments.mean[0], moments.squares[0], moments.twist[0]
    form = squares * abs(mean) ** 2 - np.real(np.conj(twist) * mean**2)
    return float(2.0 * n * (n - 1) * form / (squares**2 - abs(twist) ** 2))


def test_three_points_have_the_exact_t2_of_example_5_1() -> None:
    assert t2_of(moments_of(np.array(EXAMPLE_5_1) - [9, 5])) == pytest.approx(7 / 9, rel=1e-12)


def test_the_paired_laboratories_have_their_t2() -> None:
    """Printed 13.6 against a critical 9.47 at 5 %; recomputed 13.639312 and 9.458877."""
    differences = np.array(LABORATORY_1) - np.array(LABORATORY_2)
    moments = moments_of(differences)
    assert complex(moments.mean[0]) == pytest.approx(-9.363636 + 13.272727j, abs=6e-7)
    assert t2_of(moments) == pytest.approx(13.639312, abs=6e-7)
    assert round(t2_of(moments), 1) == 13.6
    sum_of_variances = 199.2545 + 418.6182
    assert float(moments.squares[0]) / 10 == pytest.approx(sum_of_variances, abs=1e-3)
    assert float(moments.twist[0].imag) / 20 == pytest.approx(88.3091, abs=1e-3)


def test_seven_mean_vectors_share_a_direction() -> None:
    """The test for a common run-out vector: grand mean 152 degrees, length 0.59634, F 16.66 on 2 and 5."""
    degrees, length = np.array(MEAN_VECTORS).T
    moments = moments_of(np.column_stack([length * np.cos(np.radians(degrees)), length * np.sin(np.radians(degrees))]))
    mean = complex(moments.mean[0])
    assert np.degrees(np.angle(mean)) == pytest.approx(152.16592, abs=6e-6)
    assert abs(mean) == pytest.approx(0.5963353, abs=6e-8)
    assert t2_of(moments) == pytest.approx(39.990687, abs=6e-7)
    assert t2_of(moments) * 5 / 12 == pytest.approx(16.6628, abs=6e-5)


@pytest.mark.parametrize(
    ("found", "low", "high"),
    [
        (0.5, 0.0, 1.81481), (1.0, 0.0, 2.63612), (2.0, 0.0, 3.77650), (3.0, 0.69531, 4.82818),
        (4.0, 1.85716, 5.85650), (5.0, 2.90910, 6.87461), (10.0, 7.98408, 11.91415),
    ],
)  # fmt: skip
def test_the_interval_of_a_length_with_known_scatter(found: float, low: float, high: float) -> None:
    lower, upper = length_interval(found, 1.0, 1e8)
    assert float(lower) == pytest.approx(low, abs=6e-6)
    assert float(upper) == pytest.approx(high, abs=6e-6)


@pytest.mark.parametrize(("found", "high"), [(0.5, 1.34879), (1, 2.28752), (3, 4.50801), (5, 6.55733), (10, 11.59840)])
def test_the_one_sided_limit_of_a_length_with_known_scatter(found: float, high: float) -> None:
    assert float(length_interval(found, 1.0, 1e8, confidence=0.90)[1]) == pytest.approx(high, abs=6e-6)


def test_the_lower_limit_leaves_zero_at_the_exact_length() -> None:
    """sqrt(chi-square 0.975 with 2 df) = 2.716203; below sqrt(chi-square 0.025) = 0.225024 nothing is left."""
    assert float(length_interval(2.7162, 1.0, 1e8)[0]) == 0.0
    assert float(length_interval(2.71621, 1.0, 1e8)[0]) > 0.0
    assert float(length_interval(0.22502, 1.0, 1e8)[1]) == 0.0
    assert float(length_interval(0.22503, 1.0, 1e8)[1]) > 0.0


@pytest.mark.parametrize(
    ("a", "b", "q"),
    [
        (0, 1, 0.6065306597126334), (1, 1, 0.7328798037968202), (1, 2, 0.2690120600359099), (2, 1, 0.9181076963694060),
        (2, 2, 0.6035009606119933), (3, 3, 0.5674797622908615), (1, 3, 0.0437159715786357), (2, 4, 0.0341348449314441),
    ],
)  # fmt: skip
def test_marcum_q(a: float, b: float, q: float) -> None:
    assert 1.0 - float(rice.distribution(b, a, 1.0)) == pytest.approx(q, abs=1e-14)


def test_rice_points() -> None:
    printed = {0: 2.447747, 0.5: 2.591661, 1: 2.939763, 2: 3.826253, 3: 4.777225, 5: 6.731139, 10: 11.691114}
    np.testing.assert_allclose(rice_95(list(printed)), list(printed.values()), rtol=0, atol=6e-7)
    assert float(rice_95(1e9)) - 1e9 == pytest.approx(Z_95, abs=1e-6)
