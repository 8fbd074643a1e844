"""Numbers below zero on the command line: -0.03mm is a reading there, no option."""

import re
from typing import Any, Final

from typer.core import TyperCommand

_NEGATIVE: Final = re.compile(r"-(?=[0-9.,])")
_MINUS: Final = "\u2212"
"""Stands for the hyphen of a negative number while the options are told from the rest; no option has a digit."""


class TakesNegatives(TyperCommand):
    """A command whose arguments may be below zero."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        return super().parse_args(
            ctx, [_NEGATIVE.sub(_MINUS, arg, count=1) if _NEGATIVE.match(arg) else arg for arg in args]
        )


def as_typed(text: str) -> str:
    """An argument with the hyphen it was typed with."""
    return f"-{text[1:]}" if text.startswith(_MINUS) else text
