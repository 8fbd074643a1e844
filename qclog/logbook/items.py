"""Writing items: cards, modifications, findings, use, states; and the settings of the logbook."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from qclog import texts, times
from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.findings import FINDINGS, table_of
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Name, Register
from qclog.logbook.naming import add_name
from qclog.logbook.setups import known_position, refit
from qclog.notation import format_clocking
from qclog.records import Card, Limit, Work


def add_item(entry: Entry, register: Register, code: str, card: Card, limits: Sequence[Limit] = ()) -> Name:
    """A new item as received (modification 0), with its card and what it is made to."""
    item = add_name(entry, register, code, "item")
    entry.add(schema.modification, item_id=item.id, number=0, done_at="", what="as received", size_pm=card.bore_pm)
    write_card(entry, register, item, card)
    for limit in limits:
        set_limit(entry, register, item, 0, limit)
    return item


def write_card(entry: Entry, register: Register, item: Name, card: Card) -> None:
    """A newer card of an item: what ``card`` leaves open stays as it was. Nothing is written where nothing is new."""
    texts.check(card)
    before = register.item_card(item.id)
    values: dict[str, Any] = {"kind": "other"}
    for field in dataclasses.fields(Card):
        known = getattr(card, field.name)
        if known is None and before is not None:
            known = before[field.name]
        if known is not None:
            values[field.name] = known
    if values["kind"] not in schema.ITEM_KINDS:
        kinds = f"One of: {', '.join(schema.ITEM_KINDS)}; a pair of parallels is other."
        raise RefusedError(f"{values['kind']!r} is no kind of item.", kinds)
    low, high = values.get("range_low_pm"), values.get("range_high_pm")
    if low is not None and high is not None and low > high:
        raise RefusedError(f"The range of {item.text} ends before it begins.", "Give the smaller diameter first.")
    if before is not None and all(before[name] == value for name, value in values.items()):
        return
    entry.add(schema.item_card, item_id=item.id, **values)
    register.forget()


def modify(entry: Entry, register: Register, item: Name, work: Work) -> tuple[int, list[str]]:
    """Work done to an item: its history starts anew, and so does that of every setup it is part of.

    Returns the number of the modification and the setups that got a new revision.
    """
    texts.check(work)
    newest = register.newest_modification(item)
    if not work.what.strip():
        raise RefusedError(f"What was done to {item.text}?", "Say it: bored, annealed, ground, slots cleared.")
    if newest.done_at and times.order(work.done_at) < times.order(newest.done_at):
        raise RefusedError(
            f"{item.text} was already modified on {newest.done_at} ({newest.what}).", "Give a later date with --on."
        )
    holder = work.holder
    if holder:
        holder = register.need(holder, "setup").text
    number = newest.number + 1
    entry.add(
        schema.modification,
        item_id=item.id,
        number=number,
        done_at=work.done_at,
        what=work.what.strip(),
        size_before_pm=work.size_before_pm,
        size_pm=work.size_pm,
        wall_pm=work.wall_pm,
        held_by=work.held_by,
        holder=holder,
        position=known_position(register, register.need(holder, "setup"), work.position) if holder else work.position,
        clocking=format_clocking(work.clocking),
        torque=work.torque,
        note=work.note,
    )
    register.forget()
    if work.size_pm is not None:
        write_card(entry, register, item, Card(bore_pm=work.size_pm))
    for limit in work.limits:
        set_limit(entry, register, item, number, limit)
    return number, _open_revisions_of_setups_holding(entry, register, item, work)


def _open_revisions_of_setups_holding(entry: Entry, register: Register, item: Name, work: Work) -> list[str]:
    reopened = []
    for setup in register.names("setup"):
        revision = register.revisions(setup.id)[-1]
        if any(link.item_id == item.id for link in register.links(revision.id)):
            since = max(work.done_at, revision.since, key=times.order)
            refit(entry, register, setup, reason=f"{item.text}: {work.what.strip()}", since=since)
            reopened.append(setup.text)
    return reopened


def set_state(
    entry: Entry, register: Register, item: Name, *, state: str, limit_pm: int | None, since: str, reason: str
) -> None:
    """What a person decided about an item: in service, restricted to a limit, out, scrap."""
    if state not in schema.STATES:
        raise RefusedError(f"{state!r} is no state.", f"One of: {', '.join(schema.STATES)}.")
    texts.note(reason, "reason")
    entry.add(schema.item_state, item_id=item.id, state=state, limit_pm=limit_pm, since=since, reason=reason)
    register.forget()


def inspect_item(entry: Entry, register: Register, item: Name, *, finding: str, seen_on: str, note: str) -> None:
    """What was seen on an item by eye and hand."""
    if finding not in FINDINGS:
        raise RefusedError(f"{finding!r} is no finding.", f"One of: {', '.join(FINDINGS)}.")
    texts.note(note, "note")
    entry.add(table_of(finding), item_id=item.id, seen_on=seen_on, finding=finding, note=note)
    register.forget()


def record_use(
    entry: Entry, item: Name, *, used_on: str, clampings: int | None, hours: float | None, note: str
) -> None:
    """Clampings or hours an item did in work. Raises RefusedError where neither is given, or one not above zero."""
    given = [amount for amount in (clampings, hours) if amount is not None]
    if not given or min(given) <= 0:
        raise RefusedError(
            f"How much was {item.text} used? Without a number above zero nothing would count.",
            "Say how many times it clamped a part, as --clampings 40, or how long, as --hours 2.5.",
        )
    texts.note(note, "note")
    entry.add(schema.use_record, item_id=item.id, used_on=used_on, clampings=clampings, hours=hours, note=note)


def change_setting(entry: Entry, register: Register, key: str, value: str) -> None:
    """A setting of the whole logbook, such as the unit of bare numbers."""
    entry.add(schema.setting, key=key, value=value)
    register.forget()
