"""An assessment as text: the sentence first, then a small table, then what limits the answer."""

import textwrap
from collections.abc import Collection, Sequence
from typing import Final

from qclog.questions.assess import Answer, Reason
from qclog.questions.codes import FINDINGS
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.records import FACE_RUNOUT
from reports import values
from reports.numbers import METRIC, NumberStyle, count, exact, micrometres
from reports.tables import TERMINAL, WIDTH, fitted
from reports.wording import flags
from reports.wording.cautions import FINDING_ADVICE, to_clear
from reports.wording.caveats import CAVEATS
from reports.wording.commands import typed
from reports.wording.places import out, place
from reports.wording.steps import read_step, shown_step
from reports.wording.verdicts import GAUGES, gauge_line, in_table, is_useful, more_days, verdict

_COLUMNS: Final = (
    "where",
    "n",
    "sittings",
    "mean",
    "sd",
    "least",
    "most",
    "last",
    "19 in 20 under",
    "limit",
    "more days",
    "verdict",
)
_RIGHT: Final = _COLUMNS[1:-1]
_INDENT: Final = 2
_MOST_NOT_FLAGGED: Final = 100
"""More places than these that are not flagged are only counted."""
_NOT_FLAGGED: Final = (
    "{} places that are not flagged have no line here: qclog drawer has a line for every item, qclog assess CODE tells "
    "one, --json all."
)
_MOST_NAMED: Final = 20
"""Items that a caveat is true of; of more the rest is counted."""
_FIRST_LEFT_OUT: Final = (
    "last",
    "least",
    "more days",
    "sittings",
    "sd",
    "most",
    "n",
    "mean",
    "limit",
    "19 in 20 under",
)
"""What a narrow terminal can do without; the sentences say what matters of it."""


def assessment(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One answer in full; of several the flagged ones with their reasons, then one table and each caveat once."""
    if len(answers) == 1:
        return one_answer(answers[0], style)
    flagged = [answer for answer in answers if answer.reasons]
    whole = f"{count(len(answers), 'item or setup', 'items and setups')} assessed, "
    parts = [whole + (f"{len(flagged)} flagged:" if flagged else "none flagged.")]
    parts += ["\n".join(_sentences(answer, style)) for answer in flagged]
    items = [answer for answer in answers if answer.item]
    groups = [group for answer in items for group in answer.groups]
    if groups:
        out = {answer.item for answer in items if flags.locked(answer)}
        marked = {_place(reason) for answer in flagged for reason in answer.reasons}
        shown = [group for group in groups if _place(group) in marked]
        if (others := len(groups) - len(shown)) <= _MOST_NOT_FLAGGED:
            shown = groups
        if shown:
            parts.append("\n".join(table(shown, items=True, marked=marked, out=out)))
        if len(shown) < len(groups):
            parts.append("\n".join(_wrapped(_NOT_FLAGGED.format(others), "", "")))
        parts.append("\n".join(_notes(groups, style, names=True)))
    plain = [group for answer in items for group in answer.values]
    if plain:
        locked = frozenset(answer.item for answer in items if flags.locked(answer))
        marked = {_place(reason) for answer in flagged for reason in answer.reasons}
        parts.append("\n".join(values.table(plain, TERMINAL, items=True, marked=marked, out=locked)))
        said = CAVEATS.values() if groups else ()
        parts.append("\n".join(values.wrapped(values.notes(plain, style, said=tuple(said), items=True), WIDTH)))
    return "\n\n".join(parts)


def one_answer(answer: Answer, style: NumberStyle = METRIC) -> str:
    """One item or setup: its headline, a sentence a group, the table, the caveats."""
    head, *rest = _sentences_of(answer, style)
    lines = [*head, *_found(answer), *(line for sentence in rest for line in sentence)]
    if not answer.measured:
        return "\n".join([*lines, *_wrapped(flags.not_measured(answer), "  ", "  ")])
    out = frozenset({answer.item}) if flags.locked(answer) else frozenset()
    if answer.groups:
        lines += ["", *(f"  {line}" for line in table(answer.groups, items=bool(answer.setup), out=out)), ""]
        lines += _notes(answer.groups, style, names=False)
    if answer.values:
        marked = {_place(reason) for reason in answer.reasons}
        told = values.table(answer.values, TERMINAL - _INDENT, items=bool(answer.setup), marked=marked, out=out)
        lines += ["", *(f"  {line}" for line in told), ""]
        said = [CAVEATS[code] for group in answer.groups for code in group.caveats]
        lines += values.wrapped(values.notes(answer.values, style, said=said), WIDTH)
    return "\n".join(lines)


def _found(answer: Answer) -> list[str]:
    """What to do about what was seen on it, and what to type once it is found in order."""
    codes = {reason.code for reason in answer.reasons}
    found = [finding for finding, flag in FINDINGS.items() if flag in codes]
    clear = to_clear(typed(answer.item), found)
    told = [f"{finding.capitalize()}: {FINDING_ADVICE[finding]}" for finding in found] if clear else []
    return [line for text in (*told, clear) if text for line in _wrapped(text, "  ", "    ")]


def _sentences(answer: Answer, style: NumberStyle) -> list[str]:
    return [line for sentence in _sentences_of(answer, style) for line in sentence]


def _sentences_of(answer: Answer, style: NumberStyle) -> list[list[str]]:
    """The headline, and a sentence a group. An item that is out of service is not said to hold anything."""
    lines = [_wrapped(flags.headline(answer), "", "    ")]
    if flags.locked(answer):
        return lines
    for group in answer.groups:
        name = f"{group.item} in " if answer.setup else ""
        lines.append(_wrapped(f"{name}{place(group, answer.groups)}: {verdict(group, style)}", "  ", "    "))
    for value in answer.values:
        name = f"{value.item}, " if answer.setup else ""
        lines.append(_wrapped(f"{name}{values.place(value)}: {values.verdict(value, style)}", "  ", "    "))
        if to_do := values.to_do(value, style):
            lines.append(_wrapped(to_do, "    ", "    "))
    return lines


def table(
    groups: Sequence[Group],
    *,
    items: bool = False,
    marked: Collection[tuple[object, ...]] = (),
    out: Collection[str] = (),
) -> list[str]:
    """The figures of groups, a line each under a header, in µm.

    ``items``: with the item's code; ``marked`` places are flagged, items ``out`` are out of service.
    """
    rows = [_row(group, groups, items=items, marked=_place(group) in marked, out=group.item in out) for group in groups]
    columns = dict(zip(_COLUMNS, zip(*rows, strict=True), strict=True))
    return fitted(columns, TERMINAL - _INDENT, _FIRST_LEFT_OUT, right=_RIGHT, down_the_page=True)


def _place(one: Group | ValueGroup | Reason) -> tuple[object, ...]:
    return (one.item, one.setup, one.position, one.distance_mm, one.characteristic)


def _row(group: Group, among: Sequence[Group], *, items: bool, marked: bool, out: bool) -> tuple[str, ...]:
    finer, as_read = shown_step(group), read_step(group)

    def um(value: float | None, step: float, *, up: bool = False) -> str:
        return "-" if value is None else micrometres(value, step_um=step, round_up=up).removesuffix(" µm")

    tir = group.tir_um
    name = [group.item if items else "", group.setup, group.position, group.clocking]
    where = " ".join(part for part in name if part)
    alike = [other for other in among if other.item == group.item]
    pin = place(group, alike).removeprefix(place(group)).replace(", ", " ")
    bound = group.bound.value_um if group.bound and is_useful(group) else None
    return (
        f"{where} {_far(group)}{pin}",
        str(group.clampings),
        str(group.sittings),
        um(tir.mean, finer),
        um(tir.sd, finer),
        um(tir.min, as_read),
        um(tir.max, as_read),
        um(tir.last, as_read),
        um(bound, finer, up=True),
        "-" if group.limit_um is None else exact(group.limit_um).removesuffix(" µm"),
        more_days(group),
        ("OUT OF SERVICE" if out else in_table(group)) + (" ***" if marked or out else ""),
    )


def _far(group: Group) -> str:
    """How far out it was read; that a face was, and on which circle."""
    far = out(group.distance_mm, group.characteristic).removesuffix(" out")
    if group.characteristic != FACE_RUNOUT:
        return far
    face = "face" if group.diameter_mm is None else f"face on {group.diameter_mm:g} mm"
    return f"{far} {face}".strip()


def _notes(groups: Sequence[Group], style: NumberStyle, *, names: bool) -> list[str]:
    """Each caveat once, with the items or places it is true of where it is not true of all."""
    notes = [f"Figures in µm TIR. {GAUGES if names else gauge_line(groups, style)}"]
    for code, sentence in CAVEATS.items():
        having = [group for group in groups if code in group.caveats]
        if having and len(having) == len(groups):
            notes.append(sentence)
        elif names and 2 * len(having) > len(groups):
            notes.append(f"{sentence} (most of them)")
        elif having:
            whose = list(dict.fromkeys(group.item if names else place(group, groups) for group in having))
            if names and len(whose) > _MOST_NAMED:
                whose = [*whose[:_MOST_NAMED], f"and {len(whose) - _MOST_NAMED} more"]
            notes.append(f"{sentence} ({('; ', ', ')[names].join(whose)})")
    return [line for note in notes for line in _wrapped(note, "  - ", "    ")]


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
