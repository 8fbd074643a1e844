"""Values and limits with one end or two, as typed: what is meant, and what is refused with both meanings named.

The forms are common practice; deviations behind a nominal size as on drawings (ISO 129-1, from memory).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qclog.characteristics import combined, meant, named, split_name, unit_of
from qclog.errors import QclogError, RefusedError
from qclog.value_notation import parse_limits, parse_value, pins_text

UM = 10**6
MM = 10**9

LIMITS = [
    ("12.00..12.05mm", 12.0, 12.05),
    ("12.05..12.00mm", 12.0, 12.05),
    ("12.00 to 12.05 mm", 12.0, 12.05),
    ("from 12 to 12.05", 12.0, 12.05),
    ("between 12 and 12.05mm", 12.0, 12.05),
    ("12,00..12,05mm", 12.0, 12.05),
    ("12.02 ±0.02mm", 12.0, 12.04),
    ("12.02±0.02", 12.0, 12.04),
    ("12.02 +/-0.02mm", 12.0, 12.04),
    ("12mm ±20um", 11.98, 12.02),
    ("12 +0.05/0 mm", 12.0, 12.05),
    ("12 +0.05 -0.02mm", 11.98, 12.05),
    ("12.02+0.05-0.02", 12.0, 12.07),
    ("12 0/-0.02", 11.98, 12.0),
    ("12 -0.01/-0.02", 11.98, 11.99),
    ("max 12.05mm", None, 12.05),
    ("<= 12.05", None, 12.05),
    ("at most 12.05 mm", None, 12.05),
    ("min 12mm", 12.0, None),
    ("≥12", 12.0, None),
    ("0.4724..0.4744in", 11.99896, 12.04976),
]


@pytest.mark.parametrize(("text", "lower", "upper"), LIMITS)
def test_limits_of_a_size_mean_what_a_shop_means(text: str, lower: float | None, upper: float | None) -> None:
    found = parse_limits(text, "depth", bare="mm")[:2]
    assert found == tuple(None if end is None else round(end * MM) for end in (lower, upper))


def test_a_limit_may_be_for_one_distance() -> None:
    assert parse_limits("12.00..12.05@4", "depth", bare="mm") == (12 * MM, 12_050 * UM, 4 * MM)


def test_a_lone_length_is_an_upper_limit_only_where_it_can_be_nothing_else() -> None:
    assert parse_limits("20um", "jaw lift", bare="um") == (None, 20 * UM, None)
    assert parse_limits("3um", "pair difference", bare=None) == (-3 * UM, 3 * UM, None)
    for name in ("depth", "diametral gap", "flushness", "stroke"):
        with pytest.raises(RefusedError, match="may be the upper or the lower limit"):
            parse_limits("12mm", name, bare="mm")


REFUSED_LIMITS = [
    ("12.00-12.05mm", "depth", "two meanings"),
    ("12..12mm", "depth", "not below the upper"),
    ("0..12mm", "depth", "above zero"),
    ("12H7", "depth", "Give its two limits from your table"),
    ("12mm ±0.02", "depth", "unit behind some"),
    ("12.00 12.05", "depth", "not one number"),
    ("..", "depth", "not a length"),
    ("", "depth", "no length"),
    ("12±", "depth", "no unit known"),
    ("12..13..14mm", "depth", "not one number"),
    ("max 12mm@-4", "depth", "outward from the front face"),
    ("0.01..-0.05mm", "flushness", "never stand proud"),
    ("min -0.05mm", "flushness", "never stand proud"),
    ("8..9um", "runout", "one length above zero"),
    ("-5um", "jaw lift", "above zero"),
    ("5", "stroke", "has no unit"),
]


@pytest.mark.parametrize(("text", "name", "says"), REFUSED_LIMITS)
def test_limits_that_say_nothing_or_two_things_are_refused(text: str, name: str, says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        parse_limits(text, name, bare=unit_of(name, None, "um"))


@pytest.mark.parametrize("text", ["0..-0.05mm", "-0.05..0mm", "0/-0.05mm", "+0/-0.05mm", "-0.025 ±0.025mm"])
def test_flushness_may_be_limited_the_way_round_it_is_said(text: str) -> None:
    assert parse_limits(text, "flushness", bare="um") == (-50 * UM, 0, None)


FLUSH = [
    ("-0.02mm", -20),
    ("0.02mm below", -20),
    ("20um below", -20),
    ("0.02 mm proud", 20),
    ("+5um", 5),
    ("flush", 0),
    ("-20", -20),
]


@pytest.mark.parametrize(("text", "um"), FLUSH)
def test_proud_is_plus_and_below_is_minus(text: str, um: int) -> None:
    (reading,) = parse_value(text, "flushness", bare="um")
    assert (reading.picometres, reading.text) == (um * UM, text)


@pytest.mark.parametrize("text", ["0.02mm", "20", "-0.02mm below", "+5um proud"])
def test_a_flushness_without_a_side_or_with_two_is_refused(text: str) -> None:
    with pytest.raises(RefusedError, match=r"proud or below|says it twice"):
        parse_value(text, "flushness", bare="um")


def test_a_bare_size_is_in_mm_a_bare_difference_in_the_unit_of_the_indicator() -> None:
    assert unit_of("depth", "um", "um") == "mm"
    assert unit_of("depth", "in", "um") == "in"
    assert unit_of("jaw lift", "thou", "um") == "thou"
    assert unit_of("jaw lift", None, "um") == "um"
    assert unit_of("stroke", "um", "um") is None


@pytest.mark.parametrize("text", ["6.48..6.49", "6.48 to 6.49mm", "6.48 goes, 6.49 does not", "6.48mm goes 6.49mm no"])
def test_what_pins_tell_keeps_both_ends(text: str) -> None:
    (reading,) = parse_value(text, "bore", bare="mm")
    assert (reading.low_pm, reading.high_pm, reading.text) == (6_480 * UM, 6_490 * UM, text)


def test_pins_given_as_options_read_back() -> None:
    (reading,) = parse_value(pins_text(" 6.48", "6.49 "), "bore", bare="mm")
    assert (reading.low_pm, reading.high_pm) == (6_480 * UM, 6_490 * UM)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("6.49..6.48", r"the smaller of the two. If they are swapped, type 6.48..6.49"),
        ("6.48..6.48", "No pin does both"),
        ("-1..6.48", "larger than nought"),
    ],
)
def test_pins_the_wrong_way_round_are_refused(text: str, said: str) -> None:
    with pytest.raises(RefusedError, match=said):
        parse_value(text, "bore", bare="mm")


def test_a_range_is_no_reading_of_what_pins_cannot_tell() -> None:
    with pytest.raises(RefusedError, match="is a range"):
        parse_value("12.0..12.1", "depth", bare="mm")


def test_readings_kept_together_keep_their_order_and_their_unit() -> None:
    bore, pin = parse_value("8.052/7.998", "diametral gap", bare="mm")
    assert (bore.picometres, pin.picometres) == (8_052 * UM, 7_998 * UM)
    first, second = parse_value("0.3940/0.3941in", "pair difference", bare="mm")
    assert (first.text, second.text) == ("0.3940 in", "0.3941in")
    assert len(parse_value("1.502/1.503/1.501/1.502", "slot difference", bare="mm")) == 4


def test_the_bore_of_a_gap_may_be_told_by_pins_its_pin_not() -> None:
    bore, pin = parse_value("8.05..8.06/7.998", "diametral gap", bare="mm")
    assert (bore.low_pm, bore.high_pm, pin.low_pm) == (8_050 * UM, 8_060 * UM, None)
    with pytest.raises(RefusedError, match="only the bore"):
        parse_value("8.06/7.99..8.00", "diametral gap", bare="mm")


REFUSED_VALUES = [
    ("7.998/8.052", "diametral gap", "not smaller than the bore"),
    ("8.052", "diametral gap", "takes all of them"),
    ("1/2 thou", "pair difference", "two meanings"),
    ("10/12", "pair difference", "two meanings"),
    ("10.002mm/10.004", "pair difference", "unit behind some"),
    ("1.5/1.6/1.7", "pair difference", "at most 2"),
    ("-12.03", "depth", "above zero"),
    ("0", "bore", "above zero"),
    ("12.03 12.04", "depth", "not one number"),
    ("nan", "depth", "not a length"),
    ("5", "stroke", "has no unit"),
    ("1e99", "depth", "longer than"),
    ("\x00", "depth", "unprintable"),
    ("9" * 400, "depth", "too long"),
]


@pytest.mark.parametrize(("text", "name", "says"), REFUSED_VALUES)
def test_values_that_cannot_be_are_refused(text: str, name: str, says: str) -> None:
    with pytest.raises(RefusedError, match=says):
        parse_value(text, name, bare=unit_of(name, None, "um"))


def test_a_gap_is_diametral_or_radial_and_nobody_guesses() -> None:
    for text in ("gap", "Bond Gap"):
        with pytest.raises(RefusedError, match=r"diametral .* or radial"):
            named(text)
    with pytest.raises(RefusedError, match="two meanings"):
        split_name("gap 0.02..0.10mm")
    assert combined("diametral gap", [8_052, 7_998]) == 54
    assert combined("radial gap", [8_052, 7_998]) == 27


def test_a_slip_of_the_pen_is_asked_about_another_name_is_taken() -> None:
    with pytest.raises(RefusedError, match='Did you mean "depth"'):
        meant("deptht")
    with pytest.raises(RefusedError, match='Did you mean "runout"'):
        meant("runnout")
    assert (meant("Depth"), meant("stroke"), meant("bore size")) == ("depth", "stroke", "bore")


def test_letters_turned_round_are_asked_about_too_and_in_front_of_a_limit() -> None:
    with pytest.raises(RefusedError, match='Did you mean "bore"'):
        meant("boer")
    with pytest.raises(RefusedError, match='Did you mean "flushness"'):
        split_name("flushnes 0..-0.04mm")
    with pytest.raises(RefusedError, match='Did you mean "pair difference"'):
        split_name("pair diference 3um")


@pytest.mark.parametrize("text", ["jaw lift", "jaw-lift", "Jaw_Lift", "lift"])
def test_blanks_hyphens_and_underscores_are_alike_in_a_name(text: str) -> None:
    assert meant(text) == "jaw lift"
    assert split_name(f"{text} -5..10um") == ("jaw lift", "-5..10um")


def test_a_name_of_its_own_keeps_its_hyphen() -> None:
    assert meant("tip-play") == "tip-play"
    assert split_name("tip-play: 5..6mm") == ("tip-play", "5..6mm")


def test_of_a_pair_the_difference_counts_and_of_slots_the_spread() -> None:
    assert combined("pair difference", [10_002, 10_004]) == -2
    assert combined("slot difference", [1_502, 1_505, 1_501]) == 4
    assert combined("pair difference", [-2]) == -2


def test_a_limit_may_begin_with_what_it_is_of() -> None:
    assert split_name("depth 12.00..12.05mm") == ("depth", "12.00..12.05mm")
    assert split_name("Bore size: 6.47..6.50mm") == ("bore", "6.47..6.50mm")
    assert split_name("stroke: 5..6mm") == ("stroke", "5..6mm")
    assert split_name("8um@16mm") == ("", "8um@16mm")
    assert split_name("max 8um") == ("", "max 8um")


NAMES = st.sampled_from(
    [
        "runout",
        "bore",
        "depth",
        "flushness",
        "pair difference",
        "slot difference",
        "diametral gap",
        "jaw lift",
        "stroke",
    ]
)
TYPED = st.text("0123456789.,+-/± µumthoindaxfrgels<>=@\"'½", max_size=24) | st.text(max_size=40)


@given(TYPED, NAMES)
def test_whatever_is_typed_is_read_or_refused_in_words(text: str, name: str) -> None:
    said = []
    for parse in (parse_value, parse_limits):
        try:
            parse(text, name, bare=unit_of(name, None, "um"))
        except QclogError as refusal:
            said.append(str(refusal))
    assert all(len(line.splitlines()) == 1 for line in said)


@given(st.integers(1, 10**6), st.integers(1, 10**6), st.sampled_from(["..", " to "]))
def test_both_ends_of_a_limit_come_back_exactly(low_um: int, more_um: int, between: str) -> None:
    low, high = low_um * UM, (low_um + more_um) * UM
    text = f"{low / MM:.3f}{between}{high / MM:.3f}mm"
    assert parse_limits(text, "depth", bare=None)[:2] == (low, high)


@given(st.integers(2, 10**6), st.integers(1, 10**6))
def test_a_size_with_a_tolerance_lies_in_its_middle(nominal_um: int, by_um: int) -> None:
    text = f"{nominal_um + by_um}um ±{by_um}um"
    assert parse_limits(text, "depth", bare=None)[:2] == (nominal_um * UM, (nominal_um + 2 * by_um) * UM)
