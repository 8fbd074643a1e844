"""The command that says what the words of answers mean. It needs no logbook."""

from typing import Annotated

import typer

from qclog.cli.common import tell, tell_json
from qclog.cli.parameters import Json


def add_to(app: typer.Typer) -> None:
    app.command("explain")(explain)


def explain(
    words: Annotated[
        list[str] | None, typer.Argument(metavar="WORD", help="A figure, a verdict, a caveat; without it, all.")
    ] = None,
    as_json: Json = False,
) -> None:
    """What does a word of an answer mean, and what is to be done?

    Figures, verdicts, what limits an answer, signs of wear, slips, what an indicator says, what verify finds.
    """
    from reports import explained, explanations

    found, unknown = explanations.sought(words or [])
    if unknown and not found:
        raise explanations.not_known(unknown)
    if as_json:
        tell_json(explained.document(found or explanations.every_page()))
    else:
        tell(explained.explained(found) if found else explained.all_words())
    if unknown:
        raise explanations.not_known(unknown)
