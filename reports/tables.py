"""Tables on a terminal, and how wide it is: columns that have no room are left out, and it is said which; or, where
most of them have none, the cells of a row stand under each other."""

import shutil
import textwrap
from collections.abc import Collection, Mapping, Sequence
from typing import Final

TERMINAL: Final = shutil.get_terminal_size((120, 24)).columns
WIDTH: Final = max(40, min(100, TERMINAL - 1))
"""Sentences are wrapped to this many characters."""
_LEFT_OUT: Final = "(Left out: {}; wider terminal, or --json.)"
_BETWEEN: Final = "  "
_NOTHING: Final = "-"

Columns = Mapping[str, Sequence[str]]
"""The cells of each column under its title."""


def fitted(
    columns: Columns,
    width: int,
    first_left_out: Sequence[str | tuple[str, ...]],
    *,
    right: Collection[str] = (),
    down_the_page: bool = False,
) -> list[str]:
    """The lines of a table whose columns ``right`` end alike, and below it what ``fitting`` left out.

    ``down_the_page``: where that would be more than half of the columns, none is, and each row goes down the page.
    """
    kept, told = fitting(columns, width, first_left_out)
    if down_the_page and 2 * len(kept) < len(columns):
        return down_the_page_of(columns)
    padded = []
    for title, cells in kept.items():
        room = widest(title, cells)
        padded.append([cell.rjust(room) if title in right else cell.ljust(room) for cell in (title, *cells)])
    return [*(_BETWEEN.join(row).rstrip() for row in zip(*padded, strict=True)), *told]


def fitting(
    columns: Columns,
    width: int,
    first_left_out: Sequence[str | tuple[str, ...]],
    *,
    narrowed: dict[str, int] | None = None,
) -> tuple[dict[str, Sequence[str]], list[str]]:
    """The columns that stay where a table is to be no wider than ``width``, and a sentence on those that do not.

    ``first_left_out``: what goes, in this order, several together where one says nothing without the others; the rest
    stays though it be too wide. ``narrowed``: how wide a column is that can be folded.
    """
    kept, rooms = dict(columns), {title: widest(title, cells) for title, cells in columns.items()} | (narrowed or {})
    for titles in first_left_out:
        if sum(rooms[one] for one in kept) + len(_BETWEEN) * (len(kept) - 1) <= width:
            break
        for title in (titles,) if isinstance(titles, str) else titles:
            kept.pop(title, None)
    gone = [title for title in columns if title not in kept]
    told = textwrap.wrap(_LEFT_OUT.format(", ".join(gone)), width, break_on_hyphens=False) if gone else []
    return kept, told


def down_the_page_of(columns: Columns) -> list[str]:
    """Each row under its first cell, the others below each other beside their titles; what is empty is left out."""
    (_, heads), *others = columns.items()
    room = max(len(title) for title, _ in others)
    lines = []
    for i, head in enumerate(heads):
        cells = [(title, cells[i]) for title, cells in others if cells[i] not in ("", _NOTHING)]
        lines += [head, *(f"{_BETWEEN}{title:<{room}}{_BETWEEN}{cell}" for title, cell in cells)]
    return lines


def widest(title: str, cells: Sequence[str]) -> int:
    """How wide a column is."""
    return max(map(len, (title, *cells)))
