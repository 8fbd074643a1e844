"""The command that chooses what to hold a part with."""

from pathlib import Path
from typing import Annotated

import typer

from qclog.cli.common import error_size, number_style, point_to, say, size, target, tell, tell_json
from qclog.cli.negatives import TakesNegatives, as_typed
from qclog.cli.parameters import Json


def add_to(app: typer.Typer) -> None:
    app.command("pick", cls=TakesNegatives)(pick)


def pick(
    context: typer.Context,
    diameter: Annotated[str, typer.Argument(help="Diameter of the part; a bare number is mm.")],
    runout: Annotated[str, typer.Option(metavar="LENGTH", help="The run-out it may have, full swing: 10um.")],
    distance: Annotated[str, typer.Option(help="From the item's front face to where it must run true, mm.")],
    grip: Annotated[
        str | None, typer.Option(help="How much of the part there is to grip; what grips longer is left out.")
    ] = None,
    now: Annotated[
        bool, typer.Option("--now", help="Only what is mounted, or goes in without changing a chuck.")
    ] = False,
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="FILE.html", help="Write the setup sheet of the first choice: a page to print."),
    ] = None,
    job: Annotated[str, typer.Option(help="The job's name, for the sheet.")] = "",
    as_json: Json = False,
) -> None:
    """Which of mine will hold this part?

    Good enough first: of what holds, what is mounted, then what runs least true, to spare the better ones. What was
    never read just so is a forecast and comes after, by its chance.
    """
    from qclog import texts
    from qclog.errors import RefusedError
    from qclog.logbook.lookup import Register
    from qclog.questions import pick as question
    from qclog.questions.picking.fitting import Part
    from reports import words_used
    from reports.pick import MOST
    from reports.pick import pick as text

    if sheet is not None and sheet.suffix.casefold() not in (".html", ".htm"):
        raise RefusedError(f"{sheet} is no page.", "Name it FILE.html; any browser prints it, or saves it as a PDF.")
    texts.name(job, "name of the job")
    store = target(context).open()
    with store.reading() as connection:
        runout_pm = error_size(runout, Register(connection)) or 0
    part = Part(size(as_typed(diameter)) or 0, runout_pm / 1e6, size(distance) or 0, size(grip))
    found = question.pick(store, part, now=now, first=None if as_json else MOST)
    style = number_style(store)
    if as_json:
        tell_json(question.document(found))
    else:
        tell(text(found, style))
        point_to(words_used.of_pick(found))
    if sheet is not None:
        from reports.files import write
        from reports.pages.sheet import sheet_page

        write(sheet, sheet_page(found, job, style))
        say(f"Written: {sheet}")
