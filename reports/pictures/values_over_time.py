"""A size, a gap or a difference over time, between its limits: what was read, as a bar where pins told it."""

from collections.abc import Sequence
from typing import Final

from qclog.questions.judging.values import ValueGroup
from reports import values
from reports.numbers import count
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Dot, Picture, axes, dots, figure, finished, hatched, styled
from reports.pictures.dates import day_of, lay_out
from reports.pictures.labels import Beside, beside, unit_above
from reports.value_points import Point, told

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.5, 0.28, 2.2, 1.5
_ABOVE: Final = 0.3
_SPREAD: Final = 0.012
_BEYOND: Final = 0.06


@styled
def values_over_time(group: ValueGroup, points: Sequence[Point], name: str) -> Picture:
    """``points``: as ``value_points`` gives them, at least one."""
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    per = 1000.0 if values.in_mm(group) else 1.0
    limits = group.limits_um
    lower, upper = (None, None) if limits is None else (limits.lower, limits.upper)
    ends = [end / per for point in points for end in (point.low_um, point.high_um)]
    shown = ends + [end / per for end in (lower, upper) if end is not None]
    room = (max(shown) - min(shown)) * 0.15 or group.resolution_um / per
    lay_out(ax, [day_of(point.taken_at) for point in points])
    ax.set_ylim(min(shown) - room, max(shown) + room)
    ax.ticklabel_format(axis="y", useOffset=False, style="plain")
    unit_above(ax, "mm" if values.in_mm(group) else "µm")
    band = _BEYOND * (max(shown) - min(shown) + 2 * room)
    left, right = ax.get_xlim()
    for end, outward in ((lower, -band), (upper, band)):
        if end is not None:
            ax.plot([left, right], [end / per] * 2, color=INK, linewidth=1.8, solid_capstyle="butt", zorder=3)
            ax.fill_between([left, right], end / per, end / per + outward, **hatched())
    seen: dict[str, int] = {}
    read: dict[str, list[Dot]] = {"o": [], "^": []}
    for point in points:
        day, low, high = point.taken_at[:10], point.low_um / per, point.high_um / per
        x = day_of(day) + seen.get(day, 0) * _SPREAD * (right - left)
        seen[day] = seen.get(day, 0) + 1
        dot = Dot(x, high, point.row, told(group, point))
        if low < high:
            colour = SOFT if point.in_doubt else MARK
            ax.plot([x, x], [low, high], "_", color=colour, markersize=5, zorder=4)
            ax.vlines([x], low, high, color=colour, linewidth=1.2, zorder=4).set_urls([dot.url])
        else:
            read["^" if point.in_doubt else "o"].append(dot)
    dots(ax, read["o"], "o", 3.4)
    dots(ax, read["^"], "^", 3.4, face=PAPER, edge=SOFT)
    named = [(end, word) for end, word in ((lower, "at least"), (upper, "at most")) if end is not None]
    names = [Beside(end / per, f"{word}\n{values.exactly(group, end)}", heavy=True) for end, word in named]
    beside(ax, names, _HEIGHT)
    says = f"{values.place(group)} over time: {count(len(points), 'reading')}."
    return finished(drawn, name, f"{says[:1].upper()}{says[1:]}", home=True)
