"""Frames become readings only if they are a number with a known unit, live and in range."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.meaning import interpret
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile, shipped_profiles
from instruments.records import Frame, Reading, Refused, Why
from instruments.units import UNITS, picometres

FREE = r"""
about = "free"
pattern = '(?P<status>[A-Z]*)\s*(?P<number>[^A-Za-z"]*)(?P<unit>[A-Za-z"]*)'
example = "+0.5 mm"
units = { mm = "mm", in = "in", '"' = "in", um = "um", m = "m" }
status = { LIVE = "live", B = "low battery", H = "hold", X = "max", N = "min", P = "preset", O = "over range", E = "error", "---" = "over range", "LOW BATT" = "low battery" }
"""  # noqa: E501 - one table a line


def profile(more: str = "", base: str = FREE) -> Profile:
    return read_profile(more + base, "test.toml")


def meant(text: str, of: Profile | None = None) -> Reading | Refused:
    return interpret(Frame(text.encode(), text, 2.5), of or profile())


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("+0.0123 mm", "0.0123", "mm"),
        ("-0.0123mm", "-0.0123", "mm"),
        ("0.50 mm", "0.50", "mm"),
        ("12 um", "12", "um"),
        (".5 mm", "0.5", "mm"),
        ("5. um", "5", "um"),
        ("-   0.003 mm", "-0.003", "mm"),
        ("  +0.003 mm", "0.003", "mm"),
        ("−0.003 mm", "-0.003", "mm"),
        ("-0.000 mm", "0.000", "mm"),
        ('0.00005"', "0.00005", "in"),
        ("LIVE +0.1 mm", "0.1", "mm"),
    ],
)
def test_numbers_as_senders_write_them_are_exact(text: str, value: str, unit: str) -> None:
    reading = meant(text)
    assert isinstance(reading, Reading)
    assert (str(reading.value), reading.unit, reading.time, reading.raw) == (value, unit, 2.5, text.encode())
    assert reading.status == ()


@pytest.mark.parametrize(
    ("text", "why", "detail"),
    [
        ("+0.01", Why.NO_UNIT, ""),
        ("+0.01 V", Why.UNKNOWN_UNIT, "V"),
        ("+0.01 MM", Why.UNKNOWN_UNIT, "MM"),
        ("mm", Why.NOT_A_NUMBER, ""),
        ("+ mm", Why.NOT_A_NUMBER, "+ "),
        ("0.0.1 mm", Why.NOT_A_NUMBER, "0.0.1 "),
        ("0.0 12 mm", Why.NOT_A_NUMBER, "0.0 12 "),
        ("+-0.01 mm", Why.NOT_A_NUMBER, "+-0.01 "),
        ("+0.01+0.02 mm", Why.NOT_A_NUMBER, "+0.01+0.02 "),
        ("1,234.5 mm", Why.NOT_A_NUMBER, "1,234.5 "),
        ("0,012 mm", Why.NOT_A_NUMBER, "0,012 "),
        ("????? mm", Why.NOT_A_NUMBER, "????? "),
        ("H +0.01 mm", Why.HOLD, "H"),
        ("X +0.01 mm", Why.MAX, "X"),
        ("N +0.01 mm", Why.MIN, "N"),
        ("P +0.01 mm", Why.PRESET, "P"),
        ("O +0.01 mm", Why.OVER_RANGE, "O"),
        ("E +0.01 mm", Why.ERROR, "E"),
        ("Z +0.01 mm", Why.UNKNOWN_STATUS, "Z"),
        ("---", Why.NO_UNIT, ""),
        ("+1.0001 m", Why.OUT_OF_RANGE, "1.0001 m"),
        ("+999999999999999 mm", Why.OUT_OF_RANGE, "999999999999999 mm"),
    ],
)
def test_what_is_no_live_number_with_a_known_unit_is_refused_with_the_reason(text: str, why: Why, detail: str) -> None:
    refused = meant(text)
    assert isinstance(refused, Refused)
    assert (refused.why, refused.detail, refused.raw) == (why, detail, text.encode())


def test_a_low_battery_leaves_the_value_a_reading_that_says_so() -> None:
    reading = meant("B +0.012 mm")
    assert isinstance(reading, Reading)
    assert (reading.value, reading.status) == (Decimal("0.012"), ("low battery",))


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("LOW BATTERY", Why.LOW_BATTERY),
        ("HOLD", Why.HOLD),
        ("ERR", Why.ERROR),
        ("E07", Why.NO_MATCH),
        ("", Why.NO_MATCH),
    ],
)
def test_a_status_alone_on_its_line_is_known_by_its_word(text: str, why: Why) -> None:
    refused = meant(text, load_profile("ascii-lines"))
    assert isinstance(refused, Refused)
    assert refused.why is why


@pytest.mark.parametrize(
    ("more", "text", "value"),
    [
        ('decimal = "comma"\n', "0,5 mm", "0.5"),
        ('decimal = "either"\n', "0,5 mm", "0.5"),
        ('decimal = "either"\n', "0.5 mm", "0.5"),
        ("reversed = true\n", "+0.5 mm", "-0.5"),
        ('scale = "0.1"\n', "5 um", "0.5"),
        ('scale = "2"\nreversed = true\n', "-0.25 mm", "0.50"),
        ("decimals = 1\n", "+0.5 mm", "0.5"),
        ("decimals = { mm = 1, in = 2 }\n", "+0.50 in", "0.50"),
        ('range = { low = "-1", high = "1", unit = "mm" }\n', "0.03937007874015748 in", None),
        ('range = { low = "-1", high = "1", unit = "mm" }\n', "0.0393 in", "0.0393"),
        ('range = { low = "-1", high = "1", unit = "mm" }\n', "0.0394 in", None),
        ('decimal = "comma"\n', "0.5 mm", None),
        ("decimals = 1\n", "+0.50 mm", None),
        ("decimals = { mm = 1 }\n", "+0.5 in", None),
    ],
)
def test_keys_that_change_the_number(more: str, text: str, value: str | None) -> None:
    base = FREE.replace("+0.5 mm", "0,5 mm") if "comma" in more else FREE
    outcome = meant(text, profile(more, base))
    assert (str(outcome.value) if isinstance(outcome, Reading) else None) == value


def test_every_unit_has_its_exact_size() -> None:
    """The inch is 25.4 mm exactly (ISO 80000-3); a tenth is 0.0001 in, a thou 0.001 in (common practice)."""
    millimetres = {"um": "0.001", "mm": "1", "in": "25.4", "thou": "0.0254", "tenths": "0.00254", "m": "1000"}
    millimetres |= {"nm": "0.000001", "uin": "0.0000254"}
    assert set(UNITS) == set(millimetres)
    for unit, size in millimetres.items():
        assert picometres(Decimal(1), unit) == Decimal(size) * 10**9


APART = r"""
about = "apart"
pattern = 'F(?P<sign>[0-9])(?P<number>[0-9]{6})(?P<places>[0-9])(?P<unit>[0-9])'
example = "F000123440"
signs = { "0" = "+", "8" = "-" }
units = { "0" = "mm", "1" = "in" }
"""


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("F000123440", ("0.1234", "mm")),
        ("F800123430", ("-1.234", "mm")),
        ("F800123451", ("-0.01234", "in")),
        ("F000123400", Why.OUT_OF_RANGE),
        ("F100123440", Why.UNKNOWN_SIGN),
        ("F000123448", Why.UNKNOWN_UNIT),
    ],
)
def test_sign_decimals_and_unit_may_stand_apart_from_the_digits(text: str, expected: tuple[str, str] | Why) -> None:
    outcome = meant(text, profile(base=APART))
    assert (outcome.why if isinstance(outcome, Refused) else (str(outcome.value), outcome.unit)) == expected


@pytest.mark.parametrize("text", ["+9.900000E+37", "+9.910000E+37", "-9.900000E+37"])
def test_the_overload_of_a_meter_is_out_of_range(text: str) -> None:
    outcome = meant(text, load_profile("scpi-query"))
    assert isinstance(outcome, Refused)
    assert outcome.why in (Why.OUT_OF_RANGE, Why.NO_MATCH)


def test_a_meter_reads_its_exponent_exactly() -> None:
    outcome = meant("-1.234500E-05", load_profile("scpi-query"))
    assert isinstance(outcome, Reading)
    assert (outcome.value, outcome.unit) == (Decimal("-0.000012345"), "m")


@given(
    name=st.sampled_from(shipped_profiles()),
    text=st.one_of(st.text(), st.text("+-0123456789.,EmMiInN HFX", max_size=20)),
)
def test_any_text_is_a_reading_or_refused_and_never_an_error(name: str, text: str) -> None:
    outcome = meant(text, load_profile(name))
    if isinstance(outcome, Reading):
        assert outcome.value.is_finite()
        assert any(character.isdigit() for character in text)
