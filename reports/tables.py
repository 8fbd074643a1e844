"""Tables on a terminal, and how wide it is: columns that have no room are left out, and it is said which."""

import shutil
import textwrap
from collections.abc import Collection, Mapping, Sequence
from typing import Final

TERMINAL: Final = shutil.get_terminal_size((120, 24)).columns
WIDTH: Final = max(40, min(100, TERMINAL - 1))
"""Sentences are wrapped to this many characters."""
_LEFT_OUT: Final = "(Left out: {}; wider terminal, or --json.)"
_BETWEEN: Final = "  "

Columns = Mapping[str, Sequence[str]]
"""The cells of each column under its title."""


def fitted(columns: Columns, width: int, first_left_out: Sequence[str], *, right: Collection[str] = ()) -> list[str]:
    """The lines of a table whose columns ``right`` end alike, and below it what ``fitting`` left out."""
    kept, told = fitting(columns, width, first_left_out)
    padded = []
    for title, cells in kept.items():
        room = widest(title, cells)
        padded.append([cell.rjust(room) if title in right else cell.ljust(room) for cell in (title, *cells)])
    return [*(_BETWEEN.join(row).rstrip() for row in zip(*padded, strict=True)), *told]


def fitting(
    columns: Columns, width: int, first_left_out: Sequence[str], *, narrowed: dict[str, int] | None = None
) -> tuple[dict[str, Sequence[str]], list[str]]:
    """The columns that stay where a table is to be no wider than ``width``, and a sentence on those that do not.

    ``first_left_out``: what goes, in this order; the rest stays though it be too wide. ``narrowed``: how wide a column
    is that can be folded.
    """
    kept, rooms = dict(columns), {title: widest(title, cells) for title, cells in columns.items()} | (narrowed or {})
    for title in first_left_out:
        if sum(rooms[one] for one in kept) + len(_BETWEEN) * (len(kept) - 1) <= width:
            break
        kept.pop(title, None)
    gone = [title for title in columns if title not in kept]
    told = textwrap.wrap(_LEFT_OUT.format(", ".join(gone)), width, break_on_hyphens=False) if gone else []
    return kept, told


def widest(title: str, cells: Sequence[str]) -> int:
    """How wide a column is."""
    return max(map(len, (title, *cells)))
