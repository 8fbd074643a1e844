"""A guided occasion on a real serial line that misbehaves: it goes on, and only what is true is logged.

The hands press the data button at every prompt, and once more where a reading was refused or never came.
"""

import contextlib
import io
import json
import os
import queue
import random
import re
import threading
import time
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

import instruments.indicator
from instruments.lines import QUIET_SECONDS
from instruments.profile_files import load_profile
from instruments.serving import Serving
from instruments.simulated import Fault, SimulatedIndicator, Spindle
from qclog.cli.main import main
from qclog.cli.screen import Screen
from qclog.logbook import schema
from qclog.logbook.engine import open_store

pytestmark = pytest.mark.skipif(not hasattr(os, "openpty"), reason="this system has no pseudo-terminals")

PULLS = int(os.environ.get("QCLOG_TEST_PULLS", "4"))
DOUBLE_SECONDS = 0.1
NO_ANSWER_SECONDS = 1.7  # longer than a cut line is waited for, so that nobody presses twice
ALWAYS_ANSWERED_SECONDS = 60.0  # of a fault that is always answered: a busy computer makes nobody press twice


class Counting(SimulatedIndicator):
    """An indicator that never reads the same twice: its n-th reading is 0.020 mm and n times 0.001."""

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        del seconds, angle_deg, unit
        return Decimal(20 + number).scaleb(-3)


class FrozenAtFirst(SimulatedIndicator):
    """An indicator that stands still for a whole turn."""

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        return Decimal("0.004") if number < 5 else super()._value(number, seconds, angle_deg, unit)


class Hands:
    """Presses the button whenever it is asked for, in a thread of its own, and again after ``patience`` seconds without
    an answer. ``before`` is called before each press, with its number."""

    def __init__(self, served: Serving, before: Callable[[Serving, int], None], patience: float) -> None:
        self._served, self._before, self._patience = served, before, patience
        self._heard: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._press, daemon=True)
        self._thread.start()

    def hear(self, text: str) -> None:
        self._heard.put(text)

    def stop(self) -> None:
        self._stop.set()
        self._thread.join()

    def _press(self) -> None:
        angle: float | None = None
        pressed = 0
        while not self._stop.is_set():
            try:
                text = self._heard.get(timeout=self._patience)
            except queue.Empty:
                text = "again" if angle is not None else ""
            if found := re.match(r"Turn (?:to (\d+)°|once round)", text):
                angle = float(found[1] or 0)
            elif "read once more" in text:  # a question: the clamping is read again from its beginning
                angle = 0.0
            elif text != "again" and ("NOT taken" not in text or "second press" in text or angle is None):
                continue
            # The first line behind a pause is known to be whole; two presses are never so close as one doubled.
            time.sleep(1.1 * DOUBLE_SECONDS if pressed else 2 * QUIET_SECONDS)
            self._before(self._served, pressed)
            self._served.press(angle)
            pressed += 1


@pytest.fixture
def book(tmp_path: Path) -> str:
    """Where the logbook is."""
    return str(tmp_path / "book.sqlite")


@pytest.fixture
def measured(
    book: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Iterator[Callable[..., str]]:
    """``measured(indicator, clampings, before)``: an occasion at position A by the data button alone; what it said.

    These hands are quick: a second press is told from the next one by less time than theirs take between two.
    """
    monkeypatch.setenv("QCLOG_LOGBOOK", book)
    monkeypatch.setattr(instruments.indicator, "DOUBLE_SECONDS", DOUBLE_SECONDS)
    for command in (
        ["setup", "add", "L2", "--positions", "A,B"],
        ["item", "add", "C-735", "--kind", "collet", "--size", "7.35", "--made-to", "50um@25mm"],
        ["instrument", "add", "I-1", "--division", "1um", "--kind", "electronic"],
    ):
        assert main(command) == 0
    with contextlib.ExitStack() as stack:

        def occasion(
            indicator: SimulatedIndicator,
            clampings: int = 2,
            steps: int = 4,
            before: Callable[[Serving, int], None] = lambda *_: None,
            patience: float = NO_ANSWER_SECONDS,
        ) -> str:
            served = stack.enter_context(Serving(indicator))
            hands = Hands(served, before, patience)
            stack.callback(hands.stop)
            spoken = Screen.say

            def say(screen: Screen, text: str, *, bells: int = 0) -> None:
                spoken(screen, text, bells=bells)
                hands.hear(text)

            monkeypatch.setattr(Screen, "say", say)
            monkeypatch.setattr("sys.stdin", io.StringIO(""))
            capsys.readouterr()
            code = main(
                ["measure", "C-735", "--setup", "L2", "--positions", "A", "--clampings", str(clampings),
                 "--steps", str(steps),
                 "--instrument", "I-1", "--profile", indicator.profile.name, "--port", served.address,
                 "--to-the-end"]
            )  # fmt: skip
            said = capsys.readouterr().err
            assert code == 0, said
            return said

        yield occasion


def _readings(book: str) -> list[list[int]]:
    """The readings logged, whole um, a list for each turn that counts."""
    store = open_store(book)
    turn, reading = schema.turn, schema.reading
    with store.reading() as connection:
        struck = sa.select(schema.strike.c.clamping_id)
        rows = connection.execute(
            sa.select(turn.c.id, reading.c.value_pm)
            .join(reading, reading.c.turn_id == turn.c.id)
            .where(turn.c.clamping_id.not_in(struck))
            .order_by(turn.c.id, reading.c.rank)
        ).all()
    store.close()
    turns: dict[int, list[int]] = {}
    for turn_id, value in rows:
        turns.setdefault(turn_id, []).append(round(value / 1e6))
    return list(turns.values())


def _kept_text(book: str) -> list[tuple[str, str]]:
    store = open_store(book)
    with store.reading() as connection:
        rows = connection.execute(
            sa.select(schema.doubt.c.why, schema.doubt.c.typed).where(schema.doubt.c.answer == "withdrawn")
        ).all()
    store.close()
    return [(row.why, row.typed) for row in rows]


SPINDLE = Spindle(eccentricity_um=5.08, high_spot_deg=90.0, noise_um=0.0)
TURN = [0, 5, 0, -5]
REFUSED = {
    "cut": "",
    "noise": "",
    "hold": "hold",
    "max": "max",
    "over range": "over_range",
    "low battery": "",
    "double": "double",
}


@pytest.mark.parametrize("kind", [*REFUSED, "unit", "silence", "disconnect", "burst"])
def test_a_fault_of_the_line_makes_no_wrong_reading_and_ends_no_occasion(
    measured: Callable[..., str], book: str, kind: Any
) -> None:
    """Fault after fault at the 2nd and the 7th reading; the inch of the switched unit is turned into micrometres."""
    faults = (Fault(kind, 1), Fault(kind, 6))
    answered = kind == "unit" or bool(REFUSED.get(kind))
    said = measured(
        SimulatedIndicator(load_profile("ascii-button"), SPINDLE, faults=faults),
        patience=ALWAYS_ANSWERED_SECONDS if answered else NO_ANSWER_SECONDS,
    )
    assert _readings(book) == [TURN, TURN]
    assert said.count(" logged: ") == 2
    if REFUSED.get(kind):
        assert [why for why, _ in _kept_text(book) if why == REFUSED[kind]] == [REFUSED[kind]] * 2
        assert said.count("NOT taken") >= 2


def test_a_frozen_indicator_is_asked_about_and_the_clamping_read_again_by_the_button(
    measured: Callable[..., str], book: str
) -> None:
    said = measured(FrozenAtFirst(load_profile("ascii-button"), SPINDLE), clampings=1)
    assert "all round. Is the indicator frozen, on hold, or touching at all?" in said
    assert _readings(book) == [TURN]


def test_the_same_read_twice_answers_a_doubt_without_the_keyboard(measured: Callable[..., str], book: str) -> None:
    said = measured(SimulatedIndicator(load_profile("ascii-button"), Spindle(400.0, 90.0, noise_um=0.0)), clampings=1)
    assert "16 times its limit" in said
    assert "read twice alike" in said
    assert _readings(book) == [[0, 400, 0, -400]]


def test_a_cable_pulled_and_put_back_at_random_loses_nothing_accepted_and_doubles_nothing(
    measured: Callable[..., str], book: str
) -> None:
    """Each reading is unlike every other one, and each that was said to be taken is logged once, in its order. The
    cable is out for up to 0.6 s, pulled between two presses or as one is on its way."""
    chance = random.Random(20)
    clampings = 2 * PULLS
    moments = set(chance.sample(range(1, clampings), PULLS))
    timers: list[threading.Timer] = []

    def pull(served: Serving, number: int) -> None:
        if number in moments:
            out = chance.uniform(0.0, 0.02)
            timers.append(threading.Timer(out, served.pull_out))
            timers.append(threading.Timer(out + chance.uniform(0.05, 0.6), served.put_back))
            for timer in timers[-2:]:
                timer.start()

    said = measured(Counting(load_profile("ascii-button")), clampings, 1, pull)
    for timer in timers:
        timer.join()
    taken = [round(float(text) * 1_000) for text in re.findall(r"^  (\S+)mm  taken", said, flags=re.MULTILINE)]
    assert len(taken) == len(set(taken)) == clampings
    assert _readings(book) == [[value] for value in taken]
    assert "The indicator is gone" in said


def test_inches_on_the_gauge_are_never_taken_for_millimetres(
    measured: Callable[..., str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The gauge shows inches from the beginning; the plan, the limit and the card of the indicator are metric."""
    measured(SimulatedIndicator(load_profile("ascii-button"), Spindle(25.4, 90.0, noise_um=0.0), unit="in"))
    assert main(["assess", "C-735", "--json"]) == 0
    (group,) = json.loads(capsys.readouterr().out)["answers"][0]["groups"]
    assert group["tir_um"]["mean"] == pytest.approx(50.8)
