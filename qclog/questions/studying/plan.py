"""The shortest useful study of the way of measuring, laid out in the order of the hands.

Every person clamps every pin at every key position, several times, and reads each clamping more than once before it is
opened. Persons take turns, there and back; what one of them clamps in a round, each pin at each position once, is in an
order drawn by lot, so that neither a drift nor what the hand expects favours any. Least is two of what is to be told
apart, three clampings and two readings.
"""

import dataclasses
import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog import texts
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.figures import read_series
from qclog.logbook.gauges import refuse_forcing
from qclog.logbook.last_given import last_in_setup
from qclog.logbook.lookup import Name, Register
from qclog.logbook.setups import known_position, setup_for
from qclog.statistics.studying.mean_squares import combined

QUESTION: Final = "study plan"
CLAMPINGS, READINGS = 3, 2
MOST: Final = 200
_ONE_PIN_CLAMPINGS: Final = 8
_NARROW_MM: Final = 0.05
"""Pins that are this much alike in diameter are clamped alike."""


@dataclass(frozen=True, slots=True)
class Step:
    """One clamping, read ``readings`` times before it is opened."""

    number: int
    person: str
    position: str
    pin: str


@dataclass(frozen=True, slots=True)
class StudyPlan:
    """What to clamp, in order; ``people`` is ('',) where nobody is named.

    ``clamping_low`` and ``clamping_high``: between which multiples of what will be found the true scatter of
    re-clamping lies, with 95 % confidence.
    """

    item: str
    setup: str
    distance_mm: float | None
    instrument: str
    people: tuple[str, ...]
    positions: tuple[str, ...]
    pins: tuple[str, ...]
    clampings: int
    readings: int
    steps: tuple[Step, ...]
    clamping_low: float
    clamping_high: float


def plan_study(
    store: Store,
    item: str,
    *,
    setup: str | None = None,
    positions: Sequence[str] = (),
    pins: Sequence[str] = (),
    people: Sequence[str] = (),
    clampings: int | None = None,
    readings: int = READINGS,
) -> StudyPlan:
    """A plan for one item; without pins named, all that are as large as the one used last.

    ``clampings``: of each person, pin and position. What is asked alike is drawn alike until the item is clamped again,
    so that the plan shown is the one measured. Raises NotFoundError and RefusedError for what is not known or has to be
    said.
    """
    with store.reading() as connection:
        register = Register(connection)
        owner = register.need(item, "item")
        measured_in = {one.setup for one in read_series(connection, items=[owner.id]) if one.setup}
        place = setup_for(register, owner, setup or (measured_in.pop() if len(measured_in) == 1 else None))
        before = last_in_setup(connection, register.revisions(place.id)[-1].id)
        known = register.positions(place.id)
        named = tuple(known_position(register, place, position) for position in positions) or tuple(known) or ("",)
        used = tuple(register.need(pin, "pin").text for pin in pins)
        pin_before = before.pin if before.item_id == owner.id else ""
        for one in used:
            if used.count(one) > 1:
                raise RefusedError(f"{one} is named twice.", "Name each pin once: --pins P-1,P-2")
        used = used or _alike(register, pin_before) or _only_pin(register)
        for one in used:
            refuse_forcing(register, owner, one)
        distance = _distance(register, owner) or before.distance_pm
        made = connection.scalar(
            sa.select(sa.func.count()).select_from(schema.clamping).where(schema.clamping.c.item_id == owner.id)
        )
    who = tuple(dict.fromkeys(texts.name(one, "name") for one in people))
    who = who or ("",)
    each = clampings or (CLAMPINGS if len(used) > 1 or len(who) > 1 else _ONE_PIN_CLAMPINGS)
    count = len(who) * len(named) * len(used) * each
    if not each >= 2 or not readings >= 1 or count > MOST:
        raise RefusedError(
            f"{count} clampings, {each} each, read {readings} times, are no study.",
            f"Plan 2 or more of each and {MOST} at the most: --clampings 3 --readings 2, fewer --pins or --people.",
        )
    df = count - len(who) * len(named) * len(used)
    known_to = combined([1.0], [1.0], [df])
    return StudyPlan(
        item=owner.text,
        setup=place.text,
        distance_mm=None if distance is None else distance / 1e9,
        instrument=before.instrument,
        people=who,
        positions=named,
        pins=used,
        clampings=each,
        readings=readings,
        steps=_steps(who, named, used, each, random.Random(f"{owner.text} {place.text} {made}")),
        clamping_low=known_to.low**0.5,
        clamping_high=known_to.high**0.5,
    )


def document(plan: StudyPlan) -> dict[str, Any]:
    """The plan as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(plan)]}


def _steps(
    people: Sequence[str], positions: Sequence[str], pins: Sequence[str], each: int, lots: random.Random
) -> tuple[Step, ...]:
    """Round after round; of every second one the persons go back. What a person clamps in a round is drawn by lot."""
    around = [(position, pin) for position in positions for pin in pins]
    found = []
    for number in range(each):
        for person in people[:: -1 if number % 2 else 1]:
            found += [(person, *stop) for stop in lots.sample(around, len(around))]
    return tuple(Step(i, *stop) for i, stop in enumerate(found, start=1))


def _alike(register: Register, used: str) -> tuple[str, ...]:
    """The pin used last, and those as large as it."""
    if not used:
        return ()
    cards = {pin.text: register.pin_card(pin.id) for pin in register.names("pin")}
    sizes = {pin: card["diameter_pm"] / 1e9 for pin, card in cards.items() if card is not None}
    alike = [pin for pin, size in sizes.items() if abs(size - sizes[used]) <= _NARROW_MM]
    return (used, *(pin for pin in alike if pin != used))


def _only_pin(register: Register) -> tuple[str, ...]:
    pins = register.names("pin")
    if len(pins) != 1:
        raise NotFoundError("Which pins are to be clamped?", "Name them: --pins P-1,P-2 (qclog pin list).")
    return (pins[0].text,)


def _distance(register: Register, item: Name) -> int | None:
    stated = {limit.distance_pm for limit in register.limits(item.id) if limit.distance_pm >= 0}
    return stated.pop() if len(stated) == 1 else None
