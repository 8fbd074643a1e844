"""A toolmaker asks how good the measuring is: plans the shortest study, logs it line by line, and is told what to mend.

What is read is our own simulation: re-clamping 1 µm, pins 1 µm apart, reading 0.15 µm, positions at 6 and 10 µm.
"""

import json
import random
from pathlib import Path

import pytest

from qclog.cli.main import main

ENTERED = (
    ("setup", "add", "L2", "--positions", "A,B"),
    ("item", "add", "C-735", "--kind", "collet", "--size", "7.36", "--made-to", "14um@25mm"),
    ("pin", "add", "P-735", "--diameter", "7.348"),
    ("pin", "add", "P-736", "--diameter", "7.349"),
    ("instrument", "add", "I-1", "--division", "0.2um", "--kind", "electronic"),
    ("instrument", "calibrate", "I-1", "--on", "2026-01-12", "--due", "2027-01-12", "--uncertainty", "0.4um"),
)


def test_from_a_plan_to_what_to_mend_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "workshop.sqlite"))

    def told(*arguments: str) -> str:
        capsys.readouterr()
        assert main(list(arguments)) == 0, (arguments, capsys.readouterr().err)
        return capsys.readouterr().out

    for command in ENTERED:
        told(*command)
    asked = ("study", "C-735", "--plan", "--pins", "P-735,P-736", "--people", "AK,MO")
    plan = json.loads(told(*asked, "--json"))["answers"][0]
    shown = told(*asked)
    assert len(plan["steps"]) == 24
    assert "24  MO" in shown
    assert "--same-clamping" in shown

    chance = random.Random(2)
    level = {"A": 6.0, "B": 10.0, "P-735": 0.5, "P-736": -0.5}
    for number, step in enumerate(plan["steps"]):
        swing = level[step["position"]] + level[step["pin"]] + chance.gauss(0.0, 1.0)
        readings = [f"{swing + chance.gauss(0.0, 0.15):.1f}" for _ in range(plan["readings"])]
        where = ("--position", step["position"], "--pin", step["pin"], "--operator", step["person"])
        when = ("--on", f"2026-03-02T{8 + number // 10:02d}:{number % 10 * 6:02d}")
        told("log", "C-735", *readings, "--same-clamping", *where, "--instrument", "I-1", "--distance", "25", *when)

    found = json.loads(told("study", "C-735", "--json"))["answers"][0]
    assert (found["balanced"], found["clampings"], found["readings"]) == (True, 24, 48)
    parts = {part["cause"]: part for part in found["parts"]}
    assert parts["clamping"]["low_um"] < 1.0 < parts["clamping"]["high_um"]
    assert parts["reading"]["low_um"] < 0.15 < parts["reading"]["high_um"]
    assert found["parts"][0]["cause"] == "clamping"
    assert "Mend first: re-clamping" in " ".join(told("study", "C-735").split())

    budget = told("uncertainty", "C-735", "--position", "A")
    assert "indicator, by its certificate" in budget
    assert "on pin P-7" in budget
    assert "within that day as far as can be told" in " ".join(told("chart", "C-735").split())
