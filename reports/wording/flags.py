"""Why something is flagged, and the line that begins an answer."""

from collections.abc import Sequence
from typing import Final

from qclog.questions.assess import Answer, Reason
from qclog.questions.codes import FINDINGS, LOCKING, PUT_AWAY, Flag
from qclog.records import SWINGS
from reports.wording import places

FLAGS: Final = {
    Flag.NEXT_CLAMPINGS: "its next clampings will not hold {limit}",
    Flag.THIS_SITTING: "in its last sitting it did not hold {limit}",
    Flag.AS_READ: "it was read beyond {limit}",
    Flag.CRACK: "it is cracked: out of service whatever its run-out; scrap it",
    Flag.BLUE: "its nose is heat-blued, the temper is gone: out of service whatever its run-out; scrap it",
    Flag.BELL_MOUTH: "it is bell-mouthed: short work is not held",
    Flag.LOST_SPRING: "it has lost its spring",
    Flag.SLIP: "work has slipped in it",
    Flag.CRASH: "it had a crash",
    Flag.BURR: "it has a burr",
    Flag.FRETTING: "it shows fretting",
    Flag.COLLAPSED: "its leaves are bent inward",
    Flag.IN_DOUBT: "what it was read with was found wrong: in doubt until it is measured again or cleared",
}
_DOES_NOT_HOLD: Final = "it does not hold {limit}"
"""Of a size, a gap or a difference, which is not clamped."""
_WHOSE_LIMIT: Final = {"item": "what it was made to", "setup": "what the setup must hold"}
NOT_MEASURED: Final = {
    False: "{code} has no clampings yet. Log one: qclog log {code} ...",
    True: "{code} has not been measured since it was {what} (modification {number}). Log it: qclog log {code} ...",
}


def reasons(found: Sequence[Reason], *, items: bool = False) -> list[str]:
    """Why something is flagged, a line each, with the place where there is one; ``items``: with the item's code."""
    lines = []
    for reason in found:
        parts = (reason.item if items else "", reason.setup, reason.position and f"position {reason.position}")
        where = ", ".join(part for part in parts if part)
        distance = "" if reason.distance_mm is None else places.out(reason.distance_mm, reason.characteristic)
        where = ", ".join(part for part in (places.what(reason.characteristic), where, distance) if part)
        flag = _flag(reason).format(limit=_WHOSE_LIMIT.get(reason.limit_from, ""))
        lines.append(f"{flag}{f' ({where})' if where else ''}")
    return lines


def _flag(reason: Reason) -> str:
    if reason.code == Flag.NEXT_CLAMPINGS and reason.characteristic not in SWINGS:
        return _DOES_NOT_HOLD
    return FLAGS[reason.code]


def locked(answer: Answer) -> bool:
    """Whether a finding has put the item out of service whatever its run-out."""
    return any(reason.code in {FINDINGS[finding] for finding in LOCKING} for reason in answer.reasons)


def is_put_away(answer: Answer) -> bool:
    """Whether a person decided that it is not used any more."""
    return answer.state in PUT_AWAY


def headline(answer: Answer) -> str:
    """One line about an item or a setup; a flag is unmistakable without colour."""
    name = f"setup {answer.setup}" if answer.setup else answer.item
    state = f"{answer.what}, modification {answer.modification}" if answer.item and answer.modification else answer.what
    if answer.setup:
        state = f"revision {answer.modification}"
    elif is_put_away(answer):
        state += f", {answer.state.upper()} by decision"
    if answer.elsewhere:
        told = "; ".join(reasons((*answer.reasons, *answer.elsewhere)))
        where = "" if answer.reasons else " elsewhere, not here:"
        return f"*** FLAGGED ***{where} {name} ({state}): {told}."
    if answer.reasons:
        return f"*** FLAGGED *** {name} ({state}): {'; '.join(reasons(answer.reasons, items=bool(answer.setup)))}."
    return f"{name} ({state}): not flagged."


def not_measured(answer: Answer) -> str:
    """What to say of an item without clampings as it is now."""
    return NOT_MEASURED[answer.modification > 0].format(code=answer.item, what=answer.what, number=answer.modification)
