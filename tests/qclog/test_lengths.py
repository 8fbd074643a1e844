"""Lengths as a shop writes them: what is taken, what is refused, and that nothing is ever rounded."""

import contextlib
import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.units import UNITS, picometres
from qclog.errors import LengthError
from qclog.lengths import PICOMETRES, Length, Unit, as_typed, exact, finest_place, parse_length, parse_unit
from qclog.notation import parse_swing, parse_turn

BARE: tuple[Unit | None, ...] = ("um", "mm", "in", "thou", "tenths", None)
UM, MM, TENTH, THOU = 10**6, 10**9, 2_540_000, 25_400_000


@pytest.mark.parametrize(
    ("text", "picometres"),
    [
        ("5um", 5 * UM),
        ("5 UM", 5 * UM),
        ("5 \u00b5m", 5 * UM),
        ("5 \u03bcm", 5 * UM),
        ("5 micron", 5 * UM),
        ("5 microns", 5 * UM),
        ("5 mic", 5 * UM),
        ("0.005mm", 5 * UM),
        (".005 mm", 5 * UM),
        ("0,005 mm", 5 * UM),
        (",005 mm", 5 * UM),
        ("1,234 mm", 1_234_000_000),
        ("5. um", 5 * UM),
        ("+5um", 5 * UM),
        ("-5um", -5 * UM),
        ("\u22125um", -5 * UM),
        ("- 0.003 mm", -3 * UM),
        ("\uff15um", 5 * UM),
        ("\t5um\r\n", 5 * UM),
        ("5\u00a0um", 5 * UM),
        (".0002in", 2 * TENTH),
        ("0.0002 in.", 2 * TENTH),
        ('0.0002"', 2 * TENTH),
        ("0.0002\u2033", 2 * TENTH),
        ("0.0002''", 2 * TENTH),
        ("2e-4 in", 2 * TENTH),
        ("2/10 thou", 2 * TENTH),
        ("2 tenths of a thou", 2 * TENTH),
        ("2 tenths of a mm", 200 * 10**6),
        ("half a thou", THOU // 2),
        ("half thou", THOU // 2),
        ("1/2 thou", THOU // 2),
        ("\u00bd thou", THOU // 2),
        ("0.5 thou", THOU // 2),
        ("a thou", THOU),
        ("quarter inch", 6_350_000_000),
        ("20 millionths", 508_000),
        ("20uin", 508_000),
        ('20 u"', 508_000),
        ("20 \u00b5in", 508_000),
        ("5 hundredths of a mm", 50 * UM),
        ("3 thousandths of an inch", 3 * THOU),
        ("500nm", UM // 2),
        ("2.5 cm", 25 * MM),
        ("100 m", 10**14),
    ],
)
@pytest.mark.parametrize("bare", BARE)
def test_a_length_with_its_unit_means_the_same_in_every_shop(text: str, picometres: int, bare: Unit | None) -> None:
    assert parse_length(text, bare=bare) == Length(picometres, text)


@pytest.mark.parametrize(
    ("bare", "picometres"), [("um", UM), ("mm", MM), ("in", 1000 * THOU), ("thou", THOU), ("tenths", TENTH)]
)
def test_a_bare_number_has_the_unit_it_is_read_in(bare: Unit, picometres: int) -> None:
    assert parse_length("5", bare=bare).picometres == 5 * picometres


def test_a_bare_number_is_refused_where_no_unit_is_known() -> None:
    with pytest.raises(LengthError) as refusal:
        parse_length("5", bare=None, where="distance")
    assert str(refusal.value) == 'distance: "5" has no unit. Type "5um", "5mm" or "5in".'


@pytest.mark.parametrize(
    ("text", "bare", "picometres"),
    [
        ("2 tenths", "in", 2 * TENTH),
        ("two-tenths", "thou", 2 * TENTH),
        ("a tenth", "tenths", TENTH),
        ("half a tenth", "in", TENTH // 2),
        ("3 thousandths", "in", 3 * THOU),
        ("5 hundredths", "um", 50 * UM),
        ("5 hundredth", "mm", 50 * UM),
        ("5 mu", "um", 5 * UM),
        ("5 my", "mm", 5 * UM),
        ("5 \u00b5", "um", 5 * UM),
    ],
)
def test_the_shops_own_unit_settles_a_word_with_two_meanings(text: str, bare: Unit, picometres: int) -> None:
    assert parse_length(text, bare=bare).picometres == picometres


@pytest.mark.parametrize(
    ("text", "bare", "meanings", "instead"),
    [
        ("2 tenths", "mm", ("0.0001 in", "2.54 um", "0.1 mm"), (2 * TENTH, 200 * UM)),
        ("a tenth", "um", ("0.0001 in", "2.54 um", "0.1 mm"), (TENTH, 100 * UM)),
        ("2 tenths", None, ("0.0001 in", "2.54 um", "0.1 mm"), (2 * TENTH, 200 * UM)),
        ("5 hundredths", "in", ("0.01 mm", "0.01 in"), (50 * UM, 50 * THOU)),
        ("5 hundredths", None, ("0.01 mm", "0.01 in"), (50 * UM, 50 * THOU)),
        ("5 thousandths", "mm", ("0.001 in", "0.001 mm"), (5 * THOU, 5 * UM)),
        ("1 mil", "in", ("0.001 in", "a millimetre"), (THOU, MM)),
        ("1.5 mils", "mm", ("0.001 in", "a millimetre"), (THOU * 3 // 2, MM * 3 // 2)),
        ("1 mil", None, ("0.001 in", "a millimetre"), (THOU, MM)),
        ("2 mikes", None, ("a micron", "a microinch"), (2 * UM, 50_800)),
        ("2 mikes", "um", ("a micron", "a microinch"), (2 * UM, 50_800)),
        ("2 mike", "in", ("a micron", "a microinch"), (2 * UM, 50_800)),
        ("5 mu", "in", ("a micron", "a microinch"), (5 * UM, 127_000)),
        ("5 my", None, ("a micron", "a microinch"), (5 * UM, 127_000)),
    ],
)
def test_a_word_with_two_meanings_is_refused_with_both_named_and_both_can_be_typed(
    text: str, bare: Unit | None, meanings: tuple[str, ...], instead: tuple[int, int]
) -> None:
    with pytest.raises(LengthError) as refusal:
        parse_length(text, bare=bare)
    assert text in refusal.value.what
    assert all(meaning in refusal.value.what for meaning in meanings)
    typed = re.findall('"([^"]+)"', refusal.value.remedy)
    assert tuple(parse_length(choice, bare=None).picometres for choice in typed) == instead


@pytest.mark.parametrize("bare", BARE)
@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "no length"),
        ("   ", "no length"),
        ("um", "not a length"),
        ("nan", "not a length"),
        ("inf um", "not a length"),
        ("--5um", "not a length"),
        ("\u0665um", "not a length"),  # another script's digit five
        ("1 234 mm", "not one number"),
        ("1,234.5 mm", "not one number"),
        ("1.234,5 mm", "not one number"),
        ("1,234,567 um", "not one number"),
        ("1'234 um", "not one number"),
        ("1\u00bd thou", "not one number"),
        ("\u00bd0 um", "not one number"),
        ("half a-", "no unit known"),
        ("a", "not a length"),
        ("5 mm 2 um", "not one number"),
        ("5..um", "not one number"),
        ("5e999 um", "not one number"),
        ("5 mm um", "no unit known"),
        ("5 m/s", "no unit known"),
        ("5\u00b2um", "no unit known"),
        ("5%", "no unit known"),
        ("1/0 thou", "divides by nothing"),
        ("1/3 thou", "finer than a picometre"),
        ("0.1 nm 5", "not one number"),
        ("0.0000001 um", "finer than a picometre"),
        ("1e-99 in", "finer than a picometre"),
        ("100.1 m", "longer than 100 m"),
        ("-101 m", "longer than 100 m"),
        ("1e99 um", "longer than 100 m"),
        ("5\x00um", "unprintable characters"),
        ("5\num", "unprintable characters"),
        ("5\u3000um", "unprintable characters"),
        ("5\u200bum", "unprintable characters"),
        ("5" * 65, "too long"),
    ],
)
def test_what_is_no_length_is_refused_on_one_line_with_the_reason(text: str, reason: str, bare: Unit | None) -> None:
    with pytest.raises(LengthError) as refusal:
        parse_length(text, bare=bare)
    assert reason in refusal.value.what
    assert refusal.value.remedy
    assert str(refusal.value).isprintable()
    assert len(str(refusal.value)) < 250


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("5um", UM),
        ("50 um", UM),
        ("5.0um", UM // 10),
        ("0.0050mm", UM // 10),
        ("0,005mm", UM),
        ("5e1 um", 10 * UM),
        ("2e-4 in", TENTH),
        (".0002in", TENTH),
        ("2 tenths", TENTH),
        ("two tenths", TENTH),
        ("1/2 thou", THOU // 2),
        ("2/10 thou", TENTH),
        ("half a thou", THOU // 2),
        ("1 thou", THOU),
        ("0", 1000 * THOU),
        ("-3.25", 10 * THOU),
        ("0.0000000 um", 1),
        ("0.000000005 in", 25),
        ("0e99 um", 10**14),
        ("3/3 um", 333_333),
    ],
)
def test_the_finest_place_typed_is_kept(text: str, step: int) -> None:
    assert finest_place(text, bare="in") == step


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("um", "um"),
        ("UM", "um"),
        ("\u00b5m", "um"),
        ("\u03bcm", "um"),
        ("\u039cM", None),
        ("mm", "mm"),
        (" MM ", "mm"),
        ("in", "in"),
        ("inch", "in"),
        ('"', "in"),
        ("thou", "thou"),
        ("Tenths", "tenths"),
        ("tenth", "tenths"),
        ("", None),
        ("nm", None),
        ("mil", None),
        ("5um", None),
        ("u\x00m", None),
    ],
)
def test_a_unit_column_takes_five_units_in_any_case(text: str, unit: str | None) -> None:
    if unit is not None:
        assert parse_unit(text) == unit
        return
    with pytest.raises(LengthError, match="Type um, mm, in, thou or tenths"):
        parse_unit(text)


def test_an_exact_size_refuses_what_picometres_cannot_hold() -> None:
    assert exact(Decimal("0.1"), "uin") == 2540
    assert exact(Fraction(1, 254), "in") == 10**8
    for value in (Decimal("NaN"), Decimal("Infinity"), Fraction(1, 3), Decimal("1e-7"), Decimal("1e30")):
        with pytest.raises(LengthError):
            exact(value, "um")


@given(st.integers(-(10**14), 10**14), st.sampled_from(["um", "mm", "nm", "cm", "m"]))
def test_any_whole_number_of_picometres_written_in_a_metric_unit_reads_back(picometres: int, unit: str) -> None:
    number = format(Decimal(picometres) / PICOMETRES[unit], "f")
    assert parse_length(f"{number} {unit}", bare=None).picometres == picometres


@given(st.integers(-(10**11), 10**11), st.sampled_from(["in", "thou", "uin"]))
def test_any_whole_number_of_picometres_an_inch_decimal_can_hold_reads_back(count: int, unit: str) -> None:
    picometres = 127 * count  # 127 pm is 5e-9 in, the shortest decimal inch that is whole in picometres
    number = format(Decimal(picometres) / PICOMETRES[unit], "f")
    assert parse_length(f"{number} {unit}", bare=None).picometres == picometres


@given(st.integers(-(10**14), 10**14), st.sampled_from(["in", "thou"]))
def test_any_whole_number_of_picometres_written_as_a_fraction_of_an_inch_reads_back(picometres: int, unit: str) -> None:
    assert parse_length(f"{picometres}/{PICOMETRES[unit]} {unit}", bare=None).picometres == picometres


decimals = st.from_regex(r"[+-]?([0-9]{1,9}(\.[0-9]{0,9})?|\.[0-9]{1,9})(e-?[0-9])?", fullmatch=True)


@given(decimals, st.sampled_from(["um", "mm", "in", "thou", "tenths"]))
def test_any_decimal_taken_has_the_value_fractions_give_it(number: str, unit: Unit) -> None:
    expected = Fraction(number) * PICOMETRES[unit]
    if expected.denominator == 1 and abs(expected) <= 10**14:
        assert parse_length(number, bare=unit).picometres == expected
    else:
        with pytest.raises(LengthError):
            parse_length(number, bare=unit)


@given(decimals, st.sampled_from(["um", "mm", "in", "thou", "tenths"]))
def test_decimal_comma_and_point_are_the_same(number: str, unit: Unit) -> None:
    def read(text: str) -> tuple[int, int] | None:
        try:
            return parse_length(text, bare=unit).picometres, finest_place(text, bare=unit)
        except LengthError:
            return None

    assert read(number) == read(number.replace(".", ","))


near_lengths = st.text(st.sampled_from("0123456789+-., /eEumihntoa\u00b5\u03bc\u2212\u00bd\"'\t\x00"), max_size=70)


@given(st.one_of(st.text(), near_lengths), st.sampled_from(BARE))
def test_any_text_is_either_a_length_or_refused_on_one_line(text: str, bare: Unit | None) -> None:
    refused = None
    try:
        read = parse_length(text, bare=bare)
        assert read.text == text
        assert abs(read.picometres) <= 10**14
        assert 1 <= finest_place(text, bare=bare) <= 10**14
    except LengthError as refusal:
        refused = refusal
    assert refused is None or (refused.remedy and str(refused).isprintable())


@given(st.text())
def test_any_text_is_either_a_unit_or_refused(text: str) -> None:
    with contextlib.suppress(LengthError):
        assert parse_unit(text) in ("um", "mm", "in", "thou", "tenths")


@pytest.mark.parametrize("bare", ["um", "mm", "in", "thou", "tenths"])
@pytest.mark.parametrize("unit", sorted(UNITS))
def test_what_an_indicator_says_means_the_same_in_every_shop(bare: Unit, unit: str) -> None:
    value = Decimal("-0.50")
    typed = as_typed(value, unit)
    assert parse_length(typed, bare=bare).picometres == picometres(value, unit)
    assert finest_place(typed, bare=bare) == max(1, picometres(Decimal("0.01"), unit))
    (_, second, _) = parse_turn(f"{typed} {typed} {typed}", bare=bare, graduation_pm=None)
    assert second.picometres == picometres(value, unit)
    swing = parse_swing(as_typed(-value, unit), bare=bare, graduation_pm=None)
    assert swing.picometres == picometres(-value, unit)
    assert swing.angle_mdeg is None
