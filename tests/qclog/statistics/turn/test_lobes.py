"""Lobes of a turn: their size and direction, how often noise passes for them, and which pass for run-out."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.harmonics import fit_harmonics
from qclog.statistics.turn.lobes import aliases, f_of_two, find_lobes
from qclog.statistics.turn.turns import evenly_spaced, fit_turns

Floats = NDArray[np.float64]


def without(n: int, *missing: int) -> Floats:
    return np.delete(evenly_spaced(n), missing)


def lobed(angles_deg: Floats, *lobes: tuple[int, float, float]) -> Floats:
    """A curve of (count, amplitude, high spot of the first lobe in degrees) at the angles."""
    return np.asarray(np.sum([a * np.cos(k * np.radians(angles_deg - high)) for k, a, high in lobes], axis=0))


@pytest.mark.parametrize("angles", [evenly_spaced(8), evenly_spaced(12), without(12, 1, 2), without(16, 0, 1, 5)])
def test_lobes_come_out_as_the_swing_they_cause_and_where_the_first_one_stands(angles: Floats) -> None:
    lobes = find_lobes([lobed(angles, (1, 4, 20), (2, 0.6, 130), (3, 1.1, 100))], angles, 3, noise_um=0.1, noise_df=20)
    assert lobes.counts == (2, 3)
    assert lobes.swing_um[:, 0] == pytest.approx([1.2, 2.2])
    assert lobes.high_spot_deg[:, 0] == pytest.approx([130, 100])
    assert lobes.present.all()


@pytest.mark.parametrize("df", [1, 2, 5, 34])
def test_evenly_spaced_lobes_are_present_when_n_h_squared_over_4_s_squared_exceeds_f(df: int) -> None:
    angles, height = evenly_spaced(12), 0.4
    readings = [lobed(angles, (1, 3, 0), (3, height, 17))]
    at_the_edge = np.sqrt(12 * height**2 / (4 * stats.f.ppf(0.95, 2, df)))
    for noise, present in ((at_the_edge * 0.999, True), (at_the_edge * 1.001, False)):
        found = find_lobes(readings, angles, 3, noise_um=noise, noise_df=df)
        assert found.present[:, 0].tolist() == [False, present]


def test_the_quantile_of_f_is_the_tabulated_one() -> None:
    # F table at 5 %, 2 degrees of freedom above (NIST/SEMATECH e-Handbook 1.3.6.7.3, from memory)
    assert f_of_two([1, 2, 5, 10, 20]) == pytest.approx([199.5, 19.0, 5.786, 4.103, 3.493], rel=2e-4)
    assert f_of_two([3, 17, 120]) == pytest.approx(stats.f.ppf(0.95, 2, [3, 17, 120]), rel=1e-12)
    assert f_of_two(8, 0.01) == pytest.approx(stats.f.ppf(0.99, 2, 8), rel=1e-12)


@pytest.mark.parametrize("angles", [evenly_spaced(12), without(12, 4, 5), without(12, 1, 2, 6), without(16, 1, 2, 3)])
def test_noise_passes_for_lobes_one_time_in_twenty_however_the_angles_lie(angles: Floats) -> None:
    # own simulation, 20 000 turns without lobes; the standard error is 0.0015
    rng = np.random.default_rng(len(angles))
    readings = lobed(angles, (1, 3, 40)) + 0.3 * rng.normal(size=(20_000, len(angles)))
    fit = fit_turns(readings, angles)
    found = find_lobes(readings, angles, fit.harmonics, noise_um=fit.residual_sd_um, noise_df=fit.residual_df)
    assert found.present.mean(axis=1) == pytest.approx([0.05] * len(found.counts), abs=0.006)


def test_a_gap_costs_lobes_that_lie_in_it() -> None:
    """Two turns with the same lobes apart: what stands where nothing was read is known worse, and judged so."""
    angles = without(12, 11, 0, 1)
    covariance = fit_harmonics([np.zeros(9)], angles, 3).covariance
    block = covariance[np.ix_([3, 6], [3, 6])]
    values, axes = np.linalg.eigh(block)
    assert values[1] > 3 * values[0]
    noise = 0.9 * np.sqrt(0.5**2 / (2 * values.mean() * stats.f.ppf(0.95, 2, 30)))
    found = []
    for cosine, sine in axes.T * 0.5:
        three = cosine * np.cos(3 * np.radians(angles)) + sine * np.sin(3 * np.radians(angles))
        lobes = find_lobes([lobed(angles, (1, 3, 0)) + three], angles, 3, noise_um=noise, noise_df=30)
        assert lobes.swing_um[1, 0] == pytest.approx(1.0)
        found.append(bool(lobes.present[1, 0]))
    assert found == [True, False]


def test_three_lobes_of_a_micron_are_found_in_twelve_readings_of_a_coarse_indicator() -> None:
    # own simulation: amplitude 0.5, noise 0.29 (a step of 1): F noncentral with 12 x 0.25 / (2 x 0.0841)
    angles = evenly_spaced(12)
    rng = np.random.default_rng(7)
    readings = lobed(angles, (1, 3, 40), (3, 0.5, 11)) + 0.29 * rng.normal(size=(10_000, 12))
    fit = fit_turns(readings, angles)
    found = find_lobes(readings, angles, 3, noise_um=fit.residual_sd_um, noise_df=5)
    power = stats.ncf.sf(stats.f.ppf(0.95, 2, 5), 2, 5, 12 * 0.25 / (2 * 0.29**2))
    assert found.present[1].mean() == pytest.approx(power, abs=0.02)
    assert found.present[0].mean() == pytest.approx(0.05, abs=0.01)


def test_without_any_knowledge_of_the_noise_no_lobe_is_called_present() -> None:
    angles = evenly_spaced(8)
    readings = np.vstack([lobed(angles, (1, 3, 0), (3, 2, 0))] * 2)
    found = find_lobes(readings, angles, 3, noise_um=[0.0, 0.1], noise_df=[0, 9])
    assert found.present[1].tolist() == [False, True]
    with pytest.raises(NotAnswerableError, match="noise of nothing"):
        find_lobes(readings, angles, 3, noise_um=0.0, noise_df=9)


def test_four_readings_show_no_lobes_at_all() -> None:
    found = find_lobes([[0, 2, 4, 3]], evenly_spaced(4), 1, noise_um=0.3, noise_df=9)
    assert (found.counts, found.swing_um.shape) == ((), (0, 1))


@pytest.mark.parametrize(
    ("n", "as_runout"),
    [
        (3, (2, 4, 5, 7)),
        (4, (3, 5, 7, 9)),
        (5, (4, 6, 9, 11)),
        (6, (5, 7, 11, 13)),
        (8, (7, 9, 15, 17)),
        (9, (8, 10, 17, 19)),
        (12, (11, 13, 23, 25)),
        (16, (15, 17, 31, 33)),
    ],
)
def test_lobes_that_pass_for_run_out_do_so_in_full_and_no_others_do(n: int, as_runout: tuple[int, ...]) -> None:
    angles = evenly_spaced(n)
    assert aliases(angles, 1 if n < 6 else 2) == as_runout
    for count in range(2, 2 * n + 2):
        fit = fit_turns([lobed(angles, (count, 0.5, 20 / count))], angles)
        (seen,), (left,) = fit.eccentricity_tir_um, fit.residual_sd_um
        assert (count in as_runout) == (seen == pytest.approx(1.0, rel=1e-9) and left < 1e-9), count


def test_angles_that_a_machine_counts_in_thousandths_of_a_degree_change_nothing() -> None:
    assert aliases(np.round(evenly_spaced(7), 3), 2) == (6, 8, 13, 15)


@pytest.mark.parametrize(
    ("angles", "harmonics", "as_runout"),
    [
        (without(12, 5, 9), 2, (11, 13)),
        (without(8, 5), 2, (7, 9, 15)),
        (without(8, 1, 3), 2, (3, 5, 7, 9, 11, 13)),
        (np.array([0.0, 90.0, 180.0, 280.0]), 1, (2, 3, 5, 6, 7, 9)),
    ],
)
def test_with_angles_missing_or_uneven_more_lobes_pass_for_run_out_in_one_direction(
    angles: Floats, harmonics: int, as_runout: tuple[int, ...]
) -> None:
    found = aliases(angles, harmonics)
    assert found == as_runout
    phases = np.radians(np.arange(0, 180, 0.25))
    for count in range(2, 2 * len(angles) + 2):
        waves = np.cos(count * np.radians(angles) - phases[:, None])
        fit = fit_harmonics(waves, angles, harmonics)
        left = np.linalg.norm(waves - _curve(fit.mean_um, fit.cosine_um, fit.sine_um, angles), axis=1)
        least = left <= max(left.min(), 1e-9)  # the direction that leaves least, or all that leave nothing
        moved = np.hypot(fit.cosine_um[0], fit.sine_um[0])[least].max()
        assert (count in found) == (left.min() < 0.01 and moved > 0.05), count


def _curve(mean: Floats, cosine: Floats, sine: Floats, angles_deg: Floats) -> Floats:
    phase = np.outer(np.arange(1, len(cosine) + 1), np.radians(angles_deg))
    return np.asarray(mean[:, None] + cosine.T @ np.cos(phase) + sine.T @ np.sin(phase))


def test_angles_that_show_no_run_out_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="no run-out"):
        aliases([0.0, 180.0], 1)
