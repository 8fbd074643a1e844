"""The collets of the invented workshop, bored to sizes nobody sells: the ordinary ones, all measured at one place."""

from typing import Final, NamedTuple

from demo_readings.bench import ELECTRONIC, LEVER, MM, SLANTED, UM, Bench, Gauge, Runs
from demo_readings.diary import Event, Place, event, made_to, sitting, worked
from demo_readings.owned import OPENED
from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.records import Card, Limit, Work

NORTH: Final = Place("LATHE-A", "N", 25)
SOUTH: Final = Place("LATHE-A", "S", 25)


class Ordinary(NamedTuple):
    """A collet bored to a size and limit on a day, how it runs since, and the days it was measured on."""

    code: str
    bore_mm: float
    bored_on: str
    limit_um: float | None
    runs: Runs
    days: tuple[str, ...]
    clampings: int = 5
    gauge: Gauge = LEVER


ORDINARY: Final = (
    Ordinary("B-640", 6.4, "2024-11-05", 12, Runs(5.2, 70), ("2024-11-06", "2025-04-08", "2026-02-17")),
    Ordinary("B-685", 6.85, "2024-11-05", 9, Runs(3.6, 200), ("2024-11-07", "2025-09-23")),
    Ordinary("B-710", 7.1, "2024-11-11", 9, Runs(4.4, 120), ("2024-11-12", "2025-10-14", "2026-06-09")),
    Ordinary(
        "B-735",
        7.35,
        "2024-11-11",
        6,
        Runs(2.6, 310, 0.15, 0.25),
        ("2024-11-12", "2025-02-18", "2025-06-17", "2025-11-18", "2026-02-24", "2026-07-14"),
        5,
        ELECTRONIC,
    ),
    Ordinary("B-760", 7.6, "2024-12-03", 12, Runs(6.1, 15), ("2024-12-04", "2025-06-24"), gauge=SLANTED),
    Ordinary("B-780", 7.8, "2025-01-14", 9, Runs(13.5, 100), ("2025-01-15", "2025-01-28", "2025-03-04")),
    Ordinary("B-815", 8.15, "2025-02-04", 9, Runs(3.9, 260), ("2025-02-05", "2025-11-25"), 6),
    Ordinary("B-835", 8.35, "2025-02-11", None, Runs(4.6, 340), ("2025-02-12", "2025-08-19"), 4),
    Ordinary("B-905", 9.05, "2025-03-11", 12, Runs(5.0, 180), ("2025-03-12", "2026-01-27")),
    Ordinary("B-920", 9.2, "2025-04-15", 9, Runs(3.6, 90, 0.2, 0.4), ("2025-04-16", "2025-12-09", "2026-07-07"), 4),
    Ordinary("B-990", 9.9, "2025-05-06", 14, Runs(5.9, 20), ("2025-05-07", "2026-03-10")),
)


def events() -> list[Event]:
    found = []
    for one in ORDINARY:
        limits = () if one.limit_um is None else (made_to(one.limit_um, NORTH.mm),)
        found.append(received(one.code, one.bore_mm))
        found.append(bored(one.bored_on, one.code, one.bore_mm, limits))
        bench = Bench(one.code)
        for number, day in enumerate(one.days):
            who = "RT" if number % 3 == 1 else "AK"
            found.append(
                sitting(bench, day, one.code, NORTH, one.gauge, pin(one.bore_mm), one.runs, one.clampings, who=who)
            )
    return found + _before_boring()


def pin(bore_mm: float) -> str:
    """The pin that is kept for a bore."""
    return f"P-{round(bore_mm * 100)}"


def received(code: str, bore_mm: float, day: str = OPENED, *, nominal_mm: int | None = None, note: str = "") -> Event:
    """A collet as it was bought, a little smaller than it was to become."""
    nominal = int(bore_mm) if nominal_mm is None else nominal_mm

    def write(entry: Entry, register: Register) -> None:
        card = Card(
            kind="collet",
            system="ISO 15488, size 32",
            nominal_pm=nominal * MM,
            grip_length_pm=34 * MM,
            slots=16,
            acquired=day,
            place="drawer 2" if nominal >= 6 else "drawer 1",
            price="14.50 EUR",
            note=note,
        )
        items.add_item(entry, register, code, card)

    return event(day, f"item {code}", "AK", write)


def bored(
    day: str,
    code: str,
    bore_mm: float,
    limits: tuple[Limit, ...],
    *,
    place: Place = NORTH,
    what: str = "bored",
    note: str = "shims in all slots, closed lightly",
) -> Event:
    """Bored where it will be used, and married to that place."""
    work = Work(
        what=what,
        done_at=day,
        size_before_pm=int(bore_mm) * MM,
        size_pm=round(bore_mm * 1000) * UM,
        held_by="slot 1 at the key",
        holder=place.setup,
        position=place.position,
        torque="by feel",
        note=note,
        limits=limits,
    )
    return worked(day, code, "AK", work)


def _before_boring() -> list[Event]:
    """Two of them were measured as they came, to know what boring would be worth."""
    eight, nine = Bench("B-815 as received"), Bench("B-920 as received")
    return [
        sitting(eight, "2024-04-09", "B-815", NORTH, LEVER, "P-800", Runs(13.2, 150, 1.0, 1.5), 5, who="AK"),
        sitting(eight, "2024-06-18", "B-815", NORTH, LEVER, "P-800", Runs(13.2, 150, 1.0, 1.5), 5, who="RT"),
        sitting(
            nine, "2024-06-18", "B-920", NORTH, LEVER, "P-900", Runs(15.0, 60, 1.0, 1.5), 5, who="RT", note="as bought"
        ),
    ]
