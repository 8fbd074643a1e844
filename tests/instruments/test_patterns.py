"""Patterns of a profile cannot hang, and say what is wrong with them."""

import re

import pytest

from instruments.patterns import PatternError, compiled


@pytest.mark.parametrize(
    ("pattern", "text", "number"),
    [
        (r"(?P<number>[+-]?[0-9]+\.[0-9]+)", "-0.012", "-0.012"),
        (r"\s*(?P<number>[+-]?\s*[0-9]*\.[0-9]{3})\s*(?P<unit>mm|in)?\s*", "  + 0.012 mm ", "+ 0.012"),
        (r"[^0-9+-]*(?P<number>[+-][0-9]{1,3})(?:,[A-Z]+)?", "pos +12,OK", "+12"),
        (r"\[(?P<number>[0-9]+)\]", "[7]", "7"),
        (r"[]x]*(?P<number>[0-9]+)", "]x7", "7"),
        ("\\x02(?P<number>[0-9]{2})", "\x0212", "12"),
    ],
)
def test_usual_patterns_fit(pattern: str, text: str, number: str) -> None:
    match = compiled(pattern).fullmatch(text)
    assert match is not None
    assert match["number"] == number


@pytest.mark.parametrize(
    ("pattern", "told"),
    [
        (r"(?P<number>[0-9]+)+", 'repeats a group with "+"'),
        (r"(a|b){2}", 'repeats a group with "{2}"'),
        (r"(?P<number>[0-9]+)*?", "lazy repeat"),
        (r".*?(?P<number>[0-9]+)", 'lazy repeat "*?"'),
        (r"(?P<number>.)\1", r'"\1" at character 14'),
        (r"(?=.)(?P<number>.)", '"(?=."'),
        (r"(?i)(?P<number>.)", '"(?i)"'),
        (r"(?P<value>.)", 'a group "value"'),
        (r"(?P<number>.", "missing )"),
        (r"(?P<number>.))", "unbalanced parenthesis"),
        (r"[[a](?P<number>.)", "nested set"),
        (r"*(?P<number>.)", "nothing to repeat"),
        (r"[(?P<number>.)", '"[(?P"'),
        (r"x{99999999999999}(?P<number>.)", "repetition number is too large"),
        (r"(?P<number>.)" + "a?b?" * 100, "longer than 300"),
        ("|".join("abcdefghijklm"), "more than 10 choices"),
        ("(a)?" * 11, "more than 10 choices"),
    ],
)
def test_a_pattern_that_could_hang_or_is_none_is_refused_with_the_place(pattern: str, told: str) -> None:
    with pytest.raises(PatternError, match=re.escape(told)) as caught:
        compiled(pattern)
    assert caught.value.remedy.endswith(".")


def test_what_a_repeat_took_it_keeps_so_that_no_search_goes_back() -> None:
    assert compiled(r".*(?P<number>[0-9]+)").fullmatch("x12") is None
    assert compiled(r"[^0-9]*(?P<number>[0-9]+)").fullmatch("x12")


def test_only_the_ten_digits_are_digits() -> None:
    assert compiled(r"(?P<number>\d+)").fullmatch("١٢") is None
