"""Commands about the measuring itself: what its uncertainty is made of."""

from typing import Annotated

import typer

from qclog.cli.common import number_style, target, tell, tell_json
from qclog.cli.questions import say_if_changing


def add_to(app: typer.Typer) -> None:
    app.command("uncertainty")(uncertainty)


def uncertainty(
    context: typer.Context,
    codes: Annotated[list[str], typer.Argument(metavar="ITEM...", help="The items asked about.")],
    setup: Annotated[str | None, typer.Option(help="Only in this setup.")] = None,
    position: Annotated[str | None, typer.Option(help="Only at this key position.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """What is the uncertainty behind a verdict made of, and what limit can be proven?

    The budget line by line; the smallest limit the clampings prove as they stand, with more of them, and at best.
    """
    from qclog.questions import uncertainty as question
    from reports.uncertainty import budgets

    store = target(context).open()
    answers = question.uncertainty(store, codes, setup=setup, position=position)
    if as_json:
        tell_json(question.document(answers))
    else:
        tell(budgets(answers, number_style(store)))
        for answer in answers:
            say_if_changing(store, answer.item)
