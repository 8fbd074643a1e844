"""Recorded occasions: replayed they give the same readings and answers, and recorded again the same bytes."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import demo_readings
from demo_readings.sessions import BUTTON, CLAMPINGS, NORTH, SLEEVE_CLEANED, SOUTH, TURNED, make
from instruments.recordings import read_recording
from instruments.records import Bytes
from qclog.cli.main import main
from qclog.logbook.engine import open_store
from qclog.logbook.life import read_life

SHIPPED = Path(demo_readings.__path__[0]) / "sessions"
BY_BUTTON = (
    BUTTON, "ascii-button", "B-945", "--positions", "N,S", "--pin", "P-945", "--clampings", str(CLAMPINGS),
)  # fmt: skip
BY_HAND = (TURNED, "ascii-lines", "B-670", "--positions", "N", "--pin", "P-670", "--clampings", "4", "--steps", "1")
Replay = Callable[..., list[Any]]


@pytest.fixture
def replay(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Replay:
    """``replay(file, profile, item, *options)``: the turns it logs in the demonstration's logbook, and in ``again``
    what was recorded meanwhile."""
    book = str(tmp_path / "book.sqlite")
    monkeypatch.setenv("QCLOG_LOGBOOK", book)
    assert main(["demo", "--keep", book]) == 0

    def measure(file: str, profile: str, item: str, *options: str) -> list[Any]:
        (tmp_path / "again.jsonl").unlink(missing_ok=True)
        begun = len(_life(book, item))
        code = main(
            ["measure", item, "--setup", "LATHE-A", "--instrument", "E-1", "--to-the-end", "--profile", profile,
             "--port", str(SHIPPED / file), "--record", str(tmp_path / "again.jsonl"), *options]
        )  # fmt: skip
        assert code == 0, capsys.readouterr().err
        return _life(book, item)[begun:]

    return measure


def _life(book: str, item: str) -> list[Any]:
    store = open_store(book)
    with store.reading() as connection:
        found = read_life(connection, item).clampings
    store.close()
    return [(one.position, one.turns[0].texts) for one in found if not one.struck]


def test_made_anew_they_are_the_same_to_the_byte(tmp_path: Path) -> None:
    make(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        path.name: path.read_bytes() for path in SHIPPED.iterdir()
    }


@pytest.mark.parametrize("occasion", [BY_BUTTON, BY_HAND], ids=["by button", "turned by hand"])
def test_replayed_twice_they_give_the_same_and_recorded_again_the_same_bytes(
    replay: Replay, tmp_path: Path, occasion: tuple[str, ...]
) -> None:
    once = replay(*occasion)
    assert (tmp_path / "again.jsonl").read_bytes() == (SHIPPED / occasion[0]).read_bytes()
    assert replay(*occasion) == once


def test_by_button_each_reading_is_what_came_in_but_for_hold_bounce_and_what_was_taken_back(replay: Replay) -> None:
    sent = [
        one.data.decode().split()[1] for one in read_recording(SHIPPED / BUTTON)
        if isinstance(one, Bytes) and one.data.startswith(b"N")
    ]  # fmt: skip
    bounced = 22  # the 23rd line sent twice, as one reading too many; taken back a moment later
    del sent[bounced]
    logged = replay(*BY_BUTTON)
    assert [position for position, _ in logged] == list("NSSNNSSNNS")
    in_turns = [sent[i : i + 4] for i in range(0, len(sent), 5)]
    assert [[float(text.removesuffix("mm")) for text in texts] for _, texts in logged] == [
        [float(text) for text in turn] for turn in in_turns
    ]


def test_by_button_the_position_that_runs_truer_is_found(replay: Replay, capsys: pytest.CaptureFixture[str]) -> None:
    replay(*BY_BUTTON)
    capsys.readouterr()
    assert main(["assess", "B-945", "--json"]) == 0
    groups = json.loads(capsys.readouterr().out)["answers"][0]["groups"]
    for place, spindle in (("N", NORTH), ("S", SOUTH)):
        (group,) = [one for one in groups if one["position"] == place and one["distance_mm"] == 25]
        assert group["tir_um"]["last"] == pytest.approx(spindle.swing_um, abs=1.5)


def test_turned_by_hand_the_swing_and_its_direction_are_those_of_the_spindle(replay: Replay) -> None:
    for _, (text,) in replay(*BY_HAND):
        swing, _, where = text.partition("um@")
        angle, _, within = where.partition("±")
        assert float(swing) == pytest.approx(SLEEVE_CLEANED.swing_um, abs=0.8)  # re-clamped: 0.4 um on each axis
        assert abs(float(angle) - SLEEVE_CLEANED.high_spot_deg) <= float(within)
