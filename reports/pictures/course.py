"""How run-out goes over time: clampings, means of sittings, the line through them with its band, and the limit."""

import datetime
from typing import Final, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from qclog.questions.changing.course import Course
from reports.numbers import count, exact
from reports.pictures import marks
from reports.pictures.canvas import (
    FAINT,
    INK,
    MARK,
    PAPER,
    SOFT,
    Picture,
    axes,
    dots,
    figure,
    finished,
    hatched,
    styled,
)
from reports.pictures.dates import lay_out
from reports.pictures.labels import Beside, beside, unit_above
from reports.wording import places

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.36, 0.4, 2.45, 1.7
_ABOVE: Final = 0.25
_CROWDED: Final = 100
_ROOM: Final = 0.05
_NO_USE: Final = 3.0
"""A band as many times above all that was read would press everything else flat: it leaves the picture."""


@styled
def course_picture(course: Course, limit_um: float | None, name: str, *, stepped: bool = False) -> Picture:
    """The course of one place, as far as its next check; ``stepped``: its step is likely real, so that the levels
    before and after it are drawn instead of a line through all."""
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    x, swings = np.array(course.swings).T
    at, means = np.array(course.sittings).T
    ahead = course.band[-1][0] if course.band else float(x.max())
    if course.axis == "date":
        lay_out(ax, [float(x.min()), ahead])
        now = f"last read {datetime.date.fromordinal(int(x.max())).isoformat()}"
    else:
        room = max(_ROOM * (ahead - float(x.min())), 1.0)
        ax.set_xlim(float(x.min()) - room, ahead + room)
        ax.xaxis.set_major_locator(MaxNLocator(4, integer=True))
        ax.set_xlabel("clampings in work", labelpad=2)
        now = "last read"
    levels = course.step if stepped else None
    upper = [] if levels else [edge for _, _, edge in course.band[-1:] if edge < _NO_USE * swings.max()]
    ax.set_ylim(0, 1.18 * max([*swings, *upper, limit_um or 0.0, 1.0]))
    unit_above(ax)
    if limit_um is not None:
        ax.axhline(limit_um, color=INK, linewidth=1.8, zorder=3)
        ax.axhspan(limit_um, limit_um + 0.05 * ax.get_ylim()[1], **hatched())
        text = f"made to\n{exact(limit_um)}"
        beside(ax, [Beside(limit_um, text, heavy=True)], _HEIGHT)
    if levels is not None:
        ends = (float(x.min()), levels.after_x), (levels.before_x, float(x.max()))
        for (left, right), level_um in zip(ends, (levels.before_um, levels.after_um), strict=True):
            ax.plot([left, right], [level_um] * 2, color=INK, linewidth=1.2, zorder=2)
        _marked(ax, float(x.max()), now, "right")
        _marked(ax, ahead, "next check", "left")
    elif course.band:
        place, level, edge = np.array(course.band).T
        _dashed_ahead(ax, place, level, float(x.max()), linewidth=1.2)
        _dashed_ahead(ax, place, edge, float(x.max()), linewidth=0.8)
        ax.fill_between(place, level, edge, facecolor=FAINT, alpha=0.4, linewidth=0, zorder=0)
        _marked(ax, float(x.max()), now, "right")
        _marked(ax, ahead, "next check", "left")
    if course.step is not None:
        middle = (course.step.after_x + course.step.before_x) / 2
        ax.plot([middle] * 2, [course.step.before_um, course.step.after_um], color=INK, linewidth=2.4, zorder=5)
    dots(ax, marks.of_course(course), "o", 1.8 if len(swings) > _CROWDED else 2.6, face=PAPER, edge=SOFT, width=0.6)
    ax.plot(at, means, "D", markersize=3.6, color=MARK, zorder=5)
    return finished(drawn, name, _says(course))


def _marked(ax: Axes, x: float, text: str, side: Literal["left", "right"]) -> None:
    """A dotted line upright, its name above at one side of it."""
    ax.axvline(x, color=SOFT, linewidth=0.8, dashes=(1, 1.5), zorder=1)
    ax.annotate(
        text,
        (x, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(-2 if side == "right" else 2, 3),
        textcoords="offset points",
        ha=side,
        va="bottom",
        color=SOFT,
    )


def _dashed_ahead(ax: Axes, x: np.ndarray, y: np.ndarray, now: float, *, linewidth: float) -> None:
    """A line drawn through to now, and dashed from there on, where nothing was read."""
    read, after = x <= now, x >= now
    ax.plot(x[read], y[read], color=INK, linewidth=linewidth, zorder=2)
    ax.plot(x[after], y[after], color=INK, linewidth=linewidth, dashes=(3, 2), zorder=2)


def _says(course: Course) -> str:
    where = ", ".join(part for part in (course.setup, course.position and f"position {course.position}") if part)
    sittings = count(len(course.sittings), "sitting")
    out = places.out(course.distance_mm, course.characteristic)
    where = ", ".join(part for part in (where, out) if part)
    return f"How {places.named(course.characteristic)} went, {where}: {sittings}."
