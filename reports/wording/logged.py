"""What was logged."""

from collections.abc import Sequence

from qclog import times
from qclog.capture import Prepared
from qclog.logbook.life import LoggedClamping
from qclog.particulars import EXPIRES, Particular
from qclog.records import FACE_RUNOUT, RUNOUT, SWINGS
from reports.numbers import METRIC, NumberStyle, count, length, moment
from reports.wording import places


def logged(prepared: Prepared, numbers: Sequence[int], style: NumberStyle = METRIC) -> str:
    """What was logged and with which particulars, those kept from the line before named."""
    first = prepared.clampings[0]
    characteristic = first.turns[0].characteristic
    swing = characteristic in SWINGS
    runs = characteristic == RUNOUT
    distances = sorted({turn.distance_pm for turn in first.turns if turn.distance_pm or runs})
    parts = [
        places.what(characteristic),
        f"on {length(first.diameter_pm, style=style)}" if characteristic == FACE_RUNOUT and first.diameter_pm else "",
        first.setup,
        first.position and f"position {first.position}",
        " and ".join(length(distance, style=style) for distance in distances) + " out" if distances else "",
        first.pin and f"pin {first.pin}",
        first.instrument and f"indicator {first.instrument}",
        first.operator and f"read by {first.operator}",
    ]
    span = f"no. {numbers[0]}" + (f" to {numbers[-1]}" if len(numbers) > 1 else "")
    how = f"{count(len(numbers), 'clamping' if swing else 'reading')} ({span}{', recalled' if first.recalled else ''})"
    line = f"{prepared.item.text}: {how} logged; {', '.join(part for part in parts if part)}."
    if prepared.as_before:
        line += f" Taken over: {', '.join(prepared.as_before)}."
    if len(numbers) > 1 and not first.pin_out and not first.recalled and swing:
        still = "the pin stayed in" if first.pin else "it stayed closed"
        line += f" Each number counts as a clamping of its own (--same-clamping if {still})."
    return line


def struck(
    item: str, one: LoggedClamping, *, turn: int | None = None, reading: int | None = None, style: NumberStyle = METRIC
) -> str:
    """What was struck out, so that a wrong one is noticed: "KI-8, clamping 533 struck out: flushness -0.026 mm, of
    2026-09-10, read by RT"; a ``turn`` or a ``reading`` of it, counted from 1, by itself."""
    turns = one.turns if turn is None else one.turns[turn - 1 : turn]
    part = "" if turn is None else f", turn {turn}{'' if reading is None else f', reading {reading}'}"
    told = [
        " ".join(
            text
            for text in (
                places.named(each.characteristic),
                (" / " if each.kind == "value" else " ").join(each.texts)
                if reading is None
                else each.texts[reading - 1],
                f"at {length(each.distance_pm, style=style)}"
                if each.distance_pm or each.characteristic == RUNOUT
                else "",
            )
            if text
        )
        for each in turns
    ]
    where = (one.setup, one.position and f"position {one.position}", one.clocking and f"clocked {one.clocking}")
    by = one.operator and f"read by {one.operator}"
    parts = ", ".join(part for part in ("; ".join(told), *where, f"of {moment(one.taken_at)}", by) if part)
    return f"{item}, clamping {one.number}{part} struck out: {parts}"


def expired(noted: Sequence[tuple[Particular, str]], done_at: str) -> str:
    """That a compound was used after the last day on its bottle; '' where it was not."""
    for one, day in noted:
        if one.name == EXPIRES and day and done_at and day < times.day(done_at):
            return f"The compound expired on {day}, before {times.day(done_at)}: prove the bond, or bond it anew."
    return ""
