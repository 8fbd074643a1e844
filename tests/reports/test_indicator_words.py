"""Every reason for refusing what an indicator sent has a sentence, and so has everything not understood about bytes."""

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

import pytest

from instruments.proposing import Puzzle
from instruments.records import Bytes, Reading, Refused, Why
from reports import indicators, occasion


@pytest.mark.parametrize(("codes", "sentences"), [(Why, indicators.WHY), (Puzzle, indicators.PUZZLES)])
def test_every_code_has_a_sentence_and_no_sentence_is_orphaned(
    codes: type[StrEnum], sentences: dict[StrEnum, str]
) -> None:
    assert set(codes) == set(sentences)
    assert all(sentence.strip() for sentence in sentences.values())


def test_a_refusal_says_why_and_which_part_was_not_understood() -> None:
    found = Refused(b"+0.012 kg\r\n", 0.0, Why.UNKNOWN_UNIT, "kg")
    assert indicators.refused(found) == (
        "its unit is none the profile knows (kg). If it is a length, write it below [units] in the profile, "
        'as MM = "mm".'
    )
    assert r"+0.012 kg\r\n NOT taken" in occasion.not_taken(found.text, indicators.refused(found))


def test_every_refusal_but_a_second_press_says_what_to_do_in_whole_sentences() -> None:
    assert set(Why) - set(indicators.TO_DO) == {Why.DOUBLE}
    assert all(sentence[0].isupper() and sentence.endswith(".") for sentence in indicators.TO_DO.values())
    assert not any(reason.endswith((".", "?")) for reason in indicators.WHY.values())


def test_what_was_not_understood_is_not_repeated_where_it_is_the_whole_line() -> None:
    assert "hello" not in indicators.refused(Refused(b"hello\r\n", 0.0, Why.NO_MATCH, "hello"))


def test_a_frame_of_four_bit_digits_is_shown_as_its_digits() -> None:
    found = Reading(Decimal("-0.125"), "mm", 0.0, bytes([15, 15, 15, 15, 8, 0, 0, 0, 1, 2, 5, 3, 0]))
    assert indicators.outcome(found) == "  FFFF800012530        = -0.125 mm"


def test_a_reading_is_shown_with_all_that_came_along() -> None:
    found = Reading(Decimal("0.0120"), "mm", 0.0, b"+0.0120 mm", ("low battery",), Fraction(45, 512), index=True)
    assert indicators.outcome(found).split(" = ")[1] == "0.0120 mm at 0.088°, the mark passes, low battery"


def test_a_long_arrival_is_shown_in_part_with_its_size() -> None:
    shown = indicators.arrival(Bytes(b"x" * 4096, 0.0))
    assert len(shown) < 200
    assert shown.endswith("... (4096 bytes)")


def test_large_figures_are_five_lines_of_the_same_width() -> None:
    lines = occasion.large("270°")
    assert len(lines) == 5
    assert len({len(line) for line in lines}) == 1
    assert occasion.large("?") == []
