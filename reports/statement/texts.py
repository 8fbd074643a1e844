"""What a statement says, in words: rows of what is called what, and sentences."""

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.questions.codes import NotForIssue
from qclog.questions.judging.groups import for_its_sitting, sitting_counts
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, ValueGroup
from qclog.questions.stating.statement import (
    Calibration,
    Indicator,
    MadeBetween,
    MadeTo,
    Pin,
    SetLimit,
    Statement,
    SwingStatement,
    Turns,
    ValueStatement,
)
from qclog.records import FACE_RUNOUT, RUNOUT
from reports import values
from reports.issued import limits
from reports.numbers import NumberStyle, angle, count, date
from reports.statement import value_texts
from reports.statement.written import exactly, joined, loud, mm, sentence, um
from reports.wording import places, verdicts
from reports.wording.cautions import CAUTIONS
from reports.wording.caveats import CAVEATS
from reports.wording.steps import shown_step

NOT_FOR_ISSUE: Final = {
    NotForIssue.LOCKED_OUT: "It is cracked or heat-blued: out of service whatever its run-out. Scrap it.",
    NotForIssue.SCRAP: "It was decided to be scrap. If it is none, put it back in service: qclog state {item} ...",
    NotForIssue.NO_LIMIT: "No limit is set for this place and distance. Say what it is made to: qclog limit {item} ...",
    NotForIssue.SETUP_CHANGED: "The setup was changed since it was measured. Measure it again.",
    NotForIssue.IN_DOUBT: (
        "It was read, some of it at least, with a gauge found wrong. Measure it again, or clear it with a reason: "
        "qclog recall"
    ),
    NotForIssue.CHECK_FAILED: (
        "The last quick check of a gauge was out, and some of it was read since its last good one. Check it again; if "
        "it stays out, recall it: qclog due"
    ),
    NotForIssue.NO_INDICATOR: "No indicator is named for some of the clampings. Measure with one that is calibrated.",
    NotForIssue.NOT_CALIBRATED: (
        "An indicator has no calibration that says how far off it may be. Measure with another, or "
        "enter it: qclog instrument calibrate"
    ),
    NotForIssue.OVERDUE: (
        "The calibration of an indicator was overdue when some of it was read. Have it calibrated and measure again."
    ),
    NotForIssue.NOT_SUITED: (
        "The limit is below three times the uncertainty of the indicator. Measure with one that is suited for it."
    ),
    NotForIssue.PIN_UNKNOWN: "No pin is named for some of the clampings. Measure on one that is. New: qclog pin add",
    NotForIssue.ONE_SITTING: "All clampings are of one sitting. Measure on another day too.",
    NotForIssue.OTHERS_REPEAT: (
        "The verdict leans on the repeat of other items, whose readings a statement does not carry. "
        "Measure it on more days, until its own tell."
    ),
    NotForIssue.CANNOT_TELL: "No verdict yet: it cannot be told. How many more clampings: qclog assess {item}",
}
"""Why a statement is not issued, and what to do, of an ``item``."""

_FOR_A_JOB: Final = (
    "All clampings are of one sitting, and jaws bored for a job are judged for that alone: nothing can be stated of "
    "other days."
)
STATED: Final = ": this is what is stated"
"""Ends the line of the one verdict that is."""
_HINT: Final = re.compile(r" \((?:--|qclog )[^)]*\)")
_CHARACTERISTICS: Final = {"runout": "circular run-out", "face runout": "face run-out"}


def against(codes: Iterable[NotForIssue], statement: Statement) -> list[str]:
    """All that speaks against issuing a statement, a sentence or two each."""
    own = value_texts.not_for_issue(statement) if isinstance(statement, ValueStatement) else {}
    if not isinstance(statement, ValueStatement) and for_its_sitting(statement.result):
        own = {NotForIssue.ONE_SITTING: _FOR_A_JOB}
    return [(NOT_FOR_ISSUE | own)[code].format(item=statement.item.code) for code in codes]


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
    if isinstance(statement, ValueStatement):
        return f"{statement.item.code}: {values.place(statement.result)}"
    if statement.place.characteristic == FACE_RUNOUT:
        at = statement.place
        where = joined(
            at.setup,
            at.position and f"position {at.position}",
            at.clocking and f"clocked {at.clocking}",
            bool(at.distance_mm) and f"{at.distance_mm:g} mm out",
        )
        return f"{statement.item.code}: face run-out in {where}{_circle(statement)}"
    return f"{statement.item.code}: {characteristic(statement)} in {places.place(statement.result)}"


def _circle(statement: Statement) -> str:
    """On which circle a face was read."""
    diameter_mm = statement.result.diameter_mm
    is_face = statement.place.characteristic == FACE_RUNOUT
    return f", on a circle of {diameter_mm:g} mm" if is_face and diameter_mm is not None else ""


def stamp(statement: Statement, style: NumberStyle) -> str:
    """The verdict in as few words as it can be said; of what it is stands above it."""
    told = statement.result
    if isinstance(told, ValueGroup):
        return value_texts.stamp(told, style)
    return verdicts.stamp(told, style).replace(f"{places.named(told.characteristic).upper()} ", "")


def characteristic(statement: Statement) -> str:
    return _CHARACTERISTICS.get(statement.place.characteristic, statement.place.characteristic)


def says(statement: Statement, style: NumberStyle) -> str:
    """What is stated, in a sentence or two."""
    if isinstance(statement, ValueStatement):
        return value_texts.says(statement, style)
    group, decision = statement.result, statement.result.decision
    if decision is None or group.limit_um is None:
        return sentence(verdicts.verdict(group, style))
    made_to, step = exactly(group.limit_um, style), shown_step(group)
    if group.next_clampings == HOLDS:
        read = um(group.bound.value_um, step, style, up=True) if group.bound else "-"
        counted = um(decision.decides_um, step, style, up=True)
        return (
            f"Of its next clampings, on other days too, 19 in 20 stay under {read} as the indicator reads. With the "
            f"price of looking again and the uncertainty of measuring counted against this statement they stay under "
            f"{counted}, and the limit is {made_to}."
        )
    counted = um(decision.decides_um, step, style, down=True)
    return (
        f"More than 1 in 20 of its next clampings exceed the limit of {made_to}: the swing that 19 in 20 stay under is "
        f"above {counted}, with the price of looking again and the uncertainty of measuring counted against this "
        "statement."
    )


def three_verdicts(statement: Statement) -> list[tuple[str, str, str]]:
    group = statement.result
    noun, here = _noun(statement), sitting_counts(group)
    last = f"what more {noun}s of it would do{STATED}" if here else _last_sitting(statement)
    return [
        ("as read", f"the {count(group.clampings, noun)} that were read", loud(group.as_read)),
        ("last sitting", last, loud(group.this_sitting)),
        (f"next {noun}s", f"what those of other days will do{'' if here else STATED}", loud(group.next_clampings)),
    ]


def _last_sitting(statement: Statement) -> str:
    """What is told of the last sitting; where it cannot be, though all of them together tell, why."""
    group, noun = statement.result, _noun(statement)
    if not statement.clampings:
        return f"what more {noun}s of its last sitting would do"
    last = statement.clampings[-1]
    day = date(last.taken_at)
    if group.this_sitting == CANNOT_TELL and group.next_clampings in (HOLDS, DOES_NOT_HOLD):
        alone = sum(one.sitting == last.sitting for one in statement.clampings)
        return f"that of {day} alone: {count(alone, noun)}, too few to tell"
    return f"what more {noun}s of its last sitting ({day}) would do"


def _noun(statement: Statement) -> str:
    return "clamping" if isinstance(statement, SwingStatement) else "reading"


def item(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    it = statement.item
    size = [
        it.nominal_mm is not None and f"nominal {mm(it.nominal_mm, style)}",
        it.bore_mm is not None and f"bore {mm(it.bore_mm, style)}",
    ]
    what = joined(it.kind, it.system and f"system {it.system}", *size, it.material, it.mark and f"marked {it.mark}")
    done = joined(
        f"{it.what}, modification {it.modification}" if it.modification else it.what,
        it.worked_to_mm is not None and f"to {mm(it.worked_to_mm, style)}",
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
    if isinstance(made, MadeBetween):
        return "; ".join(f"{_ends(one, style)}{_given(one, statement, style)}" for one in made.set)
    swing = "full swing over a turn (TIR)"
    if statement.place.characteristic == FACE_RUNOUT:
        swing = f"face run-out, {swing}"
    anywhere = ", on any circle" if statement.place.characteristic == FACE_RUNOUT else ", at any distance"
    where = "" if made.distance_mm is not None else anywhere
    return f"{exactly(made.upper_um, style)} {swing}{where}{_given(made, statement, style)}"


def _ends(one: SetLimit, style: NumberStyle) -> str:
    """ "diametral gap 20 to 100 µm"."""
    return f"{one.characteristic} {limits(one.characteristic, one.lower_um, one.upper_um, style)}"


def _given(made: MadeTo | SetLimit, statement: Statement, style: NumberStyle) -> str:
    """Where a limit is for, whose it is, and who set it when."""
    where = f", at {mm(made.distance_mm, style)} from its front face" if made.distance_mm is not None else ""
    of = "" if made.of == "item" else f", as the setup {statement.place.setup} must hold"
    set_by = f"; set by {made.set_by}, entered {date(made.set_at_utc)}" if made.set_by else ""
    return f"{where}{of}{set_by}"


def place(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    at = statement.place
    since = joined(at.since and f"since {date(at.since)}", at.reason)
    rows = [("Setup", f"{at.setup}, revision {at.revision}" + (f" ({since})" if since else ""))] if at.setup else []
    if at.links:
        links = [
            link.code + (f" ({link.kind})" if link.kind else "") + _clocked(link.clocking_deg) for link in at.links
        ]
        rows.append(("From the spindle out", ", ".join(links)))
    rows += [("Key position", at.position)] if at.position else []
    rows += [("Clocked", at.clocking)] if at.clocking else []
    out = f"{mm(at.distance_mm, style)} from its front face; "
    if at.characteristic == RUNOUT:
        return [*rows, ("Read at", f"{out}{characteristic(statement)}")]
    is_value = isinstance(statement, ValueStatement)
    what = value_texts.what(at.characteristic) if is_value else f"{characteristic(statement)}{_circle(statement)}"
    return [*rows, ("Read", f"{out if at.distance_mm else ''}{what}")]


def where(statement: Statement) -> str:
    """The heading over ``place``."""
    return "Where it was measured" if statement.place.setup else "What was measured"


def _clocked(degrees: float | None) -> str:
    return "" if degrees is None else f" clocked {angle(degrees)}"


def gauges(statement: Statement, style: NumberStyle) -> list[tuple[str, str]]:
    several = len(statement.pins) > 1, len(statement.indicators) > 1
    gauge = "Indicator" if isinstance(statement, SwingStatement) else "Gauge"
    return [
        *(("Pin", _pin(pin, style, several=several[0])) for pin in statement.pins),
        *((gauge, _indicator(one, style, several=several[1])) for one in statement.indicators),
    ]


def _pin(pin: Pin, style: NumberStyle, *, several: bool) -> str:
    return joined(
        pin.code or "not named",
        pin.kind if pin.kind != "pin" else "",
        pin.diameter_mm is not None and f"diameter {mm(pin.diameter_mm, style)}",
        pin.roundness_um is not None and f"out of round {exactly(pin.roundness_um, style)}",
        pin.grade and f"class {pin.grade}",
        several and count(pin.clampings, "clamping"),
        pin.calibration is not None and _calibration(pin.calibration, style),
    )


def _indicator(one: Indicator, style: NumberStyle, *, several: bool) -> str:
    return joined(
        one.code or "not named",
        one.kind,
        one.serial and f"serial number {one.serial}",
        one.division_um is not None and f"division {exactly(one.division_um, style)}",
        several and count(one.clampings, "clamping"),
        "without calibration" if one.calibration is None else _calibration(one.calibration, style),
    )


def _calibration(known: Calibration, style: NumberStyle) -> str:
    """ "calibrated 2026-01-19, due 2027-01-19: error to 1.2 µm; as found in order; certificate W-26/009"."""
    error = known.error_limit_um is not None and f"error to {exactly(known.error_limit_um, style)}"
    expanded = known.uncertainty_um is not None and (
        f"U = {exactly(known.uncertainty_um, style)} (k = {known.coverage_factor or 2:g})"
    )
    told = joined(
        joined(expanded, error),
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
    if isinstance(statement, ValueStatement):
        rows = value_texts.method(statement, span)
    else:
        anew = "" if statement.place.characteristic == FACE_RUNOUT else "; for each the item was opened and closed anew"
        rows = [
            ("Clampings", f"{verdicts.counted(statement.result)}, {span}{anew}"),
            ("Each read as", "; ".join(_turns(one, several=len(statement.method) > 1) for one in statement.method)),
            ("Pin out between", _each(_pin_out(one.pin_out) for one in statement.clampings) if statement.pins else ""),
            ("Lever angle", _each(f"{x.lever_deg:g}°" if x.lever_deg is not None else "" for x in statement.clampings)),
        ]
    rows += [
        ("Torque", _each(one.torque for one in read)),
        ("Conditions", _each(one.conditions for one in read)),
        ("Read by", _each(one.operator for one in read)),
    ]
    out, told = statement.left_out, []
    if out.recalled:
        told.append(f"{count(out.recalled, 'turn')} out of an old notebook")
    if out.steep_lever:
        told.append(f"{count(out.steep_lever, 'turn')} with the lever beyond 30°")
    if out.in_doubt:
        told.append(f"{count(out.in_doubt, _noun(statement))} with a gauge found wrong")
    rows.append(("Left out", "; ".join(told)))
    rows.append(
        ("Struck out", f"{count(len(statement.struck), 'entry', 'entries')}, see below" if statement.struck else "none")
    )
    return [(name, text) for name, text in rows if text]


def _turns(one: Turns, *, several: bool) -> str:
    times = f" ({count(one.turns, 'turn')})" if several else ""
    if one.kind != "point":
        return f"the full swing seen on the indicator over one turn{times}"
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


def caveats(statement: Statement) -> list[str]:
    """What limits the figures, without the hints for whoever logs."""
    told = statement.result
    said = [values.caveat_of(told, c) if isinstance(told, ValueGroup) else CAVEATS[c] for c in told.caveats]
    return [_HINT.sub("", sentence) for sentence in said]


def validity(statement: Statement) -> list[str]:
    it, at, signed = statement.item, statement.place, statement.signed
    issued = f", as the logbook stood on {date(signed.issued_at)}" if signed.issued_at else ""
    where = f" in {at.setup}, revision {at.revision}" if at.setup else ""
    position = f", key position {at.position}" if at.position else ""
    pins = sorted({pin.diameter_mm for pin in statement.pins if pin.diameter_mm is not None})
    on = f", on a pin of about {statement.result.diameter_mm:g} mm" if pins and statement.result.diameter_mm else ""
    on += _circle(statement)
    out = f", {at.distance_mm:g} mm from its front face" if at.distance_mm or at.characteristic == RUNOUT else ""
    lost = "not for another setup, position, distance or size, nor after further work, a refit, a crash or damage"
    gauge = "indicator"
    if isinstance(statement, ValueStatement):
        gauge = "gauge"
        on = f", for its {at.characteristic}"
        lost = "not after further work, a crash or damage" + (
            ", nor in another setup or after a refit" if where else ""
        )
    return [
        f"Valid for {it.code} at modification {it.modification}{where}{position}{out}{on}{issued}: {lost}.",
        "The results relate only to the item measured. This report may not be reproduced except in full. "
        f"No accreditation is claimed; the {gauge}'s traceability is that of its certificate.",
    ]


def attached(statement_digest: str) -> str:
    return (
        "Two files are attached to this PDF: readings.csv, every reading the figures rest on, and statement.json, "
        "all that is stated and the SHA-256 of readings.csv. Whether it still stands, and whether the file is the one "
        f"issued, the issuer can tell (qclog verify). SHA-256 of statement.json: {statement_digest}"
    )


def cautions() -> Sequence[str]:
    return CAUTIONS
