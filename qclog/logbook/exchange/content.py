"""Whether a clamping of a file says the same as the one of the same identity in the logbook."""

from collections import Counter, defaultdict
from collections.abc import Sequence
from typing import Any, Final

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.clampings import Resolved
from qclog.logbook.driver import marks, run
from qclog.logbook.exchange.gathering import LEAST_READINGS

_AT_ONCE: Final = 500
"""One statement, which the driver keeps, asks for so many."""
_Content = Counter[tuple[Any, ...]]


class KnownClampings:
    """The clampings of some uuids that are in the logbook, with what was read in them."""

    def __init__(self, connection: sa.Connection, uuids: Sequence[str]) -> None:
        """``uuids``: at most a few thousand."""
        clamping, ids = schema.clamping, []
        for start in range(0, len(uuids), _AT_ONCE):
            some = uuids[start : start + _AT_ONCE]
            found = run(connection, f"SELECT id FROM clamping WHERE uuid IN ({marks(len(some))})", some)
            ids += [row[0] for row in found]
        rows = connection.execute(sa.select(clamping).where(clamping.c.id.in_(ids))) if ids else ()
        self._clampings = {row.uuid: row for row in rows}
        self._everything: dict[int, _Content] = defaultdict(Counter)
        self._standing: dict[int, _Content] = defaultdict(Counter)
        if self._clampings:
            self._read(connection, [row.id for row in self._clampings.values()])

    def __contains__(self, uuid: str) -> bool:
        return uuid in self._clampings

    def difference(self, found: Resolved) -> tuple[str, str] | None:
        """The column in which ``found`` differs from what is known, and its name; None if it is the same.

        The same is what was logged, with or without what has been struck out since. What the file leaves
        empty is not compared.
        """
        known, place = self._clampings[found.uuid], found.place
        if known.modification_id != place.modification_id:
            return "modification", "modification"
        if place.record.pin and known.pin_id != place.pin_id:
            return "pin", "pin"
        if place.record.diameter_pm is not None and known.diameter_pm != place.diameter_pm:
            return "diameter", "diameter"
        if place.record.instrument and known.instrument_id != place.instrument_id:
            return "instrument", "instrument"
        content: _Content = Counter(
            (turn.kind, turn.characteristic, turn.distance_pm, r.angle_mdeg, r.value_pm, r.low_pm, r.high_pm)
            for turn in found.turns
            for r in turn.readings
        )
        if self._standing[known.id] <= content <= self._everything[known.id]:
            return None
        return "clamping", "readings"

    def _read(self, connection: sa.Connection, clamping_ids: list[int]) -> None:
        turn, reading, strike = schema.turn, schema.reading, schema.strike
        struck = {
            kind: set(connection.scalars(query))
            for kind, query in {
                "turn": sa.select(turn.c.id)
                .join(strike, strike.c.turn_id == turn.c.id)
                .where(turn.c.clamping_id.in_(clamping_ids)),
                "reading": sa.select(reading.c.id)
                .join(turn, turn.c.id == reading.c.turn_id)
                .join(strike, strike.c.reading_id == reading.c.id)
                .where(turn.c.clamping_id.in_(clamping_ids)),
            }.items()
        }
        rows = connection.execute(
            sa.select(turn.c.clamping_id, turn.c.kind, turn.c.characteristic, turn.c.distance_pm, reading)
            .join(reading, reading.c.turn_id == turn.c.id)
            .where(turn.c.clamping_id.in_(clamping_ids))
        )
        standing: dict[tuple[int, int, str], _Content] = defaultdict(Counter)
        for row in rows:
            content = (
                row.kind,
                row.characteristic,
                row.distance_pm,
                row.angle_mdeg,
                row.value_pm,
                row.low_pm,
                row.high_pm,
            )
            self._everything[row.clamping_id][content] += 1
            if row.turn_id not in struck["turn"] and row.id not in struck["reading"]:
                standing[row.clamping_id, row.turn_id, row.kind][content] += 1
        for (clamping_id, _, kind), turn_content in standing.items():
            if kind != "point" or turn_content.total() >= LEAST_READINGS:
                self._standing[clamping_id] += turn_content
