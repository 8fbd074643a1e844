"""Pages on words are found as they are typed, and can be read by whoever has never heard of statistics."""

import re
from enum import StrEnum
from typing import Any

import pytest
import typer

from qclog.cli.commands import PARTS, Listed
from qclog.cli.main import commands
from qclog.errors import NotFoundError
from qclog.logbook.safekeeping.verifying import Check
from qclog.questions.codes import Caveat, Due, KeyStatement, NextStep, SenseState, Sign, Wanted, Worth
from reports import explained, explanations
from reports.explanations import Page, asked_for, explanation, nearest, pages, plain

EVERY_PAGE = [page for subject in explanations.subjects() for page in subject.pages]
CALLED = [f"{page.subject}: {page.title}" for page in EVERY_PAGE]


def test_a_file_is_read_as_pages_with_their_words_and_paragraphs() -> None:
    read = explanations.read("wear", "# Signs\n\n## one, the other\n\nFirst\nline.\n\nSecond.\n\n## next\nText.\n")
    assert read.title == "Signs"
    assert read.pages == (
        Page("wear", "one", ("one", "the other"), "First line.\nSecond."),
        Page("wear", "next", ("next",), "Text."),
    )


@pytest.mark.parametrize("typed", ["one sitting", "one_sitting", "ONE-SITTING", "  One  sitting ", Caveat.ONE_SITTING])
def test_a_word_is_found_however_it_is_written(typed: str) -> None:
    assert [page.title for page in pages(typed)] == ["one sitting"]


def test_a_key_of_a_json_document_is_found_with_its_unit() -> None:
    assert pages("tir_um") == pages("TIR") != []
    assert pages("high_spot_deg") == pages("high spot") != []
    assert plain("um") == "um"


def test_words_typed_one_after_the_other_are_taken_together_where_they_name_a_page() -> None:
    found = asked_for(["does", "not", "hold", "one-sitting", "19", "in", "20", "under", "sd"])
    assert [word for word, _ in found] == ["does not hold", "one-sitting", "19 in 20 under", "sd"]


def test_a_word_that_several_pages_have_gives_all_of_them() -> None:
    assert [page.subject for page in pages("cannot tell")] == ["verdicts", "chuck"]
    assert explanation("cannot tell").count("How good:") == 2
    assert explanation("cannot tell", "chuck").count("How good:") == 1


def test_a_page_of_html_can_ask_for_the_text_of_a_code() -> None:
    assert explanation(Caveat.IN_DOUBT) == explanation(Due.IN_DOUBT) == explanation(Sign.IN_DOUBT) != ""
    assert explanation("no such code") == ""


def test_an_unknown_word_says_in_one_line_which_come_nearest() -> None:
    with pytest.raises(NotFoundError) as refused:
        asked_for(["mean", "uncertanty", "xyzzy"])
    assert refused.value.exit_code == 3
    assert str(refused.value) == (
        "There is no page on 'uncertanty'; nearest: uncertainty, standard uncertainty. "
        "There is no page on 'xyzzy'. All words: qclog explain"
    )


def test_known_words_are_told_beside_unknown_ones() -> None:
    found, unknown = explanations.sought(["TIR", "xyzzy", "budget", "pin (differs by place)"])
    assert [word for word, _ in found] == ["TIR", "budget", "pin (differs by place)"]
    assert unknown == ["xyzzy"]


def test_the_beginning_of_a_word_finds_it_and_a_very_long_one_costs_nothing() -> None:
    assert "calibration overdue" in nearest("calibration")
    assert nearest("a" * 100_000) == []
    with pytest.raises(NotFoundError) as refused:
        asked_for(["xyzzy"] * 500)
    assert str(refused.value).count("xyzzy") == 3
    assert len(nearest("gauge")) <= 3


def test_no_word_stands_twice_in_a_subject() -> None:
    for subject in explanations.subjects():
        words = [plain(word) for page in subject.pages for word in page.words]
        assert sorted(set(words)) == sorted(words), subject.name


@pytest.mark.parametrize("page", EVERY_PAGE, ids=CALLED)
def test_a_page_says_what_it_means_where_it_comes_from_and_how_good_it_is(page: Page) -> None:
    *meaning, source, worth = page.text.splitlines()
    assert meaning
    assert not [text for text in meaning if text.startswith(("Where from:", "How good:"))]
    assert source.startswith("Where from: ")
    assert worth.startswith("How good: ")
    assert all(len(text.split()) >= 3 for text in (*meaning, source, worth))


@pytest.mark.parametrize("page", EVERY_PAGE, ids=CALLED)
def test_how_often_it_was_right_in_trials_is_said_where_it_is_asked_how_good_it_is(page: Page) -> None:
    *others, worth = page.text.splitlines()
    assert "simulated" not in " ".join(others)
    if "simulated" in worth:
        assert re.search(r"\d", worth), "no figure"


@pytest.mark.parametrize("page", EVERY_PAGE, ids=CALLED)
def test_a_page_is_a_few_short_sentences_without_formulae(page: Page) -> None:
    sentences = [re.split(r"(?<=[.?])\s+(?=[A-Z(\"])", text) for text in page.text.splitlines()]
    assert page.text.endswith((".", "?"))
    assert sum(map(len, sentences[:-2])) <= 6
    assert max(len(part) for part in sentences[-2:]) <= 3
    assert max(len(sentence.split()) for part in sentences for sentence in part) <= 30
    assert not re.search(r"[=²√^∑]|\bT\^", re.sub(r'k = 2|mode = "stream"', "", page.text))
    assert len(page.title) <= 40


def _commands(command: Any, name: str = "") -> dict[str, Any]:
    found = {name: command}
    for word, inner in getattr(command, "commands", {}).items():
        found |= _commands(inner, f"{name} {word}".strip())
    return found


def test_every_command_and_option_that_pages_name_exists() -> None:
    everything = typer.main.get_command(commands())
    assert isinstance(everything, Listed)
    for part in PARTS.values():
        everything.load(next(iter(part)))
    found = _commands(everything)
    options = {option for command in found.values() for one in command.params for option in one.opts}
    text = " ".join(page.text for page in EVERY_PAGE)
    named = re.findall(r"qclog ([a-z]+)(?: ([a-z]+))?", text)
    assert len(named) > 10
    groups = {name.split()[0] for name in found if " " in name}
    assert not [one for one in named if (" ".join(one) if one[0] in groups else one[0]) not in found]
    assert not [option for option in re.findall(r"--[a-z-]+", text) if option not in options]


def test_pages_are_wrapped_and_each_is_given_once() -> None:
    text = explained.explained(asked_for(["bound", "holds", "bound_um"]))
    assert max(map(len, text.splitlines())) <= 80
    assert text.count("The figure to rely on") == 1
    assert text.index("The figure to rely on") < text.index("You can rely on it")


def test_all_words_are_listed_by_subject_and_none_is_torn_apart() -> None:
    text = explained.all_words()
    for subject in explanations.subjects():
        assert f"{subject.title}:" in text.splitlines()
    assert all(page.title in text for page in EVERY_PAGE)
    assert max(map(len, text.splitlines())) <= 80


def test_the_line_below_an_answer_names_its_words_as_they_are_typed() -> None:
    line = explained.pointer([Caveat.ONE_SITTING, Caveat.LOOKED_AGAIN, Caveat.ONE_SITTING])
    assert line == "What this means: qclog explain one-sitting looked-again"
    assert all(found for _, found in asked_for(line.split()[5:]))
    assert explained.pointer([]) == ""


@pytest.mark.parametrize("codes", [Caveat, Due, KeyStatement, NextStep, SenseState, Sign, Wanted, Worth, Check])
def test_what_is_pointed_to_is_called_like_its_code(codes: type[StrEnum]) -> None:
    for code in codes:
        (word,) = explained.pointer([code]).split()[5:]
        assert set(plain(word).split()) & set(plain(code).split()), f"{code} is pointed to as {word}"


def test_many_words_do_not_make_a_long_line() -> None:
    first, *listed = explained.pointer(list(Caveat)).splitlines()
    assert first.endswith("qclog explain WORD")
    words = " ".join(line.strip() for line in listed).split(", ")
    assert len(words) == len(set(Caveat))
    assert all(explanations.pages(word) for word in words)
