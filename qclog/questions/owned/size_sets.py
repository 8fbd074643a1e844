"""Sets of sizes: the step that what was bought evidently has.

A set is told from the sizes alone. Of the steps the trade sells in, the one fits best that leaves the fewest
exceptions: places without a size, and sizes beside it. Where even that leaves too many, there is no set.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from qclog.lengths import PICOMETRES

_MM: Final = PICOMETRES["mm"]
_INCH: Final = PICOMETRES["in"]
_STEPS_PM: Final = (*(2 * _MM, _MM, _MM // 2, _MM // 10), *(_INCH // 16, _INCH // 32, _INCH // 64))
"""Steps that collets are sold in (common practice), the coarser before the finer."""
_ROUNDED_PM: Final = _INCH // 2_000
"""An inch size written to three places may be so far off its fraction."""
_FEWEST: Final = 5
"""Fewer sizes show no step."""


@dataclass(frozen=True, slots=True)
class SizeSet:
    """A set from its first size to its last, both with it, in even steps; sizes in picometres."""

    step_pm: int
    first_pm: int
    last_pm: int

    @property
    def sizes_pm(self) -> range:
        return range(self.first_pm, self.last_pm + 1, self.step_pm)

    def place_of(self, size_pm: int) -> int | None:
        """The size of the set that a bought size is, None where it is none of them."""
        place = _on_step(size_pm, self.step_pm)
        return place if place is not None and self.first_pm <= place <= self.last_pm else None


def size_set(bought_pm: Iterable[int]) -> SizeSet | None:
    """The set that some sizes, picometres, evidently make; None where they make none."""
    sizes = set(bought_pm)
    best, best_score = None, 0
    for step in _STEPS_PM:
        on_step = sorted({place for size in sizes if (place := _on_step(size, step)) is not None})
        found, count, score = _fullest_stretch(on_step, step)
        if found is not None and count >= _FEWEST and 2 * score >= count and score > best_score:
            best, best_score = found, score
    return best


def _on_step(size_pm: int, step_pm: int) -> int | None:
    place = round(size_pm / step_pm) * step_pm
    rounded = _ROUNDED_PM if step_pm in _STEPS_PM[4:] else 0
    return place if place > 0 and abs(size_pm - place) <= rounded else None


def _fullest_stretch(places: list[int], step_pm: int) -> tuple[SizeSet | None, int, int]:
    """The stretch with the most more places filled than empty, of two alike the longer: it, how many are filled, and
    how many more."""
    best: tuple[SizeSet | None, int, int] = (None, 0, 0)
    first, count, score = 0, 0, 0
    for i, place in enumerate(places):
        gap = (place - places[i - 1]) // step_pm - 1 if i else 0
        if not i or score < gap:
            first, count, score = place, 1, 1
        else:
            count, score = count + 1, score + 1 - gap
        if score >= best[2]:
            best = (SizeSet(step_pm, first, place), count, score)
    return best
