"""One label, drawn in millimetres: the QR code, and beside or below it the lines to read.

The lettering is of one width, with a marked zero and feet on the one, so that look-alikes differ. Black on white only.
"""

import math
import textwrap
from dataclasses import dataclass
from typing import Any, Final

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path

from qclog.errors import RefusedError
from qclog.questions.owned.labelled import Labelled
from reports.labels import texts
from reports.labels.qr import QUIET, modules
from reports.numbers import NumberStyle

MM_PER_INCH: Final = 25.4
LEAST_MODULE: Final = 0.4
"""Millimetres; smaller modules are read badly off oily paper."""
LEAST_LETTERING: Final = 1.5
_LARGEST: Final = 4.5
_EDGE: Final = 1.2
_SHORT: Final = 12
"""Characters of a code that can be written large."""
_FACE: Final = "DejaVu Sans Mono"
_ADVANCE: Final = 0.602
"""Width of a character of this face, in its size."""
_LEADING: Final = 1.2
_APART: Final = 0.25
"""Between a line and the black ground of the next, in its size."""
_BASELINE: Final = 0.965
"""From the top of a line to its foot, so that capitals stand in the middle of it."""
styled: Final = mpl.rc_context(
    {"font.family": _FACE, "pdf.fonttype": 42, "svg.fonttype": "path", "text.hinting": "no_hinting"}
)


@dataclass(frozen=True, slots=True)
class Line:
    """A line to read: how large against the others; ``reversed`` stands white on black."""

    text: str
    large: float = 1.0
    bold: bool = False
    reversed: bool = False

    def broken(self, width: float, unit: float) -> list[str] | None:
        """Its rows at a size; None where a word is wider than the label."""
        fit = math.floor(width / (_ADVANCE * self.large * unit) + 1e-9) - (2 if self.reversed else 0)
        rows = textwrap.wrap(self.text, fit, break_long_words=False, break_on_hyphens=False) if fit > 0 else []
        return rows if rows and max(map(len, rows)) <= fit else None

    def tall(self, rows: list[str], unit: float) -> float:
        return self.large * unit * (_LEADING * len(rows) + (_APART if self.reversed else 0.0))


@dataclass(frozen=True, slots=True)
class _Box:
    left: float
    top: float
    width: float
    height: float


def blank(width: float, height: float) -> tuple[Figure, Axes]:
    """Paper of a size in mm, to draw on in mm from its upper left corner."""
    page = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH), facecolor="white")
    ax = page.add_axes((0, 0, 1, 1))
    ax.set_axis_off()
    ax.set_xlim(0, width)
    ax.set_ylim(height, 0)
    return page, ax


def draw(ax: Axes, item: Labelled, left: float, top: float, width: float, height: float, style: NumberStyle) -> None:
    """Draw the label of an item on paper. Raises RefusedError where it would be too small to be read."""
    dark = modules(item.item)
    side, box = _laid_out(width, height)
    module = side / (len(dark) + 2 * QUIET)
    if module < LEAST_MODULE - 1e-9:
        raise RefusedError(
            f"On {width:g} x {height:g} mm the QR code of {item.item} would be too small to be read.",
            f"Take labels with room for a square of {LEAST_MODULE * (len(dark) + 2 * QUIET):.1f} mm beside the text.",
        )
    lines = [
        Line(item.item, 1.8 if len(item.item) <= _SHORT else 1.0, bold=True),
        Line(texts.size(item, style), 1.2),
        Line(texts.married(item)),
        Line(texts.rating(item), bold=True, reversed=True),
    ]
    across = left if box.left else left + (width - side) / 2
    ax.add_artist(_symbol(dark, across + QUIET * module, top + QUIET * module, module))
    _write(ax, item.item, [line for line in lines if line.text], box, left, top)


def outline(ax: Axes, left: float, top: float, width: float, height: float) -> None:
    """The edge of a label, thin, to cut along or to hold against the label sheet."""
    ax.add_artist(Rectangle((left, top), width, height, fill=False, edgecolor="0.6", linewidth=0.3))


def _laid_out(width: float, height: float) -> tuple[float, _Box]:
    """The side of the QR code with its quiet zone, and the room for the text: beside it, or below it where the label
    stands upright."""
    if width >= 1.4 * height:
        side = min(height, 0.5 * width)
        return side, _Box(side, _EDGE, width - side - _EDGE, height - 2 * _EDGE)
    side = min(width, 0.62 * height)
    return side, _Box(0.0, side, width, height - side - _EDGE)


def _write(ax: Axes, code: str, lines: list[Line], box: _Box, left: float, top: float) -> None:
    _refuse_unknown_signs(code, lines)
    inset = 0.0 if box.left else _EDGE
    width = box.width - 2 * inset
    unit, rows = _largest(code, lines, width, box.height)
    at = top + box.top + (box.height - _tall(lines, rows, unit)) / 2
    for line, broken in zip(lines, rows, strict=True):
        size = line.large * unit
        foot = at + line.tall(broken, unit)
        if line.reversed:
            at += _APART * size
            ground = Rectangle((left + box.left + inset, at), width, foot - at, facecolor="black", edgecolor="none")
            ax.add_artist(ground)
        for i, row in enumerate(broken):
            middle = line.reversed or not box.left
            ax.text(
                left + box.left + inset + (width / 2 if middle else 0.0),
                at + (_LEADING * i + _BASELINE) * size,
                row,
                fontsize=72 / MM_PER_INCH * size,
                fontweight="bold" if line.bold else "normal",
                color="white" if line.reversed else "black",
                ha="center" if middle else "left",
                va="baseline",
                parse_math=False,
            )
        at = foot


def _largest(code: str, lines: list[Line], width: float, height: float) -> tuple[float, list[list[str]]]:
    """The largest size all lines fit in together, and their rows at it."""
    for unit in np.arange(_LARGEST, LEAST_LETTERING - 0.01, -0.05):
        rows = [line.broken(width, unit) for line in lines]
        whole = [row for row in rows if row is not None]
        if len(whole) == len(rows) and _tall(lines, whole, unit) <= height + 1e-9:
            return float(unit), whole
    raise RefusedError(
        f"The label of {code} would have lettering too small to be read.", "Take a larger label with --label."
    )


def _tall(lines: list[Line], rows: list[list[str]], unit: float) -> float:
    return sum(line.tall(broken, unit) for line, broken in zip(lines, rows, strict=True))


def _refuse_unknown_signs(code: str, lines: list[Line]) -> None:
    known = get_font(findfont(FontProperties(family=_FACE)))
    for sign in "".join(line.text for line in lines):
        if not known.get_char_index(ord(sign)):
            raise RefusedError(
                f"The lettering of labels has no sign {sign!r}, which {code} or its setup is written with.",
                "Letter this one by hand.",
            )


def _symbol(dark: np.ndarray, left: float, top: float, module: float) -> PathPatch:
    """All dark modules as one shape: runs across and runs down, so that no seam shows between rows."""
    corners: list[Any] = []
    for down, grid in ((False, dark), (True, dark.T)):
        for row, cells in enumerate(grid):
            edges = np.flatnonzero(np.diff(np.concatenate(([0], cells.astype(int), [0]))))
            for begin, end in edges.reshape(-1, 2):
                square = np.array(
                    [(begin, row), (end, row), (end, row + 1), (begin, row + 1), (begin, row)], dtype=float
                )
                corners.append(square[::-1, ::-1] if down else square)
    codes = [Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY] * len(corners)
    outline_ = np.array((left, top)) + module * np.concatenate(corners)
    return PathPatch(Path(outline_, codes), facecolor="black", edgecolor="none", linewidth=0, antialiased=False)
