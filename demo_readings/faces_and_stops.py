"""A face, a stop and a vice of the invented workshop: what they run, how deep and how far they lift, read and judged.

Soft jaws are bored twice before the face of their seat runs true; a soft stop is driven deeper by the parts pushed
against it; a vice lifts what it grips until its jaw is fitted anew.
"""

import datetime
from typing import Final

from demo_readings.bench import FINE, MM, UM, Bench, Runs, dice
from demo_readings.diary import Event, Place, event, logged, valued, worked
from demo_readings.micrometers import micrometer
from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import FACE_RUNOUT, Card, Limit, Work

_BEGUN: Final = "2026-09-14"
_SEAT: Final = Place("LATHE-B", "2", 0)
_SEAT_MM: Final = 52
_BORINGS: Final = (
    ("2026-09-15T07:00", "bored for job 318", "ring R-24 behind the seat, stroke 3 mm", Runs(13.0, 60, 0, 0.4)),
    (
        "2026-09-16T06:00",
        "seat faced anew for job 318",
        "ring 60 mm before the seat, stroke 3 mm",
        Runs(4.2, 200, 0, 0.3),
    ),
)
_STOP_MM: Final = (
    ("2026-09-14", 12.022),
    ("2026-09-15", 12.026),
    ("2026-09-16", 12.025),
    ("2026-09-17", 12.039),
    ("2026-09-18", 12.050),
    ("2026-09-21", 12.057),
    ("2026-09-22", 12.066),
    ("2026-09-23", 12.072),
)
"""Parts were rammed against the stop from the fourth day on."""
_LIFT_BEFORE_UM: Final = (("2026-09-14", 27.0), ("2026-09-15", 29.5))
_FITTED: Final = "2026-09-15T14:00"
_LIFT_SINCE_UM: Final = (
    ("2026-09-16", 8.0),
    ("2026-09-17", 8.6),
    ("2026-09-18", 7.4),
    ("2026-09-21", 8.2),
    ("2026-09-22", 8.8),
)


def events() -> list[Event]:
    return [
        event(_BEGUN, "items with faces and stops", "AK", _items),
        micrometer(_BEGUN, "M-2", "AK", "depth micrometer M-2", 3, "W-26/141"),
        *(one for boring in _BORINGS for one in _bored(*boring)),
        *(_depth(day, middle) for day, middle in _STOP_MM),
        *(_lift(day, middle) for day, middle in _LIFT_BEFORE_UM),
        worked(_FITTED[:10], "VI-1", "MÖ", Work("moving jaw scraped and its gib set", _FITTED)),
        *(_lift(day, middle) for day, middle in _LIFT_SINCE_UM),
    ]


def _items(entry: Entry, register: Register) -> None:
    face = Limit(10 * UM, characteristic=FACE_RUNOUT, text="10um")
    jaws = Card(kind="jaws", material="mild steel", note="soft, with a seat for flanged parts, numbered 1 to 3")
    items.add_item(entry, register, "JW-3", jaws, [face])
    stop = Card(kind="other", material="brass", place="lathe by the door", note="work stop, screwed into collets")
    depth = Limit(12_050 * UM, characteristic="depth", lower_pm=12_000 * UM, text="12.00..12.05mm")
    items.add_item(entry, register, "ST-12", stop, [depth])
    vice = Card(kind="other", place="mill", note="milling vice, jaws 100 mm wide")
    items.add_item(entry, register, "VI-1", vice, [Limit(20 * UM, characteristic="jaw lift", text="20um")])


def _bored(done_at: str, what: str, held_by: str, runs: Runs) -> list[Event]:
    """The seat bored in place, and its face read on a circle near its rim an hour later."""
    work = Work(
        what=what,
        size_pm=60 * MM,
        done_at=done_at,
        held_by=held_by,
        holder=_SEAT.setup,
        position=_SEAT.position,
    )
    read_at = (datetime.datetime.fromisoformat(done_at) + datetime.timedelta(hours=1)).isoformat(timespec="minutes")
    swings = Bench(f"JW-3 {done_at}").swings(runs, 5, FINE)
    return [
        worked(done_at, "JW-3", "RT", work),
        logged(read_at, "JW-3", _SEAT, FINE, "", who="RT", swings=swings, face_on_mm=_SEAT_MM),
    ]


def _depth(day: str, middle_mm: float) -> Event:
    throw = dice(f"ST-12 {day}")
    return valued(day, "ST-12", "depth", [f"{throw(middle_mm, 0.001):.3f}" for _ in range(3)], gauge="M-2", who="AK")


def _lift(day: str, middle_um: float) -> Event:
    throw = dice(f"VI-1 {day}")
    lifts = [f"{round(throw(middle_um, 0.9) / FINE.step_um) * FINE.step_um:.1f}" for _ in range(3)]
    return valued(day, "VI-1", "jaw lift", lifts, gauge=FINE.code, who="MÖ")
