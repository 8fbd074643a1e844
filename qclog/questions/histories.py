"""The swings of each place in the order of time, and where they stand: on the calendar, or in clampings in work."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.figures import Figures, Series, read_figures, read_series
from qclog.logbook.owned import Owned, OwnedSetup, read_owned, read_setups
from qclog.questions.alike import is_current
from qclog.records import SWINGS

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Used = list[tuple[int, int]]

DATE, WORK = "date", "clampings"
_FEWEST_PLACES_IN_WORK: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """The swings of one series in the order of time; arrays (n,).

    swings in µm, read to step_um; x: where they stand on the axis, ``DATE`` in days or ``WORK`` in clampings in
    work since the last modification; ids of sitting and clamping. ``worked``: all the clampings in work noted since
    the last modification, None where none were. ``in_doubt``: all of it was read with a gauge found wrong.
    """

    series: Series
    swings: Floats
    x: Floats
    dates: tuple[str, ...]
    sitting: Ints
    clamping: Ints
    step_um: float
    axis: str
    worked: int | None
    in_doubt: bool

    def by_sitting(self) -> "History":
        """One point a sitting, its mean: clampings of one sitting are not independent witnesses of a change."""
        _, first, cell = np.unique(self.sitting, return_index=True, return_inverse=True)
        count, order = np.bincount(cell), np.argsort(first)
        first = first[order]
        return History(
            series=self.series,
            swings=(np.bincount(cell, self.swings) / count)[order],
            x=(np.bincount(cell, self.x) / count)[order],
            dates=tuple(self.dates[i] for i in first),
            sitting=self.sitting[first],
            clamping=self.clamping[first],
            step_um=self.step_um,
            axis=self.axis,
            worked=self.worked,
            in_doubt=self.in_doubt,
        )

    def written(self, place: float) -> str:
        """A place on the axis as it is told: a date, or a number of clampings."""
        if self.axis == WORK:
            return str(int(place))
        return datetime.date.fromordinal(min(int(place), datetime.date.max.toordinal())).isoformat()


@dataclass(frozen=True, slots=True)
class Measured:
    """The histories of items as they are now, in the order of item code, setup and place; and what they belong to."""

    items: dict[int, Owned]
    setups: dict[int, OwnedSetup]
    histories: tuple[History, ...]


def read_histories(connection: sa.Connection, items: Sequence[int] | None, *, swings: bool = True) -> Measured:
    """The histories that have clampings, of some items or of all, in the newest revision of each setup.

    Without ``swings`` those of other characteristics.
    """
    owned, setups = read_owned(connection, items), read_setups(connection)
    series = [
        one
        for one in read_series(connection, items=items)
        if (is_current(one, owned) if swings else _is_other(one, owned))
        and (not one.setup_id or one.revision == setups[one.setup_id].revision)
    ]
    figures = read_figures(connection, None if items is None else [one.id for one in series])
    used = _clampings_in_work(connection, items, owned)
    found = [_history(one, figures, used.get(one.item_id, [])) for one in series]
    return Measured(owned, setups, tuple(history for history in found if history is not None))


def _is_other(one: Series, owned: dict[int, Owned]) -> bool:
    item = owned.get(one.item_id)
    return item is not None and one.modification == item.modification and one.characteristic not in SWINGS


def _history(one: Series, figures: Figures, used: Used) -> History | None:
    start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
    if start == end:
        return None
    order = figures.order[start:end]
    total = np.cumsum([0, *(count for _, count in used)])
    in_work = total[np.searchsorted([at for at, _ in used], order, side="right")].astype(np.float64)
    axis = WORK if np.unique(in_work).size >= _FEWEST_PLACES_IN_WORK else DATE
    return History(
        series=one,
        swings=figures.value_um[start:end],
        x=in_work if axis == WORK else np.array([_day_number(int(at)) for at in order]),
        dates=tuple(times.day_of(int(at)) for at in order),
        sitting=figures.sitting[start:end],
        clamping=figures.clamping[start:end],
        step_um=float(figures.step_um[start:end].min()),
        axis=axis,
        worked=int(total[-1]) if used else None,
        in_doubt=bool(figures.in_doubt[start:end].any()),
    )


def _clampings_in_work(
    connection: sa.Connection, items: Sequence[int] | None, owned: dict[int, Owned]
) -> dict[int, Used]:
    """By item, since its last modification: when work was noted, and how many clampings."""
    use = schema.use_record
    query = sa.select(use.c.item_id, use.c.used_on, use.c.clampings).where(use.c.clampings.is_not(None))
    if items is not None:
        query = query.where(use.c.item_id.in_(items))
    found: dict[int, Used] = {}
    for item_id, used_on, clampings in connection.execute(query):
        at = times.order(used_on)
        if at >= times.order(owned[item_id].modified_at):
            found.setdefault(item_id, []).append((at, clampings))
    return {item_id: sorted(noted) for item_id, noted in found.items()}


def _day_number(order: int) -> float:
    digits = f"{order:014d}"
    year, month, day = int(digits[:4]), max(int(digits[4:6]), 1), max(int(digits[6:8]), 1)
    seconds = int(digits[8:10]) * 3600 + int(digits[10:12]) * 60 + int(digits[12:14])
    return datetime.date(year, month, day).toordinal() + seconds / 86_400
