"""From an empty logbook to what the spread is made of, by the data button alone, as a user would.

What is told is held against the truth of the simulation: re-clamping 2 µm, two pins 11.9 µm apart, and readings to the
micrometre that scatter by 0.5 µm.
"""

import cmath
import csv
import json
import math
import os
import re
import shlex
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX; there a socket stands in for one")

REPEAT_UM, NOISE_UM, STEP_UM = 2.0, 0.5, 1.0
PINS = {"P-735": cmath.rect(3.0, math.radians(40)), "P-736": cmath.rect(9.0, math.radians(200))}
PRESSES = 10
"""Of a clamping: twice four quarters and the return to zero."""


def _clamped(said: str) -> str:
    """What the last prompt wants clamped, typed to the simulation as it is said."""
    return str(re.findall(r"--- clamping \d+ of \d+: (.*) ---", said)[-1])


def test_a_new_user_learns_what_to_mend_first_by_the_data_button_alone(
    program: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "new.sqlite"))
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.36", "--made-to", "60um@25mm"],
        ["pin", "add", "P-735", "--diameter", "7.348"],
        ["pin", "add", "P-736", "--diameter", "7.349"],
        ["instrument", "add", "I-1", "--division", "1um", "--kind", "electronic"],
    ):
        assert main(command) == 0
    capsys.readouterr()
    assert main(["study", "C-735", "--plan", "--pins", "P-735,P-736", "--clampings", "2"]) == 0
    planned = capsys.readouterr().out
    (guide,) = re.findall(r"^  qclog (measure .*)$", planned, flags=re.MULTILINE)

    indicator = program(
        "simulate", "--swing", "20um", "--second", "34um@200", "--repeat", f"{REPEAT_UM}um", "--noise",
        f"{NOISE_UM}um", "--with", "P-735=3um@40", "--with", "P-736=9um@200",
    )  # fmt: skip
    port = indicator.wait_for("see the truth").split("speaks at ")[1].split()[0]
    measure = program(*shlex.split(guide), "--instrument", "I-1", "--profile", "ascii-button", "--port", port)

    def press(times: int) -> None:
        """Once more at the same angle where it was not taken, as behind a line that was just opened."""
        for _ in range(times):
            taken, refused = measure.said.count("  taken\n"), measure.said.count("NOT taken")
            indicator.type("\n")
            while measure.said.count("  taken\n") == taken:
                time.sleep(0.02)
                assert measure.process.poll() is None or measure.said.count("  taken\n") > taken, measure.said
                if measure.said.count("NOT taken") > refused:
                    refused += 1
                    time.sleep(0.45)
                    indicator.type("again\n")
            time.sleep(0.45)  # as quickly as a press counts as another one

    for clamping in range(8):
        said = measure.wait_for(f"--- clamping {clamping + 1} of 8")
        time.sleep(0.0 if clamping else 1.0)
        indicator.type(f"{_clamped(said)}\n")
        indicator.wait_for_more("clamped anew")
        if clamping != 2:
            press(PRESSES)
            continue
        press(7)
        measure.type("q\n")
        assert measure.ended() == 0, measure.said
        assert "Go on with it: qclog measure" in measure.said
        measure = program("measure")
        measure.wait_for("In the middle of clamping 3 of 8")
        time.sleep(1.0)
        press(PRESSES - 7)
    assert measure.ended() == 0, measure.said
    assert "Mend first: pin" in " ".join(measure.said.split())
    indicator.type("q\n")
    assert indicator.ended() == 0
    assert "The truth of P-736: adds 9.0 µm TIR at 200°." in indicator.said

    order = re.findall(r"^ +\d+  - +([AB]) +(P-\S+)$", planned, flags=re.MULTILINE)
    assert main(["export", "--to", str(tmp_path / "readings.csv")]) == 0
    with (tmp_path / "readings.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    made = dict.fromkeys((row["clamping"], row["position"], row["pin"]) for row in rows)
    assert [(position, pin) for _, position, pin in made] == order
    assert Counter(row["kind"] for row in rows) == {"point": 8 * 2 * 4}
    capsys.readouterr()
    assert main(["study", "C-735", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)["answers"]
    assert (len(order), answer["clampings"], answer["readings"], answer["balanced"]) == (8, 8, 16, True)
    assert answer["scale"] == "vectors"
    true = {
        "reading": 2 * math.sqrt((NOISE_UM**2 + STEP_UM**2 / 12) / 2),  # two of four readings bear on each axis
        "clamping": REPEAT_UM,
        "pin": abs(PINS["P-735"] - PINS["P-736"]) / 2,  # standard deviation of two, over both axes
    }
    parts = {part["cause"]: part for part in answer["parts"]}
    for cause, sd in true.items():
        assert parts[cause]["low_um"] < sd < parts[cause]["high_um"], cause
    assert parts["pin"]["sd_um"] == pytest.approx(true["pin"], rel=0.4)
