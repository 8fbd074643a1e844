"""Which clockings were only tried: clampings that find out who owns the run-out say nothing of how an item is used."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Final

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.notation import parse_clocking

IN_USE_FROM: Final = 3
"""So many clampings in a row at one clocking, and it is one in use."""


def same_bodies(clocking: str) -> frozenset[str]:
    """The bodies of a clocking, without case."""
    return frozenset(body.casefold() for body, _ in parse_clocking(clocking))


def only_tried(connection: sa.Connection, places: Iterable[Sequence[tuple[int, str]]]) -> set[int]:
    """Ids of the series of which a clocking was only tried. ``places``: series, with their clockings, that differ in
    nothing else.

    In use is a clocking that had three clampings in a row, or where none of these bodies had, the last. All others that
    they were clamped at were tried. So what was clamped at one clocking only is in use however few they were.
    """
    alike: list[list[int]] = []
    for place in places:
        by_bodies: dict[frozenset[str], list[int]] = defaultdict(list)
        for series, clocking in place:
            by_bodies[same_bodies(clocking)].append(series)
        alike += [together for together in by_bodies.values() if len(together) > 1]
    if not alike:
        return set()
    f = schema.figure.c
    query = (
        sa.select(f.series_id, f.clamping_id)
        .where(f.series_id.in_([series for together in alike for series in together]))
        .order_by(f.taken_order, f.clamping_id)
    )
    order = list(dict.fromkeys((int(row[0]), int(row[1])) for row in connection.execute(query)))
    tried: set[int] = set()
    for together in alike:
        rows = [series for series, _ in order if series in together]
        in_use = {
            series
            for i, series in enumerate(rows)
            if i + IN_USE_FROM <= len(rows) and set(rows[i : i + IN_USE_FROM]) == {series}
        }
        tried |= set(together) - (in_use or set(rows[-1:]))
    return tried
