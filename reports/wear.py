"""What wear advises, as text: keep, watch or retire first, then why, then the figures behind it."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Sign
from qclog.questions.wear import KEEP, RETIRE, Answer, expected_by_chance
from reports import wording
from reports.assessment import WIDTH
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, count, micrometres, signed_micrometres

_STEP_UM: Final = 0.1
_SCRAP: Final = {Sign.CRACK, Sign.BLUE}


def wear(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One answer in full; of several those to be retired or watched in words, then one table."""
    if len(answers) == 1:
        return "\n".join([*_wrapped_sentence(answers[0], style), "", *_figures(answers[0], style)])
    told = {decision: [a for a in answers if a.decision == decision] for decision in (RETIRE, "watch", KEEP)}
    chance = f"With nothing wrong, about {expected_by_chance(answers):.1f} signs of a change would appear by chance."
    parts = [f"{count(len(answers), 'place')}: {', '.join(f'{len(a)} {d}' for d, a in told.items())}. {chance}"]
    parts += ["\n".join(_wrapped_sentence(answer, style)) for d in (RETIRE, "watch") for answer in told[d]]
    header = ("item", "where", "n", "level", "limit", "change", "not before", "advice")
    parts.append(columns([header, *(_row(answer) for answer in answers)]))
    return "\n\n".join(parts)


def _wrapped_sentence(answer: Answer, style: NumberStyle) -> list[str]:
    return textwrap.wrap(sentence(answer, style), WIDTH, subsequent_indent="  ")


def sentence(answer: Answer, style: NumberStyle = METRIC) -> str:
    """Keep, watch or retire, why, and the way down."""
    head = f"{answer.item} in {_where(answer)}: {answer.decision.upper()}"
    if answer.decision == RETIRE and answer.limit_um is not None and not _SCRAP.intersection(answer.because):
        limit = micrometres(answer.limit_um, step_um=wording.exact_step(answer.limit_um), style=style)
        head += f" it from {limit} work"
    why = "; ".join(wording.SIGNS[sign] for sign in answer.because)
    return f"{head}: {why}. {_way_down(answer, style)}".strip()


def _way_down(answer: Answer, style: NumberStyle) -> str:
    if answer.decision != RETIRE or _SCRAP.intersection(answer.because):
        return ""
    if answer.good_for_um is not None:
        still = micrometres(answer.good_for_um, step_um=1.0, style=style)
        return f"Still good for {still} work; or bore it out, or scrap it."
    return "Bore it out, or scrap it."


def _figures(answer: Answer, style: NumberStyle) -> list[str]:
    lines = figures(answer, style)
    return [
        part for line in lines for part in textwrap.wrap(line, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    ]


def figures(answer: Answer, style: NumberStyle = METRIC) -> list[str]:
    """What the advice rests on, a sentence each."""
    lines = [f"{count(answer.clampings, 'clamping')}; now at {_um(answer.level_um, style)} on the mean."]
    if answer.trend is not None:
        slope = answer.trend.per_year_um if answer.axis == "date" else answer.trend.per_1000_um
        per = "a year" if answer.axis == "date" else "in 1,000 clampings in work"
        ends = f"{_signed(answer.trend.low, style)} to {_signed(answer.trend.high, style)}"
        lines.append(f"Change {per}: {_signed(slope or 0.0, style)}, from {ends} with 95 % confidence.")
    if answer.step is not None:
        lines.append(f"A step of {_signed(answer.step.change_um, style)} at {answer.step.at}.")
    if answer.signal is not None:
        lines.append(f"The running chart sees a change since {answer.signal}.")
    if answer.crosses is not None:
        lines.append(_crossing(answer))
    return lines + [wording.CAVEATS[code] for code in answer.caveats]


def _crossing(answer: Answer) -> str:
    assert answer.crosses is not None
    crosses = answer.crosses
    unit = "" if answer.axis == "date" else " clampings in work"
    if crosses.now:
        return "Even today more than one clamping in 20 may exceed the limit."
    if crosses.median is not None:
        latest = f", at the latest {crosses.late}{unit}" if crosses.late else ""
        when = f"about {crosses.median}{unit}, not before {crosses.early}{unit}{latest}"
        return f"If it goes on like this, one clamping in 20 exceeds the limit from {when}."
    if crosses.early is not None:
        return f"No drift is proven; one clamping in 20 exceeds the limit at the earliest from {crosses.early}{unit}."
    return "No drift is proven, and none so soon that it could be told."


def _row(answer: Answer) -> tuple[str, ...]:
    change = "-"
    if answer.trend is not None:
        per_year = answer.trend.per_year_um
        change = (
            f"{_signed(per_year, METRIC)}/year"
            if per_year is not None
            else f"{_signed(answer.trend.per_1000_um or 0.0, METRIC)}/1,000"
        )
    return (
        answer.item,
        _where(answer),
        str(answer.clampings),
        _um(answer.level_um, METRIC),
        "-" if answer.limit_um is None else _um(answer.limit_um, METRIC),
        change,
        _not_before(answer),
        answer.decision.upper() if answer.decision == RETIRE else answer.decision,
    )


def _not_before(answer: Answer) -> str:
    if answer.crosses is None or answer.crosses.early is None:
        return "-"
    return "now" if answer.crosses.now else answer.crosses.early


def _where(answer: Answer) -> str:
    position = f", position {answer.position}" if answer.position else ""
    return f"{answer.setup}{position}, {answer.distance_mm:g} mm out"


def _um(value: float, style: NumberStyle) -> str:
    return micrometres(value, step_um=_STEP_UM, style=style)


def _signed(value: float, style: NumberStyle) -> str:
    return signed_micrometres(value, step_um=_STEP_UM, style=style)
