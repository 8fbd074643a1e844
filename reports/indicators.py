"""What is said of indicators: ports, what came in, why something is no reading, a profile proposed."""

from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from instruments.ports import Port
from instruments.proposing import Proposal, Puzzle
from instruments.records import Arrival, Bytes, Change, Outcome, Reading, Refused, Sent, Typed, Why, shown
from instruments.simulated import Spindle
from reports.numbers import angle, count, micrometres

WHY: Final = {
    Why.PARTIAL: "only a part of a line came",
    Why.TOO_LONG: "longer than any line: noise, a wrong end of line, a wrong speed",
    Why.NOT_TEXT: "no text: noise, a wrong speed, or a wrong number of data bits",
    Why.NOT_BCD: "not the thirteen digits of a frame",
    Why.GARBLED: "damaged on the way",
    Why.DEVICE_ERROR: "the indicator says that it cannot",
    Why.UNASKED: "it came without being asked for, so it may be an old one",
    Why.NO_ANSWER: "no answer came",
    Why.DOUBLE: "a second press right behind the first",
    Why.NO_MATCH: "not of the form its profile gives",
    Why.NOT_A_NUMBER: "no number in it",
    Why.DECIMALS: "another number of decimals than its profile gives",
    Why.NO_UNIT: "no unit in it",
    Why.UNKNOWN_UNIT: "a unit the profile does not know",
    Why.UNKNOWN_SIGN: "a sign the profile does not know",
    Why.UNKNOWN_STATUS: "a status word the profile does not know",
    Why.NO_COUNT: "no count of the encoder in it",
    Why.UNKNOWN_INDEX: "an index text the profile does not know",
    Why.HOLD: "the indicator is on hold: release it",
    Why.MAX: "the indicator shows its highest value, not the one now: switch that off",
    Why.MIN: "the indicator shows its lowest value, not the one now: switch that off",
    Why.PRESET: "the indicator shows a preset value",
    Why.OVER_RANGE: "the indicator is beyond its range",
    Why.OUT_OF_RANGE: "beyond what this indicator can read: a wrong unit or scale?",
    Why.ERROR: "the indicator reports an error",
    Why.LOW_BATTERY: "its battery is low",
}

PUZZLES: Final = {
    Puzzle.NOTHING_CAME: "Nothing came. Is it on, and does it wait for its button or to be asked (--request)?",
    Puzzle.NO_LINES: "Text without any end of line: what ends its frames is not known.",
    Puzzle.NOT_TEXT: "No text: a wrong speed, or frames of another kind. Try another --baud.",
    Puzzle.PARITY_SHOWS: "Text of seven bits with parity: set bytesize = 7 and the parity in the profile.",
    Puzzle.FEW_LINES: "Fewer than three whole lines: move the plunger, press the button, or listen longer.",
    Puzzle.NO_NUMBER: "No number in the lines.",
    Puzzle.SEVERAL_NUMBERS: "More than one number in a line changes; which one counts has to be said in the pattern.",
    Puzzle.OTHER_NUMBER: "Another number changes too and is passed over; if it is the count of an encoder on the "
    "spindle, write (?P<count>...) around it in the pattern, and counts_per_turn.",
    Puzzle.UNIT_NOT_SENT: "No unit is sent: say it with --unit mm or --unit in.",
    Puzzle.UNIT_UNKNOWN: "The word where the unit should stand is none that is known.",
    Puzzle.SIGN_NOT_SEEN: "All of one sign: move the plunger both ways, so that the other sign is seen.",
    Puzzle.DECIMALS_DIFFER: "The number of decimals changes: lines may be damaged.",
    Puzzle.OTHER_LINES: "Some lines have another form; they would be refused.",
}


def ports(found: Sequence[Port]) -> list[str]:
    """The ports of this computer, and how to go on."""
    if not found:
        return ["No port here. Plug the indicator or its adapter in and look again."]
    lines = []
    for port in found:
        at = f", stays {port.address}" if port.address != port.device else ""
        lines.append(f"{port.device}: {port.description or 'not described'}{at}")
    return [*lines, f"Hear what it says: qclog listen {found[0].address}"]


def arrival(found: Arrival) -> str:
    """What passed over the line."""
    match found:
        case Bytes(data, _):
            return f"< {shown(data)}"
        case Sent(data, _):
            return f"> {shown(data)}"
        case Typed(text, _):
            return f"typed: {text}"
        case Change(state, _, what):
            return f"-- {state}{f': {what}' if what else ''}"


def outcome(found: Outcome) -> str:
    """What came of it: a reading, or why not."""
    if isinstance(found, Reading):
        also = f" ({', '.join(found.status)})" if found.status else ""
        at = (
            f" at {Decimal(round(1000 * found.angle_deg)).scaleb(-3).normalize():f}°"
            if found.angle_deg is not None
            else ""
        )
        return f"     = {found.value:f} {found.unit}{at}{', the mark passes' if found.index else ''}{also}"
    if isinstance(found, Refused):
        return f"     NOT taken, {refused(found)}"
    return f"     says: {found.words}"


def refused(found: Refused) -> str:
    """Why something is no reading, with the part that was not understood."""
    return f"{WHY[found.why]}{f' ({found.detail})' if found.detail else ''}"


def heard(outcomes: Sequence[Outcome], *, frozen: bool) -> list[str]:
    """The count at the end of listening."""
    readings = sum(isinstance(one, Reading) for one in outcomes)
    lines = [f"{count(readings, 'reading')}."]
    whys = Counter(one.why for one in outcomes if isinstance(one, Refused))
    lines += [f"{number} not taken: {WHY[why]}." for why, number in whys.most_common()]
    if frozen:
        lines.append("The last readings are all the same: on hold, or not touching?")
    return lines


def proposal(found: Proposal) -> list[str]:
    """What was understood of the bytes, and what was not."""
    lines = []
    if found.lines:
        lines.append(f"{found.understood} of {count(found.lines, 'line')} would become readings.")
    for puzzle in found.puzzles:
        detail = found.detail.get(puzzle, "")
        lines.append(f"{PUZZLES[puzzle]}{f' ({detail})' if detail else ''}")
    lines += [f"Not understood: {line}" for line in found.not_understood]
    if found.toml:
        lines.append("A profile for it follows; keep it in a file that ends in .toml, and name it with --profile.")
    return lines


def simulated(profile: str, address: str, mode: str) -> list[str]:
    """Where a simulated indicator speaks, and what to do with it."""
    what = {
        "button": "Enter presses its button, with the spindle at the next angle",
        "request": "it answers when asked, the spindle turning slowly",
        "stream": "it speaks all the time, the spindle turning slowly",
    }[mode]
    return [
        f"An indicator speaks at {address}; {what}.",
        f"In another terminal: qclog measure ITEM --profile {profile} --port {address}",
        "Begin here when it has asked for the first reading there.",
        "out: pull the cable. in: put it back. q: end, and see the truth.",
    ]


def truth(spindle: Spindle, repeat_um: float) -> str:
    """What the simulated pin really runs."""
    swing = micrometres(spindle.swing_um, step_um=0.1)
    once = micrometres(2 * spindle.eccentricity_um, step_um=0.1)
    repeat = micrometres(2 * repeat_um, step_um=0.1)
    return f"The truth: {swing} TIR, once per turn {once} at {angle(spindle.high_spot_deg)}, repeat {repeat}."
