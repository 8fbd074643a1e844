"""A newcomer follows README from an empty logbook: every command is run as it stands there."""

import io
import json
import re
import shlex
from pathlib import Path

import pytest

from qclog.characteristics import NAMES
from qclog.cli.main import main
from qclog.particulars import PARTICULARS
from qclog.records import RUNOUT

README = Path(__file__).parents[2] / "README.md"


def _blocks(text: str) -> list[tuple[str, str]]:
    """The code blocks of a text, each with its kind."""
    return re.findall(r"^```(sh|text)\n(.*?)^```", text, re.M | re.S)


def _section(title: str) -> str:
    """What stands under a heading."""
    (found,) = re.findall(rf"^## {title}.*?(?=^## |\Z)", README.read_text(encoding="utf-8"), re.M | re.S)
    return str(found)


def _commands(block: str) -> list[list[str]]:
    return [shlex.split(line)[1:] for line in block.splitlines() if line.startswith("qclog ")]


needs_readme = pytest.mark.skipif(not README.exists(), reason="README stands beside the sources only")


@needs_readme
def test_the_walk_ends_with_the_verdict_that_stands_in_readme(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))
    section = _section("Ten minutes")
    commands = [command for kind, block in _blocks(section) if kind == "sh" for command in _commands(block)]
    assert len(commands) >= 10
    printed = ""
    for command in commands:
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
        if command[0] == "log":
            printed = capsys.readouterr().out.strip()
    assert "position A is BETTER than B" in " ".join(capsys.readouterr().out.split())
    (promised,) = [block for kind, block in _blocks(section) if kind == "text"]
    assert printed == promised.strip()
    assert main(["assess", "C-735", "--json"]) == 0
    groups = {group["position"]: group for group in json.loads(capsys.readouterr().out)["answers"][0]["groups"]}
    assert groups["A"]["next_clampings"] == "holds"
    assert groups["B"]["next_clampings"] == "cannot tell"
    assert groups["B"]["clampings"] == 6
    assert groups["B"]["sittings"] == 2


@needs_readme
def test_the_jobs_beside_run_out_are_logged_and_judged_as_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))
    assert main(["demo", "--keep", "demo.sqlite"]) == 0
    printed: list[str] = []
    quoted, logged = 0, set()
    for kind, block in _blocks(_section("Not only run-out")):
        if kind == "text":
            assert "".join(one.partition("\n\n")[0] + "\n" for one in printed if one) == block
            quoted += 1
            continue
        printed = []
        for command in _commands(block):
            capsys.readouterr()
            assert main(command) == 0, (command, capsys.readouterr().err)
            told = capsys.readouterr().out
            printed.append(told if "assess" in command else "")
            if command[0] == "log":
                assert re.search(r"HOLDS|cannot tell yet", told), command
                logged.add(command[command.index("--characteristic") + 1] if "--characteristic" in command else RUNOUT)
    assert quoted == 3
    assert logged >= {*NAMES} - {"radial gap", "parallelism"}


@needs_readme
def test_what_is_noted_is_kept_and_told_as_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))
    section, printed = _section("Cards, and how it was made"), {}
    for command in [command for kind, block in _blocks(section) if kind == "sh" for command in _commands(block)]:
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
        printed[" ".join(command[:2])] = "".join(capsys.readouterr())
    for told in ("picture c742.jpg", "wall left 1.2 mm", "pins in the face", "surface Ra 0.8", "tool bar 4 mm"):
        assert told in printed["item show"]
    for told in ("machine: toolroom lathe", "nose: D1-4", "master: A", "torque: 12 N m", "best clocking: C-742=120"):
        assert told in printed["setup show"]
    assert "due 2027-01-12" in printed["instrument calibrate"]
    assert "read 100.2 µm on 100 µm, within 1 µm (block 0.1 mm)" in printed["instrument check"]
    for name in re.findall(r"`([^`]+)`", "".join(line for line in section.splitlines(True) if line.startswith("| "))):
        assert name in {one.name for one in PARTICULARS}


@needs_readme
def test_readme_opens_with_the_job_and_its_first_two_code_blocks_are_one_line_each() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.startswith("# qclog\n\nA toolmaker who works to microns")
    demo, tests = [block for _, block in _blocks(text)[:2]]
    assert demo.count("\n") == tests.count("\n") == 1
    assert demo.strip().endswith("qclog demo")
    assert "pytest" in tests


@needs_readme
def test_the_three_questions_are_answered_and_their_answers_handed_on_as_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    answered, printed = 0, ""
    for kind, block in _blocks(_section("Three questions") + _section("Labels")):
        if kind == "text":
            assert printed.startswith(block)
            answered += 1
        for command in _commands(block):
            capsys.readouterr()
            assert main(command) == 0, (command, capsys.readouterr().err)
            printed = capsys.readouterr().out
    assert answered == 4
    assert "<svg" in (tmp_path / "B-860.html").read_text(encoding="utf-8")
    assert 'href="B-945.html"' in (tmp_path / "drawer" / "index.html").read_text(encoding="utf-8")
    assert (tmp_path / "labels.pdf").read_bytes().startswith(b"%PDF")
    assert len(list((tmp_path / "pictures").iterdir())) == 6
    assert (tmp_path / "readings.xlsx").stat().st_size > 10_000


@needs_readme
def test_a_recall_and_a_history_read_as_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--keep", "demo.sqlite"]) == 0
    printed, told = "", 0
    for section in ("Who did what", "A gauge is found wrong"):
        for kind, block in _blocks(_section(section)):
            told += kind == "text"
            assert kind != "text" or block in printed
            for command in _commands(block):
                capsys.readouterr()
                assert main(command) == 0, (command, capsys.readouterr().err)
                printed = capsys.readouterr().out
    assert told == 2


@needs_readme
def test_what_is_due_is_what_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--keep", "demo.sqlite"]) == 0
    blocks = _blocks(_section("Everything owned, and what is due"))
    printed = ""
    for command in _commands(blocks[0][1]):
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
        printed = capsys.readouterr().out
    assert blocks[1][1] in printed


@needs_readme
@pytest.mark.parametrize(
    ("section", "quoted"), [("Which of mine", 2), ("Who owns", 2), ("How good is the measuring", 3)]
)
def test_what_readme_quotes_of_the_demonstration_is_answered_so(
    section: str, quoted: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--keep", "demo.sqlite"]) == 0
    printed, told = "", 0
    for kind, block in _blocks(_section(section)):
        if kind == "text":
            assert block in printed
            told += 1
        elif "demo.sqlite" in block:
            printed = ""
            for command in _commands(block):
                capsys.readouterr()
                assert main(command) == 0, (command, capsys.readouterr().err)
                printed += capsys.readouterr().out
    assert told == quoted


@needs_readme
def test_a_study_behind_the_ten_minutes_says_what_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))
    section = _section("How good is the measuring")
    (study,) = [block for kind, block in _blocks(section) if kind == "sh" and "--study" in block]
    commands = [command for _, block in _blocks(_section("Ten minutes")) for command in _commands(block)]
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"0\n{3 + n % 3}\n{5 + n % 3}\n2\n0\n" for n in range(9))))
    for command in [*commands, *_commands(study)]:
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
    (quoted,) = re.findall(r"^```\n(--- clamping .*?)^```", section, re.M | re.S)
    assert quoted in capsys.readouterr().err


@needs_readme
def test_the_words_that_readme_explains_are_explained_so(capsys: pytest.CaptureFixture[str]) -> None:
    (_, commands), (_, promised) = _blocks(_section("What a word means"))
    (command,) = _commands(commands)
    assert main(command) == 0
    assert capsys.readouterr().out == promised


@needs_readme
def test_every_command_is_named_in_readme(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    listed = capsys.readouterr().out.split("Commands:")[1]
    commands = re.findall(r"^  (\w+)  ", listed, re.M)
    assert len(commands) >= 15
    text = README.read_text(encoding="utf-8")
    assert [name for name in commands if not re.search(rf"`{name}\b", text)] == []


@needs_readme
def test_a_statement_is_handed_over_and_stands_as_readme_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["demo", "--keep", "demo.sqlite"]) == 0
    (_, commands), (_, promised) = _blocks(_section("A statement to hand over"))
    printed = ""
    for command in _commands(commands):
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
        printed = capsys.readouterr().out
    dated = re.compile(r"of \d{4}-\d\d-\d\d for")
    assert dated.sub("of a day for", printed) == dated.sub("of a day for", promised)
