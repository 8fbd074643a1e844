"""The life of an item, a setup or a gauge as text: when, what, what was judged of it, and who wrote it."""

import textwrap
from collections.abc import Mapping
from typing import Any, Final

from qclog import times
from qclog.logbook.chronicle import Event, Happened
from qclog.logbook.lookup import Limit
from qclog.questions.history import Answer, Judged, Told
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.records import RUNOUT, SWINGS
from reports.cards import (
    calibration_figures,
    card_text,
    check_text,
    made_to,
    noted_as,
    used_text,
    work_text,
    worked_how,
)
from reports.issued import in_its_sitting
from reports.issued import limits as stated_between
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, count, length, limits, micrometres
from reports.numbers import limit as limit_text
from reports.tables import WIDTH
from reports.wording import places
from reports.wording.steps import exact_step

_WHEN: Final = 16
_PM_PER_UM: Final = 1e6
_VERDICTS: Final = {HOLDS: "HOLDS {}", DOES_NOT_HOLD: "DOES NOT HOLD {}", CANNOT_TELL: "cannot tell yet ({})"}
_AS_TYPED: Final[dict[str, Any]] = {"break_on_hyphens": False, "break_long_words": False}
_Facts = Mapping[str, Any]


def history(answer: Answer, style: NumberStyle = METRIC) -> str:
    """All events, the first one first; who wrote them, and when if that was on another day."""
    words = Words(answer, style)
    events = [told.event for told in answer.events]
    several = len({station for event in events for station in event.facts.get("stations", (event.station,))}) > 1
    by_day = any(event.what == Happened.CLAMPED_ON_A_DAY for event in events)
    together = "; clampings of a day together (--json has each)" if by_day else ""
    entries = count(sum(event.facts.get("entries", 1) for event in events), "entry", "entries")
    heading = f"{answer.code}, {answer.kind}: {entries}, the first one first{together}."
    lines = [*textwrap.wrap(heading, WIDTH, **_AS_TYPED), ""]
    for told in answer.events:
        if told.event.what == Happened.CLAMPED_ON_A_DAY:
            lines += _wrapped(told.event.at, words.sentence(told.event))
        else:
            lines += _lines(told, words, several_stations=several)
    return "\n".join(lines)


def _wrapped(when: str, text: str) -> list[str]:
    margin = " " * (_WHEN + 4)
    return textwrap.wrap(text, WIDTH, initial_indent=f"  {when:<{_WHEN}}  ", subsequent_indent=margin, **_AS_TYPED)


def _lines(told: Told, words: "Words", *, several_stations: bool) -> list[str]:
    event, margin = told.event, " " * (_WHEN + 4)
    said = words.sentence(event)
    text = f"{said[:1].upper()}{said[1:].rstrip('.')} ({_written(event, several_stations)})."
    when = (event.at or event.written).replace("T", " ")[:_WHEN]
    lines = _wrapped(when, text)
    for one in told.judged:
        judged = f"judged: {words.judged(one, event)}"
        lines += textwrap.wrap(judged, WIDTH, initial_indent=margin, subsequent_indent=f"{margin}  ", **_AS_TYPED)
    return lines


def _written(event: Event, several_stations: bool) -> str:
    at = f" at {event.station}" if several_stations else ""
    later = times.day(event.at or event.written) != times.day(event.written)
    return f"{event.who}{at}{f', written {times.day(event.written)}' if later else ''}"


class Words:
    """What happened to the thing of an answer, in words: a method for every code of ``Happened``, of the same name."""

    def __init__(self, answer: Answer, style: NumberStyle) -> None:
        self.code, self.kind, self.style = answer.code, answer.kind, style

    def sentence(self, event: Event) -> str:
        said = getattr(self, event.what)(event.facts)
        operator = event.facts.get("operator") or event.who
        return f"{said}; read by {operator}" if operator != event.who else str(said)

    def judged(self, one: Judged, event: Event) -> str:
        """The verdict; with its place, unless it is that of the event."""
        limit = self._um(one.limit_um or 0.0)
        if one.limits_um is not None:
            ends = (one.limits_um.lower, one.limits_um.upper)
            limit = limits(*(None if end is None else round(end * _PM_PER_UM) for end in ends), style=self.style)
        verdict = f"IN DOUBT: {limit}" if one.in_doubt else _VERDICTS[one.verdict].format(limit)
        if one.in_sitting and not one.in_doubt:
            verdict += " in this sitting"
        parts = [one.setup, _position(one.position), one.clocking and f"clocked {one.clocking}"]
        distance, facts = [places.out(one.distance_mm, one.characteristic)], event.facts
        if event.what == Happened.CLAMPED and (facts["setup"], facts["position"]) == (one.setup, one.position):
            parts, distance = [], distance if len(facts["read"]) > 1 else []
        where = _joined(*parts, *distance, places.read_on(one.characteristic, one.diameter_mm))
        return f"{where}: {verdict}" if where else verdict

    def entered(self, facts: _Facts) -> str:
        return _joined("entered", self._card(facts), between=": ")

    def new_card(self, facts: _Facts) -> str:
        return _joined("newer card", self._card(facts), between=": ")

    def modified(self, facts: _Facts) -> str:
        return _joined(
            f"{work_text(facts, self.style)}, modification {facts['number']}",
            *worked_how(facts, self.style),
            between="; ",
        )

    def noted(self, facts: _Facts) -> str:
        number = f", modification {facts['modification']}" if facts["modification"] else ""
        said = (
            f"{name} {noted_as(name, text, self.style) if text else 'taken back'}"
            for name, text in facts["noted"].items()
        )
        return f"noted{number}: {_joined(*said, between='; ')}"

    def checked(self, facts: _Facts) -> str:
        return _joined(check_text(facts, self.style), facts["note"])

    def limited(self, facts: _Facts) -> str:
        limit = Limit._make(None if field == "setup_id" else facts[field] for field in Limit._fields)
        return _joined(f"made to {made_to(limit, self.style)}", facts["setup"] and f"in {facts['setup']}")

    def inspected(self, facts: _Facts) -> str:
        return _joined(f"seen: {facts['finding']}", facts["note"])

    def state(self, facts: _Facts) -> str:
        to = f" to {limit_text(facts['limit_pm'], style=self.style)}" if facts["limit_pm"] else ""
        return f"{facts['state']}{to}: {facts['reason']}"

    def used(self, facts: _Facts) -> str:
        return f"used: {_joined(used_text(facts['clampings'], facts['hours']), facts['note'])}"

    def clamped(self, facts: _Facts) -> str:
        of = "" if self.kind == "item" else f" of {facts['item']}"
        if of and facts["modification"]:
            of += f" (modification {facts['modification']})"
        setup = f" in {facts['setup']}" if facts["setup"] and self.kind != "setup" else ""
        clocked = f"clocked {facts['clocking']}" if facts["clocking"] else ""
        recalled = "recalled" if facts["recalled"] else ""
        swings = any(one["characteristic"] in SWINGS for one in facts["read"])
        head = f"{count(facts['clampings'], 'clamping' if swings else 'reading')}{of}{setup}"
        head = _joined(head, _position(facts["position"]), clocked, recalled)
        read = _joined(*(self._range(one) for one in facts["read"]))
        pin = f"pin {facts['pin']}" if facts["pin"] and self.kind != "pin" else ""
        named = facts["instrument"] and self.kind != "instrument"
        indicator = f"indicator {facts['instrument']}" if named else ""
        struck = f"in {facts['struck_in']} of them something was struck out since" if facts["struck_in"] else ""
        if struck and facts["clampings"] == 1:
            struck = "something in it was struck out since"
        return _joined(f"{head}: {read}", pin, indicator, struck, between="; ")

    def clamped_on_a_day(self, facts: _Facts) -> str:
        """What was clamped on one day, of all items together."""
        of = facts["item"] if facts["items"] == 1 else count(facts["items"], "item")
        read = _joined(*map(self._range, facts["read"]))
        return f"{count(facts['clampings'], 'clamping')} of {of}: {read} ({_joined(*facts['who'])})."

    def struck(self, facts: _Facts) -> str:
        part = "" if facts["part"] == "clamping" else f"a {facts['part']} of "
        return f"{part}clamping {facts['clamping']} ({' '.join(facts['readings'])}) struck out: {facts['reason']}"

    def doubt_kept(self, facts: _Facts) -> str:
        typed = f", {facts['typed']!r}" if facts["typed"] else ""
        return f"looked like a slip ({facts['why'].replace('_', ' ')}{typed}): {facts['answer']}"

    doubt_withdrawn = doubt_kept

    def put_in(self, facts: _Facts) -> str:
        return f"part of setup {facts['setup']}, revision {facts['revision']} ({facts['reason']})"

    def changed(self, facts: _Facts) -> str:
        own = self.kind == "setup"
        parts = f"from the spindle outward {', '.join(facts['parts'])}" if facts["parts"] and own else ""
        setup = "" if own else f"setup {facts['setup']}, "
        return _joined(f"{setup}revision {facts['number']}: {facts['reason']}", parts, between="; ")

    def position(self, facts: _Facts) -> str:
        return f"key {_position(facts['position'])}"

    def calibrated(self, facts: _Facts) -> str:
        keys = (("due_on", "due"), ("certificate", "certificate"), ("as_found", "as found:"), ("as_left", "as left:"))
        said = [f"{word} {facts[key]}" for key, word in keys if facts[key]]
        return _joined("calibrated", _joined(*calibration_figures(facts), *said, facts["note"]), between=": ")

    def took(self, facts: _Facts) -> str:
        what = f"{facts['item']} taken" if self.kind == "setup" else "taken"
        setup = f"in {facts['setup']}" if facts["setup"] and self.kind != "setup" else ""
        return _joined(f"{what} by {facts['who']}", setup, facts["place"])

    def back(self, facts: _Facts) -> str:
        return f"brought back by {facts['who']}"

    def found_wrong(self, facts: _Facts) -> str:
        since = f" since {times.day(facts['since'])}" if facts["since"] else ""
        concerned = count(facts["clampings"], "clamping")
        return f'{facts["gauge"]} found wrong ("{facts["found"]}"): {concerned}{since} in doubt'

    def cleared(self, facts: _Facts) -> str:
        return f"{count(facts['clampings'], 'clamping')} with {facts['gauge']} no longer in doubt: {facts['reason']}"

    def stated(self, facts: _Facts) -> str:
        of = "" if self.kind == "item" else f" about {facts['item']}"
        named = f"statement no. {facts['number']}, revision {facts['revision']},{of} for {facts['receiver']}"
        where = _joined(facts["setup"] if self.kind != "setup" else "", _position(facts["position"]))
        what, distance_mm = facts["characteristic"], facts["distance_tenths"] / 10
        out = places.out(distance_mm, what)
        limits = stated_between(what, facts["lower_limit_um"], facts["limit_um"], self.style)
        verdict = _VERDICTS[facts["verdict"]].format(limits) + in_its_sitting(facts["in_sitting"])
        return f"{named}: {_joined(verdict, places.what(what), where, out)}"

    def _card(self, facts: _Facts) -> str:
        parts = [card_text(facts, self.style)]
        if facts.get("diameter_pm"):
            parts.append(f"diameter {length(facts['diameter_pm'], style=self.style)}")
        for key, word in (("roundness_pm", "out of round"), ("division_pm", "division")):
            parts.append(f"{word} {limit_text(facts[key], style=self.style)}" if facts.get(key) else "")
        parts += [f"{word} {facts[key]}" for key, word in (("grade", "class"), ("serial", "number")) if facts.get(key)]
        return _joined(*parts)

    def _range(self, read: _Facts) -> str:
        """ "4.2 to 5 µm at 25 mm"."""
        is_swing = read["characteristic"] in SWINGS
        runs = read["characteristic"] == RUNOUT
        out = f" at {length(read['distance_pm'], style=self.style)}" if runs or read["distance_pm"] else ""
        out += f" on {length(read['diameter_pm'], style=self.style)}" if read["diameter_pm"] else ""
        what = f"{places.what(read['characteristic'])} ".lstrip()
        least, most = read["least_um"], read["most_um"]
        if least is None:
            return f"{what}all struck out{out}"
        sized = not is_swing and max(abs(least), abs(most)) >= UM_PER_MM
        low, high = (length(round(v * _PM_PER_UM), style=self.style) if sized else self._um(v) for v in (least, most))
        return f"{what}{high if low == high else f'{low.removesuffix(_UM)} to {high}'}{out}"

    def _um(self, value: float) -> str:
        step = max(exact_step(value), 0.1)
        return micrometres(value, step_um=step, style=self.style)


_UM: Final = " µm"


def _position(name: str) -> str:
    return f"position {name}" if name else ""


def _joined(*parts: str, between: str = ", ") -> str:
    return between.join(part for part in parts if part)
