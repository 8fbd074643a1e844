"""Names of lines, written beside the axes at their right, kept apart from each other."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes

from reports.pictures.canvas import LETTERING

_APART: Final = 2.5 * LETTERING
"""Least distance between two names of two lines, in points."""


@dataclass(frozen=True, slots=True)
class Beside:
    """A name at a height of the axis; ``heavy`` for limits."""

    at: float
    text: str
    heavy: bool = False


def beside(ax: Axes, names: Sequence[Beside], tall_in: float) -> None:
    """Write each name as near to its height as the others allow. ``tall_in``: height of the axes in inches."""
    low, high = ax.get_ylim()
    tall = 72 * tall_in
    points = sorted((tall * (name.at - low) / (high - low), name) for name in names) if names else []
    heights: list[float] = []
    for height, _ in points:
        heights.append(max(height, heights[-1] + _APART) if heights else height)
    over = max(heights[-1] - tall, 0.0) if heights else 0.0
    for (_, name), height in zip(points, heights, strict=True):
        ax.annotate(
            name.text,
            (1.0, 0.0),
            xycoords="axes fraction",
            xytext=(4, height - over),
            textcoords="offset points",
            va="center",
            ha="left",
            linespacing=1.15,
            weight="bold" if name.heavy else "normal",
        )


def unit_above(ax: Axes, unit: str = "µm") -> None:
    """The unit of an upright axis, above its uppermost figure."""
    ax.annotate(
        unit, (0.0, 1.0), xycoords="axes fraction", xytext=(-6, 5), textcoords="offset points", ha="right", va="bottom"
    )
