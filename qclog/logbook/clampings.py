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
from collections.abc import Iterable, Sequence
from typing import Any, Final, NamedTuple, Self, TypeVar

import sqlalchemy as sa

from qclog import texts, times
from qclog.characteristics import check_value
from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.deriving import TurnFacts, lever_correction, resolution, write_figures
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
_of_reading: Final = operator.attrgetter(*columns_of(schema.reading)[3:])
_WITHIN: Final = columns_of(schema.reading)[3:].index("angle_within_mdeg")
T = TypeVar("T")


class Place(NamedTuple):
    """What a clamping names, found in the logbook, but for what is its own: time, label, turns.

    ``identity``: what of it tells clampings apart. ``backwards``: its angles are counted the other way round.
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


class Resolved(NamedTuple):
    """A clamping with everything it names found in the logbook, ready to be written."""

    place: Place
    uuid: str
    sitting: str
    label: str
    taken_at: str
    recalled: bool
    turns: tuple[Turn, ...]


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
        self._places: dict[tuple[Shared, str], Place] = {}

    def resolve(self, record: Clamping) -> Resolved:
        """Raises NotFoundError, RefusedError for what is not known or cannot be."""
        _check_texts(record)
        texts.name(record.label, "label of the clamping")
        taken_at = times.taken_at(record.taken_at, recalled=record.recalled)
        place = self._place(record, taken_at)
        label = self._label(place.item, record.sitting.strip() or times.day(taken_at), record.label.strip())
        turns = tuple([_as_kept(_checked(turn, place), place) for turn in record.turns])
        return _resolved(place, taken_at, label, record.recalled, turns)

    def resolve_shared(
        self, shared: Shared, taken_at: str, label: str, recalled: bool, turns: tuple[Turn, ...]
    ) -> Resolved:
        """The same of a clamping that has a label, and whose time and turns were checked; what it shares is looked up
        once."""
        place = self._places.get((shared, "")) or self._places.get((shared, taken_at))
        if place is None:
            _check_texts(shared.record)
            place = self._place(shared.record, taken_at)
            if len(self._places) >= _MOST_PLACES:
                self._places.clear()
            self._places[shared, "" if self._at_any_time(place) else taken_at] = place
        kept = tuple([_as_kept(_checked(turn, place) if turn.kind == "value" else turn, place) for turn in turns])
        return _resolved(place, taken_at, label, recalled, kept)

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
        identity = (
            item.text.casefold(),
            setup.text.casefold() if setup else "",
            position.casefold(),
            format_clocking(clocking).casefold(),
        )
        return Place(
            record=record,
            item=item,
            modification_id=modification.id,
            modification_number=modification.number,
            revision_id=revision.id if revision else None,
            backwards=backwards,
            position=position,
            clocking=clocking,
            pin_id=pin.id if pin else None,
            diameter_pm=pin_card["diameter_pm"] if pin_card and record.diameter_pm is None else record.diameter_pm,
            instrument_id=instrument.id if instrument else None,
            calibration_id=calibration["id"] if calibration else None,
            correction=lever_correction(
                card["kind"] if card else None, record.lever_mdeg, card["correct_at_mdeg"] if card else 0
            ),
            identity=_BETWEEN.join(identity),
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


def _resolved(place: Place, taken_at: str, label: str, recalled: bool, turns: tuple[Turn, ...]) -> Resolved:
    sitting = place.record.sitting.strip() or times.day(taken_at)
    identity = _BETWEEN.join((place.identity, sitting, label, taken_at))
    return Resolved(place, _uuid(identity), sitting, label, taken_at, recalled, turns)


def _uuid(identity: str) -> str:
    """The name-based UUID (version 5, RFC 9562) as text, in a third of the time that the library takes for it."""
    made = hashlib.sha1(_NAMESPACE.bytes + identity.encode(), usedforsecurity=False).hexdigest()
    return f"{made[:8]}-{made[8:12]}-5{made[13:16]}-{_VARIANT[made[16]]}{made[17:20]}-{made[20:32]}"


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
    connection = entry.connection
    turns = [turn for one in batch for turn in one.turns]
    readings = [reading for turn in turns for reading in turn.readings]
    ids = take_ids_of(connection, {schema.clamping: len(batch), schema.turn: len(turns), schema.reading: len(readings)})
    clamping_ids, turn_ids, reading_ids = ids
    sittings = _sitting_ids(entry, {one.sitting for one in batch})
    places = {key: _Placed.of(place) for key, place in {id(one.place): one.place for one in batch}.items()}
    placed = [places[id(one.place)] for one in batch]
    clampings = [
        (
            new,
            one.uuid,
            *its.identity,
            sittings[one.sitting],
            one.label,
            one.taken_at,
            *its.circumstances,
            int(one.recalled),
            its.note,
        )
        for new, one, its in zip(clamping_ids, batch, placed, strict=True)
    ]
    per_clamping, per_turn = [len(one.turns) for one in batch], [len(turn.readings) for turn in turns]
    clamping_of = _each(clamping_ids, per_clamping)
    ranks = list(itertools.chain.from_iterable(map(range, per_turn)))
    read = list(zip(*_of_readings(readings), strict=True))
    with entry.not_waiting():
        entry.add_columns(schema.clamping, list(zip(*clampings, strict=True)))
        entry.add_columns(schema.turn, [turn_ids, clamping_of, *zip(*map(_of_turn, turns), strict=True)])
        entry.add_columns(schema.reading, [reading_ids, _each(turn_ids, per_turn), ranks, *read[:-2]])
    _write_bodies(entry, clamping_ids, batch)
    ends = list(itertools.accumulate(per_turn))
    facts = [
        TurnFacts._make(
            (
                turn_id,
                clamping_id,
                *its.history,
                turn.distance_pm,
                turn.characteristic,
                turn.kind,
                sittings[one.sitting],
                *its.gauged,
                one.taken_at,
                int(one.recalled),
                min(read[-2][start:end]),
                max(read[_WITHIN][start:end]),
                read[-1][start:end],
            )
        )
        for turn_id, clamping_id, its, one, turn, start, end in zip(
            turn_ids,
            clamping_of,
            _each(placed, per_clamping),
            _each(batch, per_clamping),
            turns,
            [0, *ends],
            ends,
            strict=False,
        )
    ]
    write_figures(connection, facts)
    return list(clamping_ids)


class _Placed(NamedTuple):
    """A place as its parts stand in a row of ``clamping``, and in the facts of a turn."""

    identity: tuple[Any, ...]
    circumstances: tuple[Any, ...]
    note: str
    history: tuple[Any, ...]
    gauged: tuple[Any, ...]

    @classmethod
    def of(cls, place: Place) -> Self:
        record, lever_mdeg = place.record, place.record.lever_mdeg
        where = (place.position, format_clocking(place.clocking) if place.clocking else "")
        return cls(
            (place.item.id, place.modification_id, place.revision_id, *where),
            (
                place.pin_id,
                place.diameter_pm,
                place.instrument_id,
                place.calibration_id,
                lever_mdeg,
                record.pin_out,
                record.torque,
                record.conditions,
                record.operator,
            ),
            record.note,
            (place.item.id, place.modification_id, place.revision_id or 0, *where, place.diameter_pm),
            (
                place.instrument_id or 0,
                place.calibration_id or 0,
                place.pin_id or 0,
                -1 if lever_mdeg is None else lever_mdeg,
                place.correction,
            ),
        )


def _each(values: Iterable[T], counts: Iterable[int]) -> list[T]:
    """Each of some values as often as is said."""
    return list(itertools.chain.from_iterable(map(itertools.repeat, values, counts)))


def _of_readings(readings: Sequence[Reading]) -> list[tuple[Any, ...]]:
    """Of each reading its columns, the step it shows, and the angle with the value; made once of each object, as an
    import has the same ones again and again."""
    keys = list(map(id, readings))
    made = {
        key: (*_of_reading(read), resolution(read), (read.angle_mdeg, read.value_pm))
        for key, read in dict(zip(keys, readings, strict=True)).items()
    }
    return [made[key] for key in keys]


def _write_bodies(entry: Entry, clamping_ids: Sequence[int], batch: Sequence[Resolved]) -> None:
    if not any(one.place.clocking for one in batch):
        return
    register = Register(entry.connection)
    bodies = [
        (clamping_id, _body_id(register, code), angle)
        for clamping_id, one in zip(clamping_ids, batch, strict=True)
        for code, angle in one.place.clocking
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
