"""Which turns of an item are drawn: the newest at each place, and one that can tell lobes apart."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.questions.newest_turns import newest_turns
from qclog.questions.turns import ReadTurn, turns

LOBED = " ".join(f"{2 * np.cos(t) + 0.6 * np.cos(3 * t):.1f}" for t in np.radians(np.arange(0, 360, 30)))


@pytest.fixture
def read(tmp_path: Any, monkeypatch: pytest.MonkeyPatch) -> tuple[ReadTurn, ...]:
    """A turn of twelve, then two of four at A; one of four at B."""
    monkeypatch.setenv("QCLOG_LOGBOOK", str(tmp_path / "book.sqlite"))
    assert main(["setup", "add", "L2", "--positions", "A,B"]) == 0
    assert main(["item", "add", "C-1"]) == 0
    for kind, readings, position, day in (
        ("--around", LOBED, "A", "01"),
        ("--quarters", "4 1 -3 0", "A", "02"),
        ("--quarters", "4.4 1 -3 0.2", "A", "03"),
        ("--quarters", "2 1 -2 0", "B", "04"),
    ):
        place = ["--setup", "L2", "--position", position, "--distance", "16", "--on", f"2026-03-{day}", "--accept"]
        assert main(["log", "C-1", kind, readings, *place]) == 0
    store = open_store(str(tmp_path / "book.sqlite"))
    try:
        return turns(store, "C-1").turns
    finally:
        store.close()


def test_the_newest_at_each_place_and_the_newest_that_tells_lobes_apart(read: tuple[ReadTurn, ...]) -> None:
    drawn = [(one.read.position, one.read.taken_at, one.read.readings) for one in newest_turns(read)]
    assert drawn == [("A", "2026-03-03", 4), ("A", "2026-03-01", 12), ("B", "2026-03-04", 4)]


def test_the_curves_are_those_of_the_figures_told(read: tuple[ReadTurn, ...]) -> None:
    for one in newest_turns(read):
        assert np.ptp(one.curve.full_um) == pytest.approx(one.read.full_swing_um, rel=5e-4)
        assert np.ptp(one.curve.once_um) == pytest.approx(one.read.once_per_turn_um, rel=5e-4)


def test_other_distances_are_other_places(read: tuple[ReadTurn, ...]) -> None:
    far = dataclasses.replace(read[-1], distance_mm=40.0)
    assert len(newest_turns([*read, far])) == 4
