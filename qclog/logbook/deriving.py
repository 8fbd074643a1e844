"""Deriving a turn's figures from its facts, when it is written and whenever they are rebuilt.

One row of ``figure`` a turn that counts: struck-out turns and readings leave none. Figures are grouped in
``series``: the clampings of one history at one position, clocking, diameter, distance and characteristic.
"""

import functools
import math
import operator
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Final, NamedTuple, Protocol

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
        tenths = UNKNOWN_DIAMETER if self.diameter_pm is None else tenths_of_mm(self.diameter_pm)
        return (
            self.item_id,
            self.modification_id,
            self.setup_revision_id,
            self.position,
            self.clocking,
            tenths,
            tenths_of_mm(self.distance_pm),
            self.characteristic,
        )

    @property
    def gauging(self) -> tuple[int, int, int, int]:
        return (self.instrument_id, self.calibration_id, self.pin_id, self.lever_mdeg)


_place_of: Final[Callable[[TurnFacts], tuple[Any, ...]]] = operator.itemgetter(slice(2, 10))
"""What the series of a turn depends on."""


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


def write_figures(connection: sa.Connection, facts: Sequence[TurnFacts]) -> None:
    """Compute and insert the figures of turns that have none yet."""
    found = list(figures_of(facts))
    if not found:
        return
    places = {_place_of(fact): fact.series for fact in {_place_of(fact): fact for fact, _ in found}.values()}
    series_ids = _ids_of(connection, schema.series, set(places.values()), "item_id")
    gauging_ids = _ids_of(connection, schema.gauging, {fact.gauging for fact, _ in found}, "instrument_id")
    columns = [
        *zip(*(values for _, values in found), strict=True),
        [series_ids[places[_place_of(fact)]] for fact, _ in found],
        [gauging_ids[fact.gauging] for fact, _ in found],
    ]
    insert(connection, schema.figure, (*FIGURES, "series_id", "gauging_id"), columns)


def figures_of(facts: Sequence[TurnFacts]) -> Iterator[tuple[TurnFacts, tuple[Any, ...]]]:
    """The ``FIGURES`` of each turn that has enough readings; turns read at the same angles are fitted together."""
    for fact in facts:
        if fact.kind == "tir" and fact.readings:
            yield fact, (*_beside(fact), *_of_one_swing(fact))
        elif fact.kind == "value" and fact.readings:
            yield fact, (*_beside(fact), _of_values(fact), None, None, None, 0)
    for turns in by_angles(facts):
        _, fit = fit_together(turns)
        columns = (fit.full_swing_um, fit.eccentricity.real, fit.eccentricity.imag, fit.residual_sd_um)
        for fact, *found in zip(turns, *(column.tolist() for column in columns), strict=False):
            if not fit.residual_df:
                found[-1] = None
            yield fact, (*_beside(fact), *found, fit.residual_df)


def _beside(fact: TurnFacts) -> tuple[int, ...]:
    return (
        fact.turn_id,
        fact.clamping_id,
        fact.sitting_id,
        times.order(fact.taken_at),
        fact.recalled,
        fact.step_pm,
        fact.angle_within_mdeg,
        METHOD,
    )


def rebuild(connection: sa.Connection, clamping_ids: Sequence[int] | None = None) -> int:
    """Derive anew the figures of some clampings, or of all; returns how many turns were looked at."""
    figure = schema.figure
    if clamping_ids is not None:
        connection.execute(figure.delete().where(figure.c.clamping_id.in_(clamping_ids)))
        facts = list(read_facts(connection, schema.turn.c.clamping_id.in_(clamping_ids)))
        write_figures(connection, facts)
        return len(facts)
    for table in (figure, schema.series, schema.gauging):
        connection.execute(table.delete())
    count = 0
    for first, last in turns_at_once(connection):
        facts = list(read_facts(connection, schema.turn.c.id.between(first, last)))
        write_figures(connection, facts)
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
    angles = np.array([(angle or 0) / 1000 for angle, _ in turns[0].readings])
    values = np.zeros((-(-len(turns) // _FITTED_TOGETHER) * _FITTED_TOGETHER, len(angles)))
    values[: len(turns)] = [[value for _, value in t.readings] for t in turns]
    values[: len(turns)] *= [[t.correction] for t in turns]
    values /= _PM_PER_UM
    return values[: len(turns)], fit_turns(values, angles)


def by_angles(facts: Iterable[TurnFacts]) -> Iterator[list[TurnFacts]]:
    """Turns of readings at known angles, gathered by these; those with too few readings left out."""
    found: dict[tuple[int | None, ...], list[TurnFacts]] = defaultdict(list)
    for fact in facts:
        if fact.kind == "point" and len(fact.readings) >= _LEAST_READINGS:
            found[tuple([angle for angle, _ in fact.readings])].append(fact)
    yield from found.values()


def _of_one_swing(fact: TurnFacts) -> tuple[float, float | None, float | None, None, int]:
    angle, value_pm = fact.readings[0]
    value = value_pm * fact.correction / _PM_PER_UM
    if angle is None:
        return value, None, None, None, 0
    high_spot = math.radians(angle / 1000)
    return value, value / 2 * math.cos(high_spot), value / 2 * math.sin(high_spot), None, 0


def _of_values(fact: TurnFacts) -> float:
    """The value of a plain reading, or of readings kept together, in µm. A lever's angle matters to small differences
    only; no size is read with one."""
    values = [value for _, value in fact.readings]
    value = combined(fact.characteristic, values)
    if len(values) == 1 and abs(value) < SIZE_FROM_PM:
        value *= fact.correction
    return value / _PM_PER_UM


def _ids_of(
    connection: sa.Connection, table: sa.Table, keys: set[tuple[Any, ...]], narrow: str
) -> dict[tuple[Any, ...], int]:
    """The ids of rows of a derived table by their whole key, added where missing."""
    names = _key_of(table)
    known: dict[tuple[Any, ...], int] = {}
    if len(keys) == 1:
        (key,) = keys
        for (found,) in run(connection, _by_key(table), key):
            known[key] = found
    else:
        narrow_at = names.index(narrow)
        values = sorted({key[narrow_at] for key in keys})
        for start in range(0, len(values), 500):
            some = ", ".join(f"{value:d}" for value in values[start : start + 500])
            query = f"SELECT {', '.join(names)}, id FROM {table.name} WHERE {narrow} IN ({some})"
            known |= {row[:-1]: row[-1] for row in run(connection, query)}
    missing = sorted(keys - known.keys())
    if missing:
        ids = take_ids(connection, table, len(missing))
        insert(connection, table, ("id", *names), [ids, *zip(*missing, strict=True)])
        known |= dict(zip(missing, ids, strict=True))
    return known


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
