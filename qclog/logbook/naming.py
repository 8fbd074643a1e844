"""Codes: what may be one, and giving one to an item, a setup, a pin or an indicator."""

import re
from collections.abc import Iterable
from typing import Final

from qclog.errors import RefusedError
from qclog.logbook import schema
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Name, Register

LONGEST_CODE: Final = 40
_CODE: Final = re.compile(r"[^\W_][\w .,/#+-]*", re.UNICODE)
_MONTHS: Final = "jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|sept|june|july"
_SPREADSHEET_DAMAGES: Final = re.compile(
    rf"(\d+e\d+|0\d+|({_MONTHS})[- ]?\d{{1,4}}|\d{{1,2}}[- ]?({_MONTHS})|\d{{1,4}}[/-]\d{{1,2}}([/-]\d{{1,4}})?)",
    re.IGNORECASE,
)
_LOOKS_LIKE: Final = str.maketrans("0158", "oisb")
"""A figure and the letter it is read for on an oily label."""


def checked_code(code: str) -> str:
    """A code as it may stand on a label, in a file and on a command line. Raises RefusedError."""
    stripped = code.strip()
    if not stripped:
        raise RefusedError("A code cannot be empty.", "Give one, for example C-046.")
    if len(stripped) > LONGEST_CODE:
        raise RefusedError(
            f"The code {stripped[:LONGEST_CODE]!r}... is too long.", f"{LONGEST_CODE} characters at most."
        )
    if not _CODE.fullmatch(stripped):
        raise RefusedError(
            f"The code {stripped!r} cannot be used.",
            "Begin with a letter or figure; letters, figures, blanks and . , / # + - may follow.",
        )
    if _SPREADSHEET_DAMAGES.fullmatch(stripped):
        raise RefusedError(
            f"A spreadsheet would turn the code {stripped!r} into a date or a number.",
            "Put a letter and a dash before it, for example C-046.",
        )
    return stripped


def add_name(entry: Entry, register: Register, code: str, kind: str) -> Name:
    """Raises RefusedError where the code is taken, in upper or lower case, by anything."""
    checked = checked_code(code)
    taken = register.find(checked)
    if taken is not None:
        raise RefusedError(f"{taken.text} is already the code of {_a(taken.kind)}.", "Choose another code.")
    name_id = entry.add(schema.name, folded=checked.casefold(), text=checked, kind=kind)
    register.forget()
    return Name(name_id, checked, kind)


def look_alikes(register: Register, codes: Iterable[str]) -> list[tuple[Name, Name]]:
    """Each of these codes with what is registered under one that differs only by 0 and O, 1 and I, 5 and S, 8 and B."""
    alike: dict[str, list[Name]] = {}
    for kind in schema.NAME_KINDS:
        for name in register.names(kind):
            alike.setdefault(_as_read(name.text), []).append(name)
    pairs = []
    for code in dict.fromkeys(code.casefold() for code in codes):
        same = alike.get(_as_read(code), [])
        pairs += [(mine, other) for mine in same if mine.text.casefold() == code for other in same if other != mine]
    return pairs


def _as_read(code: str) -> str:
    return code.casefold().translate(_LOOKS_LIKE)


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"
