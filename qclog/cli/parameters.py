"""Arguments and options that several commands share."""

from typing import Annotated

import typer


def _person(who: str) -> str:
    from qclog import texts

    return texts.name(who, "name of the person")


Code = Annotated[str, typer.Argument(help="The code, as on the thing itself.")]
By = Annotated[str, typer.Option("--by", metavar="WHO", help="Who did it, if not you.", callback=_person)]
On = Annotated[str | None, typer.Option("--on", metavar="DATE", help="When: 2026-03-04 or 2026-03-04T10:30. Now.")]
Note = Annotated[str, typer.Option("--note", help="Anything worth remembering.")]
Json = Annotated[bool, typer.Option("--json", help="Print one JSON document.")]
MadeTo = Annotated[
    list[str] | None,
    typer.Option("--made-to", metavar="LIMIT", help='What it must hold: "8um@16mm" (at 16 mm out), or "8um". Repeat.'),
]
