"""The page of one item: what stands in its column of readings."""

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from qclog.cli.main import main
from reports.tables import WIDTH
from reports.turns import without_unit

Show = Callable[..., str]


@pytest.fixture
def show(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Show:
    """Logs one clamping of C-1 in a setup, and gives what its page says of it, however it is folded."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["item", "add", "C-1"]) == 0
    assert main(["setup", "add", "L1"]) == 0
    assert main(["setup", "add", "L2", "--counterclockwise"]) == 0

    def call(*arguments: str, setup: str = "L1") -> str:
        assert main(["log", "C-1", *arguments, "--setup", setup, "--distance", "16", "--accept"]) == 0
        capsys.readouterr()
        assert main(["item", "show", "C-1"]) == 0
        newest = re.split(r"\n {4}(?=\d)", capsys.readouterr().out)[-1]
        return " ".join(newest.split()).replace(" tester", "")  # who logged it stands beside the first line

    return call


def _around(*lobes: tuple[int, float, float]) -> str:
    angles = np.radians(np.arange(0, 360, 30))
    values = np.sum([a * np.cos(k * (angles - np.radians(high))) for k, a, high in lobes], axis=0)
    return " ".join(f"{value:.1f}" for value in values)


def test_quarter_turns_show_their_swing_with_the_high_spot(show: Show) -> None:
    assert "4 1 -3 0 at 16 mm = 7.1 µm TIR @ 8°" in show("--quarters", "4 1 -3 0")


def test_where_lobes_make_the_swing_another_the_once_per_turn_part_stands_beside_it(show: Show) -> None:
    assert " at 16 mm = 8.0 µm TIR @ 70°" in show("--around", _around((1, 4, 70)))
    line = show("--around", _around((1, 4, 70), (3, 1.2, 70)))
    assert re.search(r" = 10\.[45] µm TIR, once per turn 8\.0 µm @ 70°", line)


def test_in_a_setup_counted_counterclockwise_the_high_spot_stands_as_it_is_counted_there(show: Show) -> None:
    assert "= 7.1 µm TIR @ 8°" in show("--quarters", "4 1 -3 0", setup="L2")


def test_a_swing_stands_as_it_was_typed(show: Show) -> None:
    assert "5um@120 at 16 mm" in show("5um@120")
    assert "TIR" not in show("5um@120")


def test_a_turn_of_twelve_readings_stays_within_the_terminal(show: Show, capsys: pytest.CaptureFixture[str]) -> None:
    note = "the pin was wiped once more and pushed in as far as it goes"
    show("--around", _around((1, 14.2, 70), (3, 11.2, 70)), "--note", note, "--on", "2026-03-02T10:00")
    assert main(["item", "show", "C-1"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= WIDTH
    turn = lines[lines.index("  as received, in L1 revision 1:") + 2 :]
    assert len(turn) > 1  # folded, and nothing of it lost
    told = " ".join(" ".join(turn).split())
    assert all(word in told for word in [*note.split(), *_around((1, 14.2, 70), (3, 11.2, 70)).split()])
    assert re.search(r"= \d+\.\d µm TIR, ", " ".join(turn))


def test_a_unit_that_all_readings_of_a_turn_share_stands_once() -> None:
    assert without_unit(("4,0 um", "1,0 um", "-3,0 um")) == (["4,0", "1,0", "-3,0"], "um")
    assert without_unit(("4 um", "1 mm")) == (["4 um", "1 mm"], "")
    assert without_unit(("4 um",)) == (["4 um"], "")
    assert without_unit(("5um @ 4 o'clock", "5um @ 4 o'clock"))[1] == ""


@pytest.mark.usefixtures("show")
def test_long_turns_of_a_file_that_names_neither_gauge_nor_reader_are_folded(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head = "taken_at,item,setup,clamping,distance,kind,angle_deg,value,unit"
    rows = [f"2026-03-02,C-1,L1,1,16,point,{angle},{angle / 1000 - 0.1:.4f},mm" for angle in range(0, 360, 30)]
    (tmp_path / "turns.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    assert main(["import", str(tmp_path / "turns.csv")]) == 0
    capsys.readouterr()
    assert main(["item", "show", "C-1"]) == 0
    assert max(len(line) for line in capsys.readouterr().out.splitlines()) <= WIDTH
