"""Key positions over many items as text: what may be said of the chuck, then item by item, then how it was told."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import KeyStatement
from qclog.questions.comparing.key_positions import Answer
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, angle, count, micrometres, percent, share, uncertainty
from reports.tables import WIDTH
from reports.wording import places
from reports.wording.caveats import CAVEATS
from reports.wording.comparing import KEY_STATEMENTS

_STEP_UM: Final = 0.1


def key_positions(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """All answers, one after the other."""
    return "\n\n".join(_one(answer, style) for answer in answers)


def _one(answer: Answer, style: NumberStyle) -> str:
    lines = textwrap.wrap(f"{_where(answer)}: {sentence(answer)}.", WIDTH, subsequent_indent="  ")
    first, second = answer.positions
    header = (answer.kind, f"at {first}", f"at {second}", "better at")
    rows = [
        (item.item, *(_um(end).removesuffix(" µm") for end in item.tir_um), item.better or "-") for item in answer.items
    ]
    lines += ["", *(f"  {line}" for line in columns([header, *rows]).splitlines()), ""]
    notes = [f"Figures in µm TIR, on the mean; {first} was better for {answer.wins} of {len(answer.items)}."]
    notes += [*_push(answer, style), *(CAVEATS[code] for code in answer.caveats)]
    for note in notes:
        lines += textwrap.wrap(note, WIDTH, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines)


def sentence(answer: Answer) -> str:
    """What may be said of the two positions for all that is held there."""
    chance = answer.chance
    value, low, high = (chance.value, chance.low, chance.high) if chance else (0.5, 0.0, 1.0)
    if answer.better == answer.positions[1]:
        value, low, high = 1.0 - value, 1.0 - high, 1.0 - low
    return KEY_STATEMENTS[answer.statement].format(
        better=answer.better,
        first=answer.positions[0],
        kind=answer.kind,
        kinds=answer.kind if answer.kind.endswith("s") else f"{answer.kind}s",
        share=share(value),
        span=f"{percent(low)} to {percent(high)}",
    )


def _push(answer: Answer, style: NumberStyle) -> list[str]:
    """How far the key pushes the axis, and whether that is the same for all."""
    first, second = answer.positions
    told = []
    if answer.shift is not None:
        push = f"{_um(answer.shift.tir_um, style)} {uncertainty(answer.shift.radius_um, style=style)}"
        if answer.statement is KeyStatement.NO_EFFECT:
            told.append(f"The push of the key comes out at {push}: it may be none.")
        else:
            towards = angle(answer.shift.direction_deg)
            told.append(f"At {first} the key pushes the axis by {push} towards {towards}, at {second} the other way.")
    elif answer.size_um is not None:
        high = micrometres(answer.size_um.high, step_um=_STEP_UM, style=style, round_up=True)
        low = micrometres(answer.size_um.low, step_um=_STEP_UM, style=style, round_down=True)
        push = f"{low} to {high}" if answer.size_um.low > 0.0 else f"at most {high}"
        told.append(
            f"The key pushes the axis by {push} one way or the other; four quarter turns tell which (--quarters)."
        )
    if answer.depends:
        what = "How far it pushes" if answer.shift is not None else "What the position changes"
        told.append(f"{what} is not the same for every {answer.kind}.")
    return told


def _where(answer: Answer) -> str:
    parts = [answer.setup, " or ".join(answer.positions), f"clocked {answer.clocking}" if answer.clocking else ""]
    parts.append(places.out(answer.distance_mm, answer.characteristic))
    if answer.diameter_mm is not None:
        smallest, largest = answer.diameter_mm.smallest, answer.diameter_mm.largest
        parts.append(f"size {smallest:g} mm" if smallest == largest else f"sizes {smallest:g} to {largest:g} mm")
    parts.append(places.what(answer.characteristic))
    parts.append(f"over {count(len(answer.items), answer.kind)}")
    return ", ".join(part for part in parts if part)


def _um(value: float, style: NumberStyle = METRIC) -> str:
    return micrometres(value, step_um=_STEP_UM, style=style)
