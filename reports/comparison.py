"""A comparison as text: which one is better, then the figures, then what limits the answer."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.compare import BETTER, NO_DIFFERENCE, Answer
from reports import wording
from reports.assessment import WIDTH
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, count, micrometres, share

_STEP_UM: Final = 0.1
_WHAT: Final = {"position": "position", "setup": "setup", "item": "item"}


def comparison(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """All comparisons, one after the other."""
    return "\n\n".join(_one(answer, style) for answer in answers)


def _one(answer: Answer, style: NumberStyle) -> str:
    lines = textwrap.wrap(f"{_where(answer)}: {sentence(answer, style)}", WIDTH, subsequent_indent="  ")
    header = (_WHAT[answer.by], "n", "sittings", "mean", "sd", "19 in 20 under")
    rows = [
        (
            f"{member.name}{' *' if member.name == answer.better else ''}",
            str(member.clampings),
            str(member.sittings),
            _um(member.mean_um),
            _um(member.sd_um),
            _um(member.bound_um, up=True),
        )
        for member in answer.groups
    ]
    lines += ["", *(f"  {line}" for line in columns([header, *rows]).splitlines()), ""]
    notes = ["Figures in µm TIR; less is better.", *(wording.CAVEATS[code] for code in answer.caveats)]
    for note in notes:
        lines += textwrap.wrap(note, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines)


def sentence(answer: Answer, style: NumberStyle = METRIC) -> str:
    """What is better and by how much; or that none is, or how many clampings are missing."""
    best, second = answer.groups[0].name, answer.groups[1].name
    what = _WHAT[answer.by]
    matters = micrometres(answer.matters_um, step_um=_STEP_UM, style=style)
    if answer.difference_um is None:
        missing = count(answer.more_clampings or 1, "more clamping")
        return f"too few to compare; log {missing} of each."
    low = micrometres(max(answer.difference_um.low, 0.0), step_um=_STEP_UM, style=style)
    high = micrometres(answer.difference_um.high, step_um=_STEP_UM, style=style)
    if answer.outcome == BETTER:
        chance = f" Its next clamping is the better one in {share(answer.p_better_next or 0.0)}."
        return f"{what} {best} is BETTER than {second}, by {low} to {high} on the mean.{chance}"
    if answer.outcome == NO_DIFFERENCE:
        return f"no difference that matters: {best} and {second} differ by less than {matters} on the mean."
    more = (
        f"Log {count(answer.more_clampings, 'more clamping')} of each to settle it, if they come out like those so far."
        if answer.more_clampings
        else "No reasonable number of clampings would settle it."
    )
    return f"cannot tell yet whether {best} or {second} is better. {more}"


def _where(answer: Answer) -> str:
    parts = [answer.item, answer.setup, answer.position and f"position {answer.position}"]
    parts += [answer.clocking and f"clocked {answer.clocking}", f"{answer.distance_mm:g} mm out"]
    return ", ".join(part for part in parts if part)


def _um(value: float | None, *, up: bool = False) -> str:
    return "-" if value is None else micrometres(value, step_um=_STEP_UM, round_up=up).removesuffix(" µm")
