"""The simulated spindle and what its indicator says, without a line."""

import itertools
import math
from dataclasses import replace
from decimal import Decimal
from typing import get_args

import pytest

from instruments.errors import SimulationError
from instruments.indicator import Indicator
from instruments.profile_files import load_profile, shipped_profiles
from instruments.recordings import Replay
from instruments.records import Bytes, Outcome, Reading
from instruments.simulated import Fault, FaultKind, SimulatedIndicator, Spindle
from instruments.units import picometres

QUIET = Spindle(noise_um=0.0, unevenness=0.0)


def heard(indicator: SimulatedIndicator, count: int) -> list[Outcome]:
    """What a listener makes of the first ``count`` readings of a stream."""
    sayings = list(itertools.islice(indicator.stream(), count))
    listener = Indicator(indicator.profile, Replay([Bytes(saying.data, saying.seconds) for saying in sayings]))
    return [one for _ in range(count) for one in listener.poll(0.0).outcomes]


def test_the_swing_of_a_round_spindle_is_twice_its_eccentricity() -> None:
    assert Spindle(eccentricity_um=4.5).swing_um == pytest.approx(9.0, abs=1e-4)
    assert Spindle(eccentricity_um=0.0, lobes=((3, 1.5, 10.0),)).swing_um == pytest.approx(3.0, abs=1e-4)


def test_the_high_spot_and_the_tops_of_the_lobes_stand_where_they_are_set() -> None:
    spindle = Spindle(eccentricity_um=3.0, high_spot_deg=40.0, lobes=((2, 1.0, 40.0),))
    highest = max(range(360), key=spindle.form_um)
    assert highest == 40
    assert spindle.form_um(40.0) == pytest.approx(4.0)
    assert spindle.form_um(130.0) == pytest.approx(-1.0)


def test_a_hand_is_uneven_and_never_turns_back() -> None:
    spindle = Spindle(seconds_per_turn=20.0, unevenness=0.9)
    angles = [spindle.angle_deg(second / 10) for second in range(2000)]
    speeds = [later - earlier for earlier, later in itertools.pairwise(angles)]
    assert min(speeds) > 0
    assert max(speeds) / min(speeds) > 10
    assert angles[-1] == pytest.approx(360 * 199.9 / 20, rel=0.02)


def test_an_even_hand_turns_by_the_clock() -> None:
    assert QUIET.angle_deg(25.0) == pytest.approx(450.0)


def test_the_same_seed_says_the_same_and_another_one_does_not() -> None:
    profile = load_profile("ascii-lines")
    first, second, other = (
        [saying.data for saying in itertools.islice(SimulatedIndicator(profile, seed=seed).stream(), 50)]
        for seed in (7, 7, 8)
    )
    assert first == second
    assert first != other


@pytest.mark.parametrize("name", [name for name in shipped_profiles() if name != "modbus-rtu-registers"])
def test_the_known_swing_is_heard_in_every_profile(name: str) -> None:
    spindle = Spindle(eccentricity_um=12.0, noise_um=0.0, seconds_per_turn=10.0)
    indicator = SimulatedIndicator(load_profile(name), spindle, per_second=2.0)
    values = [indicator.saying(number).value for number in range(400)]
    um = [float(picometres(value, indicator.unit)) / 1e6 for value in values]
    step = float(picometres(indicator.resolution, indicator.unit)) / 1e6
    assert max(um) - min(um) == pytest.approx(24.0, abs=step + 0.05)


def test_the_noise_and_the_drift_are_those_that_are_set() -> None:
    still = Spindle(eccentricity_um=0.0, noise_um=0.5, drift_um_per_minute=6.0)
    indicator = SimulatedIndicator(load_profile("ascii-lines"), still, resolution=Decimal("0.0001"), per_second=100)
    um = [float(indicator.saying(number).value) * 1000 for number in range(6000)]
    rest = [value - number / 1000 for number, value in enumerate(um)]
    mean = sum(rest) / len(rest)
    assert mean == pytest.approx(0.0, abs=0.05)
    assert math.sqrt(sum((value - mean) ** 2 for value in rest) / len(rest)) == pytest.approx(0.5, abs=0.03)


def test_values_are_shown_in_whole_steps_of_the_resolution() -> None:
    indicator = SimulatedIndicator(load_profile("ascii-lines"), QUIET, resolution=Decimal("0.0005"))
    assert {indicator.saying(number).value % Decimal("0.0005") for number in range(300)} == {Decimal(0)}


def test_a_pressed_button_reads_where_the_spindle_was_turned_to() -> None:
    indicator = SimulatedIndicator(load_profile("ascii-button"), Spindle(eccentricity_um=50.0, noise_um=0.0))
    values = [indicator.saying(n, seconds=0.0, angle_deg=angle).value for n, angle in enumerate((120, 210, 300))]
    assert values == [Decimal("0.050"), Decimal("0.000"), Decimal("-0.050")]


@pytest.mark.parametrize("kind", [kind for kind in get_args(FaultKind) if kind not in ("double", "disconnect")])
def test_each_fault_is_heard_as_what_it_is_and_never_as_a_wrong_value(kind: FaultKind) -> None:
    profile = load_profile("ascii-button")
    indicator = SimulatedIndicator(profile, Spindle(eccentricity_um=30.0), faults=(Fault(kind, 5, 4),), per_second=2.0)
    said = [indicator.saying(number) for number in range(20)]
    true = {(saying.value, saying.unit) for saying in said}
    outcomes = heard(indicator, 20)
    readings = [outcome for outcome in outcomes if isinstance(outcome, Reading)]
    assert {(reading.value, reading.unit) for reading in readings} <= true
    unfaulty = 20 - 4
    match kind:
        case "cut" | "noise":
            assert unfaulty - 1 <= len(readings) <= unfaulty
        case "hold" | "max" | "over range" | "silence":
            assert len(readings) == unfaulty
        case "freeze":
            assert len({reading.value for reading in readings[5:9]}) == 1
            assert len(readings) == 20
        case "unit":
            assert [reading.unit for reading in readings[4:10]] == ["mm", "in", "in", "in", "in", "mm"]
        case "low battery":
            assert [reading.status for reading in readings[4:6]] == [(), ("low battery",)]
        case "burst":
            assert {saying.seconds for saying in said[5:9]} == {4.0}


def test_a_frozen_indicator_keeps_its_first_value_wherever_the_spindle_is_turned_and_clamped_anew() -> None:
    steep = Spindle(eccentricity_um=50.0, noise_um=1.0, drift_um_per_minute=600.0)
    indicator = SimulatedIndicator(load_profile("ascii-button"), steep, faults=(Fault("freeze", 2, 4),))
    values = []
    for number in range(8):
        indicator.spindle = replace(steep, high_spot_deg=37.0 * number)
        values.append(indicator.saying(number, seconds=2.0 * number, angle_deg=100.0 * number).value)
    assert values[2:6] == [values[2]] * 4
    assert len({*values}) == 5
    again = [indicator.saying(number, seconds=0.0, angle_deg=0.0).value for number in range(2, 6)]
    assert again == values[2:6]


def test_a_frozen_indicator_keeps_what_it_said_first_and_not_what_it_would_have_said() -> None:
    indicator = SimulatedIndicator(load_profile("ascii-button"), QUIET, faults=(Fault("freeze", 0, 3),))
    indicator.spindle = replace(QUIET, eccentricity_um=200.0)
    assert [indicator.saying(number, angle_deg=120.0).value for number in range(3)] == [Decimal("0.200")] * 3


def test_a_frozen_indicator_that_is_asked_answers_its_first_value() -> None:
    profile = load_profile("ascii-request")
    steep = Spindle(eccentricity_um=50.0, seconds_per_turn=5.0)
    indicator = SimulatedIndicator(profile, steep, faults=(Fault("freeze", 1, 3),))
    answers = [indicator.answer(profile.request, number, 0.7 * number) for number in range(5)]
    assert answers[1:4] == [answers[1]] * 3
    assert len({*answers}) == 3


def test_a_number_said_twice_is_one_press() -> None:
    indicator = SimulatedIndicator(load_profile("ascii-button"), faults=(Fault("double", 2, 3),), per_second=1.0)
    outcomes = heard(indicator, 10)
    assert sum(isinstance(outcome, Reading) for outcome in outcomes) == 10
    assert len(outcomes) == 13


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"faults": (Fault("hold", 0),)}, 'no word for "hold"'),
        ({"faults": (Fault("unit", 0),)}, "has one unit only"),
        ({"faults": (Fault("fire", 0),)}, '"fire" is no fault'),  # type: ignore[arg-type]
        ({"unit": "in"}, "cannot be said in the profile keyboard-wedge"),
        ({"unit": "cubit"}, '"cubit" is no unit'),
        ({"resolution": Decimal(0)}, "A resolution of 0 cannot be shown"),
        ({"per_second": 0.0}, "0.0 readings a second cannot be said"),
    ],
)
def test_what_cannot_be_simulated_is_told_at_once(settings: dict[str, object], told: str) -> None:
    with pytest.raises(SimulationError, match=told):
        SimulatedIndicator(load_profile("keyboard-wedge"), **settings)  # type: ignore[arg-type]


def test_a_resolution_finer_than_the_decimals_is_told() -> None:
    with pytest.raises(SimulationError, match=r"0\.0001 mm cannot be said in the profile ascii-button"):
        SimulatedIndicator(load_profile("ascii-button"), resolution=Decimal("0.0001"))


def test_a_disconnected_indicator_that_is_asked_is_refused_as_a_fault() -> None:
    with pytest.raises(SimulationError, match="hears no request"):
        SimulatedIndicator(load_profile("ascii-request"), faults=(Fault("disconnect", 0),))


@pytest.mark.parametrize("settings", [{"seconds_per_turn": 0.0}, {"unevenness": 1.0}, {"noise_um": -1.0}])
def test_a_spindle_that_cannot_turn_is_told(settings: dict[str, float]) -> None:
    with pytest.raises(SimulationError, match="cannot turn like this"):
        Spindle(**settings)  # type: ignore[arg-type]
