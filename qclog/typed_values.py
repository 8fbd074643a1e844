"""Plain values as typed: sizes, differences and gaps, readings kept together, and what pins tell of a bore."""

import dataclasses
from collections.abc import Sequence

from qclog.errors import UsageError
from qclog.lengths import PICOMETRES, Unit
from qclog.logbook.lookup import Name, Register
from qclog.logbook.told_by_pins import written_names
from qclog.notation import TypedReading
from qclog.records import Reading, Turn
from qclog.value_notation import parse_value, pins_text


def value_turns(
    places: Sequence[tuple[int, Sequence[str]]], characteristic: str, bare: Unit | None
) -> list[list[Turn]]:
    """The turns of each clamping. ``places``: distances in picometres with their texts, the k-th of each for the k-th
    clamping; ``bare``: the unit of a bare number. Raises UsageError, LengthError, RefusedError."""
    counts = {len(texts) for _, texts in places}
    if not counts or counts == {0}:
        raise UsageError(f"No {characteristic} was given.", "Type its values behind the code, as 12.031 12.029.")
    if len(counts) > 1:
        raise UsageError("There are not as many values at each place.", "Give one for every clamping at each.")
    turns_of: list[list[Turn]] = [[] for _ in range(counts.pop())]
    for distance, texts in places:
        for turns, text in zip(turns_of, texts, strict=True):
            readings = tuple(reading_of(one) for one in parse_value(text, characteristic, bare=bare))
            turns.append(Turn("value", readings, distance, characteristic))
    return turns_of


def pins_told(register: Register, goes: Sequence[str], does_not: Sequence[str]) -> tuple[str, ...]:
    """What pairs of pins tell, as text; each pin by its size or by its code, if it is registered."""
    if len(goes) != len(does_not):
        given, missing = ("--go", "--no-go") if len(goes) > len(does_not) else ("--no-go", "--go")
        which = "next larger one, until one does not go" if missing == "--no-go" else "next smaller one, until one goes"
        raise UsageError(
            f"A {given} is without its {missing}: pins tell a bore by two.",
            f"Try the {which}, and add it: {missing} SIZE.",
        )
    pairs = zip(goes, does_not, strict=True)
    return tuple(pins_text(_pin_size(register, go), _pin_size(register, no_go)) for go, no_go in pairs)


def with_pins_named(register: Register, turn: Turn, go: str, no_go: str) -> Turn:
    """What pins told, with the codes of those that are registered beside it: their own certificates count."""
    codes = [pin.text if (pin := _pin(register, typed)) is not None else "" for typed in (go, no_go)]
    bore, *rest = turn.readings
    named = dataclasses.replace(bore, text=f"{bore.text}{written_names(*codes)}")
    return dataclasses.replace(turn, readings=(named, *rest))


def _pin(register: Register, text: str) -> Name | None:
    found = register.find(text)
    return found if found is not None and found.kind == "pin" else None


def _pin_size(register: Register, text: str) -> str:
    """A pin's size as text. Raises NotFoundError for what is no pin and does not begin as a number does."""
    found = _pin(register, text)
    if found is None and not text.strip().lstrip("+-.,")[:1].isdecimal():
        found = register.need(text, "pin")
    card = register.pin_card(found.id) if found is not None else None
    return f"{card['diameter_pm'] / PICOMETRES['mm']:.9g}mm" if card else text


def reading_of(typed: TypedReading, angle_mdeg: int | None = None) -> Reading:
    """A reading as it is kept; ``angle_mdeg``: where it was read, if the text does not say."""
    return Reading(
        value_pm=typed.picometres,
        text=typed.text,
        step_pm=typed.step_pm,
        angle_mdeg=typed.angle_mdeg if angle_mdeg is None else angle_mdeg,
        angle_within_mdeg=typed.angle_within_mdeg,
        low_pm=typed.low_pm,
        high_pm=typed.high_pm,
    )
