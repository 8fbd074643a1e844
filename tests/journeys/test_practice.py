"""From a simulated indicator to a verdict, as a user would: two programs, a real serial line, no keyboard."""

import json
import math
import os
import time
from typing import Any

import pytest

from qclog.cli.main import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX; there a socket stands in for one")


def _port(said: str) -> str:
    return said.split("speaks at ")[1].split()[0]


def test_two_positions_are_told_apart_by_the_data_button_alone(
    program: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """5 um at 120 degrees against 11 um at 200, six clampings each at the most; the keyboard is not touched.

    Presses come so far apart that a busy computer never takes two for one pressed twice.
    """
    indicator = program(
        "simulate", "--swing", "5um", "--second", "11um@200", "--repeat", "0.6um", "--noise", "0.1um",
        "--every", "0.8",
    )  # fmt: skip
    port = _port(indicator.wait_for("see the truth"))
    measure = program(
        "measure", "C-735", "--positions", "A,B", "--instrument", "I-1", "--profile", "ascii-button",
        "--port", port, "--to-the-end",
    )  # fmt: skip
    measure.wait_for("Turn to 0°")
    time.sleep(1.0)
    indicator.type("\n")
    assert measure.ended() == 0, measure.said
    assert "position A is BETTER than B" in " ".join(measure.said.split())
    assert "KEY OUT; only then power" in measure.said
    indicator.type("q\n")
    assert indicator.ended() == 0
    assert "The truth, position A: 5.0 µm TIR" in indicator.said
    capsys.readouterr()
    assert main(["assess", "C-735", "--json"]) == 0
    for group in json.loads(capsys.readouterr().out)["answers"][0]["groups"]:
        size, direction = {"A": (5.0, 120.0), "B": (11.0, 200.0)}[group["position"]]
        found = group["eccentricity"]
        away = abs(complex(*_xy(found["tir_um"], found["high_spot_deg"])) - complex(*_xy(size, direction)))
        assert group["clampings"] == 6
        assert away < 1.2  # six clampings with a repeat of 0.6 and readings to a micrometre


def test_a_slow_turn_in_a_stream_recovers_the_swing(program: Any, capsys: pytest.CaptureFixture[str]) -> None:
    indicator = program("simulate", "ascii-lines", "--swing", "12um", "--repeat", "0um", "--turn", "6")
    port = _port(indicator.wait_for("see the truth"))
    measure = program(
        "measure", "C-735", "--positions", "A", "--steps", "1", "--clampings", "1", "--instrument", "I-1",
        "--profile", "ascii-lines", "--port", port,
    )  # fmt: skip
    measure.wait_for("Enter, then turn")
    time.sleep(1.5)
    measure.type("\n")
    assert measure.ended() == 0, measure.said
    capsys.readouterr()
    assert main(["assess", "C-735", "--json"]) == 0
    (group,) = json.loads(capsys.readouterr().out)["answers"][0]["groups"]
    assert group["tir_um"]["mean"] == pytest.approx(12.0, abs=0.8)


def _xy(size: float, degrees: float) -> tuple[float, float]:
    return size * math.cos(math.radians(degrees)), size * math.sin(math.radians(degrees))
