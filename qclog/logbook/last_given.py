"""What was given last at this station in this sitting: kept for the next line, so that it need not be typed."""

from dataclasses import dataclass

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.records import RUNOUT


@dataclass(frozen=True, slots=True)
class LastGiven:
    """The last clamping's particulars; '' and None where it had none. ``item_id`` 0: nothing was logged yet."""

    item_id: int = 0
    setup: str = ""
    position: str = ""
    pin: str = ""
    diameter_pm: int | None = None
    instrument: str = ""
    distance_pm: int | None = None
    lever_mdeg: int | None = None
    torque: str = ""
    conditions: str = ""
    operator: str = ""
    pin_out: str = ""


def last_given(connection: sa.Connection, station: str, sitting: str, characteristic: str = RUNOUT) -> LastGiven:
    """What the newest clamping of a sitting at a station, of those with a characteristic, was logged with (one
    distance only, else none)."""
    here = (schema.entry.c.station == station) & (schema.sitting.c.label == sitting)
    return _newest(connection, here & _with(characteristic))


def last_in_setup(connection: sa.Connection, revision_id: int) -> LastGiven:
    """What the newest clamping with a run-out in a setup revision was logged with."""
    return _newest(connection, (schema.clamping.c.setup_revision_id == revision_id) & _with(RUNOUT))


def _with(characteristic: str) -> sa.ColumnElement[bool]:
    t = schema.turn
    return sa.exists().where(t.c.clamping_id == schema.clamping.c.id, t.c.characteristic == characteristic)


def _newest(connection: sa.Connection, which: sa.ColumnElement[bool]) -> LastGiven:
    c, e, s, n = schema.clamping, schema.entry, schema.sitting, schema.name
    setup, pin, instrument = n.alias("setup"), n.alias("pin"), n.alias("instrument")
    row = connection.execute(
        sa.select(c, setup.c.text.label("setup"), pin.c.text.label("pin"), instrument.c.text.label("instrument"))
        .join(e, e.c.id == c.c.entry_id)
        .join(s, s.c.id == c.c.sitting_id)
        .outerjoin(schema.setup_revision, schema.setup_revision.c.id == c.c.setup_revision_id)
        .outerjoin(setup, setup.c.id == schema.setup_revision.c.setup_id)
        .outerjoin(pin, pin.c.id == c.c.pin_id)
        .outerjoin(instrument, instrument.c.id == c.c.instrument_id)
        .where(which, c.c.recalled == 0)
        .order_by(c.c.id.desc())
        .limit(1)
    ).first()
    if row is None:
        return LastGiven()
    distances = set(connection.scalars(sa.select(schema.turn.c.distance_pm).where(schema.turn.c.clamping_id == row.id)))
    return LastGiven(
        item_id=row.item_id,
        setup=row.setup or "",
        position=row.position,
        pin=row.pin or "",
        diameter_pm=row.diameter_pm,
        instrument=row.instrument or "",
        distance_pm=distances.pop() if len(distances) == 1 else None,
        lever_mdeg=row.lever_mdeg,
        torque=row.torque,
        conditions=row.conditions,
        operator=row.operator,
        pin_out=row.pin_out,
    )
