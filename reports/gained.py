"""What a modification gained, in words: how much, how sure, and what the figure cannot know."""

from collections.abc import Callable

from qclog.questions.dossier import Gained, ValueGained
from reports import values
from reports.numbers import METRIC, NumberStyle, count, micrometres

_STEP_UM = 0.1


def told(gained: Gained, what: str, style: NumberStyle = METRIC) -> str:
    """``what`` was done, as the logbook has it."""

    def um(value: float) -> str:
        return micrometres(value, step_um=_STEP_UM, style=style)

    return _told(gained, f"{what[:1].upper()}{what[1:]}: it runs", "clamping", um, um)


def of_value(one: ValueGained, what: str, style: NumberStyle = METRIC) -> str:
    """The same of a size, a gap or a difference."""
    group, step = one.group, values.shown_step(one.group)

    def read(value: float) -> str:
        return values.figure(group, value, style, step)

    def apart(value: float) -> str:
        return micrometres(value, step_um=step, style=style)

    return _told(one.gained, f"{what[:1].upper()}{what[1:]}: {group.characteristic} is", "reading", read, apart)


def _told(gained: Gained, begins: str, noun: str, say: Callable[[float], str], um: Callable[[float], str]) -> str:
    """``say``: how a mean is said, ``um`` the difference of two."""
    found = gained.gain
    sides = ", ".join(
        f"{say(mean)} {when} ({count(len(points), noun)} in {count(len({p.sitting for p in points}), 'sitting')})"
        for mean, when, points in (
            (found.before_um, "before", gained.before),
            (found.since_um, "since", gained.since),
        )
    )
    change = "less" if found.gain_um >= 0 else "more"
    parts = [f"{begins} {um(abs(found.gain_um))} {change} on the mean; {sides}."]
    if found.low_um is None or found.high_um is None:
        parts.append(f"Too few for an interval: that takes three {noun}s before and three since, better on two days.")
    else:
        parts.append(_interval(found.low_um, found.high_um, um))
        if found.one_sitting:
            both = all(len({point.sitting for point in side}) == 1 for side in (gained.before, gained.since))
            rest = "Both sides rest on a single sitting each" if both else "One side rests on a single sitting"
            parts.append(f"{rest}: other days may differ by more than this interval says.")
    if gained.setup_changed:
        parts.append("The setup was changed in between too, so the difference is not of this work alone.")
    return " ".join(parts)


def _interval(low_um: float, high_um: float, um: Callable[[float], str]) -> str:
    """With 95 % confidence how much less or more, or that neither is shown."""
    if low_um > 0:
        return f"With 95 % confidence it is {um(low_um)} to {um(high_um)} less."
    if high_um < 0:
        return f"With 95 % confidence it is {um(-high_um)} to {um(-low_um)} more."
    return f"With 95 % confidence anything from {um(-low_um)} more to {um(high_um)} less: no change is shown."
