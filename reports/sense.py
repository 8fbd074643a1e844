"""Whether a setup's angles are counted the same way round, as text: the answer first, then what to do."""

import math
import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import SenseState
from qclog.questions.sense import Answer
from reports.numbers import count, times
from reports.tables import WIDTH
from reports.wording.clocking import SENSES

_CONVENTION: Final = (
    "Facing the nose, both are counted {way} from the spindle's mark. Clocking: a body turned {way} stands at the "
    "larger angle. Readings: begin with the mark under the indicator and turn the spindle {other}, so that the points "
    "come under it in {way} order."
)
_ENTERED: Final = " This setup was entered as counterclockwise."
_TRY: Final = (
    "Clamp one pin with a mark on it, best one with a large run-out, at three clockings a third of a turn apart, in "
    "one sitting, and read each at quarter turns:"
)
_CLOCKING_WRONG: Final = (
    "If it was the clocking, strike these clampings out and log them again with it reversed: 240 for 120, 270 for 90."
)
_READINGS_WRONG: Final = (
    "If it was the readings, strike out every clamping of this setup read that way, not only these, and log them "
    'again with the angles reversed: "4 0 -3 1" for "4 1 -3 0" (the first one stays), a high spot at 240 for one at '
    "120."
)
_NOT_BY_SETUP: Final = (
    "A setup entered with --counterclockwise does not mend it: that turns round both, readings and clocking."
)
_STRIKE: Final = 'qclog strike {item} {number} --reason "angles counted the other way round"'


def sense(answers: Sequence[Answer]) -> str:
    """One setup in full; of several how many are proven, and a sentence each."""
    if len(answers) == 1:
        return "\n".join(_one(answers[0]))
    states = [answer.state for answer in answers]
    told = ", ".join(f"{states.count(state)} {state}" for state in SenseState if state in states)
    lines = [f"{count(len(answers), 'setup')}: {told}.", ""]
    for answer in answers:
        lines += _sentence(answer)
    return "\n".join([*lines, "", "What to do: qclog sense SETUP"])


def _sentence(answer: Answer) -> list[str]:
    said = SENSES[answer.state]
    if answer.bodies:
        first = answer.bodies[0]
        apart = math.sqrt(max(first.ratio, 1 / first.ratio))
        said = said.format(body=first.code, clampings=count(first.clampings, "clamping"), times=times(apart))
    return textwrap.wrap(f"{answer.setup}: {said}", WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def _one(answer: Answer) -> list[str]:
    lines = _sentence(answer)
    for body in answer.bodies[1:]:
        lines += _note(f"{body.code}, {count(body.clampings, 'clamping')}: {body.state}.")
    if answer.state is SenseState.NOT_TRIED:
        lines += ["", *textwrap.wrap(_TRY, WIDTH), *_commands(answer), f"  qclog sense {answer.setup}", ""]
        lines += textwrap.wrap(_convention(answer), WIDTH)
    if answer.state is SenseState.OTHER_WAY:
        lines += _note(f"Look which of the two was counted wrongly. {_convention(answer)}")
        lines += _note(_CLOCKING_WRONG) + _note(_READINGS_WRONG) + _note(_NOT_BY_SETUP)
        for logged in answer.bodies[0].logged:
            numbers = ", ".join(map(str, logged.clampings))
            lines += _note(f"These clampings: {logged.item} {numbers}. For each of them:")
            lines.append(f"    {_STRIKE.format(item=logged.item, number=logged.clampings[0])}")
    return lines


def _convention(answer: Answer) -> str:
    ways = ("clockwise", "counterclockwise")
    way, other = ways if answer.counted == "clockwise" else ways[::-1]
    return _CONVENTION.format(way=way, other=other) + (_ENTERED if way == "counterclockwise" else "")


def _commands(answer: Answer) -> list[str]:
    last = answer.last_use
    pin = last.pin or "PIN"
    place = f" --position {last.position}" if last.position else ""
    far = "MM" if last.distance_mm is None else f"{last.distance_mm:g}"
    start = f"qclog log {last.item or 'ITEM'} --setup {answer.setup}{place} --distance {far} --pin {pin}"
    return [f'  {start} --clocking {pin}={turned} --quarters "..."' for turned in (0, 120, 240)]


def _note(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)
