"""Those compared, a line each: every clamping, the mean, and what 19 in 20 stay under."""

from collections.abc import Mapping, Sequence
from typing import Final

from matplotlib.ticker import MaxNLocator

from qclog.questions.compare import Answer
from qclog.questions.dossier import Place, Point
from reports.pictures import marks
from reports.pictures.canvas import FAINT, INK, Picture, axes, dots, figure, finished, hatched, styled

_LEFT, _BOTTOM, _WIDTH = 0.95, 0.42, 2.6
_ROW: Final = 0.42
_HEAD: Final = 0.12
_CROWDED: Final = 60
_APART: Final = 0.15
_FARTHEST: Final = 0.3
"""In rows."""


@styled
def positions(
    answer: Answer, clampings: Mapping[str, tuple[Place, Sequence[Point]]], limit_um: float | None, name: str
) -> Picture:
    """``clampings``: of each of those compared, by name, where it was measured and what came of it."""
    rows = len(answer.groups)
    drawn = figure(_BOTTOM + rows * _ROW + _HEAD)
    ax = axes(drawn, _LEFT, _BOTTOM, _WIDTH, rows * _ROW)
    ax.spines["left"].set_visible(False)
    swings_um = {name: [point.value_um for point in points] for name, (_, points) in clampings.items()}
    most = [max(swings_um.get(one.name, ()), default=one.mean_um) for one in answer.groups]
    shown = [one.bound_um for one in answer.groups if one.bound_um is not None and one.bound_um < 3 * max(most)]
    ax.set_xlim(0, 1.1 * max([*most, *shown, limit_um or 0.0, 1.0]))
    ax.set_ylim(rows - 0.5, -0.5)
    ax.xaxis.set_major_locator(MaxNLocator(6, steps=[1, 2, 5, 10]))
    ax.set_yticks(range(rows), [_shortened(one.name) for one in answer.groups])
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel("TIR, µm", loc="left", labelpad=2)
    for row, one in enumerate(answer.groups):
        ax.axhline(row, color=FAINT, linewidth=0.6, zorder=0)
        if one.name in clampings:
            place, points = clampings[one.name]
            swings = swings_um[one.name]
            found = marks.of_points(place, points, swings, [row + beside for beside in _beside(swings)])
            dots(ax, found, "o", 2.4 if len(swings) > _CROWDED else 3.8, zorder=2)
        ax.plot([one.mean_um] * 2, [row - 0.34, row + 0.34], color=INK, linewidth=1.6, zorder=3)
        if one.bound_um in shown:
            ax.plot([one.bound_um] * 2, [row - 0.34, row + 0.34], color=INK, linewidth=1.0, dashes=(2.5, 1.5), zorder=3)
    if limit_um is not None:
        ax.axvline(limit_um, color=INK, linewidth=1.8)
        ax.axvspan(limit_um, limit_um + 0.02 * ax.get_xlim()[1], **hatched())
    told = ", ".join(f"{one.name}: mean {one.mean_um:.1f} µm of {one.clampings}" for one in answer.groups)
    return finished(drawn, name, f"Clampings compared. {told}.")


def _beside(swings_um: Sequence[float]) -> list[float]:
    """How far from its line each dot stands, in rows, so that equal ones are seen beside each other."""
    alike: dict[float, list[int]] = {}
    for i, swing in enumerate(swings_um):
        alike.setdefault(round(swing, 1), []).append(i)
    found = [0.0] * len(swings_um)
    for places in alike.values():
        apart = min(_APART, 2 * _FARTHEST / len(places))
        for k, i in enumerate(places):
            found[i] = (k - (len(places) - 1) / 2) * apart
    return found


def _shortened(name: str) -> str:
    return name if len(name) <= 14 else f"{name[:13]}…"
