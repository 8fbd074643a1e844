"""What is said of indicators: ports, what came in, why something is no reading, a profile proposed."""

import cmath
import math
import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Final

from instruments.ports import Port
from instruments.profile import Mode
from instruments.proposing import Proposal, Puzzle
from instruments.records import Arrival, Blank, Bytes, Change, Outcome, Reading, Refused, Said, Sent, Typed, Why, shown
from instruments.simulated import Spindle
from instruments.watching import pace
from reports.numbers import angle, count, micrometres
from reports.tables import WIDTH

MARK_PASSES: Final = "  the spindle's mark passes"
LISTENING_ENDED: Final = "listening ended"
_LONGEST_SHOWN: Final = 160
_FRAME_WIDTH: Final = 20

WHY: Final = {
    Why.PARTIAL: "only a part of a line came",
    Why.TOO_LONG: "it is longer than any line",
    Why.NOT_TEXT: "it is no text",
    Why.NOT_BCD: "it is not the thirteen digits of a frame",
    Why.GARBLED: "it was damaged on the way",
    Why.DEVICE_ERROR: "the indicator says that it cannot",
    Why.UNASKED: "it came without being asked for, so it may be an old one",
    Why.NO_ANSWER: "no answer came",
    Why.DOUBLE: "it is a second press right behind the first; the first counts",
    Why.NO_MATCH: "it is not of the form its profile gives",
    Why.NOT_A_NUMBER: "there is no number in it",
    Why.DECIMALS: "it has another number of decimals than its profile gives",
    Why.NO_UNIT: "there is no unit in it",
    Why.UNKNOWN_UNIT: "its unit is none the profile knows",
    Why.UNKNOWN_SIGN: "its sign is none the profile knows",
    Why.UNKNOWN_STATUS: "its status word is none the profile knows",
    Why.NO_COUNT: "there is no count of the encoder in it",
    Why.UNKNOWN_INDEX: "its index is none the profile knows",
    Why.HOLD: "the indicator is on hold",
    Why.MAX: "the indicator shows its highest value, not the one now",
    Why.MIN: "the indicator shows its lowest value, not the one now",
    Why.PRESET: "the indicator shows a preset value",
    Why.OVER_RANGE: "the indicator is beyond its range",
    Why.OUT_OF_RANGE: "it is beyond what this indicator can read",
    Why.ERROR: "the indicator reports an error",
    Why.LOW_BATTERY: "its battery is low, and no reading came with that",
}

TO_DO: Final = {
    Why.PARTIAL: "The next whole line counts; if none comes, check the cable, and terminator in the profile.",
    Why.TOO_LONG: "Check the speed (baud) and the end of a line (terminator) in the profile against its manual.",
    Why.NOT_TEXT: "Check baud, bytesize and parity in the profile against its manual, and keep the cable off motors.",
    Why.NOT_BCD: "Check baud in the profile, and whether the interface sends one digit a byte.",
    Why.GARBLED: "Ask again; if it stays so, check baud and parity in the profile, and the cable.",
    Why.DEVICE_ERROR: "Check kind, address and type below [registers] in the profile against its manual.",
    Why.UNASKED: 'Ask again; if it speaks all the time, write mode = "stream" in the profile.',
    Why.NO_ANSWER: "Is it on, and the cable in? Then check baud and request in the profile, or raise answer_seconds.",
    Why.NO_MATCH: "Compare it with pattern and example in the profile; a message is named below [status].",
    Why.NOT_A_NUMBER: "Check decimal (point or comma) and pattern in the profile.",
    Why.DECIMALS: "A digit may be lost; if the indicator has another resolution now, change decimals in the profile.",
    Why.NO_UNIT: 'Write in the profile what the display shows, as unit = "mm".',
    Why.UNKNOWN_UNIT: 'If it is a length, write it below [units] in the profile, as MM = "mm".',
    Why.UNKNOWN_SIGN: 'Write it below [signs] in the profile, as "8" = "-".',
    Why.UNKNOWN_STATUS: 'Write what it means below [status] in the profile, as H = "hold".',
    Why.NO_COUNT: "Is the encoder connected? Then check the group count in the pattern of the profile.",
    Why.UNKNOWN_INDEX: 'Write what it means below [index] in the profile, as "*" = "mark".',
    Why.HOLD: "Release it.",
    Why.MAX: "Switch that off.",
    Why.MIN: "Switch that off.",
    Why.PRESET: "Let it show where the plunger stands.",
    Why.OVER_RANGE: "Set the plunger nearer to the middle of its travel.",
    Why.OUT_OF_RANGE: "Check unit and scale in the profile, and [range] if it has one.",
    Why.ERROR: "Look at its display; its manual says what that means.",
    Why.LOW_BATTERY: "Change it.",
}
"""What to do about it; a second press needs nothing."""

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


HELP_SIMULATED: Final = "out: pull the cable. in: put it back. q: end, and see the truth."
CABLE: Final = {"out": "  The cable is out.", "in": "  The cable is in again."}
NOBODY_PRESSES: Final = "The keyboard has ended, so nobody presses its button; --every 2 presses by itself."
STOPPED: Final = "  stopped; Enter lets it go on."
WHOLE: Final = "  This clamping is whole, the button waits. Type how it is clamped next, if otherwise; Enter goes on."

MODES: Final = {
    "stream": 'It speaks by itself: mode = "stream". If it spoke because its data button was pressed, write "button".',
    "button": 'It speaks now and then: mode = "button". If it spoke by itself, write "stream".',
    "request": 'It speaks when it is asked: mode = "request".',
}


def ports(found: Sequence[Port]) -> list[str]:
    """The ports of this computer, and how to go on."""
    if not found:
        return ["No port here. Plug the indicator or its adapter in and look again."]
    lines = []
    for port in found:
        at = f"; wherever it is plugged in: {port.address}" if port.address != port.device else ""
        what = port.description if port.description not in ("", "n/a") else "not described"
        lines.append(f"{port.device}: {what}{at}")
    return [*lines, f"Hear what it says: qclog listen {found[0].address}"]


def arrival(found: Arrival) -> str:
    """What passed over the line."""
    match found:
        case Bytes(data, _):
            more = f"... ({len(data)} bytes)" if len(data) > _LONGEST_SHOWN else ""
            return f"< {shown(data[:_LONGEST_SHOWN])}{more}"
        case Sent(data, _):
            return f"> {shown(data)}"
        case Typed(text, _):
            return f"typed: {text}"
        case Change("connected", _, what):
            return f"-- connected: {what}"
        case Change(_, _, what):
            return (
                f"-- {what}" if what == LISTENING_ENDED else "-- lost; when the cable is in again it goes on by itself"
            )


def outcome(found: Outcome, *, told: bool = False) -> str:
    """A frame, and what it means or why it is no reading; what to do about that unless it was ``told``."""
    match found:
        case Reading():
            at = f" at {_degrees(found.angle_deg)}" if found.angle_deg is not None else ""
            mark = ", the mark passes" if found.index else ""
            also = f", {', '.join(found.status)}" if found.status else ""
            return f"  {_frame(found.raw)} = {found.value:f} {found.unit}{at}{mark}{also}"
        case Refused():
            why = f"  {_frame(found.raw)} NOT taken: {_why(found) if told else refused(found)}"
            return textwrap.fill(why, WIDTH, subsequent_indent=" " * (_FRAME_WIDTH + 3), drop_whitespace=True)
        case Said():
            return f"  {_frame(found.raw)} says: {found.words}"
        case Blank():
            return f"  {_frame(found.raw)} the end of a line, nothing more"


def refused(found: Refused) -> str:
    """Why something is no reading, with the part that was not understood, and what to do about it."""
    return f"{_why(found)} {TO_DO.get(found.why, '')}".strip()


def heard(outcomes: Sequence[Outcome], *, frozen: bool) -> list[str]:
    """The count at the end of listening."""
    if not outcomes:
        return ["Nothing came. Is it on, the cable in, and does it wait for its data button?"]
    readings = [one for one in outcomes if isinstance(one, Reading)]
    units = list(dict.fromkeys(one.unit for one in readings))
    rate = pace([one.time for one in readings]).per_second if len(readings) > 2 else None
    often = f", {rate:.{0 if rate >= 10 else 1}f} a second" if rate and rate >= 1 else ""
    lines = [f"{count(len(readings), 'reading')}{', in ' if units else ''}{' and '.join(units)}{often}."]
    whys = Counter(one.why for one in outcomes if isinstance(one, Refused))
    for why, number in whys.most_common():
        lines += textwrap.wrap(f"{number} not taken: {WHY[why]}. {TO_DO.get(why, '')}", WIDTH, subsequent_indent="  ")
    if len(units) > 1:
        lines.append("Somebody switched its unit: a reading is taken in the unit that came with it.")
    if any(one.status for one in readings):
        lines.append(f"Its battery is low. {TO_DO[Why.LOW_BATTERY]}")
    if frozen:
        lines.append("The last readings are all the same: on hold, or not touching?")
    return lines


def _why(found: Refused) -> str:
    detail = found.detail if found.detail != found.text.replace("\\r", "").replace("\\n", "") else ""
    return f"{WHY[found.why]}{f' ({detail})' if detail else ''}."


def _frame(raw: bytes) -> str:
    """A frame for the eye, as wide as most: digits of four bits as digits."""
    line = raw.strip(b"\r\n")
    digits = line[:1] == b"\x0f" and max(line) < 0x10
    return f"{line.hex().upper()[1::2] if digits else shown(line):<{_FRAME_WIDTH}}"


def _degrees(angle_deg: Fraction) -> str:
    """An angle to a thousandth of a degree, where its count is as fine."""
    return f"{Decimal(round(1000 * angle_deg)).scaleb(-3).normalize():f}°"


def proposal(found: Proposal, mode: Mode) -> list[str]:
    """What was understood of the bytes, and what was not."""
    lines = []
    if found.lines:
        lines.append(f"{found.understood} of {count(found.lines, 'line')} would become readings.")
    for puzzle in found.puzzles:
        detail = found.detail.get(puzzle, "")
        lines += textwrap.wrap(f"{PUZZLES[puzzle]}{f' ({detail})' if detail else ''}", WIDTH, subsequent_indent="  ")
    lines += [f"Not understood: {line}" for line in found.not_understood]
    if found.toml:
        lines.append(MODES[mode])
        lines.append("A profile for it follows; keep it in a file that ends in .toml, and name it with --profile.")
    return lines


def simulated(
    profile: str,
    address: str,
    mode: Mode,
    *,
    by_itself: bool,
    bodies: Sequence[str] = (),
    changing: Sequence[str] = (),
) -> list[str]:
    """Where a simulated indicator speaks, and what to do with it."""
    what = {
        "button": "Enter presses its data button, the spindle at the next angle; again, once more at the same.",
        "request": "It answers when asked, the spindle turning slowly. Enter clamps the pin anew.",
        "stream": "It speaks all the time, the spindle turning slowly. Enter clamps the pin anew.",
    }[mode]
    if mode == "button" and by_itself:
        what = "From Enter on its data button is pressed by itself, each time at the next angle. Enter stops it."
        if bodies or changing:
            what += " It stops by itself when a clamping is whole."
    return [
        f"A simulated indicator speaks at {address}",
        "In another terminal, one or the other:",
        f"  qclog listen {address} --profile {profile}",
        f"  qclog measure ITEM --profile {profile} --port {address}",
        what,
        *(["Press when measure has asked for the first reading."] if mode == "button" else []),
        *([f'Turn bodies before a clamping, and clamp it so: type "{bodies[0]}=120".'] if bodies else []),
        *([f'Before each clamping type what goes in, and who clamps: "{changing[0]}".'] if changing else []),
        HELP_SIMULATED,
    ]


def typed_to_simulated(mode: Mode, unknown: Sequence[str]) -> str:
    """What may be typed, after the words that are ``unknown`` here."""
    not_known = f"Not known here: {', '.join(unknown)}. " if unknown else ""
    enter = "Enter: press the button. again: press it once more at the same angle." if mode == "button" else ""
    return f"{not_known}{enter or 'Enter: clamp it anew.'} {HELP_SIMULATED}"


def clamped(clamping: int, position: str, there: Sequence[str] = ()) -> str:
    """Which clamping of the simulated pin it is; ``position`` is empty where there is but one; ``there``: what of that
    which changes is in."""
    at = f", position {position}" if position else ""
    return f"  clamped anew: clamping {clamping}{at}{''.join(f', {name}' for name in there)}"


def turned(clamping: int, angles_deg: Mapping[str, float]) -> str:
    """How the bodies stand now, clamped anew."""
    told = ", ".join(f"{code} at {angle(at)}" for code, at in angles_deg.items())
    return f"  turned, clamped anew: clamping {clamping}, {told}"


def no_such_body(unknown: Sequence[str], bodies: Sequence[str]) -> str:
    """What cannot be turned here, and what can."""
    there = ", ".join(bodies) or "none (--body)"
    return f"  {', '.join(unknown)} is not turned here; there are: {there}."


def truth_of_body(code: str, vector: complex) -> str:
    """What a simulated body really runs, its mark at 0."""
    size = micrometres(2 * abs(vector), step_um=0.1)
    return f"The truth of {code}: {size} TIR at {angle(math.degrees(cmath.phase(vector)))}, its mark at 0."


def truth_of_what_changes(name: str, vector: complex) -> str:
    """What a pin or a person really adds."""
    size = micrometres(2 * abs(vector), step_um=0.1)
    return f"The truth of {name}: adds {size} TIR at {angle(math.degrees(cmath.phase(vector)))}."


def pressed(clamping: int, position: str, angle_deg: float) -> str:
    """Which press that was; ``position`` is empty where there is but one."""
    at = f", position {position}" if position else ""
    return f"  pressed: clamping {clamping}{at}, {angle(angle_deg)}"


def truth(position: str, spindle: Spindle, repeat_um: float) -> str:
    """What the simulated pin really runs at ``position``, which is empty where there is but one."""
    swing = micrometres(spindle.swing_um, step_um=0.1)
    once = micrometres(2 * spindle.eccentricity_um, step_um=0.1)
    repeat = micrometres(2 * repeat_um, step_um=0.1)
    where = f", position {position}" if position else ""
    high_spot = angle(spindle.high_spot_deg)
    return f"The truth{where}: {swing} TIR, once per turn {once} at {high_spot}, repeat {repeat}."
