"""Where the spindle stood, told in each line by an encoder's count or an index: exact, or the line is refused."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.errors import SimulationError
from instruments.indicator import Indicator
from instruments.meaning import interpret
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile
from instruments.recordings import Replay
from instruments.records import Bytes, Frame, Reading, Refused, Why
from instruments.simulated import Fault, SimulatedIndicator, Spindle

TELLS = r"""
about = "a line that tells where the spindle stands"
pattern = '(?P<number>[+-][0-9]\.[0-9]{4})(?:@(?P<count>[^*]*))?(?P<index>[*!x]?)'
example = "+0.0123@0000"
unit = "mm"
"""


def profile(counts_per_turn: int = 4096, *, index: str = '"*" = "mark"', more: str = "") -> Profile:
    return read_profile(f"{TELLS}counts_per_turn = {counts_per_turn}\nindex = {{ {index} }}\n{more}", "tells.toml")


def heard(text: str, of: Profile) -> Reading | Refused:
    return interpret(Frame(text.encode(), text, 1.0), of)


def angle(text: str, of: Profile) -> Fraction | None:
    reading = heard(text, of)
    assert isinstance(reading, Reading), reading
    return reading.angle_deg


@pytest.mark.parametrize(
    ("count", "per_turn", "degrees"),
    [
        ("0000", 4096, Fraction(0)),
        ("1024", 4096, Fraction(90)),
        ("1", 4096, Fraction(360, 4096)),
        ("4095", 4096, Fraction(360 * 4095, 4096)),
        ("5120", 4096, Fraction(90)),
        ("-1024", 4096, Fraction(270)),
        ("+1024", -4096, Fraction(270)),
        ("1", 7, Fraction(360, 7)),
        ("123.45", 360, Fraction(12345, 100)),
        ("360.0", 360, Fraction(0)),
        ("−90", 360, Fraction(270)),
    ],
)
def test_a_count_is_an_exact_angle_within_one_turn(count: str, per_turn: int, degrees: Fraction) -> None:
    assert angle(f"+0.0123@{count}", profile(per_turn)) == degrees


@given(count=st.integers(-(10**14), 10**14), per_turn=st.integers(-(10**8), 10**8).filter(bool))
def test_any_count_gives_an_angle_from_0_to_under_360_that_counts_back_to_it(count: int, per_turn: int) -> None:
    degrees = angle(f"+0.0123@{count}", profile(per_turn))
    assert degrees is not None
    assert 0 <= degrees < 360
    assert (degrees * per_turn / 360 - count) % per_turn == 0


@pytest.mark.parametrize("count", ["", " ", "abc", "12a", "1 2", "0x10", "1e3", "--5", "12,5", ".", ".5", "9" * 16])
def test_a_line_whose_count_is_no_number_is_refused_with_it(count: str) -> None:
    refused = heard(f"+0.0123@{count}", profile())
    assert isinstance(refused, Refused)
    assert (refused.why, refused.detail) == (Why.NO_COUNT, count)


def test_a_line_without_its_count_is_refused() -> None:
    refused = heard("+0.0123", profile())
    assert isinstance(refused, Refused)
    assert refused.why is Why.NO_COUNT


def test_a_comma_in_the_degrees_is_taken_where_the_profile_says_so() -> None:
    assert angle("+0.0123@12,5", profile(360, more='decimal = "either"\n')) == Fraction(25, 2)


@pytest.mark.parametrize(
    ("index", "text", "passes"),
    [
        ('"*" = "mark"', "*", True),
        ('"*" = "mark"', "", False),
        ('"*" = "mark", "!" = "no mark"', "!", False),
        ('"*" = "mark"', "!", Why.UNKNOWN_INDEX),
        ('"*" = "mark", "!" = "no mark"', "x", Why.UNKNOWN_INDEX),
        ('"" = "mark", "!" = "no mark"', "", True),
    ],
)
def test_an_index_marks_the_turn_only_by_a_text_that_the_profile_knows(
    index: str, text: str, passes: bool | Why
) -> None:
    outcome = interpret(Frame(b"", f"+0.0123{text}", 1.0), _index_only(index))
    assert (outcome.why if isinstance(outcome, Refused) else outcome.index) == passes


def _index_only(index: str) -> Profile:
    text = TELLS.replace("(?:@(?P<count>[^*]*))?", "").replace("@0000", "*" if '"*"' in index else "!")
    return read_profile(f"{text}index = {{ {index} }}\n", "index.toml")


def test_an_indicator_that_does_not_tell_has_neither_angle_nor_index() -> None:
    reading = heard("+0.0123 mm", load_profile("ascii-lines"))
    assert isinstance(reading, Reading)
    assert (reading.angle_deg, reading.index) == (None, None)


EVEN = Spindle(eccentricity_um=50.0, high_spot_deg=90.0, noise_um=0.0, seconds_per_turn=4.0, unevenness=0.0)


def readings(simulated: SimulatedIndicator, count: int) -> list[Reading]:
    said = list(itertools.islice(simulated.stream(), count))
    indicator = Indicator(simulated.profile, Replay([Bytes(saying.data, saying.seconds) for saying in said]))
    outcomes = [one for _ in range(count) for one in indicator.poll(0.0).outcomes]
    return [one for one in outcomes if isinstance(one, Reading)]


@pytest.mark.parametrize("per_turn", [4096, -4096, 360])
def test_a_simulated_spindle_is_heard_at_the_angle_where_it_stands(per_turn: int) -> None:
    text = TELLS.replace("(?P<index>[*!x]?)", "") + f"counts_per_turn = {per_turn}\n"
    simulated = SimulatedIndicator(read_profile(text, "tells.toml"), EVEN, per_second=20.0)
    found = readings(simulated, 200)
    assert len(found) == 200
    for number, reading in enumerate(found):
        assert reading.angle_deg is not None
        away = (float(reading.angle_deg) - number * 4.5 + 180) % 360 - 180
        assert abs(away) <= 180 / abs(per_turn)
    high = max(found, key=lambda reading: reading.value)
    assert high.angle_deg == 90


def test_the_index_of_a_simulated_spindle_passes_once_a_turn() -> None:
    simulated = SimulatedIndicator(_index_only('"*" = "mark"'), EVEN, per_second=7.0)
    passed = [number for number, reading in enumerate(readings(simulated, 100)) if reading.index]
    assert passed == [0, 28, 56, 84]


def test_an_index_that_the_example_has_no_place_for_cannot_be_simulated() -> None:
    text = TELLS.replace("(?:@(?P<count>[^*]*))?", "").replace("(?P<index>[*!x]?)", "(?P<index>[*])?")
    unplaced = read_profile(text.replace("@0000", "") + 'index = { "*" = "mark" }\n', "unplaced.toml")
    with pytest.raises(SimulationError, match=r"no place for the index\. Let the group match nothing"):
        SimulatedIndicator(unplaced)


def test_a_frozen_indicator_goes_on_telling_where_the_spindle_stands() -> None:
    simulated = SimulatedIndicator(load_profile("ascii-encoder"), EVEN, faults=(Fault("freeze", 5, 10),))
    frozen = readings(simulated, 20)[5:15]
    assert {reading.value for reading in frozen} == {frozen[0].value}
    told = [float(reading.angle_deg) for reading in frozen if reading.angle_deg is not None]
    assert told == pytest.approx([45 + 9 * number for number in range(10)], abs=180 / 4096)
