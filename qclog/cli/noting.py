"""The command for what is worth noting beside a card: of a holder, a gauge, an item, or how work was done."""

from typing import Annotated

import typer

from qclog.cli.common import number_style, say, target, tell, tell_json
from qclog.cli.parameters import By, Code, Json


def add_to(app: typer.Typer) -> None:
    app.command("note")(note)


def note(
    context: typer.Context,
    code: Code,
    said: Annotated[
        list[str] | None,
        typer.Argument(metavar="NAME=TEXT", help='As "push-out=held 1.5 kN"; with nothing behind =, taken back.'),
    ] = None,
    modification: Annotated[int | None, typer.Option(help="Of which work on an item, if not the newest.")] = None,
    as_json: Json = False,
    by: By = "",
) -> None:
    """Note what a card has no place for, under a name of the trade.

    Of an item a picture, and how it was worked on: compound, batch, cure; job, ring, stroke. Of a setup machine, nose,
    master position, torque, best clocking. Of a gauge its class, months between calibrations, days between quick
    checks. Without NAME=TEXT, what is noted, and the names there are.
    """
    from qclog.logbook import noting
    from qclog.logbook.entries import new_entry
    from qclog.logbook.lookup import Register
    from qclog.particulars import names_of, parse
    from reports.noted import noted_document, noted_text
    from reports.wording.logged import expired

    store = target(context).open()
    with store.reading() as connection:
        thing = noting.need_thing(Register(connection), code)
    parsed = [parse(one, noting.OF[thing.kind]) for one in said or []]
    if parsed:
        with new_entry(store, "note", by) as entry:
            noting.note(entry, Register(entry.connection), thing, parsed, modification)
    with store.reading() as connection:
        known = noting.read_noted(connection, [thing.id]).get(thing.id, {})
        work = noting.read_work(connection, [thing.id])
        done = [(change, work.get(change.id, {})) for change in Register(connection).modifications(thing.id)]
    for one, text in parsed:
        say(f"{thing.text}: {one.name} {text or 'taken back'}.")
    worked_at = {change.number: change.done_at for change, _ in done}
    if over := expired(parsed, worked_at.get(len(done) - 1 if modification is None else modification, "")):
        say(over)
    if as_json:
        tell_json(noted_document(thing.text, known, done))
    elif not parsed:
        tell(noted_text(thing.text, known, done, names_of(noting.OF[thing.kind]), number_style(store)))
