"""Answers about more items than anybody reads: the most urgent are told, the rest is counted."""

import re
from pathlib import Path

import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.assess import assess
from qclog.questions.drawer import drawer
from qclog.questions.due import due
from reports import assessment
from reports.pages.drawer import drawer_page
from tests.benchmarks import direct, made

ITEMS = 130
BEFORE = 100


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Of every item two clampings at each of two positions on one day: not yet decided."""
    path = tmp_path_factory.mktemp("many") / "book.sqlite"
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(made, "items_for", lambda _: ITEMS)
        direct.write_logbook(path, 4 * ITEMS).close()
    return path


def told(book: Path, capsys: pytest.CaptureFixture[str], question: str) -> str:
    assert main(["--logbook", str(book), question]) == 0
    return capsys.readouterr().out


def test_the_most_urgent_that_are_due_are_told_and_the_rest_is_counted(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = told(book, capsys, "due")
    assert f"{ITEMS} things are due" in said
    assert said.count("qclog measure") == BEFORE
    assert f"And {ITEMS - BEFORE} more, less urgent: qclog due --json tells all." in said


def test_those_to_be_watched_are_told_in_words_as_far_as_anybody_reads(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = told(book, capsys, "wear")
    assert said.count(": WATCH.") == BEFORE
    assert f"Less urgent than these: {ITEMS - BEFORE} more, in the table alone." in said


def test_of_many_places_those_flagged_have_a_line_and_the_others_are_counted(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assessment, "_MOST_NAMED", 1)
    store = open_store(str(book))
    answers = assess(store)
    store.close()
    flagged = sum(len(answer.reasons) for answer in answers)
    places = sum(len(answer.groups) for answer in answers)
    assert 0 < flagged < places - BEFORE
    said = told(book, capsys, "assess")
    assert len(re.findall(r"^C-\d+ L1 [AB] 25 mm .*\*\*\*$", said, re.MULTILINE)) == flagged
    assert f"{places - flagged} places that are not flagged have no line here" in said
    assert re.search(r"\(C-\d+, and \d+ more\)", " ".join(said.split()))


def test_the_drawers_page_leads_past_its_list_to_what_is_due_and_to_each_part(book: Path) -> None:
    store = open_store(str(book))
    page = drawer_page(drawer(store), due(store))
    store.close()
    assert '<a href="#due">Due</a>' in page
    assert '<h2 id="due">Due</h2>' in page
    assert '<a href="#part-1">Sizes</a>' in page
    assert '<h2 id="part-1">Sizes</h2>' in page
    assert f"And {ITEMS - BEFORE} more, less urgent" in page
