"""What can happen to a thing, and the rows of tables of facts as such events."""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.lookup import Register


class Happened(StrEnum):
    """What can happen. ``reports.history`` has a sentence for every one."""

    ENTERED = "entered"
    NEW_CARD = "new_card"
    MODIFIED = "modified"
    LIMITED = "limited"
    INSPECTED = "inspected"
    STATE = "state"
    USED = "used"
    CLAMPED = "clamped"
    CLAMPED_ON_A_DAY = "clamped_on_a_day"
    STRUCK = "struck"
    DOUBT_KEPT = "doubt_kept"
    DOUBT_WITHDRAWN = "doubt_withdrawn"
    PUT_IN = "put_in"
    CHANGED = "changed"
    POSITION = "position"
    CALIBRATED = "calibrated"
    TOOK = "took"
    BACK = "back"
    FOUND_WRONG = "found_wrong"
    CLEARED = "cleared"
    STATED = "stated"
    NOTED = "noted"
    CHECKED = "checked"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened. ``at``: when it is said to have, '' where only the writing has a time; ``written``: in
    UTC. ``entry``: the entry it was written in, the last one where there were several. ``facts``: as the columns of the
    tables are called, without what only the database needs.
    """

    what: Happened
    at: str
    written: str
    who: str
    station: str
    entry: int
    facts: dict[str, Any]


def in_time(event: Event) -> tuple[bool, int, int]:
    """What sorts events: that it was entered first of all, then by time, then as they were written."""
    return event.what != Happened.ENTERED, times.order(event.at or event.written), event.entry


_SAID_AT: Final = {
    "modification": "done_at",
    "use_record": "used_on",
    "inspection": "seen_on",
    "sighting": "seen_on",
    "gauge_check": "done_at",
    "item_state": "since",
    "calibration": "done_on",
    "custody": "done_at",
    "setup_revision": "since",
    "statement": "issued_at",
}


def facts_of(connection: sa.Connection, table: sa.Table, what: Happened, where: sa.ColumnElement[bool]) -> list[Event]:
    """The rows of a table of facts as events, in the order they were written."""
    e = schema.entry
    query = (
        sa.select(table, e.c.at_utc.label("_written"), e.c.who.label("_who"), e.c.station.label("_station"))
        .join(e, e.c.id == table.c.entry_id)
        .where(where)
        .order_by(table.c.id)
    )
    said_at = _SAID_AT.get(table.name, "")
    return [
        Event(
            what=what,
            at=row[said_at] if said_at else "",
            written=row["_written"],
            who=row["_who"],
            station=row["_station"],
            entry=row["entry_id"],
            facts={
                key: value
                for key, value in row.items()
                if key not in ("id", "entry_id", said_at) and not key.startswith("_")
            },
        )
        for row in connection.execute(query).mappings()
    ]


def with_codes(event: Event, register: Register) -> Event:
    """The same with codes for ids, and as what it was: taken or brought back, kept or withdrawn."""
    facts = {key.removesuffix("_id"): value for key, value in event.facts.items()}
    for key in ("setup", "item", "body"):
        if key in facts:
            facts[key] = register.text(facts[key]) if facts[key] else ""
    what = {"back": Happened.BACK, "withdrawn": Happened.DOUBT_WITHDRAWN}.get(
        facts.get("direction") or facts.get("answer") or "", event.what
    )
    return replace(event, what=what, facts=facts)
