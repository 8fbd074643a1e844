"""The swings of one series in the order of time, and where they stand: on the calendar, or in clampings in work."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.figures import Figures, Series

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """The swings of one series in the order of time, and where they stand on the axis.

    Arrays (n,): swings in µm, x in days or in clampings in work, sitting as a label. ``axis``: "date" or "clampings".
    """

    swings: Floats
    x: Floats
    dates: tuple[str, ...]
    sitting: Ints
    step_um: float
    axis: str

    def by_sitting(self) -> "History":
        """One point a sitting, its mean: clampings of one sitting are not independent witnesses of a change."""
        _, first, cell = np.unique(self.sitting, return_index=True, return_inverse=True)
        count = np.bincount(cell)
        order = np.argsort(first)
        means, places = np.bincount(cell, self.swings) / count, np.bincount(cell, self.x) / count
        dates = tuple(self.dates[first[i]] for i in order)
        return History(means[order], places[order], dates, self.sitting[first[order]], self.step_um, self.axis)


def history_of(one: Series, figures: Figures, used: list[tuple[int, int]]) -> History | None:
    """The history of a series, None without clampings; ``used``: when work was noted, and how many clampings."""
    start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
    if start == end:
        return None
    order = figures.order[start:end]
    days = np.array([_day_number(int(at)) for at in order])
    x = days
    if used:
        when = np.array([at for at, _ in used])
        total = np.cumsum([count for _, count in used])
        x = np.array([float(total[when <= at].max(initial=0)) for at in order])
    in_work = bool(used) and np.unique(x).size > 2
    return History(
        swings=figures.value_um[start:end],
        x=x if in_work else days,
        dates=tuple(_date(int(at)) for at in order),
        sitting=figures.sitting[start:end],
        step_um=float(figures.step_um[start:end].min()),
        axis="clampings" if in_work else "date",
    )


def as_date(place: float) -> str:
    """A place on the axis of dates as a date."""
    return datetime.date.fromordinal(int(place)).isoformat()


def as_count(place: float) -> str:
    """A place on the axis of work as a number of clampings."""
    return str(int(place))


def clampings_in_work(connection: sa.Connection, items: Sequence[int] | None) -> dict[int, list[tuple[int, int]]]:
    """By item: when work was noted, and how many clampings."""
    use = schema.use_record
    query = sa.select(use.c.item_id, use.c.used_on, use.c.clampings).where(use.c.clampings.is_not(None))
    if items is not None:
        query = query.where(use.c.item_id.in_(items))
    found: dict[int, list[tuple[int, int]]] = {}
    for item_id, used_on, clampings in connection.execute(query):
        found.setdefault(item_id, []).append((times.order(used_on), clampings))
    return {item_id: sorted(noted) for item_id, noted in found.items()}


def _date(order: int) -> str:
    digits = f"{order:014d}"
    return f"{digits[:4]}-{digits[4:6]}-{digits[6:8]}"


def _day_number(order: int) -> float:
    digits = f"{order:014d}"
    year, month, day = int(digits[:4]), max(int(digits[4:6]), 1), max(int(digits[6:8]), 1)
    seconds = int(digits[8:10]) * 3600 + int(digits[10:12]) * 60 + int(digits[12:14])
    return datetime.date(year, month, day).toordinal() + seconds / 86_400
