"""The list of commands: help is printed from it, and only the module of the command called is loaded."""

import functools
import importlib
from collections.abc import Callable
from typing import Any, Final

import typer
from typer.core import TyperCommand, TyperGroup

from qclog.cli.sparing import spare_checking

PARTS: Final = {
    "measuring": {
        "log": "Log what was read.",
        "strike": "Strike out a mistake.",
    },
    "measure": {"measure": "Measure at the machine, guided."},
    "questions": {
        "assess": "Does it hold what it was made to?",
        "compare": "Which key position, setup or item is better?",
        "wear": "Is it getting worse: keep, watch or retire?",
        "sense": "Are clocking and readings counted the same way round?",
        "history": "The life of an item, a setup, a pin or an indicator.",
    },
    "chaining": {"chain": "Who owns the run-out of a chain, and how to clock it?"},
    "picking": {"pick": "Which of mine will hold this part?"},
    "studying": {
        "uncertainty": "How sure is a verdict, and what limit can be proven?",
        "study": "How good is the measuring, and what to mend first?",
        "chart": "Is the process steady, or has it moved?",
    },
    "recalling": {"recall": "A gauge is found wrong: which verdicts change?"},
    "reporting": {"report": "Write the page of an item, or of everything."},
    "statements": {"statement": "A statement of conformity to hand over, as PDF."},
    "labels": {"label": "Labels for tubes and drawers."},
    "changes": {
        "modify": "Work done to an item that changes how it runs.",
        "limit": "What an item, as it is now, or a setup must hold.",
        "refit": "A change to a setup: a new revision.",
        "inspect": "What was seen on an item.",
        "used": "Work an item did: how many clampings, or how many hours.",
        "state": "What you decide about an item.",
        "settings": "Settings of the whole logbook.",
    },
    "noting": {"note": "Note what a card has no place for, under a name of the trade."},
    "custody": {
        "took": "Somebody took items out of the drawer.",
        "back": "Items are in the drawer again.",
    },
    "drawer": {
        "drawer": "What do I own, in what state?",
        "due": "What should be measured next, and which gauges are due?",
    },
    "explaining": {"explain": "What does a word of an answer mean, and what is to be done?"},
    "exchanging": {
        "import": "Take in readings from a CSV file.",
        "export": "Write readings, or the whole logbook, to other files.",
        "demo": "Judge an invented workshop.",
    },
    "safekeeping": {
        "verify": "Look the logbook through for damage.",
        "backup": "Keep the logbook as it is now in a new file.",
        "restore": "Go back to a backup.",
        "copy": "Copy a whole logbook, from a file to a server or back.",
        "rebuild": "Compute all figures anew from their readings.",
    },
    "listening": {"listen": "Hear what an indicator says."},
    "simulating": {"simulate": "Put a simulated indicator on a line, to practise with."},
    "items": {"item": "Items: collets, sleeves, chucks, jaws and the like."},
    "setups": {"setup": "Setups: named chains from the spindle outward."},
    "gauges": {
        "pin": "Test pins, mandrels, rings.",
        "instrument": "Indicators and their calibrations.",
    },
}
"""The modules of commands with what each adds, as help lists them: the first sentence of what a command says of
itself."""


_TYPES: Final = {"<str>": "TEXT", "<list[str]>": "TEXT", "<int>": "NUMBER", "<float>": "NUMBER", "<path>": "PATH"}
"""What help says in place of the names of types, which are a programmer's."""


class Listed(TyperGroup):
    """A group that knows its commands from ``PARTS`` and loads one, with its options, when it is called."""

    def __init__(self, **attributes: Any) -> None:
        listed = {name: TyperCommand(name, help=line) for lines in PARTS.values() for name, line in lines.items()}
        super().__init__(**{**attributes, "commands": listed})
        spare_checking(self)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        self.load(args[0])
        return super().resolve_command(ctx, args)

    def load(self, called: str) -> None:
        """Put the real commands of a part in the place of those that were only listed; does nothing for a name that
        is not listed."""
        for part, lines in PARTS.items():
            if called in lines:
                app = typer.Typer(rich_markup_mode=None, add_completion=False)
                app.callback()(lambda: None)  # without it a single command would be no command of a group
                importlib.import_module(f"qclog.cli.{part}").add_to(app)
                group = typer.main.get_command(app)
                assert isinstance(group, TyperGroup)
                spare_checking(group)
                self.commands.update(group.commands)
                for command in group.commands.values():
                    _in_plain_words(command)


def _in_plain_words(command: Any) -> None:
    """Let a command tell its parameters without the names of types; an older typer does so by itself."""
    for inner in getattr(command, "commands", {}).values():
        _in_plain_words(inner)
    for one in command.params:
        if hasattr(one, "display_type_rich"):
            one.display_type_rich = functools.partial(_kind, one.display_type_rich, one.param_type_name)


def _kind(told: Callable[..., str], parameter: str, ctx: Any) -> str:
    """What an option takes; of an argument its name says it."""
    label = told(ctx)
    return "" if parameter == "argument" else _TYPES.get(label, label.strip("<>"))
