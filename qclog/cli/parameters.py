"""Arguments and options that several commands share."""

from typing import Annotated

import typer


def _person(who: str) -> str:
    from qclog import texts

    return texts.name(who, "name of the person")


Code = Annotated[str, typer.Argument(help="The code, as on the thing itself.")]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who did it, if not you.", callback=_person)]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
MadeTo = Annotated[
    list[str] | None,
    typer.Option("--made-to", metavar="LIMIT", help='What it must hold: "8um@16mm" (at 16 mm out), or "8um". Repeat.'),
]
