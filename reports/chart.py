"""Whether processes are steady, as text: the answer first, then the points, then how sure such a chart is."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.chart import LEARNING, STEADY, TOO_FEW, Answer, Performance
from qclog.questions.charted import Point, Signal
from qclog.questions.codes import Caveat
from qclog.records import SWINGS
from reports import values
from reports.assessment import TERMINAL, WIDTH
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, count, limits, micrometres, one_in, size
from reports.tables import fitted
from reports.wording.caveats import CAVEATS
from reports.wording.chart import CHART_SIGNS
from reports.wording.places import place

_STEP_UM: Final = 0.1
_FIRST_LEFT_OUT: Final = ("n", "usual", "centre", "lower limit", "sum", "upper limit")
_MOST_POINTS: Final = 30
_WORTH_SAYING: Final = 0.25
"""So many false alarms to be expected are worth a word."""
_NO_USE: Final = 3.0
"""A limit so many times the largest point says nothing a toolmaker could use."""


def chart(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One place after the other."""
    return "\n\n".join("\n".join(_one(answer, style)) for answer in answers)


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    lines = _wrapped(f"{where(answer)}: {sentence(answer)}", "")
    if answer.state == TOO_FEW:
        return lines
    shown = answer.points[-_MOST_POINTS:]
    earlier = len(answer.points) - len(shown)
    header = ("day", "n", "mean" if answer.points_are == "sittings" else "read", *_limits_header(answer), "sum", "")
    rows = [_row(answer, point) for point in shown]
    table = fitted(dict(zip(header, zip(*rows, strict=True), strict=True)), TERMINAL - 2, _FIRST_LEFT_OUT)
    lines += ["", *([f"  ({count(earlier, 'point')} before these)"] if earlier else [])]
    lines += [*(f"  {line}" for line in table), ""]
    notes = [_figures(answer), *hints(answer), *run_lengths(answer), *performance(answer, style), *limits_of(answer)]
    return [*lines, *(line for note in notes for line in _wrapped(note, "  - "))]


def where(answer: Answer) -> str:
    """ "B-860 in LATHE-A, position N, 16 mm out"; "N-8, diametral gap" of what is no swing."""
    if answer.characteristic in SWINGS:
        return f"{answer.item} in {place(answer)}"
    return f"{answer.item}, {values.place(answer)}"


def in_mm(answer: Answer) -> bool:
    """Whether its figures are shown in mm, as those of sizes are."""
    ends = (answer.limit_um, answer.lower_limit_um, *(point.value_um for point in answer.points))
    return answer.characteristic not in SWINGS and any(abs(end) >= UM_PER_MM for end in ends if end is not None)


def sentence(answer: Answer) -> str:
    """Whether the process is steady, in a sentence or two."""
    read = f"{count(answer.clampings, noun(answer))} in {count(answer.sittings, 'sitting')}"
    if Caveat.BY_PINS in answer.caveats:
        return f"not charted ({read}). Pins tell only between what it lies: nothing in between was read."
    if answer.state == TOO_FEW:
        return f"too few to tell ({read}); a chart begins with three days, or three {noun(answer)}s on one."
    if answer.state == STEADY:
        return f"steady ({read}): nothing speaks against it."
    if answer.state == LEARNING:
        one_day = " within that day" if answer.points_are == "clampings" else ""
        return f"steady{one_day} as far as can be told ({read}): nothing speaks against it yet."
    alarms = "; ".join(_signal(signal) for signal in answer.signals if not signal.hint)
    return f"NOT STEADY ({read}): {alarms}. {_what_to_do(answer)}"


def _signal(signal: Signal) -> str:
    since = f", since about {signal.since}" if signal.since else ""
    return f"{CHART_SIGNS[signal.sign]} ({signal.at}{since})"


def _what_to_do(answer: Answer) -> str:
    if answer.characteristic in SWINGS:
        return f"Look for what happened then; what it runs now and how it goes on: qclog wear {answer.item}"
    return "Look for what happened then, and measure again."


def useful_limit(answer: Answer, point: Point) -> float | None:
    """The upper limit of a point, None where it was learnt from so few that it says nothing yet."""
    if answer.two_sided:
        return point.upper_um
    largest = max(abs(one.value_um) for one in answer.points)
    return None if point.upper_um is None or point.upper_um > _NO_USE * largest else point.upper_um


def _limits_header(answer: Answer) -> tuple[str, ...]:
    return ("lower limit", "centre", "upper limit") if answer.two_sided else ("usual", "upper limit")


def _row(answer: Answer, point: Point) -> tuple[str, ...]:
    edges = [*([point.lower_um] if answer.two_sided else []), point.centre_um, useful_limit(answer, point)]
    mark = " ".join(
        word
        for word, is_so in (
            ("beyond", point.beyond),
            ("alarm", point.sum is not None and point.sum > answer.sum_limit),
        )
        if is_so
    )
    total = "-" if point.sum is None else f"{point.sum:.1f}"
    figures = (_bare(answer, figure) for figure in (point.value_um, *edges))
    return (point.at, str(point.clampings), *figures, total, mark)


def _figures(answer: Answer) -> str:
    what = "the mean of each sitting" if answer.points_are == "sittings" else f"each {noun(answer)}"
    if answer.two_sided:
        unit = "mm" if in_mm(answer) else "µm"
        return (
            f"Figures in {unit}, {what}; {answer.method}. Limits lie three standard deviations of a point away; the "
            f"sum of what points lie off the centre alarms above {answer.sum_limit:g} standard deviations."
        )
    return (
        f"Figures in µm TIR, {what}, judged by those before it: above the upper limit comes once in 370 by chance. "
        "The sum gathers what points lie above those before, in standard deviations, and alarms above "
        f"{answer.sum_limit:.2g}. Only worsening is looked for.{_no_limit_yet(answer)}"
    )


def _no_limit_yet(answer: Answer) -> str:
    """Why points have no upper limit though something is usual there."""
    points = answer.points[-_MOST_POINTS:]
    if all(point.centre_um is None or useful_limit(answer, point) is not None for point in points):
        return ""
    return (
        " No upper limit (-): learnt from so few points before it that it would lie more than "
        f"{_NO_USE:g} times above all that was read. Until then the sum alone judges."
    )


def hints(answer: Answer) -> list[str]:
    """What keeps to one side of the centre, in a sentence; nothing where nothing does."""
    found = [signal for signal in answer.signals if signal.hint]
    if not found:
        return []
    told = "; ".join(_signal(signal) for signal in found)
    return [
        f"Hints: {told}. Such a hint, or a point beyond the limits, comes by chance once in {answer.hint_every} points."
    ]


def run_lengths(answer: Answer) -> list[str]:
    """How long the sum and single points run until they alarm: falsely, and after a change."""
    way = "change" if answer.two_sided else "rise"
    sums = {one.shift_sd: one.points for one in answer.run_lengths}
    points = {one.shift_sd: one.points for one in answer.run_lengths_of_points}
    expected = len(answer.points) / points[0.0]
    over = f"; over these {len(answer.points)} about {expected:.1g} of each" if expected > _WORTH_SAYING else ""
    return [
        f"With nothing wrong the sum alarms once in {sums[0.0]:.0f} points on average, a single point once in "
        f"{points[0.0]:.0f}{over}.",
        f"A {way} by one standard deviation of a point is found by the sum after about {sums[1.0]:.0f} points, by a "
        f"single point after {points[1.0]:.0f}; by two after {sums[2.0]:.0f} and {points[2.0]:.0f}.",
    ]


def limits_of(answer: Answer) -> list[str]:
    """What limits the answer, a sentence each."""
    return [values.caveat(code) if answer.two_sided else CAVEATS[code] for code in answer.caveats]


def performance(answer: Answer, style: NumberStyle = METRIC) -> list[str]:
    """What it does with its limit, in a sentence; between two limits who tells it; nothing where there is none."""
    if answer.performance is not None and answer.limit_um is not None:
        return [_performance(answer.performance, answer, style)]
    if answer.lower_limit_um is None:
        return []
    ends = (None if end is None else round(end * 1e6) for end in (answer.lower_limit_um, answer.limit_um))
    return [f"Whether it holds {limits(*ends, style=style)}: qclog assess {answer.item}"]


def _performance(found: Performance, answer: Answer, style: NumberStyle) -> str:
    limit = limits(None, round((answer.limit_um or 0.0) * 1e6), swing=not answer.two_sided, style=style)
    unless = "" if answer.state in (STEADY, LEARNING) else " It is not steady, so that this says little of what comes."
    return (
        f"Against {limit}: P_U {found.index:.2f}, from {found.low:.2f} to {found.high:.2f} (95 %; ISO 22514, by "
        f"percentiles: median {_figure(answer, found.median_um)}, 99.865 % of {noun(answer)}s under "
        f"{_figure(answer, found.high_percentile_um)}). Beyond the limit: {one_in(found.beyond)}, at the most "
        f"{one_in(found.beyond_at_most)}.{unless}"
    )


def noun(answer: Answer) -> str:
    """What one of those that were read is called."""
    return "clamping" if answer.characteristic in SWINGS else "reading"


def _bare(answer: Answer, value_um: float | None) -> str:
    return "-" if value_um is None else _figure(answer, value_um).rpartition(" ")[0]


def _figure(answer: Answer, value_um: float) -> str:
    return (size if in_mm(answer) else micrometres)(value_um, step_um=_STEP_UM)


def _wrapped(text: str, first: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=" " * (len(first) or 2), break_on_hyphens=False
    )
