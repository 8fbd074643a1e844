"""A toolmaker proves that readings and clocking are counted the same way round, by one pin clamped three times.

The chain is a model of what happens at the machine (constructed case): the spindle runs out by F, the pin by P in
its own frame; a pin turned clockwise by a carries P to P exp(ia); the point at angle t reads Re(e exp(-it)).
"""

import cmath
import json
import math
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from qclog.cli.main import main

Run = Callable[..., str]

SPINDLE = 1.0 + 0.5j
BENT = cmath.rect(6.0, 0.4)
STRAIGHT = 0.02j
SEATS = (0.11 + 0.05j, -0.09 + 0.12j, 0.04 - 0.13j)
THIRDS = (0, 120, 240)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command that has to work on a logbook of its own, and gives what it printed."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))

    def call(*arguments: str) -> str:
        capsys.readouterr()
        assert main(list(arguments)) == 0, capsys.readouterr().err
        return capsys.readouterr().out

    for command in (
        ("setup", "add", "L2", "--positions", "A,B"),
        ("item", "add", "C-735", "--kind", "collet", "--size", "7", "--bore", "7.35"),
        ("pin", "add", "P-735", "--diameter", "7.348"),
    ):
        call(*command)
    return call


def read_at(angles_deg: Sequence[float], pin: complex, turned_deg: float, seat: complex) -> str:
    """What the indicator shows at the points of the turn, to 0.1 µm."""
    axis = SPINDLE + pin * cmath.exp(1j * math.radians(turned_deg)) + seat
    return " ".join(f"{(axis * cmath.exp(-1j * math.radians(angle))).real:.1f}" for angle in angles_deg)


def log(
    run: Run, pin: complex, *, said: Callable[[int], int] = int, backwards: bool = False, position: str = "A"
) -> None:
    """Three clampings; ``said``: what is noted for a pin truly turned so far; ``backwards``: the points are read in
    the order in which they come when the spindle is turned clockwise."""
    points = [-angle if backwards else angle for angle in (0, 90, 180, 270)]
    for turned, seat in zip(THIRDS, SEATS, strict=True):
        place = ("--setup", "L2", "--distance", "25", "--pin", "P-735") + (("--position", position) if position else ())
        clocking = ("--clocking", f"P-735={said(turned)}")
        run("log", "C-735", "--quarters", read_at(points, pin, turned, seat), *place, *clocking)


def state(run: Run) -> dict[str, Any]:
    (answer,) = json.loads(run("sense", "L2", "--json"))["answers"]
    assert isinstance(answer, dict)
    return answer


def flat(text: str) -> str:
    return " ".join(text.split())


def test_before_anything_was_tried_it_says_exactly_what_to_type_and_that_works(run: Run) -> None:
    run("log", "C-735", "4", "--setup", "L2", "--position", "B", "--distance", "25", "--pin", "P-735")
    told = run("sense", "L2")
    assert told.startswith("L2: not tried.")
    commands = re.findall(r"^  qclog (log .+)$", told, re.M)
    assert [re.findall(r"--clocking (\S+)", command) for command in commands] == [
        ["P-735=0"],
        ["P-735=120"],
        ["P-735=240"],
    ]
    for command, turned, seat in zip(commands, THIRDS, SEATS, strict=True):
        words = command.replace(' "..."', "").split()
        run(*words, read_at((0, 90, 180, 270), BENT, turned, seat))
    assert run("sense").startswith("L2: proven.")
    assert "counted clockwise from the spindle's mark" in flat(told)
    assert re.search(r"^  qclog sense L2$", told, re.M)


def test_a_chain_counted_rightly_is_proven(run: Run) -> None:
    log(run, BENT)
    answer = state(run)
    assert (answer["state"], answer["counted"], answer["setup_revision"]) == ("proven", "clockwise", 1)
    (body,) = answer["bodies"]
    assert (body["code"], body["state"], body["clampings"]) == ("P-735", "proven", 3)
    assert body["ratio"] > 99
    assert body["logged"] == [{"item": "C-735", "clampings": [1, 2, 3]}]
    assert "(P-735, 3 clampings; with one of the two reversed they would agree" in flat(run("sense"))
    assert "sense_wrong" not in run("assess", "--json")


@pytest.mark.parametrize("wrong", ["clocking", "readings"])
def test_a_chain_counted_the_wrong_way_round_is_caught_and_mended_as_advised(run: Run, wrong: str) -> None:
    if wrong == "clocking":
        log(run, BENT, said=lambda turned: -turned % 360)
    else:
        log(run, BENT, backwards=True)
    assert state(run)["state"] == "other way round"
    told = run("sense")
    assert told.startswith("L2: OTHER WAY ROUND.")
    assert "strike these clampings out and log them again" in flat(told)
    assert "does not mend it: that turns round both" in flat(told)
    assert "do not clock by its high spots" in flat(run("assess", "C-735"))

    assert "C-735 1, 2, 3" in told
    for number in ("1", "2", "3"):
        run("strike", "C-735", number, "--reason", "angles counted the other way round")
    assert state(run)["state"] == "not tried"
    for turned, seat in zip(THIRDS, SEATS, strict=True):
        noted = -turned % 360 if wrong == "clocking" else turned
        first, *rest = read_at(
            (0, -90, -180, -270) if wrong == "readings" else (0, 90, 180, 270), BENT, turned, seat
        ).split()
        # as the advice says: 240 for 120; the first reading stays and the others are taken in reverse
        again = " ".join([first, *reversed(rest)]) if wrong == "readings" else " ".join([first, *rest])
        run(
            "log",
            "C-735",
            "--quarters",
            again,
            "--clocking",
            f"P-735={(-noted % 360) if wrong == 'clocking' else noted}",
        )
    assert state(run)["state"] == "proven"
    assert "high spots" not in run("assess", "C-735")


def test_declaring_the_setup_counterclockwise_turns_both_round_and_so_proves_nothing_new(run: Run) -> None:
    run("setup", "add", "L3", "--counterclockwise")
    for backwards, expected in ((True, "proven"), (False, "other way round")):
        for turned, seat in zip(THIRDS, SEATS, strict=True):
            # a scale that runs counterclockwise: the clocking is noted as 360 - a; the readings follow it, or do not
            points = [-angle if backwards else angle for angle in (0, 90, 180, 270)]
            place = ("--setup", "L3", "--distance", "25", "--pin", "P-735", "--clocking", f"P-735={-turned % 360}")
            run("log", "C-735", "--quarters", read_at(points, BENT, turned, seat), *place)
        (answer,) = json.loads(run("sense", "L3", "--json"))["answers"]
        assert (answer["counted"], answer["state"]) == ("counterclockwise", expected)
        if backwards:
            for number in answer["bodies"][0]["logged"][0]["clampings"]:
                run("strike", "C-735", str(number), "--reason", "once more the other way")
    told = flat(run("sense", "L3"))
    assert "both are counted counterclockwise from the spindle's mark" in told
    assert "turn the spindle clockwise, so that the points come under it in counterclockwise order" in told


def test_a_straight_pin_cannot_tell_and_a_bent_one_is_asked_for(run: Run) -> None:
    log(run, STRAIGHT)
    answer = state(run)
    assert answer["state"] == "cannot tell"
    told = flat(run("sense", "l2"))
    assert told.startswith("L2: cannot tell.")
    assert "Turn a pin with a larger run-out, or log each clocking again." in told
    assert "sense_wrong" not in run("assess", "--json")


def test_of_several_setups_each_has_its_sentence(run: Run) -> None:
    run("setup", "add", "L3")
    log(run, BENT)
    told = run("sense")
    assert told.startswith("2 setups: 1 not tried, 1 proven.")
    assert re.search(r"^L2: proven\.", told, re.M)
    assert re.search(r"^L3: not tried\.", told, re.M)
    assert "qclog sense SETUP" in told


def test_without_setups_it_says_how_to_enter_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "empty.sqlite"))
    assert main(["sense"]) == 3
    assert main(["item", "add", "C-1"]) == 0
    capsys.readouterr()
    assert main(["sense"]) == 0
    assert capsys.readouterr().out.startswith("No setups yet.")
    assert main(["sense", "L9"]) == 3
