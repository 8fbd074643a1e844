"""Readings as typed at the machine: swings, turns, angles, clocking and limits."""

import contextlib
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qclog.errors import LengthError, QclogError, RefusedError
from qclog.lengths import Length, Unit, finest_place
from qclog.notation import (
    TypedReading,
    format_clocking,
    parse_angle,
    parse_clocking,
    parse_limit,
    parse_read_on_true,
    parse_recalled,
    parse_swing,
    parse_turn,
)

UM, MM, TENTH, THOU = 10**6, 10**9, 2_540_000, 25_400_000


@pytest.mark.parametrize(
    ("text", "picometres", "step"),
    [
        ("5", 5 * UM, UM),
        ("5.0", 5 * UM, UM // 10),
        ("5,0", 5 * UM, UM // 10),
        ("+5", 5 * UM, UM),
        ("0", 0, UM),
        ("0.005mm", 5 * UM, UM),
        ("1/2 thou", THOU // 2, THOU // 2),
        ("half a thou", THOU // 2, THOU // 2),
        ("2e-4 in", 2 * TENTH, TENTH),
        ("+3/-2", 5 * UM, UM),
        ("-2/+3", 5 * UM, UM),
        ("3/-2", 5 * UM, UM),
        ("+3 / -2 um", 5 * UM, UM),
        ("+3 -2", 5 * UM, UM),
        ("+ 3 - 2", 5 * UM, UM),
        ("+3um/-2um", 5 * UM, UM),
        ("+5/+2", 3 * UM, UM),
        ("+3/-2.5", 5 * UM + UM // 2, UM // 10),
        ("+.003/-,002 mm", 5 * UM, UM),
        ("-2..+3", 5 * UM, UM),
        ("-2 .. 3", 5 * UM, UM),
        ("\u22122..3", 5 * UM, UM),
        ("3 to -2", 5 * UM, UM),
        ("0 to 5", 5 * UM, UM),
        ("from -2 to 3", 5 * UM, UM),
        ("From 6 to 8", 2 * UM, UM),
        ("from 8 to 6 um", 2 * UM, UM),
        ("from 0 to half a thou", THOU // 2, THOU // 2),
        ("12 div", 6 * UM, UM // 2),
        ("12div.", 6 * UM, UM // 2),
        ("1/2 division", UM // 4, UM // 4),
        ("+3/-2 div", 5 * UM // 2, UM // 2),
        ("from -2.5 to 3 div", 11 * UM // 4, UM // 20),
    ],
)
def test_a_swing_is_read_the_ways_a_dial_is_written_down(text: str, picometres: int, step: int) -> None:
    assert parse_swing(text, bare="um", graduation_pm=UM // 2) == TypedReading(picometres, text, step)


def test_a_unit_at_the_end_is_for_both_ends_of_a_dial() -> None:
    read = parse_swing("+.0001/-.0002", bare="in", graduation_pm=None)
    assert (read.picometres, read.step_pm) == (3 * TENTH, TENTH)
    assert parse_swing("+3/-2 um", bare="mm", graduation_pm=None).picometres == 5 * UM


@pytest.mark.parametrize(
    ("text", "angle", "within"),
    [
        ("5@120", 120_000, 0),
        ("5um@120", 120_000, 0),
        ("5um @ 120deg", 120_000, 0),
        ("5 um @ 120\u00b0", 120_000, 0),
        ("5 at 120,5 degrees", 120_500, 0),
        ("5@360", 0, 0),
        ("5um @ 4 o'clock", 120_000, 15_000),
        ("5 max at 4 o\u2019clock", 120_000, 15_000),
        ("5 high at 12 oclock", 0, 15_000),
        ("+3/-2 @ half past 4", 135_000, 7_500),
        ("5 AT Half Past 12 O'Clock", 15_000, 7_500),
    ],
)
def test_the_high_spot_is_read_in_degrees_or_by_the_clock(text: str, angle: int, within: int) -> None:
    assert parse_swing(text, bare="um", graduation_pm=None) == TypedReading(
        5 * UM, text, UM, angle_mdeg=angle, angle_within_mdeg=within
    )


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("-5", "a swing cannot be negative; a reading with a sign belongs to a turn"),
        ("-5um@120", "cannot be negative"),
        ("12 div", "depends on the indicator"),
        ("+3/-2 div", "depends on the indicator"),
        ("3/2", "two meanings, a fraction or a dial that went both ways"),
        ("6 to 8", "two meanings, a dial that went from one to the other or a swing between them"),
        ("6..8 um", "two meanings, a dial"),
        ("6-8", "is a range"),
        ("<5", "not a length"),
        ("+3um/-2", "has no unit"),
        ("-2...3", "not one number"),
        ("5 -2", "not one number"),
        ("5mm 3", "not one number"),
        ("2 tenths", "two meanings"),
        ("+3/-2 tenths", "two meanings"),
        ("from 3", "not a length"),
        ("1/3 div", "depends on the indicator"),
        ("", "no length"),
        ("@120", "no length"),
    ],
)
def test_a_swing_that_is_doubtful_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(LengthError) as refusal:
        parse_swing(text, bare="um", graduation_pm=None)
    assert reason in refusal.value.what
    assert refusal.value.remedy
    assert "\n" not in str(refusal.value)


def test_a_part_of_a_division_finer_than_a_picometre_is_refused() -> None:
    assert parse_swing("1/2 div", bare="um", graduation_pm=TENTH).picometres == TENTH // 2
    with pytest.raises(LengthError, match="finer than a picometre"):
        parse_swing("1/3 div", bare="um", graduation_pm=UM)


@pytest.mark.parametrize(
    ("text", "middle", "low", "high"),
    [
        ("6-8", 7 * UM, 6 * UM, 8 * UM),
        ("8-6", 7 * UM, 6 * UM, 8 * UM),
        ("6 - 8 um", 7 * UM, 6 * UM, 8 * UM),
        ("6um-8um", 7 * UM, 6 * UM, 8 * UM),
        ("6\u20138", 7 * UM, 6 * UM, 8 * UM),
        ("1/2-1 thou", 3 * THOU // 4, THOU // 2, THOU),
        ("<5", 5 * UM // 2, 0, 5 * UM),
        ("< 5 um", 5 * UM // 2, 0, 5 * UM),
        ("\u2264 5", 5 * UM // 2, 0, 5 * UM),
        ("~6", 6 * UM, None, None),
        ("about 6 um", 6 * UM, None, None),
        ("6", 6 * UM, None, None),
        ("+4/-2", 6 * UM, None, None),
        ("2e-4 in", 2 * TENTH, None, None),
        ("2.e-4 in", 2 * TENTH, None, None),
    ],
)
def test_a_recalled_reading_keeps_the_ends_it_was_remembered_within(
    text: str, middle: int, low: int | None, high: int | None
) -> None:
    read = parse_recalled(text, bare="um")
    assert (read.picometres, read.low_pm, read.high_pm, read.text) == (middle, low, high, text)


def test_a_recalled_range_may_name_the_high_spot() -> None:
    assert parse_recalled("6-8 @ 4 o'clock", bare="um") == TypedReading(
        7 * UM, "6-8 @ 4 o'clock", UM, 6 * UM, 8 * UM, 120_000, 15_000
    )


@pytest.mark.parametrize("text", ["<-5", "6um-8", "6 to 8", ">5", "~<5", "6-8-9", "5 -2", "-5", "5 div", "6-"])
def test_a_recalled_reading_that_is_doubtful_is_refused(text: str) -> None:
    with pytest.raises(LengthError):
        parse_recalled(text, bare="um")


@pytest.mark.parametrize(
    ("text", "picometres", "texts"),
    [
        ("4 1 -3 0", (4, 1, -3, 0), ("4", "1", "-3", "0")),
        ("  4   1\t-3\n0 ", (4, 1, -3, 0), ("4", "1", "-3", "0")),
        ("4;1; -3;0", (4, 1, -3, 0), ("4", "1", "-3", "0")),
        ("4, 1, -3, 0", (4, 1, -3, 0), ("4", "1", "-3", "0")),
        ("4 1 \u22123 +2", (4, 1, -3, 2), ("4", "1", "\u22123", "+2")),
        ("4 \uff11 -3 0", (4, 1, -3, 0), ("4", "\uff11", "-3", "0")),
        ("4 1 -3 0 um", (4, 1, -3, 0), ("4 um", "1 um", "-3 um", "0 um")),
        ("4 1 -3 0um", (4, 1, -3, 0), ("4 um", "1 um", "-3 um", "0um")),
        ("4um 1 um -3um 0um", (4, 1, -3, 0), ("4um", "1 um", "-3um", "0um")),
        ("2 1 -1.5 div", (4, 2, -3), ("2 div", "1 div", "-1.5 div")),
    ],
)
def test_a_turn_is_read_in_order_and_every_reading_keeps_a_text_that_says_its_unit(
    text: str, picometres: tuple[int, ...], texts: tuple[str, ...]
) -> None:
    turn = parse_turn(text, bare="um", graduation_pm=2 * UM)
    assert tuple(reading.picometres for reading in turn) == tuple(UM * value for value in picometres)
    assert tuple(reading.text for reading in turn) == texts


def test_a_comma_inside_a_number_of_a_turn_is_a_decimal_sign() -> None:
    for text in ("0,5 1,0 -0,5 0", "0,5, 1,0, -0,5, 0", "0,5;1,0;-0,5;0"):
        turn = parse_turn(text, bare="um", graduation_pm=None)
        assert [reading.picometres for reading in turn] == [UM // 2, UM, -UM // 2, 0]
        assert [reading.step_pm for reading in turn] == [UM // 10, UM // 10, UM // 10, UM]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "at least three readings"),
        ("4 1", "at least three readings"),
        ("4,1,-3,0", "at least three readings"),
        ("4um 1 -3 0", "unit behind some readings only"),
        ("4 1um -3 0um", "unit behind some readings only"),
        ("4 1 - 3 0", "not a length"),
        ("4 1 -3 0 mils", "two meanings"),
        ("4 1 -3 0 div", "depends on the indicator"),
        ("um 4 1 -3", "not a length"),
        ("4 1 x -3", "unit behind some readings only"),
    ],
)
def test_a_turn_that_is_doubtful_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(LengthError) as refusal:
        parse_turn(text, bare="um", graduation_pm=None)
    assert reason in refusal.value.what


@pytest.mark.parametrize("hour", range(1, 13))
def test_every_clock_hour_is_thirty_degrees_from_the_last(hour: int) -> None:
    assert parse_angle(f"{hour} o'clock") == (30_000 * (hour % 12), 15_000)
    assert parse_angle(f"half past {hour}") == (30_000 * (hour % 12) + 15_000, 7_500)


@pytest.mark.parametrize(
    ("text", "mdeg"),
    [("0", 0), ("-0", 0), ("4", 4_000), ("359.999", 359_999), ("360", 0), ("360.0 deg", 0), (",5", 500)],
)
def test_degrees_run_from_0_to_under_360(text: str, mdeg: int) -> None:
    assert parse_angle(text) == (mdeg, 0)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("-30", "not within a turn"),
        ("360.001", "not within a turn"),
        ("13 o'clock", "not on a clock"),
        ("half past 0", "not on a clock"),
        ("4.5 o'clock", "not an angle"),
        ("120.0005", "finer than 0.001 degree"),
        ("120 rad", "not an angle"),
        ("\u0661", "not an angle"),
        ("", "not an angle"),
        ("1" * 70, "not an angle"),
    ],
)
def test_what_is_no_angle_is_refused_with_the_reason(text: str, reason: str) -> None:
    with pytest.raises(RefusedError) as refusal:
        parse_angle(text)
    assert reason in refusal.value.what
    assert refusal.value.remedy


@pytest.mark.parametrize(
    ("text", "clocking"),
    [
        ("", ()),
        ("C-046=120 P-3=180", (("C-046", 120_000), ("P-3", 180_000))),
        ("p-3 = 180; C-046=120,5", (("C-046", 120_500), ("p-3", 180_000))),
        ("B=1, a=360", (("a", 0), ("B", 1_000))),
    ],
)
def test_a_clocking_is_ordered_by_code_without_case(text: str, clocking: tuple[tuple[str, int], ...]) -> None:
    assert parse_clocking(text) == clocking


def test_a_clocking_is_written_in_the_order_of_its_codes_with_no_more_places_than_needed() -> None:
    clocking = (("P-3", 180_000), ("C-046", 120_500), ("a", 0))
    assert format_clocking(clocking) == "a=0 C-046=120.5 P-3=180"
    assert format_clocking(()) == ""


@pytest.mark.parametrize(
    "text", ["C-046", "C=", "=120", "C=1 c=2", "c=1 C=2", "C=4o'clock", "C=400", "C = 1 = 2", "C\x00=1"]
)
def test_what_is_no_clocking_is_refused(text: str) -> None:
    with pytest.raises(RefusedError):
        parse_clocking(text)


codes = st.text(st.characters(categories=("L", "N", "Pd"), exclude_characters="=;"), min_size=1, max_size=8)


@given(st.lists(st.tuples(codes, st.integers(0, 359_999)), max_size=5, unique_by=lambda pair: pair[0].casefold()))
def test_a_clocking_written_down_reads_back_whatever_its_order(pairs: list[tuple[str, int]]) -> None:
    ordered = tuple(sorted(pairs, key=lambda pair: pair[0].casefold()))
    assert format_clocking(tuple(pairs)) == format_clocking(ordered)
    assert parse_clocking(format_clocking(tuple(pairs))) == ordered


def test_a_limit_may_name_its_distance_in_millimetres() -> None:
    assert parse_limit("8um", bare=None) == (Length(8 * UM, "8um"), None)
    assert parse_limit("8um@16mm", bare=None) == (Length(8 * UM, "8um"), Length(16 * MM, "16mm"))
    assert parse_limit("3 tenths @ 16", bare="in") == (Length(3 * TENTH, "3 tenths"), Length(16 * MM, "16"))


@pytest.mark.parametrize("text", ["", "8", "0um", "-8um", "8um@", "@16", "8um@-1", "8um@16um@3", "8um@4 o'clock"])
def test_what_is_no_limit_is_refused(text: str) -> None:
    with pytest.raises(LengthError):
        parse_limit(text, bare=None)


units = st.sampled_from(["um", "mm", "in", "thou", "tenths"])
lengths = st.integers(0, 10**6).map(lambda value: f"{value / 1000:.3f}")


@given(lengths, lengths, units)
def test_all_ways_of_writing_both_ends_of_a_dial_give_the_same_swing(high: str, low: str, bare: Unit) -> None:
    ways = [f"+{high}/-{low}", f"+{high} -{low}", f"-{low}..+{high}", f"{high} to -{low}", f"from -{low} to {high}"]
    swings = [parse_swing(way, bare=bare, graduation_pm=None) for way in ways]
    turn = parse_turn(f"{high} 0 -{low}", bare=bare, graduation_pm=None)
    assert {swing.picometres for swing in swings} == {turn[0].picometres - turn[2].picometres}
    assert {swing.step_pm for swing in swings} == {finest_place(high, bare=bare)}


near_readings = st.text(
    st.sampled_from("0123456789+-., /@;=<~eumdivtofra'clkh\u00b5\u2212\u2013\u00b0\t\x00"), max_size=40
)


@given(st.one_of(st.text(), near_readings), units, st.sampled_from([None, 500_000, TENTH]))
def test_any_text_is_either_a_reading_or_refused_with_a_remedy(text: str, bare: Unit, graduation: int | None) -> None:
    def read(parse: Callable[..., object], **options: object) -> object:
        with contextlib.suppress(QclogError):
            return parse(text, **options)
        return None

    for reading in (
        read(parse_swing, bare=bare, graduation_pm=graduation),
        read(parse_recalled, bare=bare),
    ):
        if isinstance(reading, TypedReading):
            assert reading.text == text
            assert reading.picometres >= 0
            assert reading.step_pm >= 1
            assert (reading.low_pm is None) == (reading.high_pm is None)
            assert reading.angle_mdeg is None or 0 <= reading.angle_mdeg < 360_000
    read(parse_turn, bare=bare, graduation_pm=graduation)
    read(parse_angle)
    read(parse_clocking)
    read(parse_limit, bare=bare)


@pytest.mark.parametrize(
    ("text", "mdeg", "within"),
    [("120±25", 120_000, 25_000), ("120 ± 25°", 120_000, 25_000), ("7,5+/-2.5 deg", 7_500, 2_500), ("0±0", 0, 0)],
)
def test_an_angle_may_say_how_well_it_is_known(text: str, mdeg: int, within: int) -> None:
    assert parse_angle(text) == (mdeg, within)


def test_an_angle_known_to_no_better_than_half_a_turn_is_refused() -> None:
    with pytest.raises(RefusedError, match="no direction at all"):
        parse_angle("120±200")


@pytest.mark.parametrize(
    ("text", "read_and_true"),
    [
        ("23 on 20", (23 * UM, 20 * UM)),
        ("23um on 20um", (23 * UM, 20 * UM)),
        ("0,023mm FOR 0,020mm", (23 * UM, 20 * UM)),
        ("23 on 20um", (23 * UM, 20 * UM)),
        ("0.023mm on 0.020", (23 * UM, 20 * UM)),
        ("3 on 0", None),
        ("dropped on the floor", None),
        ("bent", None),
    ],
)
def test_what_an_indicator_showed_for_what(text: str, read_and_true: tuple[int, int] | None) -> None:
    assert parse_read_on_true(text, bare="um") == read_and_true
    if read_and_true and "mm" not in text:
        assert parse_read_on_true(text.replace("um", ""), bare="thou") == tuple(v // UM * THOU for v in read_and_true)


def test_a_finding_in_figures_that_are_none_is_refused() -> None:
    with pytest.raises(LengthError):
        parse_read_on_true("23 parsecs on 20", bare="um")
