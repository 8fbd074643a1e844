"""Keep, watch or retire an item, in words: where, why, what to do first, and the way down."""

import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

from qclog.questions.codes import ByCost, Caveat, Sign, Worth
from qclog.questions.wear import KEEP, RETIRE, WATCH, Answer
from reports.numbers import METRIC, NumberStyle, exact, micrometres, one_in
from reports.tables import WIDTH
from reports.wording import places
from reports.wording.verdicts import log_on
from reports.wording.wear import BEFORE_EVERY_JOB, BY_COST, CURES, MARKS, NEVER_TOLD, ON_A_HINT, SIGNS

OUT_FOR_GOOD: Final = {Sign.CRACK, Sign.BLUE}
_OF_THE_ITEM: Final = {*OUT_FOR_GOOD, Sign.BELL_MOUTH, Sign.LOST_SPRING, Sign.SLIPPED, Sign.SLIPPED_AGAIN}
_PREPOSITION: Final = {"setup": "in ", "position": "at "}


def advice(places: Sequence[Answer], style: NumberStyle = METRIC) -> list[str]:
    """The answers about one item as lines."""
    head, *rest = told(places, style)
    return _wrapped(head) + [line for sentence in rest for line in _wrapped(sentence, "  ", "    ")]


def told(places: Sequence[Answer], style: NumberStyle = METRIC, *, cures: bool = True) -> list[str]:
    """The answers about one item: one sentence for the item as a whole, then each place that is not kept; with
    ``cures`` also what to do about it."""
    first = places[0]
    if len(places) == 1 or OUT_FOR_GOOD.intersection(first.because):
        where = f" in {where_of(first)}" if len(places) == 1 else ""
        then = _then(first, style) if cures else ""
        return [f"{first.item}{where}: {_decided(first, style)}: {_why(first)}. {then}".strip()]
    common, own = _told_apart(places)
    head = f"{first.item}{f' in {common}' if common else ''}: {_as_a_whole(places, own, style)}."
    found = [sign for sign in first.because if sign in _OF_THE_ITEM]
    sentences = [" ".join([head, *(f"{_capital(SIGNS[sign])}." for sign in found)])]
    alone = not any(answer.decision == KEEP for answer in places)
    for answer, where in zip(places, own, strict=True):
        why = _why(answer, without=found)
        if why and answer.decision != KEEP:
            then = _then(answer, style, alone=alone) if cures else ""
            sentences.append(f"{_capital(where)}: {why}. {then}".strip())
    return sentences


def where_of(answer: Answer) -> str:
    """ "LATHE-A, position N, 16 mm out"."""
    return ", ".join(part for part in _parts(answer).values() if part)


def own_places(places: Sequence[Answer]) -> list[str]:
    """What tells the places of one item apart; the whole place of a single one."""
    return _told_apart(places)[1] if len(places) > 1 else [where_of(places[0])]


def by_cost(answer: Answer) -> str:
    """What the costs advise, "" where they were not given."""
    cost = answer.cost
    if cost is None:
        return ""
    told = BY_COST[cost.advice]
    if cost.p_next is None:
        return told
    if cost.replace_at is not None:
        due = cost.advice == ByCost.REPLACE
        since = f"{'has paid since' if due else 'pays from'} clamping {cost.replace_at} in work{'' if due else ' on'}"
        return f"By cost: as it rises, replacing {since}: {told}."
    if cost.threshold >= 1.0:
        return f"By cost: at these figures replacing never pays: {told}."
    pays = f"replacing pays once more than {one_in(cost.threshold)} clampings go over"
    when = "at the next check" if Sign.LEVEL_RISES in answer.because else "now"
    return f"By cost, if a new one never goes over the limit: {pays}; {when} {_about(cost.p_next)} do: {told}."


def _about(probability: float) -> str:
    rate = one_in(probability)
    return rate if rate.startswith(("fewer", "more")) else f"about {rate}"


def _decided(answer: Answer, style: NumberStyle) -> str:
    if answer.decision == RETIRE and answer.limit_um is not None and not OUT_FOR_GOOD.intersection(answer.because):
        limit = exact(answer.limit_um, style=style)
        return f"RETIRE it from {limit} work"
    return f"{answer.decision.upper()}{', on a single hint' if answer.single_hint else ''}"


def _as_a_whole(places: Sequence[Answer], own: Sequence[str], style: NumberStyle) -> str:
    """ "RETIRE it from 9 µm work at position N; elsewhere keep it"."""
    where: dict[str, list[str]] = {}
    for decision in (RETIRE, WATCH, KEEP):
        for answer, place in zip(places, own, strict=True):
            if answer.decision == decision:
                where.setdefault(_decided(answer, style), []).append(place)
    if len(where) == 1:
        return next(iter(where))
    parts = []
    for decided, names in where.items():
        if decided == KEEP.upper():
            parts.append("elsewhere keep it")
        else:
            verb = decided.replace("WATCH", "watch it" if parts else "WATCH it")
            parts.append(f"{verb} {' and '.join(names)}")
    return "; ".join(parts)


def _why(answer: Answer, without: Iterable[Sign] = ()) -> str:
    """The signs; those of a change with what they are worth, hints only where nothing surer stands beside them."""
    mark = {test.sign: test.mark for test in answer.tests}
    said = {Worth.LIKELY_REAL} if answer.single_hint or Worth.LIKELY_REAL in mark.values() else set(Worth)
    told = []
    for sign in answer.because:
        if sign not in without:
            text, worth = SIGNS[sign], mark.get(sign)
            if sign == Sign.CANNOT_TELL and Caveat.MORE_WILL_NOT_TELL in answer.caveats:
                text = NEVER_TOLD
            told.append(f"{text} ({MARKS[worth]})" if worth in said else text)
    return "; ".join(told)


def _then(answer: Answer, style: NumberStyle, *, alone: bool = True) -> str:
    """What to do first, and for what is retired the way down; ``alone``: the item is kept nowhere else."""
    told = []
    if answer.single_hint:
        told.append(ON_A_HINT)
    if Sign.CANNOT_TELL in answer.because:
        told.append(_to_tell(answer))
    hints = {test.sign for test in answer.tests if test.mark == Worth.SINGLE_HINT}
    told += [cure(answer, sign) for sign in answer.because if sign in CURES and sign not in hints]
    if answer.decision == RETIRE and not OUT_FOR_GOOD.intersection(answer.because):
        told.append(_way_down(answer, style, alone=alone))
    return " ".join(part for part in dict.fromkeys(told) if part)


def cure(answer: Answer, sign: Sign) -> str:
    """What to do first about a sign; of a step with its day."""
    return CURES[sign].format(at="the step" if answer.step is None else answer.step.at)


def _to_tell(answer: Answer) -> str:
    if Caveat.MORE_WILL_NOT_TELL in answer.caveats:
        return BEFORE_EVERY_JOB
    if not {Caveat.CHUCK_REPEAT, Caveat.FOR_ITS_JOB}.isdisjoint(answer.caveats):
        return "Bored for a job: clamp it again in this sitting."
    return f"{log_on(answer.more_clampings)}." if answer.more_clampings else "Measure it again on other days."


def _way_down(answer: Answer, style: NumberStyle, *, alone: bool) -> str:
    still = ""
    if answer.good_for_um is not None:
        still = f"Still good for {micrometres(answer.good_for_um, step_um=1.0, style=style)} work"
    if not alone:
        return f"{still} there." if still else ""
    return f"{still}; or bore it out, or scrap it." if still else "Bore it out, or scrap it."


def _parts(answer: Answer) -> dict[str, str]:
    return {
        "setup": answer.setup,
        "position": f"position {answer.position}" if answer.position else "",
        "clocking": f"clocked {answer.clocking}" if answer.clocking else "",
        "distance": places.out(answer.distance_mm, answer.characteristic),
        "characteristic": places.what(answer.characteristic),
    }


def _told_apart(places: Sequence[Answer]) -> tuple[str, list[str]]:
    """What the places of one item have in common, and what tells each of them apart."""
    parts = [
        _parts(answer) | {"diameter": "" if answer.diameter_mm is None else f"on {answer.diameter_mm:g} mm"}
        for answer in places
    ]
    same = [name for name in parts[0] if len({part[name] for part in parts}) == 1]
    common = ", ".join(parts[0][name] for name in same if parts[0][name] and name != "diameter")
    own = []
    for part in parts:
        names = [name for name in part if name not in same and part[name]]
        own.append(", ".join(part[name] for name in names))
        if names:
            own[-1] = _PREPOSITION.get(names[0], "") + own[-1]
    return common, own


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _wrapped(text: str, first: str = "", then: str = "  ") -> list[str]:
    return textwrap.wrap(text.strip(), WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
