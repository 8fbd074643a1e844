"""The marked slow turn: the high spot from exact readings, the half width against an uneven hand, what is refused.

Own simulations with fixed seeds; the bounds of the simulated figures are some four standard errors wide.
"""

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.marked_turn import read_marked_turn
from qclog.statistics.turn.slow_turn import read_slow_turn
from qclog.statistics.turn.turns import evenly_spaced, fit_turns

Floats = NDArray[np.float64]


def even_hand(turns: float, *, start_deg: float, high_spot_deg: float, noise_um: float = 0.05) -> tuple[Floats, Floats]:
    """Readings of a pin 3 µm off centre with a lobe, 120 a turn, and where the zero passed."""
    n = round(120 * turns)
    angle = start_deg + 3 * np.arange(n)
    lobe = 0.3 * np.cos(np.radians(2 * angle - 50))
    noise = noise_um * np.random.default_rng(1).normal(size=n)
    zeros = np.arange(np.ceil(start_deg / 360), np.floor(angle[-1] / 360) + 1) * 360
    return 3 * np.cos(np.radians(angle - high_spot_deg)) + lobe + noise, (zeros - start_deg) / 3


def wrapped(angle_deg: float) -> float:
    return (angle_deg + 180) % 360 - 180


@dataclass(frozen=True)
class Errors:
    """Of the high spots of many records: error and half width, degrees, and how far a single mark lay outside."""

    off: Floats
    within: Floats
    outside: NDArray[np.bool_]

    def rms(self, *, outside: bool) -> float:
        return float(np.sqrt(np.mean(self.off[self.outside == outside] ** 2)))

    def covered(self) -> float:
        return float(np.mean(self.off <= self.within))


def simulated(turns: float, uneven: float, *, one_mark: bool, records: int = 300, lobe_um: float = 0.4) -> Errors:
    """Speed varying by ``uneven`` of its mean to either side, 0.3 to 2 times a turn; noise 0.3 of 3 µm."""
    rng = np.random.default_rng(6)
    rows: list[tuple[float, float, bool]] = []
    while len(rows) < records:
        n = round(120 * turns)
        phase = 2 * np.pi * rng.choice([0.3, 0.5, 1.0, 2.0]) * np.arange(n) / 120 + rng.uniform(0, 2 * np.pi)
        way = np.cumsum(1 + uneven * np.sin(phase))
        angle = 360 * turns * (way - way[0]) / (way[-1] - way[0]) + rng.uniform(0, 360)
        high, second = rng.uniform(0, 360, 2)
        readings = 3 * np.cos(np.radians(angle - high)) + lobe_um * np.cos(np.radians(2 * angle - second))
        readings = np.round(readings + 0.3 * rng.normal(size=n), 1)
        zeros = 360 * np.arange(np.ceil(angle[0] / 360), np.floor(angle[-1] / 360) + 1)
        marks = np.interp(zeros, angle, np.arange(n))
        if one_mark:
            marks = marks[rng.integers(marks.size)][None]
        elif marks.size < 2:
            continue
        found = read_marked_turn(readings, marks, resolution_um=0.1)
        spots = found.slow.turning_at
        outside = one_mark and bool(marks[0] < spots[0] or marks[0] > spots[-1])
        rows.append((abs(wrapped(found.high_spot_deg - high)), found.high_spot_within_deg, outside))
    off, within, lay_outside = np.array(rows, dtype=np.float64).T
    return Errors(off, within, lay_outside > 0)


@pytest.mark.parametrize("high", [0.0, 90.0, 200.0, 359.9])
def test_between_two_marks_an_even_hand_gives_the_high_spot_and_the_eccentricity(high: float) -> None:
    readings, marks = even_hand(1.6, start_deg=-40.5, high_spot_deg=high)
    found = read_marked_turn(readings, marks, resolution_um=0.1)
    assert wrapped(found.high_spot_deg - high) == pytest.approx(0, abs=0.5)
    assert 0 <= found.high_spot_deg < 360
    assert found.eccentricity_tir_um == pytest.approx(6, abs=0.03)
    assert np.degrees(np.angle(found.eccentricity)) % 360 == pytest.approx(found.high_spot_deg)
    assert 20 <= found.high_spot_within_deg < 40
    assert (found.revolutions, found.caveats) == (1, ())


def test_the_revolution_between_two_marks_is_fitted_as_one_read_at_known_angles() -> None:
    readings, marks = even_hand(1.5, start_deg=-60, high_spot_deg=70)
    assert marks.tolist() == [20, 140]
    found = read_marked_turn(readings, marks, resolution_um=0.1)
    fit = fit_turns([readings[20:140]], evenly_spaced(120))
    assert found.eccentricity == pytest.approx(fit.eccentricity[0], rel=1e-12)


def test_the_swing_is_that_of_the_record_without_angles() -> None:
    readings, marks = even_hand(2.6, start_deg=-40, high_spot_deg=120)
    slow = read_slow_turn(readings, resolution_um=0.1)
    assert read_marked_turn(readings, marks, resolution_um=0.1).slow.swing_um == slow.swing_um


def test_several_revolutions_are_averaged() -> None:
    readings, marks = even_hand(3.3, start_deg=-30, high_spot_deg=250, noise_um=0.3)
    found = read_marked_turn(readings, marks, resolution_um=0.1)
    single = [read_marked_turn(readings, marks[k : k + 2], resolution_um=0.1) for k in range(3)]
    assert (marks.size, found.revolutions) == (4, 3)
    assert found.eccentricity == pytest.approx(np.mean([turn.eccentricity for turn in single]), rel=1e-9)


def test_a_single_mark_takes_the_revolution_from_one_high_spot_to_the_next() -> None:
    readings, marks = even_hand(2.6, start_deg=-400, high_spot_deg=130)
    found = read_marked_turn(readings, marks[1], resolution_um=0.1)
    assert wrapped(found.high_spot_deg - 130) == pytest.approx(0, abs=6)
    assert found.eccentricity_tir_um == pytest.approx(6, abs=0.1)
    assert (found.revolutions, found.caveats) == (1, ("one_mark",))
    assert found.high_spot_within_deg < 40


def test_a_single_mark_outside_its_revolution_widens_the_half_width_by_half_the_way() -> None:
    readings, _ = even_hand(2.6, start_deg=-100, high_spot_deg=0)
    first, last = (read_slow_turn(readings, resolution_um=0.1).turning_at[at] for at in (0, 2))
    at_end = read_marked_turn(readings, first, resolution_um=0.1)
    before = read_marked_turn(readings, first - 30, resolution_um=0.1)
    away = 360 * 30 / (last - first)
    assert before.high_spot_within_deg == pytest.approx(at_end.high_spot_within_deg + away / 2, abs=1e-6)
    assert wrapped(before.high_spot_deg - at_end.high_spot_deg) == pytest.approx(away, abs=1e-6)


@given(st.floats(-359, 0), st.floats(0, 359), st.sampled_from([1, 2]))
def test_the_angle_counts_from_the_mark_in_the_direction_of_turning(start: float, high: float, marks_used: int) -> None:
    readings, marks = even_hand(2.7, start_deg=start, high_spot_deg=high)
    found = read_marked_turn(readings, marks[:marks_used], resolution_um=0.1)
    assert abs(wrapped(found.high_spot_deg - high)) < (1 if marks_used == 2 else 25)
    assert abs(wrapped(found.high_spot_deg - high)) <= found.high_spot_within_deg


@pytest.mark.parametrize(
    ("uneven", "one_mark", "rms", "rms_outside", "covered"),
    [
        (0.0, False, (0.5, 1.2), None, 0.999),
        (0.2, False, (5.3, 8.2), None, 0.98),
        (0.5, False, (12.5, 19.5), None, 0.94),
        (0.0, True, (2.0, 7.5), (3, 20), 0.98),
        (0.2, True, (4.5, 9.0), (11, 28), 0.98),
        (0.5, True, (10.5, 18.0), (33, 62), 0.94),
    ],
)
def test_the_high_spot_errs_by_as_much_as_is_said_and_the_half_width_covers_it(
    uneven: float,
    one_mark: bool,
    rms: tuple[float, float],
    rms_outside: tuple[float, float] | None,
    covered: float,
) -> None:
    errors = simulated(2.5, uneven, one_mark=one_mark)
    assert rms[0] < errors.rms(outside=False) < rms[1]
    assert rms_outside is None or rms_outside[0] < errors.rms(outside=True) < rms_outside[1]
    assert errors.covered() >= covered
    assert np.sqrt(3 * np.mean((errors.off / errors.within) ** 2)) < 1  # as a rectangular distribution of that width


def test_the_half_width_follows_the_hand() -> None:
    even, uneven = (simulated(2.5, spread, one_mark=False, records=150, lobe_um=0.0) for spread in (0.0, 0.5))
    assert np.median(even.within) + 3 < np.median(uneven.within)


def test_two_halves_of_a_revolution_of_unequal_time_are_an_uneven_hand() -> None:
    angle = np.concatenate([np.arange(-60, 180, 4), np.arange(180, 420, 2.0)])
    marks = np.interp([0, 360], angle, np.arange(angle.size))
    readings = 3 * np.cos(np.radians(angle - 10))
    assert read_slow_turn(readings, resolution_um=0.1).half_turns == 1  # too few to tell without marks
    assert read_marked_turn(readings, marks, resolution_um=0.1).caveats == ("uneven_hand",)


def test_a_fast_stream_is_thinned_without_harm() -> None:
    readings, marks = even_hand(1.6, start_deg=-40, high_spot_deg=77, noise_um=0)
    fine = np.interp(np.arange(0, readings.size - 1, 0.02), np.arange(readings.size), readings)
    coarse = read_marked_turn(readings, marks, resolution_um=0.1)
    found = read_marked_turn(fine, marks * 50, resolution_um=0.1)
    assert found.high_spot_deg == pytest.approx(coarse.high_spot_deg, abs=0.1)
    assert found.eccentricity_tir_um == pytest.approx(coarse.eccentricity_tir_um, rel=1e-3)


def test_without_a_turning_point_the_direction_is_not_known() -> None:
    found = read_marked_turn(np.full(100, 7.5), [10, 80], resolution_um=0.1)
    assert found.high_spot_within_deg == 180
    assert found.eccentricity_tir_um == pytest.approx(0, abs=1e-9)
    assert found.caveats == ("less_than_a_turn", "unverified", "no_movement")


@pytest.mark.parametrize(
    ("marks", "message"),
    [
        ([], "No mark"),
        ([10, np.nan], "Mark 2 of 2, at nan, does not lie within the 432 readings"),
        ([-1, 130], "Mark 1 of 2"),
        ([20, 432], "Mark 2 of 2"),
        ([140, 20], "Mark 2 is not after mark 1"),
        ([20, 20], "Mark 2 is not after mark 1"),
        ([20, 260], "Between mark 1 and mark 2 lie 4 high and low spots, not 2"),
        ([20, 140, 141], "Between mark 2 and mark 3 lie 0 high and low spots, not 2"),
    ],
)
def test_marks_that_cannot_be_right_are_refused(marks: list[float], message: str) -> None:
    readings, _ = even_hand(3.6, start_deg=-60, high_spot_deg=70)
    with pytest.raises(NotAnswerableError, match=message):
        read_marked_turn(readings, marks, resolution_um=0.1)


def test_one_mark_needs_two_spots_of_a_kind() -> None:
    readings, marks = even_hand(1.4, start_deg=-60, high_spot_deg=70)
    with pytest.raises(NotAnswerableError, match="One mark and 2 high and low spots"):
        read_marked_turn(readings, marks[0], resolution_um=0.1)


def test_readings_are_refused_as_without_marks() -> None:
    readings, marks = even_hand(1.6, start_deg=-40, high_spot_deg=0)
    readings[4] = np.nan
    with pytest.raises(NotAnswerableError, match="reading 5 of 192"):
        read_marked_turn(readings, marks, resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="3 angles, 2 given"):
        read_marked_turn(np.full(60, 1.0), [10, 12], resolution_um=0.1)
