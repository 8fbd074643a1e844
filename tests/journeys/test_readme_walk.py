"""A newcomer follows README from an empty logbook: every command is run as it stands there."""

import json
import re
import shlex
from pathlib import Path

import pytest

from qclog.cli.main import main

README = Path(__file__).parents[2] / "README.md"


def _blocks() -> list[str]:
    return re.findall(r"^```sh\n(.*?)^```", README.read_text(encoding="utf-8"), re.M | re.S)


def _walk() -> list[list[str]]:
    lines = [line for block in _blocks()[2:] for line in block.splitlines()]
    return [shlex.split(line)[1:] for line in lines if line.startswith("qclog ")]


needs_readme = pytest.mark.skipif(not README.exists(), reason="README stands beside the sources only")


@needs_readme
def test_the_walk_ends_with_the_verdict_that_stands_in_readme(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))
    commands = _walk()
    assert len(commands) >= 10
    printed = ""
    for command in commands:
        capsys.readouterr()
        assert main(command) == 0, (command, capsys.readouterr().err)
        if command[0] == "log":
            printed = capsys.readouterr().out.strip()
    assert "position A is BETTER than B" in " ".join(capsys.readouterr().out.split())
    promised = re.search(r"^```text\n(.*?)^```", README.read_text(encoding="utf-8"), re.M | re.S)
    assert promised is not None
    assert printed == promised[1].strip()
    assert main(["assess", "C-735", "--json"]) == 0
    groups = {group["position"]: group for group in json.loads(capsys.readouterr().out)["answers"][0]["groups"]}
    assert groups["A"]["next_clampings"] == "holds"
    assert groups["B"]["next_clampings"] == "cannot tell"
    assert groups["B"]["clampings"] == 6
    assert groups["B"]["sittings"] == 2


@needs_readme
def test_readme_opens_with_the_job_and_its_first_two_code_blocks_are_one_line_each() -> None:
    text = README.read_text(encoding="utf-8")
    assert text.startswith("# qclog\n\nA toolmaker who works to microns")
    demo, tests = _blocks()[:2]
    assert demo.count("\n") == tests.count("\n") == 1
    assert demo.strip().endswith("qclog demo")
    assert "pytest" in tests


@needs_readme
def test_every_command_is_named_in_readme(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    listed = capsys.readouterr().out.split("Commands:")[1]
    commands = re.findall(r"^  (\w+)  ", listed, re.M)
    assert len(commands) >= 15
    text = README.read_text(encoding="utf-8")
    assert [name for name in commands if not re.search(rf"`{name}\b", text)] == []
