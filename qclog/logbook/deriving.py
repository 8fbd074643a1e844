"""Deriving a turn's figures from its facts, when it is written and whenever they are rebuilt.

One row of ``figure`` a turn that counts: struck-out turns and readings leave none. Figures are grouped in
``series``: the clampings of one history at one position, clocking, diameter, distance and characteristic.
"""

import functools
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final, NamedTuple, Protocol, TypeVar

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.characteristics import SIZE_FROM_PM, combined
from qclog.logbook import schema
from qclog.logbook.driver import run
from qclog.logbook.entries import insert, take_ids
from qclog.records import UNKNOWN_DIAMETER
from qclog.statistics.turn.turns import TurnFit, fit_turns

METHOD: Final = 1
"""The version of the derivation, kept beside every figure."""

FIGURES: Final = (
    "turn_id",
    "clamping_id",
    "sitting_id",
    "taken_order",
    "recalled",
    "step_pm",
    "angle_within_mdeg",
    "method",
    "value_um",
    "eccentricity_x_um",
    "eccentricity_y_um",
    "residual_sd_um",
    "residual_df",
)
"""The columns of ``figure`` but for the ids of its series and gauging."""

_PM_PER_UM: Final = 1e6
_PM_PER_TENTH_MM: Final = 100_000_000
_LEAST_READINGS: Final = 3
_FITTED_TOGETHER: Final = 16
"""Turns are fitted in multiples of so many, filled up with zeros. The last bit of a matrix product may depend on
how many columns it has, and a figure that is rebuilt must be the one that was written (own trials)."""
_HALVES_BELOW_PM: Final = 1_000_000
_TURNS_AT_ONCE: Final = 5_000
_LAST_ID: Final = 2**63 - 1
Ids = dict[tuple[Any, ...], int]
"""Ids of series and of gaugings by their keys, which differ in length."""
T = TypeVar("T")


class TurnFacts(NamedTuple):
    """A turn with what its figures depend on. ``readings``: angle in mdeg or None, value in pm."""

    turn_id: int
    clamping_id: int
    item_id: int
    modification_id: int
    setup_revision_id: int
    position: str
    clocking: str
    diameter_pm: int | None
    distance_pm: int
    characteristic: str
    kind: str
    sitting_id: int
    instrument_id: int
    calibration_id: int
    pin_id: int
    lever_mdeg: int
    correction: float
    taken_at: str
    recalled: int
    step_pm: int
    angle_within_mdeg: int
    readings: tuple[tuple[int | None, int], ...]

    @property
    def series(self) -> tuple[Any, ...]:
        """The key of the series, as the columns of the table stand."""
        its = history(
            self.item_id,
            self.modification_id,
            self.setup_revision_id,
            self.position,
            self.clocking,
            self.diameter_pm,
        )
        return (*its, tenths_of_mm(self.distance_pm), self.characteristic)

    @property
    def gauging(self) -> tuple[int, int, int, int]:
        return (self.instrument_id, self.calibration_id, self.pin_id, self.lever_mdeg)


class FactColumns(NamedTuple):
    """What figures and their keys are made of, of many turns, column by column."""

    turn_id: Sequence[int]
    clamping_id: Sequence[int]
    sitting_id: Sequence[int]
    taken_at: Sequence[str]
    recalled: Sequence[int]
    step_pm: Sequence[int]
    angle_within_mdeg: Sequence[int]
    kind: Sequence[str]
    characteristic: Sequence[str]
    correction: Sequence[float]
    readings: Sequence[tuple[tuple[int | None, int], ...]]
    series: Sequence[tuple[Any, ...]]
    gauging: Sequence[tuple[int, int, int, int]]


def history(
    item_id: int,
    modification_id: int,
    setup_revision_id: int | None,
    position: str,
    clocking: str,
    diameter_pm: int | None,
) -> tuple[Any, ...]:
    """What a clamping says of the key of its series."""
    tenths = UNKNOWN_DIAMETER if diameter_pm is None else tenths_of_mm(diameter_pm)
    return (item_id, modification_id, setup_revision_id or 0, position, clocking, tenths)


def gauging(
    instrument_id: int | None, calibration_id: int | None, pin_id: int | None, lever_mdeg: int | None
) -> tuple[int, int, int, int]:
    """What a clamping was read with and on, as the columns of the table stand."""
    return (instrument_id or 0, calibration_id or 0, pin_id or 0, -1 if lever_mdeg is None else lever_mdeg)


def series_of(
    histories: Sequence[tuple[Any, ...]], distances_pm: Sequence[int], characteristics: Sequence[str]
) -> list[tuple[Any, ...]]:
    """The keys of the series of some turns."""
    tenths = {distance: tenths_of_mm(distance) for distance in set(distances_pm)}
    return [
        (*its, tenths[distance], characteristic)
        for its, distance, characteristic in zip(histories, distances_pm, characteristics, strict=True)
    ]


def lever_correction(kind: str | None, lever_mdeg: int | None, correct_at_mdeg: int) -> float:
    """What an indicated value is multiplied by: a lever held at an angle shows too much, by 1/cos(angle)
    against the angle it is made to read right at (common practice)."""
    if kind != "lever" or lever_mdeg is None:
        return 1.0
    return math.cos(math.radians(lever_mdeg / 1000)) / math.cos(math.radians(correct_at_mdeg / 1000))


class _Typed(Protocol):
    """A reading as it was typed: its value and the finest place, in picometres."""

    @property
    def value_pm(self) -> int: ...
    @property
    def step_pm(self) -> int: ...


def resolution(reading: _Typed) -> int:
    """The resolution that a reading shows, in picometres: the finest place typed. That of a turn is the finest of its
    readings.

    A lone 5 in a place below a micrometre ("4.5") is a half, read between the marks: it shows no finer step.
    """
    half = reading.step_pm < _HALVES_BELOW_PM and reading.value_pm // reading.step_pm % 10 == 5
    return 5 * reading.step_pm if half else reading.step_pm


def write_figures(connection: sa.Connection, facts: FactColumns, ids: Ids | None = None) -> None:
    """Compute and insert the figures of turns that have none yet.

    ``ids``: those of series and gaugings that were found or made before in the same transaction; more are added.
    """
    kept, columns = _derived(facts)
    if not kept:
        return
    series, gaugings = _chosen(facts.series, kept), _chosen(facts.gauging, kept)
    ids = {} if ids is None else ids
    _look_up(ids, connection, schema.series, set(series), "item_id")
    _look_up(ids, connection, schema.gauging, set(gaugings), "instrument_id")
    keys = ([ids[key] for key in series], [ids[key] for key in gaugings])
    insert(connection, schema.figure, (*FIGURES, "series_id", "gauging_id"), [*columns, *keys])


def figures_of(facts: Sequence[TurnFacts]) -> Iterator[tuple[TurnFacts, tuple[Any, ...]]]:
    """The ``FIGURES`` of each turn that has enough readings."""
    kept, columns = _derived(_in_columns(facts))
    return zip([facts[i] for i in kept], zip(*columns, strict=True), strict=True)


def _in_columns(facts: Sequence[TurnFacts]) -> FactColumns:
    return FactColumns(*([getattr(fact, name) for fact in facts] for name in FactColumns._fields))


def _derived(facts: FactColumns) -> tuple[Sequence[int], list[Sequence[Any]]]:
    """Which turns have enough readings, and their ``FIGURES`` column by column; turns read at the same angles are
    fitted together."""
    found: list[tuple[Any, ...] | None] = [None] * len(facts.kind)
    for i, (kind, readings) in enumerate(zip(facts.kind, facts.readings, strict=True)):
        if kind == "tir" and readings:
            found[i] = _of_one_swing(*readings[0], facts.correction[i])
        elif kind == "value" and readings:
            value = _of_values(facts.characteristic[i], [value for _, value in readings], facts.correction[i])
            found[i] = (value, None, None, None, 0)
    for together in _by_angles(facts.kind, facts.readings):
        _, fit = _fit([facts.readings[i] for i in together], [facts.correction[i] for i in together])
        fitted = (fit.full_swing_um, fit.eccentricity.real, fit.eccentricity.imag, fit.residual_sd_um)
        for i, *figures in zip(together, *(column.tolist() for column in fitted), strict=False):
            if not fit.residual_df:
                figures[-1] = None
            found[i] = (*figures, fit.residual_df)
    kept = [i for i, figures in enumerate(found) if figures]
    beside = (
        facts.turn_id,
        facts.clamping_id,
        facts.sitting_id,
        list(map(times.order, facts.taken_at)),
        facts.recalled,
        facts.step_pm,
        facts.angle_within_mdeg,
    )
    chosen = [_chosen(column, kept) for column in beside]
    return kept, [*chosen, [METHOD] * len(kept), *zip(*filter(None, found), strict=True)]


def _chosen(column: Sequence[T], which: Sequence[int]) -> Sequence[T]:
    """Those at some places, which are in order."""
    return column if len(which) == len(column) else [column[i] for i in which]


def rebuild(connection: sa.Connection, clamping_ids: Sequence[int] | None = None) -> int:
    """Derive anew the figures of some clampings, or of all; returns how many turns were looked at."""
    figure = schema.figure
    if clamping_ids is not None:
        connection.execute(figure.delete().where(figure.c.clamping_id.in_(clamping_ids)))
        facts = list(read_facts(connection, schema.turn.c.clamping_id.in_(clamping_ids)))
        write_figures(connection, _in_columns(facts))
        return len(facts)
    for table in (figure, schema.series, schema.gauging):
        connection.execute(table.delete())
    count = 0
    for first, last in turns_at_once(connection):
        facts = list(read_facts(connection, schema.turn.c.id.between(first, last)))
        write_figures(connection, _in_columns(facts))
        count += len(facts)
    return count


def turns_at_once(connection: sa.Connection) -> Iterator[tuple[int, int]]:
    """Ranges of the ids of turns, without gaps and from one end to the other, of some thousand turns each."""
    column = schema.turn.c.id
    first = -_LAST_ID
    while True:
        beyond = sa.select(column).where(column >= first).order_by(column).offset(_TURNS_AT_ONCE).limit(1)
        found = connection.scalar(beyond)
        if found is None:
            yield first, _LAST_ID
            return
        yield first, found - 1
        first = found


def fit_together(turns: Sequence[TurnFacts]) -> tuple[npt.NDArray[np.float64], TurnFit]:
    """Turns read at the same angles: their readings (M, N) in µm with the lever's angle allowed for, and the fit.

    The fit has more turns than were given, those behind them filled up with zeros.
    """
    return _fit([turn.readings for turn in turns], [turn.correction for turn in turns])


def _fit(
    turns: Sequence[Sequence[tuple[int | None, int]]], corrections: Sequence[float]
) -> tuple[npt.NDArray[np.float64], TurnFit]:
    angles = np.array([(angle or 0) / 1000 for angle, _ in turns[0]])
    values = np.zeros((-(-len(turns) // _FITTED_TOGETHER) * _FITTED_TOGETHER, len(angles)))
    values[: len(turns)] = [[value for _, value in readings] for readings in turns]
    values[: len(turns)] *= [[correction] for correction in corrections]
    values /= _PM_PER_UM
    return values[: len(turns)], fit_turns(values, angles)


def by_angles(facts: Iterable[TurnFacts]) -> Iterator[list[TurnFacts]]:
    """Turns of readings at known angles, gathered by these; those with too few readings left out."""
    facts = list(facts)
    for together in _by_angles([fact.kind for fact in facts], [fact.readings for fact in facts]):
        yield [facts[i] for i in together]


def _by_angles(kinds: Sequence[str], turns: Sequence[tuple[tuple[int | None, int], ...]]) -> Iterable[list[int]]:
    found: dict[tuple[int | None, ...], list[int]] = defaultdict(list)
    for i, (kind, readings) in enumerate(zip(kinds, turns, strict=True)):
        if kind == "point" and len(readings) >= _LEAST_READINGS:
            found[tuple([angle for angle, _ in readings])].append(i)
    return found.values()


def _of_one_swing(
    angle: int | None, value_pm: int, correction: float
) -> tuple[float, float | None, float | None, None, int]:
    value = value_pm * correction / _PM_PER_UM
    if angle is None:
        return value, None, None, None, 0
    high_spot = math.radians(angle / 1000)
    return value, value / 2 * math.cos(high_spot), value / 2 * math.sin(high_spot), None, 0


def _of_values(characteristic: str, values_pm: Sequence[int], correction: float) -> float:
    """The value of a plain reading, or of readings kept together, in µm. A lever's angle matters to small differences
    only; no size is read with one."""
    value = combined(characteristic, values_pm)
    if len(values_pm) == 1 and abs(value) < SIZE_FROM_PM:
        value *= correction
    return value / _PM_PER_UM


def _look_up(ids: Ids, connection: sa.Connection, table: sa.Table, keys: set[tuple[Any, ...]], narrow: str) -> None:
    """Add the ids of rows of a derived table by their whole key; rows that are missing are added to the table."""
    if not (keys := keys - ids.keys()):
        return
    names = _key_of(table)
    if len(keys) == 1:
        (key,) = keys
        for (found,) in run(connection, _by_key(table), key):
            ids[key] = found
    else:
        narrow_at = names.index(narrow)
        values = sorted({key[narrow_at] for key in keys})
        for start in range(0, len(values), 500):
            some = ", ".join(f"{value:d}" for value in values[start : start + 500])
            query = f"SELECT {', '.join(names)}, id FROM {table.name} WHERE {narrow} IN ({some})"
            ids |= {row[:-1]: row[-1] for row in run(connection, query)}
    missing = sorted(keys - ids.keys())
    if missing:
        new = take_ids(connection, table, len(missing))
        insert(connection, table, ("id", *names), [new, *zip(*missing, strict=True)])
        ids |= dict(zip(missing, new, strict=True))


@functools.cache
def _by_key(table: sa.Table) -> str:
    return f"SELECT id FROM {table.name} WHERE {' AND '.join(f'{name} = ?' for name in _key_of(table))}"


@functools.cache
def _key_of(table: sa.Table) -> tuple[str, ...]:
    return tuple(column.name for column in table.columns if column.name != "id")


def tenths_of_mm(picometres: int) -> int:
    """A size or distance as series are kept by, in tenths of a millimetre."""
    return (picometres + _PM_PER_TENTH_MM // 2) // _PM_PER_TENTH_MM


def read_facts(connection: sa.Connection, chosen: sa.ColumnElement[bool]) -> Iterator[TurnFacts]:
    """The chosen turns that are not struck out, with their readings that are not, from the tables of facts."""
    turn, clamping, strike = schema.turn, schema.clamping, schema.strike
    struck = {
        column: set(connection.scalars(sa.select(strike.c[column]).where(strike.c[column].is_not(None))))
        for column in ("clamping_id", "turn_id", "reading_id")
    }
    cards = {
        row.instrument_id: row
        for row in connection.execute(sa.select(schema.instrument_card).order_by(schema.instrument_card.c.id))
    }
    readings: dict[int, list[sa.Row[Any]]] = defaultdict(list)
    torn: set[int] = set()
    query = sa.select(schema.reading).where(schema.reading.c.turn_id.in_(sa.select(turn.c.id).where(chosen)))
    for row in connection.execute(query.order_by(schema.reading.c.turn_id, schema.reading.c.rank)):
        if row.id in struck["reading_id"]:
            torn.add(row.turn_id)
        else:
            readings[row.turn_id].append(row)
    turns = connection.execute(
        sa.select(turn.c.id.label("turn_id"), turn.c.distance_pm, turn.c.characteristic, turn.c.kind, clamping)
        .join(clamping, clamping.c.id == turn.c.clamping_id)
        .where(chosen)
        .order_by(turn.c.id)
    )
    for row in turns:
        kept = readings.get(row.turn_id)
        if row.turn_id in struck["turn_id"] or row.id in struck["clamping_id"] or not kept:
            continue
        if row.kind == "value" and row.turn_id in torn:  # of readings kept together none counts without the others
            continue
        card = cards.get(row.instrument_id)
        yield TurnFacts(
            turn_id=row.turn_id,
            clamping_id=row.id,
            item_id=row.item_id,
            modification_id=row.modification_id,
            setup_revision_id=row.setup_revision_id or 0,
            position=row.position,
            clocking=row.clocking,
            diameter_pm=row.diameter_pm,
            distance_pm=row.distance_pm,
            characteristic=row.characteristic,
            kind=row.kind,
            sitting_id=row.sitting_id,
            instrument_id=row.instrument_id or 0,
            calibration_id=row.calibration_id or 0,
            pin_id=row.pin_id or 0,
            lever_mdeg=-1 if row.lever_mdeg is None else row.lever_mdeg,
            correction=lever_correction(
                card.kind if card else None, row.lever_mdeg, card.correct_at_mdeg if card else 0
            ),
            taken_at=row.taken_at,
            recalled=row.recalled,
            step_pm=min(map(resolution, kept)),
            angle_within_mdeg=max(reading.angle_within_mdeg for reading in kept),
            readings=tuple((r.angle_mdeg, r.value_pm) for r in kept),
        )
