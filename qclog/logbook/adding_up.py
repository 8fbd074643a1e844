"""What all figures of a logbook add up to, so that it can be told whether they are still the same."""

from typing import Final

import sqlalchemy as sa

from qclog.logbook import schema

_PART: Final = 1_000_003
"""A prime; sums of remainders stay within whole numbers of 64 bits."""


def newest_turn(connection: sa.Connection) -> int:
    """The largest id of a turn that has figures, 0 without any."""
    return connection.scalar(sa.select(sa.func.max(schema.figure.c.turn_id))) or 0


def add_up(connection: sa.Connection, newest: int) -> int:
    """A whole number that the figures of the turns up to ``newest`` (its id) add up to: it changes where any of them is
    taken away or comes out differently by a millionth of a micrometre."""
    f = schema.figure.c

    def millionths(column: sa.ColumnElement[float | None]) -> sa.ColumnElement[int]:
        return sa.cast(sa.func.coalesce(column, 0.0) * 1e6, sa.BigInteger)

    read = 3 * millionths(f.value_um) + 5 * millionths(f.eccentricity_x_um) + 7 * millionths(f.eccentricity_y_um)
    place = f.sitting_id + 3 * f.gauging_id + 7 * f.recalled + 11 * f.angle_within_mdeg
    one = (read + f.step_pm) % _PART * (1 + f.series_id % 1009) + (place + f.turn_id) % _PART
    return int(connection.scalar(sa.select(sa.func.sum(one)).where(f.turn_id <= newest)) or 0)
