"""How good the way of measuring is, as text: what the scatter is made of and what to mend first, then the figures."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Cause, NotTold
from qclog.questions.study import POWERS, VECTORS, Answer, Part, PlaceMean, Spread, within_um
from qclog.questions.studying.model import Missing
from qclog.questions.studying.plan import StudyPlan
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, count, how_often, micrometres, percent
from reports.tables import TERMINAL, WIDTH, fitted
from reports.wording import places
from reports.wording.cautions import CAUTIONS
from reports.wording.caveats import CAVEATS
from reports.wording.study import BOTH, CAUSES, MEND, NOT_TOLD, UNSEEN

_STEP_UM: Final = 0.1
_FINE_UM: Final = 0.01
_OPEN: Final = 5.0
"""An upper end so many times the whole scatter is no figure for a toolmaker."""
_HEADER: Final = ("cause", "alone ±", "sd, µm", "its 95 %", "of the scatter", "of")
_FIRST_LEFT_OUT: Final = ("of", "its 95 %", "sd, µm", "of the scatter")
_COUNTED: Final = {
    Cause.READING: ("reading", ""),
    Cause.CLAMPING: ("clamping", ""),
    Cause.SITTING: ("day", ""),
    Cause.PIN: ("pin", ""),
    Cause.PERSON: ("person", ""),
    Cause.INDICATOR: ("indicator", ""),
}
_SCALES: Final = {
    VECTORS: "Analysed on both axes of the once-per-turn part, told as the TIR it causes.",
    POWERS: "The swings are small against their scatter and skewed: analysed as T^(2/3), told at the mean swing.",
}
_METHOD: Final = (
    "±: so far from the mean lie 19 readings in 20 by this cause alone (1.96 sd); causes add up by their squares. sd: "
    "standard deviation (µm TIR), with the interval that holds the true one in 19 of 20 studies; {method}. Key "
    "positions and items have means of their own and are no part of the scatter."
)
_METHODS: Final = {
    "mean squares": "from mean squares (analysis of variance)",
    "restricted likelihood": "by restricted maximum likelihood, since not everything was repeated equally often",
}


def study(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One setup and distance after the other."""
    return "\n\n".join("\n".join(_one(answer, style)) for answer in answers)


def study_plan(plan: StudyPlan) -> str:
    """What it will tell, what to type for it, and what to clamp and read in which order."""
    where = plan.setup if plan.distance_mm is None else f"{plan.setup}, {plan.distance_mm:g} mm out"
    again = "read and read again before it is opened" if plan.readings > 1 else "read once"
    lines = _wrapped(
        f"Study of {plan.item} in {where}: {count(len(plan.steps), 'clamping')}, each read "
        f"{how_often(plan.readings)} before it is opened. {_will_tell(plan)}",
        "",
    )
    lines += _wrapped(f"{CAUTIONS[0]} {CAUTIONS[2]}", "  - ")
    lines += ["", "At the machine, told what is next at every step, in this order; stopped, it goes on later:"]
    lines += [f"  {_measure(plan)}"]
    lines += ["", *_wrapped(f"By hand, in an order drawn by lot; pin right out and wiped before each, {again}:", "")]
    rows = [(f"{step.number:3}", step.person or "-", step.position or "-", step.pin) for step in plan.steps]
    lines += [f"  {line}" for line in columns([("no.", "person", "tighten at", "pin"), *rows]).splitlines()]
    first = plan.steps[0]
    readings = " ".join(["4.2", "4.4", "4.3", "4.1", "4.2"][: plan.readings])
    parts = [f"qclog log {plan.item} {readings} --same-clamping --setup {plan.setup}"]
    parts += [f"--position {first.position}"] if first.position else []
    parts += [f"--pin {first.pin}", f'--operator "{first.person}"' if first.person else ""]
    parts += [f"--instrument {plan.instrument}" if plan.instrument else ""]
    parts += ["" if plan.distance_mm is None else f"--distance {plan.distance_mm:g}"]
    lines += ["Each is logged as it is read, as the first:", f"  {' '.join(part for part in parts if part)}"]
    lines += [f"Then: qclog study {plan.item}"]
    return "\n".join(lines)


def _measure(plan: StudyPlan) -> str:
    """The occasion at the machine that measures a plan, as typed."""
    parts = [f"qclog measure {plan.item} --study --setup {plan.setup}"]
    parts += [f"--positions {','.join(plan.positions)}" if plan.positions != ("",) else ""]
    parts += [f"--pins {','.join(plan.pins)}"]
    parts += [f'--people "{",".join(plan.people)}"' if plan.people != ("",) else ""]
    parts += [f"--clampings {plan.clampings} --readings {plan.readings}"]
    parts += ["" if plan.distance_mm is None else f"--distance {plan.distance_mm:g}"]
    parts += [f"--instrument {plan.instrument}" if plan.instrument else ""]
    return " ".join(part for part in parts if part)


def _will_tell(plan: StudyPlan) -> str:
    """What such a study can tell apart, and what it cannot."""
    told = ["re-clamping", *(["reading"] if plan.readings > 1 else [])]
    missing = [] if plan.readings > 1 else ["reading (--readings 2)"]
    for several, cause, how in (
        (plan.pins, "pin", "--pins P-1,P-2"),
        (plan.people, "person", "--people AK,MO"),
    ):
        if len(several) > 1:
            told.append(cause)
        else:
            missing.append(f"{cause} ({how})")
    missing += ["day (do it again on another one)", "indicator (do it again with another one)"]
    return (
        f"It tells {', '.join(told)} apart; the true scatter of re-clamping will lie between {plan.clamping_low:.1f} "
        f"and {plan.clamping_high:.1f} times what is found. It does not tell: {', '.join(missing)}."
    )


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    lines = _wrapped(f"{_where(answer)}: {_sentence(answer, style)}", "")
    if answer.parts:
        rows = [*(_row(part, answer) for part in answer.parts), *_sums(answer)]
        table = dict(zip(_HEADER, zip(*rows, strict=True), strict=True))
        lines += ["", *(f"  {line}" for line in fitted(table, TERMINAL - 2, _FIRST_LEFT_OUT))]
    if len(answer.places) > 1 and len(answer.places) <= 12:
        means = columns([("item, key position, pin", "clampings", "mean, µm"), *map(_place_row, answer.places)])
        lines += ["", *(f"  {line}" for line in means.splitlines())]
    notes = _missing(answer.missing)
    if answer.parts:
        notes.append(_METHOD.format(method=_METHODS[answer.method]))
        notes += [_SCALES[answer.scale]] if answer.scale in _SCALES else []
    notes += [CAVEATS[code] for code in answer.caveats]
    return [*lines, "", *(line for note in notes for line in _wrapped(note, "  - "))]


def _where(answer: Answer) -> str:
    items = ", ".join(answer.items) if len(answer.items) <= 4 else count(len(answer.items), "item")
    return f"{items} in {answer.setup}, {answer.distance_mm:g} mm out"


def _sentence(answer: Answer, style: NumberStyle) -> str:
    """Which part of what is read is what, and what to mend first."""
    whole = answer.reproducibility
    read = f"{count(answer.clampings, 'clamping')} with {count(answer.readings, 'reading')}"
    if whole is None:
        return (
            f"{read}, and nothing repeated at one place as it was: it takes three clampings or more of one item at one "
            f"place. What to do: qclog study {answer.items[0]} --plan"
        )
    seen = [part for part in answer.parts if part.sd_um > 0]
    unseen = [part for part in answer.parts if part.sd_um == 0]
    over = f" over {count(len(answer.places), _places_are(answer))}" if len(answer.places) > 1 else ""
    below = "or below" if within_um(whole.sd_um) < answer.mean_um else "or down to nothing"
    said = (
        f"{_um(answer.mean_um, style)} on the mean{over}; clamped and read once it lies up to "
        f"{_within(whole.sd_um, style)} above {below}, 19 times in 20 ({read})."
    )
    if len(seen) > 1:
        others = "".join(f", {_name(part)} {_within(part.sd_um, style)}" for part in seen[1:])
        said += f" Alone, {_name(seen[0])} would make {_within(seen[0].sd_um, style)} of that{others}."
    alike = [UNSEEN[part.cause].format(where=_at_each(answer)) for part in unseen if part.cause in UNSEEN]
    if names := [_name(part) for part in unseen if part.cause not in UNSEEN]:
        said += f" Nothing shows of: {', '.join(names)}."
    if alike:
        said += f" As far as is seen, {'; '.join(alike)}."
    return f"{said} {_mend(answer, seen, style)}" if seen else said


def _places_are(answer: Answer) -> str:
    """What the places of a study are: key positions, where nothing else tells them apart."""
    return "key position" if _told_apart_by(answer) == ["key position"] else "place"


def _at_each(answer: Answer) -> str:
    """Where something is alike, by what tells the places apart: "at each key position", "with each item and pin
    diameter"."""
    apart = _told_apart_by(answer)
    return f"{'at' if apart == ['key position'] else 'with'} each {' and '.join(apart)}"


def _told_apart_by(answer: Answer) -> list[str]:
    """What is not the same at all places of a study."""
    named = {"item": "item", "position": "key position", "clocking": "clocking", "diameter_mm": "pin diameter"}
    return [word for field, word in named.items() if len({getattr(place, field) for place in answer.places}) > 1]


def _mend(answer: Answer, seen: Sequence[Part], style: NumberStyle) -> str:
    """What to mend first, what that leaves, and how."""
    first, left = seen[0], _within(answer.without_largest_um or 0.0, style)
    leaves = ""
    if len(answer.parts) > 1:
        leaves = ", which leaves hardly any scatter" if left == _um(0.0, style) else f", which leaves {left}"
    sure = "" if first.low_um > 0 else " (not proven yet: more of it would tell)"
    how = BOTH.format(item=answer.items[0]) if Cause.READING in first.together_with else MEND[first.cause]
    return f"Mend first: {_name(first)}{leaves}{sure}. {how}"


def _name(part: Part) -> str:
    return " and ".join(CAUSES[cause] for cause in (part.cause, *part.together_with))


def _row(part: Part, answer: Answer) -> tuple[str, ...]:
    counted = _COUNTED.get(part.cause)
    levels = count(part.levels, *counted) if counted else count(part.levels, "combination")
    return (_name(part), *_figures(part, answer), percent(part.share), levels)


def _figures(found: Part | Spread, answer: Answer) -> tuple[str, str, str]:
    """How far 19 in 20 lie from the mean, the standard deviation, and its interval; an upper end that says nothing is
    left open."""
    whole = answer.reproducibility.sd_um if answer.reproducibility else 0.0
    figures = (found.sd_um, found.low_um, found.high_um)
    sd, low, high = (micrometres(figure, step_um=_FINE_UM).removesuffix(" µm") for figure in figures)
    interval = f"{low} or more" if found.high_um > _OPEN * whole else f"{low} to {high}"
    if found.sd_um == 0:
        return ("not seen", "", interval)
    return (micrometres(within_um(found.sd_um), step_um=_STEP_UM).removesuffix(" µm"), sd, interval)


def _sums(answer: Answer) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for name, found in (
        ("clamped anew, read once", answer.one_clamping),
        ("reproducibility, all causes", answer.reproducibility),
    ):
        if found is not None:
            rows.append((name, *_figures(found, answer), "", ""))
    return rows


def _place_row(place: PlaceMean) -> tuple[str, ...]:
    parts = [place.item, place.position, place.clocking, f"on {places.pins(place.pins_mm)}" if place.pins_mm else ""]
    mean = micrometres(place.mean_um, step_um=_STEP_UM).removesuffix(" µm")
    return (" ".join(part for part in parts if part), str(place.clampings), mean)


def _missing(missing: Sequence[Missing]) -> list[str]:
    """Why causes were not told apart; those that were alike all the time, or never named, together."""
    notes = []
    for why in dict.fromkeys(one.why for one in missing):
        alike = [one for one in missing if one.why == why]
        if why in (NotTold.ONE_ONLY, NotTold.NOT_NAMED) and len(alike) > 1:
            causes = ", ".join(CAUSES[one.cause] for one in alike)
            notes.append(f"Not told apart: {causes}; each {NOT_TOLD[why]}.")
        else:
            notes += [_missing_alone(one) for one in alike]
    return notes


def _missing_alone(one: Missing) -> str:
    other = CAUSES[one.other] if one.other else "others"
    if one.why == NotTold.NOT_REPEATED and one.cause == Cause.READING:
        return (
            "Nothing was read twice in one clamping, so that reading and re-clamping stand together (qclog measure "
            "--study, or qclog log --same-clamping)."
        )
    return f"Not told apart: the {CAUSES[one.cause]} {NOT_TOLD[one.why].format(other=other)}."


def _within(sd_um: float, style: NumberStyle) -> str:
    return _um(within_um(sd_um), style)


def _um(value_um: float, style: NumberStyle) -> str:
    return micrometres(value_um, step_um=_STEP_UM, style=style)


def _wrapped(text: str, first: str) -> list[str]:
    kept = text.replace(" µm", "\u00a0µm").replace(" %", "\u00a0%")
    lines = textwrap.wrap(
        kept, WIDTH, initial_indent=first, subsequent_indent=" " * (len(first) or 2), break_on_hyphens=False
    )
    return [line.replace("\u00a0", " ") for line in lines]
