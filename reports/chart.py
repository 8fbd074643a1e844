"""Whether processes are steady, as text: the answer first, then the points, then how sure such a chart is."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.chart import LEARNING, STEADY, TOO_FEW, Answer, Performance
from qclog.questions.charted import Point, Signal
from qclog.records import SWINGS
from reports.assessment import WIDTH
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, count, micrometres, one_in
from reports.wording.caveats import CAVEATS
from reports.wording.chart import CHART_SIGNS
from reports.wording.places import place
from reports.wording.steps import exact_step

_STEP_UM: Final = 0.1
_MOST_POINTS: Final = 30
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
    table = columns([header, *(_row(answer, point) for point in shown)])
    lines += ["", *([f"  ({count(earlier, 'point')} before these)"] if earlier else [])]
    lines += [*(f"  {line}" for line in table.splitlines()), ""]
    notes = [_figures(answer), *_hints(answer), _run_lengths(answer)]
    if answer.performance is not None and answer.limit_um is not None:
        notes.append(_performance(answer.performance, answer, style))
    notes += [CAVEATS[code] for code in answer.caveats]
    return [*lines, *(line for note in notes for line in _wrapped(note, "  - "))]


def where(answer: Answer) -> str:
    """ "B-860 in LATHE-A, position N, 16 mm out"; without a setup the item and its characteristic."""
    if answer.setup:
        return f"{answer.item} in {place(answer)}"
    return f"{answer.item}, {answer.characteristic}"


def sentence(answer: Answer) -> str:
    """Whether the process is steady, in a sentence or two."""
    read = f"{count(answer.clampings, 'clamping')} in {count(answer.sittings, 'sitting')}"
    if answer.state == TOO_FEW:
        return f"too few to tell ({read}); a chart begins with three days, or three clampings on one."
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
    largest = max(abs(one.value_um) for one in answer.points)
    return None if point.upper_um is None or point.upper_um > _NO_USE * largest else point.upper_um


def _limits_header(answer: Answer) -> tuple[str, ...]:
    return ("lower limit", "centre", "upper limit") if answer.two_sided else ("usual", "upper limit")


def _row(answer: Answer, point: Point) -> tuple[str, ...]:
    limits = [*([point.lower_um] if answer.two_sided else []), point.centre_um, useful_limit(answer, point)]
    mark = " ".join(
        word
        for word, is_so in (
            ("beyond", point.beyond),
            ("alarm", point.sum is not None and point.sum > answer.sum_limit),
        )
        if is_so
    )
    total = "-" if point.sum is None else f"{point.sum:.1f}"
    return (point.at, str(point.clampings), _um(point.value_um), *map(_um, limits), total, mark)


def _figures(answer: Answer) -> str:
    what = "the mean of each sitting" if answer.points_are == "sittings" else "each clamping"
    if answer.two_sided:
        return (
            f"Figures in µm, {what}; {answer.method}. Limits lie three standard deviations of a point away; the sum of "
            f"what points lie off the centre alarms above {answer.sum_limit:g} standard deviations."
        )
    return (
        f"Figures in µm TIR, {what}, judged by those before it: above the upper limit comes once in 370 by chance. "
        "The sum gathers what points lie above those before, in standard deviations, and alarms above "
        f"{answer.sum_limit:.2g}. Only worsening is looked for."
    )


def _hints(answer: Answer) -> list[str]:
    found = [signal for signal in answer.signals if signal.hint]
    if not found:
        return []
    told = "; ".join(_signal(signal) for signal in found)
    return [
        f"Hints: {told}. Such a hint, or a point beyond the limits, comes by chance once in {answer.hint_every} points."
    ]


def _run_lengths(answer: Answer) -> str:
    lengths = {one.shift_sd: one.points for one in answer.run_lengths}
    way = "change" if answer.two_sided else "rise"
    return (
        f"The sum alarms falsely once in {lengths[0.0]:.0f} points on average; a {way} by one standard deviation of a "
        f"point is found after about {lengths[1.0]:.0f}, by two after {lengths[2.0]:.0f}."
    )


def _performance(found: Performance, answer: Answer, style: NumberStyle) -> str:
    limit = micrometres(answer.limit_um or 0.0, step_um=exact_step(answer.limit_um or 1.0), style=style)
    unless = "" if answer.state in (STEADY, LEARNING) else " It is not steady, so that this says little of what comes."
    return (
        f"Against {limit}: P_U {found.index:.2f}, from {found.low:.2f} to {found.high:.2f} (95 %; ISO 22514, by "
        f"percentiles: median {_um(found.median_um)} µm, 99.865 % of clampings under "
        f"{_um(found.high_percentile_um)} µm). Beyond the limit: {one_in(found.beyond)}, at the most "
        f"{one_in(found.beyond_at_most)}.{unless}"
    )


def _um(value_um: float | None) -> str:
    return "-" if value_um is None else micrometres(value_um, step_um=_STEP_UM).removesuffix(" µm")


def _wrapped(text: str, first: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=" " * (len(first) or 2), break_on_hyphens=False
    )
