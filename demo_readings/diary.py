"""What can happen in the invented workshop, each on its day and as one entry of the logbook."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from demo_readings.bench import MM, UM, Bench, Gauge, Runs
from qclog.capture import Typed, keep, prepare
from qclog.logbook import items, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.lookup import Register
from qclog.records import EVERY_DISTANCE, FACE_RUNOUT, RUNOUT, Limit, Work


@dataclass(frozen=True, slots=True)
class Event:
    """Something entered in the logbook on a day."""

    day: str
    write: Callable[[Store], None]


class Place(NamedTuple):
    """Where an item is measured: setup, key position, distance in mm."""

    setup: str
    position: str
    mm: float


def made_to(um: float, mm: float | None = None, setup: str = "", position: str = "") -> Limit:
    text = f"{um:g}um" if mm is None else f"{um:g}um@{mm:g}mm"
    return Limit(
        round(um * UM), EVERY_DISTANCE if mm is None else round(mm * MM), setup=setup, position=position, text=text
    )


def event(day: str, what: str, who: str, write: Callable[[Entry, Register], object]) -> Event:
    """One entry, written by ``write``."""

    def do(store: Store) -> None:
        with new_entry(store, what, who) as entry:
            write(entry, Register(entry.connection))

    return Event(day, do)


def logged(
    day: str,
    item: str,
    place: Place,
    gauge: Gauge,
    pin: str,
    *,
    who: str,
    swings: Sequence[str] = (),
    turns: Sequence[str] = (),
    at: Sequence[tuple[float, Sequence[str]]] = (),
    angles: str = "",
    clocking: tuple[tuple[str, int], ...] = (),
    same_clamping: bool = False,
    torque: str = "by feel",
    conditions: str = "cold",
    recalled_of: str = "",
    note: str = "",
    face_on_mm: float | None = None,
) -> Event:
    """A line typed at the machine; what looks like a slip is answered "it is right".

    ``clocking``: how bodies were turned, in thousandths of a degree. ``recalled_of``: the time an old notebook
    gives, if it is from there. ``face_on_mm``: the circle on which a face was read, if no run-out was.
    """
    read_at = [*at, (place.mm, swings)] if swings else at
    typed = Typed(
        item=item,
        swings=tuple((round(mm * MM), tuple(texts)) for mm, texts in read_at),
        turns=((None, tuple(turns)),) if turns else (),
        angles=angles,
        setup=place.setup,
        position=place.position,
        clocking=clocking,
        pin=pin,
        instrument=gauge.code,
        distance_pm=round(place.mm * MM),
        lever_mdeg=gauge.lever_mdeg,
        torque=torque,
        conditions=conditions,
        operator=who,
        on=recalled_of or day,
        same_clamping=None if recalled_of else same_clamping,
        recalled=bool(recalled_of),
        note=note,
        characteristic=RUNOUT if face_on_mm is None else FACE_RUNOUT,
        diameter_pm=None if face_on_mm is None else round(face_on_mm * MM),
    )
    return Event(day, lambda store: _keep(store, typed))


def valued(
    day: str,
    item: str,
    characteristic: str,
    texts: Sequence[str] = (),
    *,
    who: str,
    gauge: str | None = None,
    pins: tuple[tuple[str, ...], tuple[str, ...]] = ((), ()),
) -> Event:
    """A size, a gap or a difference typed, or what go and no-go pins told."""
    swings = ((None, tuple(texts)),) if texts else ()
    typed = Typed(item, swings, instrument=gauge, operator=who, on=day, characteristic=characteristic, pins=pins)
    return Event(day, lambda store: _keep(store, typed))


def _keep(store: Store, typed: Typed) -> None:
    keep(store, prepare(store, typed))


def sitting(
    bench: Bench,
    day: str,
    item: str,
    place: Place,
    gauge: Gauge,
    pin: str,
    runs: Runs,
    count: int,
    *,
    who: str,
    note: str = "",
) -> Event:
    """Some clampings of one day, their swings read."""
    swings = bench.swings(runs, count, gauge)
    return logged(day, item, place, gauge, pin, who=who, swings=swings, note=note)


def worked(day: str, item: str, who: str, work: Work) -> Event:
    def write(entry: Entry, register: Register) -> None:
        items.modify(entry, register, register.need(item, "item"), work)

    return event(day, f"modify {item}", who, write)


def seen(day: str, item: str, who: str, finding: str, note: str) -> Event:
    def write(entry: Entry, register: Register) -> None:
        owned = register.need(item, "item")
        items.inspect_item(entry, register, owned, finding=finding, seen_on=day, note=note)

    return event(day, f"inspect {item}", who, write)


def used(day: str, item: str, who: str, clampings: int, note: str = "") -> Event:
    def write(entry: Entry, register: Register) -> None:
        owned = register.need(item, "item")
        items.record_use(entry, owned, used_on=day, clampings=clampings, hours=None, note=note)

    return event(day, f"used {item}", who, write)


def decided(day: str, item: str, who: str, state: str, reason: str, limit_um: float | None = None) -> Event:
    def write(entry: Entry, register: Register) -> None:
        limit = None if limit_um is None else round(limit_um * UM)
        owned = register.need(item, "item")
        items.set_state(entry, register, owned, state=state, limit_pm=limit, since=day, reason=reason)

    return event(day, f"state {item}", who, write)


def struck_out(
    day: str, item: str, who: str, reason: str, *, turn: int | None = None, reading: int | None = None
) -> Event:
    """The item's last clamping, or a reading of it, is struck out."""

    def write(entry: Entry, register: Register) -> None:
        owned = register.need(item, "item")
        last = striking.last_clamping(entry.connection, owned)
        striking.strike(entry, owned, last, reason=reason, turn=turn, reading=reading)

    return event(day, f"strike {item}", who, write)
