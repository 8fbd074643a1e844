"""What stands behind the figures of one series: its clampings with what they were read with, what was struck out,
and who set its limit."""

import itertools
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.deriving import tenths_of_mm
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Limit, Register
from qclog.records import UNKNOWN_DIAMETER


@dataclass(frozen=True, slots=True)
class ReadTurn:
    """How one turn was read: its kind, the angles of its readings in thousandths of a degree, None where none is
    known, and the readings as typed; what is struck out is left out."""

    kind: str
    angles_mdeg: tuple[int | None, ...]
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Read:
    """One clamping with what it was read with; ids are 0 where nothing was named."""

    id: int
    uuid: str
    taken_at: str
    sitting: str
    pin_id: int
    diameter_pm: int | None
    instrument_id: int
    calibration_id: int
    lever_mdeg: int | None
    pin_out: str
    operator: str
    torque: str
    conditions: str
    turns: tuple[ReadTurn, ...]


@dataclass(frozen=True, slots=True)
class Struck:
    """What was struck out of a series: a whole "clamping", a "turn" or a "reading" of it; ``entry``: written in."""

    clamping: int
    part: str
    taken_at: str
    reason: str
    who: str
    entry: int


def read_clampings_of(connection: sa.Connection, clampings: Sequence[int], one: Series) -> list[Read]:
    """Some clampings of a series, in the order given, with their turns in it."""
    c, wanted = schema.clamping, set(clampings)
    query = (
        sa.select(c, schema.sitting.c.label.label("sitting"))
        .join(schema.sitting, schema.sitting.c.id == c.c.sitting_id)
        .where(*_alike(one))
    )
    rows = {row.id: row for row in connection.execute(query) if row.id in wanted}
    turns = _turns(connection, one)
    return [
        Read(
            id=row.id,
            uuid=row.uuid,
            taken_at=row.taken_at,
            sitting=row.sitting,
            pin_id=row.pin_id or 0,
            diameter_pm=row.diameter_pm,
            instrument_id=row.instrument_id or 0,
            calibration_id=row.calibration_id or 0,
            lever_mdeg=row.lever_mdeg,
            pin_out=row.pin_out,
            operator=row.operator,
            torque=row.torque,
            conditions=row.conditions,
            turns=tuple(turns.get(row.id, ())),
        )
        for row in (rows[i] for i in clampings)
    ]


def read_struck_of(connection: sa.Connection, one: Series) -> list[Struck]:
    """What was struck out of the clampings of a series, in the order it was written."""
    c, t, r, s = schema.clamping, schema.turn, schema.reading, schema.strike
    query = (
        sa.select(c.c.id, c.c.taken_at, c.c.diameter_pm, t.c.id.label("turn_id"), t.c.distance_pm, r.c.id)
        .join(t, t.c.clamping_id == c.c.id)
        .join(r, r.c.turn_id == t.c.id)
        .where(*_alike(one), t.c.characteristic == one.characteristic)
    )
    here: dict[tuple[str, int], tuple[int, str]] = {}
    for clamping, taken_at, diameter, turn, distance, reading in connection.execute(query):
        if _tenths(diameter) == one.diameter_tenths and tenths_of_mm(distance) == one.distance_tenths:
            for part, key in (("clamping", clamping), ("turn", turn), ("reading", reading)):
                here[part, key] = (clamping, taken_at)
    found = []
    strikes = sa.select(s, schema.entry.c.who).join(schema.entry, schema.entry.c.id == s.c.entry_id).order_by(s.c.id)
    for row in connection.execute(strikes):
        part, key = next(
            (part, getattr(row, f"{part}_id"))
            for part in ("clamping", "turn", "reading")
            if getattr(row, f"{part}_id") is not None
        )
        if (part, key) in here:
            clamping, taken_at = here[part, key]
            found.append(Struck(clamping, part, taken_at, row.reason, row.who, row.entry_id))
    return found


def read_who_limited(connection: sa.Connection, body_id: int, limit: Limit) -> tuple[str, str]:
    """Who set a limit of an item or setup, and when that was written."""
    t, e = schema.made_to, schema.entry
    key = {field: getattr(limit, field) for field in Limit._fields[:5]}
    query = (
        sa.select(e.c.who, e.c.at_utc)
        .join(t, t.c.entry_id == e.c.id)
        .where(t.c.body_id == body_id, *(t.c[name] == value for name, value in key.items()))
        .order_by(t.c.id.desc())
    )
    row = connection.execute(query).first()
    return (row[0], row[1]) if row is not None else ("", "")


def read_work(connection: sa.Connection, item_id: int, number: int) -> dict[str, Any]:
    """What was done to an item at a modification, as the columns of the table are called, and by whom."""
    t, e = schema.modification, schema.entry
    query = sa.select(t, e.c.who).join(e, e.c.id == t.c.entry_id).where(t.c.item_id == item_id, t.c.number == number)
    return dict(connection.execute(query).mappings().one())


def read_calibration(connection: sa.Connection, calibration_id: int) -> dict[str, Any] | None:
    row = connection.execute(sa.select(schema.calibration).where(schema.calibration.c.id == calibration_id))
    found = row.mappings().one_or_none()
    return None if found is None else dict(found)


def calibration_in_force(register: Register, gauge_id: int, taken_at: str) -> int:
    """The id of the calibration of a gauge in force at a time, 0 where there is none."""
    found = register.calibration_at(gauge_id, taken_at)
    return int(found["id"]) if found is not None else 0


def _alike(one: Series) -> tuple[sa.ColumnElement[bool], ...]:
    c, m = schema.clamping, schema.modification
    modification = sa.select(m.c.id).where(m.c.item_id == one.item_id, m.c.number == one.modification)
    revision = c.c.setup_revision_id == one.revision_id if one.revision_id else c.c.setup_revision_id.is_(None)
    return (
        c.c.item_id == one.item_id,
        c.c.modification_id.in_(modification),
        revision,
        c.c.position == one.position,
        c.c.clocking == one.clocking,
    )


def _turns(connection: sa.Connection, one: Series) -> dict[int, list[ReadTurn]]:
    """How the turns that count in a series were read, by clamping."""
    t, r, f, s = schema.turn, schema.reading, schema.figure, schema.strike
    struck = sa.select(s.c.reading_id).where(s.c.reading_id.is_not(None))
    query = (
        sa.select(t.c.clamping_id, t.c.id, t.c.kind, r.c.angle_mdeg, r.c.text)
        .join(f, f.c.turn_id == t.c.id)
        .join(r, r.c.turn_id == t.c.id)
        .where(f.c.series_id == one.id, r.c.id.not_in(struck))
        .order_by(t.c.clamping_id, t.c.id, r.c.rank)
    )
    found: dict[int, list[ReadTurn]] = defaultdict(list)
    for (clamping, _, kind), rows in itertools.groupby(connection.execute(query), key=lambda row: tuple(row[:3])):
        readings = [(row[3], row[4]) for row in rows]
        found[clamping].append(ReadTurn(kind, *map(tuple, zip(*readings, strict=True))))
    return found


def _tenths(diameter_pm: int | None) -> int:
    return UNKNOWN_DIAMETER if diameter_pm is None else tenths_of_mm(diameter_pm)
