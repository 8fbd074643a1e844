"""What an item is, what was done to it and what was seen on it, in the order of time."""

import dataclasses

from qclog.logbook.life import Life
from reports.cards import done_how, issued, made_to, noted_text, used_text, whereabouts, work_text
from reports.numbers import METRIC, NumberStyle, date, length
from reports.wording.cautions import advice_on

_CARD = ("kind", "system", "material", "place")


def is_what(life: Life, style: NumberStyle = METRIC) -> str:
    """The item in a line: kind, size, what was last done to it, its state, where it is kept and who has it out."""
    now = life.modifications[-1]
    size = life.card.get("bore_pm") or life.card.get("nominal_pm")
    parts = [str(life.card[key]) for key in _CARD if life.card.get(key)]
    if size:
        parts.insert(1, length(size, style=style))
    parts.append(f"{now.what}, modification {now.number}" if now.number else now.what)
    parts.append(life.state)
    if life.out is not None:
        parts.append(f"out: {whereabouts(life.out)}")
    if life.card.get("mark"):
        parts.append(f"marked {life.card['mark']}")
    if life.card.get("note"):
        parts.append(str(life.card["note"]))
    if life.noted:
        parts.append(noted_text(life.noted, style))
    return "; ".join(parts)


def history(life: Life, style: NumberStyle = METRIC) -> list[tuple[str, str]]:
    """Modifications with their limits, findings, use, statements and state: when and what."""
    first: list[tuple[str, str]] = []
    dated: list[tuple[str, str]] = []
    for change in life.modifications:
        limits = [
            f"made to {made_to(limit, style)}" for limit in life.limits if limit.modification_number == change.number
        ]
        if change.number:
            said = [work_text(dataclasses.asdict(change), style), *done_how(change, style), *limits, f"by {change.who}"]
            dated.append((change.done_at, "; ".join(said)))
        elif limits or change.how:
            first.append((change.what, "; ".join([*done_how(change, style), *limits])))
    for when, finding, note in life.findings:
        text = f"seen: {finding}" + (f" ({note})" if note else "")
        dated.append((when, f"{text}. {advice_on(finding, life.card.get('kind', ''))}"))
    for when, clampings, hours, note in life.uses:
        dated.append((when, f"used: {used_text(clampings, hours)}" + (f" ({note})" if note else "")))
    dated += [(one.issued_at, issued(one, style)) for one in life.statements]
    if life.state_reason:
        dated.append((life.state_since, f"{life.state}: {life.state_reason}"))
    return [*first, *((date(when), text) for when, text in sorted(dated, key=lambda one: one[0]))]
