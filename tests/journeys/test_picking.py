"""Choosing for a part in the demonstration's workshop, as a user types it."""

import json
from pathlib import Path

import pytest

from qclog.cli.main import main

PART = ("pick", "9.2", "--runout", "10um", "--distance", "25")


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("demo") / "kept.sqlite"
    assert main(["demo", "--keep", str(path)]) == 0
    return path


@pytest.fixture(autouse=True)
def here(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(kept))


def printed(capsys: pytest.CaptureFixture[str], *command: str) -> str:
    capsys.readouterr()
    assert main(list(command)) == 0
    return capsys.readouterr().out


def test_the_answer_is_a_sentence_and_what_is_left_out_says_why(capsys: pytest.CaptureFixture[str]) -> None:
    told = " ".join(printed(capsys, *PART).split())
    assert told.startswith("9.2 mm, 10 µm at 25 mm out: take B-920 in LATHE-A, position N. It HOLDS 10 µm.")
    assert "Second best: B-920 in LATHE-A, position S" in told
    assert "B-945 in LATHE-A N: it would close on it, but was read on 9.4 mm only" in told


def test_cracked_and_changed_ones_are_left_out_and_a_blank_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    told = " ".join(printed(capsys, "pick", "8.6", "--runout", "10um", "--distance", "25").split())
    assert "B-870: it is cracked: out of service whatever its run-out" in told
    assert "Bore B-780" in told
    assert "no longer rated by its maker" in told
    assert 'qclog modify B-780 bored --size 8.6 --in LATHE-A --position N --made-to "10um@25mm"' in told
    told = " ".join(printed(capsys, "pick", "6.7", "--runout", "10um", "--distance", "25").split())
    assert "B-670 in LATHE-A N: the setup was changed since it was measured there" in told


def test_what_is_said_to_be_typed_is_understood(capsys: pytest.CaptureFixture[str]) -> None:
    told = printed(capsys, "pick", "8.6", "--runout", "10um", "--distance", "25")
    typed = [line.strip() for line in told.splitlines() if line.strip().startswith("qclog measure")]
    assert typed[0].split()[:3] == ["qclog", "measure", "B-860"]


def test_one_json_document_with_the_choices_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    told = json.loads(printed(capsys, *PART, "--json"))
    assert told["question"] == "pick"
    assert [(one["item"], one["position"], one["told"]) for one in told["answers"]] == [
        ("B-920", "N", "holds"),
        ("B-920", "S", "cannot tell"),
    ]
    assert told["answers"][0]["chance"] > 0.99
    assert told["to_make"] is None


def test_the_sheet_is_written_and_says_what_to_set_up(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    sheet = tmp_path / "job.html"
    printed(capsys, *PART, "--sheet", str(sheet), "--job", "Bushing 4711")
    page = sheet.read_text(encoding="utf-8")
    for text in ("Bushing 4711", "B-920", "LATHE-A", "HOLDS", "drawer 2", "by feel", "Second best", "Local rules"):
        assert text in page


@pytest.mark.parametrize(
    ("command", "code"),
    [
        ((*PART, "--sheet", "job.pdf"), 4),
        (("pick", "9.2", "--runout", "10um"), 2),
        (("pick", "0", "--runout", "10um", "--distance", "25"), 4),
        (("pick", "80", "--runout", "10um", "--distance", "25"), 0),
    ],
)
def test_what_cannot_be_is_refused_with_its_exit_code(command: tuple[str, ...], code: int) -> None:
    assert main(list(command)) == code


def test_a_sheet_without_a_choice_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    sheet = tmp_path / "job.html"
    command = ["pick", "80", "--runout", "10um", "--distance", "25", "--sheet", str(sheet)]
    assert main(command) == 4
    assert not sheet.exists()
