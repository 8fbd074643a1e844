"""The readings behind a size, a gap or a difference, as they stand in its picture and in the tables of readings."""

from collections.abc import Sequence
from dataclasses import dataclass

from qclog.logbook.life import Life, LoggedTurn
from qclog.questions.codes import Caveat
from qclog.questions.judging.values import ValueGroup
from reports import values
from reports.anchors import row_of


@dataclass(frozen=True, slots=True)
class Point:
    """One clamping: the ends in µm between which it lies, equal ones where a number was read; the name of its row in
    the tables of readings. ``counts``: figures rest on it."""

    clamping: int
    taken_at: str
    low_um: float
    high_um: float
    counts: bool
    in_doubt: bool
    row: str


def points_of(life: Life, group: ValueGroup) -> list[Point]:
    """In the order of time; turns of one clamping are averaged. In doubt counts only where there is nothing else."""
    newest = max(change.number for change in life.modifications)
    at = newest if group.before_bonding is None else group.before_bonding
    here = (at, group.setup, group.setup_revision, group.position, group.clocking)
    found = []
    for one in life.clampings:
        ends = [
            turn.ends_um or (turn.value_um, turn.value_um)
            for turn in one.turns
            if turn.value_um is not None and _is_of(turn, group)
        ]
        there = (one.modification, one.setup, one.revision, one.position, one.clocking) == here
        if ends and there and not (one.struck or one.recalled):
            low, high = (sum(end) / len(ends) for end in zip(*ends, strict=True))
            counts = not one.in_doubt or Caveat.IN_DOUBT in group.caveats
            row = row_of(one.number, group.distance_mm, group.characteristic)
            found.append(Point(one.number, one.taken_at, low, high, counts, one.in_doubt, row))
    return found


def told(group: ValueGroup, point: Point) -> str:
    """What it is, for who cannot see it: "clamping 4, 2026-03-02, 8.05 mm to 8.06 mm"."""
    ends = dict.fromkeys(values.exactly(group, end) for end in (point.low_um, point.high_um))
    return f"clamping {point.clamping}, {point.taken_at[:10]}, {' to '.join(ends)}"


def extremes(points: Sequence[Point]) -> tuple[str, str]:
    """The names of the rows of the least and of the most."""
    sound = [point for point in points if point.counts]
    return min(sound, key=lambda point: point.low_um).row, max(sound, key=lambda point: point.high_um).row


def _is_of(turn: LoggedTurn, group: ValueGroup) -> bool:
    distance_mm = round(turn.distance_pm / 1e8) / 10
    return (turn.characteristic, distance_mm, turn.struck) == (group.characteristic, group.distance_mm, "")
