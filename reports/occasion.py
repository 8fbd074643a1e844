"""What a guided occasion says: short, in the order of the hands, and large where it is read from the spindle."""

import cmath
import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Final

from qclog.occasion.changes import Change
from qclog.occasion.plan import Plan
from qclog.occasion.slow_turn import Captured
from qclog.occasion.turning import TurnTo
from qclog.occasion.wanted import Wanted
from qclog.questions.check_piece import FEWEST_EARLIER, CheckPiece
from reports.numbers import NumberStyle, angle, count, how_often, length, micrometres, shown_unit, uncertainty
from reports.tables import WIDTH

BEGIN: Final = (
    "Isolate the machine; the spindle is turned by hand. Key out, guards and cables clear, phone away from the chuck. "
    "Clean pin, bore and nose. A foot switch used here must be no machine pedal."
)
END: Final = "Pin out, indicator away, KEY OUT; only then power. Local rules come first."
HELP: Final = {
    "": "Type what you read and Enter; a bare number is in {unit}.",
    "button": "Press the data button at each prompt.",
    "request": "Press Enter (or a foot switch) at each prompt; the indicator is then asked.",
    "stream": "Press Enter (or a foot switch) at each prompt; the value that stands there is taken.",
    "encoder": "Press Enter (or a foot switch) to begin a turn, then turn once round; readings are taken as their "
    "angles pass.",
    "turn": "Press Enter to begin a turn, then turn slowly; Enter again each time the spindle's mark passes, if you "
    "want the high spot too.",
}
ALWAYS: Final = "u: take back. c: another pin or person. q: stop here. Nothing taken is lost if you stop."
TURN: Final = {
    "stream": "Enter, then turn by hand, slowly, one and a half times round.",
    "encoder": "Enter, then turn by hand, slowly, once round.",
}
TURN_SLOWLY: Final = (
    "Turn one way, slowly and evenly, one and a half times round or more, the way the angles of the setup count. "
    "Enter as the mark passes, if you want the high spot."
)
TURN_ROUND: Final = "Turn on past zero, once round, slowly; stop where you like, but do not hurry past an angle."
FOR_HOW_LONG: Final = "r: for all the rest. o: in this clamping only. Enter: neither."
NOTHING_CHANGED: Final = "  nothing changed"
TAKEN_BACK: Final = "  taken back"
MANY_NOT_TAKEN: Final = (
    "So many lines that are no readings: does it talk as its profile says? A stream read as a button does this. "
    "Hear it: qclog listen PORT. All of them are kept, few are shown."
)
ONCE_MORE: Final = "  Not taken yet. Enter, and turn once more, slowly; the second time counts."
TOO_FAST: Final = "Too fast to be read: turn on, past zero, more slowly."
RIGHT: Final = "y: it is right. n: read this clamping again."
RIGHT_OR_AGAIN: Final = (
    "y: it is right. Or zero it, turn to 0° and press again: the clamping is read once more; the same again is right."
)
YES_OR_NO: Final = "y or n?"
READ_TWICE: Final = "  read twice alike, so it is right"
KEPT_HERE: Final = (
    "The clamping is kept here: the logbook cannot be reached now. Go on; it is logged once, when it is back."
)
GO_ON: Final = "Go on with it: qclog measure"
MOVED: Final = (
    "Something has moved: dirt, a stand, the spindle nose, the pin. Find it first. "
    "s: strike out what was measured. k: keep it; the doubt stays beside it."
)
SILENT: Final = "The indicator is silent. Is it on, and the cable in?"
LOST: Final = "The indicator is gone. Plug it in again; what was taken is kept."
BACK: Final = "The indicator is back. A turn under way begins anew."
POWER_ON: Final = "STOP: the spindle turns faster than a hand. Power off, isolate, and begin this clamping again."
STATE: Final = {"lost": LOST, "silent": SILENT, "connected": BACK}
FROZEN: Final = "The reading has not moved for a while: is the indicator on hold, or does it not touch?"

CAUTION_OF: Final = {
    "uneven_hand": "The hand was uneven, or there are lobes: turn more evenly if the swing matters to a tenth.",
    "levels_differ": "The high or low spots differ: did the stand move, or the hand turn back, or too fast?",
    "no_movement": "Nothing moved: is the indicator on hold, or does it not touch?",
    "marks_not_used": "The marks did not fit the turn; the swing is kept without its high spot.",
    "one_mark": "With one mark only the direction is rough.",
    "high_spot_not_known": "The swing is too small against the noise to know where its high spot stands.",
}

_SCALE: Final = (5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
_HALF_SCALE: Final = 15
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


def opening(plan: Plan, done: int, mode: str, unit: str) -> list[str]:
    """What is measured, and how; ``mode``: how the indicator gives readings, "" where they are typed; ``unit``: of a
    bare number."""
    at = f", key positions {', '.join(plan.positions)}" if len(plan.positions) > 1 else ""
    turn = "the swing of each" if plan.steps == 1 else f"each read in {plan.steps} steps and back at zero"
    if plan.readings > 1:
        turn = f"{turn}, {how_often(plan.readings)} before it is opened"
    what = f"{plan.item} in {plan.setup}{at}, {' and '.join(length(at) for at in plan.distances_pm)} out: {turn}."
    if plan.stops:
        what = f"A study of {what} {studied(plan)}"
    if plan.clockings:
        what += (
            " Marks are set from the spindle's mark, the way round the angles of the setup count, to 2° or better; "
            "what is not named stays where it is."
        )
    going_on = f" Going on behind clamping {done}." if done else ""
    how = HELP["turn" if mode == "stream" and plan.steps == 1 else mode].format(unit=shown_unit(unit))
    help_text = f"{how} {ALWAYS}"
    return [line for text in (f"{what}{going_on}", BEGIN, help_text) for line in textwrap.wrap(text, WIDTH)]


def studied(plan: Plan) -> str:
    """What is changed from clamping to clamping of a study."""
    pins = sorted({stop.pin for stop in plan.stops})
    people = dict.fromkeys(stop.operator for stop in plan.stops)
    who = f"; {', '.join(people)} in turn" if len(people) > 1 else ""
    return (
        f"{count(len(plan.stops), 'clamping')}, {'pin' if len(pins) == 1 else 'pins'} {', '.join(pins)}{who}, in an "
        "order that was drawn by lot and stays."
    )


def warnings(not_in_order: Mapping[str, str]) -> list[str]:
    """What has to be known before anything is read: gauges that were found wrong, or out at their last quick check."""
    return [
        f"The last quick check of {gauge} was out ({read}). Check it again before you measure: qclog instrument check "
        f"{gauge}"
        if read
        else f"{gauge} was found wrong: what it reads stays in doubt until it is calibrated. See: qclog recall {gauge}"
        for gauge, read in not_in_order.items()
    ]


def in_the_middle(wanted: Wanted, plan: Plan, readings: Sequence[str]) -> str:
    """Where an occasion was cut off within a clamping."""
    where = f" at position {wanted.position}" if wanted.position else ""
    what = f"clamping {wanted.clamping} of {wanted.clampings}"
    if wanted.check:
        what = f"the check piece{where}"
    elif plan.stops:
        what += f" ({_as_clamped(wanted)})"
    else:
        what += where
    if wanted.turns > 1:
        what += f", reading {wanted.turn} of {wanted.turns}"
    if wanted.distances > 1:
        what += f", {length(wanted.distance_pm)} out"
    return (
        f"In the middle of {what}; read so far: {', '.join(readings)}. Still clamped, and the zero as it was? "
        "If not: u, then b."
    )


def undo(readings: Sequence[str], logged: Sequence[int]) -> str:
    """The question before something is taken back, and what that is."""
    what = f"the reading {readings[-1]}" if readings else f"clamping {logged[-1]}" if logged else "nothing yet"
    return f"Back: {what}. m: it was misread. b: it was badly clamped, and counts as such. Enter: neither."


def undo_last_reading(number: int) -> str:
    """The same for a clamping read several times, while it may still be closed."""
    return (
        f"Back: clamping {number}. Still closed? m: the last reading was misread, the others stand. b: it was badly "
        "clamped, and counts as such. Enter: neither."
    )


def another(wanted: Wanted) -> str:
    """The question what is not as planned."""
    now = ", ".join(part for part in (f"pin {wanted.pin}" if wanted.pin else "", wanted.operator) if part)
    return f"Now: {now or 'no pin named'}. Type the pin that is in, or who clamps and reads instead. Enter: neither."


def is_it_a_person(text: str) -> str:
    """The question about what is no pin and nobody known."""
    return f"{text} is no pin here. y: {text} clamps and reads. Enter: neither (a pin is entered with qclog pin add)."


def changed(change: Change, readings: Sequence[str]) -> str:
    """Another pin or person, as it was noted; ``readings`` of the clamping under way count for it."""
    what = f"pin {change.now}" if change.what == "pin" else f"{change.now} clamps and reads"
    instead = f" in place of {change.planned}" if change.planned else ""
    noted = f"  {what}{instead}, {'in this clamping only' if change.alone else 'from now on'}: noted."
    return f"{noted} What was read of this clamping counts so too; if not: u, then b." if readings else noted


def prompt(wanted: Wanted, plan: Plan, mode: str) -> list[str]:
    """The next thing to do with the hands, and the reading wanted."""
    lines = _clamped_anew(wanted, plan) if wanted.new_clamping else []
    if wanted.new_turn:
        lines += textwrap.wrap(_turn_begins(wanted, plan, mode), WIDTH)
    if wanted.angle_deg is not None:
        back = " again, to see that it closes" if wanted.returning else ""
        lines += large(f"{wanted.angle_deg}°")
        lines.append(f"Turn to {wanted.angle_deg}°{back} and read ({wanted.reading} of {wanted.readings}).")
    return lines


def _clamped_anew(wanted: Wanted, plan: Plan) -> list[str]:
    """Which clamping it is, what goes in, and how it is closed."""
    where = f" at position {wanted.position}" if wanted.position else ""
    if wanted.check:
        return [
            f"--- check piece {plan.check}, at the {wanted.check} ---",
            f"{plan.check} in, wiped. Tighten{where}. KEY OUT.",
        ]
    number = f"clamping {wanted.clamping} of {wanted.clampings}"
    pin = f"Pin {wanted.pin}" if wanted.pin else "Pin"
    if plan.stops:
        lines = [f"--- {number}: {_as_clamped(wanted)} ---"]
        another_one = wanted.pin != wanted.pin_before
        out = f"Pin {wanted.pin_before} right out. " if another_one and wanted.pin_before else ""
        into = f"{pin} wiped, in." if another_one else f"{pin} right out, wiped, in again."
        does = f"{out}{into} {f'Key at {wanted.position}: tighten' if wanted.position else 'Tighten'}. KEY OUT."
    else:
        lines = [f"--- {number}{where} ---"]
        turned = f"{turning(wanted.bodies)}" if wanted.bodies else ""
        does = f"{pin} right out, wiped{f'. {turned}' if turned else ', in again.'} Tighten{where}. KEY OUT."
    if wanted.operator != wanted.operator_before and (wanted.operator_before or plan.stops) and wanted.operator:
        lines.append(f"{wanted.operator} clamps and reads{' from here on' if wanted.operator_before else ''}.")
    return lines + textwrap.wrap(does, WIDTH)


def _as_clamped(wanted: Wanted) -> str:
    """Who clamps, on which pin and at which key position: "MO, pin P-2, key at B"."""
    named = (
        wanted.operator,
        f"pin {wanted.pin}" if wanted.pin else "",
        f"key at {wanted.position}" if wanted.position else "",
    )
    return ", ".join(part for part in named if part)


def _turn_begins(wanted: Wanted, plan: Plan, mode: str) -> str:
    """How a turn is begun; of several, which it is."""
    if plan.steps == 1:
        how = TURN.get(mode, "Turn once round by hand and read the full swing.")
    else:
        how = f"Spindle's mark under the indicator, zero set{'' if wanted.new_clamping else ' anew'}."
        how += f" {TURN[mode]}" if mode == "encoder" else ""
    if wanted.turns == wanted.distances == 1:
        return how
    which = f" {wanted.turn} of {wanted.turns}" if wanted.turns > 1 else ""
    where = f" at {length(wanted.distance_pm)} out" if wanted.distances > 1 else ""
    closed = ", the first" if which else ""
    if not wanted.new_clamping:
        closed = ", WITHOUT OPENING"
    return f"Read{which}{where}{closed}. {how}"


def turning(turn: Sequence[TurnTo]) -> str:
    """Where the marks of all bodies go: "Marks: collet C-735 to 120°; pin P-735 again at 0°." """
    told = []
    for one in turn:
        what = f"{one.kind} {one.body}".strip()
        told.append(f"{what} {'to' if one.moved else 'again at'} {one.angle_mdeg / 1000:g}°")
    return f"Marks: {'; '.join(told)}."


def logged(number: int, figures: Sequence[tuple[int, float, complex | None]], style: NumberStyle) -> str:
    """A clamping that is in the logbook, with the swing of each turn and its high spot where it is known; where it was
    read, if at several distances."""
    told = []
    several = len({distance for distance, _, _ in figures}) > 1
    for distance, swing, vector in figures:
        high = f", high spot {angle(math.degrees(cmath.phase(vector)))}" if vector else ""
        at = f" at {length(distance)}" if several else ""
        told.append(f"{micrometres(swing, step_um=0.1, style=style)} TIR{at}{high}")
    return f"Clamping {number} logged{': ' if told else ''}{'; '.join(told)}."


def given_up(plan: Plan) -> str:
    """An occasion that was stopped, when another of the same item begins."""
    return f"The occasion of {plan.item} that was stopped is not gone on with; what it logged stays."


def study_stopped(plan: Plan, done: int) -> str:
    """A study that was stopped, when another occasion of the same item begins."""
    return f"A study of {plan.item} was stopped after {done} of {len(plan.stops)} clampings."


def still_here(clampings: int) -> str:
    return (
        f"{count(clampings, 'clamping')} not in the logbook yet, kept here. When it can be reached again: qclog measure"
    )


def checked(piece: CheckPiece, style: NumberStyle) -> str:
    """How the check piece read at both ends, and what it may differ by."""
    start, end, change, allowed = (
        micrometres(value, step_um=0.1, style=style)
        for value in (piece.start_um, piece.end_um, piece.change_um, piece.allowed_um)
    )
    how = " with its direction" if piece.directions else ""
    since = (
        f"by its {count(piece.earlier, 'earlier clamping')}"
        if piece.earlier >= FEWEST_EARLIER
        else f"three steps of the indicator, until it was read {FEWEST_EARLIER} times"
    )
    word = "MOVED" if piece.moved else "has not moved"
    return (
        f"Check piece {piece.item} {word}: {start} at the start, {end} at the end, changed by {change}{how}; "
        f"{allowed} is allowed, {since}."
    )


def live(value_um: float, widest_um: float, turn: tuple[int, int] | None) -> str:
    """The reading as it stands, on a scale from minus to plus; of a turn the readings so far and its quarters."""
    end = next((mark for mark in _SCALE if mark >= widest_um), _SCALE[-1])
    at = round(max(-1.0, min(1.0, value_um / end)) * _HALF_SCALE) + _HALF_SCALE
    scale = "".join("█" if i == at else "┼" if i == _HALF_SCALE else "─" for i in range(2 * _HALF_SCALE + 1))
    line = f"  {value_um:+8.1f} µm  {scale} ±{end:g}"
    if turn is None:
        return line
    readings, quarters = turn
    return f"{line}  turn {'█' * quarters + '·' * (4 - quarters)} {count(readings, 'reading')}"


def taken(text: str, unit: str) -> str:
    """A reading as it was taken; a bare number with its unit."""
    return f"  {text}{'' if text.strip()[-1:].isalpha() or '@' in text else f' {shown_unit(unit)}'}  taken"


def not_taken(text: str, why: str) -> str:
    return f"  {text} NOT taken: {why}"


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
