"""Readings row by row with all that belongs to them, and how many rows there are."""

from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema


def select_readings(item_id: int | None = None) -> sa.Select[Any]:
    """What asks for one row a reading that is not struck out, of an item or of all, in the order of time."""
    c, t, r, s, n = schema.clamping, schema.turn, schema.reading, schema.strike, schema.name
    item, setup, pin, instrument = (n.alias(kind) for kind in ("item", "setup", "pin", "instrument"))
    revision, modification = schema.setup_revision, schema.modification

    def standing(column: sa.Column[Any], struck: str) -> sa.ColumnElement[bool]:
        return column.not_in(sa.select(s.c[struck]).where(s.c[struck].is_not(None)))

    by_pins = (t.c.kind == "value") & r.c.low_pm.is_not(None)
    query: sa.Select[Any] = (
        sa.select(
            c.c.taken_at,
            schema.sitting.c.label.label("sitting"),
            item.c.text.label("item"),
            modification.c.number.label("modification"),
            setup.c.text.label("setup"),
            revision.c.number.label("setup_revision"),
            c.c.position,
            c.c.clocking,
            c.c.id.label("clamping"),
            t.c.id.label("turn"),
            (t.c.distance_pm / 1e9).label("distance_mm"),
            (c.c.diameter_pm / 1e9).label("diameter_mm"),
            t.c.kind,
            t.c.characteristic,
            (r.c.angle_mdeg / 1e3).label("angle_deg"),
            sa.case((by_pins, None), else_=r.c.value_pm / 1e6).label("value_um"),
            r.c.text.label("as_typed"),
            pin.c.text.label("pin"),
            instrument.c.text.label("instrument"),
            c.c.operator,
            c.c.recalled,
            c.c.note,
            (r.c.low_pm / 1e6).label("low_um"),
            (r.c.high_pm / 1e6).label("high_um"),
        )
        .select_from(r)
        .join(t, t.c.id == r.c.turn_id)
        .join(c, c.c.id == t.c.clamping_id)
        .join(schema.sitting, schema.sitting.c.id == c.c.sitting_id)
        .join(item, item.c.id == c.c.item_id)
        .join(modification, modification.c.id == c.c.modification_id)
        .outerjoin(revision, revision.c.id == c.c.setup_revision_id)
        .outerjoin(setup, setup.c.id == revision.c.setup_id)
        .outerjoin(pin, pin.c.id == c.c.pin_id)
        .outerjoin(instrument, instrument.c.id == c.c.instrument_id)
        .where(standing(c.c.id, "clamping_id"), standing(t.c.id, "turn_id"), standing(r.c.id, "reading_id"))
        .order_by(c.c.taken_at, c.c.id, t.c.id, r.c.rank)
    )
    return query if item_id is None else query.where(c.c.item_id == item_id)


def count_rows(connection: sa.Connection, item_id: int | None = None) -> tuple[int, int]:
    """How many turns and how many readings were written of an item, or of all; also those that are struck out."""
    c, t, r = schema.clamping, schema.turn, schema.reading
    turns, read = sa.select(sa.func.count()).select_from(t), sa.select(sa.func.count()).select_from(r)
    if item_id is not None:
        own = t.c.clamping_id.in_(sa.select(c.c.id).where(c.c.item_id == item_id))
        turns, read = turns.where(own), read.where(r.c.turn_id.in_(sa.select(t.c.id).where(own)))
    return connection.scalar(turns) or 0, connection.scalar(read) or 0
