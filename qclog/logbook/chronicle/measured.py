"""What was measured, as events: clampings by sitting, what was struck out, what is in doubt."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.chronicle.events import Event, Happened, facts_of
from qclog.logbook.lookup import Name, Register
from qclog.logbook.recalls import read_cleared, read_concerned, read_recalls
from qclog.logbook.told_by_pins import read_turn_ends
from qclog.records import FACE_RUNOUT

_CLAMPED_ALIKE: Final = ("sitting_id", "item_id", "modification_id", "setup_revision_id", "position", "clocking")
_READ_ALIKE: Final = ("pin_id", "instrument_id", "operator", "recalled")


def struck(connection: sa.Connection, item: Name) -> Iterator[Event]:
    """Strike-outs of clampings, turns and readings of an item, with the number of the clamping and what was typed."""
    s, t, r, c = schema.strike, schema.turn, schema.reading, schema.clamping
    clampings = sa.select(c.c.id).where(c.c.item_id == item.id)
    turns = sa.select(t.c.id).where(t.c.clamping_id.in_(clampings))
    readings = sa.select(r.c.id).where(r.c.turn_id.in_(turns))
    where = sa.or_(s.c.clamping_id.in_(clampings), s.c.turn_id.in_(turns), s.c.reading_id.in_(readings))
    for event in facts_of(connection, s, Happened.STRUCK, where):
        facts = event.facts
        query = sa.select(t.c.clamping_id, r.c.text).join(r, r.c.turn_id == t.c.id).order_by(r.c.id)
        for column, key in ((t.c.clamping_id, "clamping_id"), (t.c.id, "turn_id"), (r.c.id, "reading_id")):
            if facts[key] is not None:
                query = query.where(column == facts[key])
        found = connection.execute(query).all()
        whole = (
            "clamping" if facts["clamping_id"] is not None else "turn" if facts["turn_id"] is not None else "reading"
        )
        yield replace(
            event,
            facts={
                "clamping": found[0][0],
                "part": whole,
                "readings": [row[1] for row in found],
                "reason": facts["reason"],
            },
        )


def clamped(connection: sa.Connection, register: Register, thing: Name) -> Iterator[Event]:
    """Clampings of an item, in a setup, or with a gauge: those of a sitting that were read alike are one event."""
    c, m, r = schema.clamping, schema.modification, schema.setup_revision
    mine = {
        "item": c.c.item_id == thing.id,
        "setup": c.c.setup_revision_id.in_(sa.select(r.c.id).where(r.c.setup_id == thing.id)),
        "pin": c.c.pin_id == thing.id,
        "instrument": c.c.instrument_id == thing.id,
    }[thing.kind]
    query = (
        sa.select(
            c,
            m.c.number.label("modification"),
            r.c.setup_id,
            r.c.number.label("revision"),
            schema.entry.c.at_utc,
            schema.entry.c.who,
            schema.entry.c.station,
        )
        .join(m, m.c.id == c.c.modification_id)
        .join(schema.entry, schema.entry.c.id == c.c.entry_id)
        .outerjoin(r, r.c.id == c.c.setup_revision_id)
        .where(mine)
        .order_by(c.c.id)
    )
    together: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for row in connection.execute(query):
        together[(*(getattr(row, name) for name in _CLAMPED_ALIKE + _READ_ALIKE), row.who, row.station)].append(row)
    read, touched = _read(connection, mine), _struck_in(connection)
    for rows in together.values():
        first, last = rows[0], rows[-1]
        yield Event(
            what=Happened.CLAMPED,
            at=min((row.taken_at for row in rows), key=times.order),
            written=last.at_utc,
            who=last.who,
            station=last.station,
            entry=max(row.entry_id for row in rows),
            facts={
                "item": register.text(first.item_id),
                "modification": first.modification,
                "setup": register.text(first.setup_id) if first.setup_id else "",
                "revision": first.revision or 0,
                "position": first.position,
                "clocking": first.clocking,
                "pin": register.text(first.pin_id) if first.pin_id else "",
                "instrument": register.text(first.instrument_id) if first.instrument_id else "",
                "operator": first.operator,
                "recalled": bool(first.recalled),
                "clampings": len(rows),
                "struck_in": sum(row.id in touched for row in rows),
                "read": _ranges(read, [row.id for row in rows]),
            },
        )


def _struck_in(connection: sa.Connection) -> set[int]:
    """The clampings in which something was struck out."""
    s, t, r = schema.strike, schema.turn, schema.reading
    turns = sa.select(s.c.turn_id.label("turn_id")).where(s.c.turn_id.is_not(None))
    readings = sa.select(r.c.turn_id).join(s, s.c.reading_id == r.c.id)
    found = set(connection.scalars(sa.select(t.c.clamping_id).where(t.c.id.in_(turns.union(readings)))))
    return found | set(connection.scalars(sa.select(s.c.clamping_id).where(s.c.clamping_id.is_not(None))))


def _read(connection: sa.Connection, mine: sa.ColumnElement[bool]) -> dict[int, list[Any]]:
    """By clamping, its turns: distance, characteristic, kind, the circle of a face, and ends of the value, none of what
    was struck out."""
    c, t, f = schema.clamping, schema.turn, schema.figure
    mine_too = t.c.clamping_id.in_(sa.select(c.c.id).where(mine))
    ends = read_turn_ends(connection, mine_too)
    query = (
        sa.select(t.c.id, t.c.clamping_id, t.c.distance_pm, t.c.characteristic, t.c.kind, f.c.value_um, c.c.diameter_pm)
        .join(c, c.c.id == t.c.clamping_id)
        .outerjoin(f, f.c.turn_id == t.c.id)
        .where(mine)
        .order_by(t.c.id)
    )
    found: dict[int, list[Any]] = defaultdict(list)
    for row in connection.execute(query):
        values = () if row.value_um is None else ends.get(row.id, (row.value_um,))
        circle = row.diameter_pm if row.characteristic == FACE_RUNOUT else None
        found[row.clamping_id].append(((row.distance_pm, row.characteristic, row.kind, circle), values))
    return found


def _ranges(read: dict[int, list[Any]], clampings: list[int]) -> list[dict[str, Any]]:
    """By distance, characteristic and the circle of a face, the least and the most of what still counts."""
    values: dict[tuple[int, str, str, int | None], list[float]] = {}
    for clamping in clampings:
        for place, ends in read[clamping]:
            values.setdefault(place, []).extend(ends)
    return [
        {
            "distance_pm": distance,
            "characteristic": characteristic,
            "kind": kind,
            "diameter_pm": circle,
            "least_um": min(found, default=None),
            "most_um": max(found, default=None),
        }
        for (distance, characteristic, kind, circle), found in values.items()
    ]


def recalled(connection: sa.Connection, thing: Name) -> Iterator[Event]:
    """That a gauge was found wrong, or one that the item was read with, and what was cleared since."""
    of_gauge = thing.kind in ("pin", "instrument")
    if not of_gauge and thing.kind != "item":
        return
    c, t = schema.clamping, schema.recall_clearing
    own = set(connection.scalars(sa.select(c.c.id).where(c.c.item_id == thing.id)))
    for recall in read_recalls(connection, thing.id if of_gauge else None):
        concerned = [one for one in read_concerned(connection, recall) if of_gauge or one in own]
        if not of_gauge and not concerned:
            continue
        facts = {"gauge": recall.gauge, "found": recall.found, "since": recall.since, "clampings": len(concerned)}
        table = schema.gauge_recall
        (event,) = facts_of(connection, table, Happened.FOUND_WRONG, table.c.id == recall.id)
        yield replace(event, at=recall.found_at, facts=facts)
        cleared = {one.clamping for one in read_cleared(connection, recall)}.intersection(concerned)
        seen: set[int] = set()
        for event in facts_of(connection, t, Happened.CLEARED, t.c.recall_id == recall.id):
            whole = event.facts["clamping_id"] is None
            if event.entry in seen or not (whole or of_gauge or event.facts["clamping_id"] in own):
                continue
            seen.add(event.entry)
            here = _cleared_in(connection, recall.id, event.entry)
            count = len(concerned) - len(cleared) if whole else len(here if of_gauge else here & own)
            facts = {"gauge": recall.gauge, "clampings": count, "reason": event.facts["reason"]}
            yield replace(event, facts=facts)


def _cleared_in(connection: sa.Connection, recall_id: int, entry_id: int) -> set[int]:
    t = schema.recall_clearing
    return set(
        connection.scalars(sa.select(t.c.clamping_id).where(t.c.recall_id == recall_id, t.c.entry_id == entry_id))
    )
