"""Reading every turn that counts with who read it, on which pin and with what: what a study of measuring rests on."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.figures import STEEP_LEVER_MDEG
from qclog.logbook.recalls import all_in_doubt

_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class ReadTurn:
    """One turn of a clamping in a series; ids are 0 and texts '' where nothing was named.

    ``order``: its time as ``times.order`` gives it. ``diameter_mm``: of the pin as it is, None where not known.
    ``vector``: its once-per-turn part in µm where read at known angles, None by eye or without a direction.
    """

    series: int
    clamping: int
    sitting: int
    order: int
    gauging: int
    instrument_id: int
    pin_id: int
    operator: str
    value_um: float
    step_um: float
    diameter_mm: float | None
    vector: complex | None


def read_turns(connection: sa.Connection, series: Sequence[int]) -> list[ReadTurn]:
    """The turns of some series that may stand behind a verdict, in the order of time.

    Not struck out, not recalled, no steep lever, not in doubt.
    """
    f, g, c = schema.figure, schema.gauging, schema.clamping
    doubtful = set(all_in_doubt(connection).tolist())
    found: list[ReadTurn] = []
    for start in range(0, len(series), _AT_ONCE):
        query: sa.Select[Any] = (
            sa.select(
                f.c.series_id,
                f.c.clamping_id,
                f.c.sitting_id,
                g.c.instrument_id,
                g.c.pin_id,
                c.c.operator,
                f.c.value_um,
                f.c.step_pm,
                f.c.eccentricity_x_um,
                f.c.eccentricity_y_um,
                f.c.angle_within_mdeg,
                c.c.diameter_pm,
                f.c.taken_order,
                f.c.gauging_id,
            )
            .join(g, g.c.id == f.c.gauging_id)
            .join(c, c.c.id == f.c.clamping_id)
            .where(f.c.series_id.in_(series[start : start + _AT_ONCE]), f.c.recalled == 0)
            .where(g.c.lever_mdeg <= STEEP_LEVER_MDEG)
            .order_by(f.c.taken_order, f.c.turn_id)
        )
        for row in connection.execute(query):
            measured = row[8] is not None and row[10] == 0
            if row[1] not in doubtful:
                found.append(
                    ReadTurn(
                        series=row[0],
                        clamping=row[1],
                        sitting=row[2],
                        order=row[12],
                        gauging=row[13],
                        instrument_id=row[3],
                        pin_id=row[4],
                        operator=row[5],
                        value_um=row[6],
                        step_um=row[7] / 1e6,
                        diameter_mm=None if row[11] is None else row[11] / 1e9,
                        vector=complex(row[8], row[9]) if measured else None,
                    )
                )
    return found
