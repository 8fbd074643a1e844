"""Before and after a modification, side by side on one scale: every clamping, both means, and the limits since."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from matplotlib.axes import Axes

from qclog.questions.dossier import Gained, Place, Point, ValueGained
from qclog.questions.judging.groups import Group
from reports import values
from reports.numbers import METRIC, count, exact, micrometres
from reports.pictures import marks
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Picture, axes, dots, figure, finished, hatched, styled
from reports.pictures.labels import Beside, beside, unit_above

_BOTTOM, _WIDTH, _HEIGHT = 0.4, 2.45, 1.6
_LEFT, _LEFT_OF_MM = 0.36, 0.5
_ABOVE: Final = 0.22
_BEFORE, _SINCE, _HALF = 0.0, 2.0, 0.42
"""Where the two stand, and half of how far their dots spread; the axis has no meaning of its own."""
_MARKED: Final = 0.78
_CROWDED: Final = 60
_HATCHED: Final = 0.05


@dataclass(frozen=True, slots=True)
class _Limit:
    """One end of what is allowed, in the unit of the axis; ``outward``: 1 where more is beyond it, else -1."""

    at: float
    outward: int
    text: str


@dataclass(frozen=True, slots=True)
class _Scale:
    """The upright axis from ``low`` to ``high`` in its unit of so many µm (``per``), and how figures in µm are said: a
    clamping's and a mean, and the difference of two means."""

    low: float
    high: float
    unit: str
    per: float
    say: Callable[[float], str]
    say_apart: Callable[[float], str]


@styled
def before_after(place: Place, gained: Gained, group: Group, name: str) -> Picture:
    """``group``: the clampings since, with the limit in force."""
    swings = [point.value_um for point in (*gained.before, *gained.since)]
    limits = []
    if group.limit_um is not None:
        whose = "setup's" if group.limit_from == "setup" else "made to"
        limits.append(_Limit(group.limit_um, 1, f"{whose}\n{exact(group.limit_um)}"))
    scale = _Scale(0.0, 1.18 * max([*swings, group.limit_um or 0.0, 1.0]), "µm", 1.0, _um, _um)
    return _drawn(place, gained, limits, scale, name, "clamping")


@styled
def value_before_after(one: ValueGained, name: str) -> Picture:
    """The same of a size, a gap or a difference, between its limits."""
    group, gained = one.group, one.gained
    in_mm = values.in_mm(group)
    per = 1000.0 if in_mm else 1.0
    found = group.limits_um
    ends = [("at least", -1, found.lower), ("at most", 1, found.upper)] if found else []
    limits = [
        _Limit(end / per, outward, f"{word}\n{values.exactly(group, end)}")
        for word, outward, end in ends
        if end is not None
    ]
    shown = [*(point.value_um / per for point in (*gained.before, *gained.since)), *(limit.at for limit in limits)]
    room = 0.15 * (max(shown) - min(shown)) or group.resolution_um / per
    scale = _Scale(
        min(shown) - room,
        max(shown) + room,
        "mm" if in_mm else "µm",
        per,
        lambda um: values.figure(group, um, METRIC, values.shown_step(group)),
        lambda um: micrometres(um, step_um=values.shown_step(group)),
    )
    return _drawn(one.place, gained, limits, scale, name, "reading")


def _drawn(place: Place, gained: Gained, limits: Sequence[_Limit], scale: _Scale, name: str, noun: str) -> Picture:
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    ax = axes(drawn, _LEFT if scale.per == 1.0 else _LEFT_OF_MM, _BOTTOM, _WIDTH, _HEIGHT)
    ax.set_ylim(scale.low, scale.high)
    ax.set_xlim(_BEFORE - 0.65, _SINCE + 0.65)
    ax.ticklabel_format(axis="y", useOffset=False, style="plain")
    told = ("before", gained.before), ("since", gained.since)
    ax.set_xticks([_BEFORE, _SINCE], [f"{when}\n{count(len(points), noun)}" for when, points in told])
    ax.tick_params(axis="x", length=0)
    unit_above(ax, scale.unit)
    tall = scale.high - scale.low
    for limit in limits:
        ends = [_SINCE - 0.5, _SINCE + 0.65]
        ax.plot(ends, [limit.at] * 2, color=INK, linewidth=1.8, solid_capstyle="butt", zorder=3)
        ax.fill_between(ends, limit.at, limit.at + limit.outward * _HATCHED * tall, **hatched())
    beside(ax, [Beside(limit.at, limit.text, heavy=True) for limit in limits], _HEIGHT)
    _column(ax, place, _BEFORE, gained.before, scale, face=PAPER, edge=SOFT)
    _column(ax, place, _SINCE, gained.since, scale, face=MARK, edge=MARK)
    before, since = gained.gain.before_um / scale.per, gained.gain.since_um / scale.per
    for x, mean in ((_BEFORE, before), (_SINCE, since)):
        ax.plot([x - _HALF, x + _HALF], [mean] * 2, color=INK, linewidth=1.6, zorder=2)
    ax.plot([_HALF, _MARKED + 0.08], [before] * 2, color=SOFT, linewidth=0.6)
    ax.plot([_SINCE - _HALF, _MARKED - 0.08], [since] * 2, color=SOFT, linewidth=0.6)
    ax.plot([_MARKED] * 2, [before, since], color=INK, linewidth=1.0)
    far = abs(before - since) > 0.2 * tall
    ax.annotate(
        f"{scale.say_apart(abs(gained.gain.gain_um))}\n{'less' if since <= before else 'more'}",
        (_MARKED, (before + since) / 2 if far else max(before, since)),
        xytext=(4, 0 if far else 3),
        textcoords="offset points",
        va="center" if far else "bottom",
        linespacing=1.1,
    )
    means = f"{scale.say(gained.gain.before_um)} and {scale.say(gained.gain.since_um)}"
    return finished(drawn, name, f"Before and since: {means} on the mean.")


def _column(ax: Axes, place: Place, x: float, points: Sequence[Point], scale: _Scale, *, face: str, edge: str) -> None:
    """The clampings in the order of time from left to right."""
    step = 2 * _HALF * 0.9 / max(len(points) - 1, 1)
    xs = [x + (i - (len(points) - 1) / 2) * step for i in range(len(points))]
    found = marks.of_points(place, points, xs, [point.value_um / scale.per for point in points], scale.say)
    dots(ax, found, "o", 2.0 if len(points) > _CROWDED else 3.4, face=face, edge=edge)


def _um(value: float) -> str:
    return micrometres(value, step_um=0.1)
