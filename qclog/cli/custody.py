"""Commands for who has what: two people share one drawer."""

from typing import Annotated

import typer

from qclog.cli.common import say, target
from qclog.cli.parameters import By, On

Codes = Annotated[list[str], typer.Argument(metavar="ITEM", help="One or several items.")]


def add_to(app: typer.Typer) -> None:
    app.command("took")(took)
    app.command("back")(back)


def took(
    context: typer.Context,
    codes: Codes,
    in_setup: Annotated[str, typer.Option("--in", metavar="SETUP", help="The setup it is mounted in.")] = "",
    at: Annotated[str, typer.Option("--at", metavar="PLACE", help="Where else it is: the grinder, a bench.")] = "",
    on: On = None,
    by: By = "",
) -> None:
    """Somebody took items out of the drawer.

    What another one has is handed over, and said.
    """
    from qclog import times
    from qclog.logbook import custody
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from reports.cards import whereabouts

    with new_entry(target(context).open(), "took", by) as entry:
        register = Register(entry.connection)
        items = [register.need(code, "item") for code in codes]
        setup = register.need(in_setup, "setup") if in_setup else None
        done_at = times.taken_at(on) if on else times.now()
        before = custody.take(entry, items, setup=setup, place=at, done_at=done_at)
        for out in custody.read_out(entry.connection, [item.id for item in items]).values():
            until_now = f" It was {whereabouts(before[out.item])}." if out.item in before else ""
            say(f"{out.item} is {whereabouts(out)}.{until_now}")


def back(context: typer.Context, codes: Codes, on: On = None, by: By = "") -> None:
    """Items are in the drawer again."""
    from qclog import times
    from qclog.logbook import custody
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from reports.cards import whereabouts

    with new_entry(target(context).open(), "back", by) as entry:
        register = Register(entry.connection)
        items = [register.need(code, "item") for code in codes]
        done_at = times.taken_at(on) if on else times.now()
        for code, out in custody.bring_back(entry, items, done_at=done_at).items():
            say(f"{code} is back. It was {whereabouts(out)}.")
