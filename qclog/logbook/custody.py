"""Who has which item out of the drawer, and where it is mounted. The newest fact of an item tells."""

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name

TOOK, BACK = schema.CUSTODY


@dataclass(frozen=True, slots=True)
class Out:
    """An item that is not in the drawer: who has it, the setup it is mounted in or '', the place as said."""

    item: str
    who: str
    setup: str
    place: str
    since: str


def read_out(connection: sa.Connection, items: Sequence[int] | None = None) -> dict[int, Out]:
    """What is out now, of some items or of all, by the id of the item, in the order of their codes."""
    t, item, setup = schema.custody, schema.name.alias("item"), schema.name.alias("setup")
    newest = sa.select(sa.func.max(t.c.id)).group_by(t.c.item_id)
    if items is not None:
        newest = newest.where(t.c.item_id.in_(items))
    query = (
        sa.select(t.c.item_id, item.c.text, t.c.who, sa.func.coalesce(setup.c.text, ""), t.c.place, t.c.done_at)
        .join(item, item.c.id == t.c.item_id)
        .outerjoin(setup, setup.c.id == t.c.setup_id)
        .where(t.c.id.in_(newest), t.c.direction == TOOK)
        .order_by(item.c.folded)
    )
    return {row[0]: Out(*row[1:]) for row in connection.execute(query)}


def take(entry: Entry, items: Sequence[Name], *, setup: Name | None, place: str, done_at: str) -> dict[str, Out]:
    """Somebody took items out; of those that were out already, who had them until then, by code.

    What another one has is handed over, what one has oneself is moved. Raises RefusedError for a code given twice.
    """
    _once_each(items)
    before = read_out(entry.connection, [item.id for item in items])
    for item in items:
        _write(entry, item, TOOK, setup, place, done_at)
    return {out.item: out for out in before.values()}


def bring_back(entry: Entry, items: Sequence[Name], *, done_at: str) -> dict[str, Out]:
    """Items are in the drawer again; where they were, by code. Raises RefusedError for one that is not out."""
    _once_each(items)
    before = read_out(entry.connection, [item.id for item in items])
    for item in items:
        if item.id not in before:
            raise RefusedError(f"{item.text} is not out.", "Nothing was noted; leave it out and say it again.")
        _write(entry, item, BACK, None, "", done_at)
    return {out.item: out for out in before.values()}


def _write(entry: Entry, item: Name, direction: str, setup: Name | None, place: str, done_at: str) -> None:
    entry.add(
        schema.custody,
        item_id=item.id,
        direction=direction,
        who=entry.who,
        setup_id=setup.id if setup else None,
        place=place.strip(),
        done_at=done_at,
    )


def _once_each(items: Sequence[Name]) -> None:
    twice = {item.text for i, item in enumerate(items) if item in items[:i]}
    if twice:
        raise RefusedError(f"{', '.join(sorted(twice))} was named twice.", "Name each item once.")
