"""The section of an item's page that says whether it is steady: its chart where there are points enough, and what it
does with its limit."""

from typing import Final

from qclog.questions.chart import TOO_FEW, Answer
from qclog.questions.dossier import Dossier
from reports import chart, words_used
from reports.numbers import NumberStyle
from reports.pages.parts import Section, Shown
from reports.pages.readings import Link, anchor_of
from reports.pictures.chart import chart_picture, made_to_drawn

FEWEST_POINTS: Final = 6
"""Below, limits learnt from the points before lie far above all that was read, and a picture shows nothing."""


def steady_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    """None where no place has points enough, or everything that has is told by pins or in doubt."""
    charted = [one for one in dossier.charts if one.state != TOO_FEW and len(one.points) >= FEWEST_POINTS]
    if not charted:
        return None
    several = len(charted) > 1
    notes = [
        f"{_where(answer)}: {note}" if several else note
        for answer in charted
        for note in (*chart.hints(answer), *chart.performance(answer, style))
    ]
    return Section(
        "Is it steady?",
        tuple(f"{_where(answer)}: {chart.sentence(answer, style)}" for answer in charted),
        tuple(_shown(dossier, answer, i) for i, answer in enumerate(charted, start=1)),
        tuple(dict.fromkeys((*notes, *chart.run_lengths(charted), *chart.limits_of(charted)))),
        tuple(words_used.of_chart(charted)),
    )


def _shown(dossier: Dossier, answer: Answer, number: int) -> Shown:
    table = anchor_of(dossier.assessed.modification, answer)
    behind = Link(f"{answer.clampings} {chart.noun(answer)}s", table)
    return Shown(_where(answer), chart_picture(answer, f"steady {number}"), _caption(answer), (behind,))


def _where(answer: Answer) -> str:
    """The place, without the item's code, which stands above all."""
    where = chart.where(answer).removeprefix(answer.item).removeprefix(" in ").removeprefix(", ")
    return f"{where[:1].upper()}{where[1:]}"


def _caption(answer: Answer) -> str:
    """What the signs in the picture mean; only of those that are in it."""
    points = "means of sittings" if answer.points_are == "sittings" else f"{chart.noun(answer)}s"
    beyond = [point.beyond for point in answer.points]
    parts = []
    if not all(beyond):
        parts.append(f"{'Diamonds' if answer.points_are == 'sittings' else 'Dots'}: {points}.")
    parts.append("Dotted: the centre." if answer.two_sided else "Dotted: what was usual before each.")
    if any(chart.useful_limit(answer, point) is not None for point in answer.points):
        far = "as far as chance goes" if answer.two_sided else "up to here it is no more than chance"
        parts.append(f"Dashes and dots: {far}.")
    else:
        parts.append("So few points have no limit of their own yet; the sum alone judges.")
    if any(beyond):
        parts.append(f"Squares: {points}, all beyond that." if all(beyond) else "Squares: beyond that.")
    if made_to_drawn(answer):
        parts.append("Heavy line, hatched beyond: what it was made to.")
    elif answer.limit_um is not None or answer.lower_limit_um is not None:
        parts.append("What it was made to lies outside the picture.")
    return " ".join([*parts, "Below: what the points lie off, added up; over its line it alarms."])
