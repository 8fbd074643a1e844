"""The forecast of a crossing: the known case, bands against a library, coverage. Fixed seeds."""

import numpy as np
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Z_95
from qclog.statistics.changing.crossing import (
    crossing,
    exceedance_at,
    prediction_bound,
    shared_slopes,
    tolerance_band,
)
from qclog.statistics.changing.trend import least_squares, line_through_sittings

X = [1, 4, 8, 12, 15, 20, 24, 30, 33, 40]
T = [4.8, 5.3, 4.4, 5.9, 5.2, 6.4, 5.8, 6.9, 6.1, 7.2]


@pytest.mark.parametrize(
    ("x", "printed"),
    [
        (41, [0.427574, 7.105889, 8.215129, 8.843364, 7.386632, 0.000635]),
        (60, [1.223569, 8.218530, 9.602898, 10.332909, 8.127839, 0.021827]),
    ],
)
def test_the_known_case_has_its_known_bands(x: float, printed: list[float]) -> None:
    line = least_squares(X, T, resolution_um=0.01)
    bands = [tolerance_band(line, x, confidence) for confidence in (0.95, 0.05)]
    found = [line.leverage(x), line.at(x), prediction_bound(line, x), *bands, exceedance_at(line, x, 10.0)]
    np.testing.assert_allclose(found, printed, atol=6e-7)


def test_the_known_case_crosses_at_its_known_places() -> None:
    found = crossing(least_squares(X, T, resolution_um=0.01), X, limit_um=10.0)
    assert (found.early, found.median) == pytest.approx((55.821038, 76.398135), abs=6e-7)
    assert found.late == np.inf  # beyond the horizon: 112.023052
    longer = crossing(least_squares(X, T, resolution_um=0.01), [1, 112.03], limit_um=10.0)
    assert longer.late == pytest.approx(112.03)
    assert (found.now, found.horizon) == (40.0, 79.0)
    assert found.p_rising == pytest.approx(0.000913, abs=6e-7)


def test_the_band_agrees_with_the_noncentral_t_of_a_library() -> None:
    line = least_squares(X, T, resolution_um=0.01)
    root = np.sqrt(float(line.leverage(50.0)))
    shift = scipy.stats.norm.ppf(0.95) / root
    expected = float(line.at(50.0)) + line.sd * root * scipy.stats.nct.ppf(0.95, 8, shift)
    assert float(tolerance_band(line, 50.0, 0.95)) == pytest.approx(expected, rel=1e-9)


def test_at_the_early_place_the_band_stands_on_the_limit() -> None:
    line = least_squares(X, T, resolution_um=0.01)
    found = crossing(least_squares(X, T, resolution_um=0.01), X, limit_um=9.0)
    assert float(tolerance_band(line, found.early, 0.95)) == pytest.approx(9.0, abs=1e-9)
    assert found.now < found.early < found.horizon


def test_without_a_drift_shown_only_the_early_place_is_given() -> None:
    steady = [5.0, 5.3, 4.8, 5.1, 4.9, 5.2, 5.0, 4.9, 5.1, 5.0]
    found = crossing(least_squares(X, steady, resolution_um=0.01), X, limit_um=5.6)
    assert found.p_rising > 0.10
    assert (found.median, found.late) == (np.inf, np.inf)
    assert found.early < np.inf


def test_a_weak_drift_has_no_upper_end() -> None:
    weak = [5.0, 5.2, 4.8, 5.1, 4.9, 5.2, 5.0, 5.2, 5.1, 5.3]
    found = crossing(least_squares(X, weak, resolution_um=0.01), X, limit_um=8.0)
    assert 0.05 < found.p_rising <= 0.10
    assert found.median < np.inf
    assert found.late == np.inf


def test_past_the_limit_already_everything_stands_at_now() -> None:
    found = crossing(least_squares(X, T, resolution_um=0.01), X, limit_um=3.0)
    assert (found.early, found.median, found.late) == (40.0, 40.0, 40.0)


def test_a_limit_out_of_reach_has_no_early_place() -> None:
    assert crossing(least_squares(X, [5.0] * 10, resolution_um=0.01), X, limit_um=5_000.0).early == np.inf


def test_impossible_limits_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="limit of 0"):
        crossing(least_squares(X, T, resolution_um=0.01), X, limit_um=0.0)


@pytest.mark.parametrize(("n", "kappa", "drift"), [(5, 3.0, 1.0), (10, 6.0, 0.5), (20, 3.0, 1.0)])
def test_bands_and_bound_cover_what_they_promise(n: int, kappa: float, drift: float) -> None:
    rng = np.random.default_rng(1)
    x, ahead = np.arange(n), 1.5 * (n - 1)

    def level(at: object) -> float:
        return kappa * (1.0 + drift * np.asarray(at, dtype=float) / (n - 1))  # type: ignore[return-value]

    point = float(scipy.stats.rice.ppf(0.95, level(ahead)))
    held = []
    for _ in range(1_500):
        swings = np.abs(level(x) + rng.standard_normal(n) + 1j * rng.standard_normal(n))
        line = least_squares(x, swings, resolution_um=1e-6)
        following = abs(level(ahead) + rng.standard_normal() + 1j * rng.standard_normal())
        upper, lower = (float(tolerance_band(line, ahead, confidence)) for confidence in (0.95, 0.05))
        held.append((upper >= point, lower <= point, following <= float(prediction_bound(line, ahead))))
    upper_held, lower_held, next_held = np.mean(held, axis=0)
    assert 0.92 <= upper_held <= 0.97
    assert 0.92 <= lower_held <= 0.975
    assert 0.925 <= next_held <= 0.97


def test_the_interval_of_the_crossing_holds_the_truth_and_early_is_not_too_late() -> None:
    """10 points at 6 times the scatter that double: 0.906 and 0.948 (own simulation)."""
    rng = np.random.default_rng(2)
    x = np.arange(10)
    limit = float(scipy.stats.rice.ppf(0.95, 6.0 * (1.0 + 14.0 / 9.0)))
    held, safe = [], []
    for _ in range(300):
        swings = np.abs(6.0 * (1.0 + x / 9.0) + rng.standard_normal(10) + 1j * rng.standard_normal(10))
        found = crossing(least_squares(x, swings, resolution_um=1e-6), x, limit_um=limit)
        held.append(found.early <= 14.0 <= found.late)
        safe.append(found.early <= 14.0)
    assert 0.85 <= np.mean(held) <= 0.95
    assert 0.91 <= np.mean(safe) <= 0.98


@pytest.mark.parametrize(("between", "within"), [(0.0, 1.0), (0.7, 1.0), (1.0, 0.3)])
def test_over_sittings_the_bands_cover_whatever_the_days_add(between: float, within: float) -> None:
    """Five clampings on each of seven days; all as one line 0.95, 0.85 and 0.68 for the upper band (own simulation)."""
    rng = np.random.default_rng(4)
    x, sitting = np.repeat(np.arange(7.0), 5), np.repeat(np.arange(7), 5)
    point = 20.0 + 0.3 * 8.0 + Z_95 * float(np.hypot(between, within))
    held = []
    for _ in range(1_500):
        swings = 20.0 + 0.3 * x + between * rng.standard_normal(7)[sitting] + within * rng.standard_normal(35)
        line = line_through_sittings(x, swings, sitting, resolution_um=1e-6)
        following = 22.4 + rng.normal(0.0, np.hypot(between, within))
        upper, lower = (float(tolerance_band(line, 8.0, confidence)) for confidence in (0.95, 0.05))
        above = float(exceedance_at(line, 8.0, following)) >= 0.05
        held.append((upper >= point, lower <= point, following <= float(prediction_bound(line, 8.0)), above))
    upper_held, lower_held, next_held, exceeded = np.mean(held, axis=0)
    assert 0.915 <= upper_held <= 0.975
    assert 0.92 <= lower_held <= 0.975
    assert 0.925 <= next_held <= 0.975
    assert exceeded == next_held


def test_bands_over_sittings_come_in_the_shape_of_the_places() -> None:
    line = line_through_sittings(
        np.repeat(X, 2), np.repeat(T, 2) + np.tile([0.2, -0.2], 10), np.repeat(X, 2), resolution_um=0.01
    )
    for confidence in (0.95, 0.05):
        band = tolerance_band(line, [41.0, 60.0], confidence)
        np.testing.assert_allclose(band, [float(tolerance_band(line, x, confidence)) for x in (41.0, 60.0)], rtol=1e-12)


def test_over_sittings_the_crossing_counts_the_scatter_of_a_clamping_not_that_of_a_day_s_mean() -> None:
    x, values = np.repeat(X, 2), np.repeat(T, 2) + np.tile([1.0, -1.0], 10)
    line = line_through_sittings(x, values, x, resolution_um=0.01)
    found = crossing(line, x, limit_um=12.0)
    sd = np.sqrt(0.499251**2 + 0.5 * 2.0)
    assert found.median == pytest.approx(18.7 + (12.0 - Z_95 * sd - 5.8) / 0.058560, rel=1e-4)


def test_slopes_that_agree_are_drawn_together_and_those_that_do_not_stay() -> None:
    alike, variance = shared_slopes([0.3, 0.31, 0.29, 0.3, 0.3, 0.3], [0.04] * 6)
    np.testing.assert_allclose(alike, 0.3, atol=0.005)
    assert np.all(variance < 0.04)
    apart, _ = shared_slopes([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], [1e-6] * 6)
    np.testing.assert_allclose(apart, [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], atol=1e-4)
    with pytest.raises(NotAnswerableError, match="4 slopes given, 5 needed"):
        shared_slopes([1, 2, 3, 4], [1, 1, 1, 1])


def test_a_constructed_case_of_shared_slopes_has_its_figures_by_hand() -> None:
    """Variance between 2.5 - 0.5, so each is drawn by (2/4)(0.5/2.5) = 0.1 of its distance from 2."""
    slopes, variances = shared_slopes([0.0, 1.0, 2.0, 3.0, 4.0], [0.5] * 5)
    np.testing.assert_allclose(slopes, [0.2, 1.1, 2.0, 2.9, 3.8])
    np.testing.assert_allclose(variances, [0.50, 0.47, 0.46, 0.47, 0.50])


def test_shared_slopes_are_nearer_the_truth_and_their_intervals_hold_it() -> None:
    rng = np.random.default_rng(3)
    error, held = [], []
    for _ in range(1_000):
        truth = rng.normal(0.3, 0.1, 10)
        own = rng.normal(truth, 0.2)
        slope, variance = shared_slopes(own, np.full(10, 0.04))
        error.append((np.mean((slope - truth) ** 2), np.mean((own - truth) ** 2)))
        held.append(np.mean(np.abs(slope - truth) <= 1.645 * np.sqrt(variance)))
    shared, alone = np.mean(error, axis=0)
    assert shared <= 0.5 * alone
    assert 0.90 <= np.mean(held) <= 0.985
