"""Commands that ask the logbook. They never create one and never change it."""

from typing import Annotated

import typer

from qclog.cli.common import number_style, target, tell, tell_json


def add_to(app: typer.Typer) -> None:
    app.command("assess")(assess)


def assess(
    context: typer.Context,
    code: Annotated[str | None, typer.Argument(help="An item or a setup; without it, everything measured.")] = None,
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    position: Annotated[str | None, typer.Option(help="Only at this key position.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    gate: Annotated[
        bool,
        typer.Option(
            "--gate", help="Exit code 1 if something does not hold, 8 if that cannot be told or has no limit."
        ),
    ] = False,
) -> None:
    """Does it hold what it was made to?

    Here, in this setup, at this key position, at this distance; now, and at the next clampings.
    """
    from qclog.questions import assess as question
    from reports.assessment import assessment

    store = target(context).open()
    answers = question.assess(store, code, setup=setup, position=position)
    if as_json:
        tell_json(question.document(answers))
    elif answers:
        tell(assessment(answers, number_style(store)))
    else:
        tell("Nothing has been measured yet. Log a clamping: qclog log C-046 4 5 4")
    if gate:
        raise typer.Exit(question.gate(answers))
