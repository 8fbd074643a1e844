"""The newest turns read at known angles at each place of an item, with the curves behind their figures."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from qclog.questions.turns import ReadTurn
from qclog.statistics.turn.turn_curve import TurnCurve, turn_curve

ENOUGH: Final = 8
"""Readings from which on no lobes usual on pins and bores (three to five; common practice) read as run-out."""


@dataclass(frozen=True, slots=True)
class NewestTurn:
    """A turn as ``turns`` tells it, and its curves."""

    read: ReadTurn
    curve: TurnCurve


def newest_turns(turns: Iterable[ReadTurn]) -> tuple[NewestTurn, ...]:
    """Of turns in the order of time the last at each place, in the order of the places; where it has too few readings
    to tell lobes apart, then the last that has enough."""
    places: dict[tuple[Any, ...], list[ReadTurn]] = {}
    for one in turns:
        place = (one.setup, one.setup_revision, one.position, one.clocking, one.distance_mm, one.characteristic)
        places.setdefault(place, []).append(one)
    found = []
    for at_place in places.values():
        found.append(at_place[-1])
        if at_place[-1].readings < ENOUGH:
            found += [one for one in at_place if one.readings >= ENOUGH][-1:]
    return tuple(NewestTurn(one, turn_curve(one.readings_um, one.angles_deg)) for one in found)
