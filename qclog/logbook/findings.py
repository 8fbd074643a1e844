"""What was seen on items by eye and hand. Findings whose words came later lie in a table of their own."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Final, NamedTuple

import sqlalchemy as sa

from qclog.logbook import schema

SOUND: Final = "sound"
CRASH: Final = "crash"
LATER: Final = (CRASH, "burr", "fretting", "collapsed")
FINDINGS: Final = (*schema.FINDINGS[:-1], *LATER, SOUND)
"""Everything that can be found."""


class Found(NamedTuple):
    """One finding on an item, and the entry it was written in."""

    item_id: int
    seen_on: str
    finding: str
    note: str
    entry_id: int


def table_of(finding: str) -> sa.Table:
    """The table a finding is kept in."""
    return schema.sighting if finding in LATER else schema.inspection


def read_findings(connection: sa.Connection, items: Sequence[int] | None = None) -> list[Found]:
    """All findings, or those on some items, in the order of the days they were seen on."""
    found: list[Found] = []
    for t in (schema.inspection, schema.sighting):
        query = sa.select(t.c.item_id, t.c.seen_on, t.c.finding, t.c.note, t.c.entry_id).order_by(t.c.id)
        if items is not None:
            query = query.where(t.c.item_id.in_(items))
        found += [Found(*row) for row in connection.execute(query)]
    return sorted(found, key=lambda one: (one.seen_on, one.entry_id))


def read_standing(connection: sa.Connection, items: Sequence[int] | None = None) -> dict[int, list[Found]]:
    """By item the findings since it was last found sound."""
    standing: dict[int, list[Found]] = defaultdict(list)
    for one in read_findings(connection, items):
        if one.finding == SOUND:
            standing[one.item_id].clear()
        else:
            standing[one.item_id].append(one)
    return standing
