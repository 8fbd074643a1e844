"""Reading derived figures as arrays, grouped in series, for the questions."""

import contextlib
import dataclasses
import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.recalls import all_in_doubt
from qclog.logbook.trials import only_tried

STEEP_LEVER_MDEG = 30_000
"""Beyond this angle a lever's reading is kept but is not fit for a verdict (common practice)."""

_AT_ONCE = 5_000
_ROWS_AT_ONCE = 8_192
_NO_VECTOR_UM = -1e300
"""Stands for NULL while rows become arrays."""

Ints = npt.NDArray[np.int64]
Numbers = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class Series:
    """The clampings of one history at one place: what they have in common. Distances and diameters in tenths of a
    millimetre; diameter -1 where it is not known. ``tried``: a clocking that was tried and is not in use."""

    id: int
    item_id: int
    item: str
    modification: int
    setup: str
    setup_id: int
    revision: int
    revision_id: int
    position: str
    clocking: str
    diameter_tenths: int
    distance_tenths: int
    characteristic: str
    tried: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class NewestRows:
    """The newest clamping of S series: their ids, when it was taken, what it was read with; arrays (S,)."""

    series: Ints
    order: Ints
    gauging: Ints

    def rows(self) -> tuple[Ints, Ints, Ints]:
        return self.series, self.order, self.gauging


@dataclass(frozen=True, slots=True, eq=False)
class Figures:
    """One value a clamping and series, arrays (N,) in the order of series, then time.

    ``series`` and ``sitting``, ``gauging``, ``clamping`` are ids; ``order`` sorts by time; values and steps in µm.
    ``vector``: the once-per-turn part in µm, NaN where a clamping has none; ``within_rad``: half width of a high spot
    read by eye, 0 where it comes from readings at known angles.
    ``in_doubt``: read with a gauge found wrong, in a series that has nothing else; ``left_out``: ids of the series
    where such clampings were left out because there are others, ``newest_left_out`` where the newest was. ``newest``:
    the newest clamping of each series, in doubt or not. ``set_aside``: by the id of a series how many turns are
    recalled, how many were read with a steep lever; only series with some.
    """

    series: Ints
    clamping: Ints
    sitting: Ints
    gauging: Ints
    order: Ints
    step_um: npt.NDArray[np.float64]
    value_um: npt.NDArray[np.float64]
    vector: npt.NDArray[np.complex128]
    within_rad: npt.NDArray[np.float64]
    in_doubt: npt.NDArray[np.bool_]
    left_out: frozenset[int]
    newest_left_out: frozenset[int]
    newest: NewestRows
    set_aside: dict[int, tuple[int, int]]

    def of(self, which: npt.NDArray[np.bool_] | slice) -> "Figures":
        """Some of the clampings."""
        rows: dict[str, Any] = {
            field.name: value[which]
            for field in dataclasses.fields(self)
            if isinstance(value := getattr(self, field.name), np.ndarray)
        }
        return dataclasses.replace(self, **rows)

    def places_in(self, series: Sequence[Series]) -> Ints:
        """The place in ``series`` of what each clamping belongs to (N,), -1 where it belongs to none of them."""
        ids = np.array([one.id for one in series], dtype=np.int64)
        by_id = np.argsort(ids)
        if not ids.size:
            return np.full(self.series.size, -1)
        at = by_id[np.minimum(np.searchsorted(ids, self.series, sorter=by_id), ids.size - 1)]
        return np.where(ids[at] == self.series, at, -1)

    def places(self) -> dict[int, slice]:
        """Where the clampings of each series stand, by its id."""
        ids, first = np.unique(self.series, return_index=True)
        ends = [*first[1:].tolist(), self.series.size]
        return {one: slice(*both) for one, *both in zip(ids.tolist(), first.tolist(), ends, strict=bool(first.size))}


@dataclass(frozen=True, slots=True)
class LaidOut:
    """One clamping in one series with the time as written; ``counts``: figures rest on it.

    ``in_doubt``: read with a gauge found wrong; counts only where its series has nothing else. ``vector``: its
    once-per-turn part in µm, None where no direction is known.
    """

    series: int
    clamping: int
    sitting: int
    taken_at: str
    value_um: float
    counts: bool
    in_doubt: bool
    vector: complex | None


@dataclass(frozen=True, slots=True)
class Newest:
    """The newest clamping of a series: its day, its time as ``times.order`` gives it, and the ids of indicator and pin,
    0 where not named."""

    day: str
    order: int
    instrument_id: int
    pin_id: int


@dataclass(frozen=True, slots=True)
class Gauging:
    """What clampings were read with: ids of the indicator, its calibration and the pin, 0 where not named."""

    instrument_id: int
    calibration_id: int
    pin_id: int
    lever_mdeg: int


def read_series(
    connection: sa.Connection,
    *,
    items: Sequence[int] | None = None,
    revisions: Sequence[int] | None = None,
    clocked: bool = False,
) -> list[Series]:
    """The series of some items, in some setup revisions, or all, in the order of item code, setup and place.

    ``clocked``: only those with a body that was turned to an angle noted.
    """
    s = schema.series
    item, setup = schema.name.alias("item"), schema.name.alias("setup")
    query: sa.Select[Any] = (
        sa.select(
            s.c.id,
            s.c.item_id,
            item.c.text,
            schema.modification.c.number,
            sa.func.coalesce(setup.c.text, ""),
            sa.func.coalesce(setup.c.id, 0),
            sa.func.coalesce(schema.setup_revision.c.number, 0),
            s.c.setup_revision_id,
            s.c.position,
            s.c.clocking,
            s.c.diameter_tenths,
            s.c.distance_tenths,
            s.c.characteristic,
        )
        .join(item, item.c.id == s.c.item_id)
        .join(schema.modification, schema.modification.c.id == s.c.modification_id)
        .outerjoin(schema.setup_revision, schema.setup_revision.c.id == s.c.setup_revision_id)
        .outerjoin(setup, setup.c.id == schema.setup_revision.c.setup_id)
    )
    if items is not None:
        query = query.where(s.c.item_id.in_(items))
    if revisions is not None:
        query = query.where(s.c.setup_revision_id.in_(revisions))
    if clocked:
        query = query.where(s.c.clocking != "")
    return in_order(_with_tried(connection, [Series(*row) for row in connection.execute(query)]))


def in_order(series: Iterable[Series]) -> list[Series]:
    """By item code, modification, setup and place."""
    return sorted(
        series,
        key=lambda one: (
            one.item.casefold(),
            one.modification,
            one.setup.casefold(),
            one.revision,
            one.position,
            one.characteristic,
            one.distance_tenths,
            one.diameter_tenths,
            one.clocking,
            one.id,
        ),
    )


def read_measured_in(connection: sa.Connection, revisions: Sequence[int]) -> list[int]:
    """The items that were measured in some setup revisions, by id, those added last first."""
    s = schema.series.c
    query = sa.select(s.item_id).distinct().where(s.setup_revision_id.in_(revisions)).order_by(s.item_id.desc())
    return list(connection.scalars(query))


def _with_tried(connection: sa.Connection, found: list[Series]) -> list[Series]:
    places: dict[Series, list[tuple[int, str]]] = defaultdict(list)
    for one in found:
        if one.clocking:
            places[dataclasses.replace(one, id=0, clocking="")].append((one.id, one.clocking))
    tried = only_tried(connection, places.values()) if places else set()
    return [dataclasses.replace(one, tried=True) if one.id in tried else one for one in found]


def read_figures(
    connection: sa.Connection, series: Sequence[int] | None = None, *, also_in_doubt: bool = False
) -> Figures:
    """The figures that may stand behind a verdict: not struck out, not recalled, no steep lever, not in doubt.

    Clampings in doubt are given only where a series has nothing else, and are marked; ``also_in_doubt``: as if none
    were. Turns of one clamping in one series are averaged first and count once.
    """
    f, g = schema.figure, schema.gauging
    query = sa.select(
        f.c.series_id,
        f.c.clamping_id,
        f.c.sitting_id,
        2 * f.c.gauging_id + f.c.recalled,
        f.c.taken_order,
        f.c.step_pm,
        f.c.value_um,
        sa.func.coalesce(f.c.eccentricity_x_um, _NO_VECTOR_UM),
        sa.func.coalesce(f.c.eccentricity_y_um, _NO_VECTOR_UM),
        f.c.angle_within_mdeg,
    )
    if series is not None:
        query = query.where(f.c.series_id.in_(series))
    columns = _as_columns(connection, query, whole=5, columns=10)
    recalled, columns[3] = columns[3] % 2 > 0, columns[3] // 2
    steep = np.isin(columns[3], list(connection.scalars(sa.select(g.c.id).where(g.c.lever_mdeg > STEEP_LEVER_MDEG))))
    aside = recalled | steep
    set_aside: dict[int, tuple[int, int]] = {}
    if aside.any():
        ids, of = np.unique(columns[0][aside], return_inverse=True)
        counts = [np.bincount(of, which[aside]).astype(np.int64).tolist() for which in (recalled, steep)]
        set_aside = dict(zip(ids.tolist(), zip(*counts, strict=True), strict=True))
        columns = [column[~aside] for column in columns]
    in_order = np.lexsort((columns[1], columns[4], columns[0]))
    for i, column in enumerate(columns):
        columns[i] = column[in_order]
    ids, clamping, sitting, gauging, order, step_pm, value, x, y, within_mdeg = _one_a_clamping(columns)
    doubtful = np.isin(clamping, () if also_in_doubt else all_in_doubt(connection, clamping.tolist()))
    last = np.r_[ids[1:] != ids[:-1], True][: len(ids)]
    newest = NewestRows(ids[last], order[last], gauging[last])
    gone = doubtful & np.isin(ids, ids[~doubtful])
    figures = Figures(
        series=ids,
        clamping=clamping,
        sitting=sitting,
        gauging=gauging,
        order=order,
        step_um=step_pm / 1e6,
        value_um=value,
        vector=np.where(x == _NO_VECTOR_UM, np.nan, x) + 1j * y,
        within_rad=np.radians(within_mdeg / 1000),
        in_doubt=doubtful,
        left_out=frozenset(ids[gone].tolist()),
        newest_left_out=frozenset(ids[gone & last].tolist()),
        newest=newest,
        set_aside=set_aside,
    )
    return figures.of(~gone) if gone.any() else figures


def read_laid_out(connection: sa.Connection, series: Sequence[int]) -> list[LaidOut]:
    """Every clamping of some series that is not struck out, in the order of time; also what no verdict rests on.

    Turns of one clamping in one series are averaged first.
    """
    f, g, c = schema.figure, schema.gauging, schema.clamping
    query = (
        sa.select(
            f.c.series_id,
            f.c.clamping_id,
            c.c.taken_at,
            f.c.recalled,
            g.c.lever_mdeg,
            f.c.value_um,
            f.c.eccentricity_x_um,
            f.c.eccentricity_y_um,
            f.c.sitting_id,
        )
        .join(g, g.c.id == f.c.gauging_id)
        .join(c, c.c.id == f.c.clamping_id)
        .where(f.c.series_id.in_(series))
        .order_by(f.c.taken_order, f.c.clamping_id)
    )
    turns: dict[tuple[int, int], list[Any]] = {}
    for row in connection.execute(query):
        turns.setdefault((row[0], row[1]), []).append(row)
    doubtful = set(all_in_doubt(connection, [clamping for _, clamping in turns]).tolist())
    fit = {key: not rows[0][3] and rows[0][4] <= STEEP_LEVER_MDEG for key, rows in turns.items()}
    sound = {key[0] for key in turns if fit[key] and key[1] not in doubtful}
    found = []
    for (series_id, clamping_id), rows in turns.items():
        vectors = [complex(row[6], row[7]) for row in rows if row[6] is not None]
        in_doubt = clamping_id in doubtful
        found.append(
            LaidOut(
                series=series_id,
                clamping=clamping_id,
                sitting=rows[0][8],
                taken_at=rows[0][2],
                value_um=sum(row[5] for row in rows) / len(rows),
                counts=fit[series_id, clamping_id] and not (in_doubt and series_id in sound),
                in_doubt=in_doubt,
                vector=sum(vectors) / len(vectors) if vectors else None,
            )
        )
    return found


def read_gaugings(connection: sa.Connection) -> dict[int, Gauging]:
    g = schema.gauging
    query = sa.select(g.c.id, g.c.instrument_id, g.c.calibration_id, g.c.pin_id, g.c.lever_mdeg)
    return {row[0]: Gauging(*row[1:]) for row in connection.execute(query)}


def read_newest(connection: sa.Connection, newest: NewestRows) -> dict[int, Newest]:
    """The newest clamping of each series, by its id; in doubt or not."""
    gaugings = read_gaugings(connection)
    return {
        series: Newest(times.day_of(order), order, gaugings[gauging].instrument_id, gaugings[gauging].pin_id)
        for series, order, gauging in zip(
            newest.series.tolist(), newest.order.tolist(), newest.gauging.tolist(), strict=True
        )
    }


def read_pin_sizes(connection: sa.Connection, series: Sequence[int]) -> dict[int, tuple[float, ...]]:
    """The diameters of the pins, mm, that the clampings of each series were read on, the smallest first, by its id; a
    series whose pins are not known is left out."""
    f, c = schema.figure, schema.clamping
    found: dict[int, set[float]] = defaultdict(set)
    for start in range(0, len(series), _AT_ONCE):
        query = (
            sa.select(f.c.series_id, c.c.diameter_pm)
            .join(c, c.c.id == f.c.clamping_id)
            .where(f.c.series_id.in_(series[start : start + _AT_ONCE]), c.c.diameter_pm.is_not(None))
            .distinct()
        )
        for series_id, picometres in connection.execute(query):
            found[series_id].add(picometres / 1e9)
    return {series_id: tuple(sorted(sizes)) for series_id, sizes in found.items()}


def count_figures(connection: sa.Connection) -> dict[int, int]:
    """How many turns were read in each series, whatever may rest on them."""
    f = schema.figure.c
    return {row[0]: row[1] for row in connection.execute(sa.select(f.series_id, sa.func.count()).group_by(f.series_id))}


def items_of(connection: sa.Connection, clampings: Sequence[int]) -> set[int]:
    """The items of some clampings, by id."""
    c, found = schema.clamping.c, set[int]()
    for start in range(0, len(clampings), _AT_ONCE):
        some = clampings[start : start + _AT_ONCE]
        found.update(connection.scalars(sa.select(c.item_id).distinct().where(c.id.in_(some))))
    return found


def count_by_series(connection: sa.Connection, clampings: Sequence[int]) -> dict[int, int]:
    """How many of some clampings are in each series, without what no verdict may rest on."""
    f, g = schema.figure, schema.gauging
    found: dict[int, int] = {}
    for start in range(0, len(clampings), _AT_ONCE):
        query = (
            sa.select(f.c.series_id, sa.func.count(sa.distinct(f.c.clamping_id)))
            .join(g, g.c.id == f.c.gauging_id)
            .where(f.c.clamping_id.in_(clampings[start : start + _AT_ONCE]), f.c.recalled == 0)
            .where(g.c.lever_mdeg <= STEEP_LEVER_MDEG)
            .group_by(f.c.series_id)
        )
        for series_id, number in connection.execute(query):
            found[series_id] = found.get(series_id, 0) + int(number)
    return found


def _as_columns(connection: sa.Connection, query: sa.Select[Any], *, whole: int, columns: int) -> list[Numbers]:
    """The columns of a query, the first ``whole`` of them whole numbers, without ever holding its rows together."""
    parts: list[list[Numbers]] = [[np.empty(0)] for _ in range(columns)]
    for block in _blocks(connection, query, columns):
        for i, part in enumerate(parts):
            part.append(block[:, i].astype(np.int64 if i < whole else np.float64))
    found = []
    for i in range(columns):
        found.append(np.concatenate(parts[i]).astype(np.int64 if i < whole else np.float64, copy=False))
        parts[i].clear()
    return found


def _blocks(connection: sa.Connection, query: sa.Select[Any], columns: int) -> Iterator[npt.NDArray[np.float64]]:
    """The rows of a query, some thousand at once, as they come from the database; by the driver's own cursor on SQLite,
    which takes half the time."""
    for rows in _rows(connection, query):
        flat = np.fromiter(itertools.chain.from_iterable(rows), dtype=np.float64, count=len(rows) * columns)
        yield flat.reshape(-1, columns)


def _rows(connection: sa.Connection, query: sa.Select[Any]) -> Iterator[Sequence[Any]]:
    if connection.dialect.name != "sqlite":
        yield from connection.execute(query.execution_options(yield_per=_ROWS_AT_ONCE)).partitions()
        return
    with contextlib.closing(connection.connection.cursor()) as cursor:
        cursor.execute(str(query.compile(dialect=connection.dialect, compile_kwargs={"literal_binds": True})))
        while rows := cursor.fetchmany(_ROWS_AT_ONCE):
            yield rows


def _one_a_clamping(columns: list[Numbers]) -> list[Numbers]:
    """Columns ordered by series and clamping with one row for each: values and vectors of its turns averaged, the
    finest step, the widest half width."""
    ids, clamping = columns[:2]
    new = np.r_[True, (np.diff(ids) != 0) | (np.diff(clamping) != 0)][: len(ids)]
    if new.all():
        return columns
    turn, first = np.cumsum(new) - 1, np.flatnonzero(new)
    *whole, step_pm, value, x, y, within_mdeg = columns
    known = x != _NO_VECTOR_UM
    having = np.bincount(turn, known)
    vector = [
        np.where(having > 0, np.bincount(turn, np.where(known, part, 0.0)) / np.maximum(having, 1), _NO_VECTOR_UM)
        for part in (x, y)
    ]
    return [
        *(column[new] for column in whole),
        np.minimum.reduceat(step_pm, first),
        np.bincount(turn, value) / np.bincount(turn),
        *vector,
        np.maximum.reduceat(np.where(known, within_mdeg, 0.0), first),
    ]
