"""Writing clampings: resolved against what is registered, kept once, their figures derived.

A clamping's uuid is made from what identifies it (item, setup, position, clocking, sitting, label and earliest
time), so that the same clamping, logged here and imported again, is known to be the same.
"""

import dataclasses
import functools
import hashlib
import itertools
import operator
import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final, NamedTuple, TypeVar

import sqlalchemy as sa

from qclog import texts, times
from qclog.characteristics import check_value
from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.deriving import (
    FactColumns,
    Ids,
    gauging,
    history,
    lever_correction,
    resolution,
    series_of,
    write_figures,
)
from qclog.logbook.driver import marks, run
from qclog.logbook.entries import Entry, columns_of, take_ids, take_ids_of
from qclog.logbook.gauges import need_indicator
from qclog.logbook.lookup import Name, Register
from qclog.logbook.setups import known_position
from qclog.notation import format_clocking
from qclog.records import SWINGS, Clamping, Reading, Turn

LEAST_READINGS: Final = 3
STEEPEST_LEVER_MDEG: Final = 60_000
_VARIANT: Final = dict(zip("0123456789abcdef", "89ab" * 4, strict=True))
_NAMESPACE: Final = uuid.UUID("6f0b3a52-6a5e-5c8e-9a51-d1b5b9b7c0de")
_BETWEEN: Final = "\x1f"
_MOST_PLACES: Final = 50_000
_LAST_DAY: Final = "9999-12-31"
_FULL_TURN: Final = 360_000
_of_turn: Final = operator.attrgetter(*columns_of(schema.turn)[2:])
_columns_of_reading: Final = operator.attrgetter(*columns_of(schema.reading)[3:])
_WITHIN: Final = columns_of(schema.reading)[3:].index("angle_within_mdeg")
H = TypeVar("H")
T = TypeVar("T")


class Place(NamedTuple):
    """What a clamping names, found in the logbook, but for what is its own: time, label, turns.

    ``identity``: what of it tells clampings apart. ``backwards``: its angles are counted the other way round.
    ``whose`` and ``circumstances``: as it stands in a row of ``clamping``, behind uuid and time; ``history`` and
    ``gauging``: in ``series`` and ``gauging``.
    """

    record: Clamping
    item: Name
    modification_id: int
    modification_number: int
    revision_id: int | None
    backwards: bool
    position: str
    clocking: tuple[tuple[str, int], ...]
    pin_id: int | None
    diameter_pm: int | None
    instrument_id: int | None
    calibration_id: int | None
    correction: float
    identity: str
    whose: tuple[Any, ...]
    circumstances: tuple[Any, ...]
    history: tuple[Any, ...]
    gauging: tuple[int, int, int, int]


class Resolved(NamedTuple):
    """A clamping with everything it names found in the logbook, ready to be written."""

    place: Place
    uuid: str
    sitting: str
    label: str
    taken_at: str
    recalled: bool
    turns: tuple[Turn, ...]


class ResolvedColumns(NamedTuple):
    """The same of many clampings, column by column."""

    places: Sequence[Place]
    uuids: Sequence[str]
    sittings: Sequence[str]
    labels: Sequence[str]
    taken_at: Sequence[str]
    recalled: Sequence[bool]
    turns: Sequence[tuple[Turn, ...]]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """A record whose time, label and turns stand apart, since many clampings share the rest of it."""

    record: Clamping


class Resolver:
    """Finds what clampings name. Keeps count of the labels it hands out, so use one for one batch."""

    def __init__(self, register: Register) -> None:
        self.register = register
        self._labels: dict[tuple[int, str], set[str]] = defaultdict(set)
        self._numbers: dict[tuple[int, str], int] = {}
        self._places: dict[Shared, Place] = {}
        self._places_by_time: dict[tuple[Shared, str], Place] = {}

    def resolve(self, record: Clamping) -> Resolved:
        """Raises NotFoundError, RefusedError for what is not known or cannot be."""
        _check_texts(record)
        texts.name(record.label, "label of the clamping")
        taken_at = times.taken_at(record.taken_at, recalled=record.recalled)
        place = self._place(record, taken_at)
        label = self._label(place.item, record.sitting.strip() or times.day(taken_at), record.label.strip())
        turns = tuple([_as_kept(_checked(turn, place), place) for turn in record.turns])
        (found,) = zip(*_resolved([place], [label], [taken_at], [record.recalled], [turns]), strict=True)
        return Resolved(*found)

    def resolve_all(
        self,
        shared: Sequence[Shared],
        labels: Sequence[str],
        taken_at: Sequence[str],
        recalled: Sequence[bool],
        turns: Sequence[tuple[Turn, ...]],
    ) -> ResolvedColumns:
        """The same of clampings that have labels, and whose times and turns were checked, column by column; what they
        share is looked up once."""
        places = [self._places.get(one) or self._place_of(one, at) for one, at in zip(shared, taken_at, strict=True)]
        kept = [
            together if _stand_as_they_are(together, place) else _kept(together, place)
            for together, place in zip(turns, places, strict=True)
        ]
        return _resolved(places, labels, taken_at, recalled, kept)

    def _place_of(self, shared: Shared, taken_at: str) -> Place:
        place = self._places_by_time.get((shared, taken_at))
        if place is None:
            _check_texts(shared.record)
            place = self._place(shared.record, taken_at)
            if len(self._places) + len(self._places_by_time) >= _MOST_PLACES:
                self._places.clear()
                self._places_by_time.clear()
            if self._at_any_time(place):
                self._places[shared] = place
            else:
                self._places_by_time[shared, taken_at] = place
        return place

    def _at_any_time(self, place: Place) -> bool:
        """Whether a record names the same whenever it was taken."""
        register, record = self.register, place.record
        return (
            (record.modification is not None or len(register.modifications(place.item.id)) == 1)
            and (not record.setup or len(register.revisions(register.need(record.setup, "setup").id)) == 1)
            and (place.instrument_id is None or register.calibration_at(place.instrument_id, _LAST_DAY) is None)
        )

    def _place(self, record: Clamping, taken_at: str) -> Place:
        register = self.register
        item = register.need(record.item, "item")
        modification = (
            register.modification_at(item, taken_at)
            if record.modification is None
            else register.modification(item, record.modification)
        )
        setup = register.need(record.setup, "setup") if record.setup else None
        revision = register.revision_at(setup, taken_at) if setup else None
        position = known_position(register, setup, record.position) if setup else record.position
        backwards = revision is not None and revision.sense == "counterclockwise"
        clocking = tuple(
            (self._body(code), _turned(angle, backwards=backwards)) for code, angle in sorted(record.clocking)
        )
        pin = register.need(record.pin, "pin") if record.pin else None
        pin_card = register.pin_card(pin.id) if pin else None
        instrument = need_indicator(register, record.instrument) if record.instrument else None
        card = register.instrument_card(instrument.id) if instrument else None
        calibration = register.calibration_at(instrument.id, taken_at) if instrument else None
        if record.lever_mdeg is not None and not 0 <= record.lever_mdeg <= STEEPEST_LEVER_MDEG:
            raise RefusedError(
                f"The lever angle must lie between 0 and {STEEPEST_LEVER_MDEG // 1000} degrees.",
                "Set the lever along the surface and read again.",
            )
        if record.diameter_pm is not None and record.diameter_pm <= 0:
            raise RefusedError("A diameter is above zero.", "Type it in millimetres, as 40.")
        revision_id = revision.id if revision else None
        pin_id, instrument_id = pin.id if pin else None, instrument.id if instrument else None
        calibration_id = calibration["id"] if calibration else None
        diameter_pm = pin_card["diameter_pm"] if pin_card and record.diameter_pm is None else record.diameter_pm
        clocking_text = format_clocking(clocking) if clocking else ""
        identity = (
            item.text.casefold(),
            setup.text.casefold() if setup else "",
            position.casefold(),
            clocking_text.casefold(),
        )
        return Place(
            record=record,
            item=item,
            modification_id=modification.id,
            modification_number=modification.number,
            revision_id=revision_id,
            backwards=backwards,
            position=position,
            clocking=clocking,
            pin_id=pin_id,
            diameter_pm=diameter_pm,
            instrument_id=instrument_id,
            calibration_id=calibration_id,
            correction=lever_correction(
                card["kind"] if card else None, record.lever_mdeg, card["correct_at_mdeg"] if card else 0
            ),
            identity=_BETWEEN.join(identity),
            whose=(item.id, modification.id, revision_id, position, clocking_text),
            circumstances=(
                pin_id,
                diameter_pm,
                instrument_id,
                calibration_id,
                record.lever_mdeg,
                record.pin_out,
                record.torque,
                record.conditions,
                record.operator,
            ),
            history=history(item.id, modification.id, revision_id, position, clocking_text, diameter_pm),
            gauging=gauging(instrument_id, calibration_id, pin_id, record.lever_mdeg),
        )

    def _body(self, code: str) -> str:
        found = self.register.find(code)
        return found.text if found and found.kind in ("item", "pin") else self.register.need(code, "item").text

    def _label(self, item: Name, sitting: str, given: str) -> str:
        """The label as given; without one, the next number that no clamping of the item and sitting has."""
        key = (item.id, sitting)
        label = given
        if not given:
            clamping, place, connection = schema.clamping, schema.sitting, self.register.connection
            there = sa.select(sa.func.count()).select_from(clamping).join(place, place.c.id == clamping.c.sitting_id)
            there = there.where(clamping.c.item_id == item.id, place.c.label == sitting)
            if key not in self._numbers:
                self._numbers[key] = connection.scalar(there) or 0
            while not label or label in self._labels[key] or connection.scalar(there.where(clamping.c.label == label)):
                self._numbers[key] += 1
                label = str(self._numbers[key])
        self._labels[key].add(label)
        return label


def _resolved(
    places: Sequence[Place],
    labels: Sequence[str],
    taken_at: Sequence[str],
    recalled: Sequence[bool],
    turns: Sequence[tuple[Turn, ...]],
) -> ResolvedColumns:
    sittings = [place.record.sitting.strip() or times.day(at) for place, at in zip(places, taken_at, strict=True)]
    identities = map(_BETWEEN.join, zip([place.identity for place in places], sittings, labels, taken_at, strict=True))
    return ResolvedColumns(places, _uuids(identities), sittings, labels, taken_at, recalled, turns)


def _uuids(identities: Iterable[str]) -> list[str]:
    """The name-based UUIDs (version 5, RFC 9562) as text, in a third of the time that the library takes for them."""
    space, sha1 = _NAMESPACE.bytes, hashlib.sha1
    made = [sha1(space + one.encode(), usedforsecurity=False).hexdigest() for one in identities]
    return [f"{one[:8]}-{one[8:12]}-5{one[13:16]}-{_VARIANT[one[16]]}{one[17:20]}-{one[20:32]}" for one in made]


def _check_texts(record: Clamping) -> None:
    texts.name(record.sitting, "name of the sitting")
    texts.name(record.position, "position")
    texts.name(record.operator, "operator")
    texts.note(record.torque, "torque")
    texts.note(record.conditions, "conditions")
    texts.note(record.note, "note")


def _checked(turn: Turn, place: Place) -> Turn:
    item = place.item.text
    if not place.record.setup and turn.kind != "value":
        raise RefusedError(f"Which setup was {item} measured in?", "Say it with --setup.")
    texts.name(turn.label, "label of the turn")
    texts.name(turn.characteristic, "characteristic")
    if turn.kind == "point":
        _check_points(turn, item)
    elif turn.kind == "value":
        text = " / ".join(reading.text for reading in turn.readings)
        check_value(turn.characteristic, [reading.value_pm for reading in turn.readings], text)
    elif len(turn.readings) != 1:
        raise RefusedError(f"A swing of {item} is one number, not {len(turn.readings)}.", "Give each its own turn.")
    if (turn.kind == "value") is (turn.characteristic in SWINGS):
        wanted = "tir or point" if turn.kind == "value" else "value"
        raise RefusedError(
            f"{turn.characteristic!r} of {item} cannot be of kind {turn.kind}.", f"Its kind is {wanted}."
        )
    if turn.kind == "tir" and turn.readings[0].value_pm < 0:
        raise RefusedError(f"The swing {turn.readings[0].text!r} of {item} is negative.", "Give the full swing.")
    if turn.distance_pm < 0:
        raise RefusedError(f"A distance of {item} is negative.", "Count from the item's front face.")
    return turn


def _check_points(turn: Turn, item: str) -> None:
    if len(turn.readings) < LEAST_READINGS:
        raise RefusedError(
            f"A turn of {item} needs at least {LEAST_READINGS} readings, not {len(turn.readings)}.",
            "Read at quarter turns: four readings.",
        )
    angles = tuple([reading.angle_mdeg for reading in turn.readings])
    if tell_apart(angles) or all(angle is None for angle in angles):
        return
    if None in angles:
        raise RefusedError(f"Some readings of a turn of {item} have an angle and some have none.", "Give all or none.")
    raise RefusedError(f"A turn of {item} has the same angle twice.", "Give each angle once.")


def _stand_as_they_are(turns: tuple[Turn, ...], place: Place) -> bool:
    """Whether it is plain at a glance that checked turns are kept as they are: one swing, angles counted clockwise."""
    return len(turns) == 1 and turns[0].kind == "tir" and not place.backwards


def _kept(turns: tuple[Turn, ...], place: Place) -> tuple[Turn, ...]:
    return tuple([_as_kept(_checked(turn, place) if turn.kind == "value" else turn, place) for turn in turns])


def _as_kept(turn: Turn, place: Place) -> Turn:
    """A turn with its angles as the logbook counts them; one of readings without any was read at even steps."""
    evenly = turn.kind == "point" and turn.readings[0].angle_mdeg is None
    if not evenly and not place.backwards:
        return turn
    given = [reading.angle_mdeg for reading in turn.readings]
    count = len(given)
    angles = [round(_FULL_TURN * k / count) for k in range(count)] if evenly else given
    readings = tuple(
        dataclasses.replace(r, angle_mdeg=None if angle is None else _turned(angle, backwards=place.backwards))
        for r, angle in zip(turn.readings, angles, strict=True)
    )
    return dataclasses.replace(turn, readings=readings)


@functools.lru_cache(maxsize=1024)
def tell_apart(angles: tuple[int | None, ...]) -> bool:
    """Whether all angles of a turn, in mdeg, are given and no two of them are the same."""
    return None not in angles and len({angle % _FULL_TURN for angle in angles if angle is not None}) == len(angles)


def _turned(angle_mdeg: int, *, backwards: bool) -> int:
    return -angle_mdeg % _FULL_TURN if backwards else angle_mdeg % _FULL_TURN


def write_clampings(entry: Entry, batch: Sequence[Resolved]) -> list[int]:
    """Insert resolved clampings with their turns, readings and figures; returns their ids in order."""
    return write_columns(entry, ResolvedColumns(*zip(*batch, strict=True)))


def write_columns(entry: Entry, batch: ResolvedColumns, ids: Ids | None = None) -> list[int]:
    """The same of at least one, given column by column. ``ids``: as in ``write_figures``."""
    connection, places = entry.connection, batch.places
    turns = list(itertools.chain.from_iterable(batch.turns))
    readings = list(itertools.chain.from_iterable([turn.readings for turn in turns]))
    per_clamping, per_turn = list(map(len, batch.turns)), [len(turn.readings) for turn in turns]
    counts = {schema.clamping: len(places), schema.turn: len(turns), schema.reading: len(readings)}
    clamping_ids, turn_ids, reading_ids = take_ids_of(connection, counts)
    known = _sitting_ids(entry, set(batch.sittings))
    sittings, recalled = [known[label] for label in batch.sittings], list(map(int, batch.recalled))
    clamping_of, turn_of = _each(clamping_ids, per_clamping), _each(turn_ids, per_turn)
    of_turns = list(zip(*_of_each(turns, _of_turn), strict=True))
    *read, steps_pm, pairs = zip(*_of_each(readings, _of_reading), strict=True)
    ranks = list(itertools.chain.from_iterable(map(range, per_turn)))
    of_clampings = [
        clamping_ids,
        batch.uuids,
        *zip(*[place.whose for place in places], strict=True),
        sittings,
        batch.labels,
        batch.taken_at,
        *zip(*[place.circumstances for place in places], strict=True),
        recalled,
        [place.record.note for place in places],
    ]
    with entry.not_waiting():
        entry.add_columns(schema.clamping, of_clampings)
        entry.add_columns(schema.turn, [turn_ids, clamping_of, *of_turns])
        entry.add_columns(schema.reading, [reading_ids, turn_of, ranks, *read])
    _write_bodies(entry, clamping_ids, places)
    _, distances, characteristics, kinds, _ = of_turns
    at = _each(places, per_clamping)
    facts = FactColumns(
        turn_id=turn_ids,
        clamping_id=clamping_of,
        sitting_id=_each(sittings, per_clamping),
        taken_at=_each(batch.taken_at, per_clamping),
        recalled=_each(recalled, per_clamping),
        step_pm=_of_turns(min, steps_pm, per_turn),
        angle_within_mdeg=_of_turns(max, read[_WITHIN], per_turn),
        kind=kinds,
        characteristic=characteristics,
        correction=[place.correction for place in at],
        readings=_of_turns(tuple, pairs, per_turn),
        series=series_of([place.history for place in at], distances, characteristics),
        gauging=[place.gauging for place in at],
    )
    write_figures(connection, facts, ids)
    return list(clamping_ids)


def _each(values: Sequence[T], counts: Sequence[int]) -> Sequence[T]:
    """Each of some values as often as is said."""
    if len(values) == sum(counts) and 0 not in counts:
        return values
    return list(itertools.chain.from_iterable(map(itertools.repeat, values, counts)))


def _of_turns(pick: Callable[[Sequence[Any]], Any], values: Sequence[Any], per_turn: Sequence[int]) -> list[Any]:
    """Of the values of all readings, what is picked for each turn."""
    if len(values) == len(per_turn):
        return list(map(pick, zip(values, strict=True)))
    ends = itertools.accumulate(per_turn)
    return [pick(values[end - count : end]) for end, count in zip(ends, per_turn, strict=True)]


def _of_each(things: Sequence[H], make: Callable[[H], T]) -> list[T]:
    """What is made of each; once of each object, as an import has the same ones again and again."""
    keys = list(map(id, things))
    made = {key: make(thing) for key, thing in dict(zip(keys, things, strict=True)).items()}
    return [made[key] for key in keys]


def _of_reading(reading: Reading) -> tuple[Any, ...]:
    """Its columns, the step it shows, and the angle with the value."""
    return (*_columns_of_reading(reading), resolution(reading), (reading.angle_mdeg, reading.value_pm))


def _write_bodies(entry: Entry, clamping_ids: Sequence[int], places: Sequence[Place]) -> None:
    if not any(place.clocking for place in places):
        return
    register = Register(entry.connection)
    bodies = [
        (clamping_id, _body_id(register, code), angle)
        for clamping_id, place in zip(clamping_ids, places, strict=True)
        for code, angle in place.clocking
    ]
    ids = take_ids(entry.connection, schema.clamping_body, len(bodies))
    entry.add_columns(schema.clamping_body, [ids, *zip(*bodies, strict=True)])


def _body_id(register: Register, code: str) -> int:
    found = register.find(code)
    assert found is not None
    return found.id


def _sitting_ids(entry: Entry, labels: set[str]) -> dict[str, int]:
    wanted = sorted(labels)
    known: dict[str, int] = {}
    for start in range(0, len(wanted), 500):
        some = wanted[start : start + 500]
        found = run(entry.connection, f"SELECT label, id FROM sitting WHERE label IN ({marks(len(some))})", some)
        known |= dict(found)
    for label in wanted:
        if label not in known:
            known[label] = entry.add(schema.sitting, label=label)
    return known
