"""A size, a gap or a difference over time, between its limits: what was read, as a bar where pins told it."""

from collections.abc import Sequence
from typing import Final

from qclog.logbook.life import Life, LoggedTurn
from qclog.questions.values import ValueGroup
from reports import values
from reports.numbers import count
from reports.pictures.canvas import INK, MARK, Picture, axes, figure, finished, hatched, styled
from reports.pictures.dates import day_of, lay_out
from reports.pictures.labels import Beside, beside, unit_above

_LEFT, _BOTTOM, _WIDTH, _HEIGHT = 0.5, 0.28, 2.2, 1.5
_ABOVE: Final = 0.3
_SPREAD: Final = 0.012
_BEYOND: Final = 0.06
_Points = Sequence[tuple[str, float, float]]


def points_of(life: Life, group: ValueGroup) -> list[tuple[str, float, float]]:
    """When, and between which ends in µm, the readings behind a group lie; equal ends where a number was read."""
    newest = max(change.number for change in life.modifications)
    here = (newest, group.setup, group.setup_revision, group.position, group.clocking)
    return [
        (clamping.taken_at, *(turn.ends_um or (turn.value_um, turn.value_um)))
        for clamping in life.clampings
        if (clamping.modification, clamping.setup, clamping.revision, clamping.position, clamping.clocking) == here
        and not (clamping.struck or clamping.recalled)
        for turn in clamping.turns
        if turn.value_um is not None and _is_of(turn, group)
    ]


@styled
def values_over_time(group: ValueGroup, points: _Points, name: str) -> Picture:
    """``points``: as ``points_of`` gives them, at least one."""
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, _HEIGHT)
    per = 1000.0 if values.in_mm(group) else 1.0
    limits = group.limits_um
    lower, upper = (None, None) if limits is None else (limits.lower, limits.upper)
    ends = [end / per for _, low, high in points for end in (low, high)]
    shown = ends + [end / per for end in (lower, upper) if end is not None]
    room = (max(shown) - min(shown)) * 0.15 or group.resolution_um / per
    lay_out(ax, [day_of(when) for when, _, _ in points])
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
    for when, low, high in points:
        x = day_of(when) + seen.get(when[:10], 0) * _SPREAD * (right - left)
        seen[when[:10]] = seen.get(when[:10], 0) + 1
        if low < high:
            ax.plot([x, x], [low / per, high / per], "_-", color=MARK, markersize=5, linewidth=1.2, zorder=4)
        else:
            ax.plot([x], [low / per], "o", markersize=3.4, color=MARK, zorder=4, clip_on=False)
    told = [(end, word) for end, word in ((lower, "at least"), (upper, "at most")) if end is not None]
    names = [Beside(end / per, f"{word}\n{values.exactly(group, end)}", heavy=True) for end, word in told]
    beside(ax, names, _HEIGHT)
    says = f"{values.place(group)} over time: {count(len(points), 'reading')}."
    return finished(drawn, name, f"{says[:1].upper()}{says[1:]}")


def _is_of(turn: LoggedTurn, group: ValueGroup) -> bool:
    distance_mm = round(turn.distance_pm / 1e8) / 10
    return (turn.characteristic, distance_mm, turn.struck) == (group.characteristic, group.distance_mm, "")
