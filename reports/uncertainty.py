"""The budget behind a verdict as text: the smallest limits first, then line by line what the uncertainty is made of."""

import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Caveat
from qclog.questions.uncertainty import Answer, Line, OfValue, Place, Provable
from reports import numbers, values
from reports.numbers import METRIC, NumberStyle, count, exact, micrometres, percent, uncertainty
from reports.tables import TERMINAL, WIDTH, fitted
from reports.wording import places
from reports.wording.caveats import CAVEATS
from reports.wording.study import SOURCES

_HEADER: Final = ("from", "value", "taken as", "divided by", "times", "u, µm", "share")
_FIRST_LEFT_OUT: Final = ("divided by", "taken as", "times", "value", "share")
_STEP_UM: Final = 0.1
_NO_USE: Final = 5.0
"""A limit so many times the mean swing says nothing a toolmaker could use."""
_NOTE: Final = (
    "In the budget stands what is common to all clampings of a place and does not average out over them. u is a "
    "standard uncertainty; lines add as the root of the sum of their squares (JCGM 100)."
)
_COUNTS: Final = {
    "linear": "Since it is assumed, 1.645 u is added to the bound as a whole.",
    "root sum of squares": "1.645 u is joined to the bound as a root sum of squares (ISO 14253-1).",
}


def budgets(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """Every place of every item in full."""
    return "\n\n".join("\n".join(_one(answer, style)) for answer in answers)


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    if not answer.places and not answer.values:
        return _wrapped(
            f"{answer.item}: nothing was read of it as it is now. Log it: qclog log {answer.item} ...",
            "",
        )
    lines = [line for value in answer.values for line in _of_value(value, style)]
    for place in answer.places:
        lines += [*([""] if lines else []), *_of_place(place, answer.places, style)]
    lines += ["", *_wrapped(_NOTE, "  - ")] if answer.places else []
    for code, sentence in CAVEATS.items():
        having = [place for place in answer.places if code in place.caveats]
        if having:
            whose = "; ".join(places.place(place, answer.places) for place in having)
            lines += _wrapped(f"{sentence}{f' ({whose})' if len(having) < len(answer.places) else ''}", "  - ")
    return lines


def _of_value(value: OfValue, style: NumberStyle) -> list[str]:
    """What counts against a size, a gap or a difference, and how far apart its limits have to lie for it."""
    one, ends = uncertainty(value.coverage_factor * value.gauge_u_um, style=style), value.limits_um
    gauge = "the pins count" if value.by_pins else "the gauge counts"
    source = "assumed, as no calibration is known" if value.assumed else "by its calibration"
    told = [f"{value.item}, {values.place(value)}: {gauge} with {one} (k = 2), {source}."]
    if value.readings == 2:
        told.append(
            f"Two readings kept together tell it, and both count: {uncertainty(value.expanded_um, style=style)}."
        )
    apart = micrometres(value.narrowest_um, step_um=_STEP_UM, style=style, round_up=True)
    limits = "a limit below" if ends is not None and ends.lower is None else "limits closer together than"
    told.append(f"Against {limits} {apart} hardly anything can be proven with it.")
    if ends is not None:
        picometres = (None if end is None else round(end * 1e6) for end in (ends.lower, ends.upper))
        told.append(f"The limits here: {numbers.limits(*picometres, style=style)}.")
    if Caveat.INSTRUMENT_NOT_SUITED in value.caveats:
        told.append("That is too close for it: read it with a better gauge, or have this one calibrated.")
    return _wrapped(" ".join(told), "")


def _of_place(place: Place, among: Sequence[Place], style: NumberStyle) -> list[str]:
    where = f"{place.item} in {places.place(place, among)}"
    lines = _wrapped(f"{where}: {_smallest(place, style)}", "")
    cells = zip(*map(_row, place.lines), *_sums(place), strict=True)
    table = fitted(dict(zip(_HEADER, cells, strict=True)), TERMINAL - 2, _FIRST_LEFT_OUT, down_the_page=True)
    lines += ["", *(f"  {line}" for line in table)]
    lines += ["", *_wrapped(f"{_read_with(place)} {_COUNTS[place.widened]}", "  - ")]
    lines += _wrapped(_scatter(place, style), "  - ")
    return lines


def _smallest(place: Place, style: NumberStyle) -> str:
    """What limits can be proven: as the clampings stand, with more of them, at the best."""
    told = {known.days: _limit(known, style) for known in place.to_come if _is_useful(known.limit_um, place)}
    if place.holds_from_um is not None and not _is_useful(place.holds_from_um, place):
        sentence = f"{count(place.sittings, 'sitting')} tell too little to prove a limit of use: more days are needed."
        if ahead := [f"{um} with {days} more" for days, um in told.items() if days is not None]:
            sentence += f" About {', '.join(ahead)} days of one clamping each, if they come out alike."
    elif place.holds_from_um is not None:
        now = (
            f"the smallest limit it is found to hold is {_up(place.holds_from_um, place, style)} as the clampings stand"
        )
        parts = [now]
        if ahead := [f"{um} with {days} more" for days, um in told.items() if days is not None]:
            parts.append(f"about {', '.join(ahead)} days of one clamping each, if they come out alike")
        sentence = f"{', '.join(parts)}."
    else:
        sentence = "as the clampings stand no limit is proven to hold."
    if None in told:
        sentence += f" With any number of them it stays above {told[None]}."
    sentence += f" This equipment serves for limits from {_up(place.suited_from_um, place, style)} on."
    if place.limit_um is not None:
        limit = exact(place.limit_um, style=style)
        sentence += f" The limit here is {limit}."
    return sentence


def _is_useful(limit_um: float, place: Place) -> bool:
    """Whether a limit is worth naming: one from too few days may be many times what was read."""
    return limit_um <= _NO_USE * max(place.mean_um, place.suited_from_um)


def _limit(known: Provable, style: NumberStyle) -> str:
    return micrometres(known.limit_um, step_um=_STEP_UM, style=style, round_up=known.days is not None)


def _up(value_um: float, place: Place, style: NumberStyle) -> str:
    return micrometres(value_um, step_um=min(_STEP_UM, place.resolution_um), style=style, round_up=True)


def _row(line: Line) -> tuple[str, ...]:
    value = f"{100 * line.value:.1f} % of the swing" if line.unit == "of the swing" else f"{line.value:.2f} {line.unit}"
    sign = "±" if line.distribution != "normal" else "U"
    unit = "µm" if line.unit == "of the swing" else f"µm/{line.unit}" if line.unit != "µm" else ""
    return (
        SOURCES[line.source],
        f"{sign} {value}",
        line.distribution,
        f"{line.divisor:.2f}",
        f"{abs(line.sensitivity):.3f} {unit}".strip(),
        f"{line.u_um:.3f}",
        percent(line.share),
    )


def _sums(place: Place) -> list[tuple[str, ...]]:
    return [
        ("together, u", "", "", "", "", f"{place.u_um:.3f}", percent(1.0)),
        (f"expanded, U = {place.coverage_factor:.3g} u", "", "", "", "", f"{place.expanded_um:.3f}", ""),
    ]


def _read_with(place: Place) -> str:
    indicator = f"indicator {place.instrument}" if place.instrument else "an indicator nobody named"
    pin = f"pin {place.pin}" if place.pin else "a pin nobody named"
    several = ""
    if place.ways > 1:
        several = f", the worst of {count(place.ways, 'way', 'ways')} it was read in"
    return f"Read with {indicator} on {pin}{several}: {uncertainty(place.expanded_um)} (95 %)."


def _scatter(place: Place, style: NumberStyle) -> str:
    """How the clampings scatter, which is no line of the budget."""
    found = place.scatter
    parts = []
    for sd, what in ((found.within_sitting_um, "within a sitting"), (found.between_sittings_um, "from day to day")):
        if sd is not None:
            parts.append(f"{micrometres(sd, step_um=_STEP_UM, style=style)} {what}")
    counted = f"{count(place.clampings, 'clamping')} in {count(place.sittings, 'sitting')}"
    if not parts:
        return f"How clampings scatter is not known yet ({counted}); it is in the bound, not in the budget."
    return (
        f"{counted} scatter by {' and '.join(parts)} (standard deviation; re-clamping, reading and item together): "
        "that is in the bound, not in the budget."
    )


def _wrapped(text: str, first: str) -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=first, subsequent_indent=" " * (len(first) or 2), break_on_hyphens=False
    )
