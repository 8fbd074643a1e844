"""Writing setups: chains from the spindle outward, their key positions and revisions."""

from collections.abc import Sequence

from qclog import texts, times
from qclog.errors import NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Name, Register, Revision
from qclog.logbook.naming import LONGEST_CODE, add_name
from qclog.records import Limit


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
        if not stripped or len(stripped) > LONGEST_CODE or not stripped.isprintable():
            raise RefusedError(
                f"{texts.shown(position)!r} cannot name a position of {setup.text}.", "Short names: A, B, A then B."
            )
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
    texts.note(reason, "reason")
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


def setup_for(register: Register, item: Name, named: str | None) -> Name:
    """The setup named, else the one it was last worked on in, else the only one.

    Raises NotFoundError; RefusedError where there is none, or several.
    """
    if named:
        return register.need(named, "setup")
    if married := register.newest_modification(item).holder:
        return register.need(married, "setup")
    setups = register.names("setup")
    if len(setups) == 1:
        return setups[0]
    known = ", ".join(setup.text for setup in setups)
    remedy = f"Say it with --setup: {known}." if setups else "Enter it: qclog setup add L1 --positions A,B"
    raise RefusedError(f"Which setup is {item.text} measured in?", remedy)


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
