"""What looks like a slip in a file that is taken in: in plain values and circles of faces, run-out is not looked at."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from qclog.logbook.clampings import Resolved
from qclog.logbook.lookup import Name, Register
from qclog.questions.doubts import Doubtful, other_circle
from qclog.questions.value_doubts import doubts_by_turn
from qclog.records import FACE_RUNOUT, Turn

MOST_KEPT: Final = 1_000
"""So many doubts are named; the rest is counted."""


@dataclass(frozen=True, slots=True)
class Noticed:
    """A doubt, the item, and the line of the file that its clamping begins in."""

    line: int
    item: str
    found: Doubtful


class ImportDoubts:
    """Collects them batch by batch, before a batch is written: what is doubted is held against what was there."""

    def __init__(self) -> None:
        self.total = 0
        self.first: list[Noticed] = []

    def look(self, register: Register, read: Sequence[tuple[int, Resolved]]) -> None:
        """``read``: clampings about to be written, with their lines. What was recalled from a notebook is not asked
        about, as when it is typed."""
        turns: dict[tuple[int, int], list[tuple[int, Turn]]] = {}
        circles: dict[tuple[int, int], int] = {}
        items: dict[int, Name] = {}
        for line, one in read:
            item = items.setdefault(one.place.item.id, one.place.item)
            if not one.recalled:
                of_item = turns.setdefault((item.id, one.place.modification_number), [])
                of_item.extend((line, turn) for turn in one.turns)
                if one.place.diameter_pm and any(turn.characteristic == FACE_RUNOUT for turn in one.turns):
                    circles.setdefault((item.id, one.place.diameter_pm), line)
        for (item_id, modification), lines in turns.items():
            found = doubts_by_turn(register, items[item_id], modification, [turn for _, turn in lines])
            for (line, _), doubted in zip(lines, found, strict=True):
                self._add(line, items[item_id], doubted)
        for (item_id, diameter_pm), line in circles.items():
            self._add(line, items[item_id], other_circle(register, items[item_id], diameter_pm))

    def _add(self, line: int, item: Name, doubted: Sequence[Doubtful]) -> None:
        self.total += len(doubted)
        self.first += [Noticed(line, item.text, found) for found in doubted[: MOST_KEPT - len(self.first)]]
