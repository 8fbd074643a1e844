"""Noting particulars of items, their work, setups and gauges, and reading them. The newest of a name wins."""

from collections.abc import Sequence
from typing import Final

import sqlalchemy as sa

from qclog import particulars, texts
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register
from qclog.logbook.setups import known_position
from qclog.particulars import Of, Particular

OF: Final[dict[str, tuple[Of, ...]]] = {
    "item": ("item", "work"),
    "setup": ("setup",),
    "pin": ("gauge",),
    "instrument": ("gauge",),
}
"""What is noted of a thing of each kind."""
Noted = dict[str, str]


def note(
    entry: Entry,
    register: Register,
    thing: Name,
    said: Sequence[tuple[Particular, str]],
    modification: int | None = None,
) -> None:
    """Keep what was said of a thing; of work with a modification of the item, the newest unless it is given.

    Raises RefusedError for a name said twice and for a key position the setup has not.
    """
    twice = {one.name for i, (one, _) in enumerate(said) if one in [other for other, _ in said[:i]]}
    if twice:
        raise RefusedError(f"{', '.join(sorted(twice))} was said twice.", "Say each once.")
    for one, text in said:
        if one.name == particulars.MASTER and text:
            text = known_position(register, thing, text)
        modification_id = None
        if one.of == "work":
            newest = register.newest_modification(thing)
            modification_id = newest.id if modification is None else register.modification(thing, modification).id
        entry.add(schema.particular, body_id=thing.id, modification_id=modification_id, name=one.name, text=text)


def need_thing(register: Register, code: str) -> Name:
    """The item, setup, pin or indicator of this code. Raises NotFoundError."""
    found = register.find(code)
    if found is None:
        raise NotFoundError(
            f"There is no {texts.shown(code)!r}.", "See: qclog item list, qclog setup list, qclog instrument list"
        )
    return found


def read_noted(connection: sa.Connection, bodies: Sequence[int] | None = None) -> dict[int, Noted]:
    """What is known of things as they are, by id: of all or of some. Of work nothing, see ``read_work``."""
    return _read(connection, schema.particular.c.body_id, bodies, of_work=False)


def read_work(connection: sa.Connection, items: Sequence[int] | None = None) -> dict[int, Noted]:
    """How work was done, by the id of the modification, in the order in which it is told."""
    return _read(connection, schema.particular.c.modification_id, items, of_work=True)


def _read(
    connection: sa.Connection, key: sa.Column[int], bodies: Sequence[int] | None, *, of_work: bool
) -> dict[int, Noted]:
    t = schema.particular
    query = sa.select(key, t.c.name, t.c.text).order_by(t.c.id)
    query = query.where(t.c.modification_id.is_not(None) if of_work else t.c.modification_id.is_(None))
    if bodies is not None:
        query = query.where(t.c.body_id.in_(bodies))
    found: dict[int, Noted] = {}
    for owner, name, text in connection.execute(query):
        found.setdefault(owner, {})[name] = text
    order = [one.name for one in particulars.PARTICULARS]
    return {
        owner: {name: noted[name] for name in sorted(noted, key=lambda one: _place(order, one)) if noted[name]}
        for owner, noted in found.items()
    }


def _place(order: list[str], name: str) -> int:
    return order.index(name) if name in order else len(order)
