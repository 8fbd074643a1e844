"""The run-outs of a chain head to tail, seen facing the nose: how its parts make up the whole, or make up for it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from matplotlib.axes import Axes

from qclog.questions.chain import Answer
from qclog.questions.chains.distances import Part
from qclog.questions.codes import Clocking
from reports.chain import short_name
from reports.numbers import angle, micrometres
from reports.pictures.canvas import (
    FAINT,
    INK,
    LETTERING,
    MARK,
    PAPER,
    SOFT,
    WIDTH_IN,
    Picture,
    axes,
    figure,
    finished,
    styled,
)

_SIDE: Final = 3.0
_QUARTERS: Final = ((0, "center", "bottom"), (90, "left", "center"), (180, "center", "top"), (270, "right", "center"))
_FOOT, _HEAD = 0.22, 0.22
_ROUND: Final = np.linspace(0, 2 * math.pi, 181)
_ALONG: Final = np.linspace(0.0, 1.0, 61)
_AROUND: Final = np.linspace(0, 2 * math.pi, 24, endpoint=False)
_FAR: Final = (0.03, 0.06, 0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6)
"""How far a label may stand from the middle of its arrow, as a share of the rim; from ``_NEAR`` on with a line."""
_NEAR: Final = 0.06
_TEETH: Final = np.linspace(0, 2 * math.pi, 72, endpoint=False)


def chain_pictures(answer: Answer, name: str) -> list[tuple[str, Picture, str]]:
    """With title and caption: as clocked now, and as advised if anything is; none where parts are not told apart."""
    parts = answer.decisive.parts
    if not parts or any(part.tir_um is None for part in parts):
        return []
    rim = _outermost(answer)
    shown = [("As clocked now, facing the nose", _picture(answer, rim, f"{name} now", advised=False), _caption(answer))]
    if answer.advice.what is Clocking.TURN:
        picture = _picture(answer, rim, f"{name} advised", advised=True)
        shown.append(("As advised", picture, "The same parts turned as advised; confirm it by clamping so."))
    return shown


def _caption(answer: Answer) -> str:
    told = [
        "Arrows: the parts, head to tail, as long as the TIR each causes; the cross is the spindle's axis.",
        "Thick line with a dot: all together, test pin included.",
    ]
    if any(_circle(part) for part in answer.decisive.parts):
        told.append("Dotted ring about a head: how well that part is known (95 %).")
    if answer.decisive.limit_um is not None:
        told.append("Heavy circle: the limit.")
    return " ".join(told)


@styled
def _picture(answer: Answer, outermost_um: float, name: str, *, advised: bool) -> Picture:
    """As clocked now, or as ``advised``. The middle is the spindle's axis; lengths are TIR, to ``outermost_um``."""
    distance = answer.decisive
    drawn = figure(_SIDE + _FOOT + _HEAD)
    ax = axes(drawn, (WIDTH_IN - _SIDE) / 2, _FOOT, _SIDE, _SIDE)
    ax.set_axis_off()
    ax.set_aspect("equal")
    ax.set_xlim(-outermost_um, outermost_um)
    ax.set_ylim(-outermost_um, outermost_um)
    _dial(ax, outermost_um)
    if distance.limit_um is not None:
        ring = distance.limit_um * np.exp(1j * _ROUND)
        ax.plot(ring.real, ring.imag, color=INK, linewidth=1.8)
        for at in distance.limit_um * np.exp(1j * _TEETH):
            away = at * (1 + 0.05 * outermost_um / distance.limit_um) * np.exp(0.05j)
            ax.plot([at.real, away.real], [at.imag, away.imag], color=SOFT, linewidth=0.6)
    tail = 0j
    arrows: list[tuple[str, complex, complex]] = []
    for part in distance.parts:
        head = tail + _vector(part, advised=advised)
        _arrow(ax, tail, head)
        if _circle(part):
            ring = head + _circle(part) * np.exp(1j * _ROUND)
            ax.plot(ring.real, ring.imag, color=INK, linewidth=0.9, dashes=(1, 1.2), zorder=4)
        arrows.append((short_name(part), tail, head))
        tail = head
    _labels(ax, arrows, outermost_um)
    ax.plot([0, tail.real], [0, tail.imag], color=MARK, linewidth=2.6, solid_capstyle="round", zorder=5)
    ax.plot([tail.real], [tail.imag], "o", color=MARK, markersize=5, zorder=7)
    ax.plot([0], [0], "+", color=INK, markersize=8, zorder=7)
    size = micrometres(abs(tail), step_um=0.1)
    turned = "as advised" if advised else "as clocked now"
    return finished(drawn, name, f"Parts of the chain head to tail, {turned}: together {size}.")


def _outermost(answer: Answer) -> float:
    """The TIR at the rim, the same for both pictures of an answer."""
    reach = [answer.decisive.limit_um or 0.0, 1.0]
    for advised in (False, True):
        tail = 0j
        for part in answer.decisive.parts:
            if (part.then_deg if advised else part.now_deg) is not None:
                tail += _vector(part, advised=advised)
                reach.append(abs(tail) + min(_circle(part), part.tir_um or 0.0))
    return 1.12 * max(reach)


def _circle(part: Part) -> float:
    """0 where not known."""
    return part.circle_um if part.circle_um is not None and math.isfinite(part.circle_um) else 0.0


def _vector(part: Part, *, advised: bool) -> complex:
    """On the paper: 0 degrees up, clockwise."""
    degrees = part.then_deg if advised else part.now_deg
    assert degrees is not None
    assert part.tir_um is not None
    return part.tir_um * complex(math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))


def _dial(ax: Axes, outermost_um: float) -> None:
    step = next(s for s in (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if outermost_um / s <= 4)
    for k in range(1, int(outermost_um / step) + 1):
        ring = step * k * np.exp(1j * _ROUND)
        ax.plot(ring.real, ring.imag, color=FAINT, linewidth=0.6, zorder=1)
        at = step * k * complex(math.sin(math.radians(45)), math.cos(math.radians(45)))
        ax.text(
            at.real, at.imag, f"{step * k:g}", fontsize="small", color=SOFT, ha="center", va="center", zorder=2,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )  # fmt: skip
    for degrees, ha, va in (
        (0, "center", "bottom"),
        (90, "left", "center"),
        (180, "center", "top"),
        (270, "right", "center"),
    ):
        at = outermost_um * complex(math.sin(math.radians(degrees)), math.cos(math.radians(degrees)))
        ax.plot([0, at.real], [0, at.imag], color=FAINT, linewidth=0.6, zorder=1)
        ax.text(at.real, at.imag, angle(degrees), ha=ha, va=va, clip_on=False)


def _arrow(ax: Axes, tail: complex, head: complex) -> None:
    ax.annotate(
        "", (head.real, head.imag), (tail.real, tail.imag), zorder=6,
        arrowprops={"arrowstyle": "-|>,head_length=0.5", "color": INK, "linewidth": 1.1, "shrinkA": 0, "shrinkB": 0},
    )  # fmt: skip


def _labels(ax: Axes, arrows: Sequence[tuple[str, complex, complex]], outermost_um: float) -> None:
    """Each as near to the middle of its arrow as there is room, a fine line leading to what is farther off."""
    lines = [tail + share * (head - tail) for _, tail, head in arrows for share in _ALONG]
    lines += [share * arrows[-1][2] for share in _ALONG]
    figures = [complex(*text.get_position()) for text in ax.texts if float(text.get_fontsize()) < LETTERING]
    taken = [_Box(at, 0.07 * outermost_um, 0.06 * outermost_um) for at in figures]
    for text, tail, head in sorted(arrows, key=lambda arrow: abs(arrow[2] - arrow[1])):
        label = ax.text(
            0, 0, text, ha="center", va="center", zorder=8,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.8},
        )  # fmt: skip
        extent, scale = label.get_window_extent(), 2 * outermost_um / ax.bbox.width
        wide, tall = extent.width * scale / 2 + 0.015 * outermost_um, extent.height * scale / 2 + 0.01 * outermost_um
        middle, best = (tail + head) / 2, None
        for far in _FAR:
            for toward in np.exp(1j * _AROUND):
                away = far * outermost_um + wide * abs(toward.real) + tall * abs(toward.imag)
                box = _Box(middle + away * toward, wide, tall)
                crossed = sum(box.holds(point) for point in lines)
                cost = far + 0.05 * crossed + 100 * sum(box.overlaps(other) for other in taken)
                cost += 100 * (not box.within(outermost_um))
                if best is None or cost < best[0]:
                    best = cost, box, far
        assert best is not None
        _, box, far = best
        taken.append(box)
        label.set_position((box.at.real, box.at.imag))
        if far > _NEAR:
            ax.plot([middle.real, box.at.real], [middle.imag, box.at.imag], color=SOFT, linewidth=0.6, zorder=3)


@dataclass(frozen=True, slots=True)
class _Box:
    """Where a label stands: its middle, half as wide and half as tall, in µm on the paper."""

    at: complex
    wide: float
    tall: float

    def overlaps(self, other: "_Box") -> bool:
        apart = self.at - other.at
        return abs(apart.real) < self.wide + other.wide and abs(apart.imag) < self.tall + other.tall

    def holds(self, point: complex) -> bool:
        return self.overlaps(_Box(point, 0.0, 0.0))

    def within(self, outermost_um: float) -> bool:
        return abs(self.at.real) + self.wide <= outermost_um and abs(self.at.imag) + self.tall <= outermost_um
