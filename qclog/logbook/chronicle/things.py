"""What the logbook keeps of one thing, as events in the order of time: of an item, a setup, a pin or an indicator."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from operator import itemgetter
from typing import Final

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.chronicle.days import by_day
from qclog.logbook.chronicle.events import Event, Happened, facts_of, in_time, with_codes
from qclog.logbook.chronicle.measured import clamped, clamped_last, recalled, struck
from qclog.logbook.lookup import Name, Register
from qclog.logbook.statements import read_statement

_CARDS: Final = {
    "item": (schema.item_card, "item_id"),
    "pin": (schema.pin_card, "pin_id"),
    "instrument": (schema.instrument_card, "instrument_id"),
}


def read_chronicle(connection: sa.Connection, thing: Name) -> list[Event]:
    """Everything kept of a thing, in the order of time; what was entered together stays together."""
    register = Register(connection)
    clampings = sorted(clamped(connection, register, thing), key=itemgetter(0))
    events = [*_beside(connection, register, thing), *(event for _, event in clampings), *recalled(connection, thing)]
    done_at = {one.entry: one.at for one in events if one.what in (Happened.CLAMPED, Happened.MODIFIED)}
    return sorted(_at_one_time(events, done_at), key=in_time)


def read_chronicle_by_day(connection: sa.Connection, thing: Name) -> list[Event]:
    """The same of a setup or a gauge, the clampings of a day together where there are many."""
    register = Register(connection)
    before, after = list(_beside(connection, register, thing)), list(recalled(connection, thing))
    done_at = clamped_last(connection, thing, {one.entry for one in before + after if not one.at})
    others = (list(_at_one_time(events, done_at)) for events in (before, after))
    return by_day(clamped(connection, register, thing), *others)


def _beside(connection: sa.Connection, register: Register, thing: Name) -> Iterator[Event]:
    """All but clampings, and what was found of what they were read with."""
    yield from _entered(connection, thing)
    if thing.kind == "item":
        yield from _of_item(connection, register, thing)
    elif thing.kind == "setup":
        yield from _of_setup(connection, register, thing)
    else:
        for table, what in ((schema.calibration, Happened.CALIBRATED), (schema.gauge_check, Happened.CHECKED)):
            yield from facts_of(connection, table, what, table.c.gauge_id == thing.id)
    if thing.kind in ("item", "setup"):
        limits = facts_of(connection, schema.made_to, Happened.LIMITED, schema.made_to.c.body_id == thing.id)
        yield from (with_codes(event, register) for event in limits)
        yield from _stated(connection, register, thing)
    yield from _noted(connection, thing)


def _at_one_time(events: Iterable[Event], done_at: Mapping[int, str]) -> Iterator[Event]:
    """What has no time of its own has that of the work it was entered with; ``done_at``: by entry."""
    for event in events:
        yield event if event.at else replace(event, at=done_at.get(event.entry, ""))


def _entered(connection: sa.Connection, thing: Name) -> Iterator[Event]:
    """That it was entered, with its first card, and each newer card with what it changed."""
    (event,) = facts_of(connection, schema.name, Happened.ENTERED, schema.name.c.id == thing.id)
    if thing.kind not in _CARDS:
        yield replace(event, facts={})
        return
    table, owner = _CARDS[thing.kind]
    cards = facts_of(connection, table, Happened.NEW_CARD, table.c[owner] == thing.id)
    if not cards:
        yield replace(event, facts={})
        return
    first, *newer = cards
    yield replace(event, facts=first.facts)
    before = first.facts
    for card in newer:
        changed = {key: value for key, value in card.facts.items() if value != before[key]}
        yield replace(card, facts=changed)
        before = card.facts


def _noted(connection: sa.Connection, thing: Name) -> Iterator[Event]:
    """What was noted of it, together what was noted at once; what was taken back is noted as nothing."""
    t, m = schema.particular, schema.modification
    work = connection.execute(sa.select(m.c.id, m.c.number).where(m.c.item_id == thing.id))
    numbers = {row.id: row.number for row in work}
    together: dict[tuple[int, int | None], Event] = {}
    for event in facts_of(connection, t, Happened.NOTED, t.c.body_id == thing.id):
        number = numbers.get(event.facts["modification_id"])
        key, said = (event.entry, number), {event.facts["name"]: event.facts["text"]}
        before = together[key].facts["noted"] if key in together else {}
        together[key] = replace(event, facts={"modification": number, "noted": before | said})
    yield from together.values()


def _of_item(connection: sa.Connection, register: Register, item: Name) -> Iterator[Event]:
    for table, what in (
        (schema.modification, Happened.MODIFIED),
        (schema.inspection, Happened.INSPECTED),
        (schema.sighting, Happened.INSPECTED),
        (schema.item_state, Happened.STATE),
        (schema.use_record, Happened.USED),
        (schema.doubt, Happened.DOUBT_KEPT),
        (schema.custody, Happened.TOOK),
    ):
        for event in facts_of(connection, table, what, table.c.item_id == item.id):
            if table is schema.modification and not event.facts["number"]:
                continue
            yield with_codes(event, register)
    link, revision, c = schema.setup_link, schema.setup_revision, schema.clamping
    for event in facts_of(connection, link, Happened.PUT_IN, link.c.item_id == item.id):
        row = connection.execute(sa.select(revision).where(revision.c.id == event.facts["revision_id"])).one()
        facts = {"setup": register.text(row.setup_id), "revision": row.number, "reason": row.reason}
        yield replace(event, at=row.since, facts=facts)
    used = (
        sa.select(revision.c.setup_id, sa.func.min(revision.c.number))
        .join(c, c.c.setup_revision_id == revision.c.id)
        .where(c.c.item_id == item.id)
        .group_by(revision.c.setup_id)
    )
    for setup_id, first in connection.execute(used).all():
        yield from _revisions(connection, register, setup_id, least=first + 1)
    yield from struck(connection, item)


def _of_setup(connection: sa.Connection, register: Register, setup: Name) -> Iterator[Event]:
    position, custody = schema.setup_position, schema.custody
    yield from _revisions(connection, register, setup.id, least=1)
    yield from facts_of(connection, position, Happened.POSITION, position.c.setup_id == setup.id)
    for event in facts_of(connection, custody, Happened.TOOK, custody.c.setup_id == setup.id):
        yield with_codes(event, register)


def _stated(connection: sa.Connection, register: Register, thing: Name) -> Iterator[Event]:
    """Statements handed over about an item, or about items in a setup."""
    s, r = schema.statement, schema.setup_revision
    of_setup = sa.select(r.c.id).where(r.c.setup_id == thing.id)
    mine = s.c.item_id == thing.id if thing.kind == "item" else s.c.setup_revision_id.in_(of_setup)
    for event in facts_of(connection, s, Happened.STATED, mine):
        setup_id = connection.scalar(sa.select(r.c.setup_id).where(r.c.id == event.facts["setup_revision_id"])) or 0
        issued = read_statement(connection, event.facts["number"], event.facts["revision"])
        kept = ("limit_um", "lower_limit_um", "in_sitting")
        said = {} if issued is None else {field: getattr(issued, field) for field in kept}
        yield with_codes(replace(event, facts=event.facts | {"setup_id": setup_id} | said), register)


def _revisions(connection: sa.Connection, register: Register, setup_id: int, *, least: int) -> Iterator[Event]:
    """The revisions of a setup from a number on, with the parts they have."""
    t = schema.setup_revision
    ids = {revision.number: revision.id for revision in register.revisions(setup_id)}
    for event in facts_of(connection, t, Happened.CHANGED, sa.and_(t.c.setup_id == setup_id, t.c.number >= least)):
        named = with_codes(event, register)
        parts = [link.text for link in register.links(ids[named.facts["number"]])]
        yield replace(named, facts=named.facts | {"parts": parts})
