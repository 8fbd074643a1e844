"""The readings of a statement against their limits, drawn on its paper: one after the other, sitting by sitting.

The signs are those of all pictures: a filled dot is a clamping or a reading, a bar with two ends what pins told, a
heavy line a limit, hatched beyond as a section on a drawing, a dashed line what 19 in 20 stay under or over.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import ceil, floor
from typing import Final

from fpdf.enums import Align

from qclog.questions.stating.statement import Statement, SwingStatement, ValueStatement
from reports import values
from reports.numbers import METRIC, date, micrometres
from reports.statement.paper import LEFT, SMALL, WIDTH, Paper
from reports.wording.steps import exact_step, shown_step
from reports.wording.verdicts import is_useful

_TALL: Final = 46.0
_UPRIGHT: Final = 12.0
_NAMES: Final = 36.0
_BELOW: Final = 9.0
_BAND: Final = 3.0
_HATCH: Final = 2.2
_APART: Final = 4.2
_DATE: Final = 19.0
HEIGHT: Final = _TALL + _BELOW + 6.0
_SOFT: Final = 110
_STEPS: Final = (1, 2, 5)
_UPPER, _LOWER = "upper limit", "lower limit"
_SITTINGS: Final = 20
"""As many sittings are parted by lines; those of more would be a grey mesh."""


@dataclass(frozen=True, slots=True)
class _Line:
    """A line across at a height, with its name beside it: plain for a mean, dashed for a bound, heavy for a limit that
    is hatched upward or downward."""

    at: float
    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class _Drawn:
    """What is drawn of a statement, in ``unit``: the ends of each reading, equal ones for a number; the heights of the
    lower and the upper edge."""

    ends: list[tuple[float, float]]
    lines: list[_Line]
    lowest: float
    highest: float
    unit: str
    noun: str


def draw(paper: Paper, statement: Statement) -> None:
    """Draw at the present height of the page; it takes ``HEIGHT``."""
    drawn = _of_swings(statement) if isinstance(statement, SwingStatement) else _of_values(statement)
    top, left = paper.get_y() + 5.0, LEFT + _UPRIGHT
    paper.letters(SMALL, bold=True)
    names = max([_NAMES, *(paper.get_string_width(line.name) + 2.0 for line in drawn.lines if "limit" in line.kind)])
    paper.letters(SMALL)
    names = max([names, *(paper.get_string_width(line.name) + 2.0 for line in drawn.lines)])
    wide = WIDTH - _UPRIGHT - names

    def at(value: float) -> float:
        return top + _TALL * (1 - (value - drawn.lowest) / (drawn.highest - drawn.lowest))

    _axes(paper, left, wide, top, drawn)
    _sittings(paper, statement, left, wide, top, drawn.noun)
    for line in drawn.lines:
        _across(paper, line, left, wide, at(line.at), top)
    radius = 0.75 if len(drawn.ends) <= 60 else 0.45
    paper.set_fill_color(0)
    for number, (low, high) in enumerate(drawn.ends):
        across = left + wide * (number + 0.5) / len(drawn.ends)
        if low == high:
            paper.ellipse(across - radius, at(low) - radius, 2 * radius, 2 * radius, style="F")
        else:
            _bar(paper, across, at(low), at(high), radius)
    _names(paper, left + wide + 1.5, [(at(line.at), line.name, "limit" in line.kind) for line in drawn.lines])
    paper.set_y(top - 5.0 + HEIGHT)


def _of_swings(statement: SwingStatement) -> _Drawn:
    group, swings = statement.result, [one.swing_um for one in statement.clampings]
    mean, limit = group.tir_um.mean, group.limit_um
    lines = [_Line(mean, f"mean {_um(mean, shown_step(group))}", "mean")]
    if group.bound is not None and is_useful(group):
        bound = group.bound.value_um
        lines.append(_Line(bound, f"19 in 20 under {_um(bound, shown_step(group), up=True)}", "bound"))
    if limit is not None:
        lines.append(_Line(limit, f"limit {_um(limit, exact_step(limit))}", "upper limit"))
    highest = 1.15 * max([*swings, *(line.at for line in lines), 1.0])
    return _Drawn([(swing, swing) for swing in swings], lines, 0.0, highest, "µm", "clamping")


def _of_values(statement: ValueStatement) -> _Drawn:
    group = statement.result
    scale, unit = (1e-3, "mm") if values.in_mm(group) else (1.0, "µm")
    step, lines = values.shown_step(group), []
    if group.read_um.mean is not None:
        mean = group.read_um.mean
        lines.append(_Line(mean, f"mean {values.figure(group, mean, METRIC, step)}", "mean"))
    if group.bounds_um is not None and values.is_useful(group):
        for end, word, up in ((group.bounds_um.low, "over", False), (group.bounds_um.high, "under", True)):
            if end is not None:
                said = values.figure(group, end, METRIC, step, up=up, down=not up)
                lines.append(_Line(end, f"19 in 20 {word} {said}", "bound"))
    if group.limits_um is not None:
        for limit, kind in ((group.limits_um.lower, _LOWER), (group.limits_um.upper, _UPPER)):
            if limit is not None:
                lines.append(_Line(limit, f"limit {values.exactly(group, limit)}", kind))
    ends = [(one.low_um, one.high_um) for one in statement.clampings]
    heights = [*(end for both in ends for end in both), *(line.at for line in lines)]
    room = max(0.12 * (max(heights) - min(heights)), 0.5 * group.resolution_um)
    return _Drawn(
        [(low * scale, high * scale) for low, high in ends],
        [replace(line, at=line.at * scale) for line in lines],
        (min(heights) - room) * scale,
        (max(heights) + room) * scale,
        unit,
        "reading",
    )


def _across(paper: Paper, line: _Line, left: float, wide: float, height: float, top: float) -> None:
    if line.kind in (_UPPER, _LOWER):
        _limit(paper, left, wide, height, top, below=line.kind == _LOWER)
        return
    paper.set_line_width(0.2 if line.kind == "mean" else 0.3)
    if line.kind == "bound":
        paper.set_dash_pattern(dash=2, gap=1.2)
    paper.line(left, height, left + wide, height)
    paper.set_dash_pattern()


def _bar(paper: Paper, across: float, low: float, high: float, radius: float) -> None:
    """Between what pins told: a bar with two ends."""
    paper.set_line_width(0.3)
    paper.line(across, low, across, high)
    for end in (low, high):
        paper.line(across - radius, end, across + radius, end)


def _axes(paper: Paper, left: float, wide: float, top: float, drawn: _Drawn) -> None:
    paper.set_line_width(0.25)
    paper.line(left, top, left, top + _TALL)
    paper.line(left, top + _TALL, left + wide, top + _TALL)
    span = drawn.highest - drawn.lowest
    power, step = next((p, s * 10.0**p) for p in range(-6, 9) for s in _STEPS if span / (s * 10.0**p) <= 5.5)
    for number in range(ceil(drawn.lowest / step - 1e-9), floor(drawn.highest / step + 1e-9) + 1):
        height = top + _TALL * (1 - (number * step - drawn.lowest) / span)
        paper.line(left - 1, height, left, height)
        paper.set_xy(LEFT, height - 2)
        paper.cell(_UPRIGHT - 1.8, 4, f"{number * step:.{max(0, -power)}f}", align=Align.R)
    paper.set_xy(LEFT, top - 5)
    paper.cell(_UPRIGHT - 1.8, 4, drawn.unit, align=Align.R)


def _sittings(paper: Paper, statement: Statement, left: float, wide: float, top: float, noun: str) -> None:
    """A dotted line between sittings, of few, and the day of each below where there is room for it."""
    count, begun, free = len(statement.clampings), 0, left - _UPRIGHT
    parted = statement.result.sittings <= _SITTINGS
    paper.set_line_width(0.15)
    taken = [(one.sitting, one.taken_at) for one in statement.clampings]
    for _, together in groupby(taken, key=lambda one: one[0]):
        found = list(together)
        start, end = (left + wide * place / count for place in (begun, begun + len(found)))
        if begun and parted:
            paper.set_draw_color(_SOFT)
            paper.set_dash_pattern(dash=0.4, gap=0.8)
            paper.line(start, top, start, top + _TALL)
            paper.set_dash_pattern()
            paper.set_draw_color(0)
        middle = (start + end) / 2
        if middle - _DATE / 2 >= free:
            paper.line(middle, top + _TALL, middle, top + _TALL + 1)
            paper.set_xy(middle - _DATE / 2, top + _TALL + 1.2)
            paper.cell(_DATE, 4, date(found[0][1]), align=Align.C)
            free = middle + _DATE / 2 + 1
        begun += len(found)
    paper.set_xy(left, top + _TALL + 5)
    between = "; between dotted lines those of one sitting" if parted and statement.result.sittings > 1 else ""
    paper.cell(wide, 4, f"{noun}s, one after the other{between}", align=Align.C)


def _limit(paper: Paper, left: float, wide: float, height: float, top: float, *, below: bool) -> None:
    """Hatched above, or ``below``."""
    tall = min(_BAND, top + _TALL - height if below else height - top)
    paper.set_line_width(0.12)
    across = left
    while across < left + wide:
        run = min(tall, left + wide - across)
        paper.line(across, height, across + run, height + (run if below else -run))
        across += _HATCH
    paper.set_line_width(0.7)
    paper.line(left, height, left + wide, height)


def _names(paper: Paper, left: float, names: Sequence[tuple[float, str, bool]]) -> None:
    """Each name as near to its line as the others allow, from the lowest up."""
    before = float("inf")
    for height, text, heavy in sorted(names, reverse=True):
        before = min(height, before - _APART)
        paper.letters(SMALL, bold=heavy)
        paper.set_xy(left, before - 2)
        paper.cell(_NAMES, 4, text)


def _um(value: float, step: float, *, up: bool = False) -> str:
    return micrometres(value, step_um=step, round_up=up)
