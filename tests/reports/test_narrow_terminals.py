"""Lists and pages of items fit a narrow terminal."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from qclog.cli.main import main

COMMAND = "import sys; from qclog.cli.main import main; sys.exit(main(sys.argv[1:]))"
ASKED = [("item", "list"), ("item", "show", "N-8"), ("history", "N-8"), ("uncertainty", "N-8"), ("drawer",)]


@pytest.mark.parametrize("width", [40, 80])
def test_what_is_shown_is_no_wider_than_the_terminal(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    turn = ("--quarters", "4.0 1.0 -3.0 0.0", "--setup", "LATHE-A", "--distance", "16", "--accept")
    for command in (
        ("setup", "add", "LATHE-A"),
        ("item", "add", "N-8", "--kind", "collet", "--size", "8", "--made-to", "8um@16mm", "--made-to", "9um@25mm"),
        ("modify", "N-8", "bored and lapped", "--in", "LATHE-A", "--on", "2026-03-01"),
        ("limit", "N-8", "8um@16mm", "9um@25mm"),
        ("log", "N-8", *turn, "--on", "2026-03-02T10:00", "--note", "wiped once more and pushed in all the way"),
    ):
        assert main(list(command)) == 0, command
    for asked in ASKED:
        call = [sys.executable, "-c", COMMAND, *asked]
        told = subprocess.run(call, env=os.environ | {"COLUMNS": str(width)}, capture_output=True, check=True)
        lines = told.stdout.decode("utf-8").splitlines()
        assert lines
        assert max(map(len, lines)) <= width, (asked, max(lines, key=len))
