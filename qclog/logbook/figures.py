"""Reading derived figures as arrays, grouped in series, for the questions."""

import dataclasses
import itertools
from collections import defaultdict
from collections.abc import Sequence
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

Ints = npt.NDArray[np.int64]


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
class Figures:
    """One value a clamping and series, arrays (N,) in the order of series, then time.

    ``series`` and ``sitting``, ``gauging``, ``clamping`` are ids; ``order`` sorts by time; values and steps in µm.
    ``in_doubt``: read with a gauge found wrong, in a series that has nothing else; ``left_out``: ids of the series
    where such clampings were left out because there are others, ``newest_left_out`` where the newest was.
    """

    series: Ints
    clamping: Ints
    sitting: Ints
    gauging: Ints
    order: Ints
    step_um: npt.NDArray[np.float64]
    value_um: npt.NDArray[np.float64]
    in_doubt: npt.NDArray[np.bool_]
    left_out: frozenset[int]
    newest_left_out: frozenset[int]


@dataclass(frozen=True, slots=True, eq=False)
class Eccentricities:
    """The once-per-turn vector of each clamping and series that has one, arrays (N,) in the order of ``key``.

    ``key``: series and clamping in one number; ``vector`` in µm; ``within_rad`` half width of a high spot read by
    eye, 0 where it comes from readings at known angles.
    """

    key: Ints
    vector: npt.NDArray[np.complex128]
    within_rad: npt.NDArray[np.float64]


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
    found = _with_tried(connection, [Series(*row) for row in connection.execute(query)])
    return sorted(
        found,
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
    steep = sa.select(g.c.id).where(g.c.lever_mdeg > STEEP_LEVER_MDEG)
    query = sa.select(
        f.c.series_id, f.c.clamping_id, f.c.sitting_id, f.c.gauging_id, f.c.taken_order, f.c.step_pm, f.c.value_um
    ).where(f.c.recalled == 0, f.c.gauging_id.not_in(steep))
    if series is not None:
        query = query.where(f.c.series_id.in_(series))
    table = _as_array(connection, query, columns=7)
    table = table[np.lexsort((table[:, 1], table[:, 4], table[:, 0]))]
    table = _one_a_clamping(table)
    whole = table[:, :5].astype(np.int64)
    doubtful = np.isin(whole[:, 1], () if also_in_doubt else all_in_doubt(connection))
    gone = doubtful & np.isin(whole[:, 0], whole[~doubtful, 0])
    left_out = frozenset(whole[gone, 0].tolist())
    newest = np.r_[whole[1:, 0] != whole[:-1, 0], True][: len(whole)]
    newest_left_out = frozenset(whole[gone & newest, 0].tolist())
    table, whole, doubtful = table[~gone], whole[~gone], doubtful[~gone]
    return Figures(
        series=whole[:, 0],
        clamping=whole[:, 1],
        sitting=whole[:, 2],
        gauging=whole[:, 3],
        order=whole[:, 4],
        step_um=table[:, 5] / 1e6,
        value_um=table[:, 6],
        in_doubt=doubtful,
        left_out=left_out,
        newest_left_out=newest_left_out,
    )


def read_eccentricities(connection: sa.Connection, series: Sequence[int] | None = None) -> Eccentricities:
    """Vectors of the clampings that ``read_figures`` reads; turns of one clamping are averaged first."""
    f, g = schema.figure, schema.gauging
    steep = sa.select(g.c.id).where(g.c.lever_mdeg > STEEP_LEVER_MDEG)
    query = sa.select(
        f.c.series_id, f.c.clamping_id, f.c.eccentricity_x_um, f.c.eccentricity_y_um, f.c.angle_within_mdeg
    ).where(f.c.recalled == 0, f.c.eccentricity_x_um.is_not(None), f.c.gauging_id.not_in(steep))
    if series is not None:
        query = query.where(f.c.series_id.in_(series))
    table = _as_array(connection, query, columns=5)
    whole = table[:, :2].astype(np.int64)
    key, inverse, count = np.unique(key_of(whole[:, 0], whole[:, 1]), return_inverse=True, return_counts=True)
    mean = [np.bincount(inverse, table[:, column], len(key)) / np.maximum(count, 1) for column in (2, 3)]
    within = np.zeros(len(key))
    np.maximum.at(within, inverse, np.radians(table[:, 4] / 1000))
    return Eccentricities(key, mean[0] + 1j * mean[1], within)


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
    doubtful = set(all_in_doubt(connection).tolist())
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


def vectors_of(
    figures: Figures, eccentricities: Eccentricities
) -> tuple[npt.NDArray[np.complex128], npt.NDArray[np.float64]]:
    """The vector of each of the figures, NaN where it has none, and how well its direction is known; arrays (N,)."""
    key = key_of(figures.series, figures.clamping)
    vector, within = np.full(key.shape, np.nan, dtype=np.complex128), np.zeros(key.shape)
    if eccentricities.key.size:
        at = np.minimum(np.searchsorted(eccentricities.key, key), eccentricities.key.size - 1)
        known = eccentricities.key[at] == key
        vector[known], within[known] = eccentricities.vector[at[known]], eccentricities.within_rad[at[known]]
    return vector, within


def key_of(series: Ints, clamping: Ints) -> Ints:
    """Series and clamping in one number."""
    return series * (1 << 32) + clamping


def read_gaugings(connection: sa.Connection) -> dict[int, Gauging]:
    g = schema.gauging
    query = sa.select(g.c.id, g.c.instrument_id, g.c.calibration_id, g.c.pin_id, g.c.lever_mdeg)
    return {row[0]: Gauging(*row[1:]) for row in connection.execute(query)}


def read_newest(connection: sa.Connection) -> dict[int, Newest]:
    """The newest clamping of each series, by its id; of those that ``read_figures`` reads, in doubt or not."""
    f, g = schema.figure, schema.gauging
    usable = [f.c.recalled == 0, g.c.lever_mdeg <= STEEP_LEVER_MDEG]
    newest = (
        sa.select(f.c.series_id, sa.func.max(f.c.taken_order).label("at"))
        .join(g, g.c.id == f.c.gauging_id)
        .where(*usable)
        .group_by(f.c.series_id)
        .subquery()
    )
    query = (
        sa.select(f.c.series_id, f.c.taken_order, g.c.instrument_id, g.c.pin_id)
        .join(newest, sa.and_(newest.c.series_id == f.c.series_id, newest.c.at == f.c.taken_order))
        .join(g, g.c.id == f.c.gauging_id)
        .where(*usable)
        .order_by(f.c.clamping_id)
    )
    return {row[0]: Newest(times.day_of(row[1]), *row[1:]) for row in connection.execute(query)}


def count_left_out(connection: sa.Connection, series: Sequence[int] | None = None) -> dict[int, tuple[int, int]]:
    """By series: how many turns are recalled, how many were read with a steep lever. Only series with some."""
    f, g = schema.figure, schema.gauging
    steep = sa.case((g.c.lever_mdeg > STEEP_LEVER_MDEG, 1), else_=0)
    query = (
        sa.select(f.c.series_id, sa.func.sum(f.c.recalled), sa.func.sum(steep))
        .join(g, g.c.id == f.c.gauging_id)
        .where(sa.or_(f.c.recalled == 1, g.c.lever_mdeg > STEEP_LEVER_MDEG))
        .group_by(f.c.series_id)
    )
    if series is not None:
        query = query.where(f.c.series_id.in_(series))
    return {row[0]: (int(row[1]), int(row[2])) for row in connection.execute(query)}


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


def _as_array(connection: sa.Connection, query: sa.Select[Any], *, columns: int) -> npt.NDArray[np.float64]:
    """The rows of a query of whole numbers and floats as one array: every value is exact in a double."""
    rows = connection.execute(query).fetchall()
    flat = np.fromiter(itertools.chain.from_iterable(rows), dtype=np.float64, count=len(rows) * columns)
    return flat.reshape(-1, columns)


def _one_a_clamping(table: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Average the values of rows of the same clamping and series; ``table`` is ordered by them."""
    if len(table) < 2:
        return table
    new = np.r_[True, (np.diff(table[:, 0]) != 0) | (np.diff(table[:, 1]) != 0)]
    if new.all():
        return table
    group = np.cumsum(new) - 1
    merged = table[new].copy()
    merged[:, 6] = np.bincount(group, table[:, 6]) / np.bincount(group)
    merged[:, 5] = np.minimum.reduceat(table[:, 5], np.flatnonzero(new))
    return merged
