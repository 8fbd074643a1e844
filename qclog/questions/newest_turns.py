"""The newest turn read at known angles at each place of an item, with the curves behind its figures, for a picture."""

from collections.abc import Iterable
from dataclasses import dataclass

from qclog.questions.turns import ReadTurn
from qclog.statistics.turn_curve import TurnCurve, turn_curve


@dataclass(frozen=True, slots=True)
class NewestTurn:
    """A turn as ``turns`` tells it, and its curves."""

    read: ReadTurn
    curve: TurnCurve


def newest_turns(turns: Iterable[ReadTurn]) -> tuple[NewestTurn, ...]:
    """Of turns in the order of time the last at each place, in the order of the places."""
    newest = {
        (one.setup, one.setup_revision, one.position, one.clocking, one.distance_mm, one.characteristic): one
        for one in turns
    }
    return tuple(NewestTurn(one, turn_curve(one.readings_um, one.angles_deg)) for one in newest.values())
