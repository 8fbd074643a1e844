"""What was measured, as events: clampings by sitting, what was struck out, what is in doubt."""

import functools
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
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
_END_OF_ALIKE: Final = 3 + len(_CLAMPED_ALIKE) + len(_READ_ALIKE)
_AT_ONCE: Final = 20_000
"""Clampings."""


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


def clamped(connection: sa.Connection, register: Register, thing: Name) -> Iterator[tuple[int, Event]]:
    """Clampings of an item, in a setup, or with a gauge: those of a sitting that were read alike are one event. Item by
    item, each event with the id of its first clamping."""
    touched, text = _struck_in(connection), functools.cache(register.text)
    for some in _lots(connection, thing):
        read = _read(connection, some)
        for rows in _alike(connection, some):
            first, last, ids = rows[0], rows[-1], [row.id for row in rows]
            yield (
                first.id,
                Event(
                    what=Happened.CLAMPED,
                    at=_taken_at(rows),
                    written=last.at_utc,
                    who=last.who,
                    station=last.station,
                    entry=_completed_in(rows),
                    facts={
                        "item": text(first.item_id),
                        "modification": first.modification,
                        "setup": text(first.setup_id) if first.setup_id else "",
                        "revision": first.revision or 0,
                        "position": first.position,
                        "clocking": first.clocking,
                        "pin": text(first.pin_id) if first.pin_id else "",
                        "instrument": text(first.instrument_id) if first.instrument_id else "",
                        "operator": first.operator,
                        "recalled": bool(first.recalled),
                        "clampings": len(rows),
                        "struck_in": len(touched.intersection(ids)),
                        "read": _ranges(read, ids),
                    },
                ),
            )


def clamped_last(connection: sa.Connection, thing: Name, entries: Collection[int]) -> dict[int, str]:
    """Of some entries in which an event of ``clamped`` was completed when the last such event of each was."""
    c, e, mine = schema.clamping, schema.entry, _mine(thing)
    if connection.scalar(sa.select(c.c.id).where(mine, c.c.entry_id.in_(entries)).limit(1)) is None:
        return {}
    alike = [c.c[name] for name in _CLAMPED_ALIKE + _READ_ALIKE]
    events = (
        sa.select(sa.func.min(c.c.id).label("first"), sa.func.max(c.c.entry_id).label("entry"))
        .join(e, e.c.id == c.c.entry_id)
        .where(mine)
        .group_by(*alike, e.c.who, e.c.station)
        .subquery()
    )
    lasts = sa.select(sa.func.max(events.c.first)).where(events.c.entry.in_(entries)).group_by(events.c.entry)
    found = {}
    for first in connection.scalars(lasts).all():
        own = connection.execute(sa.select(c.c.item_id, c.c.sitting_id).where(c.c.id == first)).one()
        there = sa.and_(mine, c.c.item_id == own.item_id, c.c.sitting_id == own.sitting_id)
        (rows,) = [rows for rows in _alike(connection, there) if rows[0].id == first]
        found[_completed_in(rows)] = _taken_at(rows)
    return found


def _mine(thing: Name) -> sa.ColumnElement[bool]:
    """The condition on clampings that they are a thing's."""
    c, r = schema.clamping, schema.setup_revision
    return {
        "item": c.c.item_id == thing.id,
        "setup": c.c.setup_revision_id.in_(sa.select(r.c.id).where(r.c.setup_id == thing.id)),
        "pin": c.c.pin_id == thing.id,
        "instrument": c.c.instrument_id == thing.id,
    }[thing.kind]


def _lots(connection: sa.Connection, thing: Name) -> Iterator[sa.ColumnElement[bool]]:
    """The clampings of a thing, those of some items at once."""
    c, mine = schema.clamping, _mine(thing)
    sizes = sa.select(c.c.item_id, sa.func.count()).where(mine).group_by(c.c.item_id).order_by(c.c.item_id)
    items: list[int] = []
    size = 0
    for item_id, clampings in connection.execute(sizes).all():
        if items and size + clampings > _AT_ONCE:
            yield sa.and_(mine, c.c.item_id.in_(items))
            items, size = [], 0
        items.append(item_id)
        size += clampings
    if items:
        yield sa.and_(mine, c.c.item_id.in_(items))


def _alike(connection: sa.Connection, which: sa.ColumnElement[bool]) -> Iterator[list[Any]]:
    """Clampings that are one event, item by item, those of each in the order they were written."""
    c, m, r, e = schema.clamping, schema.modification, schema.setup_revision, schema.entry
    query = (
        sa.select(
            c.c.id,
            c.c.entry_id,
            c.c.taken_at,
            *(c.c[name] for name in _CLAMPED_ALIKE + _READ_ALIKE),
            m.c.number.label("modification"),
            r.c.setup_id,
            r.c.number.label("revision"),
            e.c.at_utc,
            e.c.who,
            e.c.station,
        )
        .join(m, m.c.id == c.c.modification_id)
        .join(e, e.c.id == c.c.entry_id)
        .outerjoin(r, r.c.id == c.c.setup_revision_id)
        .where(which)
        .order_by(c.c.item_id, c.c.id)
    )
    together: dict[tuple[Any, ...], list[Any]] = defaultdict(list)
    for row in connection.execute(query).all():
        together[(*row[3:_END_OF_ALIKE], *row[-2:])].append(row)
    yield from together.values()


def _taken_at(rows: Sequence[Any]) -> str:
    written: dict[str, None] = dict.fromkeys(row.taken_at for row in rows)
    return min(written, key=times.order)


def _completed_in(rows: Sequence[Any]) -> int:
    entries: list[int] = [row.entry_id for row in rows]
    return max(entries)


def _struck_in(connection: sa.Connection) -> set[int]:
    """The clampings in which something was struck out."""
    s, t, r = schema.strike, schema.turn, schema.reading
    turns = sa.select(s.c.turn_id.label("turn_id")).where(s.c.turn_id.is_not(None))
    readings = sa.select(r.c.turn_id).join(s, s.c.reading_id == r.c.id)
    found = set(connection.scalars(sa.select(t.c.clamping_id).where(t.c.id.in_(turns.union(readings)))))
    return found | set(connection.scalars(sa.select(s.c.clamping_id).where(s.c.clamping_id.is_not(None))))


def _read(connection: sa.Connection, which: sa.ColumnElement[bool]) -> dict[int, list[Any]]:
    """By clamping, its turns: distance, characteristic, kind, the circle of a face, and ends of the value, none of what
    was struck out."""
    c, t, f = schema.clamping, schema.turn, schema.figure
    ends = read_turn_ends(connection, t.c.clamping_id.in_(sa.select(c.c.id).where(which)))
    query = (
        sa.select(t.c.id, t.c.clamping_id, t.c.distance_pm, t.c.characteristic, t.c.kind, f.c.value_um, c.c.diameter_pm)
        .join(c, c.c.id == t.c.clamping_id)
        .outerjoin(f, f.c.turn_id == t.c.id)
        .where(which)
        .order_by(t.c.id)
    )
    found: dict[int, list[Any]] = defaultdict(list)
    for turn, clamping, distance_pm, characteristic, kind, value_um, diameter_pm in connection.execute(query).all():
        values = () if value_um is None else ends.get(turn, (value_um,))
        circle = diameter_pm if characteristic == FACE_RUNOUT else None
        found[clamping].append(((distance_pm, characteristic, kind, circle), values))
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
