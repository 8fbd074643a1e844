"""What a run of readings tells beside its values."""

import math
import random
from collections.abc import Sequence
from decimal import Decimal

import pytest

from instruments.records import Outcome, Reading, Refused, Why
from instruments.simulated import Spindle
from instruments.watching import FASTER_THAN_A_HAND, Turning, is_frozen, pace, turning, unchanged, watched


def readings(values: Sequence[str], step: float = 0.1) -> list[Reading]:
    return [Reading(Decimal(value), "mm", at * step, b"") for at, value in enumerate(values)]


def turned(
    turns_per_second: float,
    per_second: float,
    seconds: float,
    *,
    seed: int,
    step_um: float = 0.1,
    noise_um: float = 0.3,
    lobes: tuple[tuple[int, float, float], ...] = ((2, 0.8, 20.0), (3, 0.5, 50.0)),
    unevenness: float = 0.0,
) -> Turning:
    chance = random.Random(seed)
    spindle = Spindle(3.0, lobes=lobes, seconds_per_turn=1 / turns_per_second, unevenness=unevenness)
    began = chance.uniform(0.0, 30.0)
    times = [began + at / per_second for at in range(int(seconds * per_second))]
    um = [spindle.form_um(spindle.angle_deg(time)) + chance.gauss(0.0, noise_um) for time in times]
    return turning(times, [round(value / step_um) * step_um for value in um])


def test_the_pace_is_counted_over_the_whole_time_with_its_gaps() -> None:
    found = pace([0.0, 0.1, 0.2, 0.3, 1.8, 1.9, 2.0])
    assert found.count == 7
    assert found.per_second == pytest.approx(3.0)
    assert found.longest_gap == pytest.approx(1.5)
    assert found.median_gap == pytest.approx(0.1)
    assert found.gaps == 0
    assert pace([at * 0.01 for at in range(100)] + [2.0]).gaps == 1


@pytest.mark.parametrize("times", [[], [1.0], [1.0, 1.0]])
def test_too_few_readings_have_no_pace(times: list[float]) -> None:
    found = pace(times)
    assert (found.count, found.per_second, found.median_gap, found.longest_gap, found.gaps) == (
        len(times), None, None, None, 0,
    )  # fmt: skip


def test_the_run_of_equal_readings_at_the_end_is_counted() -> None:
    run = unchanged(readings(["0.1", "0.2", "0.20", "0.2"]))
    assert run.count == 3
    assert run.seconds == pytest.approx(0.2)
    assert unchanged([]).count == 0


def test_an_indicator_is_frozen_when_nothing_changes_for_long_while_the_spindle_turns() -> None:
    moving = [f"{at / 1000:.3f}" for at in range(50)]
    assert not is_frozen(readings(moving))
    assert not is_frozen(readings([*moving, *["0.049"] * 60])), "six seconds may be a turning point"
    assert is_frozen(readings([*moving, *["0.049"] * 101]))
    assert not is_frozen(readings(["0.1", "0.1"], step=60.0)), "two readings are not a run"


@pytest.mark.parametrize("speed", [2.2, 3.0, 4.0])
@pytest.mark.parametrize(("per_second", "seconds"), [(10.0, 5.0), (50.0, 3.0), (2000.0, 2.0)])
def test_a_spindle_that_turns_faster_than_a_hand_is_seen(speed: float, per_second: float, seconds: float) -> None:
    for seed in range(10):
        seen = turned(speed, per_second, seconds, seed=seed)
        assert seen.turns_per_second == pytest.approx(speed, rel=0.03)
        assert seen.power_is_on


@pytest.mark.parametrize("seconds_per_turn", [1.0, 2.0, 5.0, 10.0, 20.0, 40.0])
@pytest.mark.parametrize("per_second", [10.0, 50.0, 500.0])
@pytest.mark.parametrize(("step_um", "noise_um"), [(0.1, 0.3), (1.0, 0.0), (2.0, 0.2)])
def test_no_hand_is_taken_for_a_machine(
    seconds_per_turn: float, per_second: float, step_um: float, noise_um: float
) -> None:
    """Slow turns shown in coarse steps look like many small ones (constructed case)."""
    for seed in range(6):
        for seconds in (5.0, 8.0):
            seen = turned(
                1 / seconds_per_turn, per_second, seconds, seed=seed, step_um=step_um, noise_um=noise_um, unevenness=0.5
            )
            assert not seen.power_is_on


def test_a_steady_creep_shown_in_steps_is_no_turning() -> None:
    """Less a line it is a saw-tooth, as regular as a machine (constructed case)."""
    assert turning([at / 10 for at in range(64)], [float(int(at * 0.23)) for at in range(64)]).turns_per_second is None


def test_a_turn_a_second_is_measured_and_is_still_a_hand() -> None:
    seen = turned(1.0, 20.0, 8.0, seed=1)
    assert seen.turns_per_second == pytest.approx(1.0, rel=0.03)
    assert not seen.power_is_on


def test_noise_on_a_still_spindle_is_no_turning() -> None:
    chance = random.Random(4)
    times = [at / 10 for at in range(64)]
    seen = [turning(times, [chance.gauss(0.0, 1.0) for _ in times]) for _ in range(1000)]
    assert sum(one.turns_per_second is not None for one in seen) <= 2


@pytest.mark.parametrize(
    "values", [[0.5] * 100, [0.001 * at for at in range(100)], [0.0] * 99 + [1.0], [1.0, 2.0] * 10, []]
)
def test_a_still_or_short_run_tells_no_speed(values: list[float]) -> None:
    assert turning([at / 10 for at in range(len(values))], values).turns_per_second is None


def test_readings_that_all_came_at_once_tell_no_speed() -> None:
    assert turning([1.0] * 100, [math.sin(at) for at in range(100)]) == Turning(None, 0.0)


def test_half_the_pace_is_the_highest_speed_that_can_be_seen() -> None:
    assert turned(3.0, 10.0, 5.0, seed=1).visible_up_to == pytest.approx(5.0)
    assert FASTER_THAN_A_HAND < 5.0


def test_everything_at_a_glance() -> None:
    outcomes: list[Outcome] = [
        *readings(["0.1", "0.2"]),
        Refused(b"H 0.2", 0.3, Why.HOLD),
        Refused(b"x", 0.4, Why.NO_MATCH),
        Refused(b"y", 0.5, Why.NO_MATCH),
        Reading(Decimal("0.0079"), "in", 0.6, b""),
    ]
    glance = watched(outcomes)
    assert glance.units == ("mm", "in")
    assert glance.refused == {Why.HOLD: 1, Why.NO_MATCH: 2}
    assert glance.mode_words == (Why.HOLD,)
    assert glance.pace.count == 3
    assert glance.unchanged.count == 1
    assert glance.turning.turns_per_second is None
