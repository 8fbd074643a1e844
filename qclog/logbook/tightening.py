"""How items were tightened when they were measured."""

from collections.abc import Sequence

import sqlalchemy as sa

from qclog.logbook import schema


def read_torques(connection: sa.Connection, items: Sequence[int]) -> dict[int, str]:
    """By series of some items the torque of its newest clamping that has one noted, as typed."""
    f, c = schema.figure, schema.clamping
    query = (
        sa.select(f.c.series_id, c.c.torque)
        .join(c, c.c.id == f.c.clamping_id)
        .where(c.c.item_id.in_(items), c.c.torque != "")
        .order_by(f.c.taken_order, f.c.clamping_id)
    )
    return {row[0]: row[1] for row in connection.execute(query)}
