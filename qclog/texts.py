"""Texts that people and files give: how long one may be, and that it is one line that can be read as it stands.

What does not keep to it is refused before it is kept. A logbook that was written elsewhere may hold anything all the
same, so that what is printed goes through ``harmless``. Hidden characters here: control characters (the escape
sequences of terminals begin with one), line separators, marks that turn the direction of writing around, and halves of
characters, as bytes that are no UTF-8 leave them behind.
"""

import dataclasses
import re
from collections.abc import Sequence
from typing import Any, Final

from qclog.errors import RefusedError

LONGEST_NAME: Final = 100
"""Of labels, persons, stations: of what tells things apart."""
LONGEST_NOTE: Final = 500
"""Of notes, reasons and everything else that is free text."""
LONGEST_ARGUMENT: Final = 1_000
"""Of a path, a URL, a turn."""
_LONGEST_SHOWN: Final = 64
_HIDDEN: Final = "\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\x7f-\\x9f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff"
_HIDDEN_OR_BREAK: Final = re.compile(f"[{_HIDDEN}\\t\\r\\n]")
_HIDDEN_BUT_BREAK: Final = re.compile(f"[{_HIDDEN}]")
_NOT_FOR_A_SCREEN: Final = re.compile(f"[{_HIDDEN}\\r]")


def note(text: str, what: str) -> str:
    """``text`` as it is: free text on one line. ``what`` it is opens the message. Raises RefusedError."""
    return _one_line(text, what, LONGEST_NOTE, _HIDDEN_OR_BREAK)


def name(text: str, what: str) -> str:
    """``text`` as it is: a label or a name, of printable characters and blanks only. Raises RefusedError."""
    if len(text) > LONGEST_NAME or not text.isprintable():
        _one_line(text, what, LONGEST_NAME, _HIDDEN_OR_BREAK)
        odd = next(character for character in text if not character.isprintable())
        raise _hidden(what, odd)
    return text


def are_names(some: Sequence[str]) -> bool:
    """Whether each of some texts may be a label or a name."""
    return max(map(len, some), default=0) <= LONGEST_NAME and "".join(some).isprintable()


def argument(text: str, what: str) -> str:
    """``text`` as it is: an argument of a command, which may have line breaks. Raises RefusedError."""
    return _one_line(text, what, LONGEST_ARGUMENT, _HIDDEN_BUT_BREAK)


def check(record: Any) -> None:
    """Every text of a dataclass is a note. Raises RefusedError that names the field."""
    for field in dataclasses.fields(record):
        text = getattr(record, field.name)
        if isinstance(text, str):
            note(text, field.name.replace("_", " "))


def shown(text: str, longest: int = _LONGEST_SHOWN) -> str:
    """``text`` on one line, for messages: cut, what cannot be printed as ``?``."""
    cut = "".join(character if character.isprintable() else "?" for character in text[:longest])
    return f"{cut}..." if len(text) > longest else cut


def harmless(text: str) -> str:
    """``text`` as it may go to a screen: hidden characters as ``\\u001b``, which JSON reads as what it was."""
    return text if text.isprintable() else _NOT_FOR_A_SCREEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _one_line(text: str, what: str, longest: int, hidden: re.Pattern[str]) -> str:
    if len(text) > longest:
        raise RefusedError(f"The {what} is too long.", f"{longest} characters at most.")
    if not text.isprintable() and (found := hidden.search(text)):
        raise _hidden(what, found[0])
    return text


def _hidden(what: str, character: str) -> RefusedError:
    if character in "\t\r\n":
        return RefusedError(f"The {what} has a tab or a line break in it.", "Write it on one line.")
    if "\udc80" <= character <= "\udcff":
        return RefusedError(f"The {what} has bytes in it that are not UTF-8.", "Type it again.")
    return RefusedError(f"The {what} has a hidden character in it, U+{ord(character):04X}.", "Type it again without.")
