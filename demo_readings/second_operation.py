"""A bushing turned round and held on its finished diameter for the second operation: which collet takes it?

Five take it: one good enough, one better that is worth sparing, one lent, one worked on and not measured since, one
measured at other distances only.
"""

from typing import Final

from demo_readings.bench import FINE, UM, Bench, Runs
from demo_readings.collets import bored, received
from demo_readings.diary import Event, Place, event, logged, made_to, worked
from qclog.logbook import custody, gauges, items, setups
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card, Work

ENTERED: Final = "2026-03-02"
_PIN: Final = "P-1230"
_PLACE: Final = Place("LATHE-C", "", 20)
_NEAR_MM: Final = 6
_FAR_MM: Final = 34


def events() -> list[Event]:
    return [
        event(ENTERED, "the lathe for second operations", "RT", _lathe),
        *_good_enough(),
        *_better(),
        *_lent(),
        *_not_measured_since(),
        *_read_elsewhere(),
    ]


def _lathe(entry: Entry, register: Register) -> None:
    for code, card in {
        "SP-4": Card(kind="spindle", place="small lathe, second operations"),
        "CH-4": Card(kind="chuck", system="8 degree collets", note="lever-closed, one key only"),
    }.items():
        items.add_item(entry, register, code, card)
    setups.add_setup(entry, register, "LATHE-C", links=["SP-4", "CH-4"])
    diameter = 12_294 * UM
    gauges.add_pin(entry, register, _PIN, diameter_pm=diameter, roundness_pm=UM * 3 // 10, kind="pin", grade="Z, minus")


def _measured(code: str, bore_mm: float, runs: Runs, days: tuple[str, ...]) -> list[Event]:
    """Bored for 12 µm where it is used, then measured on some days."""
    bench = Bench(code)
    return [
        received(code, bore_mm, ENTERED, nominal_mm=12),
        bored("2026-08-03", code, bore_mm, (made_to(12, _PLACE.mm),), place=_PLACE),
        *(
            logged(day, code, _PLACE, FINE, _PIN, who="RT", swings=bench.swings(runs, 4, FINE), note="bushings, 2nd op")
            for day in days
        ),
    ]


def _good_enough() -> list[Event]:
    return _measured("B-1232", 12.32, Runs(6.4, 110), ("2026-08-12", "2026-08-20", "2026-09-02", "2026-09-15"))


def _better() -> list[Event]:
    return _measured(
        "B-1235",
        12.35,
        Runs(2.6, 205, 0.3, 0.4),
        ("2026-08-12", "2026-08-20", "2026-09-02", "2026-09-11", "2026-09-15"),
    )


def _lent() -> list[Event]:
    def take(entry: Entry, register: Register) -> None:
        lent = register.need("B-1231", "item")
        custody.take(entry, [lent], setup=None, place="die shop", done_at="2026-09-14")

    story = _measured("B-1231", 12.31, Runs(4.8, 60), ("2026-08-13", "2026-08-21", "2026-09-03"))
    return [*story, event("2026-09-14", "took", "MÖ", take)]


def _not_measured_since() -> list[Event]:
    story = _measured("B-1236", 12.36, Runs(8.1, 300), ("2026-08-13", "2026-08-21"))
    lapped = Work("lapped", "2026-09-16", holder=_PLACE.setup, note="scored by a chip, bore lapped lightly")
    return [*story, worked("2026-09-16", "B-1236", "RT", lapped)]


def _read_elsewhere() -> list[Event]:
    """Read near and far in the same clampings, never where the bushing runs."""
    bench = Bench("B-1233")
    near, far = Runs(2.9, 30, 0.3, 0.4), Runs(6.2, 40, 0.4, 0.6)
    story = [
        received("B-1233", 12.33, ENTERED, nominal_mm=12),
        bored("2026-08-03", "B-1233", 12.33, (made_to(12),), place=_PLACE),
    ]
    for day in ("2026-08-14", "2026-08-21", "2026-09-04", "2026-09-16"):
        at = ((_NEAR_MM, bench.swings(near, 4, FINE)), (_FAR_MM, bench.swings(far, 4, FINE)))
        story.append(logged(day, "B-1233", _PLACE, FINE, _PIN, who="RT", at=at))
    return story
