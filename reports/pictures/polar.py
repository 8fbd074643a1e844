"""Which way it runs out: the high spot of every clamping at one place, seen facing the nose."""

import math
from typing import Final

import numpy as np
from matplotlib.projections.polar import PolarAxes

from qclog.questions.dossier import Place
from qclog.questions.judging.groups import Group
from reports.numbers import angle, micrometres
from reports.pictures import marks
from reports.pictures.canvas import (
    FAINT,
    INK,
    PAPER,
    SOFT,
    WIDTH_IN,
    Picture,
    axes,
    dots,
    figure,
    finished,
    styled,
)
from reports.wording.verdicts import is_useful

_SIDE: Final = 2.5
_FOOT, _HEAD = 0.3, 0.3
_CROWDED: Final = 100
_TOOTH_OUT: Final = np.array([0.0, 0.05, math.nan])
"""How far out the ends of a tooth stand, of the outermost; nothing is drawn from one tooth to the next."""
_TEETH: Final = np.linspace(0, 2 * math.pi, 72, endpoint=False)[:, None] + _TOOTH_OUT
_ROUND: Final = np.linspace(0, 2 * math.pi, 181)


@styled
def polar(place: Place, group: Group, outermost_um: float, name: str) -> Picture:
    """The middle is a pin that runs dead true; how far out a mark stands is its TIR, to ``outermost_um``."""
    drawn = figure(_SIDE + _FOOT + _HEAD)
    ax = axes(drawn, (WIDTH_IN - _SIDE) / 2, _FOOT, _SIDE, _SIDE, projection="polar")
    assert isinstance(ax, PolarAxes)
    ax.set_theta_zero_location("N")
    ax.set_theta_direction(-1)
    ax.set_ylim(0, outermost_um)
    ax.set_xticks(np.radians([0, 90, 180, 270]), ["0°", "90°", "180°", "270°"])
    rings = _rings(outermost_um)
    ax.set_yticks(rings, [f"{ring:g}" for ring in rings], fontsize="small")
    ax.set_rlabel_position(45)
    for label in ax.get_yticklabels():
        label.set_bbox({"facecolor": PAPER, "edgecolor": "none", "pad": 0.8})
        label.set_zorder(5)
    ax.grid(color=FAINT, linewidth=0.6)
    ax.spines["polar"].set_visible(False)
    ax.tick_params(pad=1)
    if group.limit_um is not None:
        ax.plot(_ROUND, [group.limit_um] * len(_ROUND), color=INK, linewidth=1.8)
        ends = group.limit_um + outermost_um * _TOOTH_OUT
        ax.plot(_TEETH.ravel(), np.tile(ends, len(_TEETH)), color=SOFT, linewidth=0.6)
    if group.bound is not None and is_useful(group):
        ax.plot(_ROUND, [group.bound.value_um] * len(_ROUND), color=INK, linewidth=1.0, dashes=(4, 2))
    known = [(point, point.eccentricity) for point in place.points_of(group) if point.eccentricity is not None]
    angles = [math.radians(one.high_spot_deg) for _, one in known]
    found = marks.of_points(place, [point for point, _ in known], angles, [one.tir_um for _, one in known])
    dots(ax, found, "o", 2.4 if len(known) > _CROWDED else 4.0)
    if group.eccentricity is not None:
        at = math.radians(group.eccentricity.high_spot_deg)
        ax.plot([at, at], [0, group.eccentricity.tir_um], color=INK, linewidth=1.2, zorder=6)
        if group.repeat_um is not None:
            ring = group.eccentricity.tir_um * np.exp(1j * at) + group.repeat_um * np.exp(1j * _ROUND)
            ax.plot(np.angle(ring), np.abs(ring), color=INK, linewidth=1.0, dashes=(1, 1.2), zorder=6)
    return finished(drawn, name, _says(group))


def _rings(outermost: float) -> list[float]:
    """Two or three round values below the outermost."""
    for step in (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500):
        if outermost / step <= 4:
            break
    return [step * k for k in range(1, int(outermost / step) + 1)]


def _says(group: Group) -> str:
    if group.eccentricity is None:
        return "High spots of the clampings."
    size = micrometres(group.eccentricity.tir_um, step_um=0.1)
    return f"High spots of the clampings; on the mean {size} at {angle(group.eccentricity.high_spot_deg)}."
