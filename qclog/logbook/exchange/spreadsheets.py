"""Texts that a spreadsheet would compute, and how they stand in a file so that it does not.

A cell that begins with = + - or @ is a formula to a spreadsheet, whoever wrote it, unless it is a number. A text like
that is written with an apostrophe before it, as one types it there, and loses it again when the file is read.
A text that begins with apostrophes and then such a sign gets one more, so that every text comes back as it was.
"""

import re
from typing import Final

_SIGNS: Final = "=+@\uff1d\uff0b\uff0d\uff20-"
_COMPUTED: Final = re.compile(rf"'+[{_SIGNS}]|(?![+-][0-9]+([.,][0-9]+)?\Z)[{_SIGNS}]")
_GUARDED: Final = re.compile(f"'+[{_SIGNS}]")


def guarded(text: str) -> str:
    """``text`` as it stands in a cell."""
    return f"'{text}" if _COMPUTED.match(text) else text


def unguarded(cell: str) -> str:
    """What a cell says."""
    return cell[1:] if _GUARDED.match(cell) else cell
