"""A turn with the angle of every reading: recovered at any speed of the hand, refused where a part was not seen."""

import math

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.encoded_turn import SECTORS, read_encoded_turn

TRIALS = 400


def _turn(rng: np.random.Generator, noise_um: float) -> tuple[list[float], list[float]]:
    """A turn and a bit by a hand that dwells and hurries, with some readings on the way back."""
    there = np.cumsum(rng.uniform(0.2, 4.0, 220))
    angles = np.concatenate([there, there[-1] - np.arange(0, 40, 2.5)]) + rng.uniform(0, 360)
    form = 5.0 * np.cos(np.radians(angles - 77.0)) + 0.8 * np.cos(np.radians(3 * angles))
    return list(form + rng.normal(0, noise_um, angles.size)), list(angles)


def test_without_noise_only_the_width_of_the_sectors_flattens_it() -> None:
    angles = np.arange(0, 360, 0.25)
    fit = read_encoded_turn(5.0 * np.cos(np.radians(angles - 77.0)), angles)
    half_sector = math.radians(180 / SECTORS)
    assert fit.eccentricity_tir_um[0] == pytest.approx(10.0 * math.sin(half_sector) / half_sector, rel=1e-3)
    assert fit.high_spot_deg[0] == pytest.approx(77.0, abs=0.05)


def test_swing_and_high_spot_are_within_what_is_said_of_them() -> None:
    rng = np.random.default_rng(11)
    true = np.cos(np.radians(np.arange(0, 360, 0.1) - 77.0)) * 5.0 + 0.8 * np.cos(
        np.radians(3 * np.arange(0, 360, 0.1))
    )
    swing = float(np.ptp(true))
    inside = turned = 0
    for _ in range(TRIALS):
        fit = read_encoded_turn(*_turn(rng, 0.4))
        inside += abs(fit.full_swing_um[0] - swing) <= 2 * fit.u_full_swing_um[0]
        turned += abs(fit.high_spot_deg[0] - 77.0) <= max(2.0, 2 * fit.u_high_spot_deg[0])
    assert inside >= 0.90 * TRIALS
    assert turned >= 0.97 * TRIALS


def test_a_part_that_was_not_seen_is_named() -> None:
    angles = np.arange(0, 300, 1.0)
    with pytest.raises(NotAnswerableError, match="no reading from 300 to 310 degrees"):
        read_encoded_turn(np.cos(np.radians(angles)), angles)


@pytest.mark.parametrize(("reading", "angle"), [(math.nan, 0.0), (1.0, math.inf)])
def test_what_is_not_finite_is_refused(reading: float, angle: float) -> None:
    with pytest.raises(NotAnswerableError, match="not finite"):
        read_encoded_turn([1.0, reading], [10.0, angle])
