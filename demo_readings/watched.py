"""How good the measuring of the invented workshop is, and whether what it reads every morning stays as it was."""

import datetime
import random
from collections.abc import Iterator
from statistics import NormalDist
from typing import Final

from demo_readings.bench import FINE, MM, UM, Bench, Runs
from demo_readings.collets import bored, received
from demo_readings.diary import Event, Place, event, logged, made_to, sitting
from qclog.logbook import gauges, items, setups
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card

_STUDIED: Final = Place("LATHE-C", "", 20)
_PINS: Final = ("P-1125", "P-1125L")
_ORDER: Final = (
    (("AK", _PINS), ("MÖ", _PINS[::-1])),
    (("MÖ", _PINS), ("AK", _PINS[::-1])),
    (("AK", _PINS), ("MÖ", _PINS)),
)
_PIN_UM: Final = {"P-1125": -0.5, "P-1125L": 0.5}
_PERSON_UM: Final = {"AK": -0.1, "MÖ": 0.1}

_WATCHED: Final = Place("WORKHEAD", "", 60)
_FIRST_MORNING: Final = "2026-08-24"
_MORNINGS: Final = 24
_MOVED_AFTER: Final = 15
"""From the next morning on the mandrel's taper has a dent."""


def events() -> list[Event]:
    return [*_study(), *_mornings()]


def _study() -> list[Event]:
    """A collet, two pins, two persons, each clamping read twice before it is opened; on two days."""
    story = [
        received("B-1128", 11.28, "2026-08-17"),
        event("2026-08-17", "pins of the study", "AK", _study_pins),
        bored("2026-08-18", "B-1128", 11.28, (), place=_STUDIED),
    ]
    thrown = random.Random("B-1128 study")

    def by(sd: float) -> float:
        return NormalDist().inv_cdf(thrown.random()) * sd

    for day in ("2026-09-17", "2026-09-18"):
        level = 6.0 + by(0.3)
        for who, pins in (one for turn in _ORDER for one in turn):
            for pin in pins:
                clamped = level + _PIN_UM[pin] + _PERSON_UM[who] + by(0.8)
                swings = [f"{round((clamped + by(0.25)) / FINE.step_um) * FINE.step_um:.1f}" for _ in range(2)]
                story.append(logged(day, "B-1128", _STUDIED, FINE, pin, who=who, swings=swings, same_clamping=True))
    return story


def _study_pins(entry: Entry, register: Register) -> None:
    for code, below_um, roundness_um in ((_PINS[0], 6, 0.3), (_PINS[1], 7, 0.6)):
        diameter, roundness = 11_250 * UM - below_um * UM, round(roundness_um * UM)
        gauges.add_pin(
            entry, register, code, diameter_pm=diameter, roundness_pm=roundness, kind="pin", grade="Z, minus"
        )


def _mornings() -> list[Event]:
    """The check mandrel in the grinder's workhead, read every working morning; one day it has moved."""
    bench = Bench("MD-60")
    before, after = Runs(2.8, 120, 0.15, 0.25), Runs(4.4, 135, 0.15, 0.25)
    story = [event("2026-08-18", "check mandrel", "MÖ", _mandrel)]
    for number, day in enumerate(_working_days()):
        runs = before if number < _MOVED_AFTER else after
        who = "MÖ" if number % 3 else "RT"
        story.append(sitting(bench, day, "MD-60", _WATCHED, FINE, "", runs, 1, who=who))
    return story


def _mandrel(entry: Entry, register: Register) -> None:
    setups.add_setup(entry, register, "WORKHEAD", links=["SP-3"])
    mandrel = Card(kind="arbor", nominal_pm=20 * MM, place="grinder", note="check mandrel, Morse 5")
    items.add_item(entry, register, "MD-60", mandrel, [made_to(8, _WATCHED.mm)])


def _working_days() -> Iterator[str]:
    day = datetime.date.fromisoformat(_FIRST_MORNING)
    found = 0
    while found < _MORNINGS:
        if day.weekday() < 5:  # Monday to Friday
            yield day.isoformat()
            found += 1
        day += datetime.timedelta(days=1)
