"""Commands about everything owned: what is in the drawer, and what is due."""

import typer

from qclog.cli.common import number_style, point_to, target, tell, tell_json
from qclog.cli.parameters import Json


def add_to(app: typer.Typer) -> None:
    app.command("drawer")(drawer)
    app.command("due")(due)


def drawer(context: typer.Context, as_json: Json = False) -> None:
    """What do I own, in what state?

    The worst first; then sizes there and missing, what is married to a place, what is out, and what to order.
    """
    from qclog.questions import drawer as question
    from reports import words_used
    from reports.drawer import drawer as text

    store = target(context).open()
    found = question.drawer(store)
    if as_json:
        tell_json(question.document(found))
    else:
        tell(text(found, number_style(store)))
        point_to(words_used.of_drawer(found))


def due(context: typer.Context, as_json: Json = False) -> None:
    """What should be measured next, and which gauges are due?

    The most urgent first, each with the command that does it.
    """
    from qclog.questions import due as question
    from reports import words_used
    from reports.due import due as text

    store = target(context).open()
    found = question.due(store)
    if as_json:
        tell_json(question.document(found))
    else:
        tell(text(found, number_style(store), items=bool(found) or question.has_items(store)))
        point_to(words_used.of_due(found))
