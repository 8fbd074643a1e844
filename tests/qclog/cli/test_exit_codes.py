"""Exit codes and one-line errors as promised, whatever is typed."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qclog.cli import common
from qclog.cli import main as front
from qclog.cli.main import main


@pytest.fixture(autouse=True)
def _logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))


def _prepared() -> None:
    assert main(["setup", "add", "L2"]) == 0
    assert main(["item", "add", "C-1", "--kind", "collet", "--made-to", "9um@25mm"]) == 0


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["assess"], 3),
        (["no-such-command"], 2),
        (["log"], 2),
        (["log", "C-1"], 3),
        (["item", "show", "C-9"], 3),
        (["--logbook", "mysql://host/book", "assess"], 3),
        (["import", "no-such-file.csv"], 3),
    ],
)
def test_an_empty_workshop_gives_the_promised_codes(
    arguments: list[str], code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == code
    err = capsys.readouterr().err.strip()
    assert err.startswith("qclog: ")
    assert "\n" not in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["pick", "8", "--wide"], "No such option: --wide. See: qclog pick --help"),
        (["item", "add"], "Missing argument 'code'. See: qclog item add --help"),
        (["no-such-command"], "See: qclog --help"),
    ],
)
def test_what_was_typed_wrongly_is_answered_with_the_help_of_its_command(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    assert capsys.readouterr().err.strip().endswith(said)


def test_what_is_said_at_a_terminal_breaks_between_words() -> None:
    line = "A modified item is no longer rated by its maker: inspect it, guard it."
    told = common._within(line, 30).split("\n")
    assert max(map(len, told)) <= 30
    assert " ".join(part.strip() for part in told) == line
    assert (
        common._within("/a/path/that/is/longer/than/the/terminal/is", 20)
        == "/a/path/that/is/longer/than/the/terminal/is"
    )


def test_a_code_that_is_known_is_told_with_what_changes_on_its_card(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["item", "add", "C-1", "--kind", "collet", "--size", "7"]) == 0
    capsys.readouterr()
    assert main(["item", "add", "C-1", "--size", "8", "--place", "drawer 2"]) == 0
    said = capsys.readouterr().err
    assert "C-1 is known already; newer card: nominal 8 mm, was 7 mm;" in said
    assert "drawer 2, was not noted" in said
    assert main(["item", "add", "C-1", "--size", "8"]) == 0
    assert "nothing new on its card" in capsys.readouterr().err


def test_questions_never_create_a_logbook(tmp_path: Path) -> None:
    for question in (["assess"], ["sense"], ["item", "list"], ["setup", "list"], ["item", "show", "C-1"], ["settings"]):
        assert main(question) == 3
    assert list(tmp_path.iterdir()) == []


def test_the_gate_tells_a_script(capsys: pytest.CaptureFixture[str]) -> None:
    _prepared()
    assert main(["log", "C-1", "4"]) == 0
    assert main(["assess"]) == 0
    assert main(["assess", "--gate"]) == 8
    for day in range(10, 18):
        assert main(["log", "C-1", "24", "25", "26", "--on", f"2026-03-{day}T10:00", "--setup", "L2"]) == 0
    assert main(["assess", "--gate"]) == 1
    assert "*** FLAGGED *** C-1" in capsys.readouterr().out
    assert main(["item", "add", "C-2", "--made-to", "30um"]) == 0
    for day in range(10, 18):
        assert main(["log", "C-2", f"{4 + day % 3}", "--on", f"2026-03-{day}T10:00", "--distance", "25"]) == 0
    assert main(["assess", "C-2", "--gate"]) == 0


def test_a_defect_leaves_its_traceback_in_a_file_and_one_line_on_the_screen(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "logs" / "defects.log"
    monkeypatch.setattr("qclog.config.defect_log", lambda: log)
    monkeypatch.setattr(front, "commands", lambda: 1 / 0)
    assert main(["assess"]) == 70
    assert "ZeroDivisionError" in log.read_text(encoding="utf-8")
    assert capsys.readouterr().err.count("\n") == 1


def test_an_interrupt_ends_with_130(monkeypatch: pytest.MonkeyPatch) -> None:
    import typer

    def interrupted() -> None:
        raise typer.Abort

    monkeypatch.setattr(front, "commands", interrupted)
    assert main(["assess"]) == 130


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.text(max_size=12), max_size=5), st.sampled_from(["log", "modify", "strike", "limit", "assess"]))
def test_nothing_typed_ever_ends_in_a_traceback(arguments: list[str], command: str) -> None:
    assert main([command, *arguments]) in {0, 1, 2, 3, 4, 8}


@pytest.mark.parametrize(
    "path", ["x" * 300, "x" * 300 + ".csv", "~nobody-here/x", "a/" * 400 + "x", "file/x.csv", "\0"]
)
def test_a_path_that_cannot_be_gives_one_line(
    path: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    _prepared()
    (tmp_path / "file").write_text("in the way")
    for arguments in (["--logbook", path, "assess"], ["import", path], ["report", "C-1", "--to", path + "/x"]):
        capsys.readouterr()
        assert main(arguments) in (2, 3, 4, 0), arguments
        assert capsys.readouterr().err.count("\n") == 1
