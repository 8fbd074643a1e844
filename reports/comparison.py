"""A comparison as text: which one is better, then the figures, then what limits the answer."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Caveat
from qclog.questions.compare import BETTER, NO_DIFFERENCE, Answer, by_chance
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, about, angle, count, micrometres, share
from reports.tables import WIDTH
from reports.wording import places
from reports.wording.caveats import CAVEATS
from reports.wording.comparing import WORTHS

_STEP_UM: Final = 0.1
_WHAT: Final = {"position": "position", "setup": "setup", "item": "item"}
_FIGURES: Final = "Figures in µm TIR; less is better."


def comparison(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One comparison, or several under a line that says what chance alone would make of them."""
    if len(answers) == 1:
        return _one(answers[0], style, [_FIGURES])
    top = textwrap.fill(f"{len(answers)} comparisons, the surest first. {_chance(answers)}", WIDTH)
    return "\n\n".join([top, *(_one(answer, style, []) for answer in answers), _FIGURES])


def _chance(answers: Sequence[Answer]) -> str:
    """What chance alone would make of so many comparisons."""
    chance = by_chance(answers)
    if chance is None:
        return ""
    found = {0: "none does", 1: "1 does"}.get(chance.found, f"{chance.found} do")
    more = ", no more than chance" if chance.found and chance.no_more_than_chance else ""
    return f"By chance alone {about(chance.expected)} would show a difference; {found}{more}."


def _one(answer: Answer, style: NumberStyle, notes: list[str]) -> str:
    mark = "" if answer.mark is None or answer.outcome == NO_DIFFERENCE else WORTHS[answer.mark]
    said = f"{_where(answer)}: {sentence(answer, style)} {mark}"
    lines = textwrap.wrap(said, WIDTH, subsequent_indent="  ")
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
    lines += ["", *(f"  {line}" for line in columns([header, *rows]).splitlines())]
    notes = [*notes, *_as_vectors(answer), *(CAVEATS[code] for code in answer.caveats)]
    lines += [""] if notes else []
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
        if Caveat.IN_DOUBT in answer.caveats:
            return "cannot tell: what was read is in doubt; measure again what is in doubt."
        return f"too few to compare; log {missing} of each."
    low = micrometres(max(answer.difference_um.low, 0.0), step_um=_STEP_UM, style=style)
    high = micrometres(answer.difference_um.high, step_um=_STEP_UM, style=style)
    if answer.outcome == BETTER:
        chance = f" Its next clamping is the better one in {share(answer.p_better_next or 0.0)}."
        small = ""
        if answer.difference_um.high < answer.matters_um:
            small = f" It is less than the {matters} that would make you change."
        return f"{what} {best} is BETTER than {second}, by {low} to {high} on the mean.{chance}{small}"
    if answer.outcome == NO_DIFFERENCE:
        return f"no difference that matters: {best} and {second} differ by less than {matters} on the mean."
    more = (
        f"Log {count(answer.more_clampings, 'more clamping')} of each to settle it, if they come out like those so far."
        if answer.more_clampings
        else "No reasonable number of clampings would settle it."
    )
    return f"cannot tell yet whether {best} or {second} is better. {more}"


def _as_vectors(answer: Answer) -> list[str]:
    """That they differ in direction where none is better, and that one repeats better."""
    vectors, told = answer.vectors, []
    if vectors is not None and vectors.differ_in_direction and answer.outcome != BETTER:
        (best, second), (at, other) = [group.name for group in answer.groups[:2]], vectors.high_spots_deg
        where = f"{best}'s high spot stands at {angle(at)}, {second}'s at {angle(other)}"
        if answer.outcome == NO_DIFFERENCE:
            told.append(f"They differ in direction, not in size: {where}; neither is better.")
        else:
            told.append(f"They differ in direction: {where}. Which is better is a question of size alone.")
    if vectors is not None and vectors.repeats_better is not None:
        told.append(f"{vectors.repeats_better} seems to repeat better (a hint: one odd clamping can do that).")
    return told


def _where(answer: Answer) -> str:
    parts = [answer.item, answer.setup, answer.position and f"position {answer.position}"]
    parts += [answer.clocking and f"clocked {answer.clocking}", places.out(answer.distance_mm, answer.characteristic)]
    parts += [f"pin{'s' if len(answer.pins_mm) > 1 else ''} {places.pins(answer.pins_mm)}" if answer.pins_mm else ""]
    parts += [places.what(answer.characteristic)]
    return ", ".join(part for part in parts if part)


def _um(value: float | None, *, up: bool = False) -> str:
    return "-" if value is None else micrometres(value, step_um=_STEP_UM, round_up=up).removesuffix(" µm")
