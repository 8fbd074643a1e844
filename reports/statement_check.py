"""What was found when a statement was handed in: a line for each thing that is not as it was, with what to do."""

import textwrap
from typing import Any, Final

from qclog.questions.codes import Differs
from qclog.questions.judging.values import DOES_NOT_HOLD, HOLDS
from qclog.questions.stating.checking import Answer, Finding
from reports.issued import about, limits, stated_limits, verdict
from reports.numbers import METRIC, NumberStyle, count, date
from reports.tables import WIDTH
from reports.wording import places

_ANEW: Final = "Issue it anew: qclog statement {item} ..."
DIFFERS: Final = {
    Differs.NOT_ISSUED: (
        "This logbook has issued no statement no. {number}, revision {revision}: it is of another logbook, of entries "
        "that went with a backup, or made up. Do not rely on it."
    ),
    Differs.CONTENT_ALTERED: (
        "What it states is not what this logbook issued under its number: it was altered, or is of entries that went "
        "when a backup was gone back to. Do not rely on it; ask for the file as issued."
    ),
    Differs.READINGS_ALTERED: (
        "Its readings are not those it was issued with: readings.csv was altered. Do not rely on it; ask for the file "
        "as issued."
    ),
    Differs.FILE_ALTERED: (
        "The file is not the one issued, though what is attached is: its pages may say something else, or another "
        "program has saved it anew. Read statement.json, or ask for the file as issued."
    ),
    Differs.REPLACED: "Revision {newer} of {issued_on} stands in its place. Use that one.",
    Differs.LOCKED_OUT: "{item} was found with {finding} since: out of service. Tell the receiver.",
    Differs.STRUCK: "{what} clamping {clamping} was struck out since: {reason}. " + _ANEW,
    Differs.IN_DOUBT: (
        "{clampings} it rests on {were} read with a gauge found wrong since (qclog recall). Tell the receiver, and "
        "measure again, or clear what is in order with a reason."
    ),
    Differs.WORKED_ON: (
        "{item} was worked on since ({what}{when}): the statement is of what it was before. Measure it, then issue "
        "anew."
    ),
    Differs.SETUP_CHANGED: (
        "The setup {setup} was changed since ({why}{when}): the statement is of what it was before. Measure again, "
        "then issue anew."
    ),
    Differs.ADDED: "{clampings} {were} added since. To hand over a statement with them: qclog statement {item} ...",
    Differs.LIMIT: "The limit is {limit} now, it was {was}. " + _ANEW,
    Differs.VERDICT: "It stated that it {was_verdict}; today: {verdict}. Tell the receiver.",
    Differs.STILL: "The verdict is the same today: {verdict}.",
    Differs.PARTS: "What is said of {parts} is not the same today. " + _ANEW,
    Differs.FIGURES: "Its figures are not those of the logbook today. Look the logbook through: qclog verify",
}
_PARTS: Final = {
    "item": "the item",
    "place": "the setup",
    "pins": "the pin",
    "indicators": "the indicator",
    "method": "how it was read",
    "limit": "the limit",
    "struck": "what was struck out",
    "left_out": "what was left out",
}
_OF: Final = {"clamping": "", "turn": "A turn of ", "reading": "A reading of "}


def checked(answer: Answer, style: NumberStyle = METRIC) -> str:
    """The statement in a line, then what was found, or that it stands."""
    lines = [_opening(answer, style)]
    if not answer.findings:
        lines.append("The file is as it was issued, and the logbook says the same today.")
    elif answer.genuine:
        lines.append("The file is as it was issued. Since then:")
    lines += [f"  - {sentence(answer, finding, style)}" for finding in answer.findings]
    return "\n".join(
        line
        for text in lines
        for line in textwrap.wrap(text, WIDTH, subsequent_indent="    " if text.startswith("  ") else "  ")
    )


def sentence(answer: Answer, finding: Finding, style: NumberStyle = METRIC) -> str:
    return DIFFERS[finding.code].format(**_words(answer, finding.where, style))


def _opening(answer: Answer, style: NumberStyle) -> str:
    """ "Statement no. 12, revision 1, of 2026-05-04 for X: B-945 in LATHE-A, position S, 25 mm out, HOLDS 11 µm."."""
    issued, name = answer.issued, f"Statement no. {answer.number}, revision {answer.revision}"
    if issued is None:
        return f"{name}."
    where = ", ".join(part for part in (about(issued), places.out(issued.distance_mm, issued.characteristic)) if part)
    return f"{name}, of {date(issued.issued_at)} for {issued.receiver}: {where}, {verdict(issued, style)}."


def _words(answer: Answer, where: dict[str, Any], style: NumberStyle) -> dict[str, str]:
    """What the sentences name, as text."""
    issued = answer.issued
    characteristic = issued.characteristic if issued is not None else ""

    whole = where.get("part", "")
    when = where.get("modified_at") or where.get("since") or ""
    number = where.get("clampings", 0)
    return {
        "number": str(answer.number),
        "revision": str(answer.revision),
        "item": issued.item if issued is not None else "",
        "setup": issued.setup if issued is not None else "",
        "newer": str(where.get("revision", "")),
        "issued_on": date(where.get("issued_at", "")),
        "finding": "a crack" if where.get("finding") == "crack" else f"{where.get('finding', '')}",
        "what": where["what"] if "what" in where else _OF.get(whole, "") or "Its",
        "clamping": str(where.get("clamping", "")),
        "clampings": count(number, "clamping") if isinstance(number, int) else "",
        "were": "was" if number == 1 else "were",
        "reason": str(where.get("reason", "")).rstrip("."),
        "why": str(where.get("reason", "")).rstrip("."),
        "when": f", {date(when)}" if when else "",
        "limit": limits(characteristic, where.get("lower_limit_um"), where.get("limit_um"), style),
        "was": limits(characteristic, where.get("was_lower_um"), where.get("was_um"), style),
        "was_verdict": f"{issued.verdict} {stated_limits(issued, style)}" if issued is not None else "",
        "verdict": _loud(where.get("verdict") or "nothing can be told of it"),
        "parts": ", ".join(_PARTS.get(part, part) for part in where.get("parts", ())),
    }


def _loud(verdict: str) -> str:
    return verdict.upper() if verdict in (HOLDS, DOES_NOT_HOLD) else verdict
