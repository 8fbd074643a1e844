"""An assessment as text: the sentence first, then a small table, then what limits the answer."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.assess import Answer, Group
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
    "next clampings",
)
_LEFT: Final = {0, len(_COLUMNS) - 1}
WIDTH: Final = 100
"""Sentences are wrapped to this many characters."""


def assessment(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """All answers, the flagged ones first, with a count of them at the head when there are several."""
    parts = []
    if len(answers) > 1:
        flagged = sum(bool(answer.reasons) for answer in answers)
        whole = f"{count(len(answers), 'item or setup', 'items and setups')} assessed, "
        parts.append(whole + (f"{flagged} flagged." if flagged else "none flagged."))
    ordered = sorted(answers, key=lambda answer: not answer.reasons)
    parts += [one_answer(answer, style) for answer in ordered]
    return "\n\n".join(parts)


def one_answer(answer: Answer, style: NumberStyle = METRIC) -> str:
    """One item or setup: its headline, a sentence a group, the table, the caveats."""
    lines = [*_wrapped(wording.headline(answer), "", "    ")]
    if not answer.groups:
        return "\n".join([*lines, *_wrapped(wording.not_measured(answer), "  ", "  ")])
    for group in answer.groups:
        name = f"{group.item} in " if answer.setup else ""
        lines += _wrapped(f"{name}{wording.place(group)}: {wording.verdict(group, style)}", "  ", "    ")
    lines.append("")
    lines += [f"  {line}" for line in table(answer.groups, items=bool(answer.setup))]
    lines.append("")
    for note in _notes(answer.groups, style):
        lines += _wrapped(note, "  - ", "    ")
    return "\n".join(lines)


def table(groups: Sequence[Group], *, items: bool = False) -> list[str]:
    """The figures of groups, a line each under a header, in µm."""
    rows = [_row(group, items=items) for group in groups]
    widths = [max(len(row[i]) for row in [_COLUMNS, *rows]) for i in range(len(_COLUMNS))]
    return [
        "  ".join(
            cell.ljust(width) if i in _LEFT else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in [_COLUMNS, *rows]
    ]


def _row(group: Group, *, items: bool) -> tuple[str, ...]:
    finer = wording.shown_step(group)

    def um(value: float | None, step: float, *, up: bool = False) -> str:
        return "-" if value is None else micrometres(value, step_um=step, round_up=up).removesuffix(" µm")

    tir = group.tir_um
    where = " ".join(part for part in (group.item if items else "", group.setup, group.position) if part)
    return (
        f"{where} {group.distance_mm:g} mm",
        str(group.clampings),
        str(group.sittings),
        um(tir.mean, finer),
        um(tir.sd, finer),
        um(tir.min, group.resolution_um),
        um(tir.max, group.resolution_um),
        um(tir.last, group.resolution_um),
        um(group.bound.value_um if group.bound else None, finer, up=True),
        um(group.limit_um, wording.exact_step(group.limit_um or 1.0)),
        group.next_clampings,
    )


def _notes(groups: Sequence[Group], style: NumberStyle) -> list[str]:
    """Each caveat once, with the groups it belongs to where it is not true of all."""
    notes = [f"Figures in µm TIR. {wording.gauge_line(groups, style)}"]
    for code, sentence in wording.CAVEATS.items():
        having = [group for group in groups if code in group.caveats]
        if having:
            only = "" if len(having) == len(groups) else f"{'; '.join(wording.place(group) for group in having)}: "
            notes.append(only + sentence)
    return notes


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
