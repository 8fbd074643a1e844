"""The clampings of a statement against their limit, drawn on its paper: one after the other, sitting by sitting.

The signs are those of all pictures: a filled dot is a clamping, a heavy line the limit, hatched beyond as a section on
a drawing, a dashed line what 19 clampings in 20 stay under.
"""

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from fpdf.enums import Align

from qclog.questions.statement import Statement
from reports.numbers import date, micrometres
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
_SITTINGS: Final = 20
"""As many sittings are parted by lines; those of more would be a grey mesh."""


def draw(paper: Paper, statement: Statement) -> None:
    """Draw at the present height of the page; it takes ``HEIGHT``."""
    top, left = paper.get_y() + 5.0, LEFT + _UPRIGHT
    wide = WIDTH - _UPRIGHT - _NAMES
    group, swings = statement.result, [one.swing_um for one in statement.clampings]
    bound = group.bound.value_um if group.bound is not None and is_useful(group) else None
    highest = 1.15 * max([*swings, group.limit_um or 0.0, bound or 0.0, 1.0])

    def at(value: float) -> float:
        return top + _TALL * (1 - value / highest)

    paper.letters(SMALL)
    _axes(paper, left, wide, top, highest)
    _sittings(paper, statement, left, wide, top)
    names = [(group.tir_um.mean, f"mean {_um(group.tir_um.mean, shown_step(group))}", False)]
    paper.set_line_width(0.2)
    paper.line(left, at(group.tir_um.mean), left + wide, at(group.tir_um.mean))
    if bound is not None:
        paper.set_line_width(0.3)
        paper.set_dash_pattern(dash=2, gap=1.2)
        paper.line(left, at(bound), left + wide, at(bound))
        paper.set_dash_pattern()
        names.append((bound, f"19 in 20 under {_um(bound, shown_step(group), up=True)}", False))
    if group.limit_um is not None:
        _limit(paper, left, wide, at(group.limit_um), top)
        names.append((group.limit_um, f"limit {_um(group.limit_um, exact_step(group.limit_um))}", True))
    radius = 0.75 if len(swings) <= 60 else 0.45
    paper.set_fill_color(0)
    for number, swing in enumerate(swings):
        across = left + wide * (number + 0.5) / len(swings)
        paper.ellipse(across - radius, at(swing) - radius, 2 * radius, 2 * radius, style="F")
    _names(paper, left + wide + 1.5, [(at(value), text, heavy) for value, text, heavy in names])
    paper.set_y(top - 5.0 + HEIGHT)


def _axes(paper: Paper, left: float, wide: float, top: float, highest: float) -> None:
    paper.set_line_width(0.25)
    paper.line(left, top, left, top + _TALL)
    paper.line(left, top + _TALL, left + wide, top + _TALL)
    step = next(s * 10**power for power in range(-3, 9) for s in _STEPS if highest / (s * 10**power) <= 5.5)
    for number in range(int(highest / step) + 1):
        height = top + _TALL * (1 - number * step / highest)
        paper.line(left - 1, height, left, height)
        paper.set_xy(LEFT, height - 2)
        paper.cell(_UPRIGHT - 1.8, 4, f"{number * step:g}", align=Align.R)
    paper.set_xy(LEFT, top - 5)
    paper.cell(_UPRIGHT - 1.8, 4, "µm", align=Align.R)


def _sittings(paper: Paper, statement: Statement, left: float, wide: float, top: float) -> None:
    """A dotted line between sittings, of few, and the day of each below where there is room for it."""
    count, begun, free = len(statement.clampings), 0, left - _UPRIGHT
    parted = statement.result.sittings <= _SITTINGS
    paper.set_line_width(0.15)
    for _, together in groupby(statement.clampings, key=lambda one: one.sitting):
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
            paper.cell(_DATE, 4, date(found[0].taken_at), align=Align.C)
            free = middle + _DATE / 2 + 1
        begun += len(found)
    paper.set_xy(left, top + _TALL + 5)
    between = "; between dotted lines those of one sitting" if parted and statement.result.sittings > 1 else ""
    paper.cell(wide, 4, f"clampings, one after the other{between}", align=Align.C)


def _limit(paper: Paper, left: float, wide: float, height: float, top: float) -> None:
    tall = min(_BAND, height - top)
    paper.set_line_width(0.12)
    across = left
    while across < left + wide:
        run = min(tall, left + wide - across)
        paper.line(across, height, across + run, height - run)
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
