"""Whether a process is steady: its points in their order with the limits they are judged by, and under them the sum."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from qclog.questions.chart import Answer
from qclog.records import SWINGS
from reports.chart import in_mm, noun, useful_limit, where
from reports.numbers import UM_PER_MM, count, length, micrometres
from reports.pictures.canvas import INK, MARK, PAPER, SOFT, Picture, axes, figure, finished, hatched, styled
from reports.pictures.labels import Beside, beside, unit_above
from reports.wording.steps import exact_step

_LEFT, _RIGHT, _LEFT_IN_MM = 0.36, 2.81, 0.56
_SUM_BOTTOM, _SUM_HEIGHT = 0.4, 0.55
_BOTTOM, _HEIGHT = 1.15, 1.55
_ABOVE: Final = 0.25
_CROWDED: Final = 60
_NEAR_THE_EDGE: Final = 0.25
CHAIN: Final = (6, 1.5, 1, 1.5)
"""A line of dashes and dots is what a chart judges by."""


@styled
def chart_picture(answer: Answer, name: str) -> Picture:
    """One place: a diamond is the mean of a sitting, a dot a clamping, a square either beyond what it is judged by."""
    drawn = figure(_BOTTOM + _HEIGHT + _ABOVE)
    left = _LEFT_IN_MM if in_mm(answer) else _LEFT
    ax = axes(drawn, left, _BOTTOM, _RIGHT - left, _HEIGHT)
    under = axes(drawn, left, _SUM_BOTTOM, _RIGHT - left, _SUM_HEIGHT)
    at = np.arange(1, len(answer.points) + 1)
    for one in (ax, under):
        one.set_xlim(0.4, len(at) + 0.6)
    _points(ax, answer, at)
    _sum(under, answer, at)
    return finished(drawn, name, _says(answer))


def made_to_drawn(answer: Answer) -> list[tuple[float, int]]:
    """The limits it was made to that lie within the picture, µm, each with which way is beyond: 1 up, -1 down."""
    bottom, top = _reach(answer)
    ends = ((answer.lower_limit_um, -1), (answer.limit_um, 1))
    return [(end, outward) for end, outward in ends if end is not None and bottom <= end / _per(answer) <= top]


def _limits(answer: Answer) -> dict[str, np.ndarray]:
    """What its points are judged by, in the picture's unit."""
    upper = _numbers([useful_limit(answer, point) for point in answer.points]) / _per(answer)
    return {edge: _column(answer, edge) for edge in ("lower_um", "centre_um")} | {"upper_um": upper}


def _reach(answer: Answer) -> tuple[float, float]:
    """From where to where the picture goes, in its unit."""
    values, limits = _column(answer, "value_um"), _limits(answer)
    if answer.characteristic in SWINGS:
        # the first limits, learnt from a few points, are wide: not all of them have to be in the picture
        least = limits["upper_um"][np.isfinite(limits["upper_um"])]
        tops = [float(values.max()), answer.limit_um or 0.0, float(least.min()) if least.size else 0.0]
        return 0.0, 1.18 * max(tops)
    seen = np.concatenate([values, *limits.values()])
    high, low = float(np.nanmax(seen)), float(np.nanmin(seen))
    room = max(0.12 * (high - low), 0.1 / _per(answer))
    return low - room, high + room


def _points(ax: Axes, answer: Answer, at: np.ndarray) -> None:
    values, limits = _column(answer, "value_um"), _limits(answer)
    ax.set_ylim(*_reach(answer))
    ax.set_xticks([])
    ax.ticklabel_format(axis="y", useOffset=False, style="plain")
    unit_above(ax, "mm" if in_mm(answer) else "µm")
    for edge, style in (("lower_um", CHAIN), ("centre_um", (1, 1.5)), ("upper_um", CHAIN)):
        shown = np.isfinite(limits[edge])
        if shown.any():
            colour = SOFT if edge == "centre_um" else INK
            ax.step(at[shown], limits[edge][shown], where="mid", color=colour, linewidth=0.9, dashes=style, zorder=2)
    if len(at) <= _CROWDED:
        ax.plot(at, values, color=SOFT, linewidth=0.5, zorder=3)
    beyond = np.array([point.beyond for point in answer.points])
    size = 2.2 if len(at) > _CROWDED else 3.6
    form = "D" if answer.points_are == "sittings" else "o"
    ax.plot(at[~beyond], values[~beyond], form, markersize=size, color=MARK, zorder=4)
    ax.plot(
        at[beyond], values[beyond], "s", markersize=size + 1.2, markerfacecolor=PAPER, markeredgecolor=MARK, zorder=5
    )
    labels = []
    last = answer.points[-1]
    bottom, top = ax.get_ylim()
    if (upper := useful_limit(answer, last)) is not None and upper / _per(answer) <= top:
        labels.append(Beside(upper / _per(answer), "usual\nup to here"))
    if last.centre_um is not None and bottom <= last.centre_um / _per(answer) <= top:
        labels.append(Beside(last.centre_um / _per(answer), "centre" if answer.two_sided else "usual"))
    for end, outward in made_to_drawn(answer):
        at_end = end / _per(answer)
        ax.axhline(at_end, color=INK, linewidth=1.8, zorder=3)
        ax.axhspan(at_end, at_end + outward * 0.04 * (top - bottom), **hatched())
        labels.append(Beside(at_end, f"made to\n{_exactly(answer, end)}", heavy=True))
    beside(ax, labels, _HEIGHT)
    dates = [point.at for point in answer.points]
    for signal in answer.signals:
        if signal.since is not None and not signal.hint:
            ax.axvline(at[dates.index(signal.since)] - 0.5, color=SOFT, linewidth=0.8, dashes=(1, 1.5), zorder=1)
            ax.annotate(
                f"since {signal.since}",
                (at[dates.index(signal.since)] - 0.5, 1.0),
                xycoords=("data", "axes fraction"),
                xytext=(0, 3),
                textcoords="offset points",
                ha="left" if dates.index(signal.since) < _NEAR_THE_EDGE * len(dates) else "center",
                va="bottom",
                color=SOFT,
            )
            break


def _sum(ax: Axes, answer: Answer, at: np.ndarray) -> None:
    """The cumulative sum, as bars, with the limit above which it alarms."""
    sums = _column(answer, "sum")
    known = np.isfinite(sums)
    ax.set_ylim(0, 1.15 * max(answer.sum_limit * 1.1, *sums[known], 0.0) if known.any() else answer.sum_limit * 1.2)
    ax.bar(at[known], sums[known], width=0.5, color=[MARK if s > answer.sum_limit else SOFT for s in sums[known]])
    ax.axhline(answer.sum_limit, color=INK, linewidth=0.9, dashes=CHAIN)
    beside(ax, [Beside(answer.sum_limit, "alarm")], _SUM_HEIGHT)
    ax.set_yticks([0])
    ax.xaxis.set_major_locator(MaxNLocator(6, integer=True))
    ax.set_xlabel("sittings, in order" if answer.points_are == "sittings" else f"{noun(answer)}s, in order", labelpad=2)
    ax.annotate(
        "sum", (0.0, 1.0), xycoords="axes fraction", xytext=(-6, 2), textcoords="offset points", ha="right", va="bottom"
    )


def _column(answer: Answer, name: str) -> np.ndarray:
    found = _numbers([getattr(point, name) for point in answer.points])
    return found / _per(answer) if name.endswith("_um") else found


def _per(answer: Answer) -> float:
    """How many µm a unit of the picture is."""
    return UM_PER_MM if in_mm(answer) else 1.0


def _exactly(answer: Answer, limit_um: float) -> str:
    if in_mm(answer):
        return length(round(limit_um * 1e6))
    return micrometres(limit_um, step_um=exact_step(abs(limit_um) or 1.0))


def _numbers(values: Sequence[float | None]) -> np.ndarray:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _says(answer: Answer) -> str:
    read = count(len(answer.points), "sitting" if answer.points_are == "sittings" else noun(answer))
    return f"Chart of {where(answer).replace(' in ', ', ', 1)}: {read}."
