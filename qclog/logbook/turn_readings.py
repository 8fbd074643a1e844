"""Reading the turns of one item that count, reading by reading, and the noise of the indicators they were read with."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.deriving import TurnFacts, read_facts
from qclog.logbook.figures import STEEP_LEVER_MDEG

_QUARTERS: Final = 4


@dataclass(frozen=True, slots=True)
class TurnReadings:
    """A turn of readings at known angles that may stand behind a verdict; ``number``: its place in the clamping.

    Angles are those of the logbook, clockwise facing the nose; ``sense`` is how they are counted at this setup.
    """

    facts: TurnFacts
    number: int
    setup: str
    setup_revision: int
    sense: str
    closure_um: float | None


def read_turn_readings(connection: sa.Connection, item_id: int, modification_id: int) -> list[TurnReadings]:
    """The turns of an item at one modification, in the order of time: not struck out, not recalled, no steep lever."""
    c, t, revision, name = schema.clamping, schema.turn, schema.setup_revision, schema.name
    chosen = (c.c.item_id == item_id) & (c.c.modification_id == modification_id) & (c.c.recalled == 0)
    beside = {}
    count: dict[int, int] = defaultdict(int)
    for row in connection.execute(
        sa.select(t.c.id, t.c.clamping_id, t.c.closure_pm, name.c.text, revision.c.number, revision.c.sense)
        .join(c, c.c.id == t.c.clamping_id)
        .join(revision, revision.c.id == c.c.setup_revision_id)
        .join(name, name.c.id == revision.c.setup_id)
        .where(chosen)
        .order_by(t.c.id)
    ):
        count[row.clamping_id] += 1
        beside[row.id] = (count[row.clamping_id], row)
    found = []
    for facts in read_facts(connection, t.c.clamping_id.in_(sa.select(c.c.id).where(chosen))):
        if facts.kind == "point" and facts.lever_mdeg <= STEEP_LEVER_MDEG:
            number, row = beside[facts.turn_id]
            closure = None if row.closure_pm is None else row.closure_pm * facts.correction / 1e6
            found.append(TurnReadings(facts, number, row.text, row.number, row.sense, closure))
    return sorted(found, key=lambda one: (times.order(one.facts.taken_at), one.facts.clamping_id, one.number))


def read_residuals(
    connection: sa.Connection, instruments: set[int], item_id: int
) -> dict[int, list[tuple[float, int]]]:
    """By indicator, the residual sd in µm and its degrees of freedom of every turn that shows any noise.

    The turns of any item; but of turns for which no indicator was named (0), those of this item only.
    """
    f, g, s = schema.figure, schema.gauging, schema.series
    query: sa.Select[Any] = (
        sa.select(g.c.instrument_id, f.c.residual_sd_um, f.c.residual_df)
        .join(g, g.c.id == f.c.gauging_id)
        .join(s, s.c.id == f.c.series_id)
        .where(
            g.c.instrument_id.in_(instruments),
            f.c.residual_df > 0,
            f.c.recalled == 0,
            g.c.lever_mdeg <= STEEP_LEVER_MDEG,
            (g.c.instrument_id != 0) | (s.c.item_id == item_id),
        )
        .order_by(f.c.turn_id)
    )
    found: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for instrument, sd, df in connection.execute(query):
        found[instrument].append((sd, df))
    return found


def read_at_quarter_turns(connection: sa.Connection, series: Sequence[int]) -> set[int]:
    """Those of some series whose every turn that counts was read at four angles, and none as a swing.

    Told from the degrees of freedom of the residuals, one in each turn, and of the newest turn by its readings: six
    or eight of them leave one as well. The readings of more turns are not looked at, however many there are; nor are
    other turns where the newest, which the index of series ends with, tells enough.
    """
    f, r, strike = schema.figure, schema.reading, schema.strike
    struck = sa.select(strike.c.reading_id).where(strike.c.reading_id.is_not(None))
    steep = sa.select(schema.gauging.c.id).where(schema.gauging.c.lever_mdeg > STEEP_LEVER_MDEG)
    found = set()
    for start in range(0, len(series), 500):
        some = series[start : start + 500]
        last = sa.select(sa.func.max(f.c.turn_id)).where(f.c.series_id.in_(some)).group_by(f.c.series_id)
        may_be = (f.c.residual_df == 1) | (f.c.recalled != 0) | f.c.gauging_id.in_(steep)
        likely = list(connection.scalars(sa.select(f.c.series_id).where(f.c.turn_id.in_(last), may_be)))
        if not likely:
            continue
        newest: sa.Select[Any] = (
            sa.select(f.c.series_id, sa.func.max(f.c.turn_id).label("turn_id"))
            .where(f.c.series_id.in_(likely), f.c.recalled == 0, f.c.gauging_id.not_in(steep))
            .group_by(f.c.series_id)
            .having((sa.func.min(f.c.residual_df) == 1) & (sa.func.max(f.c.residual_df) == 1))
        )
        turns = newest.subquery()
        query = (
            sa.select(turns.c.series_id)
            .join(r, r.c.turn_id == turns.c.turn_id)
            .where(r.c.id.not_in(struck))
            .group_by(turns.c.series_id)
            .having(sa.func.count() == _QUARTERS)
        )
        found |= set(connection.scalars(query))
    return found
