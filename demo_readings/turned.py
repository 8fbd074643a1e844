"""Bodies turned against each other in the invented workshop: whose the run-out is, what was turned, what it gained."""

import cmath
import math
from collections.abc import Sequence
from typing import Final

from demo_readings.bench import FINE, UM, Bench, Runs
from demo_readings.collets import bored, pin, received
from demo_readings.diary import Event, Place, event, logged, made_to
from qclog.logbook import gauges, items, setups
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card

ENTERED: Final = "2026-08-17"
_PLACE: Final = Place("GRINDER", "", 25)
_STAYS: Final = cmath.rect(4.4, math.radians(20))
"""Of spindle and chuck, which are never turned against each other."""
_BODIES: Final = {
    "SL-5": cmath.rect(8.8, math.radians(150)),
    "B-1045": cmath.rect(2.4, math.radians(290)),
    "P-1045": cmath.rect(1.2, math.radians(80)),
}
_THIRDS: Final = (
    *((0, 0, 0), (120, 120, 240), (240, 240, 120), (240, 120, 0), (0, 240, 240)),
    *((0, 120, 120), (120, 0, 120), (120, 240, 0), (240, 0, 240)),
)
"""The plan that ``qclog chain --plan`` lays out, in its order."""
_AS_FOUND: Final = (240, 180, 240)
_SLEEVE_TURNED: Final = (50, 180, 240)
"""As was advised, the collet left for another day."""


def events() -> list[Event]:
    bench = Bench("B-1045")
    plan = [_turns(bench, "2026-08-24", angles, 1, 0.0) for angles in _THIRDS]
    confirmed = [_turns(bench, day, _SLEEVE_TURNED, 3) for day in ("2026-08-25", "2026-08-27", "2026-08-31")]
    return [
        event(ENTERED, "the grinder and what is in it", "MÖ", _grinder),
        received("B-1045", 10.45, ENTERED),
        bored("2026-08-18", "B-1045", 10.45, (made_to(9, 25),), place=_PLACE),
        _turns(bench, "2026-08-19", _AS_FOUND, 2),
        *plan,
        *confirmed,
    ]


def _grinder(entry: Entry, register: Register) -> None:
    for code, card in {
        "SP-3": Card(kind="spindle", place="grinder, workhead"),
        "SL-5": Card(kind="sleeve", system="Morse 5 to Morse 4", mark="V", note="dot at the large end"),
        "CH-3": Card(kind="chuck", system="8 degree collets", note="drawbar; drives with a key, never turned"),
    }.items():
        items.add_item(entry, register, code, card)
    setups.add_setup(entry, register, "GRINDER", links=["SP-3", "SL-5", "CH-3"])
    gauges.add_pin(
        entry, register, pin(10.45), diameter_pm=10_444 * UM, roundness_pm=UM * 3 // 10, kind="pin", grade="Z, minus"
    )


def _turns(bench: Bench, day: str, angles: Sequence[int], count: int, day_um: float = 0.3) -> Event:
    """Clampings with the bodies turned so, read at quarter turns."""
    turned = dict(zip(_BODIES, angles, strict=True))
    vector = _STAYS + sum(body * cmath.rect(1, math.radians(turned[code])) for code, body in _BODIES.items())
    runs = Runs(abs(vector), math.degrees(cmath.phase(vector)), day_um, 0.5)
    clocking = tuple((code, angle * 1000) for code, angle in turned.items())
    turns = bench.turns(runs, count, (0, 90, 180, 270), FINE)
    return logged(day, "B-1045", _PLACE, FINE, pin(10.45), who="MÖ", turns=turns, clocking=clocking)
