"""Questions about what looks like a slip."""

import re
from collections.abc import Sequence
from typing import Final

from qclog.lengths import PICOMETRES, parse_length
from qclog.questions.doubts import Doubt, Doubtful
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, length, micrometres
from reports.wording.steps import exact_step

DOUBTS: Final = {
    Doubt.TEN_TIMES: "{typed} is {value}, {times} {against} ({reference}). A slipped decimal point?",
    Doubt.INCH_FOR_MM: "{typed} is {value}, {times} {against} ({reference}). Inch read for millimetre?{instead}",
    Doubt.UM_FOR_MM: "{typed} is {value}, {times} {against} ({reference}). Micrometres or millimetres?{instead}",
    Doubt.FIVE_EQUAL: "{value} five times running. Is the indicator frozen, on hold, or touching at all?",
    Doubt.NOT_MOVED: "It reads {value} all round. Is the indicator frozen, on hold, or touching at all?",
    Doubt.PIN_TOO_LARGE: "The pin ({value}) is larger than the bore ({reference}). A collet must never be forced.",
    Doubt.NOT_CLOSED: "The turn came back to zero {value} off. Drift, a slip or a loose stand? Better read it again.",
    Doubt.TOO_FINE: "{typed} is {exactly}, far less than can be read. Were millimetres or inches meant? Type the unit.",
    Doubt.IN_FUTURE: "{typed} is still to come by this computer's clock. A slip in the date?",
    Doubt.FAR_FROM_FACE: "{value} from the front face is {far}. A slip in the distance or its unit?",
    Doubt.OTHER_CIRCLE: "A face read on {value}, {circle}. A slip in the circle or its unit?",
    Doubt.GOES_DOWN: (
        "{typed} is a lift that goes down. Does the indicator count the other way? Then type it without the minus."
    ),
    Doubt.FAR_APART: "{typed} leaves {value} open, {times} {against} ({reference}). A slip in one of the two pins?",
    Doubt.CONTRADICTS: "{typed} contradicts what pins told last: {against} A pin mixed up, dirt, a burr, a slip?",
    Doubt.STEEP_LEVER: "With the lever at {degrees} it reads far too much; kept, but never used for a verdict.",
}
_AGAINST: Final = {
    "history": "what it has read so far",
    "limit": "its limit",
    "usual": "what is usual for its kind",
    "card": "the size on its card",
    "room": "what its limits are apart",
    "step": "what pins left open so far",
    "did not go": "{reference} did not go, so {value} cannot.",
    "went": "{reference} went, so {value} must.",
}
_NUMBER: Final = re.compile(r"([-+]?[0-9]*[.,]?[0-9]+) ?(?:um|\u00b5m|mm|in)?")

_NEAR: Final = 2.0

_FAR: Final = {
    "limit's distance": "{times} as far out as its limit ({reference})",
    "farthest": "farther out than anything is held (more than {reference})",
}
_CIRCLES: Final = {
    "circle": "so far on {reference}: another circle is another history",
    "smallest circle": "smaller than a face is read on (less than {reference})",
    "largest circle": "larger than a face is read on (more than {reference})",
}


def doubt(found: Doubtful, style: NumberStyle = METRIC) -> str:
    """The question a doubt asks."""
    sized = found.reference_um >= UM_PER_MM and found.against != "bore"

    def say(value_um: float) -> str:
        if sized:
            return length(round(value_um * 1e6), style=style)
        return micrometres(value_um, step_um=exact_step(value_um), style=style)

    return DOUBTS[found.doubt].format(
        typed=repr(found.typed),
        value=say(found.value_um),
        against=_AGAINST.get(found.against, "").format(value=say(found.value_um), reference=say(found.reference_um)),
        reference=say(found.reference_um),
        far=_FAR.get(found.against, "").format(
            times=_times(found.value_um, found.reference_um), reference=say(found.reference_um)
        ),
        circle=_CIRCLES.get(found.against, "").format(reference=say(found.reference_um)),
        exactly=f"{found.value_um:g} µm",
        degrees=f"{found.value_um:g}°",
        times=_times(found.value_um, found.reference_um),
        instead=_instead(found),
    )


def doubts(found: Sequence[Doubtful], style: NumberStyle = METRIC) -> list[str]:
    """The questions of a line, the same one of several readings once."""
    alike: dict[tuple[Doubt, object], list[Doubtful]] = {}
    for one in found:
        alike.setdefault((one.doubt, one if not one.typed else ""), []).append(one)
    questions = []
    for first, *rest in alike.values():
        others = ", ".join(repr(one.typed) for one in rest)
        questions.append(f"{doubt(first, style)} The same of {others}." if rest else doubt(first, style))
    return questions


def _instead(found: Doubtful) -> str:
    """What to type if it is near in another unit: " If so, type 0.501in."; of a number alone, or with its unit."""
    number = _NUMBER.fullmatch(found.typed)
    if number is None:
        return ""
    for unit in ("um", "mm", "in"):
        meant = abs(parse_length(f"{number[1]}{unit}", bare=None).picometres) / PICOMETRES["um"]
        if found.reference_um / _NEAR < meant < found.reference_um * _NEAR:
            return f" If so, type {number[1]}{unit}."
    return ""


def _times(value: float, reference: float) -> str:
    """How many times a value is the other, or which part of it; signs left aside."""
    value, reference = abs(value), abs(reference)
    if not value or not reference:
        return "far off"
    return f"{value / reference:.0f} times" if value > reference else f"1/{reference / value:.0f} of"
