"""What to hold a part with, as text: the first choice in a sentence, then all of them, then what was left out."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Caveat, Ground, Unfit
from qclog.questions.codes import Due as Why
from qclog.questions.due import Due
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.questions.pick import Picked
from qclog.questions.picking.blanks import ToMake
from qclog.questions.picking.choices import FORECAST, Choice
from qclog.questions.picking.fitting import LeftOut
from reports.cards import whereabouts
from reports.due import command
from reports.numbers import METRIC, NumberStyle, about_tenths, count, exact, length, micrometres, share
from reports.tables import TERMINAL, WIDTH, fitted
from reports.wording.cautions import CAUTIONS
from reports.wording.caveats import CAVEATS
from reports.wording.choosing import FOUND, GROUNDS, UNFITS
from reports.wording.commands import typed

RULE: Final = (
    "Good enough first: of what holds, what is mounted, then what runs least true, to spare the better ones; then the "
    "rest by chance."
)
FIRST_GRIP: Final = "Indicate every first grip at the distance wanted; what it reads decides, not what is told here."
TWO_MEANINGS: Final = (
    '"19 in 20 under" of what was read just so is shown with 95 % confidence, as assess tells it; of a forecast it is '
    "what to expect."
)
_COLUMNS: Final = ("", "item", "where", "kept at", "expect", "19 in 20 under", "first grip", "in 3 grips", "says")
_FIRST_LEFT_OUT: Final = ("expect", "in 3 grips", "kept at", "first grip")
MOST: Final = 8
"""Choices that are told one by one."""
SURE: Final = 0.995
"""From this chance on nobody counts how often it has to be gripped again."""
_SPARE: Final = {"worn out": "holds nowhere any more", "double": "you have another of its size"}
_HOLDING_TOO: Final = "{} too, truer or other places of these"
_RIGHT: Final = ("expect", "19 in 20 under", "first grip", "in 3 grips")
_MEASURE: Final = {Unfit.MODIFIED, Unfit.NEVER_MEASURED, Unfit.SETUP_CHANGED, Unfit.IN_DOUBT}
_MEASURE_HERE: Final = _MEASURE | {Unfit.OTHER_DIAMETER, Unfit.OTHER_DISTANCE, Unfit.PIN_CLOCKED, Unfit.CHANGES}
_SAYS: Final = {HOLDS: "holds", DOES_NOT_HOLD: "does not hold", CANNOT_TELL: "cannot tell yet", FORECAST: "forecast"}


def pick(found: Picked, style: NumberStyle = METRIC) -> str:
    lines = [line for sentence in sentences(found, style) for line in _wrapped(sentence, "", "  ")]
    if found.choices:
        lines += ["", *(f"  {line}" for line in _table(found))]
        if len(found.choices) > MOST:
            lines.append(f"  {more(found)}")
        lines += ["", *(line for note in notes(found) for line in _wrapped(note, "  - ", "    "))]
    if found.left_out:
        lines += ["", "Left out:"]
        for one in found.left_out:
            lines += _wrapped(left_out(one, style), "  ", "    ")
            if one.why in _MEASURE_HERE:
                lines.append(f"      {to_measure(one, found)}")
    if found.to_make is not None:
        lines += ["", "To make it:"]
        lines += [line for told in to_make(found.to_make, style) for line in _wrapped(told, "  ", "    ")]
        command_then = to_type(found.to_make, found)
        lines += [f"      {command_then}"] if command_then else []
    cautioned = [line for caution in cautions(found) for line in _wrapped(caution, "", "  ")]
    if cautioned:
        lines += ["", *cautioned]
    return "\n".join(lines)


def more(found: Picked) -> str:
    """How many choices are not told one by one; those of them that hold are no less likely than those that are."""
    others = found.choices[MOST:]
    hold = sum(one.told == HOLDS for one in others)
    if not hold:
        return f"and {len(others)} more, less likely (--json has all)."
    rest = ", the rest are less likely" if hold < len(others) else ""
    return f"and {len(others)} more: {_HOLDING_TOO.format(count(hold, 'holds', 'hold'))}{rest} (--json has all)."


def sentences(found: Picked, style: NumberStyle = METRIC) -> list[str]:
    """The answer: the first choice, what gripping again mends, the second best."""
    wanted = asked(found, style)
    if not found.choices:
        return [f"{wanted}: nothing you own can be told to hold it. {_why_nothing(found)}".strip()]
    first, second = found.choices[0], second_best(found)
    limit = of_limit(found, style)
    if first.told == HOLDS:
        told = [f"{wanted}: take {first.item} in {where(first)}. It HOLDS {limit}. {stays_under(first, style)}"]
    else:
        told = [
            f"{wanted}: nothing is proven to hold it. Nearest is {first.item} in {where(first)}: {_says(first, limit)}."
        ]
    told[0] = f"{told[0]} {chances(first)}".strip()
    if second is not None:
        told.append(f"Second best: {second.item} in {where(second)}: {in_short(second, found, style)}.")
    return told


def in_short(choice: Choice, found: Picked, style: NumberStyle = METRIC) -> str:
    """ "holds 10 µm; first grip inside in 19 in 20"."""
    says = _says(choice, of_limit(found, style))
    return says if choice.chance is None else f"{says}; first grip inside in {share(choice.chance)}"


def asked(found: Picked, style: NumberStyle = METRIC) -> str:
    """ "6.7 mm, 10 µm at 30 mm out"."""
    return f"{_mm(found.diameter_mm, style)}, {of_limit(found, style)} at {_mm(found.distance_mm, style)} out"


def of_limit(found: Picked, style: NumberStyle = METRIC) -> str:
    return exact(found.runout_um, style=style)


def where(choice: Choice) -> str:
    """ "LATHE-A, position N, clocked C-735=120"."""
    parts = [choice.setup, choice.position and f"position {choice.position}"]
    parts.append(choice.clocking and f"clocked {choice.clocking}")
    return ", ".join(part for part in parts if part)


def stays_under(choice: Choice, style: NumberStyle = METRIC) -> str:
    """What 19 clampings in 20 stay under, '' where that is not known."""
    most = most_um(choice)
    if most is None:
        return ""
    figure = micrometres(most, step_um=_step(choice), style=style, round_up=True)
    return f"19 clampings in 20 stay under {figure} as this indicator reads."


def chances(choice: Choice) -> str:
    """The chance of the first grip, and what gripping again mends; '' where nothing is known."""
    if choice.chance is None:
        return ""
    told = f"The first grip is inside in {share(choice.chance)}"
    again = choice.regripped
    if again is None and choice.chance < SURE:
        return f"{told}; what gripping again mends is not known before it is clamped twice on one day."
    if again is None or choice.chance >= SURE:
        return f"{told}."
    return (
        f"{told}; gripped again where it reads over, {share(again.inside)} come inside within three grips, with "
        f"{about_tenths(again.grips)} grips on average. That mends what changes from grip to grip, and nothing else."
    )


def second_best(found: Picked) -> Choice | None:
    """The next choice with another item, else with the same one elsewhere."""
    first, *others = found.choices
    return next((one for one in others if one.item != first.item), others[0] if others else None)


def notes(found: Picked) -> list[str]:
    """How they are ordered, and what limits them."""
    shown = found.choices[:MOST]
    bounds = {one.bound_um is None for one in shown if one.p95_um is not None}
    return [RULE, FIRST_GRIP, *([TWO_MEANINGS] if len(bounds) == 2 else []), *limits(shown)]


def limits(shown: Sequence[Choice]) -> list[str]:
    """What limits some of the choices, each once, with where it is true where that is not all of them."""
    told = []
    for code, sentence in CAVEATS.items():
        having = [f"{one.item} in {_place(one)}" for one in shown if code in one.caveats]
        if having:
            told.append(sentence if len(having) == len(shown) else f"{sentence} ({', '.join(having)})")
    for item, findings in dict.fromkeys((choice.item, choice.findings) for choice in shown if choice.findings):
        told.append(f"{item}: {' and '.join(findings)} was found on it; look at it first.")
    return told


def cautions(found: Picked) -> list[str]:
    """What has to be said wherever something worked on is offered or advised, and always of force and speed."""
    made = found.to_make
    to_bore = made is not None and not (made.blank is None and made.buy is None)
    worked = any(choice.worked for choice in found.choices[:MOST]) or to_bore
    return [*([CAUTIONS[1]] if worked else []), CAUTIONS[2]] if found.choices or worked else []


def left_out(one: LeftOut, style: NumberStyle = METRIC) -> str:
    """Why something is left out, and what to do."""
    place = " ".join(part for part in (one.setup, one.position) if part)
    told = UNFITS[one.why].format(
        item=one.item,
        because=FOUND.get(one.because, one.because),
        out="" if one.out is None else whereabouts(one.out),
        diameter="a pin not named" if one.diameter_mm is None else _mm(one.diameter_mm, style),
        distance="" if one.distance_mm is None else _mm(one.distance_mm, style),
        bore=" to ".join(dict.fromkeys(_mm(end, style) for end in one.bore_mm or ())),
    )
    return f"{one.item}{f' in {place}' if place else ''}: {told}"


def to_measure(one: LeftOut, found: Picked) -> str:
    """What to type to learn it."""
    positions = (one.position,) if one.position else ()
    return command(
        Due(Why.NEVER_MEASURED, one.item, "", setup=one.setup, positions=positions, distance_mm=found.distance_mm)
    )


def to_type(found: ToMake, wanted: Picked) -> str:
    """What to type once the blank is bored, '' where none is named or nothing says where."""
    if found.blank is None or found.where is None:
        return ""
    place = found.where
    position = f" --position {typed(place.position)}" if place.position else ""
    return (
        f"qclog modify {typed(found.blank.item)} bored --size {found.size_mm:g} --in {typed(place.setup)}{position} "
        f'--made-to "{wanted.runout_um:g}um@{wanted.distance_mm:g}mm"'
    )


def to_make(found: ToMake, style: NumberStyle = METRIC) -> list[str]:
    """What to bore or to order, where, and what to type for it."""
    size, place = _mm(found.size_mm, style), found.where
    if found.blank is None and found.buy is None:
        return [f"Nothing owned may be bored to {size}, and no size is known that could be ordered for it."]
    there = "where it is to be used"
    if place is not None:
        there = f"in {place.setup}{f', position {place.position}' if place.position else ''}"
    shims = "its slots closed on pins or shims as it will work, and not more than 0.02 mm over"
    told = []
    if found.blank is not None:
        blank = found.blank
        parts = [f"{blank.kind} {_mm(blank.size_mm, style)}", blank.kept_at, _SPARE.get(blank.why, blank.price)]
        about = ", ".join(part for part in parts if part)
        told.append(f"Bore {blank.item} ({about}) to {size} {there}, {shims}.")
    elif found.buy is not None:
        buy = found.buy
        what = ", ".join(part for part in (f"a {buy.kind}", buy.system, _mm(buy.size_mm, style)) if part)
        told.append(f"Nothing in the drawer is free to be bored. Order {what} ({buy.price or 'no price noted'}).")
        told.append(f"Bore it to {size} {there}, {shims}.")
    if place is None:
        told.append("Nothing that was worked on in place and measured shows where boring would do.")
    else:
        least, most = (micrometres(um, step_um=0.1, style=style) for um in (place.least_um, place.most_um))
        runs = f"runs {most}" if place.items == 1 else f"run {least} to {most}"
        told.append(
            f"What was worked on there {runs} on average, {place.distance_mm:g} mm out "
            f"({count(place.items, 'item')}). It is then married to that place, and has to be measured there."
        )
    return told


def _why_nothing(found: Picked) -> str:
    if found.left_out:
        return f"{count(len(found.left_out), 'thing takes', 'things take')} the diameter; why not is told below."
    return f"None of {count(found.other_sizes, 'item')} takes the diameter." if found.other_sizes else ""


def _mm(size_mm: float, style: NumberStyle) -> str:
    return length(round(size_mm * 1e9), style=style)


def _says(choice: Choice, limit: str) -> str:
    if choice.told == FORECAST:
        return f"a forecast, {GROUNDS[choice.ground]}"
    return {
        HOLDS: f"holds {limit}",
        DOES_NOT_HOLD: f"does not hold {limit}",
        CANNOT_TELL: f"cannot tell yet whether it holds {limit}",
    }[choice.told]


def _table(found: Picked) -> list[str]:
    rows = [_row(number, one) for number, one in enumerate(found.choices[:MOST], start=1)]
    columns = dict(zip(_COLUMNS, zip(*rows, strict=True), strict=True))
    return fitted(columns, TERMINAL - 2, _FIRST_LEFT_OUT, right=_RIGHT)


def _row(number: int, one: Choice) -> tuple[str, ...]:
    def um(value: float | None, *, up: bool = False) -> str:
        return "-" if value is None else micrometres(value, step_um=_step(one), round_up=up)

    return (
        str(number),
        one.item,
        f"{_place(one)}, mounted" if one.mounted else _place(one),
        one.kept_at or "-",
        um(one.median_um),
        um(most_um(one), up=True),
        _short(one.chance),
        "-" if one.regripped is None else _short(one.regripped.inside),
        _SAYS[one.told],
    )


def _place(one: Choice) -> str:
    return " ".join(part for part in (one.setup, one.position, one.clocking) if part)


def most_um(one: Choice) -> float | None:
    """What 19 in 20 stay under: the bound, or where that is rough, or none is known, what the next one does."""
    return one.p95_um if one.bound_um is None or Caveat.ROUGH_BOUND in one.caveats else one.bound_um


def _short(chance: float | None) -> str:
    if chance is None:
        return "-"
    return "> 99 in 100" if chance >= SURE else share(chance).replace("fewer than", "<")


def _step(choice: Choice) -> float:
    """No figure is shown finer than a tenth of what was read; of forecasts not finer than half a micrometre."""
    read = max(choice.resolution_um / 10, 0.1) if choice.resolution_um >= 1 else choice.resolution_um
    return read if choice.ground == Ground.MEASURED else max(read, 1.0)


def _wrapped(text: str, first: str, then: str) -> list[str]:
    """Lines that part no figure from its unit."""
    kept = text.replace(" µm", "\u00a0µm").replace(" mm", "\u00a0mm")
    lines = textwrap.wrap(kept, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
    return [line.replace("\u00a0", " ") for line in lines]
