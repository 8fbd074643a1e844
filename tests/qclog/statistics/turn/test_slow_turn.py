"""The slow hand turn: a constructed case to its digits, what disturbs it and what does not, own simulations.

The bounds of the simulated figures are some four standard errors wide on either side.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.slow_turn import SlowTurn, read_slow_turn

Floats = NDArray[np.float64]


def constructed() -> Floats:
    """A turn and a half of 180 readings with a lobe, an uneven hand and a step of 0.1 µm (constructed case)."""
    i = np.arange(180)
    phase = 0.4 + 3 * np.pi * (i / 179 + 0.03 * np.sin(4 * np.pi * i / 179))
    return np.round(3 * np.cos(phase) + 0.3 * np.cos(2 * phase + 1) + 0.15 * np.sin(37.3 * phase + 0.1 * i**2), 1)


def turned(angle_deg: Floats, noise_um: float = 0.0, seed: int = 0) -> Floats:
    """Readings of a pin 3 µm off centre, its high spot at 0 degrees."""
    return 3 * np.cos(np.radians(angle_deg)) + noise_um * np.random.default_rng(seed).normal(size=angle_deg.size)


@dataclass(frozen=True)
class Hand:
    """How a record was taken: 120 readings a turn, the speed varying by ``uneven`` of its mean to either side."""

    turns: float
    eccentricity: float = 3.0
    lobes: tuple[float, float] = (0.0, 0.0)
    noise: float = 0.3
    step: float = 0.2
    uneven: float = 0.0
    dwell: float = 0.0
    drift: float = 0.0

    def record(self, rng: np.random.Generator) -> tuple[Floats, float]:
        """Readings, and the true full swing."""
        n = round(120 * self.turns)
        phase = 2 * np.pi * rng.choice([0.3, 0.5, 1.0, 2.0]) * np.arange(n) / 120 + rng.uniform(0, 2 * np.pi)
        speed = 1 + self.uneven * np.sin(phase)
        stop = int(rng.integers(0, n - int(self.dwell * n) + 1))
        speed[stop : stop + int(self.dwell * n)] = 0
        way = np.cumsum(speed)
        angle = 2 * np.pi * self.turns * (way - way[0]) / (way[-1] - way[0])
        phases = rng.uniform(0, 2 * np.pi, 3)

        def form(at: Floats) -> Floats:
            sizes = np.array([self.eccentricity, *self.lobes])
            return np.asarray(sizes @ np.cos(np.outer([1, 2, 3], at) + phases[:, None]))

        readings = form(angle) + self.drift * np.arange(n) / n + self.noise * rng.normal(size=n)
        whole = form(np.linspace(0, 2 * np.pi, 720))
        return np.round(readings / self.step) * self.step, float(np.ptp(whole))

    def read(self, records: int, seed: int) -> tuple[list[SlowTurn], Floats]:
        """What is read of so many records, and by how much the swing errs."""
        rng = np.random.default_rng(seed)
        drawn = [self.record(rng) for _ in range(records)]
        found = [read_slow_turn(readings, resolution_um=self.step) for readings, _ in drawn]
        return found, np.array([turn.swing_um - true for turn, (_, true) in zip(found, drawn, strict=True)])


def test_the_constructed_case_comes_out_to_its_digits() -> None:
    turn = read_slow_turn(constructed(), resolution_um=0.1)
    assert turn.swing_um == pytest.approx(5.95, abs=0.02)
    assert turn.turning_at.tolist() == [58, 103]
    assert turn.level_um == pytest.approx([-2.90, 3.05], abs=0.02)
    assert turn.is_high.tolist() == [False, True]
    assert turn.noise_sd_um == pytest.approx(0.0605, abs=5e-5)
    assert turn.read_swing_um == pytest.approx(6.3, abs=1e-9)
    assert (turn.n, turn.half_turns, turn.complete, turn.caveats) == (180, 1, True, ())


def test_two_turning_points_short_of_the_start_are_less_than_a_turn_but_have_a_swing() -> None:
    angle = np.linspace(90, 480, 156)  # down to the low spot, up to the high spot, and past the start at 450
    turn = read_slow_turn(turned(angle[:138], 0.1), resolution_um=0.1)
    assert (turn.half_turns, turn.complete, turn.caveats) == (1, False, ("less_than_a_turn",))
    assert turn.swing_um == pytest.approx(6, abs=0.2)
    turn = read_slow_turn(turned(angle, 0.1), resolution_um=0.1)
    assert (turn.half_turns, turn.complete, turn.caveats) == (1, True, ())


@pytest.mark.parametrize("readings", [constructed()[:39], constructed()[:90], turned(np.linspace(20, 160, 200), 0.1)])
def test_too_few_readings_or_turning_points_leave_the_raw_swing_unverified(readings: Floats) -> None:
    turn = read_slow_turn(readings, resolution_um=0.1)
    assert turn.swing_um == turn.read_swing_um == np.ptp(readings)
    assert turn.u_swing_um == np.inf
    assert turn.turning_at.size == turn.level_um.size == turn.is_high.size == turn.half_turns == 0
    assert (turn.complete, turn.caveats) == (False, ("less_than_a_turn", "unverified"))


def test_forty_readings_are_enough() -> None:
    readings = turned(np.linspace(30, 630, 40), 0.05)
    assert read_slow_turn(readings, resolution_um=0.1).complete
    assert "unverified" in read_slow_turn(readings[:-1], resolution_um=0.1).caveats


def test_a_reading_or_two_are_raw_as_well() -> None:
    assert read_slow_turn([4.0], resolution_um=0.1).swing_um == 0
    assert read_slow_turn([4.0, 7.0], resolution_um=0.1).swing_um == 3


@pytest.mark.parametrize("n", [20, 200])
def test_frozen_readings_are_no_swing_and_say_so(n: int) -> None:
    turn = read_slow_turn(np.full(n, 12.3), resolution_um=0.1)
    assert turn.swing_um == 0
    assert turn.caveats == ("less_than_a_turn", "unverified", "no_movement")
    assert turn.noise_sd_um == pytest.approx(0.1 / np.sqrt(12))


def test_where_most_readings_repeat_the_noise_is_taken_from_the_few_that_differ() -> None:
    readings = np.zeros(100)
    readings[[20, 50, 80]] = 1.0  # second differences of 1, -2, 1 each
    turn = read_slow_turn(readings, resolution_um=0.1)
    assert turn.noise_sd_um == pytest.approx(np.sqrt(3 * 6 / 98 / 6))


def test_noise_alone_is_seldom_taken_for_a_turn() -> None:
    rng = np.random.default_rng(4)
    turns = [read_slow_turn(np.round(rng.normal(size=200), 1), resolution_um=0.1) for _ in range(400)]
    assert np.mean([turn.half_turns > 0 for turn in turns]) <= 0.02


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_reading_that_is_not_finite_is_refused_with_its_position(bad: float) -> None:
    readings = constructed()
    readings[16] = bad
    with pytest.raises(NotAnswerableError, match="reading 17 of 180"):
        read_slow_turn(readings, resolution_um=0.1)


def test_no_reading_and_no_resolution_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="0 readings given, 1 needed"):
        read_slow_turn([], resolution_um=0.1)
    for step in (0.0, -0.1, np.nan, np.inf):
        with pytest.raises(NotAnswerableError, match="resolution"):
            read_slow_turn(constructed(), resolution_um=step)


def test_the_arrays_cannot_be_written_to() -> None:
    for readings in (constructed(), constructed()[:30]):
        turn = read_slow_turn(readings, resolution_um=0.1)
        assert not any(array.flags.writeable for array in (turn.turning_at, turn.level_um, turn.is_high))


@pytest.mark.parametrize(
    ("hand", "bias", "sd"),
    [
        (Hand(1.5), (-0.02, 0.06), (0.08, 0.14)),
        (Hand(3, uneven=0.2), (-0.02, 0.06), (0.06, 0.11)),
        (Hand(3, uneven=0.5, lobes=(0.4, 0.3)), (-0.09, 0.01), (0.09, 0.20)),
        (Hand(2, eccentricity=1.5, noise=0.5), (0.22, 0.37), (0.14, 0.25)),
        (Hand(2, step=1.0), (0.04, 0.14), (0.06, 0.15)),
        (Hand(3, drift=1.0), (-0.02, 0.06), (0.06, 0.11)),
        (Hand(2, dwell=0.3), (-0.03, 0.11), (0.07, 0.17)),
        (Hand(2, eccentricity=5, lobes=(0.0, 0.3), noise=0.2, uneven=0.8, dwell=0.2), (-0.18, -0.03), (0.10, 0.33)),
        (Hand(3, eccentricity=1.0, lobes=(0.5, 0.0), noise=0.1), (-0.07, 0.03), (0.04, 0.12)),
    ],
    ids=["even", "a fifth", "a half, lobes", "low signal", "coarse", "drift", "dwell", "wild", "oval"],
)
def test_the_swing_errs_by_as_much_as_is_said(hand: Hand, bias: tuple[float, float], sd: tuple[float, float]) -> None:
    turns, error = hand.read(300, seed=1)
    assert all(turn.half_turns for turn in turns)
    assert bias[0] < error.mean() < bias[1]
    assert sd[0] < error.std() < sd[1]


def test_the_raw_swing_reads_high_by_what_the_parabola_takes_off() -> None:
    turns, error = Hand(1.5).read(300, seed=2)
    raw_error = error + [turn.read_swing_um - turn.swing_um for turn in turns]
    assert 0.85 < raw_error.mean() < 1.15
    assert abs(error.mean()) < 0.06


@pytest.mark.parametrize(
    ("hand", "low", "high"),
    [
        (Hand(1.5), 0.92, 0.99),
        (Hand(2), 0.90, 0.99),
        (Hand(3), 0.92, 0.99),
        (Hand(3, lobes=(0.4, 0.3)), 0.89, 0.98),
        (Hand(3, noise=0.1, step=0.1, uneven=0.5), 0.64, 0.84),
    ],
)
def test_two_standard_uncertainties_cover_as_often_as_is_said(hand: Hand, low: float, high: float) -> None:
    turns, error = hand.read(400, seed=3)
    u = np.array([turn.u_swing_um for turn in turns])
    assert low < np.mean(np.abs(error) <= 2 * u) < high


def test_a_stand_that_wobbles_slowly_counts_by_the_scatter_of_the_levels() -> None:
    """Independent errors of 0.3 µm in each high and low spot, far slower than the noise of a reading."""
    rng = np.random.default_rng(5)
    angle = np.linspace(-120, 1200, 440)  # seven spots, 180 degrees apart
    turns = []
    for _ in range(600):
        wobble = np.repeat(rng.normal(0, 0.3, 7), [70, 60, 60, 60, 60, 60, 70])
        turns.append(read_slow_turn(turned(angle, 0.02, int(rng.integers(1 << 30))) + wobble, resolution_um=0.01))
    assert {turn.half_turns for turn in turns} == {6}
    sd = np.std([turn.swing_um for turn in turns])
    assert np.sqrt(np.mean([turn.u_swing_um**2 for turn in turns])) == pytest.approx(sd, rel=0.15)


PLAIN = Hand(1)
OVAL = Hand(1, eccentricity=1.0, lobes=(0.5, 0.0), step=0.01)


@pytest.mark.parametrize(
    ("hand", "turns", "complete", "two_or_more"),
    [
        (PLAIN, 0.5, (0, 0.01), (0, 0.02)),
        (PLAIN, 0.8, (0, 0.01), (0, 0.06)),
        (PLAIN, 0.95, (0, 0.02), (0.19, 0.38)),
        (PLAIN, 1.1, (0.52, 0.72), (0.53, 0.73)),
        (PLAIN, 1.3, (0.95, 1), (0.95, 1)),
        (PLAIN, 1.5, (0.99, 1), (0.99, 1)),
        (Hand(1, lobes=(0.4, 0.3), step=1.0, uneven=0.5, dwell=0.1), 0.9, (0, 0.02), (0.07, 0.22)),
        (Hand(1, lobes=(0.4, 0.3), step=1.0, uneven=0.5, dwell=0.1), 1.3, (0.81, 0.96), (0.81, 0.96)),
        (Hand(1, eccentricity=1.5, noise=0.5, step=0.01), 1.3, (0.69, 0.87), (0.69, 0.87)),
        (Hand(1, eccentricity=1.5, noise=0.5, step=0.01), 1.5, (0.97, 1), (0.97, 1)),
        (OVAL, 0.7, (0, 0.03), (0, 0.09)),
        (OVAL, 1.0, (0.04, 0.17), (0.27, 0.45)),
        (OVAL, 1.5, (0.92, 1), (0.92, 1)),
    ],
)
def test_a_full_turn_is_recognised_as_often_as_is_said(
    hand: Hand, turns: float, complete: tuple[float, float], two_or_more: tuple[float, float]
) -> None:
    found, _ = replace(hand, turns=turns).read(400, seed=7)
    assert complete[0] <= np.mean([turn.complete for turn in found]) <= complete[1]
    assert two_or_more[0] <= np.mean([turn.half_turns > 0 for turn in found]) <= two_or_more[1]


def test_where_the_record_begins_is_never_taken_for_a_turning_point() -> None:
    for hand in (Hand(2, noise=0.1, step=0.1), Hand(3, noise=0.1, step=0.1, uneven=0.2)):
        _, error = hand.read(300, seed=1)
        assert np.abs(error).max() < 0.25


def test_a_drift_that_hides_the_swing_in_the_raw_readings_does_not_disturb_it() -> None:
    angle = np.linspace(30, 1110, 360)
    turn = read_slow_turn(turned(angle, 0.1) + np.linspace(0, 6, 360), resolution_um=0.1)
    assert turn.swing_um == pytest.approx(6, abs=0.1)
    assert turn.read_swing_um > 9
    assert turn.caveats == ("levels_differ",)


def test_a_dwell_on_a_spot_or_between_two_leaves_the_swing() -> None:
    for stop in (300, 360):
        angle = np.concatenate([np.linspace(30, stop, 100), np.full(60, stop), np.linspace(stop, 720, 120)])
        turn = read_slow_turn(turned(angle, 0.1), resolution_um=0.1)
        assert turn.swing_um == pytest.approx(6, abs=0.2)
        assert turn.complete


def test_half_turns_of_unequal_time_are_an_uneven_hand() -> None:
    even = np.linspace(60, 660, 240)
    uneven = np.concatenate([np.linspace(60, 180, 30), np.linspace(180, 360, 40), np.linspace(360, 660, 150)])
    assert read_slow_turn(turned(even, 0.1), resolution_um=0.1).caveats == ()
    assert read_slow_turn(turned(uneven, 0.1), resolution_um=0.1).caveats == ("uneven_hand",)


def test_turned_back_on_a_spot_does_no_harm() -> None:
    angle = np.concatenate([np.linspace(60, 360, 100), np.linspace(360, 60, 100)])
    turn = read_slow_turn(turned(angle, 0.1), resolution_um=0.1)
    assert turn.swing_um == pytest.approx(6, abs=0.1)


def test_turned_back_between_spots_reads_low_and_shows_only_beside_a_true_spot_of_the_same_kind() -> None:
    back = np.concatenate([np.linspace(90, 630, 180), np.linspace(630, 480, 50)])  # low, high, low, turned back at 0
    turn = read_slow_turn(turned(back, 0.1), resolution_um=0.1)
    assert "levels_differ" in turn.caveats
    assert turn.swing_um < 5.5
    short = np.concatenate([np.linspace(90, 270, 60), np.linspace(270, 90, 60)])  # low, turned back at 0, low
    turn = read_slow_turn(turned(short, 0.1), resolution_um=0.1)
    assert "levels_differ" not in turn.caveats
    assert turn.swing_um == pytest.approx(3, abs=0.3)


@given(
    seed=st.integers(0, 10_000),
    turns=st.floats(0.3, 4.0),
    scale=st.sampled_from([0.01, 0.5, 8.0, 25.4]),
    offset=st.floats(-500, 500),
    sign=st.sampled_from([1.0, -1.0]),
)
def test_offset_sign_and_unit_change_the_levels_and_nothing_else(
    seed: int, turns: float, scale: float, offset: float, sign: float
) -> None:
    readings, _ = Hand(turns, step=1e-6, uneven=0.3, lobes=(0.2, 0.2)).record(np.random.default_rng(seed))
    plain = read_slow_turn(readings, resolution_um=0.1)
    changed = read_slow_turn(sign * scale * readings + offset, resolution_um=0.1 * scale)
    assert (changed.half_turns, changed.complete, changed.caveats) == (plain.half_turns, plain.complete, plain.caveats)
    assert changed.turning_at.tolist() == plain.turning_at.tolist()
    assert changed.is_high.tolist() == (plain.is_high == (sign > 0)).tolist()
    np.testing.assert_allclose(changed.level_um, sign * scale * plain.level_um + offset, rtol=1e-7, atol=1e-7)
    for name in ("swing_um", "u_swing_um", "noise_sd_um", "read_swing_um"):
        assert getattr(changed, name) == pytest.approx(scale * getattr(plain, name), rel=1e-5)
