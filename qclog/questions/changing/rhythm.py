"""How often places are read."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from qclog.questions.changing.histories import History, day_numbers

_FEWEST_GAPS: Final = 4
_RHYTHM_FROM_DAYS: Final = 7
_PER_DAY: Final = 1_000_000
_AFTER_ALL_DAYS: Final = date.max.toordinal() + 1


@dataclass(frozen=True, slots=True)
class Rhythm:
    """How often a place was read: days between the days it was read on, the usual gap (the median) and the longest."""

    every_days: float
    longest_days: int

    def broken_after(self, days: int) -> bool:
        """Whether so many days without a reading are out of it: more than any gap, and than two usual ones."""
        return days > max(self.longest_days, 2 * self.every_days)


def rhythms(points: Sequence[History]) -> list[Rhythm | None]:
    """How often each place was read; None for fewer than four gaps, and for usual ones below a week: that is one job.

    Days known by their month or year only do not count.
    """
    if not points:
        return []
    orders = np.concatenate([one.order for one in points])
    of = np.repeat(np.arange(len(points)), [one.order.size for one in points])
    whole = orders // _PER_DAY % 100 > 0
    ordinal = day_numbers(orders[whole]).astype(np.int64)
    place, day = np.divmod(np.unique(of[whole] * _AFTER_ALL_DAYS + ordinal), _AFTER_ALL_DAYS)
    same = place[1:] == place[:-1]
    place, gap = place[1:][same], np.diff(day)[same]
    gap = gap[np.lexsort((gap, place))]
    size = np.bincount(place, minlength=len(points))
    first = np.cumsum(size) - size
    found: list[Rhythm | None] = [None] * len(points)
    for i in np.flatnonzero(size >= _FEWEST_GAPS).tolist():
        start, n = int(first[i]), int(size[i])
        usual = float(gap[start + (n - 1) // 2] + gap[start + n // 2]) / 2
        if usual >= _RHYTHM_FROM_DAYS:
            found[i] = Rhythm(usual, int(gap[start + n - 1]))
    return found
