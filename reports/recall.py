"""A recall as text: what was found, how many verdicts would be others, then each of them and what to do about it."""

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.questions.judging.values import DOES_NOT_HOLD, HOLDS, NO_LIMIT
from qclog.questions.recall import Answer, Place, Verdict
from reports.cards import columns
from reports.issued import about, verdict
from reports.numbers import METRIC, NumberStyle, count, date, limits, micrometres
from reports.tables import TERMINAL, WIDTH
from reports.wording import places
from reports.wording.due import NEXT_STEPS
from reports.wording.steps import exact_step

_LOUD: Final = {HOLDS: "HOLDS", DOES_NOT_HOLD: "DOES NOT HOLD", NO_LIMIT: "no limit"}
_WIDEST: Final = {"where": 22, "as given": 13, "had it read so": 17, "now": 13, "next": 7}
"""Of place and verdicts in a terminal that is too narrow for the whole table."""


def recall(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One recall in full, several one below the other."""
    return "\n\n".join("\n".join(_one(answer, style)) for answer in answers)


def _one(answer: Answer, style: NumberStyle) -> list[str]:
    lines = [*_wrapped(_found(answer)), *_wrapped(_since(answer))]
    if not answer.clampings:
        return lines
    sentences = [_counted(answer, style), _left(answer), *_to_tell(answer, style)]
    lines += [line for sentence in sentences for line in _wrapped(sentence)]
    if answer.places:
        lines += ["", *(f"  {line}" for line in _columns(answer).splitlines()), ""]
        lines += [line for note in _notes(answer) for line in _wrapped(note, "  - ", "    ")]
    return lines


def _found(answer: Answer) -> str:
    note = f" {answer.note.rstrip('.')}." if answer.note else ""
    return f'{answer.gauge} was found wrong on {date(answer.found_at)}: "{answer.found}" ({answer.who}).{note}'


def _since(answer: Answer) -> str:
    since = f"its last good check on {date(answer.since)}" if answer.since else "the beginning: no good check is known"
    until = f", until it was calibrated on {date(answer.good_again)}" if answer.good_again else ""
    items = len({place.item for place in answer.places if place.clampings})
    of = f" of {count(items, 'item')}" if items else ""
    read = count(answer.clampings, "clamping") if answer.clampings else "Nothing"
    return f"{read}{of} {'were' if answer.clampings > 1 else 'was'} read with it since {since}{until}."


def _counted(answer: Answer, style: NumberStyle) -> str:
    """ "Had it read 23 µm for 20 µm all that time: 4 verdicts unchanged, 2 change."."""
    change = "changes" if answer.change == 1 else "change"
    told = f"{count(answer.unchanged, 'verdict')} unchanged, {answer.change} {change}."
    if answer.read_um is None or answer.true_um is None:
        return f"Without what was read with it: {told}"
    read, true = (
        micrometres(value, step_um=exact_step(value), style=style) for value in (answer.read_um, answer.true_um)
    )
    return f"Had it read {read} for {true} all that time: {told}"


def _left(answer: Answer) -> str:
    if answer.withdrawn:
        return f"Nothing is in doubt any more: {answer.withdrawn}"
    if not answer.in_doubt:
        return "Nothing is in doubt any more."
    cannot = f"; {count(answer.untold, 'verdict')} cannot be told until then" if answer.untold else ""
    return f"{count(answer.in_doubt, 'clamping')} in doubt until measured again or cleared with a reason{cannot}."


def _to_tell(answer: Answer, style: NumberStyle) -> Iterable[str]:
    """ "1 customer to tell: X has statement no. 12, revision 1 (B-945 in LATHE-A, position S, HOLDS 11 µm)."."""
    if not answer.to_tell:
        return
    has = []
    for one in answer.statements:
        what = f"{about(one)}, {verdict(one, style)}"
        since = "" if one.newest else ", replaced since"
        has.append(f"{one.receiver} has statement no. {one.number}, revision {one.revision} ({what}{since})")
    yield f"{count(len(answer.to_tell), 'customer')} to tell: {'; '.join(has)}."


def _columns(answer: Answer) -> str:
    """The table; where all is in doubt, once is enough to say how many."""
    rows = _table(answer)
    if all(row[1] == row[2] for row in rows[1:]):
        rows = [(row[0], row[2], *row[3:]) for row in rows]
    table = columns(rows)
    if max(map(len, table.splitlines())) + 2 < TERMINAL:
        return table
    return columns(rows, {i: _WIDEST[head] for i, head in enumerate(rows[0]) if head in _WIDEST})


def _table(answer: Answer) -> list[tuple[str, ...]]:
    asked = answer.read_um is not None
    pins = Counter(_but_for_the_pin(place) for place in answer.places)
    header = ("where", "n", "in doubt", "limit", "as given", *(("had it read so",) if asked else ()), "now", "next")
    rows = [header]
    for place in answer.places:
        would = (_told(place.had_it_read_so) + (" ***" if place.changes else ""),) if asked else ()
        now = _told(place.now) + ("" if asked or not place.changes else " ***")
        rows.append(
            (
                _where(place, several_pins=pins[_but_for_the_pin(place)] > 1),
                str(place.clampings) if place.clampings else "-",
                str(place.in_doubt) if place.in_doubt else "-",
                _limit(place),
                _told(place.given),
                *would,
                now,
                "-" if place.next_step.startswith("none") else place.next_step.replace("_", " "),
            )
        )
    return rows


def _limit(place: Place) -> str:
    if place.limits_um is not None:
        ends = (place.limits_um.lower, place.limits_um.upper)
        return limits(*(None if end is None else round(end * 1e6) for end in ends))
    return "-" if place.limit_um is None else f"{place.limit_um:g}"


def _where(place: Place, *, several_pins: bool) -> str:
    """ "C-735 L2 A 25 mm"; before later work with what it was then, and with the pin where there were several."""
    far = places.out(place.distance_mm, place.characteristic).removesuffix(" out")
    parts = [place.item, place.setup, place.position, place.clocking, far, places.what(place.characteristic)]
    if several_pins:
        parts.append("pin not named" if place.diameter_mm is None else f"on {place.diameter_mm:g} mm")
    if not place.as_it_is:
        parts.append(f"(modification {place.modification}, setup revision {place.setup_revision})")
    return " ".join(part for part in parts if part)


def _but_for_the_pin(place: Place) -> tuple[object, ...]:
    there = (place.item, place.modification, place.setup, place.setup_revision, place.position, place.clocking)
    return (*there, place.distance_mm, place.characteristic)


def _told(verdict: Verdict | None) -> str:
    if verdict is None:
        return "-"
    word, only_here = verdict.told
    return _LOUD.get(word, word) + (" (sitting)" if only_here else "")


def _notes(answer: Answer) -> Iterable[str]:
    yield "Limits in µm. Nothing that was logged has been changed; what is in doubt counts for no verdict."
    if any(place.changes for place in answer.places):
        yield "***: another verdict."
    if any(v is not None and v.told[1] for p in answer.places for v in (p.given, p.had_it_read_so, p.now)):
        yield "(sitting): of its last sitting only; nothing can be told of other days."
    if any(not place.clampings for place in answer.places):
        yield "No clampings (-): judged by the repeat of others, which were read with it."
    for step, sentence in NEXT_STEPS.items():
        if not step.startswith("none") and any(place.next_step == step for place in answer.places):
            yield sentence
    for one in dict.fromkeys((one.reason, one.who) for one in answer.cleared):
        number = sum((other.reason, other.who) == one for other in answer.cleared)
        yield f"{count(number, 'clamping')} cleared by {one[1]}: {one[0]}"
    if answer.in_doubt:
        yield f'To clear: qclog recall {answer.gauge} --clear "why" [--item CODE] [--before DATE]'


def _wrapped(text: str, first: str = "", then: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
