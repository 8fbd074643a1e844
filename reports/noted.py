"""What is noted of a thing beside its card, as text and as plain values for JSON."""

from collections.abc import Mapping, Sequence
from typing import Any

from qclog.logbook.lookup import Modification
from qclog.particulars import Particular
from reports.cards import columns, noted_as
from reports.numbers import METRIC, NumberStyle

Work = Sequence[tuple[Modification, Mapping[str, str]]]


def noted_text(
    code: str, known: Mapping[str, str], work: Work, names: Sequence[Particular], style: NumberStyle = METRIC
) -> str:
    """What is noted, of work under its modification; then the names that something can be noted under."""
    lines = [f"  {name}: {noted_as(name, text, style)}" for name, text in known.items()]
    for change, how in work:
        if how:
            lines.append(f"  modification {change.number}, {change.what}:")
            lines += [f"    {name}: {noted_as(name, text, style)}" for name, text in how.items()]
    head = f"{code}:" if lines else f"{code}: nothing is noted yet."
    table = columns([(one.name, one.says) for one in names])
    return "\n".join([head, *lines, "", "To note:", *(f"  {line}" for line in table.splitlines())])


def noted_document(code: str, known: Mapping[str, str], work: Work) -> dict[str, Any]:
    return {
        "code": code,
        "noted": dict(known),
        "work": [{"modification": change.number, "what": change.what, "how": dict(how)} for change, how in work if how],
    }
