"""Noting beside the cards at the command line; other gauges, quick checks, and what due makes of it."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from qclog.cli.main import main

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command on a logbook of its own; gives exit code, output and talk."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))

    def call(*arguments: str) -> tuple[int, str, str]:
        code = main(list(arguments))
        out, err = capsys.readouterr()
        return code, out, err

    for command in (
        ("setup", "add", "L2", "--positions", "A,B", "--machine", "by the door", "--master", "a"),
        ("item", "add", "C-735", "--kind", "collet", "--size", "7", "--made-to", "9um@25mm"),
        ("instrument", "add", "I-1", "--division", "1um"),
    ):
        assert call(*command)[0] == 0
    return call


def test_what_is_noted_is_listed_with_the_names_there_are(run: Run) -> None:
    assert run("note", "L2")[1].startswith("L2:\n  machine: by the door\n  master: A\n\nTo note:\n  machine")
    code, out, err = run("note", "C-735", "depth=6", "job=311")
    assert (code, out) == (0, "")
    assert "C-735: depth 6." in err
    assert "  modification 0, as received:\n    job: 311\n    depth: 6 mm" in run("note", "C-735")[1]
    run("note", "C-735", "job=")
    document = json.loads(run("note", "C-735", "--json")[1])
    assert document["work"] == [{"modification": 0, "what": "as received", "how": {"depth": "6"}}]


def test_of_one_line_all_or_nothing_is_noted(run: Run) -> None:
    code, _, err = run("note", "L2", "torque=12 Nm", "glue=R-60")
    assert code == 4
    assert err.count("\n") == 1
    assert "torque" not in run("note", "L2")[1].split("To note:")[0]


def test_a_compound_past_its_day_is_said_when_it_is_used_and_when_it_is_noted(run: Run) -> None:
    work = ("modify", "C-735", "bonded", "--on", "2026-03-04", "--how")
    assert "expired on 2026-03-01" in run(*work, "expires=2026-03-01")[2]
    assert "expired" not in run("note", "C-735", "expires=2026-03-04")[2]
    assert "expired on 2026-02-28, before 2026-03-04" in run("note", "C-735", "expires=2026-02-28")[2]


def test_an_interval_once_said_goes_on_by_itself(run: Run) -> None:
    assert "due 2026-07-12" in run("instrument", "calibrate", "I-1", "--on", "2026-01-12", "--every", "6")[2]
    assert "due 2026-12-01" in run("instrument", "calibrate", "I-1", "--on", "2026-06-01")[2]
    assert "due 2026-08-01" in run("instrument", "calibrate", "I-1", "--on", "2026-07-01", "--due", "2026-08-01")[2]


def test_a_torque_wrench_is_calibrated_like_a_gauge_and_reads_nothing(run: Run) -> None:
    assert run("instrument", "add", "TW-1", "--kind", "torque wrench", "--range", "5 to 50 N m")[0] == 0
    assert run("instrument", "add", "X-1")[0] == 2
    assert "TW-1: torque wrench" in run("due")[1]
    assert run("instrument", "calibrate", "TW-1", "--on", "2026-01-12", "--certificate", "W-3")[0] == 0
    assert "TW-1" not in run("due")[1]
    listed = run("instrument", "list")[1]
    assert "torque wrench  -         5 to 50 N m  2026-01-12, no. W-3" in listed
    code, _, err = run("log", "C-735", "4", "--position", "A", "--instrument", "TW-1")
    assert code == 4
    assert "TW-1 is no indicator: torque wrench." in err


def test_a_micrometer_is_entered_with_its_division_and_read_with(run: Run) -> None:
    code, _, err = run("instrument", "add", "MS-2", "--kind", "micrometer")
    assert code == 2
    assert "What is one division of MS-2? Say it as --division 1um" in err
    assert run("instrument", "add", "MS-2", "--kind", "micrometer", "--division", "1um")[0] == 0
    assert "MS-2  micrometer  1 µm" in run("instrument", "list")[1]
    assert "until then a cautious uncertainty is assumed" in run("due")[1]
    assert run("log", "C-735", "4um", "--position", "A", "--instrument", "MS-2")[0] == 0


def test_a_quick_check_needs_its_limit_once_and_leads_to_a_recall(run: Run) -> None:
    assert run("instrument", "check", "I-1", "100.4 on 100")[0] == 4
    assert run("instrument", "check", "I-1", "fine", "--within", "1um")[0] == 2
    first = ("instrument", "check", "I-1", "100.4 on 100", "--within", "1um", "--every", "7", "--on", "2026-03-02")
    assert "within 1 µm" in run(*first)[2]
    assert "Quick checks due:\n  I-1: since 2026-03-09." in run("due")[1]
    code, _, err = run("instrument", "check", "I-1", "103 on 100", "--on", "2026-03-09")
    assert code == 0
    assert "OUT by 3 µm, 1 µm allowed" in err
    assert 'qclog recall I-1 --found "103 on 100"' in err
    assert 'qclog recall I-1 --found "103um on 100um"' in run("due")[1]
    out = run("recall", "I-1", "--found", "103 on 100", "--on", "2026-03-09T12:00")[1]
    assert "since its last good check on 2026-03-02" in out


def test_what_had_a_crash_is_due_until_it_is_measured_again(run: Run) -> None:
    def log(on: str) -> None:
        assert run("log", "C-735", "4", "--position", "A", "--instrument", "I-1", "--on", on)[0] == 0

    log("2026-03-02")
    assert run("inspect", "C-735", "crash", "--on", "2026-03-03T10:00")[0] == 0
    assert "Had a crash, and not measured since:\n  C-735 in L2 A: crash 2026-03-03, last measured" in run("due")[1]
    log("2026-03-03T09:00")
    assert "Had a crash" in run("due")[1]
    log("2026-03-03T11:00")
    assert "Had a crash" not in run("due")[1]
    assert "it had a crash" in run("assess", "C-735")[1]
    assert run("inspect", "C-735", "sound", "--note", "no crack under the glass")[0] == 0
    assert "not flagged" in run("assess", "C-735")[1]


def test_how_work_was_done_stands_beside_it(run: Run) -> None:
    run("modify", "C-735", "bored", "--size-before", "7", "--size", "7.35", "--wall", "1.2", "--held-by", "shims",
        "--in", "L2", "--position", "A", "--torque", "10 Nm", "--how", "tool=bar 4 mm", "--note", "two passes",
        "--by", "MÖ")  # fmt: skip
    shown = run("item", "show", "C-735")[1]
    assert "bored, 7.35 mm, in L2, position A (married to it), by MÖ" in shown
    assert "from 7 mm; shims; torque 10 Nm; wall left 1.2 mm; two passes\n    tool bar 4 mm" in shown
    told = " ".join(run("history", "C-735")[1].split())
    assert "Bored from 7 mm to 7.35 mm, modification 1; in L2, position A, shims; torque 10 Nm; wall left" in told
    assert "Noted, modification 1: tool bar 4 mm (MÖ" in told
