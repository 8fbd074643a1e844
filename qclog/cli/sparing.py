"""Arguments and options that are plainly right, or are not given, are taken without the library that checks them.

typer has every value checked by pydantic, which takes as long to load as numpy. Nearly all that is typed for qclog is
a text or a path, which qclog reads itself; a short whole number, one of the words that may be chosen and what a
command takes when nothing is given need no check either. Everything else is checked as ever. Where typer has no such
checking nothing is changed.
"""

from pathlib import Path
from typing import Any, Final

import typer
from typer.core import TyperGroup

_TEXTS: Final = (str, list[str])
_DIGITS: Final = 9
"""So many at the most make a whole number without more ado."""


class _Sparing:
    """Stands for what checks the values of a parameter, until there is one that has to be checked."""

    def coerce(self, value: Any, *, param: Any, ctx: Any) -> Any:
        several = param.multiple or param.nargs == -1
        if value is None:
            return () if several else None
        found = param.type_descriptor
        kind = found.annotation
        if found.parameter_info.parser is None:
            if kind in _TEXTS:
                return list(value) if several else value
            if kind is Path:
                return Path(value)
            if value in (found.choices or ()) or (isinstance(kind, type) and isinstance(value, kind)):
                return value
            if kind is int and not found.is_ranged and value.isdecimal() and len(value) <= _DIGITS:
                return int(value)
        param._runtime_param = None  # where typer keeps what checks, once it is made
        return param.get_runtime_param().coerce(value, param=param, ctx=ctx)


def spare_checking(command: Any) -> None:
    """Do so for a command or, of a group, for all of its commands."""
    for inner in command.commands.values() if isinstance(command, TyperGroup) else ():
        spare_checking(inner)
    for param in command.get_params(typer.Context(command)):  # that of --help among them
        if hasattr(param, "get_runtime_param"):
            param._runtime_param = _Sparing()
