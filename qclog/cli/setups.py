"""Commands for setups: named chains from the spindle outward."""

from typing import Annotated

import typer

from qclog.cli.common import limits_of, listed, say, target, tell, tell_json, warn_of_look_alikes
from qclog.cli.parameters import By, Code, Json, MadeTo

commands = typer.Typer(help="Setups: named chains from the spindle outward.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    app.add_typer(commands, name="setup")


@commands.command("add")
def setup_add(
    context: typer.Context,
    code: Code,
    parts: Annotated[
        str, typer.Option(metavar="CODES", help='Its chain from the spindle outward: "S-1,T-1,K-1" (items).')
    ] = "",
    positions: Annotated[str, typer.Option(metavar="NAMES", help='Its key positions: "A,B" or "A,B,A then B".')] = "",
    counterclockwise: Annotated[
        bool, typer.Option("--counterclockwise", help="Angles are read the other way round (facing the nose).")
    ] = False,
    machine: Annotated[str, typer.Option(help="The machine it is on.")] = "",
    nose: Annotated[str, typer.Option(help="The spindle nose: D1-4, A2-5, thread.")] = "",
    master: Annotated[str, typer.Option(metavar="POSITION", help="The one key position to tighten at.")] = "",
    torque: Annotated[str, typer.Option(help='How tight it is closed: "12 Nm", or "by feel".')] = "",
    made_to: MadeTo = None,
    by: By = "",
) -> None:
    """Enter a setup, or what is new of one: key positions, machine.

    Of one that is known, key positions are added, and what else is said is noted.
    """
    from qclog.logbook import noting, setups
    from qclog.logbook.entries import new_entry
    from qclog.logbook.limits import set_limit
    from qclog.logbook.lookup import Register
    from qclog.particulars import parse

    store = target(context).open(create=True)
    given = {"machine": machine, "nose": nose, "master": master, "torque": torque}
    noted = [parse(f"{name}={text}", ["setup"]) for name, text in given.items() if text]
    with new_entry(store, "setup add", by) as entry:
        register = Register(entry.connection)
        known = register.find(code)
        if known is not None and known.kind == "setup" and not parts:
            setups.add_positions(entry, register, known, listed(positions))
            for one in limits_of(register, made_to):
                set_limit(entry, register, known, 0, one)
            noting.note(entry, register, known, noted)
            if noted:
                say(f"{known.text}: noted {', '.join(one.name for one, _ in noted)}.")
            say(f"{known.text} has the key positions {', '.join(register.positions(known.id)) or 'none'}.")
            return
        setup = setups.add_setup(
            entry,
            register,
            code,
            links=listed(parts),
            positions=listed(positions),
            sense="counterclockwise" if counterclockwise else "clockwise",
            limits=limits_of(register, made_to),
        )
        noting.note(entry, register, setup, noted)
        at = f", key positions {', '.join(register.positions(setup.id))}" if positions else ""
        say(f"Setup {setup.text} entered{at}.")
        warn_of_look_alikes(register, setup.text)


@commands.command("list")
def setup_list(context: typer.Context, as_json: Json = False) -> None:
    """All setups: their parts, key positions and revisions."""
    from qclog.logbook.life import read_chains
    from reports.cards import setups_document, setups_text

    with target(context).open().reading() as connection:
        chains = read_chains(connection)
    if as_json:
        tell_json(setups_document(chains))
    else:
        tell(setups_text(chains))


@commands.command("show")
def setup_show(context: typer.Context, code: Code, as_json: Json = False) -> None:
    """One setup: parts, key positions, and what is noted of it."""
    from qclog.logbook.life import read_chains
    from qclog.logbook.lookup import Register
    from reports.cards import setup_text, setups_document

    with target(context).open().reading() as connection:
        named = Register(connection).need(code, "setup")
        (chain,) = (one for one in read_chains(connection) if one.code == named.text)
    if as_json:
        tell_json(setups_document([chain]))
    else:
        tell(setup_text(chain))
