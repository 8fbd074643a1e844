"""One turn: its readings over the angle, the curve through them and its once-per-turn part, and what that leaves."""

from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from qclog.questions.newest_turns import NewestTurn
from qclog.questions.turns import ReadTurn
from reports.anchors import row_of
from reports.numbers import angle, micrometres
from reports.pictures.canvas import FAINT, INK, SOFT, Dot, Picture, axes, dots, figure, finished, styled
from reports.pictures.labels import unit_above

_LEFT, _BOTTOM, _WIDTH = 0.36, 0.4, 2.3
_HEIGHT, _LEFT_OVER, _BETWEEN, _ABOVE = 1.45, 0.6, 0.24, 0.22
_LEAST_UM: Final = 0.5
"""What is left of the readings is not drawn larger than as if this were the most of it."""
_FULL, _ONCE = 1.04, 1.1
"""Where the swings are marked, in widths of the axes."""


@styled
def turn_picture(turn: NewestTurn, name: str) -> Picture:
    """Above the readings as read, below what the once-per-turn part leaves of them, on a scale of its own."""
    read, curve = turn.read, turn.curve
    drawn = figure(_BOTTOM + _LEFT_OVER + _BETWEEN + _HEIGHT + _ABOVE)
    above = axes(drawn, _LEFT, _BOTTOM + _LEFT_OVER + _BETWEEN, _WIDTH, _HEIGHT)
    ends = [*read.readings_um, *curve.full_um, *curve.once_um]
    room = 0.08 * max(max(ends) - min(ends), 1.0)
    above.set_ylim(min(ends) - room, max(ends) + room)
    above.yaxis.set_major_locator(MaxNLocator(5, steps=[1, 2, 5, 10]))
    _lay_out(above, named=False)
    unit_above(above)
    above.plot(curve.at_deg, curve.once_um, color=INK, linewidth=1.0, dashes=(4, 2), zorder=2)
    above.plot(curve.at_deg, curve.full_um, color=INK, linewidth=1.4, zorder=3)
    _swing(above, curve.full_um, _FULL, f"full swing\n{_um(read.full_swing_um)}", heavy=True)
    _swing(above, curve.once_um, _ONCE, f"once per turn\n{_um(read.once_per_turn_um)}", heavy=False)

    below = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _LEFT_OVER)
    most = 1.25 * max([*np.abs(curve.left_um), *np.abs(curve.lobes_um), 2 * (read.noise_um or 0.0), _LEAST_UM])
    below.set_ylim(-most, most)
    below.yaxis.set_major_locator(MaxNLocator(2, steps=[1, 2, 5, 10], symmetric=True))
    _lay_out(below, named=True)
    below.axhline(0.0, color=INK, linewidth=0.7, dashes=(4, 2), zorder=1)
    below.plot(curve.at_deg, curve.lobes_um, color=INK, linewidth=1.2, zorder=2)
    if read.noise_um:
        for edge in (-2 * read.noise_um, 2 * read.noise_um):
            below.axhline(edge, color=SOFT, linewidth=0.8, dashes=(1, 1.5), zorder=1)
    below.annotate("what is left", (1.0, 0.5), xycoords="axes fraction", xytext=(5, 0), textcoords="offset points",
                   va="center")  # fmt: skip
    dots(above, _dots(read, read.readings_um), "o", 3.6, zorder=4)
    dots(below, _dots(read, curve.left_um), "o", 3.0, zorder=4)
    return finished(drawn, name, _says(read))


def _lay_out(ax: Axes, *, named: bool) -> None:
    """The axis of angles, from 0 round to 360 degrees."""
    ax.set_xlim(-8, 368)
    ax.set_xticks([0, 90, 180, 270, 360], ["0°", "90°", "180°", "270°", "360°"] if named else [])
    ax.grid(axis="x", color=FAINT, linewidth=0.6)
    ax.set_axisbelow(True)
    if named:
        ax.set_xlabel("clockwise from the spindle's mark", labelpad=2)


def _swing(ax: Axes, curve: np.ndarray, at: float, text: str, *, heavy: bool) -> None:
    """How far a curve goes up and down, marked beside the axes as on a drawing; named at its upper or lower end."""
    low, high = float(curve.min()), float(curve.max())
    across = ax.get_yaxis_transform()
    width, dashes = (1.4, (1, 0)) if heavy else (1.0, (4, 2))
    ax.plot([at, at], [low, high], color=INK, linewidth=width, dashes=dashes, clip_on=False, transform=across)
    for end in (low, high):
        ax.plot([at - 0.015, at + 0.015], [end, end], color=INK, linewidth=width, clip_on=False, transform=across)
    bottom, top = ax.get_ylim()
    name = 0.76 if heavy else 0.3
    ax.annotate(text, (_ONCE + 0.03, bottom + name * (top - bottom)), xycoords=across, ha="left", va="center",
                linespacing=1.15, weight="bold" if heavy else "normal")  # fmt: skip


def _dots(read: ReadTurn, heights: np.ndarray | tuple[float, ...]) -> list[Dot]:
    row = row_of(read.clamping, round(read.distance_mm, 1), read.characteristic)
    return [
        Dot(at, float(height), row, f"{_um(value)} at {angle(at)}, clamping {read.clamping}")
        for at, height, value in zip(read.angles_deg, heights, read.readings_um, strict=True)
    ]


def _says(read: ReadTurn) -> str:
    once = f"{_um(read.once_per_turn_um)} with the high spot at {angle(read.high_spot_deg)}"
    return f"Turn of clamping {read.clamping}: full swing {_um(read.full_swing_um)}, once per turn {once}."


def _um(value: float) -> str:
    return micrometres(value, step_um=0.1)
