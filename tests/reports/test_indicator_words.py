"""Every reason for refusing what an indicator sent has a sentence, and so has everything not understood about bytes."""

from enum import StrEnum

import pytest

from instruments.proposing import Puzzle
from instruments.records import Refused, Why
from reports import indicators, occasion


@pytest.mark.parametrize(("codes", "sentences"), [(Why, indicators.WHY), (Puzzle, indicators.PUZZLES)])
def test_every_code_has_a_sentence_and_no_sentence_is_orphaned(
    codes: type[StrEnum], sentences: dict[StrEnum, str]
) -> None:
    assert set(codes) == set(sentences)
    assert all(sentence.strip() for sentence in sentences.values())


def test_a_refusal_says_why_and_which_part_was_not_understood() -> None:
    found = Refused(b"+0.012 kg\r\n", 0.0, Why.UNKNOWN_UNIT, "kg")
    assert indicators.refused(found) == "a unit the profile does not know (kg)"
    assert "'+0.012 kg\\\\r\\\\n' NOT taken" in occasion.not_taken(found.text, indicators.refused(found))


def test_large_figures_are_five_lines_of_the_same_width() -> None:
    lines = occasion.large("270°")
    assert len(lines) == 5
    assert len({len(line) for line in lines}) == 1
    assert occasion.large("?") == []
