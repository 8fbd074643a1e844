"""Printing numbers: never finer than the reading allows, bounds outward, and readable by the program itself."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from qclog.errors import NotAnswerableError
from qclog.lengths import parse_length
from reports.numbers import (
    NumberStyle,
    about,
    angle,
    count,
    date,
    length,
    limit,
    micrometres,
    percent,
    share,
    signed_micrometres,
    times,
    uncertainty,
)

METRIC = NumberStyle()
INCH = NumberStyle(inch=True)


@pytest.mark.parametrize(
    ("value", "step", "style", "expected"),
    [
        (5, 1, METRIC, "5 \u00b5m"),
        (5, 0.1, METRIC, "5.0 \u00b5m"),
        (5.24, 0.1, METRIC, "5.2 \u00b5m"),
        (5.25, 0.1, METRIC, "5.3 \u00b5m"),
        (0.15, 0.1, METRIC, "0.2 \u00b5m"),
        (2.5, 1, METRIC, "3 \u00b5m"),
        (3.5, 1, METRIC, "4 \u00b5m"),
        (-2.5, 1, METRIC, "-3 \u00b5m"),
        (-0.4, 1, METRIC, "0 \u00b5m"),
        (-0.0, 0.1, METRIC, "0.0 \u00b5m"),
        (5.3, 0.5, METRIC, "5.3 \u00b5m"),
        (5.08, 2.54, METRIC, "5 \u00b5m"),
        (1234, 10, METRIC, "1230 \u00b5m"),
        (0.00001, 1e-6, METRIC, "0.000010 \u00b5m"),
        (0.0000004, 1e-9, METRIC, "0.000000 \u00b5m"),
        (1e8, 1, METRIC, "100000000 \u00b5m"),
        (5, 1, INCH, "5 \u00b5m (0.00020 in)"),
        (10, 1, INCH, "10 \u00b5m (0.00039 in)"),
        (12.7, 0.1, INCH, "12.7 \u00b5m (0.000500 in)"),
        (25, 1, INCH, "25 \u00b5m (0.00098 in)"),
        (5.2, 0.1, INCH, "5.2 \u00b5m (0.000205 in)"),
        (5.08, 2.54, INCH, "5 \u00b5m (0.0002 in)"),
        (-0.1, 1, INCH, "0 \u00b5m (0.00000 in)"),
        (30, 10, INCH, "30 \u00b5m (0.0012 in)"),
    ],
)
def test_a_figure_is_shown_no_finer_than_its_step(value: float, step: float, style: NumberStyle, expected: str) -> None:
    assert micrometres(value, step_um=step, style=style) == expected


@pytest.mark.parametrize(
    ("value", "step", "up", "down"),
    [
        (5.0, 1, "5 \u00b5m", "5 \u00b5m"),
        (5.01, 1, "6 \u00b5m", "5 \u00b5m"),
        (4.99, 1, "5 \u00b5m", "4 \u00b5m"),
        (5.1, 0.1, "5.1 \u00b5m", "5.1 \u00b5m"),
        (1.1 + 2.2, 0.1, "3.3 \u00b5m", "3.3 \u00b5m"),  # 3.3000000000000003
        (0.3 - 0.1 - 0.1, 0.1, "0.1 \u00b5m", "0.1 \u00b5m"),  # 0.09999999999999998
        (5.000001, 1, "6 \u00b5m", "5 \u00b5m"),
        (-0.2, 1, "0 \u00b5m", "-1 \u00b5m"),
    ],
)
def test_a_bound_is_rounded_outward_and_binary_noise_does_not_move_it(
    value: float, step: float, up: str, down: str
) -> None:
    assert micrometres(value, step_um=step, round_up=True) == up
    assert micrometres(value, step_um=step, round_down=True) == down


def test_the_inch_figure_of_a_bound_is_rounded_outward_too() -> None:
    assert micrometres(5.11, step_um=0.1, style=INCH, round_up=True) == "5.2 \u00b5m (0.000202 in)"
    assert micrometres(5.11, step_um=0.1, style=INCH, round_down=True) == "5.1 \u00b5m (0.000201 in)"


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e300])
def test_what_is_not_finite_is_never_printed(value: float) -> None:
    with pytest.raises(NotAnswerableError):
        micrometres(value, step_um=1)
    with pytest.raises(NotAnswerableError):
        micrometres(1, step_um=value)
    with pytest.raises(NotAnswerableError):
        signed_micrometres(value, step_um=1)
    for show in (uncertainty, share, percent, angle):
        with pytest.raises(NotAnswerableError):
            show(value)


def test_a_step_or_an_uncertainty_below_zero_is_refused() -> None:
    for step in (0, -1):
        with pytest.raises(NotAnswerableError):
            micrometres(5, step_um=step)
    with pytest.raises(NotAnswerableError):
        uncertainty(-1)


@pytest.mark.parametrize(
    ("value", "style", "expected"),
    [
        (3, METRIC, "+3 \u00b5m"),
        (-2.5, METRIC, "-3 \u00b5m"),
        (0.4, METRIC, "0 \u00b5m"),
        (-0.4, METRIC, "0 \u00b5m"),
        (-5, INCH, "-5 \u00b5m (-0.00020 in)"),
        (5, INCH, "+5 \u00b5m (+0.00020 in)"),
    ],
)
def test_a_change_has_its_sign_unless_it_is_none(value: float, style: NumberStyle, expected: str) -> None:
    assert signed_micrometres(value, step_um=1, style=style) == expected


def test_a_change_too_small_for_its_inch_figure_leaves_that_without_sign() -> None:
    assert signed_micrometres(-0.6, step_um=2.54, style=INCH) == "-1 µm (0.0000 in)"


@pytest.mark.parametrize(
    ("value", "style", "expected"),
    [
        (1.23, METRIC, "± 1.2 \u00b5m"),
        (1, METRIC, "± 1.0 \u00b5m"),
        (0.5, METRIC, "± 0.50 \u00b5m"),
        (9.96, METRIC, "± 10 \u00b5m"),
        (10.47, METRIC, "± 10 \u00b5m"),
        (28.05, METRIC, "± 28 \u00b5m"),
        (123.4, METRIC, "± 120 \u00b5m"),
        (0.0345, METRIC, "± 0.035 \u00b5m"),
        (0, METRIC, "± 0 \u00b5m"),
        (5e-324, METRIC, "± 0 \u00b5m"),
        (1.2, INCH, "± 1.2 \u00b5m (0.000047 in)"),
    ],
)
def test_an_uncertainty_has_two_significant_digits(value: float, style: NumberStyle, expected: str) -> None:
    assert uncertainty(value, style=style) == expected


@pytest.mark.parametrize(
    ("picometres", "metric", "inch"),
    [
        (8_000_000, "8 \u00b5m", "8 \u00b5m (0.00031 in)"),
        (5_080_000, "5.08 \u00b5m", "5.08 \u00b5m (0.0002 in)"),
        (12_700_000, "12.7 \u00b5m", "12.7 \u00b5m (0.0005 in)"),
        (100_000_000, "100 \u00b5m", "100 \u00b5m (0.00394 in)"),
        (0, "0 \u00b5m", "0 \u00b5m (0 in)"),
    ],
)
def test_a_limit_is_shown_as_it_was_set(picometres: int, metric: str, inch: str) -> None:
    assert limit(picometres) == metric
    assert limit(picometres, style=INCH) == inch


@pytest.mark.parametrize(
    ("picometres", "metric", "inch"),
    [
        (6_480_000_000, "6.48 mm", "6.48 mm (0.2551 in)"),
        (16_000_000_000, "16 mm", "16 mm (0.63 in)"),
        (100_000_000_000, "100 mm", "100 mm (3.94 in)"),
        (6_350_000_000, "6.35 mm", "6.35 mm (0.25 in)"),
        (396_875_000, "0.396875 mm", "0.396875 mm (0.015625 in)"),
    ],
)
def test_a_size_is_shown_as_it_was_given(picometres: int, metric: str, inch: str) -> None:
    assert length(picometres) == metric
    assert length(picometres, style=INCH) == inch


@pytest.mark.parametrize(
    ("probability", "expected"),
    [
        (0.95, "19 in 20"),
        (0.05, "1 in 20"),
        (0.8, "8 in 10"),
        (0.83, "8 in 10"),
        (0.85, "8 in 10"),
        (0.15, "2 in 10"),
        (0.9, "9 in 10"),
        (0.5, "5 in 10"),
        (0.97, "97 in 100"),
        (0.99, "99 in 100"),
        (0.999, "999 in 1000"),
        (0.001, "1 in 1000"),
        (0.9999, "more than 999 in 1000"),
        (1, "more than 999 in 1000"),
        (0, "fewer than 1 in 1000"),
    ],
)
def test_a_share_is_said_in_whole_cases_and_never_as_certain(probability: float, expected: str) -> None:
    assert share(probability) == expected


@pytest.mark.parametrize(
    ("fraction", "expected"),
    [(0.95, "95 %"), (0.555, "56 %"), (0, "0 %"), (1, "100 %"), (0.001, "< 1 %"), (0.999, "> 99 %")],
)
def test_a_percentage_says_none_and_all_only_when_they_are_true(fraction: float, expected: str) -> None:
    assert percent(fraction) == expected


@pytest.mark.parametrize("value", [-0.001, 1.001])
def test_a_share_outside_0_to_1_is_refused(value: float) -> None:
    for show in (share, percent):
        with pytest.raises(NotAnswerableError):
            show(value)


@pytest.mark.parametrize(
    ("degrees", "expected"),
    [
        (120, "120\u00b0"),
        (120.5, "121\u00b0"),
        (359.4, "359\u00b0"),
        (359.6, "0\u00b0"),
        (0, "0\u00b0"),
        (-90, "270\u00b0"),
    ],
)
def test_an_angle_is_in_whole_degrees_under_360(degrees: float, expected: str) -> None:
    assert angle(degrees) == expected


@pytest.mark.parametrize(
    ("taken_at", "expected"),
    [
        ("2024-03-05", "2024-03-05"),
        ("2024-03-05T14:20+01:00", "2024-03-05"),
        (" 2024-03-05 14:20", "2024-03-05"),
        ("2019-03", "2019-03"),
    ],
)
def test_a_date_is_shown_as_it_was_written(taken_at: str, expected: str) -> None:
    assert date(taken_at) == expected


@pytest.mark.parametrize(
    ("ratio", "expected"), [(1.0, "1.0 times"), (2.44, "2.4 times"), (21.4, "21 times"), (1234.0, "1200 times")]
)
def test_a_ratio_is_said_in_times_to_two_digits(ratio: float, expected: str) -> None:
    assert times(ratio) == expected
    with pytest.raises(NotAnswerableError):
        times(-ratio)


def test_a_count_has_its_noun_in_the_right_number() -> None:
    assert [count(number, "clamping") for number in (0, 1, 2)] == ["0 clampings", "1 clamping", "2 clampings"]
    assert count(2, "history", "histories") == "2 histories"


def printed_picometres(text: str) -> list[int]:
    """The metric figure and, if it is there, the inch one, read back in picometres."""
    return [parse_length(part, bare=None).picometres for part in text.rstrip(")").split(" (")]


values = st.floats(-1e4, 1e4)
steps = st.sampled_from([0.001, 0.01, 0.1, 0.2, 0.5, 1, 2, 2.54, 5, 10, 25.4])


@given(values, steps)
def test_a_printed_figure_is_within_half_a_step_of_the_value_in_both_units(value: float, step: float) -> None:
    text = micrometres(value, step_um=step, style=INCH)
    assert "e" not in text.lower()
    for picometres in printed_picometres(text):
        assert abs(Fraction(picometres, 10**6) - Fraction(repr(value))) <= Fraction(repr(step)) / 2
    assert all(Fraction(word) != 0 for word in text.strip(")").replace("(", "").split() if word.startswith("-"))


@given(values, steps)
def test_a_printed_bound_is_on_the_safe_side_by_less_than_a_step(value: float, step: float) -> None:
    noise = Fraction(1, 10**6)
    up = printed_picometres(micrometres(value, step_um=step, style=INCH, round_up=True))
    down = printed_picometres(micrometres(value, step_um=step, style=INCH, round_down=True))
    for upper in up:
        assert -noise <= Fraction(upper, 10**6) - Fraction(repr(value)) <= Fraction(repr(step)) + noise
    for lower in down:
        assert -noise <= Fraction(repr(value)) - Fraction(lower, 10**6) <= Fraction(repr(step)) + noise


@given(st.integers(1, 10**12))
def test_a_size_or_limit_printed_reads_back_exactly(picometres: int) -> None:
    assert printed_picometres(length(picometres)) == [picometres]
    assert printed_picometres(limit(picometres)) == [picometres]


@given(st.floats(0.001, 1e4))
def test_a_printed_uncertainty_is_within_five_per_cent(value: float) -> None:
    printed = parse_length(uncertainty(value).removeprefix("± "), bare=None).picometres
    assert abs(Fraction(printed, 10**6) - Fraction(value)) <= Fraction(value) / 20


@given(st.floats(0, 1))
def test_a_share_is_within_half_a_case(probability: float) -> None:
    words = share(probability).split()
    if words[0] in ("more", "fewer"):
        assert min(probability, 1 - probability) <= 0.001
        return
    cases, of = int(words[0]), int(words[2])
    assert 0 < cases < of
    assert abs(cases / of - probability) <= 0.5 / of + 1e-12


@pytest.mark.parametrize(("number", "text"), [(0.0, "fewer than one"), (0.96, "fewer than one"), (1.0, "about 1")])
def test_what_chance_would_show_is_said_in_whole_ones(number: float, text: str) -> None:
    assert about(number) == text
    assert about(2.5) == "about 3"
    with pytest.raises(NotAnswerableError):
        about(float("nan"))
