"""Before and after a modification, side by side on one scale: every clamping, both means, and the limit since."""

from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes

from qclog.questions.dossier import Gained, Place, Point
from qclog.questions.judging.groups import Group
from reports.numbers import count, exact, micrometres
from reports.pictures import marks
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Picture, axes, dots, figure, finished, hatched, styled
from reports.pictures.labels import Beside, beside, unit_above

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.36, 0.4, 2.45, 1.6
_ABOVE: Final = 0.22
_BEFORE, _SINCE, _HALF = 0.0, 2.0, 0.42
"""Where the two stand, and half of how far their dots spread; the axis has no meaning of its own."""
_MARKED: Final = 0.78
_CROWDED: Final = 60


@styled
def before_after(place: Place, gained: Gained, group: Group, name: str) -> Picture:
    """``group``: the clampings since, with the limit in force."""
    limit_um = group.limit_um
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    swings = [point.swing_um for point in (*gained.before, *gained.since)]
    ax.set_ylim(0, 1.18 * max([*swings, limit_um or 0.0, 1.0]))
    ax.set_xlim(_BEFORE - 0.65, _SINCE + 0.65)
    told = ("before", gained.before), ("since", gained.since)
    ax.set_xticks([_BEFORE, _SINCE], [f"{when}\n{count(len(points), 'clamping')}" for when, points in told])
    ax.tick_params(axis="x", length=0)
    unit_above(ax)
    if limit_um is not None:
        ends = [_SINCE - 0.5, _SINCE + 0.65]
        ax.plot(ends, [limit_um] * 2, color=INK, linewidth=1.8, solid_capstyle="butt", zorder=3)
        ax.fill_between(ends, limit_um, limit_um + 0.05 * ax.get_ylim()[1], **hatched())
        whose = "setup's" if group.limit_from == "setup" else "made to"
        text = f"{whose}\n{exact(limit_um)}"
        beside(ax, [Beside(limit_um, text, heavy=True)], _HEIGHT)
    _column(ax, place, _BEFORE, gained.before, face=PAPER, edge=SOFT)
    _column(ax, place, _SINCE, gained.since, face=MARK, edge=MARK)
    before, since = gained.gain.before_um, gained.gain.since_um
    for x, mean in ((_BEFORE, before), (_SINCE, since)):
        ax.plot([x - _HALF, x + _HALF], [mean] * 2, color=INK, linewidth=1.6, zorder=2)
    ax.plot([_HALF, _MARKED + 0.08], [before] * 2, color=SOFT, linewidth=0.6)
    ax.plot([_SINCE - _HALF, _MARKED - 0.08], [since] * 2, color=SOFT, linewidth=0.6)
    ax.plot([_MARKED] * 2, [before, since], color=INK, linewidth=1.0)
    apart = abs(before - since)
    far = apart > 0.2 * ax.get_ylim()[1]
    ax.annotate(
        f"{_um(apart)}\n{'less' if since <= before else 'more'}",
        (_MARKED, (before + since) / 2 if far else max(before, since)),
        xytext=(4, 0 if far else 3),
        textcoords="offset points",
        va="center" if far else "bottom",
        linespacing=1.1,
    )
    return finished(drawn, name, f"Before and since: {_um(before)} and {_um(since)} on the mean.")


def _column(ax: Axes, place: Place, x: float, points: Sequence[Point], *, face: str, edge: str) -> None:
    """The clampings in the order of time from left to right."""
    step = 2 * _HALF * 0.9 / max(len(points) - 1, 1)
    xs = [x + (i - (len(points) - 1) / 2) * step for i in range(len(points))]
    found = marks.of_points(place, points, xs, [point.swing_um for point in points])
    dots(ax, found, "o", 2.0 if len(points) > _CROWDED else 3.4, face=face, edge=edge)


def _um(value: float) -> str:
    return micrometres(value, step_um=0.1)
