"""A spindle turned by hand under a stream, over a real serial line: swing, and with a mark or an encoder its angle."""

import json
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from instruments.profile_files import load_profile
from instruments.serving import Serving
from instruments.simulated import SimulatedIndicator, Spindle
from qclog.cli.main import main
from qclog.cli.screen import Screen

pytestmark = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")

SPINDLE = Spindle(6.0, 205.0, lobes=((3, 0.3, 10.0),), noise_um=0.15, seconds_per_turn=2.5, unevenness=0.15)


class Foot:
    """A foot on the switch: Enter as a turn is to begin, and with ``marks`` each time the spindle's mark passes."""

    def __init__(self, served: Serving, keyboard: int, *, marks: bool) -> None:
        self._served, self._keyboard, self._marks = served, keyboard, marks
        self._begun = time.monotonic()
        served.begin()
        self.stop = threading.Event()

    def hear(self, text: str) -> None:
        if text.startswith(("Enter, then turn", "Spindle's mark")):
            time.sleep(0.3)  # the stream is heard by then
            self.press()
            if self._marks:
                threading.Thread(target=self._mark, daemon=True).start()
        elif "is silent" in text:
            time.sleep(0.3)
            self.press()

    def press(self) -> None:
        os.write(self._keyboard, b"\n")

    def _mark(self) -> None:
        spindle = self._served.indicator.spindle
        turns = self._turns(spindle)
        while not self.stop.wait(0.002):
            if self._turns(spindle) > turns:
                turns += 1
                self.press()

    def _turns(self, spindle: Spindle) -> int:
        return int(spindle.angle_deg(time.monotonic() - self._begun) // 360)


@pytest.fixture
def turned(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Any]:
    """``turned(profile, steps, marks)``: one clamping; its group in ``assess --json``."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35", "--made-to", "20um@25mm"],
        ["instrument", "add", "I-1", "--division", "0.1um", "--kind", "electronic"],
    ):
        assert main(command) == 0
    reads, writes = os.pipe()
    spoken = Screen.say

    def occasion(profile: str, steps: int, *, marks: bool = False) -> Any:
        indicator = SimulatedIndicator(load_profile(profile), SPINDLE, per_second=60.0)
        with Serving(indicator, at_once=False) as served, os.fdopen(reads, encoding="utf-8") as typed:
            foot = Foot(served, writes, marks=marks)

            def say(screen: Screen, text: str, *, bells: int = 0) -> None:
                spoken(screen, text, bells=bells)
                foot.hear(text)

            monkeypatch.setattr(Screen, "say", say)
            monkeypatch.setattr("sys.stdin", typed)
            code = main(
                ["measure", "C-735", "--setup", "L2", "--positions", "A", "--clampings", "1", "--steps", str(steps),
                 "--instrument", "I-1", "--profile", profile, "--port", served.address]
            )  # fmt: skip
            foot.stop.set()
            os.close(writes)
        assert code == 0, capsys.readouterr().err
        capsys.readouterr()
        assert main(["assess", "C-735", "--json"]) == 0
        (group,) = json.loads(capsys.readouterr().out)["answers"][0]["groups"]
        return group

    return occasion


def test_freely_turned_the_swing_is_recovered(turned: Callable[..., Any]) -> None:
    group = turned("ascii-lines", 1)
    assert group["tir_um"]["mean"] == pytest.approx(SPINDLE.swing_um, abs=0.5)
    assert group["eccentricity"] is None


def test_with_the_mark_the_angle_is_recovered_too(turned: Callable[..., Any]) -> None:
    group = turned("ascii-lines", 1, marks=True)
    assert group["tir_um"]["mean"] == pytest.approx(SPINDLE.swing_um, abs=0.5)
    assert group["eccentricity"]["high_spot_deg"] == pytest.approx(SPINDLE.high_spot_deg, abs=25.0)


@pytest.mark.parametrize("steps", [1, 12])
def test_with_an_encoder_once_round_gives_swing_and_angle(turned: Callable[..., Any], steps: int) -> None:
    group = turned("ascii-encoder", steps)
    assert group["tir_um"]["mean"] == pytest.approx(SPINDLE.swing_um, abs=0.6)
    assert group["eccentricity"]["high_spot_deg"] == pytest.approx(SPINDLE.high_spot_deg, abs=4.0)
