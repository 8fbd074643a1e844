"""What was logged."""

from collections.abc import Sequence

from qclog import times
from qclog.capture import Prepared
from qclog.particulars import EXPIRES, Particular
from qclog.records import FACE_RUNOUT, RUNOUT, SWINGS
from reports.numbers import METRIC, NumberStyle, count, length


def logged(prepared: Prepared, numbers: Sequence[int], style: NumberStyle = METRIC) -> str:
    """What was logged and with which particulars, those kept from the line before named."""
    first = prepared.clampings[0]
    characteristic = first.turns[0].characteristic
    swing = characteristic in SWINGS
    distances = sorted({turn.distance_pm for turn in first.turns if swing or turn.distance_pm})
    parts = [
        "" if characteristic == RUNOUT else characteristic,
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
        line += " Each number counts as a clamping of its own (--same-clamping if the pin stayed in)."
    return line


def expired(noted: Sequence[tuple[Particular, str]], done_at: str) -> str:
    """That a compound was used after the last day on its bottle; '' where it was not."""
    for one, day in noted:
        if one.name == EXPIRES and day and done_at and day < times.day(done_at):
            return f"The compound expired on {day}, before {times.day(done_at)}: prove the bond, or bond it anew."
    return ""
