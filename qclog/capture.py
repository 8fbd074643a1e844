"""One measuring occasion, typed: what was given, what is kept from the line before, and what looks like a slip.

Nothing is printed here. ``prepare`` reads and checks, ``keep`` writes; in between the front door may ask.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import sqlalchemy as sa

from qclog import config, times
from qclog.characteristics import FLUSHNESS, meant, unit_of
from qclog.errors import RefusedError, UsageError
from qclog.lengths import Unit
from qclog.logbook import schema
from qclog.logbook.bonding import refuse_once_bonded
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.gauges import need_indicator
from qclog.logbook.last_given import LastGiven, last_given
from qclog.logbook.lookup import Name, Register
from qclog.logbook.setups import setup_for
from qclog.notation import TypedReading, parse_angle, parse_recalled, parse_swing, parse_turn
from qclog.questions.doubts import Doubt, Doubtful, doubts
from qclog.questions.value_doubts import value_doubts
from qclog.records import FACE_RUNOUT, RUNOUT, SWINGS, Clamping, Turn
from qclog.typed_values import pins_told, reading_of, value_turns, with_pins_named

_A_YEAR = 366.0
_KEPT_ALWAYS = ("instrument", "torque", "conditions", "operator")


@dataclass(frozen=True, slots=True)
class Typed:
    """A line as typed. None: not given. ``swings``: distance (None: the one in force) and its texts, the k-th of
    each being read in the k-th clamping; ``turns``: the same of texts of whole turns; ``angles``: theirs.
    ``pins``: the pins that go and those that do not, a clamping each."""

    item: str
    swings: tuple[tuple[int | None, tuple[str, ...]], ...] = ()
    turns: tuple[tuple[int | None, tuple[str, ...]], ...] = ()
    angles: str = ""
    setup: str | None = None
    position: str | None = None
    clocking: tuple[tuple[str, int], ...] = ()
    pin: str | None = None
    diameter_pm: int | None = None
    instrument: str | None = None
    distance_pm: int | None = None
    lever_mdeg: int | None = None
    torque: str | None = None
    conditions: str | None = None
    operator: str | None = None
    on: str | None = None
    sitting: str = ""
    modification: int | None = None
    same_clamping: bool | None = None
    recalled: bool = False
    note: str = ""
    characteristic: str = RUNOUT
    pins: tuple[tuple[str, ...], tuple[str, ...]] = ((), ())


@dataclass(frozen=True, slots=True)
class Prepared:
    """Clampings ready to be kept; ``as_before`` names what was taken over from the line before."""

    item: Name
    clampings: tuple[Clamping, ...]
    doubts: tuple[Doubtful, ...]
    as_before: tuple[str, ...]
    asks_pin_out: bool


def prepare(store: Store, typed: Typed) -> Prepared:
    """Everything a line says and leaves unsaid, checked. Raises what is wrong with it; writes nothing."""
    with store.reading() as connection:
        register = Register(connection)
        item = register.need(typed.item, "item")
        taken_at = times.taken_at(typed.on, recalled=typed.recalled) if typed.on else times.now()
        characteristic = meant(typed.characteristic)
        if any(typed.pins) and characteristic in SWINGS:
            raise UsageError("Pins tell the size of a bore, no swing.", "Add --characteristic bore.")
        before = _before(connection, typed.sitting or times.day(taken_at), characteristic)
        modification = typed.modification
        if modification is None and typed.on is None:
            modification = register.newest_modification(item).number
        given, as_before = _completed(register, item, typed, before, characteristic)
        base = Clamping(
            item=item.text,
            taken_at=taken_at,
            turns=(),
            clocking=typed.clocking,
            modification=modification,
            sitting=typed.sitting,
            recalled=typed.recalled,
            note=typed.note,
            **given,
        )
        distance, kept_distance = _distance(register, item, typed, before, base, characteristic)
        if characteristic in SWINGS:
            clampings = _clampings(register, typed, base, distance, characteristic)
        else:
            clampings = _of_values(register, typed, base, distance or 0, characteristic)
        resolver = Resolver(register)
        resolved = [resolver.resolve(clamping) for clamping in clampings]
        refuse_once_bonded(register, item, resolved[0].place.modification_number, characteristic)
        instrument = need_indicator(register, base.instrument) if base.instrument else None
        card = register.instrument_card(instrument.id) if instrument else None
        _refuse_beyond_range(clampings, card["range_pm"] if card else None, base.instrument)
        found = (
            ()
            if typed.recalled
            else (
                *_in_future(taken_at),
                *doubts(
                    register,
                    item,
                    resolved[0].place.modification_number,
                    [turn for clamping in clampings for turn in clamping.turns],
                    position=resolved[0].place.position,
                    division_pm=card["division_pm"] if card else None,
                    diameter_pm=resolved[0].place.diameter_pm if characteristic in SWINGS else None,
                    lever_mdeg=base.lever_mdeg,
                ),
                *value_doubts(
                    register,
                    item,
                    resolved[0].place.modification_number,
                    [turn for clamping in clampings for turn in clamping.turns],
                    division_pm=card["division_pm"] if card else None,
                ),
            )
        )
        asks = len(clampings) > 1 and not base.pin_out and not typed.recalled and characteristic in SWINGS
        return Prepared(item, tuple(clampings), found, (*as_before, *kept_distance), asks)


def _in_future(taken_at: str) -> tuple[Doubtful, ...]:
    """Raises RefusedError for a time more than a year ahead, which is no clock that is wrong."""
    ahead = times.days_ahead(taken_at)
    if ahead > _A_YEAR:
        raise RefusedError(f"{taken_at} lies more than a year ahead.", "Check the date given with --on.")
    return (Doubtful(Doubt.IN_FUTURE, taken_at, 0.0),) if ahead else ()


def said_pin_out(prepared: Prepared, answer: Literal["yes", "no"]) -> Prepared:
    """With the answer whether the pin was taken right out between the numbers: if not, they are one clamping."""
    first = prepared.clampings[0]
    if answer == "yes":
        clampings = tuple(dataclasses.replace(one, pin_out="yes") for one in prepared.clampings)
    else:
        turns = [turn for one in prepared.clampings for turn in one.turns]
        numbered = tuple(dataclasses.replace(turn, label=str(i)) for i, turn in enumerate(turns, start=1))
        clampings = (dataclasses.replace(first, turns=numbered, pin_out="no"),)
    return dataclasses.replace(prepared, clampings=clampings, asks_pin_out=False)


def keep(store: Store, prepared: Prepared) -> list[int]:
    """Log what was prepared, with the doubts that were answered "it is right"; returns the clampings' numbers."""
    with new_entry(store, "log", prepared.clampings[0].operator) as entry:
        resolver = Resolver(Register(entry.connection))
        ids = write_clampings(entry, [resolver.resolve(clamping) for clamping in prepared.clampings])
        for found in prepared.doubts:
            entry.add(
                schema.doubt,
                item_id=prepared.item.id,
                clamping_id=ids[0],
                why=found.doubt,
                typed=found.typed,
                answer="kept",
            )
        return ids


def withdraw(store: Store, prepared: Prepared) -> None:
    """Keep that a doubtful line was typed and taken back; nothing of it is logged as a reading."""
    with new_entry(store, "log withdrawn", prepared.clampings[0].operator) as entry:
        for found in prepared.doubts:
            entry.add(schema.doubt, item_id=prepared.item.id, why=found.doubt, typed=found.typed, answer="withdrawn")


def _before(connection: sa.Connection, sitting: str, characteristic: str) -> LastGiven:
    """What the last line with the same characteristic said; of a face run-out's first, what that of the run-out did."""
    before = last_given(connection, config.station(), sitting, characteristic)
    if characteristic == FACE_RUNOUT and not before.item_id:
        runout = last_given(connection, config.station(), sitting)
        return dataclasses.replace(runout, item_id=0, distance_pm=None)
    return before


def _completed(
    register: Register, item: Name, typed: Typed, before: LastGiven, characteristic: str
) -> tuple[dict[str, Any], list[str]]:
    """The fields of a clamping as given or as before, and which were taken over."""
    taken_over: list[str] = []

    def kept(field: str, text: Any) -> Any:
        if text:
            taken_over.append(field)
        return text

    fields: dict[str, Any] = {}
    for field in _KEPT_ALWAYS:
        own = getattr(typed, field)
        fields[field] = kept(field, getattr(before, field)) if own is None else own
    fields["operator"] = fields["operator"] or config.person()
    if typed.setup is not None:
        fields["setup"] = register.need(typed.setup, "setup").text
    elif before.setup:
        fields["setup"] = kept("setup", before.setup)
    else:
        _ask_which(register, item, characteristic)
        fields["setup"] = setup_for(register, item, "").text if characteristic in SWINGS else ""
    same_setup = fields["setup"] == before.setup
    fields["position"] = typed.position
    if typed.position is None:
        fields["position"] = kept("position", before.position) if same_setup else ""
    if typed.pin is not None or typed.diameter_pm is not None:
        fields["pin"], fields["diameter_pm"] = typed.pin or "", typed.diameter_pm
    elif before.item_id == item.id:
        fields["pin"] = kept("pin", before.pin)
        fields["diameter_pm"] = None if before.pin and characteristic != FACE_RUNOUT else before.diameter_pm
    if characteristic == FACE_RUNOUT and fields.get("diameter_pm") is None:
        raise RefusedError(
            f"On which circle was the face of {item.text} read? Its swing grows with the diameter.",
            "Say it with --diameter 40.",
        )
    same_instrument = fields["instrument"] == before.instrument
    fields["lever_mdeg"] = typed.lever_mdeg
    if typed.lever_mdeg is None and same_instrument and before.lever_mdeg is not None:
        fields["lever_mdeg"] = kept("lever angle", before.lever_mdeg)
    if typed.same_clamping is not None:
        fields["pin_out"] = "no" if typed.same_clamping else "yes"
    elif before.pin_out == "yes":
        fields["pin_out"] = kept("pin right out each time", "yes")
    return fields, taken_over


def _ask_which(register: Register, item: Name, characteristic: str) -> None:
    """Raises RefusedError for run-out without a setup of an item that is made to sizes and differences only."""
    made_to = dict.fromkeys(limit.characteristic for limit in register.limits(item.id))
    if characteristic == RUNOUT and made_to and not any(name in SWINGS for name in made_to):
        names = " or ".join(f'--characteristic "{name}"' for name in made_to)
        raise RefusedError(f"Was it run-out that was read of {item.text}?", f"Say what it was: {names}; or --setup.")


def _distance(
    register: Register, item: Name, typed: Typed, before: LastGiven, base: Clamping, characteristic: str
) -> tuple[int | None, list[str]]:
    """The distance in force: as given, as before, or the only one the item has a limit at; of anything but run-out
    else the front face."""
    if characteristic == FACE_RUNOUT and any((typed.distance_pm, *(at for at, _ in (*typed.swings, *typed.turns)))):
        raise RefusedError(
            f"The face of {item.text} is read on a circle, not at a distance.", "Leave the distance out: --diameter 40."
        )
    if typed.distance_pm is not None:
        return typed.distance_pm, []
    if all(distance is not None for distance, _ in (*typed.swings, *typed.turns)):
        return None, []
    if before.distance_pm is not None and before.setup == base.setup:
        return before.distance_pm, ["distance"] if before.distance_pm or characteristic == RUNOUT else []
    limits = [limit for limit in register.limits(item.id) if limit.characteristic == characteristic]
    stated = {limit.distance_pm for limit in limits if limit.distance_pm >= 0}
    if len(stated) == 1:
        return stated.pop(), ["distance of its limit"]
    if characteristic != RUNOUT:
        return 0, []
    raise RefusedError(
        f"How far from the front face of {item.text} was it read?", "Say it in millimetres: --distance 16"
    )


def _of_values(register: Register, typed: Typed, base: Clamping, distance: int, characteristic: str) -> list[Clamping]:
    if typed.turns or typed.angles:
        raise UsageError(f"A {characteristic} is no turn.", "Give its values without --quarters, --around, --angles.")
    own, logbook = bare_unit(register, base.instrument) if base.instrument else None, bare_unit(register, "")
    bare = unit_of(characteristic, own, logbook)
    places = [(distance if where is None else where, texts) for where, texts in typed.swings]
    if characteristic == FLUSHNESS and typed.same_clamping:
        raise RefusedError(
            "Each point of a flushness counts by itself: a mean would hide one that stands proud.",
            "Leave out --same-clamping.",
        )
    if pins := pins_told(register, *typed.pins):
        places.append((distance, pins))
    turns_of = value_turns(places, characteristic, bare)
    for turns, go, no_go in zip(turns_of, *typed.pins, strict=True) if pins else ():
        turns[-1] = with_pins_named(register, turns[-1], go, no_go)
    return _together(typed, base, turns_of)


def _clampings(
    register: Register, typed: Typed, base: Clamping, distance: int | None, characteristic: str
) -> list[Clamping]:
    bare = bare_unit(register, base.instrument)
    graduation = division(register, base.instrument)
    counts = {len(texts) for _, texts in (*typed.swings, *typed.turns)}
    if not counts or counts == {0}:
        raise UsageError(f"No reading of {base.item} was given.", f"For example: qclog log {base.item} 4 5 4 6 5")
    if len(counts) > 1:
        raise UsageError(
            "The distances do not have the same number of readings.", "Give one for every clamping at each distance."
        )
    turns_of: list[list[Turn]] = [[] for _ in range(counts.pop())]
    for where, texts in typed.swings:
        for turns, text in zip(turns_of, texts, strict=True):
            if typed.recalled:
                swing = parse_recalled(text, bare=bare)
            else:
                swing = parse_swing(text, bare=bare, graduation_pm=graduation)
            turns.append(Turn("tir", (reading_of(swing),), _known(where, distance), characteristic))
    for where, texts in typed.turns:
        for turns, text in zip(turns_of, texts, strict=True):
            readings = parse_turn(text, bare=bare, graduation_pm=graduation)
            turns.append(_turn(readings, typed.angles, _known(where, distance), characteristic))
    return _together(typed, base, turns_of)


def _together(typed: Typed, base: Clamping, turns_of: Sequence[Sequence[Turn]]) -> list[Clamping]:
    """A clamping for each, or one for all where the pin stayed in."""
    clampings = [dataclasses.replace(base, turns=tuple(turns)) for turns in turns_of]
    if typed.same_clamping and len(clampings) > 1:
        numbered = [
            dataclasses.replace(turn, label=str(i))
            for i, clamping in enumerate(clampings, start=1)
            for turn in clamping.turns
        ]
        return [dataclasses.replace(base, turns=tuple(numbered))]
    return clampings


def _turn(readings: Sequence[TypedReading], angles_text: str, distance: int, characteristic: str) -> Turn:
    """A whole turn. One reading more than angles, or an odd number evenly spaced, ends with the return to zero."""
    angles = [parse_angle(angle)[0] for angle in angles_text.replace(";", " ").split()]
    returns = len(readings) == len(angles) + 1 if angles else len(readings) % 2 == 1 and len(readings) > 3
    closure = readings[-1].picometres - readings[0].picometres if returns else None
    counted = readings[:-1] if returns else readings
    if angles and len(angles) != len(counted):
        raise UsageError(
            f"There are {len(readings)} readings and {len(angles)} angles.",
            "Give one angle for each reading; one reading more is the return to zero.",
        )
    kept = tuple(reading_of(r, angles[i] if angles else None) for i, r in enumerate(counted))
    return Turn("point", kept, distance, characteristic, closure_pm=closure)


def _known(own: int | None, common: int | None) -> int:
    distance = common if own is None else own
    assert distance is not None
    return distance


def bare_unit(register: Register, instrument: str) -> Unit:
    """The unit of a bare number: that of the instrument, else of the logbook."""
    card = register.instrument_card(need_indicator(register, instrument).id) if instrument else None
    unit = (card["unit"] if card else "") or register.setting("unit", "um")
    return next(known for known in get_args(Unit) if known == unit)


def division(register: Register, instrument: str) -> int | None:
    """One division of the instrument in picometres, if one is named."""
    card = register.instrument_card(need_indicator(register, instrument).id) if instrument else None
    return int(card["division_pm"]) if card else None


def _refuse_beyond_range(clampings: Sequence[Clamping], range_pm: int | None, instrument: str) -> None:
    if range_pm is None:
        return
    for clamping in clampings:
        for turn in clamping.turns:
            for reading in turn.readings:
                if abs(reading.value_pm) > range_pm:
                    raise RefusedError(
                        f"{reading.text!r} lies beyond the range of {instrument} ({range_pm / 1e6:g} µm).",
                        "Check the unit, or name the indicator it was read with.",
                    )
