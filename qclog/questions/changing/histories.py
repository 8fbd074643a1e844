"""The swings of each place in the order of time, and where they stand: on the calendar, or in clampings in work."""

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.figures import Figures, Series
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.questions.judging.alike import is_current
from qclog.questions.known import Known
from qclog.records import SWINGS
from qclog.statistics.grouping import Grouping

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Used = list[tuple[int, int]]

DATE, WORK = "date", "clampings"
_FEWEST_PLACES_IN_WORK: Final = 3
_ORDINAL_OF_1970: Final = datetime.date(1970, 1, 1).toordinal()


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """The swings of one series in the order of time; arrays (n,).

    swings in µm, read to step_um; x: where they stand on the axis, ``DATE`` in days or ``WORK`` in clampings in
    work since the last modification; ``order`` sorts by time; ids of sitting and clamping. ``worked``: all the
    clampings in work noted since the last modification, None where none were. ``in_doubt``: all of it was read with a
    gauge found wrong.
    """

    series: Series
    swings: Floats
    x: Floats
    order: Ints
    sitting: Ints
    clamping: Ints
    step_um: float
    axis: str
    worked: int | None
    in_doubt: bool

    @property
    def dates(self) -> tuple[str, ...]:
        """The day of each clamping."""
        return tuple(times.day_of(at) for at in self.order.tolist())


def written(axis: str, place: float) -> str:
    """A place on an axis as it is told: a date, or a number of clampings."""
    if axis == WORK:
        return str(int(place))
    return datetime.date.fromordinal(min(int(place), datetime.date.max.toordinal())).isoformat()


def by_sitting(histories: Sequence[History]) -> list[History]:
    """One point a sitting, its mean: clampings of one sitting are not independent witnesses of a change.

    The points of a history stand in the order of its first clampings.
    """
    if not histories:
        return []
    swings, x, order, sitting, clamping = (
        np.concatenate([getattr(history, name) for history in histories])
        for name in ("swings", "x", "order", "sitting", "clamping")
    )
    of = np.repeat(np.arange(len(histories)), [history.swings.size for history in histories])
    cells = Grouping(of, sitting, len(histories))
    first = np.empty(cells.size.size, dtype=np.int64)
    first[cells.cell[::-1]] = np.arange(of.size)[::-1]
    in_time = np.argsort(first)
    means = [cells.sitting_means(values)[in_time] for values in (swings, x)]
    firsts = [values[first[in_time]] for values in (order, sitting, clamping)]
    ends = np.cumsum(cells.sittings).tolist()
    return [
        replace(
            history,
            swings=means[0][start:end],
            x=means[1][start:end],
            order=firsts[0][start:end],
            sitting=firsts[1][start:end],
            clamping=firsts[2][start:end],
        )
        for history, start, end in zip(histories, [0, *ends], ends, strict=False)
    ]


@dataclass(frozen=True, slots=True)
class Measured:
    """The histories of items as they are now, in the order of item code, setup and place; and what they belong to."""

    items: dict[int, Owned]
    setups: dict[int, OwnedSetup]
    histories: tuple[History, ...]


def read_histories(known: Known, *, swings: bool = True) -> Measured:
    """The histories that have clampings, in the newest revision of each setup.

    Without ``swings`` those of other characteristics.
    """
    owned, setups = known.owned, known.setups
    series = [
        one
        for one in known.series
        if (is_current(one, owned) if swings else _is_other(one, owned)) and in_setup_as_now(one, setups)
    ]
    used = clampings_in_work(known)
    return Measured(owned, setups, tuple(_histories(series, known.figures, used)))


def in_setup_as_now(one: Series, setups: Mapping[int, OwnedSetup]) -> bool:
    """Whether a series stands in its setup as that is now."""
    return not one.setup_id or one.revision == setups[one.setup_id].revision


def _is_other(one: Series, owned: dict[int, Owned]) -> bool:
    item = owned.get(one.item_id)
    return item is not None and one.modification == item.modification and one.characteristic not in SWINGS


def _histories(series: Sequence[Series], figures: Figures, used: Mapping[int, Used]) -> Iterator[History]:
    places = figures.places()
    days = day_numbers(figures.order)
    for one in series:
        if one.id in places:
            here = places[one.id]
            x, axis, noted = days[here], DATE, used.get(one.item_id)
            total = [0]
            if noted:
                total = np.cumsum([0, *(count for _, count in noted)]).tolist()
                place = np.searchsorted([at for at, _ in noted], figures.order[here], side="right")
                in_work = np.array(total, dtype=np.float64)[place]
                if np.unique(in_work).size >= _FEWEST_PLACES_IN_WORK:
                    x, axis = in_work, WORK
            yield History(
                series=one,
                swings=figures.value_um[here],
                x=x,
                order=figures.order[here],
                sitting=figures.sitting[here],
                clamping=figures.clamping[here],
                step_um=float(figures.step_um[here].min()),
                axis=axis,
                worked=total[-1] if noted else None,
                in_doubt=bool(figures.in_doubt[here].any()),
            )


def clampings_in_work(known: Known) -> dict[int, Used]:
    """By item, since its last modification: when work was noted, and how many clampings."""
    use = schema.use_record
    query = sa.select(use.c.item_id, use.c.used_on, use.c.clampings).where(use.c.clampings.is_not(None))
    if known.items is not None:
        query = query.where(use.c.item_id.in_(known.items))
    found: dict[int, Used] = {}
    owned = known.owned
    for item_id, used_on, clampings in known.connection.execute(query):
        at = times.order(used_on)
        if at >= times.order(owned[item_id].modified_at):
            found.setdefault(item_id, []).append((at, clampings))
    return {item_id: sorted(noted) for item_id, noted in found.items()}


def day_numbers(order: Ints) -> Floats:
    """Days, as proleptic Gregorian ordinals, of times as ``times.order`` gives them; missing months and days are the
    first."""
    year, month, day = order // 10**10, np.maximum(order // 10**8 % 100, 1), np.maximum(order // 10**6 % 100, 1)
    seconds = order // 10**4 % 100 * 3600 + order // 100 % 100 * 60 + order % 100
    months = (12 * (year - 1970) + month - 1).astype("datetime64[M]")
    days = months.astype("datetime64[D]").astype(np.int64) + _ORDINAL_OF_1970 + day - 1
    return np.asarray(days + seconds / 86_400)
