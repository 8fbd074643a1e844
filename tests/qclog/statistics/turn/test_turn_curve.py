"""The curves drawn of a turn are those its figures come from."""

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.turn_curve import turn_curve
from qclog.statistics.turn.turns import evenly_spaced, fit_turns

UNEVEN = [0.0, 40.0, 75.0, 130.0, 170.0, 220.0, 250.0, 290.0, 335.0]


def test_a_three_lobed_body_is_taken_apart_into_run_out_and_lobes() -> None:
    """Constructed case: mean 7 µm, 2 µm once per turn highest at 50°, 0.5 µm three times a turn highest at 20°."""
    t = np.radians(evenly_spaced(12))
    lobes = 0.5 * np.cos(3 * (t - np.radians(20)))
    curve = turn_curve(7 + 2 * np.cos(t - np.radians(50)) + lobes, evenly_spaced(12))
    assert curve.left_um == pytest.approx(lobes, abs=1e-12)
    at = np.radians(curve.at_deg)
    assert curve.once_um == pytest.approx(7 + 2 * np.cos(at - np.radians(50)))
    assert curve.lobes_um == pytest.approx(0.5 * np.cos(3 * (at - np.radians(20))))


def test_evenly_spaced_readings_are_taken_apart_as_a_fourier_transform_does() -> None:
    readings = np.random.default_rng(5).normal(0.0, 2.0, 8)
    line = np.fft.rfft(readings)  # a general library: numpy
    line[2:] = 0.0
    assert turn_curve(readings, evenly_spaced(8)).left_um == pytest.approx(readings - np.fft.irfft(line, 8))


@pytest.mark.parametrize("angles", [evenly_spaced(4), evenly_spaced(6), evenly_spaced(12), UNEVEN])
def test_the_swings_of_the_curves_are_the_figures_of_the_turn(angles: list[float]) -> None:
    readings = np.random.default_rng(11).normal(0.0, 3.0, len(angles))
    curve, fit = turn_curve(readings, angles), fit_turns([readings], angles)
    assert np.ptp(curve.full_um) == pytest.approx(fit.full_swing_um[0], rel=5e-4)
    assert np.ptp(curve.once_um) == pytest.approx(fit.eccentricity_tir_um[0], rel=5e-4)
    assert curve.at_deg[curve.once_um.argmax()] == pytest.approx(fit.high_spot_deg[0], abs=0.51)
    at = np.searchsorted(curve.at_deg, np.round(angles))
    residual = readings - curve.full_um[at]
    if all(angle == round(angle) for angle in angles) and fit.residual_df:
        assert np.sqrt(np.sum(residual**2) / fit.residual_df) == pytest.approx(fit.residual_sd_um[0])


def test_two_readings_are_no_turn() -> None:
    with pytest.raises(NotAnswerableError, match="3 angles"):
        turn_curve([1.0, 2.0], [0.0, 180.0])
