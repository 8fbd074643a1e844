"""Run-out over time at one place: every clamping, what was done to the item, its limit and its bound."""

import itertools
from collections.abc import Sequence
from typing import Final

from matplotlib.axes import Axes

from qclog.questions.dossier import Place, Point, Stretch
from qclog.questions.judging.groups import Group
from reports.numbers import count, exact, micrometres
from reports.pictures import marks
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Picture, axes, dots, figure, finished, hatched, styled
from reports.pictures.dates import day_of, lay_out
from reports.pictures.labels import Beside, beside, unit_above
from reports.wording import places
from reports.wording.steps import shown_step
from reports.wording.verdicts import is_useful

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.36, 0.28, 2.45, 1.6
_ABOVE: Final = 0.18
_ROW: Final = 0.12
_CROWDED: Final = 100
_SPREAD: Final = 0.016
_ROWS: Final = 3
_LETTER_IN: Final = 0.062
_BESIDE_IN: Final = 0.8
"""Room at the right of the axes."""
_ROOMS: Final = (28, 16)
"""How many letters what was done is shortened to, where there is no room for more."""


@styled
def over_time(place: Place, changes: Sequence[tuple[str, str]], name: str, *, bounds_hold: bool = True) -> Picture:
    """``changes``: when something was done to the item, and what, in the order of time. ``bounds_hold``: the run-out
    does not change with time, so that a bound for all its clampings means something."""
    days = [day_of(point.taken_at) for stretch in place.stretches for point in stretch.points]
    starts = {day_of(when): what for when, what in changes if when and day_of(when) >= min(days) - 366}
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE + _ROW * min(len(starts), _ROWS))
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    lay_out(ax, [*days, *starts])
    left, right = ax.get_xlim()
    ax.set_xlim(left, right + 4 * _SPREAD * (right - left))  # room for the dots of the last day
    bounded = [group for group in place.groups if group.bound and is_useful(group)] if bounds_hold else []
    bounds = [group.bound.value_um for group in bounded if group.bound]
    limits = [stretch.limit_um for stretch in place.stretches if stretch.limit_um is not None]
    swings = [point.value_um for stretch in place.stretches for point in stretch.points]
    ax.set_ylim(0, 1.18 * max([*swings, *limits, *bounds, 1.0]))
    unit_above(ax)
    _draw_limits(ax, place.stretches)
    newest = place.stretches[-1]
    for stretch in place.stretches:
        _draw_points(ax, place, stretch, now=bool(place.groups) and stretch is newest, crowded=len(swings) > _CROWDED)
    for bound in bounds:
        since = day_of(newest.points[0].taken_at)
        ax.plot([since, ax.get_xlim()[1]], [bound, bound], color=INK, linewidth=1.0, dashes=(4, 2), zorder=3)
    _draw_changes(ax, starts)
    labels = [Beside(g.bound.value_um, f"19 in 20\nunder {_upward(g)}") for g in bounded if g.bound]
    if newest.limit_um is not None:
        whose = "setup's" if newest.limit_from == "setup" else "made to"
        labels.append(Beside(newest.limit_um, f"{whose}\n{_exactly(newest.limit_um)}", heavy=True))
    beside(ax, labels, _HEIGHT)
    return finished(drawn, name, _says(place, len(swings)), home=True)


def _draw_points(ax: Axes, place: Place, stretch: Stretch, *, now: bool, crowded: bool) -> None:
    low, high = ax.get_xlim()
    days: dict[str, int] = {}
    for point in stretch.points:
        days[point.taken_at[:10]] = days.get(point.taken_at[:10], 0) + 1
    placed = dict.fromkeys(days, 0)
    size = 2.0 if crowded else 3.4
    for counts, form in ((True, "o"), (False, "^")):
        points: list[Point] = []
        xs: list[float] = []
        for point in stretch.points:
            if (point.counts and not point.in_doubt) == counts:
                day, k = point.taken_at[:10], days[point.taken_at[:10]]
                step = min(_SPREAD, 6 * _SPREAD / k) * (high - low)
                points.append(point)
                xs.append(day_of(day) + placed[day] * step)
                placed[day] += 1
        full = now and counts
        found = marks.of_points(place, points, xs, [point.value_um for point in points])
        dots(ax, found, form, size, face=MARK if full else PAPER, edge=MARK if full else SOFT)


def _draw_limits(ax: Axes, stretches: Sequence[Stretch]) -> None:
    begins = [day_of(stretch.points[0].taken_at) for stretch in stretches]
    left, right = ax.get_xlim()
    band = 0.05 * ax.get_ylim()[1]
    for i, stretch in enumerate(stretches):
        if stretch.limit_um is None:
            continue
        start = begins[i] if i else left
        end = begins[i + 1] if i + 1 < len(stretches) else right
        ax.plot([start, end], [stretch.limit_um] * 2, color=INK, linewidth=1.8, solid_capstyle="butt", zorder=3)
        ax.fill_between([start, end], stretch.limit_um, stretch.limit_um + band, **hatched())


def _draw_changes(ax: Axes, starts: dict[float, str]) -> None:
    """A line where something was done, its name above where there is room, shortened where there is little; the newest
    first, so that it is never without a name."""
    low, high = ax.get_xlim()
    letter = _LETTER_IN / _WIDTH * (high - low)
    end = high + _BESIDE_IN / _WIDTH * (high - low)
    taken: list[list[tuple[float, float]]] = [[] for _ in range(_ROWS)]
    for day, what in sorted(starts.items(), reverse=True):
        ax.axvline(day, color=SOFT, linewidth=0.8, dashes=(1, 1.5), zorder=1)
        for text, left, row in itertools.product(_shortened(what), (False, True), range(_ROWS)):
            wide = (len(text) + 1) * letter
            start = day - wide if left else day
            free = all(start + wide <= first or start >= last for first, last in taken[row])
            if free and start >= low and start + wide <= end:
                taken[row].append((start, start + wide))
                ax.annotate(
                    text,
                    (day, 1.0),
                    xycoords=("data", "axes fraction"),
                    xytext=(-2 if left else 2, 2 + 9 * row),
                    textcoords="offset points",
                    ha="right" if left else "left",
                    color=SOFT,
                )
                break


def _shortened(what: str) -> list[str]:
    """What was done, and shorter forms of it: without its middle, as both ends tell it from others."""
    rooms = [room for room in _ROOMS if room < len(what)]
    return [what, *(f"{what[: room // 2]}…{what[room // 2 + 1 - room :]}" for room in rooms)]


def _upward(group: Group) -> str:
    return micrometres(group.bound.value_um if group.bound else 0.0, step_um=shown_step(group), round_up=True)


def _exactly(limit_um: float) -> str:
    return exact(limit_um)


def _says(place: Place, clampings: int) -> str:
    where = ", ".join(part for part in (place.setup, place.position and f"position {place.position}") if part)
    name, out = places.named(place.characteristic).capitalize(), places.out(place.distance_mm, place.characteristic)
    where = ", ".join(part for part in (where, out) if part)
    return f"{name} over time, {where}: {count(clampings, 'clamping')}."
