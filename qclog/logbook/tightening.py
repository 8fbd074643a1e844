"""How items were tightened when they were measured."""

import sqlalchemy as sa

from qclog.logbook import schema


def read_torques(connection: sa.Connection) -> dict[int, str]:
    """By series the torque of its newest clamping that has one noted, as typed."""
    f, c = schema.figure, schema.clamping
    query = (
        sa.select(f.c.series_id, c.c.torque)
        .join(c, c.c.id == f.c.clamping_id)
        .where(c.c.torque != "")
        .order_by(f.c.taken_order, f.c.clamping_id)
    )
    return {row[0]: row[1] for row in connection.execute(query)}
