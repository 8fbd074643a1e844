"""Striking out: a mistake stays visible, with the reason, and stops counting."""

import sqlalchemy as sa

from qclog import texts
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.deriving import rebuild
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name


def strike(
    entry: Entry, item: Name, clamping_id: int, *, reason: str, turn: int | None = None, reading: int | None = None
) -> None:
    """Strike out a clamping of ``item``, one turn of it, or one reading of that turn (both counted from 1).

    Raises NotFoundError for what is not there, RefusedError for a missing reason or what is struck out already.
    """
    if not reason.strip():
        raise RefusedError("Why is it struck out?", "Say it with --reason: misread, badly clamped, wrong pin.")
    texts.note(reason, "reason")
    connection = entry.connection
    owner = connection.scalar(sa.select(schema.clamping.c.item_id).where(schema.clamping.c.id == clamping_id))
    if owner != item.id:
        raise NotFoundError(f"{item.text} has no clamping {clamping_id}.", f"See: qclog item show {item.text}")
    target: dict[str, int] = {"clamping_id": clamping_id}
    if turn is not None:
        turn_id = _counted(connection, schema.turn, schema.turn.c.clamping_id == clamping_id, turn, "turn")
        target = {"turn_id": turn_id}
        if reading is not None:
            in_turn = schema.reading.c.turn_id == turn_id
            target = {"reading_id": _counted(connection, schema.reading, in_turn, reading, "reading")}
    elif reading is not None:
        raise RefusedError("Which turn is the reading in?", "Say it with --turn, counted from 1.")
    column, value = next(iter(target.items()))
    if connection.scalar(sa.select(schema.strike.c.id).where(schema.strike.c[column] == value)) is not None:
        raise RefusedError(f"That was struck out before ({item.text}, clamping {clamping_id}).", "Nothing to do.")
    entry.add(schema.strike, reason=reason.strip(), **target)
    rebuild(connection, [clamping_id])


def last_clamping(connection: sa.Connection, item: Name) -> int:
    """The clamping of an item that was written last and is not struck out. Raises NotFoundError."""
    c, s = schema.clamping, schema.strike
    struck = sa.select(s.c.clamping_id).where(s.c.clamping_id.is_not(None))
    query = sa.select(c.c.id).where(c.c.item_id == item.id, c.c.id.not_in(struck))
    found = connection.scalar(query.order_by(c.c.entry_id.desc(), c.c.id.desc()).limit(1))
    if found is None:
        raise NotFoundError(f"{item.text} has no clamping to strike out.", f"See: qclog item show {item.text}")
    return int(found)


def _counted(connection: sa.Connection, table: sa.Table, which: sa.ColumnElement[bool], number: int, what: str) -> int:
    ids = list(connection.scalars(sa.select(table.c.id).where(which).order_by(table.c.id)))
    if not 1 <= number <= len(ids):
        raise NotFoundError(f"There is no {what} {number}.", f"It has {len(ids)}, counted from 1.")
    return int(ids[number - 1])
