"""What a simulated indicator says for a value is heard as this value: in every shipped profile."""

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from instruments.errors import SimulationError
from instruments.indicator import Indicator
from instruments.meaning import interpret
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile, shipped_profiles
from instruments.recordings import Replay
from instruments.records import Bytes, Frame, Outcome, Reading, Sent
from instruments.registers import number_of
from instruments.speaking import check_sum, ended, said, status_line

UNITS = {
    "ascii-lines": {"mm": 4, "in": 5, "um": 1},
    "ascii-encoder": {"mm": 4, "in": 5},
    "ascii-request": {"mm": 4, "in": 5},
    "ascii-button": {"mm": 3, "in": 4},
    "bcd-13-digits": {"mm": 3, "in": 4},
    "bcd-13-digits-bytes": {"mm": 3, "in": 4},
    "keyboard-wedge": {"mm": 3},
    "modbus-rtu-registers": {"um": 1},
    "scpi-query": {"m": 9},
}
"""The units each profile knows, and how many decimals of them it can say."""


def heard(profile: Profile, data: bytes) -> Reading:
    """What a listener makes of ``data``, through all layers that do not need a port."""
    if profile.registers is not None:
        words = [int.from_bytes(data[at : at + 2]) for at in range(0, len(data), 2)]
        number = number_of(words, profile.registers, profile.decimals.get(profile.unit or "", 0))
        outcome: Outcome = interpret(Frame(data, number, 0.0), profile)
    else:
        asked = [Sent(profile.request, 0.0)] if profile.mode == "request" else []
        indicator = Indicator(profile, Replay([*asked, Bytes(data, 0.1)]))
        (outcome,) = [one for _ in range(3) for one in indicator.poll(0.0).outcomes][:1]
    assert isinstance(outcome, Reading), outcome
    return outcome


def test_every_shipped_profile_is_tried() -> None:
    assert sorted(UNITS) == shipped_profiles()


@given(data=st.data(), name=st.sampled_from(sorted(UNITS)))
def test_a_value_comes_back_as_it_was_said(data: st.DataObject, name: str) -> None:
    profile = load_profile(name)
    unit, places = data.draw(st.sampled_from(sorted(UNITS[name].items())))
    largest = 10 ** (places + 1) - 1 if unit != "m" else 10_000_000
    value = Decimal(data.draw(st.integers(-largest, largest))).scaleb(-places)
    reading = heard(profile, said(profile, value, unit))
    assert (reading.value, reading.unit) == (value, unit)


FORMS = [
    ("(?P<number>[+-] *[0-9]+,[0-9]+) (?P<unit>mm|in)", "+  0,012 mm", 'decimal = "comma"', b"-  0,500 mm\r\n"),
    ("(?P<number>[+-]?[0-9]+\\.[0-9]+)(?P<unit>mm|in)", "-0.0120mm", "", b"-0.5000mm\r\n"),
    (" *(?P<number>-?[0-9]+\\.[0-9]+) (?P<unit>mm|in)", "  1.00 mm", "reversed = true", b"0.50 mm\r\n"),
    ("(?P<number>[+-] *[0-9]+) (?P<unit>mm|in)", "+   25 mm", 'scale = "0.02"', b"-   25 mm\r\n"),
    ("(?P<number>[+-][0-9.]+E[+-][0-9]+)(?P<unit>mm|in)", "+1.50E-01mm", "", b"-5.00E-01mm\r\n"),
]


@pytest.mark.parametrize(("pattern", "example", "more", "expected"), FORMS)
def test_the_example_is_the_form_of_what_is_said(pattern: str, example: str, more: str, expected: bytes) -> None:
    text = f'about = "x"\npattern = \'{pattern}\'\nexample = "{example}"\n{more}\nunits = {{ mm = "mm", in = "in" }}\n'
    profile = read_profile(text, "form.toml")
    data = said(profile, Decimal("-0.5"), "mm")
    assert data.strip() == expected.strip()
    assert heard(profile, data).value == Decimal("-0.5")


@given(value=st.decimals(allow_nan=False, allow_infinity=False, places=6, min_value=-2000, max_value=2000))
def test_what_cannot_be_said_exactly_is_not_said(value: Decimal) -> None:
    profile = load_profile("ascii-button")
    assume(value != round(value, 3) or abs(value) > 1000)
    with pytest.raises(SimulationError, match="cannot be said in the profile ascii-button"):
        said(profile, value, "mm")


def test_a_unit_or_word_the_profile_does_not_know_is_told() -> None:
    with pytest.raises(SimulationError, match='no text for "um"'):
        said(load_profile("ascii-button"), Decimal(1), "um")
    with pytest.raises(SimulationError, match='no word for "hold"'):
        status_line(load_profile("keyboard-wedge"), "hold", Decimal(0), "mm")


def test_status_words_are_said_where_the_profile_has_them() -> None:
    button = load_profile("ascii-button")
    assert status_line(button, "hold", Decimal("-0.5"), "mm") == b"H -0.500 mm\r"
    assert status_line(button, "over range", Decimal(0), "mm") == b"-----\r"
    assert status_line(load_profile("ascii-lines"), "low battery", Decimal(0), "mm") == b"LOW BATTERY\r\n"
    assert ended(load_profile("scpi-query"), "x") == b"x\n"


def test_the_check_sum_is_that_of_the_specification() -> None:
    """Worked example of Modbus over serial line V1.02, appendix B: 02 07 gives 41 12 (from memory)."""
    assert check_sum(bytes([0x02, 0x07])) == bytes([0x41, 0x12])
