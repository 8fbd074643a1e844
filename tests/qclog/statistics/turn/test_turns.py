"""Turns: the fit against hand-checkable cases, its limits, and its honesty under noise.

Figures marked "own simulation" or "constructed case" come from independent computations with a general
numerical library; the sampling fractions are elementary (any text on sampling).
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.harmonics import design, fit_harmonics, grid_waves, highest
from qclog.statistics.turn.turns import closure, evenly_spaced, fit_turns, pool_residual_sd

Floats = NDArray[np.float64]

# constructed case: eight angles, 180 degrees not read
GAP_ANGLES = [0, 45, 90, 135, 225, 270, 315]
GAP_READINGS = [[12.1, 14.0, 14.3, 12.9, 8.1, 7.6, 9.3]]


def waves(angles_deg: Floats, orders: list[int]) -> Floats:
    phase = np.outer(orders, np.radians(angles_deg))
    return np.vstack([np.cos(phase), np.sin(phase)])


def turns_of(
    angles_deg: Floats, amplitudes_um: dict[int, float], *, turns: int, noise_um: float, seed: int
) -> tuple[Floats, Floats]:
    """Readings (turns, N) of lobes at random phases with noise, and the true swing on a grid of half degrees."""
    rng = np.random.default_rng(seed)
    orders, sizes = list(amplitudes_um), np.array(list(amplitudes_um.values()))
    phases = rng.uniform(0, 2 * np.pi, (turns, len(orders)))
    lobes = np.hstack([sizes * np.cos(phases), sizes * np.sin(phases)])
    readings = lobes @ waves(angles_deg, orders) + noise_um * rng.normal(size=(turns, len(angles_deg)))
    true = (lobes @ waves(evenly_spaced(720), orders)).T
    return readings, true.max(axis=0) - true.min(axis=0)


def without(n: int, *missing: int) -> Floats:
    return np.delete(evenly_spaced(n), missing)


def test_a_turn_with_a_gap_gives_eccentricity_swing_noise_and_their_uncertainties() -> None:
    fit = fit_turns(GAP_READINGS, GAP_ANGLES)
    assert (fit.n, fit.harmonics, fit.residual_df, fit.caveats) == (7, 2, 2, ())
    assert fit.eccentricity[0] == pytest.approx(0.827644 + 3.354379j, abs=1e-6)
    assert fit.eccentricity_tir_um[0] / 2 == pytest.approx(3.454975, abs=5.1e-7)
    assert fit.high_spot_deg[0] == pytest.approx(76.139935, abs=5.1e-7)
    assert fit.eccentricity_tir_um[0] == pytest.approx(6.909949, abs=5.1e-7)
    assert fit.u_eccentricity_tir_um[0] == pytest.approx(0.036666, abs=5.1e-7)
    assert fit.full_swing_um[0] == pytest.approx(6.912853, abs=5.1e-7)
    assert fit.u_full_swing_um[0] == pytest.approx(0.036593, abs=5.1e-7)
    assert fit.residual_sd_um[0] == pytest.approx(0.035984, abs=5.1e-7)
    assert fit.read_swing_um[0] == pytest.approx(6.7, abs=1e-12)


@pytest.mark.parametrize(
    ("harmonics", "coefficients", "sd", "u_axes", "swing", "u_swing"),
    [
        (1, [11.058683, 0.889221, 3.354379], 0.124464, [0.073634, 0.062232], 6.940456, 0.126121),
        (2, [11.089471, 0.827644, 0.153942, 3.354379, -0.025], 0.035984, [0.023227, 0.017992], 6.912853, 0.036593),
    ],
)
def test_the_coefficients_of_the_gap_turn_come_out_for_one_and_for_two_harmonics(
    harmonics: int, coefficients: list[float], sd: float, u_axes: list[float], swing: float, u_swing: float
) -> None:
    fit = fit_harmonics(GAP_READINGS, GAP_ANGLES, harmonics)
    found = np.concatenate([fit.mean_um, fit.cosine_um[:, 0], fit.sine_um[:, 0]])
    assert found == pytest.approx(coefficients, abs=5.1e-7)
    assert fit.residual_df == 7 - 2 * harmonics - 1
    assert fit.residual_sd_um[0] == pytest.approx(sd, abs=5.1e-7)
    u = sd * np.sqrt(np.diag(fit.covariance))
    assert u[[1, 1 + harmonics]] == pytest.approx(u_axes, abs=1e-6)
    (top,), (high,) = highest(found[1:, None])
    (bottom,), (low,) = highest(-found[1:, None])
    apart = grid_waves(harmonics)[:, high] - grid_waves(harmonics)[:, low]
    assert top + bottom == pytest.approx(swing, abs=5.1e-7)
    assert sd * np.sqrt(apart @ fit.covariance[1:, 1:] @ apart) == pytest.approx(u_swing, abs=1e-6)


@pytest.mark.parametrize(("n", "factor"), [(4, 0.7071), (8, 0.5), (12, 0.4082), (16, 0.3536), (36, 0.2357)])
def test_evenly_spaced_readings_know_both_axes_to_the_noise_times_root_two_over_n(n: int, factor: float) -> None:
    readings = np.vstack([3 * np.cos(np.radians(evenly_spaced(n) - high)) for high in (0, 33, 200)])
    assert fit_turns(readings, evenly_spaced(n)).eccentricity_factor / 2 == pytest.approx(factor, abs=5.1e-5)


@pytest.mark.parametrize(("n", "odd_harmonics"), [(5, 1), (6, 1), (8, 2), (12, 2), (36, 2)])
def test_a_plain_swing_is_known_to_the_noise_times_root_eight_odd_harmonics_over_n(n: int, odd_harmonics: int) -> None:
    readings = [3 * np.cos(np.radians(evenly_spaced(n) - 40))]
    expected = np.sqrt(8 * odd_harmonics / n)
    assert fit_turns(readings, evenly_spaced(n)).full_swing_factor == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("n", "missing", "inflations"),
    [
        (4, (0,), [1.732]),
        (6, (2,), [1.291, 1.732]),
        (8, (3,), [1.183, 1.291, 1.732]),
        (8, (3, 4), [1.523, 2.613]),
        (8, (1, 5), [1.414, 1.414]),
        (8, (1, 3), [1.225, 1.414]),
        (12, (0,), [1.106, 1.134, 1.183]),
        (12, (11, 0), [1.263, 1.464, 1.986]),
        (12, (4, 5, 6), [1.499, 2.272, 5.065]),
        (16, (0, 1, 2, 3), [1.491, 2.190, 4.229]),
    ],
)
def test_missing_angles_inflate_the_worst_axis_as_computed_apart(
    n: int, missing: tuple[int, ...], inflations: list[float]
) -> None:
    angles = without(n, *missing)
    for harmonics, inflation in enumerate(inflations, start=1):
        covariance = fit_harmonics([np.zeros(len(angles))], angles, harmonics).covariance
        axes = [1, 1 + harmonics]
        worst = np.sqrt(np.linalg.eigvalsh(covariance[np.ix_(axes, axes)])[-1])
        assert worst / np.sqrt(2 / n) == pytest.approx(inflation, abs=5.1e-4)
    with pytest.raises(NotAnswerableError, match="do not carry"):
        fit_harmonics([np.zeros(len(angles))], angles, len(angles) // 2 + 1)


@pytest.mark.parametrize(("n", "harmonics", "df"), [(4, 1, 1), (5, 1, 2), (6, 2, 1), (7, 2, 2), (8, 3, 1), (9, 3, 2)])
def test_the_full_curve_has_as_many_harmonics_as_the_readings_carry(n: int, harmonics: int, df: int) -> None:
    fit = fit_turns([np.arange(n)], evenly_spaced(n))
    assert (fit.harmonics, fit.residual_df) == (harmonics, df)


@pytest.mark.parametrize("angles", [without(12, 1, 2), without(9, 8), np.array([0, 30, 50, 110, 200, 215, 290])])
def test_the_uncertainties_are_what_a_change_of_each_reading_does_to_the_figures(angles: Floats) -> None:
    readings = 3 * np.cos(np.radians(angles - 140)) + 0.4 * np.cos(np.radians(2 * angles - 10))
    change = 1e-6
    plain = fit_turns([readings], angles)
    changed = fit_turns(readings + change * np.eye(len(angles)), angles)
    by_reading = (changed.eccentricity_tir_um - plain.eccentricity_tir_um) / change
    assert plain.eccentricity_factor[0] == pytest.approx(np.linalg.norm(by_reading), rel=1e-5)
    across = np.diff(np.vstack([np.full(len(angles), plain.high_spot_deg[0]), changed.high_spot_deg]), axis=0)[0]
    known = plain.with_residual_sd(0.2, 9)
    assert known.u_high_spot_deg[0] == pytest.approx(0.2 * np.linalg.norm(across) / change, rel=1e-4)
    by_reading = (changed.full_swing_um - plain.full_swing_um) / change
    assert plain.full_swing_factor[0] == pytest.approx(np.linalg.norm(by_reading), rel=1e-5)


def test_the_eccentricity_comes_from_a_fit_of_two_harmonics_however_many_the_full_curve_has() -> None:
    readings, _ = turns_of(without(12, 1, 2), {1: 3, 3: 0.5}, turns=3, noise_um=0.3, seed=4)
    fit = fit_turns(readings, without(12, 1, 2))
    second = fit_harmonics(readings, without(12, 1, 2), 2)
    assert fit.harmonics == 3
    np.testing.assert_allclose(fit.eccentricity, second.cosine_um[0] + 1j * second.sine_um[0], rtol=1e-12)
    third = fit_harmonics(readings, without(12, 1, 2), 3)
    np.testing.assert_allclose(fit.residual_sd_um, third.residual_sd_um, rtol=1e-9)


@pytest.mark.parametrize(
    ("n", "mean", "sd", "worst", "best"),
    [
        (4, 0.900316, 0.08798, 0.707107, 1.0),
        (5, 0.935489, 0.01389, 0.904508, 0.951057),
        (6, 0.954930, 0.04008, 0.866025, 1.0),
        (8, 0.974495, 0.02274, 0.923880, 1.0),
        (9, 0.979816, 0.00446, 0.969846, 0.984808),
        (12, 0.988616, 0.01017, 0.965926, 1.0),
        (16, 0.993587, 0.00573, 0.980785, 1.0),
        (18, 0.994931, 0.00453, 0.984808, 1.0),
        (24, 0.997147, 0.00255, 0.991445, 1.0),
        (36, 0.998731, 0.00113, 0.996195, 1.0),
    ],
)
def test_the_swing_as_read_loses_what_falls_between_the_readings_and_the_fit_does_not(
    n: int, mean: float, sd: float, worst: float, best: float
) -> None:
    phase = np.linspace(0, 360, 7200, endpoint=False)[:, None]
    fit = fit_turns(2.5 * np.cos(np.radians(evenly_spaced(n) - phase)), evenly_spaced(n))
    fraction = fit.read_swing_um / 5
    assert fraction.mean() == pytest.approx(mean, abs=1e-6)
    assert fraction.std() == pytest.approx(sd, abs=1e-5)
    assert (fraction.min(), fraction.max()) == pytest.approx((worst, best), abs=1e-6)
    np.testing.assert_allclose(fit.eccentricity_tir_um, 5, rtol=1e-12)
    np.testing.assert_allclose(fit.full_swing_um, 5, rtol=1e-5)


def random_coefficients() -> Floats:
    rng = np.random.default_rng(20)
    size = np.repeat([[3, 0.5, 0.3], [0.2, 1, 0.1], [0.1, 0.2, 2], [1, 1, 1]], 2000, axis=0).T
    phase = rng.uniform(0, 2 * np.pi, size.shape)
    special = np.zeros((6, 9))
    special[:, :6] = np.eye(6)  # pure lobes: two or three equal peaks, some between grid points
    special[0, 6], special[3, 7], special[2, 8] = np.cos(0.001), -1e-9, 1e6
    return np.hstack([np.vstack([size * np.cos(phase), size * np.sin(phase)]), special])


def test_the_swing_is_the_one_of_the_whole_grid_of_half_degrees() -> None:
    coefficients = random_coefficients()
    curves = grid_waves(3).T @ coefficients
    top, place = highest(coefficients)
    np.testing.assert_allclose(top, curves.max(axis=0), rtol=1e-13, atol=1e-14)
    np.testing.assert_allclose(curves[place, np.arange(len(place))], top, rtol=1e-13, atol=1e-14)


def test_many_turns_give_what_each_of_them_gives_alone() -> None:
    readings, _ = turns_of(evenly_spaced(12), {1: 3, 2: 0.5, 3: 0.3}, turns=32_800, noise_um=0.3, seed=5)
    together = fit_turns(readings, evenly_spaced(12))
    for place in (0, 32_767, 32_768, 32_799):
        alone = fit_turns(readings[[place]], evenly_spaced(12))
        for name in ("eccentricity", "full_swing_um", "read_swing_um", "residual_sd_um", "u_full_swing_um"):
            assert getattr(together, name)[place] == pytest.approx(getattr(alone, name)[0], rel=1e-12), name


@given(st.floats(0, 359), st.floats(-1e4, 1e4), st.floats(0.01, 100))
def test_turning_shifting_and_scaling_a_turn_turn_shift_and_scale_the_answer(
    turned: float, shift: float, scale: float
) -> None:
    angles, (readings,) = np.asarray(GAP_ANGLES), np.asarray(GAP_READINGS)
    plain = fit_turns([readings], angles)
    other = fit_turns([scale * readings + shift], (angles + turned) % 360)
    rotation = np.exp(1j * np.radians(turned))
    assert other.eccentricity[0] == pytest.approx(scale * plain.eccentricity[0] * rotation, rel=1e-7, abs=1e-9)
    assert other.residual_sd_um[0] == pytest.approx(scale * plain.residual_sd_um[0], rel=1e-6, abs=1e-9)
    assert other.full_swing_um[0] == pytest.approx(scale * plain.full_swing_um[0], rel=1e-4)


@pytest.mark.parametrize(
    ("n", "amplitude", "raw_bias", "raw_sd", "fit_bias", "fit_sd"),
    [
        (4, 1, 0.69, 1.07, 0.57, 1.20),
        (4, 20, -3.93, 3.72, 0.04, 1.42),
        (8, 2.5, 0.88, 1.09, 0.09, 0.99),
        (8, 10, -0.18, 1.30, 0.02, 1.00),
        (12, 1, 2.02, 0.90, 0.18, 0.77),
        (12, 5, 0.95, 1.09, 0.04, 0.82),
        (16, 20, 0.36, 1.19, 0.01, 0.70),
        (36, 2.5, 2.63, 0.83, 0.02, 0.47),
    ],
)
def test_noise_pushes_the_swing_as_read_and_hardly_the_fitted_one(
    n: int, amplitude: float, raw_bias: float, raw_sd: float, fit_bias: float, fit_sd: float
) -> None:
    # own simulation, noise of sd 1; errors against 2 A
    readings, _ = turns_of(evenly_spaced(n), {1: amplitude}, turns=20_000, noise_um=1, seed=n)
    fit = fit_turns(readings, evenly_spaced(n))
    for swing, bias, sd in ((fit.read_swing_um, raw_bias, raw_sd), (fit.eccentricity_tir_um, fit_bias, fit_sd)):
        error = swing - 2 * amplitude
        assert error.mean() == pytest.approx(bias, abs=0.02 + 0.03 * sd)
        assert error.std() == pytest.approx(sd, abs=0.02 + 0.015 * sd)


@pytest.mark.parametrize(
    ("n", "lobes", "bias", "sd"),
    [
        (8, {}, 0.096, 0.407),
        (12, {}, 0.088, 0.337),
        (36, {}, 0.020, 0.195),
        (4, {3: 0.5}, -0.336, 1.005),
        (12, {2: 0.5}, 0.067, 0.316),
        (12, {3: 0.5}, 0.059, 0.335),
        (8, {2: 0.5, 3: 0.3}, 0.102, 0.392),
        (12, {2: 0.5, 3: 0.3}, 0.071, 0.313),
        (16, {2: 0.5, 3: 0.3}, 0.053, 0.278),
        (12, {2: 0.5, 3: 0.3, 5: 0.2}, -0.070, 0.360),
    ],
)
def test_the_full_swing_follows_the_true_one_lobes_included(
    n: int, lobes: dict[int, float], bias: float, sd: float
) -> None:
    # own simulation: eccentricity 3, noise 0.3; errors against the swing of the whole curve
    readings, true = turns_of(evenly_spaced(n), {1: 3, **lobes}, turns=5_000, noise_um=0.3, seed=n)
    error = fit_turns(readings, evenly_spaced(n)).full_swing_um - true
    assert error.mean() == pytest.approx(bias, abs=0.035)
    assert error.std() == pytest.approx(sd, rel=0.06)


@pytest.mark.parametrize(
    ("angles", "lobes", "eccentricity_cover", "swing_cover"),
    [
        (evenly_spaced(12), {1: 3, 2: 0.5, 3: 0.3}, 0.95, 0.95),
        (evenly_spaced(12), {1: 3}, 0.95, 0.95),
        (evenly_spaced(8), {1: 3, 2: 0.5, 3: 0.3}, 0.95, 0.95),
        (without(12, 0, 1), {1: 3, 2: 0.5}, 0.95, 0.95),
        (evenly_spaced(7), {1: 3, 2: 0.5}, 0.95, 0.95),
        (evenly_spaced(12), {1: 0.75}, 0.95, 0.935),
        (evenly_spaced(12), {1: 0.3}, 0.955, 0.89),
        (evenly_spaced(12), {1: 0}, 0.88, 0.64),
    ],
)
def test_the_intervals_of_swing_and_eccentricity_cover_as_often_as_is_said_of_them(
    angles: Floats, lobes: dict[int, float], eccentricity_cover: float, swing_cover: float
) -> None:
    # 10 000 turns, noise 0.3: the standard error of a coverage of 0.95 is 0.0022
    readings, true = turns_of(angles, lobes, turns=10_000, noise_um=0.3, seed=len(angles))
    fit = fit_turns(readings, angles)
    t = stats.t.ppf(0.975, fit.residual_df)
    eccentricity_covered = np.abs(fit.eccentricity_tir_um - 2 * lobes[1]) <= t * fit.u_eccentricity_tir_um
    swing_covered = np.abs(fit.full_swing_um - true) <= t * fit.u_full_swing_um
    assert eccentricity_covered.mean() == pytest.approx(eccentricity_cover, abs=0.01)
    assert swing_covered.mean() == pytest.approx(swing_cover, abs=0.01 if swing_cover > 0.9 else 0.02)


def test_pooled_noise_is_the_root_of_the_mean_variance_weighted_by_degrees_of_freedom() -> None:
    assert pool_residual_sd([3.0, 1.0], [1, 3]) == pytest.approx((np.sqrt(12 / 4), 4))
    assert pool_residual_sd([2.0, 2.0, 2.0], 5) == pytest.approx((2.0, 15))
    readings, _ = turns_of(evenly_spaced(8), {1: 3}, turns=5000, noise_um=0.3, seed=3)
    fit = fit_turns(readings, evenly_spaced(8))
    sd, df = pool_residual_sd(fit.residual_sd_um, fit.residual_df)
    assert sd == pytest.approx(0.3, rel=0.04)
    assert df == 5000
    known = fit.with_residual_sd(sd, df)
    np.testing.assert_allclose(known.u_eccentricity_tir_um, sd, rtol=1e-9)
    assert known.full_swing_um is fit.full_swing_um


def test_three_readings_say_nothing_of_the_noise() -> None:
    fit = fit_turns([[1.0, 2.0, 3.0]], evenly_spaced(3))
    assert (fit.residual_df, fit.residual_sd_um[0], fit.caveats) == (0, 0.0, ("three_readings",))
    assert np.isinf(fit.u_eccentricity_tir_um[0])
    assert np.isinf(fit.u_full_swing_um[0])
    assert fit.with_residual_sd(0.3, 20).u_eccentricity_tir_um[0] == pytest.approx(0.3 * np.sqrt(8 / 3))
    with pytest.raises(NotAnswerableError, match="noise"):
        pool_residual_sd(fit.residual_sd_um, fit.residual_df)


@pytest.mark.parametrize(
    ("angles", "caveats"),
    [
        (evenly_spaced(4), ("four_readings",)),
        (evenly_spaced(12), ()),
        (without(12, 3, 4), ()),
        (without(8, 3, 4), ("gap",)),
        (without(12, 3, 4, 5), ("gap",)),
        (np.array([0, 10, 20, 30]), ("four_readings", "gap")),
        (np.array([0, 90, 180, 270, 270.01, 270.02]), ()),
        (np.linspace(0, 0.3, 8), ("gap", "reduced_harmonics")),
    ],
)
def test_angles_that_carry_less_than_their_number_are_pointed_out(angles: Floats, caveats: tuple[str, ...]) -> None:
    assert fit_turns([np.zeros(len(angles))], angles).caveats == caveats


def test_a_turn_without_any_movement_has_no_swing_and_still_an_uncertainty() -> None:
    fit = fit_turns([[7.0] * 12], evenly_spaced(12))
    for figure in (fit.eccentricity_tir_um, fit.full_swing_um, fit.read_swing_um, fit.residual_sd_um):
        assert figure[0] == pytest.approx(0, abs=1e-13)
    assert fit.eccentricity_factor[0] == pytest.approx(np.sqrt(8 / 12))
    assert 0 <= fit.high_spot_deg[0] < 360


@pytest.mark.parametrize(("n", "amplitude"), [(4, 3.0), (8, 3.0), (12, 1.0)])
def test_the_high_spot_scatters_by_its_standard_uncertainty(n: int, amplitude: float) -> None:
    # own simulation, noise 0.3; evenly spaced: noise times the root of 2/N over the amplitude, in radians
    readings = amplitude * waves(evenly_spaced(n), [1])[0] + 0.3 * np.random.default_rng(n).normal(size=(5000, n))
    fit = fit_turns(readings, evenly_spaced(n)).with_residual_sd(0.3, 1)
    off = (fit.high_spot_deg + 180) % 360 - 180
    expected = np.degrees(0.3 * np.sqrt(2 / n) / amplitude)
    assert off.std() == pytest.approx(expected, rel=0.05)
    assert np.median(fit.u_high_spot_deg) == pytest.approx(expected, rel=0.02)


def test_of_a_high_spot_that_drowns_in_noise_nothing_is_known_and_no_more_than_that() -> None:
    readings = np.vstack([np.full(8, 7.0), 0.01 * waves(evenly_spaced(8), [1])[0]])
    fit = fit_turns(readings, evenly_spaced(8)).with_residual_sd(0.3, 20)
    np.testing.assert_allclose(fit.u_high_spot_deg, 360 / np.sqrt(12))
    assert fit_turns([[1.0, 2.0, 3.0]], evenly_spaced(3)).u_high_spot_deg[0] == pytest.approx(360 / np.sqrt(12))


def test_each_turn_may_have_a_noise_of_its_own() -> None:
    readings, _ = turns_of(evenly_spaced(8), {1: 3}, turns=2, noise_um=0.3, seed=3)
    known = fit_turns(readings, evenly_spaced(8)).with_residual_sd([0.2, 0.5], 20)
    np.testing.assert_allclose(known.u_eccentricity_tir_um, [0.2, 0.5], rtol=1e-9)


def test_no_turns_give_empty_arrays() -> None:
    assert fit_turns(np.empty((0, 8)), evenly_spaced(8)).full_swing_um.shape == (0,)


@given(st.floats(-400, 800))
def test_the_high_spot_lies_from_zero_to_under_a_full_turn(high: float) -> None:
    (spot,) = fit_turns([np.cos(np.radians(evenly_spaced(8) - high))], evenly_spaced(8)).high_spot_deg
    assert 0 <= spot < 360
    assert abs((spot - high + 180) % 360 - 180) < 1e-9


@pytest.mark.parametrize(
    ("readings", "angles", "message"),
    [
        ([[1.0, 2.0]], [0, 180], "3 angles, 2 given"),
        ([[1.0, 2.0, 3.0, 4.0]], [0, 120, 240, 120], "Readings 2 and 4 .* same angle, 120"),
        ([[1.0, 2.0, 3.0, 4.0]], [0, 90, 180, 360], "Readings 1 and 4 .* same angle, 0"),
        ([[1.0, 2.0, 3.0], [1.0, np.nan, 2.0]], [0, 120, 240], "Reading 2 of turn 2"),
        ([[1.0, 2.0, np.inf]], [0, 120, 240], "Reading 3 of turn 1"),
        ([[1.0, 2.0, 3.0]], [0, np.nan, 240], "Angle 2"),
        ([[1.0, 2.0, 3.0]], [0, 90, 180, 270], "shape"),
        ([1.0, 2.0, 3.0], [0, 120, 240], "shape"),
        ([[1.0, 2.0, 3.0]], [0, 1e-5, 2e-5], "too close together"),
    ],
)
def test_a_turn_that_cannot_be_fitted_is_refused_with_the_place_named(
    readings: list[list[float]], angles: list[float], message: str
) -> None:
    with pytest.raises(NotAnswerableError, match=message):
        fit_turns(readings, angles)


def test_readings_and_results_cannot_be_changed_by_accident() -> None:
    readings = np.ones((1, 12))
    fit = fit_turns(readings, evenly_spaced(12))
    assert readings.flags.writeable
    for array in (fit.angles_deg, fit.eccentricity, fit.high_spot_deg, fit.full_swing_um, fit.residual_sd_um):
        assert not array.flags.writeable
    found = design(tuple(evenly_spaced(12).tolist()), 3)
    assert found is not None
    assert not found.solve.flags.writeable


def test_the_value_that_closes_the_turn_is_taken_off_and_compared_with_the_first() -> None:
    readings, missed = closure([[4.0, 1.0, -3.0, 0.0, 5.5], [1.0, 2.0, 3.0, 4.0, 1.0]])
    assert readings.tolist() == [[4.0, 1.0, -3.0, 0.0], [1.0, 2.0, 3.0, 4.0]]
    assert missed.tolist() == [1.5, 0.0]
    assert closure([4.0, 1.0, 3.5])[1] == -0.5
    with pytest.raises(NotAnswerableError, match="2 values"):
        closure([4.0])
