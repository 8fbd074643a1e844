"""A file that is taken in is asked about its plain values as a typed line is, and never refused for a doubt."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from qclog.cli.main import main

Run = Callable[..., str]
Source = Callable[..., Path]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command on one of two logbooks; gives its talk on one line."""

    def call(*arguments: str, book: str = "mine", exits: int = 0) -> str:
        assert main(["--logbook", str(tmp_path / f"{book}.sqlite"), *arguments]) == exits
        return " ".join(capsys.readouterr().err.split())

    call("item", "add", "N-8", "--kind", "insert", "--made-to", "bore 8.00..8.06mm")
    call("item", "add", "N-8", "--kind", "insert", book="theirs")
    return call


@pytest.fixture
def source(run: Run, tmp_path: Path) -> Source:
    """A file of what was logged in the other logbook; without the number of a modification."""

    def call(*readings: str, on: str = "2026-03-05", characteristic: str = "bore") -> Path:
        what = ("--characteristic", characteristic, "--accept", "--on", on)
        run("log", "N-8", *readings, *what, book="theirs")
        exported, file = tmp_path / "exported.csv", tmp_path / "theirs.csv"
        exported.unlink(missing_ok=True)
        run("export", "--to", str(exported), book="theirs")
        with exported.open(encoding="utf-8-sig", newline="") as lines:
            rows = list(csv.DictReader(lines))
        with file.open("w", encoding="utf-8", newline="") as lines:
            writer = csv.DictWriter(lines, list(rows[0]))
            writer.writeheader()
            writer.writerows({**row, "modification": ""} for row in rows)
        return file

    return call


def test_what_looks_like_a_slip_is_named_with_its_line_and_taken_in(run: Run, source: Source) -> None:
    run("log", "N-8", "8.02", "8.03", "8.02", "--characteristic", "bore", "--on", "2026-03-02")
    told = run("import", str(source("8.03mm", "8.02um", "80.2mm")))
    assert "3 clampings with 3 readings taken in" in told
    assert "line 2, N-8" not in told
    assert "Doubtful, line 3, N-8: '8.02 um' is 0.00802 mm" in told
    assert "Micrometres or millimetres? If so, type 8.02mm." in told
    assert "Doubtful, line 4, N-8: '80.2 mm' is 80.2 mm" in told
    assert told.count("qclog strike N-8 NUMBER --reason misread") == 2
    assert "Doubtful" not in run("import", str(source("8.02mm")))


def test_pins_that_contradict_those_of_the_sitting_before_are_named(run: Run, source: Source) -> None:
    run("log", "N-8", "--go", "8.02", "--no-go", "8.03", "--characteristic", "bore", "--on", "2026-03-02")
    told = run("import", str(source("--go", "8.04", "--no-go", "8.05")))
    assert "Doubtful, line 2, N-8:" in told
    assert "8.03 mm did not go, so 8.04 mm cannot." in told


def test_a_gap_read_after_its_bonding_is_a_fault_of_its_row(run: Run, source: Source) -> None:
    run("modify", "N-8", "bonded", "--on", "2026-03-04")
    gap = source("50um", characteristic="diametral gap")
    told = run("import", str(gap), exits=4)
    assert "line 2, column characteristic, 'diametral gap': N-8 is bonded (modification 1)" in told
    assert "If it was knocked out to be bonded anew, say so first" in told
    assert "nothing was imported" in told


def test_a_gap_read_before_its_bonding_is_taken_in(run: Run, source: Source) -> None:
    run("modify", "N-8", "bonded", "--on", "2026-03-06")
    assert "1 clamping with 1 reading taken in" in run("import", str(source("50um", characteristic="diametral gap")))
