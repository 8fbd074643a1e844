"""Jobs beside run-out in the invented workshop: a bonded insert, a pair of parallels, soft jaws bored for a job.

All of it happened after everything else, so that the entries before stay as they are.
"""

from typing import Final

from demo_readings.bench import ELECTRONIC, MM, UM, dice
from demo_readings.diary import Event, Place, event, logged, made_to, valued, worked
from demo_readings.micrometers import micrometer
from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card, Limit, Work

BEGUN: Final = "2026-09-03"
_DAYS: Final = ("2026-09-03", "2026-09-04", "2026-09-07", "2026-09-08", "2026-09-09", "2026-09-10")
_BONDED: Final = "2026-09-03T08:30"
_JAWS: Final = Place("LATHE-B", "1", 10)
_JOBS: Final = (
    ("2026-09-03", 24, "ring R-24, stroke 3 mm", ("7.2", "6.4", "7.0", "6.6", "7.6")),
    ("2026-09-07", 31, "slug 31 mm, stroke 2 mm", ("5.4", "6.2", "5.8", "6.6", "5.2")),
    ("2026-09-09", 24, "ring R-24, stroke 3 mm", ("8.2", "7.4", "7.8", "8.4", "7.2")),
    ("2026-09-10", 18, "slug 18 mm, stroke 4 mm", ("6.8", "7.2")),
)


def events() -> list[Event]:
    return [
        event(BEGUN, "items beside run-out", "AK", _items),
        micrometer(BEGUN, "M-1", "AK", "micrometer M-1", 2, "W-26/140"),
        _gap(BEGUN),
        _bore_by_pins(),
        worked(_BONDED, "KI-8", "RT", Work("bonded", _BONDED, note="gap filled, wiped flush, cured on the bench")),
        *(_flushness(day) for day in _DAYS[1:]),
        *(_parallels(day) for day in _DAYS),
        *_soft_jaws(),
    ]


def _items(entry: Entry, register: Register) -> None:
    insert = Card(kind="insert", nominal_pm=8 * MM, material="keyed, bonded", place="bench", note="key at 12 o'clock")
    limits = [
        Limit(100 * UM, characteristic="diametral gap", lower_pm=20 * UM, text="0.02..0.10mm"),
        Limit(0, characteristic="flushness", lower_pm=-50 * UM, text="0..-0.05mm"),
    ]
    items.add_item(entry, register, "KI-8", insert, limits)
    block = Card(kind="other", nominal_pm=8 * MM, material="cast iron", place="bench", note="block, bored for KI-8")
    bore = Limit(8_080 * UM, characteristic="bore", lower_pm=8_030 * UM, text="8.03..8.08mm")
    items.add_item(entry, register, "BB-8", block, [bore])
    pair = Limit(5 * UM, characteristic="pair difference", lower_pm=-5 * UM, text="5um")
    items.add_item(entry, register, "PP-20", Card(kind="other", nominal_pm=20 * MM, note="pair, ground"), [pair])
    items.add_item(entry, register, "JW-2", Card(kind="jaws", material="mild steel", note="soft, numbered 1 to 3"))


def _gap(day: str) -> Event:
    throw = dice(f"KI-8 gap {day}")
    gaps = [f"{throw(8.055, 0.0015):.3f}/{throw(7.998, 0.001):.3f}" for _ in range(3)]
    return valued(day, "KI-8", "diametral gap", gaps, gauge="M-1", who="RT")


def _flushness(day: str) -> Event:
    throw = dice(f"KI-8 flushness {day}")
    points = [f"{-throw(0.027, 0.0015):.3f}mm" for _ in range(4)]
    return valued(day, "KI-8", "flushness", points, gauge="M-1", who="RT")


def _parallels(day: str) -> Event:
    throw = dice(f"PP-20 {day}")
    pairs = [f"{throw(20.002, 0.0005):.3f}/{throw(20.003, 0.0005):.3f}" for _ in range(2)]
    return valued(day, "PP-20", "pair difference", pairs, gauge="M-1", who="MÖ")


def _bore_by_pins() -> Event:
    return valued(BEGUN, "BB-8", "bore", pins=(("8.05",), ("8.06",)), who="RT")


def _soft_jaws() -> list[Event]:
    """Bored for four jobs; of the last one only two clampings were read."""
    story = []
    for number, (day, millimetres, on, swings) in enumerate(_JOBS, start=311):
        work = Work(
            what=f"bored for job {number}",
            size_pm=millimetres * MM,
            done_at=f"{day}T07:30",
            held_by=on,
            holder=_JAWS.setup,
            position=_JAWS.position,
            limits=(made_to(15, _JAWS.mm),),
        )
        story.append(worked(day, "JW-2", "RT", work))
        story.append(logged(f"{day}T08:00", "JW-2", _JAWS, ELECTRONIC, "", who="RT", swings=swings))
    return story
