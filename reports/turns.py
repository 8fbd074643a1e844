"""What the turns of an item tell, a sentence each: lobes, what the readings cannot tell, the indicator's own noise."""

import re
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.lengths import PICOMETRES, Unit, parse_length
from qclog.logbook.life import LoggedTurn
from qclog.questions import sense
from qclog.questions.codes import SenseState
from qclog.questions.newest_turns import ENOUGH
from qclog.questions.turns import Answer, Noise, ReadTurn
from reports.numbers import METRIC, NumberStyle, count, micrometres, shown_unit

_STEP_UM = 0.1
_BARE: Final = re.compile(r"[-+\u2212]?[0-9.,]+")
_UNITS: Final[tuple[Unit, ...]] = ("um", "mm", "in", "thou", "tenths")


def lobes_of(turn: ReadTurn, style: NumberStyle = METRIC) -> str:
    """ "3 lobes, 1.2 µm" for each form that is present; "" for none."""
    return ", ".join(f"{lobe.count} lobes, {_um(lobe.swing_um, style)}" for lobe in turn.lobes)


def without_unit(texts: Sequence[str]) -> tuple[list[str], str]:
    """The readings of a turn as typed, and apart the unit if each of several has the same: "4", "1" and "um"."""
    units = {text.partition(" ")[2] for text in texts}
    if len(texts) > 1 and len(units) == 1 and " " not in (unit := units.pop()):
        return [text.partition(" ")[0] for text in texts], unit
    return list(texts), ""


def unit_left_out(turn: LoggedTurn) -> str:
    """The unit a value alone was typed without, "" where it has one: sizes are in mm, small lengths mostly in µm."""
    if len(turn.texts) != 1 or turn.value_um is None or turn.by_pins or not _BARE.fullmatch(turn.texts[0]):
        return ""
    value_pm = round(turn.value_um * PICOMETRES["um"])
    return next((shown_unit(u) for u in _UNITS if parse_length(turn.texts[0], bare=u).picometres == value_pm), "")


def turn_notes(answer: Answer, senses: Sequence[sense.Answer], style: NumberStyle = METRIC) -> list[str]:
    """Notes on all turns of an item; nothing where it has none."""
    notes = []
    if lobed := [turn for turn in answer.turns if turn.lobes]:
        largest = max(lobed, key=lambda turn: max(lobe.swing_um for lobe in turn.lobes))
        seen = f"in {len(lobed)} of {count(len(answer.turns), 'turn')}"
        notes.append(f"Lobes were seen {seen}; the largest: {lobes_of(largest, style)} (clamping {largest.clamping}).")
    fewest = min(answer.turns, key=lambda turn: turn.readings, default=None)
    if fewest is not None and fewest.readings < ENOUGH and fewest.lobes_as_runout:
        notes.append(as_runout(fewest))
    notes += [_noise(noise, style) for noise in answer.noise]
    return notes + list(_senses(answer, senses))


def as_runout(turn: ReadTurn) -> str:
    """What so few readings cannot tell from run-out."""
    forms = " or ".join(str(lobe) for lobe in turn.lobes_as_runout[:2])
    told = f"With {turn.readings} readings a turn a form of {forms} lobes reads as run-out"
    return f"{told}; eight or twelve tell the usual ones apart."


def _noise(noise: Noise, style: NumberStyle) -> str:
    whose = f"Indicator {noise.instrument}" if noise.instrument else "The indicator, which was not named,"
    return (
        f"{whose} has a noise of its own of {_um(noise.noise_um, style)} a reading (from {count(noise.turns, 'turn')})."
    )


def _senses(answer: Answer, senses: Sequence[sense.Answer]) -> Iterable[str]:
    used = {turn.setup for turn in answer.turns}
    for one in senses:
        if one.setup in used and one.state is not SenseState.PROVEN:
            told = {
                SenseState.NOT_TRIED: "has not been proved",
                SenseState.OTHER_WAY: "is WRONG",
                SenseState.CANNOT_TELL: "could not be proved yet",
            }[one.state]
            yield f"The sense of the angles in {one.setup} {told}: qclog sense {one.setup}"


def _um(value: float, style: NumberStyle) -> str:
    return micrometres(value, step_um=_STEP_UM, style=style)
