"""An assessment as text: the sentence first, then a small table, then what limits the answer."""

import shutil
import textwrap
from collections.abc import Collection, Sequence
from typing import Final

from qclog.questions.assess import Answer, Group, Reason
from reports import wording
from reports.numbers import METRIC, NumberStyle, count, micrometres

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
    "next clampings",
)
_LEFT: Final = ("where", "next clampings")
_INDENT: Final = 2
_FIRST_LEFT_OUT: Final = ("last", "least", "more days", "sittings", "sd", "most")
"""What a narrow terminal can do without; the sentences say what matters of it."""
TERMINAL: Final = shutil.get_terminal_size((120, 24)).columns
WIDTH: Final = max(40, min(100, TERMINAL - 1))
"""Sentences are wrapped to this many characters."""


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
        out = {answer.item for answer in items if wording.locked(answer)}
        marked = {_place(reason) for answer in flagged for reason in answer.reasons}
        parts.append("\n".join(table(groups, items=True, marked=marked, out=out)))
        parts.append("\n".join(_notes(groups, style, names=True)))
    return "\n\n".join(parts)


def one_answer(answer: Answer, style: NumberStyle = METRIC) -> str:
    """One item or setup: its headline, a sentence a group, the table, the caveats."""
    lines = _sentences(answer, style)
    if not answer.groups:
        return "\n".join([*lines, *_wrapped(wording.not_measured(answer), "  ", "  ")])
    out = {answer.item} if wording.locked(answer) else set()
    lines.append("")
    lines += [f"  {line}" for line in table(answer.groups, items=bool(answer.setup), out=out)]
    lines.append("")
    lines += _notes(answer.groups, style, names=False)
    return "\n".join(lines)


def _sentences(answer: Answer, style: NumberStyle) -> list[str]:
    """The headline, and a sentence a group. An item that is out of service is not said to hold anything."""
    lines = _wrapped(wording.headline(answer), "", "    ")
    if wording.locked(answer):
        return lines
    for group in answer.groups:
        name = f"{group.item} in " if answer.setup else ""
        lines += _wrapped(f"{name}{wording.place(group, answer.groups)}: {wording.verdict(group, style)}", "  ", "    ")
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
    columns = {title: [title, *cells] for title, cells in zip(_COLUMNS, zip(*rows, strict=True), strict=True)}
    for title in _FIRST_LEFT_OUT:
        if len(_laid_out(columns)[0]) + _INDENT <= TERMINAL:
            break
        del columns[title]
    return [line.rstrip() for line in _laid_out(columns)]


def _laid_out(columns: dict[str, list[str]]) -> list[str]:
    """The lines of a table, all of one length."""
    padded = []
    for title, cells in columns.items():
        width = max(map(len, cells))
        padded.append([cell.ljust(width) if title in _LEFT else cell.rjust(width) for cell in cells])
    return ["  ".join(row) for row in zip(*padded, strict=True)]


def _place(one: Group | Reason) -> tuple[object, ...]:
    return (one.item, one.setup, one.position, one.distance_mm)


def _row(group: Group, among: Sequence[Group], *, items: bool, marked: bool, out: bool) -> tuple[str, ...]:
    finer = wording.shown_step(group)

    def um(value: float | None, step: float, *, up: bool = False) -> str:
        return "-" if value is None else micrometres(value, step_um=step, round_up=up).removesuffix(" µm")

    tir = group.tir_um
    name = [group.item if items else "", group.setup, group.position, group.clocking]
    where = " ".join(part for part in name if part)
    alike = [other for other in among if other.item == group.item]
    pin = wording.place(group, alike).removeprefix(wording.place(group)).replace(", ", " ")
    bound = group.bound.value_um if group.bound and wording.is_useful(group) else None
    return (
        f"{where} {group.distance_mm:g} mm{pin}",
        str(group.clampings),
        str(group.sittings),
        um(tir.mean, finer),
        um(tir.sd, finer),
        um(tir.min, group.resolution_um),
        um(tir.max, group.resolution_um),
        um(tir.last, group.resolution_um),
        um(bound, finer, up=True),
        um(group.limit_um, wording.exact_step(group.limit_um or 1.0)),
        wording.more_days(group),
        ("OUT OF SERVICE" if out else group.next_clampings) + (" ***" if marked or out else ""),
    )


def _notes(groups: Sequence[Group], style: NumberStyle, *, names: bool) -> list[str]:
    """Each caveat once, with the items or places it is true of where it is not true of all."""
    notes = [f"Figures in µm TIR. {wording.GAUGES if names else wording.gauge_line(groups, style)}"]
    for code, sentence in wording.CAVEATS.items():
        having = [group for group in groups if code in group.caveats]
        if having and len(having) == len(groups):
            notes.append(sentence)
        elif names and 2 * len(having) > len(groups):
            notes.append(f"{sentence} (most of them)")
        elif having:
            whose = dict.fromkeys(group.item if names else wording.place(group, groups) for group in having)
            notes.append(f"{sentence} ({('; ', ', ')[names].join(whose)})")
    return [line for note in notes for line in _wrapped(note, "  - ", "    ")]


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
