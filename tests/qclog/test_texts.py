"""Texts are one line of bounded length, or refused in one line; what is printed never commands a terminal."""

import dataclasses
import json

import pytest

from qclog import texts
from qclog.errors import RefusedError
from qclog.records import Card

HIDDEN = {
    "NUL": "\0",
    "escape": "\x1b[2J",
    "bell": "\a",
    "C1 control sequence": "\x9b31m",
    "next line": "\x85",
    "line separator": "\u2028",
    "override of direction": "\u202e",
    "isolate of direction": "\u2066",
    "byte order mark": "\ufeff",
    "half of a character": "\ud83d",
    "byte that is not UTF-8": "\udcff",
}


@pytest.mark.parametrize("hidden", HIDDEN.values(), ids=HIDDEN)
def test_hidden_characters_are_refused_everywhere(hidden: str) -> None:
    for read in (texts.note, texts.name, texts.argument):
        with pytest.raises(RefusedError) as refused:
            read(f"a{hidden}b", "note")
        assert str(refused.value).startswith("The note has ")
        assert str(refused.value).isprintable()
    with pytest.raises(RefusedError, match="The mark has"):
        texts.check(Card(note="fine", mark=hidden))


@pytest.mark.parametrize("fine", ["", "9 µm", "Süd, 夾頭", "half\u00a0a thou", "👷🏽\u200d🔧", "\"'<&>$=+-@", "עברית"])
def test_what_can_be_read_is_kept_as_it_is(fine: str) -> None:
    assert texts.note(fine, "note") == texts.argument(fine, "argument") == texts.harmless(fine) == fine


def test_line_breaks_stand_in_arguments_only() -> None:
    for text in ("4\t1\t-3\t0", "4\n1\r\n-3 0"):
        assert texts.argument(text, "argument 1") == text
        for read in (texts.note, texts.name):
            with pytest.raises(RefusedError, match="Write it on one line"):
                read(text, "note")


def test_names_have_blanks_of_one_sort_only() -> None:
    assert texts.name("A then B", "position") == "A then B"
    for odd in ("A\u00a0B", "A\u200bB", "A\u200dB"):
        with pytest.raises(RefusedError, match=r"hidden character in it, U\+"):
            texts.name(odd, "position")


def test_lengths_end_where_they_are_said_to() -> None:
    for read, longest in ((texts.note, 500), (texts.name, 100), (texts.argument, 1000)):
        assert read("ä" * longest, "note")
        with pytest.raises(RefusedError, match=f"too long. {longest} characters at most"):
            read("ä" * (longest + 1), "note")


def test_every_text_of_a_record_is_looked_at() -> None:
    for field in dataclasses.fields(Card):
        if "str" in str(field.type):
            with pytest.raises(RefusedError, match=f"The {field.name} is too long"):
                texts.check(dataclasses.replace(Card(), **{field.name: "x" * 501}))  # type: ignore[arg-type]


@pytest.mark.parametrize("hidden", HIDDEN.values(), ids=HIDDEN)
def test_printed_they_are_escapes_that_json_reads_back(hidden: str) -> None:
    shown = texts.harmless(f'{{"note": "a{hidden.replace(chr(27), "")}b"}}\n')
    assert shown.replace("\n", "").isprintable()
    assert json.loads(shown) == {"note": f"a{hidden.replace(chr(27), '')}b"}
    assert "\x1b" not in texts.harmless(hidden)


def test_a_carriage_return_writes_nothing_over_and_lines_stay_lines() -> None:
    assert texts.harmless("HOLDS\rDOES NOT\nnext") == "HOLDS\\u000dDOES NOT\nnext"


def test_shown_in_a_message_a_text_is_short_and_on_one_line() -> None:
    assert texts.shown("a\n\x1bb") == "a??b"
    assert texts.shown("x" * 70) == "x" * 64 + "..."
