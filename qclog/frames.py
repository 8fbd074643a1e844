"""Readings as a pandas frame, for a notebook."""

from typing import Any

import pandas as pd
import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.recalls import all_in_doubt


def readings(store: Store, code: str | None = None) -> pd.DataFrame:
    """One row a reading that is not struck out, in the order of time; ``in_doubt``: its gauge was found wrong.

    ``low_um``, ``high_um``: the ends of what is known only between two; a bore told by pins has no ``value_um``.

    Raises NotFoundError for an unknown item.
    """
    with store.reading() as connection:
        item_id = None if code is None else Register(connection).need(code, "item").id
        frame = pd.read_sql_query(select_readings(item_id), connection)
        return frame.assign(in_doubt=frame["clamping"].isin(all_in_doubt(connection)))


def select_readings(item_id: int | None = None) -> sa.Select[Any]:
    """What asks for the rows of ``readings``, but for their doubt."""
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
