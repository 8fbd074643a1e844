"""``qclog explain``, and the line below an answer that leads to it."""

import json
import shutil
import sqlite3
from pathlib import Path

import pytest

from qclog.cli.main import main
from reports.explanations import asked_for

POINTER = "What this means: qclog explain "


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """C-735 in L2: five clampings on one day at A, four at B that are far worse; I-1 was never calibrated."""
    book = tmp_path_factory.mktemp("workshop") / "book.sqlite"

    def at(position: str) -> list[str]:
        return ["log", "C-735", "--position", position, "--instrument", "I-1", "--distance", "25"]

    for line in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7", "--made-to", "9um@25mm"],
        ["item", "add", "C-8", "--kind", "collet", "--size", "8"],
        ["instrument", "add", "I-1", "--division", "0.2um", "--kind", "electronic"],
        [
            "log",
            "C-735",
            *["4.2", "5.0", "4.4", "4.8", "4.1"],
            "--position",
            "A",
            "--instrument",
            "I-1",
            "--distance",
            "25",
        ],
        [
            "log",
            "C-735",
            *["17.2", "18.0", "17.4", "17.8"],
            "--position",
            "B",
            "--instrument",
            "I-1",
            "--distance",
            "25",
        ],
        ["item", "add", "X-1", "--kind", "collet", "--size", "9"],
        ["inspect", "X-1", "crack"],
    ):
        assert main(["--logbook", str(book), *line]) == 0, line
    return book


@pytest.fixture
def copy_of_it(workshop: Path, tmp_path: Path) -> Path:
    shutil.copytree(workshop.parent, tmp_path, dirs_exist_ok=True)
    return tmp_path / workshop.name


def _asked(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    capsys.readouterr()
    assert main(list(arguments)) == 0
    return capsys.readouterr().out


def _words(printed: str) -> list[str]:
    """The words that the end of an answer points to; each has a page."""
    _, _, words = printed.rpartition(POINTER)
    assert all(pages for _, pages in asked_for(words.split()))
    return words.split()


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("assess C-735 --position A", ["cannot-tell", "one-sitting", "instrument-uncalibrated"]),
        ("compare C-735", ["better", "one-sitting"]),
        ("wear C-735", ["watch", "one-sitting", "few-days"]),
        ("drawer", ["cannot-tell", "out-of-service"]),
        ("due", ["never-measured", "undecided", "gauge-never-calibrated"]),
        ("sense", ["not-tried"]),
        ("assess X-1", ["crack"]),
    ],
)
def test_an_answer_ends_with_how_to_ask_for_what_its_words_mean(
    workshop: Path, capsys: pytest.CaptureFixture[str], asked: str, words: list[str]
) -> None:
    told = _words(_asked(capsys, "--logbook", str(workshop), *asked.split()))
    assert [word for word in words if word not in told] == []


def test_a_recall_says_what_in_doubt_means(copy_of_it: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = _words(_asked(capsys, "--logbook", str(copy_of_it), "recall", "I-1", "--found", "17 on 20"))
    assert told[0] == "in-doubt"


def test_what_verify_finds_is_pointed_to_and_a_sound_logbook_says_no_more(
    copy_of_it: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert POINTER not in _asked(capsys, "--logbook", str(copy_of_it), "verify")
    with sqlite3.connect(copy_of_it) as connection:
        (trigger,) = connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' LIMIT 1").fetchone()
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.close()
    assert main(["--logbook", str(copy_of_it), "verify"]) == 6
    assert _words(capsys.readouterr().out) == ["rule"]


def test_what_is_logged_at_the_machine_and_json_carry_no_such_line(
    copy_of_it: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert POINTER not in _asked(capsys, "--logbook", str(copy_of_it), "log", "C-735", "4.4", "--position", "A")
    assert POINTER not in _asked(capsys, "--logbook", str(copy_of_it), "assess", "--json")


def test_explain_needs_no_logbook_and_takes_several_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "none.sqlite"))
    told = _asked(capsys, "explain", "one_sitting", "Does", "not", "hold")
    assert told.startswith("one sitting\n  Everything was read on one occasion.")
    assert "\n\ndoes not hold\n" in told
    assert "Signs of wear:" in _asked(capsys, "explain")
    assert not (tmp_path / "none.sqlite").exists()


def test_explain_answers_as_json_like_any_question(capsys: pytest.CaptureFixture[str]) -> None:
    found = json.loads(_asked(capsys, "explain", "tir_um", "--json"))
    assert found["question"] == "explain"
    assert [(one["word"], one["title"]) for one in found["answers"]] == [("tir_um", "TIR")]
    assert found["answers"][0]["text"].startswith("The full swing")
    assert len(json.loads(_asked(capsys, "explain", "--json"))["answers"]) > 100


def test_a_word_without_a_page_is_one_line_and_exit_code_3_beside_those_that_are_known(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["explain", "uncertanty", "holds"]) == 3
    printed = capsys.readouterr()
    assert printed.out.startswith("holds\n")
    near = "uncertainty, standard uncertainty"
    assert printed.err == f"qclog: There is no page on 'uncertanty'; nearest: {near}. All words: qclog explain\n"
