"""One item's page: verdict, figures, the sections with pictures, what was done, the readings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qclog.questions.assess import Answer, Reason
from qclog.questions.codes import Flag
from qclog.questions.dossier import Dossier, Point
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.questions.wear import RETIRE
from reports import values
from reports.anchors import row_of, verdict_of
from reports.next_steps import Step, next_steps
from reports.numbers import METRIC, NumberStyle, exact, micrometres
from reports.pages import item_words
from reports.pages.history import history, is_what
from reports.pages.parts import Section
from reports.pages.readings import Link, Table, anchor_of, tables
from reports.pages.render import rendered
from reports.pages.sections import sections
from reports.pages.stamps import badge, changing, retired_in_words, stamp_of, value_stamp
from reports.value_points import extremes, points_of
from reports.wording import flags, places
from reports.wording.cautions import CAUTIONS
from reports.wording.caveats import CAVEATS, CHANGING
from reports.wording.steps import read_step, shown_step
from reports.wording.verdicts import counted, gauge_line, grounds, is_useful, more_days

_HEAD = ("where", "clampings", "sittings", "mean", "sd", "least", "most", "19 in 20 under", "limit", "more days")


@dataclass(frozen=True, slots=True)
class Verdict:
    stamp: str
    look: str
    where: str
    says: str
    anchor: str
    readings: Link
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Page:
    index: str
    code: str
    what: str
    flags: tuple[str, ...]
    flag_words: tuple[str, ...]
    verdicts: tuple[Verdict, ...]
    badge: tuple[str, str] | None
    empty: tuple[str, ...]
    next_steps: tuple[Step, ...]
    step_words: tuple[str, ...]
    figures_head: tuple[str, ...]
    figures: tuple[tuple[Link, ...], ...]
    notes: tuple[str, ...]
    note_words: tuple[str, ...]
    values_head: tuple[str, ...]
    values: tuple[tuple[Link, ...], ...]
    values_notes: tuple[str, ...]
    value_words: tuple[str, ...]
    sections: tuple[Section, ...]
    history: tuple[tuple[str, str], ...]
    history_words: tuple[str, ...]
    readings: tuple[Table, ...]
    cautions: tuple[str, ...]


def item_page(dossier: Dossier, style: NumberStyle = METRIC, *, index: str = "") -> str:
    """The whole page as HTML. ``index``: the file of the drawer's page beside it, '' for none."""
    answer, retired = dossier.assessed, retired_in_words(dossier, style)
    page = Page(
        index=index,
        code=answer.item,
        what=is_what(dossier.life, style),
        flags=(
            *((f"{answer.state.upper()} by decision.",) if flags.is_put_away(answer) else ()),
            *(said for reason in flags.reasons(_unsaid(answer.reasons)) if (said := _sentence(reason)) not in retired),
            *filter(None, [retired]),
        ),
        flag_words=tuple(item_words.of_flags(dossier)),
        verdicts=() if flags.locked(answer) else (*_verdicts(dossier, style), *_value_verdicts(answer, style)),
        badge=badge(answer, dossier.part_of),
        empty=() if answer.measured else (_not_measured(dossier),),
        next_steps=tuple(next_steps(dossier, style)),
        step_words=tuple(item_words.of_next_steps(dossier)),
        figures_head=_HEAD,
        figures=tuple(_figures(dossier, group, style) for group in answer.groups),
        notes=tuple(_notes(answer.groups, style)),
        note_words=tuple(item_words.of_caveats(answer.groups)),
        values_head=values.COLUMNS[:-1],
        values=tuple(_value_figures(dossier, value) for value in answer.values),
        values_notes=tuple(values.notes(answer.values, style)) if answer.values else (),
        value_words=tuple(item_words.of_caveats(answer.values)),
        sections=tuple(sections(dossier, style)),
        history=tuple(history(dossier.life, style)),
        history_words=tuple(item_words.of_history(dossier.life)),
        readings=tuple(tables(dossier, style)),
        cautions=CAUTIONS,
    )
    return rendered("item.html", page=page)


def _not_measured(dossier: Dossier) -> str:
    if dossier.part_of:
        return f"It is a part of {' and '.join(dossier.part_of)}, and measured by what sits in it."
    return flags.not_measured(dossier.assessed)


def _unsaid(reasons: Sequence[Reason]) -> list[Reason]:
    """Those that no stamp says already."""
    return [reason for reason in reasons if reason.code != Flag.NEXT_CLAMPINGS]


def _verdicts(dossier: Dossier, style: NumberStyle) -> list[Verdict]:
    return [_verdict(dossier, group, style) for group in dossier.assessed.groups]


def _value_verdicts(answer: Answer, style: NumberStyle) -> list[Verdict]:
    """Those of sizes, gaps and differences."""
    found = []
    for value in answer.values:
        stamp, look = value_stamp(value, style)
        table = anchor_of(answer.modification, value)
        told = _sentence(values.place(value)).removesuffix(".")
        behind = Link(values.counted(value), table)
        words = tuple(item_words.of_value_verdict(value))
        found.append(Verdict(stamp, look, told, values.grounds(value, style), verdict_of(table), behind, words))
    return found


def _verdict(dossier: Dossier, group: Group, style: NumberStyle) -> Verdict:
    stamp, look = stamp_of(dossier.worn, group, style)
    says, worn = grounds(group, style), changing(dossier.worn, group)
    if worn is not None:
        says = CHANGING if worn.decision == RETIRE else f"{says} {CHANGING}"
    table = anchor_of(dossier.assessed.modification, group)
    return Verdict(
        stamp=stamp,
        look=look,
        where=_sentence(places.place(group, dossier.assessed.groups)).removesuffix("."),
        says=says,
        anchor=verdict_of(table),
        readings=Link(counted(group), table),
        words=tuple(item_words.of_verdict(dossier.worn, group)),
    )


def _figures(dossier: Dossier, group: Group, style: NumberStyle) -> tuple[Link, ...]:
    """The figures of a group, each leading to what stands behind it: least and most to their clamping, what is set to
    nothing."""
    step, table = shown_step(group), anchor_of(dossier.assessed.modification, group)
    least, most = _extremes(dossier, group)

    def um(value: float | None, at: float = step, *, up: bool = False) -> str:
        return "–" if value is None else micrometres(value, step_um=at, style=style, round_up=up)

    tir = group.tir_um
    bound = group.bound.value_um if group.bound and is_useful(group) else None
    return (
        Link(places.place(group, dossier.assessed.groups), ""),
        Link(str(group.clampings), table),
        Link(str(group.sittings), table),
        Link(um(tir.mean), table),
        Link(um(tir.sd), "" if tir.sd is None else table),
        Link(um(tir.min, read_step(group)), least),
        Link(um(tir.max, read_step(group)), most),
        Link(um(bound, up=True), "" if bound is None else table),
        Link("–" if group.limit_um is None else exact(group.limit_um), ""),
        Link(more_days(group).replace("-", "–"), ""),
    )


def _value_figures(dossier: Dossier, value: ValueGroup) -> tuple[Link, ...]:
    """The figures of a size, a gap or a difference, each leading to what stands behind it."""
    table = anchor_of(dossier.assessed.modification, value)
    least, most = extremes(points_of(dossier.life, value))
    behind = {"n": table, "sittings": table, "least": least, "most": most, "mean": table}
    behind |= {"19 in 20 from": table, "to": table}
    cells = zip(values.COLUMNS[:-1], values.row(value), strict=False)
    return tuple(Link("–", "") if cell == "-" else Link(cell, behind.get(head, "")) for head, cell in cells)


def _extremes(dossier: Dossier, group: Group) -> tuple[str, str]:
    """The names of the rows of the smallest and of the largest swing of a group; its table where it has no points."""
    for place in dossier.places:
        if group in place.groups and (points := place.points_of(group)):
            ends = (min(points, key=_swing), max(points, key=_swing))
            least, most = (row_of(point.clamping, place.distance_mm, place.characteristic) for point in ends)
            return least, most
    return anchor_of(dossier.assessed.modification, group), anchor_of(dossier.assessed.modification, group)


def _swing(point: Point) -> float:
    return point.value_um


def _notes(groups: Sequence[Group], style: NumberStyle) -> Iterable[str]:
    """Each caveat once, with the places it is true of where it is not true of all."""
    yield f"Figures are the full swing over a turn (TIR). {gauge_line(groups, style)}"
    for code, sentence in CAVEATS.items():
        having = [group for group in groups if code in group.caveats]
        if having and len(having) == len(groups):
            yield sentence
        elif having:
            yield f"{sentence} ({'; '.join(places.place(group, groups) for group in having)})"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
