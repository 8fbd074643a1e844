"""Writing what is owned and what was done to it: items, pins, indicators, setups, modifications, limits."""

import dataclasses
import re
from collections.abc import Sequence
from typing import Any, Final

from qclog import times
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register, Revision
from qclog.notation import format_clocking
from qclog.records import EVERY_DISTANCE, Card, Limit, Work

LONGEST_CODE: Final = 40
_CODE: Final = re.compile(r"[^\W_][\w .,/#+-]*", re.UNICODE)
_MONTHS: Final = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|sept|june|july"
_SPREADSHEET_DAMAGES: Final = re.compile(
    rf"(\d+e\d+|0\d+|({_MONTHS})[- ]?\d{{1,4}}|\d{{1,2}}[- ]?({_MONTHS})|\d{{1,4}}[/-]\d{{1,2}}([/-]\d{{1,4}})?)",
    re.IGNORECASE,
)


def checked_code(code: str) -> str:
    """A code as it may stand on a label, in a file and on a command line. Raises RefusedError."""
    stripped = code.strip()
    if not stripped:
        raise RefusedError("A code cannot be empty.", "Give one, for example C-046.")
    if len(stripped) > LONGEST_CODE:
        raise RefusedError(
            f"The code {stripped[:LONGEST_CODE]!r}... is too long.", f"{LONGEST_CODE} characters at most."
        )
    if not _CODE.fullmatch(stripped):
        raise RefusedError(
            f"The code {stripped!r} cannot be used.",
            "Begin with a letter or figure; letters, figures, blanks and . , / # + - may follow.",
        )
    if _SPREADSHEET_DAMAGES.fullmatch(stripped):
        raise RefusedError(
            f"A spreadsheet would turn the code {stripped!r} into a date or a number.",
            "Put a letter and a dash before it, for example C-046.",
        )
    return stripped


def add_name(entry: Entry, register: Register, code: str, kind: str) -> Name:
    """Raises RefusedError where the code is taken, in upper or lower case, by anything."""
    checked = checked_code(code)
    taken = register.find(checked)
    if taken is not None:
        raise RefusedError(f"{taken.text} is already the code of {_a(taken.kind)}.", "Choose another code.")
    name_id = entry.add(schema.name, folded=checked.casefold(), text=checked, kind=kind)
    register.forget()
    return Name(name_id, checked, kind)


def add_item(entry: Entry, register: Register, code: str, card: Card, limits: Sequence[Limit] = ()) -> Name:
    """A new item as received (modification 0), with its card and what it is made to."""
    item = add_name(entry, register, code, "item")
    entry.add(schema.modification, item_id=item.id, number=0, done_at="", what="as received", size_pm=card.bore_pm)
    write_card(entry, register, item, card)
    for limit in limits:
        set_limit(entry, register, item, 0, limit)
    return item


def write_card(entry: Entry, register: Register, item: Name, card: Card) -> None:
    """A newer card of an item: what ``card`` leaves open stays as it was."""
    before = register.item_card(item.id)
    values: dict[str, Any] = {"kind": "other"}
    for field in dataclasses.fields(Card):
        known = getattr(card, field.name)
        if known is None and before is not None:
            known = before[field.name]
        if known is not None:
            values[field.name] = known
    if values["kind"] not in schema.ITEM_KINDS:
        raise RefusedError(f"{values['kind']!r} is no kind of item.", f"One of: {', '.join(schema.ITEM_KINDS)}.")
    low, high = values.get("range_low_pm"), values.get("range_high_pm")
    if low is not None and high is not None and low > high:
        raise RefusedError(f"The range of {item.text} ends before it begins.", "Give the smaller diameter first.")
    entry.add(schema.item_card, item_id=item.id, **values)
    register.forget()


def add_pin(
    entry: Entry, register: Register, code: str, *, diameter_pm: int, roundness_pm: int | None, kind: str, grade: str
) -> Name:
    """A test pin, mandrel, ring or part with its actual diameter."""
    if diameter_pm <= 0:
        raise RefusedError(f"The pin {code} needs a diameter above zero.", "Give its actual diameter, as 6.479mm.")
    pin = add_name(entry, register, code, "pin")
    entry.add(
        schema.pin_card, pin_id=pin.id, diameter_pm=diameter_pm, roundness_pm=roundness_pm, kind=kind, grade=grade
    )
    return pin


def add_instrument(
    entry: Entry,
    register: Register,
    code: str,
    *,
    kind: str,
    unit: str,
    division_pm: int,
    range_pm: int | None,
    correct_at_mdeg: int,
    serial: str,
) -> Name:
    """An indicator: its division, range, unit, and the lever angle at which it reads right."""
    if kind not in schema.INSTRUMENT_KINDS:
        raise RefusedError(f"{kind!r} is no kind of indicator.", f"One of: {', '.join(schema.INSTRUMENT_KINDS)}.")
    if division_pm <= 0:
        raise RefusedError(f"The division of {code} must be above zero.", "Give it as 1um or .0001in.")
    instrument = add_name(entry, register, code, "instrument")
    entry.add(
        schema.instrument_card,
        instrument_id=instrument.id,
        kind=kind,
        unit=unit,
        division_pm=division_pm,
        range_pm=range_pm,
        correct_at_mdeg=correct_at_mdeg,
        serial=serial,
    )
    return instrument


def add_calibration(
    entry: Entry,
    register: Register,
    gauge: Name,
    *,
    done_on: str,
    due_on: str = "",
    error_limit_pm: int | None = None,
    uncertainty_pm: int | None = None,
    coverage_factor: float | None = None,
    certificate: str = "",
    as_found: str = "",
    as_left: str = "",
) -> None:
    """A dated calibration of an indicator or a pin: error limit over the range used, or U with its k."""
    if min(error_limit_pm or 1, uncertainty_pm or 1) <= 0 or 0 in (error_limit_pm, uncertainty_pm):
        raise RefusedError(f"No gauge is without error, {gauge.text} neither.", "Give its error limit, or U and k.")
    if uncertainty_pm is not None and (coverage_factor is None or coverage_factor <= 0):
        raise RefusedError(f"The uncertainty of {gauge.text} needs its coverage factor.", "Give k, most often 2.")
    entry.add(
        schema.calibration,
        gauge_id=gauge.id,
        done_on=times.taken_at(done_on),
        due_on=times.taken_at(due_on) if due_on else "",
        error_limit_pm=error_limit_pm,
        uncertainty_pm=uncertainty_pm,
        coverage_factor=coverage_factor,
        certificate=certificate,
        as_found=as_found,
        as_left=as_left,
    )
    register.forget()


def add_setup(
    entry: Entry,
    register: Register,
    code: str,
    *,
    links: Sequence[str] = (),
    positions: Sequence[str] = (),
    sense: str = "clockwise",
    limits: Sequence[Limit] = (),
) -> Name:
    """A named chain from the spindle outward; its first revision holds for all time before a change too."""
    setup = add_name(entry, register, code, "setup")
    add_positions(entry, register, setup, positions)
    revision_id = entry.add(
        schema.setup_revision, setup_id=setup.id, number=1, since="", reason="as first written down", sense=sense
    )
    for rank, code_of_link in enumerate(links, start=1):
        _add_link(entry, register, revision_id, rank, register.need(code_of_link, "item"), None)
    for limit in limits:
        set_limit(entry, register, setup, 0, limit)
    register.forget()
    return setup


def add_positions(entry: Entry, register: Register, setup: Name, positions: Sequence[str]) -> None:
    """Further key positions of a setup. Raises RefusedError for one it has."""
    known = {position.casefold() for position in register.positions(setup.id)}
    for position in positions:
        stripped = position.strip()
        if not stripped or len(stripped) > LONGEST_CODE:
            raise RefusedError(f"{position!r} cannot name a position of {setup.text}.", "Short names: A, B, A then B.")
        if stripped.casefold() in known:
            raise RefusedError(f"Setup {setup.text} already has a position {stripped}.", "Leave it out.")
        known.add(stripped.casefold())
        entry.add(schema.setup_position, setup_id=setup.id, position=stripped)
    register.forget()


def refit(
    entry: Entry,
    register: Register,
    setup: Name,
    *,
    reason: str,
    since: str,
    exchange: tuple[str, str] | None = None,
    clocking: dict[str, int] | None = None,
) -> Revision:
    """A new revision of a setup: a link re-seated, exchanged, turned or crashed. Its history starts anew."""
    old = register.revisions(setup.id)[-1]
    if old.since and times.order(since) < times.order(old.since):
        raise RefusedError(
            f"Setup {setup.text} was already changed on {old.since} ({old.reason}).", "Give a later date with --on."
        )
    links = register.links(old.id)
    if exchange is not None and exchange[0].casefold() not in {link.text.casefold() for link in links}:
        raise NotFoundError(
            f"{exchange[0]} is not part of setup {setup.text}.",
            f"Its parts: {', '.join(link.text for link in links) or 'none'}.",
        )
    revision_id = entry.add(
        schema.setup_revision,
        setup_id=setup.id,
        number=old.number + 1,
        since=since,
        reason=reason,
        sense=old.sense,
    )
    for link in links:
        swapped = exchange is not None and link.text.casefold() == exchange[0].casefold()
        item = register.need(exchange[1] if exchange and swapped else link.text, "item")
        turned = (clocking or {}).get(link.text.casefold(), link.clocking_mdeg)
        _add_link(entry, register, revision_id, link.rank, item, turned)
    register.forget()
    return register.revisions(setup.id)[-1]


def _add_link(
    entry: Entry, register: Register, revision_id: int, rank: int, item: Name, clocking_mdeg: int | None
) -> None:
    entry.add(
        schema.setup_link,
        revision_id=revision_id,
        rank=rank,
        item_id=item.id,
        modification_id=register.newest_modification(item).id,
        clocking_mdeg=clocking_mdeg,
    )


def modify(entry: Entry, register: Register, item: Name, work: Work) -> tuple[int, list[str]]:
    """Work done to an item: its history starts anew, and so does that of every setup it is part of.

    Returns the number of the modification and the setups that got a new revision.
    """
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


def set_limit(entry: Entry, register: Register, body: Name, modification_number: int, limit: Limit) -> None:
    """What an item (from a modification on) or a setup must hold. Raises RefusedError for one that cannot be."""
    if limit.upper_pm is not None and limit.upper_pm <= 0 and limit.lower_pm is None:
        raise RefusedError(f"The limit of {body.text} must be above zero.", "Give it as 8um@16mm.")
    if limit.distance_pm < 0 and limit.distance_pm != EVERY_DISTANCE:
        raise RefusedError(f"The distance of {body.text}'s limit is negative.", "Count from the item's front face.")
    setup_id = register.need(limit.setup, "setup").id if limit.setup else None
    entry.add(
        schema.made_to,
        body_id=body.id,
        modification_number=modification_number,
        characteristic=limit.characteristic,
        distance_pm=limit.distance_pm,
        setup_id=setup_id,
        position=limit.position,
        upper_pm=limit.upper_pm,
        lower_pm=limit.lower_pm,
        text=limit.text,
    )
    register.forget()


def known_position(register: Register, setup: Name, position: str) -> str:
    """A position as the setup writes it. Raises NotFoundError naming those it has."""
    positions = register.positions(setup.id)
    stripped = position.strip()
    if not stripped:
        if positions:
            raise RefusedError(
                f"Setup {setup.text} has key positions {', '.join(positions)}.", "Say which with --position."
            )
        return ""
    for known in positions:
        if known.casefold() == stripped.casefold():
            return known
    has = f"It has {', '.join(positions)}." if positions else "It has none."
    raise NotFoundError(
        f"Setup {setup.text} has no key position {stripped!r}.",
        f"{has} To add one: qclog setup add {setup.text} --positions {stripped}",
    )


def set_state(
    entry: Entry, register: Register, item: Name, *, state: str, limit_pm: int | None, since: str, reason: str
) -> None:
    """What a person decided about an item: in service, restricted to a limit, out, scrap."""
    if state not in schema.STATES:
        raise RefusedError(f"{state!r} is no state.", f"One of: {', '.join(schema.STATES)}.")
    entry.add(schema.item_state, item_id=item.id, state=state, limit_pm=limit_pm, since=since, reason=reason)
    register.forget()


def inspect_item(entry: Entry, register: Register, item: Name, *, finding: str, seen_on: str, note: str) -> None:
    """What was seen on an item by eye and hand."""
    if finding not in schema.FINDINGS:
        raise RefusedError(f"{finding!r} is no finding.", f"One of: {', '.join(schema.FINDINGS)}.")
    entry.add(schema.inspection, item_id=item.id, seen_on=seen_on, finding=finding, note=note)
    register.forget()


def record_use(
    entry: Entry, item: Name, *, used_on: str, clampings: int | None, hours: float | None, note: str
) -> None:
    """Clampings or hours an item did in work."""
    if (clampings or 0) <= 0 and (hours or 0.0) <= 0.0:
        raise RefusedError(f"How much was {item.text} used?", "Give --clampings or --hours above zero.")
    entry.add(schema.use_record, item_id=item.id, used_on=used_on, clampings=clampings, hours=hours, note=note)


def change_setting(entry: Entry, register: Register, key: str, value: str) -> None:
    """A setting of the whole logbook, such as the unit of bare numbers."""
    entry.add(schema.setting, key=key, value=value)
    register.forget()


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
