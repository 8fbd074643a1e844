"""Commands for what was done, decided and seen: modifications, limits, refits, inspections, use, states."""

from typing import Annotated

import typer

from qclog.cli.common import bare_unit, error_size, limits_of, say, size, target, tell
from qclog.cli.negatives import TakesNegatives
from qclog.cli.parameters import By, Code, MadeTo, Note, On


def add_to(app: typer.Typer) -> None:
    app.command("modify", cls=TakesNegatives)(modify)
    app.command("limit", cls=TakesNegatives)(limit)
    app.command("refit")(refit)
    app.command("inspect")(inspect)
    app.command("used")(used)
    app.command("state")(state)
    app.command("settings")(settings)


def modify(
    context: typer.Context,
    code: Code,
    what: Annotated[str, typer.Argument(help="What was done: bored, annealed, ground, slots cleared.")],
    size_: Annotated[str | None, typer.Option("--size", help="New size; a bare number is mm.")] = None,
    size_before: Annotated[str | None, typer.Option(help="Size before.")] = None,
    wall: Annotated[str | None, typer.Option(help="Wall left at the slot root.")] = None,
    held_by: Annotated[str, typer.Option(help="How it was held: pins in the face, shims in all slots.")] = "",
    in_setup: Annotated[str, typer.Option("--in", metavar="SETUP", help="The setup it was worked on in.")] = "",
    position: Annotated[str, typer.Option(help="The key position it was worked on at.")] = "",
    clocking: Annotated[str, typer.Option(help='How it was turned: "C-046=120".')] = "",
    torque: Annotated[str, typer.Option(help="Torque, or by feel.")] = "",
    how: Annotated[
        list[str] | None,
        typer.Option(
            "--how", metavar="NAME=TEXT", help='What it was done with: "compound=R-60". Repeat. See: qclog note'
        ),
    ] = None,
    made_to: MadeTo = None,
    only_there: Annotated[
        bool, typer.Option("--only-there", help="The limit applies only in the setup and position it was made in.")
    ] = False,
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """Work done to an item that changes how it runs. Its history starts anew."""
    import dataclasses

    from qclog import times
    from qclog.errors import UsageError
    from qclog.logbook import items, noting
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_clocking
    from qclog.particulars import is_bond, parse
    from qclog.records import Work
    from reports.wording.commands import typed
    from reports.wording.logged import expired

    noted = [parse(one, ["work"]) for one in how or []]
    if only_there and not in_setup:
        raise UsageError("--only-there needs the setup it was made in.", "Give it with --in.")
    with new_entry(target(context).open(), "modify", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        limits = limits_of(register, made_to)
        if only_there:
            limits = [dataclasses.replace(one, setup=in_setup, position=position) for one in limits]
        work = Work(
            what=what,
            done_at=times.taken_at(on) if on else times.now(),
            size_before_pm=size(size_before),
            size_pm=size(size_),
            wall_pm=size(wall),
            held_by=held_by,
            holder=in_setup,
            position=position,
            clocking=parse_clocking(clocking) if clocking else (),
            torque=torque,
            note=note,
            limits=tuple(limits),
        )
        number, reopened = items.modify(entry, register, item, work)
        done = register.newest_modification(item)
        card = register.item_card(item.id)
        rated = card is None or card["kind"] not in ("insert", "other")
        noting.note(entry, register, item, noted, number)
    say(f"{item.text}: {what}, modification {number}. Its history starts anew.")
    if done.holder:
        at = f", position {done.position}" if done.position else ""
        say(f"It is married to {done.holder}{at}: measure it there.")
    if is_bond(what, {one.name: text for one, text in noted}):
        say(
            "It is bonded: a gap read before stays as it was read. If it is not: qclog note "
            f"{typed(item.text)} bonded=no"
        )
    if over := expired(noted, work.done_at):
        say(over)
    for setup in reopened:
        say(f"Setup {setup} has {item.text} in its chain and got a new revision.")
    if rated:
        say("A modified item is no longer rated by its maker: inspect it, guard it, keep to the lowest speed limit.")


def limit(
    context: typer.Context,
    code: Annotated[str, typer.Argument(help="An item or a setup.")],
    limits: Annotated[
        list[str],
        typer.Argument(
            metavar="LIMIT",
            help='"8um@16mm" (at 16 mm out), "8um"; of sizes "12.00..12.05mm", "12.02 ±0.02mm", "max 12.05mm".',
        ),
    ],
    setup: Annotated[str, typer.Option(help="Only in this setup.")] = "",
    position: Annotated[str, typer.Option(help="Only at this key position.")] = "",
    characteristic: Annotated[
        str,
        typer.Option(help='Of what, if not run-out: depth, bore, flushness, "diametral gap", "pair difference".'),
    ] = "runout",
    by: By = "",
) -> None:
    """What an item, as it is now, or a setup must hold."""
    import dataclasses

    from qclog.errors import NotFoundError
    from qclog.logbook import setups
    from qclog.logbook.entries import new_entry
    from qclog.logbook.limits import set_limit
    from qclog.logbook.lookup import Register
    from reports.cards import made_to, which_where

    store = target(context).open()
    with store.reading() as connection:
        register = Register(connection)
        body = register.find(code)
        if body is None or body.kind not in ("item", "setup"):
            raise NotFoundError(f"There is no item or setup {code!r}.", "See: qclog item list")
        number = register.newest_modification(body).number if body.kind == "item" else 0
        where = register.need(setup, "setup") if setup else None
        if where is not None and position:
            position = setups.known_position(register, where, position)
        typed = limits_of(register, limits, characteristic)
        here = (where.id if where is not None else None, position)
        standing = {
            (one.characteristic, one.distance_pm, one.upper_pm, one.lower_pm)
            for one in register.limits(body.id)
            if one.modification_number == number and (one.setup_id, one.position) == here
        }
        new = [
            one for one in typed if (one.characteristic, one.distance_pm, one.upper_pm, one.lower_pm) not in standing
        ]
    told = f"{body.text} must hold {', '.join(made_to(one) for one in typed)}"
    if not new:
        say(f"{told} already; nothing new to write.")
        return
    with new_entry(store, "limit", by) as entry:
        register = Register(entry.connection)
        for one in new:
            set_limit(entry, register, body, number, dataclasses.replace(one, setup=setup, position=position))
        say(f"{told}.")
        counting = [one for one in register.limits(body.id) if one.modification_number == number]
        if beside := which_where(counting, {one.characteristic for one in typed}):
            say(beside)


def refit(
    context: typer.Context,
    setup: Annotated[str, typer.Argument(help="The setup.")],
    reason: Annotated[str, typer.Option(help="re-seated, exchanged, turned, crashed.")],
    exchange: Annotated[str, typer.Option(metavar="OLD=NEW", help="A part exchanged for another.")] = "",
    clocking: Annotated[str, typer.Option(help='How parts are turned now: "T-1=90".')] = "",
    on: On = None,
    by: By = "",
) -> None:
    """A change to a setup: a new revision.

    A part was re-seated, exchanged, turned or crashed. Its history starts anew.
    """
    from qclog import times
    from qclog.errors import UsageError
    from qclog.logbook import setups
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.notation import parse_clocking

    old, equals, new = exchange.partition("=")
    if exchange and not (old and equals and new):
        raise UsageError(f"{exchange!r} does not say what was exchanged for what.", "Write --exchange K-1=K-2.")
    with new_entry(target(context).open(), "refit", by) as entry:
        register = Register(entry.connection)
        revision = setups.refit(
            entry,
            register,
            register.need(setup, "setup"),
            reason=reason,
            since=times.taken_at(on) if on else times.now(),
            exchange=(old, new) if exchange else None,
            clocking={code.casefold(): turned for code, turned in parse_clocking(clocking)} if clocking else None,
        )
        say(f"Setup {setup} is now at revision {revision.number} ({reason}). Measure again before relying on it.")


def inspect(
    context: typer.Context,
    code: Code,
    finding: Annotated[
        str,
        typer.Argument(help="crack, blue, collapsed, bell-mouth, lost spring, slip, crash, burr, fretting, or sound."),
    ],
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """What was seen on an item. Cracked or blue: out of service whatever its run-out."""
    from qclog import times
    from qclog.errors import RefusedError
    from qclog.logbook import items
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from reports.wording.cautions import advice_on, to_clear
    from reports.wording.commands import typed

    if finding == "sound" and not note:
        raise RefusedError("Finding an item sound again needs a reason.", "Say how you know with --note.")
    with new_entry(target(context).open(), "inspect", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        seen_on = times.taken_at(on) if on else times.now()
        items.inspect_item(entry, register, item, finding=finding, seen_on=seen_on, note=note)
        card = register.item_card(item.id)
        told = advice_on(finding, card["kind"] if card else ""), to_clear(typed(item.text), [finding])
        say(f"{item.text}: {finding}. {' '.join(part for part in told if part)}")


def used(
    context: typer.Context,
    code: Code,
    clampings: Annotated[int | None, typer.Option(help="How many clampings in work.")] = None,
    hours: Annotated[float | None, typer.Option(help="How many hours in work.")] = None,
    on: On = None,
    note: Note = "",
    by: By = "",
) -> None:
    """Work an item did: how many clampings, or how many hours."""
    from qclog import times
    from qclog.logbook import items
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from reports.cards import used_text

    with new_entry(target(context).open(), "used", by) as entry:
        item = Register(entry.connection).need(code, "item")
        used_on = times.taken_at(on) if on else times.now()
        items.record_use(entry, item, used_on=used_on, clampings=clampings, hours=hours, note=note)
        say(f"{item.text} used: {used_text(clampings, hours)}.")


def state(
    context: typer.Context,
    code: Code,
    state_: Annotated[str, typer.Argument(metavar="STATE", help="in service, restricted, out, scrap.")],
    reason: Annotated[str, typer.Option(help="Why.")],
    to: Annotated[str | None, typer.Option(metavar="LIMIT", help="Restricted to this run-out, as 15um.")] = None,
    on: On = None,
    by: By = "",
) -> None:
    """What you decide about an item."""
    from qclog import times
    from qclog.logbook import items
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    with new_entry(target(context).open(), "state", by) as entry:
        register = Register(entry.connection)
        item = register.need(code, "item")
        items.set_state(
            entry,
            register,
            item,
            state=state_,
            limit_pm=error_size(to, register),
            since=times.taken_at(on) if on else times.now(),
            reason=reason,
        )
        say(f"{item.text} is {state_}.")


def settings(
    context: typer.Context,
    unit: Annotated[str, typer.Option(help="Unit of bare numbers: um, mm, in, thou, tenths.")] = "",
    inch: Annotated[bool | None, typer.Option("--inch/--no-inch", help="Show the inch figure beside the µm.")] = None,
    workshop: Annotated[str, typer.Option(help="The workshop's name and place, for statements.")] = "",
    by: By = "",
) -> None:
    """Settings of the whole logbook.

    Without options, what they are.
    """
    from qclog import texts
    from qclog.lengths import parse_unit
    from qclog.logbook import items
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register

    changing = bool(unit or workshop) or inch is not None
    store = target(context).open(create=changing)
    if changing:
        with new_entry(store, "settings", by) as entry:
            register = Register(entry.connection)
            if unit:
                items.change_setting(entry, register, "unit", parse_unit(unit))
            if inch is not None:
                items.change_setting(entry, register, "inch", "yes" if inch else "no")
            if workshop:
                items.change_setting(entry, register, "workshop", texts.name(workshop.strip(), "workshop's name"))
    with store.reading() as connection:
        register = Register(connection)
        tell(f"unit of bare numbers: {bare_unit(register)}")
        tell(f"inch beside µm: {register.setting('inch', 'no')}")
        tell(f"workshop: {register.setting('workshop', '-')}")
