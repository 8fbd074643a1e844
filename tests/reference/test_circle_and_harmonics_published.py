"""Turns against circles and profiles with known answers.

Gander, Golub and Strebel, BIT 34 (1994) 558-578, for the six-point circle; the two sets of the SciPy
cookbook page on least-squares circles (figures from memory); the profiles are exact by construction.
"""

import numpy as np
import pytest
from numpy.typing import NDArray

from qclog.statistics.turn.harmonics import fit_harmonics
from qclog.statistics.turn.turns import evenly_spaced, fit_turns

POINTS_1994 = [(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)]
COOKBOOK_1 = list(zip([9, 35, -13, 10, 23, 0], [34, 10, 6, -14, 27, -10], strict=True))
COOKBOOK_2 = list(zip([36, 36, 19, 18, 33, 26], [14, 10, 28, 31, 18, 26], strict=True))


def least_squares_circle(points: list[tuple[int, int]]) -> tuple[complex, float, float]:
    """Centre, radius and sum of squares of the geometric circle.

    Seen from the present centre the points are a turn: the eccentricity of their distances is the step of
    Gauss and Newton to the next centre.
    """
    at = np.array([complex(*point) for point in points])
    centre = at.mean()
    for _ in range(2000):
        seen = at - centre
        fit = fit_harmonics([np.abs(seen)], np.degrees(np.angle(seen)), 1)
        centre += fit.cosine_um[0, 0] + 1j * fit.sine_um[0, 0]
    distances = np.abs(at - centre)
    return centre, float(distances.mean()), float(np.sum((distances - distances.mean()) ** 2))


@pytest.mark.parametrize(
    ("points", "centre", "radius", "squares", "digits"),
    [
        (POINTS_1994, 4.739782 + 2.983533j, 4.714226, 1.22759908, 1e-6),
        (COOKBOOK_1, 10.50009 + 9.65995j, 23.33353, 7.71185, 1e-5),
        (COOKBOOK_2, 9.88760 + 3.68753j, 27.35040, 4.04252, 5e-5),
    ],
)
def test_shifting_by_the_eccentricity_leads_to_the_least_squares_circle(
    points: list[tuple[int, int]], centre: complex, radius: float, squares: float, digits: float
) -> None:
    found, found_radius, found_squares = least_squares_circle(points)
    assert found == pytest.approx(centre, abs=digits)
    assert found_radius == pytest.approx(radius, abs=digits)
    assert found_squares == pytest.approx(squares, abs=6e-6)
    if points is POINTS_1994:
        assert np.sqrt(found_squares / 6) == pytest.approx(0.4523271, abs=6e-8)


def lobed_profile() -> NDArray[np.float64]:
    angle = evenly_spaced(360)

    def lobes(count: int, size: float, high_deg: float) -> NDArray[np.float64]:
        return size * np.cos(np.radians(count * (angle - high_deg)))

    return 10 + lobes(1, 0.012, 30) + lobes(2, 0.004, 50) + lobes(3, 0.003, 20) + lobes(7, 0.001, 0)


def test_the_harmonics_of_a_lobed_profile_come_back() -> None:
    fit = fit_harmonics([lobed_profile()], evenly_spaced(360), 9)
    found = fit.cosine_um[:, 0] + 1j * fit.sine_um[:, 0]
    sizes = [0.012, 0.004, 0.003, 0, 0, 0, 0.001, 0, 0]
    assert np.abs(found) == pytest.approx(sizes, abs=1e-14)
    assert np.degrees(np.angle(found[:3])) / [1, 2, 3] == pytest.approx([30, 50, 20], abs=1e-10)
    assert fit.mean_um[0] == pytest.approx(10, abs=1e-13)


def test_the_least_squares_centre_and_roundness_of_a_lobed_profile() -> None:
    profile = lobed_profile()
    fit = fit_harmonics([profile], evenly_spaced(360), 1)
    centre = complex(fit.cosine_um[0, 0], fit.sine_um[0, 0])
    assert centre == pytest.approx(0.0103923048 + 0.006j, abs=5.1e-11)
    angle = np.radians(evenly_spaced(360))
    form = profile - fit.mean_um[0] - (centre.conjugate() * np.exp(1j * angle)).real
    assert form.max() == pytest.approx(0.0064568758, abs=5.1e-11)
    assert form.min() == pytest.approx(-0.0073112446, abs=5.1e-11)
    assert form.max() - form.min() == pytest.approx(0.0137681204, abs=1.1e-10)
    assert np.sqrt(np.mean(form**2)) == pytest.approx(0.0036055513, abs=5.1e-11)
    assert fit.residual_sd_um[0] == pytest.approx(0.0036055513 * np.sqrt(360 / 357), abs=5.1e-11)


def test_the_turn_of_a_lobed_profile_gives_its_centre_and_its_full_indicator_movement() -> None:
    turn = fit_turns([lobed_profile()], evenly_spaced(360))
    assert turn.eccentricity_tir_um[0] == pytest.approx(0.024, abs=1e-14)
    assert turn.high_spot_deg[0] == pytest.approx(30, abs=1e-10)
    assert turn.read_swing_um[0] == pytest.approx(0.0310662775, abs=5.1e-11)
    # the full curve carries three harmonics; what the seventh adds stays in the residual
    assert turn.residual_sd_um[0] == pytest.approx(0.001 * np.sqrt(360 / 2 / 353), rel=1e-9)
    assert turn.full_swing_um[0] == pytest.approx(turn.read_swing_um[0], abs=0.002)


@pytest.mark.parametrize(
    ("eccentricity", "radius", "mean", "second", "fourth"),
    [
        (1.0, 10.0, 9.9749529286, 0.0250627947, 1.5743e-05),
        (0.1, 5.0, 4.9994999625, 0.00050005001, 1.25e-08),
        (0.02, 10.0, 9.9999899999975, 1.000001e-05, 0.0),
    ],
)
def test_a_perfect_circle_turned_off_centre_swings_by_twice_its_eccentricity(
    eccentricity: float, radius: float, mean: float, second: float, fourth: float
) -> None:
    angle = np.radians(evenly_spaced(360))
    profile = eccentricity * np.cos(angle) + np.sqrt(radius**2 - (eccentricity * np.sin(angle)) ** 2)
    fit = fit_harmonics([profile], evenly_spaced(360), 6)
    assert fit.mean_um[0] == pytest.approx(mean, rel=1e-11)
    assert fit.cosine_um[:4, 0] == pytest.approx([eccentricity, second, 0, -fourth], rel=1e-5, abs=1e-11)
    assert fit.sine_um[:, 0] == pytest.approx(0, abs=1e-12)
    turn = fit_turns([profile], evenly_spaced(360))
    assert turn.eccentricity_tir_um[0] == pytest.approx(2 * eccentricity, rel=1e-12)
    assert turn.read_swing_um[0] == pytest.approx(2 * eccentricity, rel=1e-12)
    assert turn.full_swing_um[0] == pytest.approx(2 * eccentricity, rel=1e-12)
