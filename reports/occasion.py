"""What a guided occasion says: short, in the order of the hands, and large where it is read from the spindle."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.occasion.guided import Wanted
from qclog.occasion.plan import Plan
from qclog.occasion.slow_turn import Captured
from reports.assessment import WIDTH
from reports.numbers import count, length, micrometres, uncertainty

BEGIN: Final = (
    "Isolate the machine; the spindle is turned by hand. Key out, guards and cables clear, phone away from the chuck. "
    "Clean pin, bore and nose. A foot switch used here must be no machine pedal."
)
END: Final = "Pin out, indicator away, KEY OUT; only then power. Local rules come first."
HELP: Final = {
    "": "Type what you read and Enter.",
    "button": "Press the data button at each prompt.",
    "request": "Press Enter (or a foot switch) at each prompt; the indicator is then asked.",
    "stream": "Press Enter (or a foot switch) at each prompt; the value that stands there is taken.",
    "turn": "Press Enter to begin a turn, then turn slowly; Enter again each time the spindle's mark passes, if you "
    "want the high spot too.",
}
ALWAYS: Final = "u: take back. q: stop here. Nothing taken is lost if you stop."
TURN_SLOWLY: Final = (
    "Turn one way, slowly and evenly, about twice round; so that the points come under the indicator clockwise, "
    "facing the nose. Enter as the mark passes, if you want the high spot."
)
UNDO: Final = "m: it was misread. b: it was badly clamped, and counts as such. Enter: neither."
SILENT: Final = "The indicator is silent. Is it on, and the cable in?"
LOST: Final = "The indicator is gone. Plug it in again; what was taken is kept."
BACK: Final = "The indicator is back."
POWER_ON: Final = "STOP: the spindle turns faster than a hand. Power off, isolate, and begin this clamping again."
FROZEN: Final = "The reading has not moved for a while: is the indicator on hold, or does it not touch?"

CAUTION_OF: Final = {
    "uneven_hand": "The hand was uneven, or there are lobes: turn more evenly if the swing matters to a tenth.",
    "levels_differ": "The high or low spots differ: did the stand move, or the hand turn back? Better read it again.",
    "no_movement": "Nothing moved: is the indicator on hold, or does it not touch?",
    "marks_not_used": "The marks did not fit the turn; the swing is kept without its high spot.",
    "one_mark": "With one mark only the direction is rough.",
}

_GLYPHS: Final = {
    "0": ("███", "█ █", "█ █", "█ █", "███"),
    "1": ("  █", "  █", "  █", "  █", "  █"),
    "2": ("███", "  █", "███", "█  ", "███"),
    "3": ("███", "  █", "███", "  █", "███"),
    "4": ("█ █", "█ █", "███", "  █", "  █"),
    "5": ("███", "█  ", "███", "  █", "███"),
    "6": ("███", "█  ", "███", "█ █", "███"),
    "7": ("███", "  █", "  █", "  █", "  █"),
    "8": ("███", "█ █", "███", "█ █", "███"),
    "9": ("███", "█ █", "███", "  █", "███"),
    "°": ("██ ", "██ ", "   ", "   ", "   "),
    "+": ("   ", " █ ", "███", " █ ", "   "),
    "-": ("   ", "   ", "███", "   ", "   "),
    ".": (" ", " ", " ", " ", "█"),
}


def large(text: str) -> list[str]:
    """Figures in letters five lines high; what has no such letter is left out."""
    glyphs = [_GLYPHS[letter] for letter in text if letter in _GLYPHS]
    return ["  " + "  ".join(glyph[row] for glyph in glyphs) for row in range(5)] if glyphs else []


def opening(plan: Plan, done: int, mode: str) -> list[str]:
    """What is measured, and how; ``mode``: how the indicator gives readings, "" where they are typed."""
    at = f", key positions {', '.join(plan.positions)}" if len(plan.positions) > 1 else ""
    turn = "the swing of each" if plan.steps == 1 else f"each read in {plan.steps} steps and back at zero"
    what = f"{plan.item} in {plan.setup}{at}, {length(plan.distance_pm)} out: {turn}."
    going_on = f" Going on behind clamping {done}." if done else ""
    help_text = f"{HELP['turn' if mode == 'stream' and plan.steps == 1 else mode]} {ALWAYS}"
    return [line for text in (f"{what}{going_on}", BEGIN, help_text) for line in textwrap.wrap(text, WIDTH)]


def prompt(wanted: Wanted, plan: Plan) -> list[str]:
    """The next thing to do with the hands, and the reading wanted."""
    lines = []
    if wanted.new_clamping:
        where = f" at position {wanted.position}" if wanted.position else ""
        lines.append(f"--- clamping {wanted.clamping} of {wanted.clampings}{where} ---")
        pin = f"Pin {plan.pin}" if plan.pin else "Pin"
        lines.append(f"{pin} right out, wiped, in again. Tighten{where}. KEY OUT.")
        if plan.steps == 1:
            lines.append("Turn once round by hand and read the full swing.")
        else:
            lines.append("Spindle's mark under the indicator, zero set.")
    if wanted.angle_deg is not None:
        back = " again, to see that it closes" if wanted.returning else ""
        lines += large(f"{wanted.angle_deg}°")
        lines.append(f"Turn to {wanted.angle_deg}°{back} and read ({wanted.reading} of {wanted.readings}).")
    return lines


def taken(text: str) -> str:
    return f"  {text}  taken"


def not_taken(text: str, why: str) -> str:
    return f"  {text!r} NOT taken: {why}"


def turning(readings: int, half_turns: int, swing_um: float) -> str:
    """How far a slow turn has come: a bar of four half turns."""
    bar = "█" * min(half_turns, 4) + "·" * max(4 - half_turns, 0)
    return f"  {bar}  {count(readings, 'reading')}, {micrometres(swing_um, step_um=0.1)} from lowest to highest"


def marked(marks: int) -> str:
    return f"  mark {marks}"


def captured(found: Captured) -> list[str]:
    """The swing of a slow turn, and what limits it."""
    swing, _, angle = found.text.partition("@")
    high = f", high spot at {angle}°" if angle else ""
    lines = [f"  swing {swing.removesuffix('um')} µm {uncertainty(2 * found.u_um)}{high}"]
    return lines + [f"  {CAUTION_OF[code]}" for code in found.caveats if code in CAUTION_OF]


def closing(logged: Sequence[int], badly_clamped: int, *, settled: bool, whole: bool) -> str:
    """What the occasion came to."""
    told = f"{count(len(logged), 'clamping')} logged."
    if badly_clamped:
        told += f" {count(badly_clamped, 'clamping')} given up as badly clamped."
    if settled:
        return f"{told} The question is settled, no more are needed."
    return told if whole else f"{told} Stopped before the end of the plan."
