"""How run-out goes over time: clampings, means of sittings, the line through them with its band, and the limit."""

import datetime
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from qclog.questions.course import Course
from reports import wording
from reports.numbers import count, micrometres
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Picture, axes, figure, finished, hatched, styled
from reports.pictures.dates import lay_out
from reports.pictures.labels import Beside, beside, unit_above

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.36, 0.4, 2.45, 1.7
_ABOVE: Final = 0.25
_CROWDED: Final = 100
_ROOM: Final = 0.05


@styled
def course_picture(course: Course, limit_um: float | None, name: str) -> Picture:
    """The course of one place; what lies ahead is drawn as far as the record is long."""
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
    upper = [edge for place, _, edge in course.band if place <= x.max()]
    ax.set_ylim(0, 1.18 * max([*swings, *upper[-1:], limit_um or 0.0, 1.0]))
    unit_above(ax)
    if limit_um is not None:
        ax.axhline(limit_um, color=INK, linewidth=1.8, zorder=3)
        ax.axhspan(limit_um, limit_um + 0.05 * ax.get_ylim()[1], **hatched())
        text = f"made to\n{micrometres(limit_um, step_um=wording.exact_step(limit_um))}"
        beside(ax, [Beside(limit_um, text, heavy=True)], _HEIGHT)
    if course.band:
        place, level, edge = np.array(course.band).T
        _dashed_ahead(ax, place, level, float(x.max()), linewidth=1.2)
        _dashed_ahead(ax, place, edge, float(x.max()), linewidth=0.8)
        ax.axvline(float(x.max()), color=SOFT, linewidth=0.8, dashes=(1, 1.5), zorder=1)
        ax.annotate(
            now,
            (float(x.max()), 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(0, 3),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=SOFT,
        )
    if course.step is not None:
        middle = (course.step.after_x + course.step.before_x) / 2
        ax.plot([middle] * 2, [course.step.before_um, course.step.after_um], color=INK, linewidth=2.4, zorder=5)
    small = 1.6 if len(swings) > _CROWDED else 2.4
    ax.plot(
        x, swings, "o", markersize=small, markerfacecolor=PAPER, markeredgecolor=SOFT, markeredgewidth=0.6, zorder=4
    )
    ax.plot(at, means, "D", markersize=3.6, color=MARK, zorder=5)
    return finished(drawn, name, _says(course))


def _dashed_ahead(ax: Axes, x: np.ndarray, y: np.ndarray, now: float, *, linewidth: float) -> None:
    """A line drawn through to now, and dashed from there on, where nothing was read."""
    read, after = x <= now, x >= now
    ax.plot(x[read], y[read], color=INK, linewidth=linewidth, zorder=2)
    ax.plot(x[after], y[after], color=INK, linewidth=linewidth, dashes=(3, 2), zorder=2)


def _says(course: Course) -> str:
    where = ", ".join(part for part in (course.setup, course.position and f"position {course.position}") if part)
    sittings = count(len(course.sittings), "sitting")
    return f"How run-out went, {where}, {course.distance_mm:g} mm out: {sittings}."
