"""From an empty logbook to who owns the run-out and how to clock it, with a simulated indicator, as a user would."""

import json
import os
import re
import time
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX; there a socket stands in for one")


def _turned(said: str) -> str:
    """What the last prompt wants turned, as it is typed to the simulation."""
    marks = re.sub(r"\s+", " ", said.rpartition("Marks: ")[2].partition("Tighten")[0])
    return " ".join(f"{code}={at}" for code, at in re.findall(r"(\S+) (?:to|again at) ([\d.]+)°", marks))


def test_a_new_user_learns_in_one_occasion_whose_it_is_and_what_to_turn(
    program: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sleeve runs 9 um at 150 degrees, what stays 6 um at 20: the sleeve turned by 50 leaves 3 um."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "new.sqlite"))
    for command in (
        ["item", "add", "T-1", "--kind", "sleeve"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35"],
        ["setup", "add", "L2", "--parts", "T-1"],
        ["pin", "add", "P-735", "--diameter", "7.348"],
        ["instrument", "add", "I-1", "--division", "1um", "--kind", "electronic"],
    ):
        assert main(command) == 0
    assert main(["chain"]) == 0
    assert "qclog chain ITEM --plan" in capsys.readouterr().out
    assert main(["chain", "C-735", "--plan", "--turn", "T-1,P-735"]) == 0
    planned = capsys.readouterr().out
    assert "sleeve T-1, pin P-735 and what stays are told apart in 6 clampings" in " ".join(planned.split())
    guide = planned.strip().splitlines()[-1].split()
    assert guide[:3] == ["qclog", "measure", "C-735"]

    indicator = program(
        "simulate", "--swing", "6um", "--high-spot", "20", "--body", "T-1=9um@150", "--body", "P-735=2um@80",
        "--repeat", "0.4um", "--noise", "0.1um",
    )  # fmt: skip
    port = indicator.wait_for("see the truth").split("speaks at ")[1].split()[0]
    arguments = [word.strip('"') for word in guide[1:]]
    measure = program(
        *arguments, "--distance", "25", "--instrument", "I-1", "--profile", "ascii-button", "--port", port
    )  # fmt: skip
    for clamping in range(6):
        said = measure.wait_for_more("(1 of 5)")
        time.sleep(0.0 if clamping else 1.0)
        indicator.type(f"{_turned(said)}\n")
        indicator.wait_for_more("turned, clamped anew")
        for _ in range(5):
            indicator.type("\n")
            measure.wait_for_more(" taken")
            time.sleep(0.45)  # as quickly as a press counts as another one
    assert measure.ended() == 0, measure.said
    told = " ".join(measure.said.split())
    assert "the sleeve T-1 OWNS most of it" in told
    assert "Turn sleeve T-1 from" in told
    indicator.type("q\n")
    assert indicator.ended() == 0
    assert "The truth of T-1: 9.0 µm TIR at 150°, its mark at 0." in indicator.said

    capsys.readouterr()
    assert main(["chain", "C-735", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    sleeve = next(part for part in answer["distances"][0]["parts"] if part["bodies"] == ["T-1"])
    assert sleeve["tir_um"] == pytest.approx(9, abs=1.0)
    assert sleeve["high_spot_deg"] == pytest.approx(150, abs=10)
    assert answer["sense"] == "proven"
    (turn,) = answer["advice"]["turn"]
    assert turn["to_deg"] == pytest.approx(50, abs=10)
    assert answer["advice"]["expected_um"] == pytest.approx(3, abs=1.0)
    assert main(["sense", "L2"]) == 0
    assert "proven" in capsys.readouterr().out
    assert main(["assess", "C-735"]) == 0
    assert capsys.readouterr().out.count("clocked") == 1
