"""Who owns the run-out, as text: the owner and what to turn first, then the table, then what limits it."""

import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.notation import format_clocking, parse_clocking
from qclog.questions.chain import Answer
from qclog.questions.chains.distances import Distance, Part
from qclog.questions.chains.plan import ChainPlan
from qclog.questions.codes import Clocking
from reports.numbers import METRIC, NumberStyle, angle, count, exact, micrometres
from reports.tables import WIDTH
from reports.wording.caveats import CAVEATS
from reports.wording.clocking import CLOCKINGS

SPINDLE: Final = "spindle"
NOT_TOLD: Final = "not told apart"
NOTHING: Final = (
    "Nothing was clocked in two ways yet, so nothing tells whose the run-out is. Plan it: qclog chain {code} --plan"
)
_HALF_TURNS: Final = (
    "Only half turns are advised: for others the sense of the angles has to be proven (qclog sense {setup})."
)
CONFIRM: Final = "Mark how they stand. The best of many forecasts flatters, so confirm it by clamping three times:"
_NOTE: Final = (
    "Figures in µm TIR, systematic, with their 95 % limits; circle: its tip lies within that, whatever its direction. "
    "High spots clockwise facing the nose, the mark of a turned body at 0. Without it: what would be left as clocked "
    "now, test pin included, were that part perfect. Clock to 2° or better: 5° beside the mark makes "
    "a part's figure wrong by about a tenth of it."
)
_COUNTED: Final = "Clockings are given as this setup types them, counterclockwise."
_COLUMNS: Final = ("part", "TIR", "from", "to", "high spot", "circle", "without it")


def chains(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One after the other; each caveat at its own."""
    return "\n\n".join("\n".join(_one(answer, style)) for answer in answers)


def headline(answer: Answer, style: NumberStyle = METRIC) -> str:
    """The sentence: whose it is, or that it is not told."""
    place = ", ".join(
        part
        for part in (
            answer.setup,
            answer.position and f"position {answer.position}",
            f"{answer.at_mm:g} mm out" if answer.distances else "",
        )
        if part
    )
    return f"{answer.item}, {place}: {_owner(answer, style)}"


def advice(answer: Answer, style: NumberStyle = METRIC) -> str:
    """What to turn and what that gains, or why nothing is advised."""
    told = answer.advice
    turn = ", ".join(
        f"{named(answer, one.body)} from {clock(answer, one.from_deg)} to {clock(answer, one.to_deg)}"
        for one in told.turn
    )

    def um(value: float | None, *, up: bool = False) -> str:
        return "" if value is None else micrometres(value, step_um=0.1, style=style, round_up=up)

    said = CLOCKINGS[told.what].format(
        turn=turn,
        expected=um(told.expected_um),
        now=um(told.now_um),
        bound=um(told.bound_um, up=True),
        setup=answer.setup,
        pin="" if told.with_pin_um is None else ", the test pin left out",
    )
    if told.what is Clocking.TURN and told.with_pin_um is not None:
        said += f" The test pin, with its own run-out, then reads about {um(told.with_pin_um)} where it stands now."
    if told.what is Clocking.NOTHING_BETTER and told.least_um and told.now_um and 2 * told.least_um > told.now_um:
        said += f" However clocked, {um(told.least_um)} would stay: one part runs out more than all others together."
    return said


def in_lines(answer: Answer, style: NumberStyle = METRIC) -> list[str]:
    """Each part in a line."""
    told = []
    for part in answer.decisive.parts:
        left = "" if part.without_um is None else micrometres(part.without_um, step_um=0.1, style=style)
        name = part_name(answer, part)
        told.append(
            f"{name[:1].upper()}{name[1:]}: {NOT_TOLD if part.tir_um is None else size(part, style)}"
            f"{f'; without it {left} would be left as clocked now' if left else ''}."
        )
    return told


def named(answer: Answer, body: str) -> str:
    """A body with what it is: "collet C-735"."""
    kind = dict(zip(answer.bodies, answer.kinds, strict=True)).get(body, "")
    return f"{kind} {body}".strip()


def part_name(answer: Answer, part: Part) -> str:
    """A part by its bodies, "spindle with sleeve S-1"."""
    bodies = [named(answer, body) for body in part.bodies]
    if part.stays:
        bodies = [*answer.unturned, *bodies]
        return f"{SPINDLE} with {' and '.join(bodies)}" if bodies else SPINDLE
    return " and ".join(bodies)


def short_name(part: Part) -> str:
    """A part beside its arrow."""
    return "+".join(part.bodies) if part.bodies and not part.stays else SPINDLE


def clock(answer: Answer, degrees: float) -> str:
    """A clocking angle as the setup types it, with its hour where it is one."""
    if answer.counted == "counterclockwise":
        return f"{-degrees % 360.0:g}°"
    hour = f" ({round(degrees / 30) % 12 or 12} o'clock)" if degrees % 30 == 0 else ""
    return f"{degrees % 360.0:g}°{hour}"


def _typed(answer: Answer, clocking: str) -> str:
    """A clocking as the setup types it."""
    if answer.counted != "counterclockwise":
        return clocking
    return format_clocking(tuple((body, -turned % 360_000) for body, turned in parse_clocking(clocking)))


def _owner(answer: Answer, style: NumberStyle) -> str:
    if answer.swings_alone is not None:
        found = answer.swings_alone
        larger, smaller = (micrometres(um, step_um=0.1, style=style) for um in (found.larger_um, found.smaller_um))
        return (
            f"from swings alone, {named(answer, found.body)} turned to even positions: one of the two runs {larger}, "
            f"the other {smaller}; which is which stays open without high spots."
        )
    if not answer.decisive.parts:
        return "not told whose it is."
    owner = next((part for part in answer.decisive.parts if part.bodies == answer.decisive.owner), None)
    if answer.decisive.owner is not None and owner is not None:
        return f"the {part_name(answer, owner)} OWNS most of it, {size(owner, style)}."
    told = [part for part in answer.decisive.parts if part.tir_um is not None]
    if len(told) < len(answer.decisive.parts):
        apart = [part_name(answer, part) for part in answer.decisive.parts if part.tir_um is None]
        return f"these cannot be told apart yet: {', '.join(apart)}."
    if answer.decisive.repeat_um is None:
        largest = max(told, key=lambda part: part.tir_um or 0.0)
        return f"the {part_name(answer, largest)} seems to own most of it, {size(largest, style)}."
    return "no part is shown to own more than the others."


def size(part: Part, style: NumberStyle) -> str:
    def um(value: float | None) -> str:
        return micrometres(value or 0.0, step_um=0.1, style=style)

    ends = f" (95 %: {um(part.low_um)} to {um(part.high_um)})" if part.low_um is not None else ""
    high = "" if part.high_spot_deg is None else f", high spot at {angle(part.high_spot_deg)}"
    return f"{um(part.tir_um)}{ends}{high}"


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    lines = _wrapped(headline(answer, style), "", "  ")
    lines += _wrapped(advice(answer, style), "  ", "  ")
    if confirmed := confirming(answer):
        lines += [*_wrapped(CONFIRM, "  ", "  "), f"    {confirmed}"]
        if answer.advice.half_turns_only:
            lines += _wrapped(_HALF_TURNS.format(setup=answer.setup), "  ", "  ")
    if answer.add:
        lines += _wrapped("Missing, in one sitting: as it stands now, once more, and then the other:", "  ", "  ")
        lines += [f"    {_measure(answer, clocking, clampings=1)}" for clocking in (answer.now, answer.add)]
    for distance in answer.distances:
        if distance.parts:
            lines += ["", *_table(answer, distance)]
    lines += ["", *_notes(answer, style)]
    return lines


def confirming(answer: Answer) -> str:
    """What to type to measure it clocked as advised; '' where nothing is to be turned."""
    if answer.advice.what is not Clocking.TURN:
        return ""
    turned = {one.body: round(1000 * one.to_deg) for one in answer.advice.turn}
    to = tuple((body, turned.get(body, stands)) for body, stands in parse_clocking(answer.now))
    return _measure(answer, format_clocking(to))


def _measure(answer: Answer, clocking: str, clampings: int | None = None) -> str:
    position = f" --positions {answer.position}" if answer.position else ""
    pin = f" --pin {answer.pins[0]}" if len(answer.pins) == 1 else ""
    often = f" --clampings {clampings}" if clampings else ""
    at = next((one.distance_mm for one in reversed(answer.distances) if not one.extrapolated), answer.at_mm)
    start = f"qclog measure {answer.item} --setup {answer.setup}{position} --distance {at:g}{pin}"
    return f'{start} --clocking "{_typed(answer, clocking)}"{often}'


def _table(answer: Answer, distance: Distance) -> list[str]:
    def um(value: float | None) -> str:
        return "-" if value is None else micrometres(value, step_um=0.1).removesuffix(" µm")

    rows: list[tuple[str, ...]] = [_COLUMNS]
    for part in distance.parts:
        high = "-" if part.high_spot_deg is None else angle(part.high_spot_deg)
        figures = (part.tir_um, part.low_um, part.high_um)
        rows.append(
            (
                part_name(answer, part),
                *(um(value) for value in figures),
                high,
                um(part.circle_um),
                um(part.without_um),
            )
        )
    widths = [max(len(row[i]) for row in rows) for i in range(len(_COLUMNS))]
    name = max(12, WIDTH - 2 - sum(widths[1:]) - 2 * len(widths[1:]))
    title = f"{distance.distance_mm:g} mm out{', told from the others' if distance.extrapolated else ''}"
    lines = _wrapped(f"{title}: {_clamped(distance)}.", "  ", "    ")
    for row in rows:
        first, *more = textwrap.wrap(row[0], min(name, widths[0]), subsequent_indent="  ")
        cells = "".join(f"  {cell:>{width}}" for cell, width in zip(row[1:], widths[1:], strict=True))
        lines += [f"  {first:<{min(name, widths[0])}}{cells}", *(f"  {line}" for line in more)]
    return lines


def _clamped(distance: Distance) -> str:
    told = [f"{count(distance.clampings, 'clamping')} in {count(distance.sittings, 'sitting')}"]
    if distance.now_um is not None:
        told.append(f"as clocked now {micrometres(distance.now_um, step_um=0.1)}, test pin included")
    if distance.repeat_um is not None:
        whose = ", the shop's" if distance.repeat_from == "shop" else ""
        told.append(f"repeat {micrometres(distance.repeat_um, step_um=0.1)}{whose}")
    if distance.limit_um is not None:
        told.append(f"limit {exact(distance.limit_um)}")
    return ", ".join(told)


def _notes(answer: Answer, style: NumberStyle) -> Iterable[str]:
    notes = [_NOTE] if any(one.parts for one in answer.distances) else []
    if answer.counted == "counterclockwise":
        notes.append(_COUNTED)
    tilts = [part for part in answer.decisive.parts if part.tilt_um is not None]
    if tilts:
        each = "; ".join(
            f"{part_name(answer, part)} {micrometres(part.tilt_um or 0.0, step_um=0.1, style=style)} towards "
            f"{angle(part.tilt_deg or 0.0)}"
            for part in tilts
        )
        notes.append(f"Tilt, as TIR for every 100 mm farther out: {each}.")
    notes += [CAVEATS[code] for code in answer.caveats]
    for note in notes:
        yield from _wrapped(note, "  - ", "    ")


def plan(found: ChainPlan, style: NumberStyle = METRIC) -> str:
    """The runs in the order of the hands, what they will tell, and the command that guides through them."""
    what = ", ".join(f"{kind} {code}".strip() for code, kind in zip(found.bodies, found.kinds, strict=True))
    place = f"{found.setup}, position {found.position}" if found.position else found.setup
    rounds = f", {count(found.rounds, 'round')}" if found.rounds > 1 else ""
    lines = _wrapped(
        f"{found.item} in {place}: {what} and what stays are told apart in {count(found.clampings, 'clamping')}"
        f"{rounds}, in one sitting.",
        "",
        "  ",
    )
    way = found.counted
    lines += _wrapped(
        f"Mark every body. Angles of its mark from the spindle's mark, {way} facing the nose; the spindle's mark is 0.",
        "  ",
        "  ",
    )
    lines.append("")
    before: dict[str, int] = {}
    for number, clocking in enumerate(found.clockings, start=1):
        turned = dict(parse_clocking(clocking))
        cells = "".join(f"  {code} {_moved(turned[code], before.get(code)):<7}" for code in found.bodies)
        lines.append(f"  {number:>3}{cells}".rstrip())
        before = turned
    if found.rounds > 1:
        lines.append("       then back from the last to the first, so that a drift favours none")
    lines += ["", *_wrapped(_promise(found, style), "  ", "  ")]
    if found.unturned:
        lines += _wrapped(
            f"Not turned: {', '.join(found.unturned)}. Their marks stay where they are, also when what they sit in is "
            "turned; what a key carries along is told together with what carries it. To turn them too: --turn.",
            "  ",
            "  ",
        )
    lines += ["  Guided, with every angle said before its clamping:", f"    {_guide(found)}"]
    return "\n".join(lines)


def _moved(mdeg: int, before: int | None) -> str:
    return f"{mdeg / 1000:g}°" if mdeg != before else f"({mdeg / 1000:g}°)"


def _promise(found: ChainPlan, style: NumberStyle) -> str:
    sense = (
        "It also proves which way round the angles are counted."
        if found.proves_sense
        else f"Half turns alone do not prove which way round the angles are counted: qclog sense {found.setup}"
    )
    if found.circle_um is None or found.repeat_um is None:
        return f"How well they will be known depends on the repeat, which is not known here yet (--repeat 2um). {sense}"
    repeat = micrometres(found.repeat_um, step_um=0.1, style=style)
    whose = "of this kind in this setup" if found.repeat_from == "shop" else "as told"
    circle = micrometres(found.circle_um, step_um=0.1, style=style, round_up=True)
    told = f"Each vector will be known within {circle} TIR (95 %), with a repeat of {repeat} {whose}."
    if found.reaches is False:
        told += " More clampings than that are not planned: better seats and a cleaner nose help more."
    return f"{told} {sense}"


def _guide(found: ChainPlan) -> str:
    position = f" --positions {found.position}" if found.position else ""
    distance = "" if found.distance_mm is None else f" --distance {found.distance_mm:g}"
    pin = f" --pin {found.pin}" if found.pin else ""
    start = f"qclog measure {found.item} --setup {found.setup}{position}{distance}{pin}"
    return f'{start} --turn "{found.turnable}" --clampings {found.rounds}'


def _wrapped(text: str, first: str, then: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
