"""The sense of clocking against readings: decided rightly, seldom wrongly, and not at all without evidence."""

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.chains.sense import Misfit, Sense, f_beyond, judge_sense, misfit

Vectors = NDArray[np.complex128]

THIRDS = np.array([0.0, 120.0, 240.0])
QUARTERS = np.array([0.0, 90.0, 180.0])
SCATTER = 0.3
FIXED = 2.0 + 1.0j


def clamped(angles_deg: NDArray[np.float64], body: complex, scatter: Any = 0.0) -> Vectors:
    """Eccentricities of a body turned to some angles, of many sets where there is scatter for many."""
    return np.asarray(FIXED + body * np.exp(1j * np.radians(angles_deg)) + scatter)


def decided(angles_deg: NDArray[np.float64], body: complex, *, sets: int, seed: int) -> NDArray[np.float64]:
    """How often each Sense is said of a body turned rightly, scatter 0.3 per axis."""
    rng = np.random.default_rng(seed)
    scatter = SCATTER * (rng.normal(size=(sets, angles_deg.size)) + 1j * rng.normal(size=(sets, angles_deg.size)))
    told = [judge_sense([misfit(e, angles_deg, floor_um=0.01)]).sense.value for e in clamped(angles_deg, body, scatter)]
    return np.bincount(told, minlength=len(Sense)) / sets


def test_in_thirds_both_sums_are_the_squares_of_two_fourier_components() -> None:
    e = np.array([3.1 + 0.4j, -0.9 + 2.2j, 0.3 - 1.7j])
    found = misfit(e, THIRDS, floor_um=1e-6)
    turned = np.exp(1j * np.radians(THIRDS))
    assert found.as_said_um2 == pytest.approx(abs(np.sum(e * turned)) ** 2 / 3)
    assert found.other_way_um2 == pytest.approx(abs(np.sum(e / turned)) ** 2 / 3)
    assert found.df == 2


def test_a_body_turned_through_quarters_by_hand() -> None:
    """F = 1, P = 2: clampings 3, 1+2i, -1. The other way round the direction (-1+i, 2, -1-i)/sqrt(8), conjugated, is
    left: the sum of squares is |(-1+i)3 + 2(1+2i) + (-1-i)(-1)|^2 / 8 = |0 + 8i|^2 / 8 = 8."""
    found = misfit([3, 1 + 2j, -1], QUARTERS, floor_um=0.1)
    assert found.other_way_um2 == pytest.approx(8.0)
    assert found.as_said_um2 == pytest.approx(2 * 0.01)


@pytest.mark.parametrize("angles", [THIRDS, QUARTERS, np.array([10.0, 40.0, 200.0, 300.0, 10.0])])
def test_clampings_without_scatter_are_told_either_way(angles: NDArray[np.float64]) -> None:
    right = clamped(angles, 4 * np.exp(0.3j))
    assert judge_sense([misfit(right, angles, floor_um=0.05)]).sense is Sense.AS_SAID
    assert judge_sense([misfit(right, -angles, floor_um=0.05)]).sense is Sense.OTHER_WAY
    assert judge_sense([misfit(np.conj(right), angles, floor_um=0.05)]).sense is Sense.OTHER_WAY
    assert judge_sense([misfit(np.conj(right), -angles, floor_um=0.05)]).sense is Sense.AS_SAID


@pytest.mark.parametrize(("ratio", "df"), [(99.00, 2), (15.98, 4), (6.029, 8), (4.849, 10), (2.938, 20)])
def test_the_one_per_cent_points_of_f_are_the_tabulated_ones(ratio: float, df: int) -> None:
    # F table at 1 % (NIST/SEMATECH e-Handbook 1.3.6.7.3, from memory)
    assert f_beyond(ratio, df) == pytest.approx(0.01, rel=2e-3)


@pytest.mark.parametrize("df", [2, 4, 18, 400, 3000])
@pytest.mark.parametrize("ratio", [1.0, 1.01, 1.3, 7.0, 1e4])
def test_the_tail_of_f_is_that_of_a_general_library(ratio: float, df: int) -> None:
    assert f_beyond(ratio, df) == pytest.approx(stats.f.sf(ratio, df, df), rel=1e-8, abs=1e-300)


@pytest.mark.parametrize(
    ("angles", "seed", "expected"),
    [
        (THIRDS, 1, 0.0100),  # exact: F with 2 and 2
        (QUARTERS, 2, 0.0076),  # own computation: two exponentials correlated by 1/4
        (np.tile(THIRDS, 2), 3, 0.0),
    ],
)
def test_of_a_body_that_runs_true_neither_sense_is_said_more_often_than_one_time_in_a_hundred(
    angles: NDArray[np.float64], seed: int, expected: float
) -> None:
    # own simulation, 12 000 sets: the standard error of 0.01 is 0.0009
    told = decided(angles, 0.0, sets=12_000, seed=seed)
    assert told[Sense.OTHER_WAY] == pytest.approx(expected, abs=0.003)
    assert told[Sense.AS_SAID] == pytest.approx(expected, abs=0.003)
    assert told[Sense.CANNOT_TELL] > 0.97


@pytest.mark.parametrize("angles", [THIRDS, QUARTERS])
@pytest.mark.parametrize(("body", "at_least"), [(0.3, 0.01), (3.0, 0.6), (6.0, 0.95)])
def test_of_a_body_that_runs_out_the_wrong_sense_is_said_less_often_and_the_right_one_the_more_it_does(
    angles: NDArray[np.float64], body: float, at_least: float
) -> None:
    # own simulation, 4 000 sets
    told = decided(angles, body, sets=4_000, seed=4)
    assert told[Sense.OTHER_WAY] < 0.008
    assert told[Sense.AS_SAID] > at_least


def test_each_clocking_once_more_tells_a_body_that_three_clampings_do_not() -> None:
    # own simulation: run-out of three times the scatter
    once = decided(THIRDS, 1.0, sets=2_000, seed=5)[Sense.AS_SAID]
    twice = decided(np.tile(THIRDS, 2), 1.0, sets=2_000, seed=5)[Sense.AS_SAID]
    assert [once, twice] == pytest.approx([0.17, 0.85], abs=0.03)


def test_readings_that_agree_better_than_their_step_prove_no_more_than_it() -> None:
    """Three equal clampings read on a coarse indicator: exactly equal, and yet nothing is known."""
    found = misfit([2.0, 2.0, 2.0 + 0.001j], THIRDS, floor_um=0.2)
    assert [found.as_said_um2, found.other_way_um2] == pytest.approx([2 * 0.04, 2 * 0.04])
    assert judge_sense([found]).sense is Sense.CANNOT_TELL
    small = clamped(THIRDS, 0.5)
    assert judge_sense([misfit(small, THIRDS, floor_um=0.02)]).sense is Sense.AS_SAID
    assert judge_sense([misfit(small, THIRDS, floor_um=0.2)]).sense is Sense.CANNOT_TELL


def test_places_are_fitted_apart_and_their_sums_added() -> None:
    parts = [Misfit(1.0, 40.0, 2), Misfit(3.0, 40.0, 4)]
    test = judge_sense(parts)
    assert (test.ratio, test.df, test.sense) == (20.0, 6, Sense.AS_SAID)
    assert judge_sense(parts[:1]).sense is Sense.CANNOT_TELL
    assert judge_sense([Misfit(80.0, 4.0, 6)]).sense is Sense.OTHER_WAY
    assert judge_sense([Misfit(80.0, 4.0, 6)], risk=0.0005).sense is Sense.CANNOT_TELL


@pytest.mark.parametrize(
    ("vectors", "angles", "floor", "message"),
    [
        ([1, 2, 3], [0, 120], 0.1, "3 vectors do not go with 2"),
        ([1, 2, 3], [0, 120, 480], 0.1, "fewer than 3 clockings"),
        ([1, 2, 3, 4], [0, 180, 360, 540], 0.1, "fewer than 3 clockings"),
        ([1, 2, np.nan], [0, 120, 240], 0.1, "not finite"),
        ([1, 2, 3], [0, 120, np.inf], 0.1, "not finite"),
        ([1, 2, 3], [0, 120, 240], 0.0, "floor of nothing"),
    ],
)
def test_what_cannot_show_a_sense_is_refused(
    vectors: list[float], angles: list[float], floor: float, message: str
) -> None:
    with pytest.raises(NotAnswerableError, match=message):
        misfit(vectors, angles, floor_um=floor)


def test_no_clampings_at_all_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="no clampings"):
        judge_sense([])
