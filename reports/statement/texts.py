"""What a statement says, in words: rows of what is called what, and sentences."""

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.questions.assess import DOES_NOT_HOLD, HOLDS, LINEAR, Group
from qclog.questions.codes import Caveat, NotForIssue
from qclog.questions.statement import Calibration, Indicator, Pin, Statement, Turns
from reports import wording
from reports.numbers import NumberStyle, angle, count, date, length, limit, micrometres, percent, uncertainty

NOT_FOR_ISSUE: Final = {
    NotForIssue.LOCKED_OUT: "It is cracked or heat-blued: out of service whatever its run-out. Scrap it.",
    NotForIssue.SCRAP: "It was decided to be scrap. Put it back in service first (qclog state), if it is none.",
    NotForIssue.NO_LIMIT: "No limit is set for this place and distance. Say what it is made to (qclog limit).",
    NotForIssue.SETUP_CHANGED: "The setup was changed since it was measured. Measure it again.",
    NotForIssue.IN_DOUBT: (
        "It was read with a gauge found wrong. Measure it again, or clear it with a reason (qclog recall)."
    ),
    NotForIssue.NO_INDICATOR: "No indicator is named for some of the clampings. Measure with one that is calibrated.",
    NotForIssue.NOT_CALIBRATED: (
        "An indicator has no calibration that says how far off it may be. Enter it (qclog instrument calibrate), "
        "or measure with another."
    ),
    NotForIssue.OVERDUE: (
        "The calibration of an indicator was overdue when some of it was read. Have it calibrated and measure again."
    ),
    NotForIssue.NOT_SUITED: (
        "The limit is below three times the uncertainty of the indicator. Measure with one that is suited for it."
    ),
    NotForIssue.PIN_UNKNOWN: "No pin is named for some of the clampings. Measure on one that is (qclog pin add).",
    NotForIssue.ONE_SITTING: "All clampings are of one sitting. Measure on another day too.",
    NotForIssue.OTHERS_REPEAT: (
        "The verdict leans on the repeat of other items, whose readings a statement does not carry. "
        "Measure it on more days, until its own tell."
    ),
    NotForIssue.CANNOT_TELL: "There is no verdict yet: it cannot be told. See: qclog assess",
}
"""Why a statement is not issued, and what to do. ``reports.statement`` prints them on a draft."""

Listed = tuple[list[str], list[list[str]], str]
"""A list: its head, its rows, and L or R for each column."""

_HINT: Final = re.compile(r" \((?:--|qclog )[^)]*\)")
_METHODS: Final = {
    "one clamping a sitting": "one-sided tolerance limit with the exact factor (noncentral t, ISO 16269-6)",
    "sittings": "one-sided tolerance limit from the scatter within sittings and from one to the next "
    "(sum of two mean squares after Graybill and Wang 1980)",
    "one sitting": "one-sided tolerance limit of one sitting (noncentral t, ISO 16269-6)",
    "shop's repeat": "one-sided tolerance limit with the repeat of other items of its kind",
}
_OF_VECTORS: Final = ", from vectors"
_KINDS: Final = {"tir": "the full swing seen on the indicator over one turn", "value": "the value read"}
_CHARACTERISTICS: Final = {"runout": "circular run-out"}


def title(statement: Statement) -> str:
    signed = statement.signed
    return f"Statement of conformity no. {signed.number}" if signed.number else "Statement of conformity, draft"


def numbered(statement: Statement) -> str:
    """ "Statement no. 12, revision 2"; a draft has neither."""
    signed = statement.signed
    return f"Statement no. {signed.number}, revision {signed.revision}" if signed.number else "Draft, not issued"


def replaced(statement: Statement) -> str:
    signed = statement.signed
    return f"Replaces revision {signed.replaces} of statement no. {signed.number}." if signed.replaces else ""


def subject(statement: Statement) -> str:
    """ "B-945: circular run-out in LATHE-A, position S, 25 mm out"."""
    where, what = wording.place(statement.result), characteristic(statement)
    return f"{statement.item.code}: {what} in {where.removesuffix(f', {statement.place.characteristic}')}"


def characteristic(statement: Statement) -> str:
    return _CHARACTERISTICS.get(statement.place.characteristic, statement.place.characteristic)


def says(statement: Statement, style: NumberStyle) -> str:
    """What is stated, in a sentence or two."""
    group, decision = statement.result, statement.result.decision
    if decision is None or group.limit_um is None:
        return wording.verdict(group, style)
    made_to, step = _exactly(group.limit_um, style), wording.shown_step(group)
    if group.next_clampings == HOLDS:
        read = _um(group.bound.value_um, step, style, up=True) if group.bound else "-"
        counted = _um(decision.decides_um, step, style, up=True)
        return (
            f"Of its next clampings, on other days too, 19 in 20 stay under {read} as the indicator reads. With the "
            f"price of looking again and the uncertainty of measuring counted against this statement they stay under "
            f"{counted}, and the limit is {made_to}."
        )
    counted = _um(decision.decides_um, step, style, down=True)
    return (
        f"More than 1 in 20 of its next clampings exceed the limit of {made_to}: the swing that 19 in 20 stay under is "
        f"above {counted}, with the price of looking again and the uncertainty of measuring counted against this "
        "statement."
    )


def three_verdicts(statement: Statement) -> list[tuple[str, str, str]]:
    group = statement.result
    last = statement.clampings[-1] if statement.clampings else None
    day = f" ({date(last.taken_at)})" if last else ""
    return [
        ("as read", f"the {count(group.clampings, 'clamping')} that were read", _loud(group.as_read)),
        ("last sitting", f"what more clampings of its last sitting{day} would do", _loud(group.this_sitting)),
        ("next clampings", "what those of other days will do: this is what is stated", _loud(group.next_clampings)),
    ]


def item(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    it = statement.item
    size = [
        it.nominal_mm is not None and f"nominal {_mm(it.nominal_mm, style)}",
        it.bore_mm is not None and f"bore {_mm(it.bore_mm, style)}",
    ]
    what = _joined(it.kind, it.system and f"system {it.system}", *size, it.material, it.mark and f"marked {it.mark}")
    done = _joined(
        f"{it.what}, modification {it.modification}" if it.modification else it.what,
        it.worked_to_mm is not None and f"to {_mm(it.worked_to_mm, style)}",
        it.held_in and f"in {it.held_in}" + (f", position {it.held_at}" if it.held_at else ""),
        it.done_at and f"on {date(it.done_at)}",
        bool(it.modification and it.done_by) and f"entered by {it.done_by}",
        it.note,
    )
    return [("Item", f"{it.code}: {what}"), ("As it is now", done), ("Made to", _made_to(statement, style))]


def _made_to(statement: Statement, style: NumberStyle) -> str:
    made = statement.limit
    if made is None:
        return "no limit is set"
    where = (
        f"at {_mm(made.distance_mm, style)} from its front face" if made.distance_mm is not None else "at any distance"
    )
    of = "" if made.of == "item" else f", as the setup {statement.place.setup} must hold"
    upper = f"{_exactly(made.upper_um, style)} full swing over a turn (TIR), {where}{of}"
    return f"{upper}; set by {made.set_by}, entered {date(made.set_at_utc)}" if made.set_by else upper


def place(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    at = statement.place
    since = _joined(at.since and f"since {date(at.since)}", at.reason)
    rows = [("Setup", f"{at.setup}, revision {at.revision}" + (f" ({since})" if since else ""))] if at.setup else []
    if at.links:
        links = [
            link.code + (f" ({link.kind})" if link.kind else "") + _clocked(link.clocking_deg) for link in at.links
        ]
        rows.append(("From the spindle out", ", ".join(links)))
    rows += [("Key position", at.position)] if at.position else []
    rows += [("Clocked", at.clocking)] if at.clocking else []
    rows.append(("Read at", f"{_mm(at.distance_mm, style)} from its front face; {characteristic(statement)}"))
    return rows


def _clocked(degrees: float | None) -> str:
    return "" if degrees is None else f" clocked {angle(degrees)}"


def gauges(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    several = len(statement.pins) > 1, len(statement.indicators) > 1
    return [
        *(("Pin", _pin(pin, style, several=several[0])) for pin in statement.pins),
        *(("Indicator", _indicator(one, style, several=several[1])) for one in statement.indicators),
    ]


def _pin(pin: Pin, style: NumberStyle, *, several: bool) -> str:
    return _joined(
        pin.code or "not named",
        pin.kind if pin.kind != "pin" else "",
        pin.diameter_mm is not None and f"diameter {_mm(pin.diameter_mm, style)}",
        pin.roundness_um is not None and f"out of round {_exactly(pin.roundness_um, style)}",
        pin.grade and f"class {pin.grade}",
        several and count(pin.clampings, "clamping"),
        pin.calibration is not None and _calibration(pin.calibration, style),
    )


def _indicator(one: Indicator, style: NumberStyle, *, several: bool) -> str:
    return _joined(
        one.code or "not named",
        one.kind,
        one.serial and f"serial number {one.serial}",
        one.division_um is not None and f"division {_exactly(one.division_um, style)}",
        several and count(one.clampings, "clamping"),
        "without calibration" if one.calibration is None else _calibration(one.calibration, style),
    )


def _calibration(known: Calibration, style: NumberStyle) -> str:
    """ "calibrated 2026-01-19, due 2027-01-19: error to 1.2 µm; as found in order; certificate W-26/009"."""
    error = known.error_limit_um is not None and f"error to {_exactly(known.error_limit_um, style)}"
    expanded = known.uncertainty_um is not None and (
        f"U = {_exactly(known.uncertainty_um, style)} (k = {known.coverage_factor or 2:g})"
    )
    told = _joined(
        _joined(expanded, error),
        known.as_found and f"as found {known.as_found}",
        known.as_left and f"as left {known.as_left}",
        known.certificate and f"certificate {known.certificate}",
        known.note,
        between="; ",
    )
    due = f", due {known.due_on}" if known.due_on else ""
    return f"calibrated {date(known.done_on)}{due}" + (f": {told}" if told else "")


def method(statement: Statement) -> list[tuple[str, str]]:
    read = statement.clampings
    days = sorted({date(one.taken_at) for one in read})
    span = days[0] if len(days) == 1 else f"{days[0]} to {days[-1]}"
    rows = [
        ("Clampings", f"{wording.counted(statement.result)}, {span}; for each the item was opened and closed anew"),
        ("Each read as", "; ".join(_turns(one, several=len(statement.method) > 1) for one in statement.method)),
        ("Pin out between", _each(_pin_out(one.pin_out) for one in read)),
        ("Torque", _each(one.torque for one in read)),
        ("Conditions", _each(one.conditions for one in read)),
        ("Lever angle", _each(f"{one.lever_deg:g}°" if one.lever_deg is not None else "" for one in read)),
        ("Read by", _each(one.operator for one in read)),
    ]
    out, told = statement.left_out, []
    if out.recalled:
        told.append(f"{count(out.recalled, 'turn')} out of an old notebook")
    if out.steep_lever:
        told.append(f"{count(out.steep_lever, 'turn')} with the lever beyond 30°")
    if out.in_doubt:
        told.append(f"{count(out.in_doubt, 'clamping')} with a gauge found wrong")
    rows.append(("Left out", "; ".join(told)))
    rows.append(
        ("Struck out", f"{count(len(statement.struck), 'entry', 'entries')}, see below" if statement.struck else "none")
    )
    return [(name, text) for name, text in rows if text]


def _turns(one: Turns, *, several: bool) -> str:
    times = f" ({count(one.turns, 'turn')})" if several else ""
    if one.kind != "point":
        return _KINDS[one.kind] + times
    known = [f"{degrees:g}" for degrees in one.angles_deg if degrees is not None]
    at = f" at {', '.join(known)}° clockwise facing the nose" if len(known) == one.readings else " evenly spaced"
    return f"{one.readings} readings over one turn{at}; full swing of the curve fitted through them{times}"


def _pin_out(said: str) -> str:
    return {"yes": "yes", "no": "no, the item alone was opened"}.get(said, "")


def _each(texts: Iterable[str]) -> str:
    """What was noted for all, or each with for how many; '' where nothing was noted."""
    found = Counter(texts)
    if set(found) <= {""}:
        return ""
    if len(found) == 1:
        return next(iter(found))
    return "; ".join(f"{text or 'not noted'} ({number})" for text, number in found.items())


def results(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    group, step = statement.result, wording.shown_step(statement.result)
    tir, read = group.tir_um, group.resolution_um
    rows = [
        ("Mean", _um(tir.mean, step, style)),
        ("Standard deviation", _um(tir.sd, step, style) if tir.sd is not None else "-"),
        (
            "Least and most",
            f"{_um(tir.min, read, style)} and {_um(tir.max, read, style)}; last {_um(tir.last, read, style)}",
        ),
    ]
    if group.eccentricity is not None:
        high = angle(group.eccentricity.high_spot_deg)
        rows.append(
            ("Once per turn", f"{_um(group.eccentricity.tir_um, step, style)} on the mean, high spot at {high}")
        )
    if group.next is not None:
        half, most = _um(group.next.median_um, step, style), _um(group.next.p95_um, step, style, up=True)
        rows.append(("Next clamping", f"half stay under {half}, 95 % under {most}"))
    if group.bound is not None:
        rows.append(("Bound", f"{_um(group.bound.value_um, step, style, up=True)}: {_bound(group)}"))
    if group.uncertainty_um is not None:
        from_ = "of a swing, the part common to all clampings: indicator, lever angle, pin"
        expanded = uncertainty(group.uncertainty_um, style=style)
        rows.append(("Uncertainty U", f"{expanded} (k = {statement.coverage_factor:g}) {from_}"))
    rows.append(("Read to", _um(read, read, style)))
    return rows


def _bound(group: Group) -> str:
    assert group.bound is not None
    method_, vectors = group.bound.method.removesuffix(_OF_VECTORS), group.bound.method.endswith(_OF_VECTORS)
    scale = (
        "from the once-per-turn vectors"
        if vectors
        else "on the scale of T to the power 2/3, on which swings are close to normal"
    )
    content, confidence = percent(group.bound.content), percent(group.bound.confidence)
    share = f"with {confidence} confidence {content} of all clampings stay under it"
    return f"{share}, as the indicator reads; {_METHODS[method_]}, {scale}"


def decision(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    group, how = statement.result, statement.result.decision
    rule = (
        "ISO 14253-1:2017. The uncertainty of measuring counts against the statement: the limit is said to be held, or "
        "not, only with a conformance probability of at least 95 %"
    )
    if how is None or group.limit_um is None:
        return [("Decision rule", rule)]
    step = wording.shown_step(group)
    finer = step / 10
    holds = group.next_clampings == HOLDS
    bound, guard = (_um(value, finer, style, up=True) for value in (how.bound_um, how.guard_um))
    if not holds:
        bound = _um(how.bound_um, finer, style, down=True)
    side = "stay under" if holds else "do not stay under"
    looked = (
        f"B = {bound}: with {_percent(how.confidence)} confidence 19 clampings in 20 {side} it, as the indicator reads"
    )
    paid = "; more than 95 %, since it may have been looked at after every clamping"
    sign = "+" if holds else "-"
    if how.added == LINEAR:
        sum_ = f"B {sign} g"
    else:
        inside, outside = ("(B - M)²", "M +") if holds else ("(B - M)²", "M -")
        sum_ = f"{outside} √({inside} + g²)"
        if not holds:
            sum_ = "B - g" if how.bound_um >= how.centre_um else sum_
    result = _um(how.decides_um, finer, style, up=holds, down=not holds)
    against = "is not above" if holds else "is above"
    return [
        ("Decision rule", rule),
        ("Bound", f"{looked}{paid}"),
        ("Guard band", f"g = 1.645 U/2 = {guard}"),
        ("Middle value", f"M = {_um(how.centre_um, finer, style)}"),
        (
            "Held against limit",
            f"{sum_} = {result} {against} {_exactly(group.limit_um, style)}: {_loud(group.next_clampings)}",
        ),
    ]


def caveats(statement: Statement) -> list[str]:
    """What limits the figures, without the hints for whoever logs."""
    return [_HINT.sub("", wording.CAVEATS[code]) for code in statement.result.caveats if code in Caveat]


def validity(statement: Statement) -> list[str]:
    it, at, signed = statement.item, statement.place, statement.signed
    issued = f", as the logbook stood on {date(signed.issued_at)}" if signed.issued_at else ""
    where = f" in {at.setup}, revision {at.revision}" if at.setup else ""
    position = f", key position {at.position}" if at.position else ""
    pins = sorted({pin.diameter_mm for pin in statement.pins if pin.diameter_mm is not None})
    on = f", on a pin of about {statement.result.diameter_mm:g} mm" if pins and statement.result.diameter_mm else ""
    return [
        f"Valid for {it.code} at modification {it.modification}{where}{position}, {at.distance_mm:g} mm from its front "
        f"face{on}{issued}: not for another setup, position, distance or size, nor after further work, a refit, a "
        "crash or damage.",
        "The results relate only to the item measured. This report may not be reproduced except in full. "
        "No accreditation is claimed; the indicator's traceability is that of its certificate.",
    ]


def attached(statement_digest: str) -> str:
    return (
        "Two files are attached to this PDF: readings.csv, every reading the figures rest on, and statement.json, "
        "all that is stated and the SHA-256 of readings.csv. Whether it still stands, and whether the file is the one "
        f"issued, the issuer can tell (qclog verify). SHA-256 of statement.json: {statement_digest}"
    )


def clampings(statement: Statement, style: NumberStyle) -> Listed:
    """All clampings; a column only for what is not the same for all of them."""
    read, step = statement.clampings, _step_read(statement)
    columns: list[tuple[str, list[str], str]] = [
        ("no.", [str(one.number) for one in read], "R"),
        ("taken", [one.taken_at.replace("T", " ")[:16] for one in read], "L"),
        ("full swing", [_um(one.swing_um, step, style) for one in read], "R"),
    ]
    if any(one.high_spot_deg is not None for one in read):
        fine = wording.shown_step(statement.result)
        once = ["-" if x.once_per_turn_um is None else _um(x.once_per_turn_um, fine, style) for x in read]
        spots = ["-" if one.high_spot_deg is None else angle(one.high_spot_deg) for one in read]
        columns += [("once per turn", once, "R"), ("high spot", spots, "R")]
    sittings = [one.sitting for one in read]
    if sittings != [date(one.taken_at) for one in read]:
        columns.append(("sitting", sittings, "L"))
    named = [statement.indicators[one.indicator].code or "-" for one in read]
    for head, told in (
        ("pin", [one.pin or "-" for one in read]),
        ("indicator", named),
        ("read by", [one.operator or "-" for one in read]),
    ):
        if len(set(told)) > 1:
            columns.append((head, told, "L"))
    heads, cells, sides = zip(*columns, strict=True)
    return list(heads), [list(row) for row in zip(*cells, strict=True)], "".join(sides)


def _step_read(statement: Statement) -> float:
    """The step of the indicator where all swings are whole steps, else a finer one."""
    step = statement.result.resolution_um
    whole = all(math.isclose(one.swing_um, step * round(one.swing_um / step)) for one in statement.clampings)
    return step if whole else wording.shown_step(statement.result)


def struck(statement: Statement) -> Listed:
    body = [
        [
            str(one.clamping),
            date(one.taken_at),
            f"{'a ' if one.part != 'clamping' else 'the '}{one.part}",
            one.reason,
            one.by,
        ]
        for one in statement.struck
    ]
    return ["no.", "taken", "struck out", "because", "by"], body, "RLLLL"


def cautions() -> Sequence[str]:
    return wording.CAUTIONS


def _loud(verdict: str) -> str:
    return verdict.upper() if verdict in (HOLDS, DOES_NOT_HOLD) else verdict


def _joined(*parts: str | bool | None, between: str = ", ") -> str:
    return between.join(part for part in parts if isinstance(part, str) and part)


def _um(value: float, step: float, style: NumberStyle, *, up: bool = False, down: bool = False) -> str:
    return micrometres(value, step_um=step, style=style, round_up=up, round_down=down)


def _exactly(value_um: float, style: NumberStyle) -> str:
    return limit(round(value_um * 1e6), style=style)


def _mm(value: float, style: NumberStyle) -> str:
    return length(round(value * 1e9), style=style)


def _percent(confidence: float) -> str:
    """ "99.3 %"."""
    return f"{100 * confidence:.2f}".rstrip("0").rstrip(".") + " %"
