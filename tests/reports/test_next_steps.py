"""What a page says to do next: short, the most urgent first, and typed as it stands it works."""

import re
import shlex
from collections.abc import Callable
from pathlib import Path

import pytest

from qclog import times
from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.dossier import dossiers
from reports.next_steps import Step, next_steps

Steps = Callable[[], list[Step]]
MONTHS = tuple(f"2026-0{month}-05T10:00" for month in range(1, 8))


@pytest.fixture
def steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Steps:
    """A collet bored for 9 µm in a setup with two key positions, and what is said to do about it."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    monkeypatch.setattr(times, "now", lambda: "2026-08-01T12:00:00+00:00")
    for command in (
        "setup add L2 --positions A,B",
        "instrument add I-1 --division 0.2um --kind electronic",
        "instrument calibrate I-1 --on 2025-12-12 --due 2099-01-12 --uncertainty 0.4um",
        "item add C-735 --kind collet --size 7",
        "modify C-735 bored --size 7.35 --in L2 --position A --made-to 9um@25mm --on 2026-01-02",
    ):
        _typed(command)

    def told() -> list[Step]:
        store = open_store(str(tmp_path / "book.sqlite"))
        try:
            return next_steps(dossiers(store, ["C-735"])[0])
        finally:
            store.close()

    return told


def _typed(command: str) -> None:
    assert main(shlex.split(command)) == 0, command


def _log(swings: str, on: str, position: str = "A") -> None:
    _typed(f"log C-735 {swings} --position {position} --distance 25 --instrument I-1 --accept --on {on}")


def test_what_was_bored_and_not_measured_since_is_to_be_measured_there(steps: Steps) -> None:
    (step,) = steps()
    assert step.says.startswith("Worked on, and not measured since")
    assert step.command == "qclog measure C-735 --setup L2 --positions A --distance 25"


def test_what_is_not_yet_decided_says_how_many_days_would_tell(steps: Steps) -> None:
    _log("4.2 5.0 4.4", MONTHS[0])
    (step,) = steps()
    assert step.says.startswith("Not yet decided: one clamping on")
    assert step.command.endswith("--instrument I-1 --clampings 1")


def test_what_wears_is_cleaned_first_then_kept_for_coarser_work_or_scrapped(
    steps: Steps, capsys: pytest.CaptureFixture[str]
) -> None:
    for i, month in enumerate(MONTHS):
        _log(f"{8 + 2 * i} {8.4 + 2 * i} {8.2 + 2 * i}", month)
    clean, keep, scrap = steps()
    assert clean.says == "Clean it, stone off any burr and measure again."
    assert clean.command.startswith("qclog measure C-735 --setup L2 --positions A --distance 25")
    assert re.fullmatch(r"qclog state C-735 restricted --to \d+um --reason worn", keep.command)
    assert scrap.command == "qclog state C-735 scrap --reason worn"
    for command in (keep.command, scrap.command):
        _typed(command.removeprefix("qclog "))
    assert "C-735 is scrap." in capsys.readouterr().err
    assert steps() == []


def test_what_fails_at_one_key_position_only_is_not_said_to_be_scrapped(steps: Steps) -> None:
    for month in MONTHS[:4]:
        _log("4.2 4.6 4.4", month)
        _log("14.2 14.6 14.4", month, position="B")
    told = " ".join(step.says + step.command for step in steps())
    assert "Do not use it in L2, position B, 25 mm out; elsewhere keep it." in told
    assert "scrap" not in told


def test_a_cracked_one_is_to_be_marked_and_taken_out_whatever_it_read(steps: Steps) -> None:
    _log("4.2 4.6 4.4", MONTHS[0])
    _typed("inspect C-735 crack --on 2026-02-01")
    assert steps() == [Step("Mark it and take it out of use.", 'qclog state C-735 scrap --reason "cracked"')]


def test_after_a_crash_it_is_to_be_measured_then_to_be_found_sound(steps: Steps) -> None:
    for month in MONTHS[:4]:
        _log("4.2 4.6 4.4", month)
    _typed("inspect C-735 crash --on 2026-04-20T08:00")
    first = steps()[0]
    assert first.says.startswith("Look for cracks, then measure it again")
    _log("4.2 4.6 4.4", MONTHS[4])
    measured = steps()
    assert measured[0].command == 'qclog inspect C-735 sound --note "how you know"'
    assert not any("then measure it again" in step.says for step in measured)
    _typed(measured[0].command.removeprefix("qclog "))
    assert not any("crash" in step.says for step in steps())


def test_a_face_is_to_be_logged_on_its_circle_never_measured_as_run_out(steps: Steps) -> None:
    _typed('limit C-735 9um --characteristic "face runout"')
    face = 'log C-735 4.2 4.6 4.4 --characteristic "face runout" --diameter 40 --position A --instrument I-1 --accept'
    _typed(f"{face} --on {MONTHS[0]}")
    (command,) = [step.command for step in steps() if "face runout" in step.command]
    assert command.startswith(
        'qclog log C-735 SWING --characteristic "face runout" --setup L2 --position A --diameter 40'
    )


def test_a_gauge_that_is_overdue_is_told_on_the_page_of_what_it_measured(
    steps: Steps, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(times, "now", lambda: "2026-06-01T12:00:00+00:00")
    for month in MONTHS[:5]:
        _log("4.2 4.6 4.4", month)
    assert [step.says[:15] for step in steps()] == ["Nothing is due."]
    _typed("instrument calibrate I-1 --on 2026-01-12 --due 2026-02-12 --uncertainty 0.4um")
    assert [step.says for step in steps()] == ["Gauges overdue: I-1, was due 2026-02-12."]


def test_a_next_check_that_is_past_is_to_be_made_now(steps: Steps, monkeypatch: pytest.MonkeyPatch) -> None:
    for month in MONTHS[:5]:
        _log("4.2 4.6 4.4", month)
    monkeypatch.setattr(times, "now", lambda: "2026-06-01T12:00:00+00:00")
    (ahead,) = steps()
    assert ahead.says.startswith("Nothing is due. Checked as often as so far, the next check falls on about 2026-06-0")
    monkeypatch.setattr(times, "now", lambda: "2026-06-20T12:00:00+00:00")
    (now,) = steps()
    assert now.says.startswith("Checked as often as so far, it would have been checked again about 2026-06-0")
    assert now.says.endswith("check it now.")
    assert now.command == ahead.command
