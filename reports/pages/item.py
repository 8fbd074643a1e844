"""One item's page: verdict, figures, the sections with pictures, what was done, the readings."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from qclog.questions.assess import Answer, Group, Reason
from qclog.questions.codes import Flag
from qclog.questions.dossier import Dossier
from qclog.questions.wear import RETIRE
from reports import values, wording
from reports.advice import told
from reports.numbers import METRIC, NumberStyle, micrometres
from reports.pages.history import history, is_what
from reports.pages.readings import Table, anchor_of, tables
from reports.pages.render import rendered
from reports.pages.sections import Section, sections
from reports.pages.stamps import changing, stamp_of, value_stamp

_HEAD = ("where", "clampings", "sittings", "mean", "sd", "least", "most", "19 in 20 under", "limit", "more days")


@dataclass(frozen=True, slots=True)
class Verdict:
    stamp: str
    look: str
    where: str
    says: str
    anchor: str
    clampings: str


@dataclass(frozen=True, slots=True)
class Page:
    code: str
    what: str
    flags: tuple[str, ...]
    verdicts: tuple[Verdict, ...]
    empty: tuple[str, ...]
    figures_head: tuple[str, ...]
    figures: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    values_head: tuple[str, ...]
    values: tuple[tuple[str, ...], ...]
    values_notes: tuple[str, ...]
    sections: tuple[Section, ...]
    history: tuple[tuple[str, str], ...]
    readings: tuple[Table, ...]
    cautions: tuple[str, ...]


def item_page(dossier: Dossier, style: NumberStyle = METRIC) -> str:
    """The whole page as HTML."""
    answer = dossier.assessed
    page = Page(
        code=answer.item,
        what=is_what(dossier.life, style),
        flags=(
            *((f"{answer.state.upper()} by decision.",) if wording.is_put_away(answer) else ()),
            *(_sentence(reason) for reason in wording.reasons(_unsaid(answer.reasons))),
            *(told(dossier.worn, style)[:1] if any(one.decision == RETIRE for one in dossier.worn) else ()),
        ),
        verdicts=() if wording.locked(answer) else (*_verdicts(dossier, style), *_value_verdicts(answer, style)),
        empty=() if answer.measured else (wording.not_measured(answer),),
        figures_head=_HEAD,
        figures=tuple(_figures(group, answer.groups, style) for group in answer.groups),
        notes=tuple(_notes(answer.groups, style)),
        values_head=values.COLUMNS[:-1],
        values=tuple(
            tuple(cell.replace("-", "–") if cell == "-" else cell for cell in values.row(v)[:-1]) for v in answer.values
        ),
        values_notes=tuple(values.notes(answer.values, style)) if answer.values else (),
        sections=tuple(sections(dossier, style)),
        history=tuple(history(dossier.life, style)),
        readings=tuple(tables(dossier, style)),
        cautions=wording.CAUTIONS,
    )
    return rendered("item.html", page=page)


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
        where = (value.setup, value.setup_revision, value.position, value.clocking, value.distance_mm)
        anchor = anchor_of(*where, value.characteristic)
        told = _sentence(values.place(value)).removesuffix(".")
        found.append(Verdict(stamp, look, told, values.grounds(value, style), anchor, values.counted(value)))
    return found


def _verdict(dossier: Dossier, group: Group, style: NumberStyle) -> Verdict:
    stamp, look = stamp_of(dossier.worn, group, style)
    says, worn = wording.grounds(group, style), changing(dossier.worn, group)
    if worn is not None:
        says = wording.CHANGING if worn.decision == RETIRE else f"{says} {wording.CHANGING}"
    place = (group.setup, group.setup_revision, group.position, group.clocking, group.distance_mm)
    return Verdict(
        stamp=stamp,
        look=look,
        where=_sentence(wording.place(group, dossier.assessed.groups)).removesuffix("."),
        says=says,
        anchor=anchor_of(*place, group.characteristic),
        clampings=wording.counted(group),
    )


def _figures(group: Group, among: Sequence[Group], style: NumberStyle) -> tuple[str, ...]:
    step = wording.shown_step(group)

    def um(value: float | None, at: float = step, *, up: bool = False) -> str:
        return "–" if value is None else micrometres(value, step_um=at, style=style, round_up=up)

    tir = group.tir_um
    bound = group.bound.value_um if group.bound and wording.is_useful(group) else None
    return (
        wording.place(group, among),
        str(group.clampings),
        str(group.sittings),
        um(tir.mean),
        um(tir.sd),
        um(tir.min, group.resolution_um),
        um(tir.max, group.resolution_um),
        um(bound, up=True),
        um(group.limit_um, wording.exact_step(group.limit_um or 1.0)),
        wording.more_days(group).replace("-", "–"),
    )


def _notes(groups: Sequence[Group], style: NumberStyle) -> Iterable[str]:
    """Each caveat once, with the places it is true of where it is not true of all."""
    yield f"Figures are the full swing over a turn (TIR). {wording.gauge_line(groups, style)}"
    for code, sentence in wording.CAVEATS.items():
        having = [group for group in groups if code in group.caveats]
        if having and len(having) == len(groups):
            yield sentence
        elif having:
            yield f"{sentence} ({'; '.join(wording.place(group, groups) for group in having)})"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."
