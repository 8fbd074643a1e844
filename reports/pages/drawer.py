"""The drawer's index: every item with its verdict, the worst first, each leading to its own page."""

from collections.abc import Sequence
from dataclasses import dataclass

from qclog.questions.assess import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NO_LIMIT, Answer, Group
from qclog.questions.dossier import Dossier
from qclog.questions.wear import KEEP
from reports import wording
from reports.numbers import METRIC, NumberStyle, count, date, length, micrometres
from reports.pages.render import rendered
from reports.pages.stamps import stamp_of

_WORST_FIRST = (DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT, HOLDS)
_OUT, _FLAGGED, _UNMEASURED, _PUT_AWAY = 0, 1, 4, 9


@dataclass(frozen=True, slots=True)
class Row:
    code: str
    file: str
    flagged: bool
    what: str
    where: str
    clampings: str
    last: str
    bound: str
    stamp: str
    look: str
    wear: str


@dataclass(frozen=True, slots=True)
class Page:
    what: str
    rows: tuple[Row, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def drawer_page(found: Sequence[Dossier], style: NumberStyle = METRIC) -> str:
    """The whole index as HTML; item pages are expected beside it, named by ``file_name``."""
    rows = tuple(row for dossier in sorted(found, key=_rank) for row in _rows(dossier, style))
    flagged = sum(bool(dossier.assessed.reasons) for dossier in found)
    told = f"{flagged} flagged" if flagged else "none flagged"
    notes = ("Figures are the full swing over a turn (TIR).", wording.GAUGES)
    page = Page(f"{count(len(found), 'item')}, {told}; the worst first.", rows, notes, wording.CAUTIONS)
    return rendered("drawer.html", page=page)


def file_name(code: str) -> str:
    """The name of an item's page."""
    return f"{file_stem(code)}.html"


def file_stem(code: str) -> str:
    """What the files of an item are called: its code, what a file system could take amiss spelt out."""
    return "".join(c if c.isalnum() or c in "-_" else f"~{ord(c):x}" for c in code)


def _rank(dossier: Dossier) -> tuple[int, int, str]:
    answer = dossier.assessed
    if wording.locked(answer):
        place = _OUT
    elif wording.is_put_away(answer):
        place = _PUT_AWAY
    elif answer.reasons:
        place = _FLAGGED
    elif not answer.groups:
        place = _UNMEASURED
    else:
        place = 2 + min(_WORST_FIRST.index(group.next_clampings) for group in answer.groups)
    worst = min((_WORST_FIRST.index(group.next_clampings) for group in answer.groups), default=len(_WORST_FIRST))
    return place, worst, answer.item.casefold()


def _rows(dossier: Dossier, style: NumberStyle) -> list[Row]:
    answer = dossier.assessed
    if not answer.groups:
        return [_row(dossier, None, style)]
    return [_row(dossier, group, style) for group in answer.groups]


def _row(dossier: Dossier, group: Group | None, style: NumberStyle) -> Row:
    answer, now = dossier.assessed, dossier.life.modifications[-1]
    size = dossier.life.card.get("bore_pm") or dossier.life.card.get("nominal_pm")
    what = [str(dossier.life.card.get("kind") or ""), length(size, style=style) if size else "", now.what]
    stamp, look = "NOT MEASURED", "none"
    if group is not None:
        stamp, look = stamp_of(dossier, group, style)
    if wording.locked(answer):
        stamp, look = "OUT OF SERVICE", "no"
    elif wording.is_put_away(answer):
        stamp, look = answer.state.upper(), "none"
    step = 0.1 if group is None else wording.shown_step(group)
    useful = group is not None and group.bound is not None and wording.is_useful(group)
    return Row(
        code=answer.item,
        file=file_name(answer.item),
        flagged=_is_flagged(answer, group),
        what=", ".join(part for part in what if part),
        where="" if group is None else wording.place(group),
        clampings=str(group.clampings) if group else "0",
        last=_last(dossier, group),
        bound=micrometres(group.bound.value_um, step_um=step, style=style, round_up=True)
        if useful and group is not None and group.bound is not None
        else "–",
        stamp=stamp,
        look=look,
        wear="" if group is None or wording.is_put_away(answer) else _wear(dossier, group),
    )


def _is_flagged(answer: Answer, group: Group | None) -> bool:
    """Whether the item is flagged for what was seen on it, or for what was measured here."""
    place = None if group is None else (group.setup, group.position, group.distance_mm)
    return any(not why.setup or (why.setup, why.position, why.distance_mm) == place for why in answer.reasons)


def _last(dossier: Dossier, group: Group | None) -> str:
    if group is None:
        return "–"
    days = [
        date(point.taken_at) for place in dossier.places if group in place.groups for point in place.points_of(group)
    ]
    return max(days, default="–")


def _wear(dossier: Dossier, group: Group) -> str:
    place = (group.setup, group.position, group.distance_mm, group.characteristic)
    told = {
        answer.decision
        for answer in dossier.worn
        if (answer.setup, answer.position, answer.distance_mm, answer.characteristic) == place
    }
    return ", ".join(sorted(told - {KEEP})) or ("keep" if told else "")
