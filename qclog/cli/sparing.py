"""Arguments and options that are texts, or are not given, are taken without the library that checks them.

typer has every value checked by pydantic, which takes as long to load as numpy; nearly all that is typed
for qclog is a text, which qclog reads itself. A number, a path or a date that is given is checked as ever. Where
typer has no such checking nothing is changed.
"""

from typing import Any, Final

import typer
from typer.core import TyperGroup

_TEXTS: Final = (str, list[str])


class _Sparing:
    """Stands for what checks the values of a parameter, until there is one that is no text."""

    def coerce(self, value: Any, *, param: Any, ctx: Any) -> Any:
        several = param.multiple or param.nargs == -1
        if value is None:
            return () if several else None
        found = param.type_descriptor
        if found.annotation in _TEXTS and found.parameter_info.parser is None:
            return list(value) if several else value
        param._runtime_param = None  # where typer keeps what checks, once it is made
        return param.get_runtime_param().coerce(value, param=param, ctx=ctx)


def spare_checking(command: Any) -> None:
    """Do so for a command or, of a group, for all of its commands."""
    for inner in command.commands.values() if isinstance(command, TyperGroup) else ():
        spare_checking(inner)
    for param in command.get_params(typer.Context(command)):  # that of --help among them
        if hasattr(param, "get_runtime_param"):
            param._runtime_param = _Sparing()
