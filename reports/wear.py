"""What wear advises, as text: keep, watch or retire first, then why and what to do, then the figures behind it."""

import itertools
import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.changing.by_chance import by_chance
from qclog.questions.codes import Caveat, Sign, Worth
from qclog.questions.wear import KEEP, RETIRE, WATCH, Answer
from reports.advice import OUT_FOR_GOOD, advice, by_cost, own_places, where_of
from reports.cards import columns
from reports.numbers import METRIC, NumberStyle, count, micrometres, signed_micrometres
from reports.tables import WIDTH
from reports.wording.caveats import CAVEATS
from reports.wording.verdicts import log_on

_STEP_UM: Final = 0.1
_YEAR: Final = 365.25
_YEARLY_FROM_DAYS: Final = 91
"""Below three months no change a year is told."""
_RANK: Final = (RETIRE, WATCH, KEEP)
_FEW: Final = Caveat.FEW_DAYS
_PAST: Final = {Sign.DOES_NOT_HOLD, Sign.SETUP_LIMIT}
_COLUMNS: Final = ("item", "where", "n", "sittings", "level", "limit", "change", "not before", "advice")
_MOST_STEADY: Final = 100
"""More places than these, at which nothing changes, are only counted."""
_STEADY: Final = (
    "{} places to keep without any sign of a change have no line here: qclog wear CODE tells one item, --json all."
)
_MOST_ADVISED: Final = 100
"""Of more items the most urgent are told in words."""
_MORE_ADVISED: Final = "Less urgent than these: {} more, in the table alone. qclog wear CODE tells one item."
_NOTES: Final = (
    "Figures in µm TIR; level and change on the mean, the change a year, in 1,000 clampings in work, or over the days "
    "it was read on where those are fewer than three months; after a step the level since.",
    "Not before: until then at most one clamping in 20 exceeds the limit, with 95 % confidence; or how many more days "
    "with clampings it needs before that can be told.",
)


def wear(answers: Sequence[Answer], style: NumberStyle = METRIC) -> str:
    """One item in full; of several those to be retired or watched in words, then one table, in which many that are
    steady have no line."""
    items = [list(places) for _, places in itertools.groupby(answers, key=lambda answer: answer.item)]
    if len(items) == 1:
        return "\n".join(_one_item(items[0], style))
    lines = _wrapped(_above(answers), "")
    advised = [places for places in sorted(items, key=_urgency) if any(one.decision != KEEP for one in places)]
    for places in advised[:_MOST_ADVISED]:
        lines += ["", *advice(places, style)]
    if (more := len(advised) - _MOST_ADVISED) > 0:
        lines += ["", *_wrapped(_MORE_ADVISED.format(more), "")]
    shown = [answer for answer in answers if answer.decision != KEEP or answer.single_hint]
    if (steady := len(answers) - len(shown)) > _MOST_STEADY:
        lines += ["", *_wrapped(_STEADY.format(steady), "")]
    else:
        shown = list(answers)
    costs = [f"{answer.item} in {where_of(answer)}: {told}" for answer in shown if (told := by_cost(answer))]
    table = ["", *_table(shown), "", *_listed([*_NOTES, *costs])] if shown else []
    return "\n".join([*lines, *table])


def _one_item(places: Sequence[Answer], style: NumberStyle) -> list[str]:
    lines = advice(places, style)
    if OUT_FOR_GOOD.intersection(places[0].because):
        return lines
    if len(places) == 1:
        return [*lines, "", *_listed(figures(places[0], style))]
    own = own_places(places)
    costs = [f"{where}: {told}" for answer, where in zip(places, own, strict=True) if (told := by_cost(answer))]
    notes = [*_NOTES, *costs]
    for code, sentence in CAVEATS.items():
        having = [(answer, where) for answer, where in zip(places, own, strict=True) if code in said_of(answer)]
        if having:
            more = f" {log_on(max(answer.more_days for answer, _ in having))}." if code == _FEW else ""
            whose = f" ({'; '.join(where for _, where in having)})" if len(having) < len(places) else ""
            notes.append(f"{sentence}{more}{whose}")
    table = [f"  {line}" for line in _table(places, items=False)]
    return [*lines, "", *table, "", *_listed(notes)]


def _urgency(places: Sequence[Answer]) -> tuple[int, float]:
    """What is to be retired before what is to be watched, the surest sign of a change first."""
    p_values = [test.p_value for answer in places for test in answer.tests if test.found]
    return min(_RANK.index(answer.decision) for answer in places), min(p_values, default=1.0)


def _above(answers: Sequence[Answer]) -> str:
    """The line above a list: how many signs of a change would appear with nothing wrong."""
    told = ", ".join(f"{sum(a.decision == d for a in answers)} {d}" for d in _RANK)
    tests = [test for answer in answers for test in answer.tests]
    whole = f"{count(len(answers), 'place')}: {told}."
    if not tests:
        return whole
    chance = by_chance(tests)
    found = f"{chance.found or 'none'} found"
    if chance.found and chance.no_more_than_chance:
        found += ", in number no more than chance"
    if real := sum(test.mark == Worth.LIKELY_REAL for test in tests):
        found += f", {real} of them likely real"
    with_nothing_wrong = f"about {chance.expected:.1f} signs would appear by chance with nothing wrong"
    return f"{whole} {count(len(tests), 'test')} for a change: {with_nothing_wrong}; {found}."


def figures(answer: Answer, style: NumberStyle = METRIC) -> list[str]:
    """What the advice about one place rests on, and what limits it, a sentence each."""
    days = count(answer.sittings, "sitting")
    level = f"{_um(answer.level_um, style)} on the mean"
    level = f"now at {level}, since {answer.step.at}" if answer.stepped and answer.step is not None else f"at {level}"
    lines = [f"{count(answer.clampings, 'clamping')} in {days}; {level}."]
    if _too_short(answer) and answer.trend is not None and not answer.stepped:
        found, over = answer.trend, (answer.read_over_days or 0) / _YEAR
        ends = f"{_signed(found.low * over, style)} to {_signed(found.high * over, style)}"
        so_far = _signed((found.per_year_um or 0.0) * over, style)
        lines.append(f"Change over these {answer.read_over_days} days: {so_far}, from {ends} with 95 % confidence.")
    elif answer.trend is not None and not answer.stepped:
        slope = answer.trend.per_year_um if answer.axis == "date" else answer.trend.per_1000_um
        per = "a year" if answer.axis == "date" else "in 1,000 clampings in work"
        ends = f"{_signed(answer.trend.low, style)} to {_signed(answer.trend.high, style)}"
        lines.append(f"Change {per}: {_signed(slope or 0.0, style)}, from {ends} with 95 % confidence.")
    if answer.step is not None:
        lines.append(f"A step of {_signed(answer.step.change_um, style)} at {answer.step.at}.")
    if answer.signal is not None:
        lines.append(f"The running chart sees a change since {answer.signal}.")
    if answer.crosses is not None:
        lines.append(_crossing(answer))
    lines += [part for part in (by_cost(answer),) if part]
    for code in said_of(answer):
        more = f" {log_on(answer.more_days)}." if code == _FEW else ""
        lines.append(f"{CAVEATS[code]}{more}")
    return lines


def said_of(answer: Answer) -> list[Caveat]:
    """What limits the answer and still has to be said; who retires an item need not log more of it, and after a step
    there is no trend."""
    said = {Caveat.MORE_WILL_NOT_TELL, *([_FEW] if answer.decision == RETIRE else [])}
    said |= {Caveat.NOT_INDEPENDENT} if answer.stepped else set()
    return [code for code in answer.caveats if code not in said]


def _crossing(answer: Answer) -> str:
    """When one clamping in 20 exceeds the limit; the early end always."""
    crosses = answer.crosses
    assert crosses is not None
    unit = "" if answer.axis == "date" else f" clampings in work ({answer.worked} noted so far)"
    if crosses.now:
        return "Even today more than one clamping in 20 may exceed the limit."
    if crosses.median is not None:
        latest = f", at the latest {crosses.late}" if crosses.late else ""
        when = f"from about {crosses.median} on, not before {crosses.early}{latest}{unit}"
        return f"If it goes on like this, more than one clamping in 20 exceeds the limit {when}."
    drift = "It rises, but" if Sign.LEVEL_RISES in answer.because else "No drift is proven:"
    if answer.stepped:
        drift = "Even if it went on like a drift,"
    ahead = "; these readings tell no farther ahead" if crosses.early == crosses.horizon else ""
    return f"{drift} before {crosses.early}{unit} at most one clamping in 20 exceeds the limit{ahead}."


def _table(answers: Sequence[Answer], *, items: bool = True) -> list[str]:
    where = [where_of(answer) for answer in answers] if items else own_places(answers)
    rows = [_row(answer, place) for answer, place in zip(answers, where, strict=True)]
    return columns([row[0 if items else 1 :] for row in (_COLUMNS, *rows)]).splitlines()


def _row(answer: Answer, where: str) -> tuple[str, ...]:
    trend, change = answer.trend, "-"
    if answer.stepped and answer.step is not None:
        change = f"{_signed(answer.step.change_um, METRIC).removesuffix(' µm')} step"
    elif trend is not None and _too_short(answer):
        so_far = (trend.per_year_um or 0.0) * (answer.read_over_days or 0) / _YEAR
        change = f"{_signed(so_far, METRIC).removesuffix(' µm')}/{answer.read_over_days} days"
    elif trend is not None:
        yearly = trend.per_year_um is not None
        slope = trend.per_year_um if yearly else trend.per_1000_um
        change = f"{_signed(slope or 0.0, METRIC).removesuffix(' µm')}/{'year' if yearly else '1,000'}"
    return (
        answer.item,
        where,
        str(answer.clampings),
        str(answer.sittings),
        _um(answer.level_um, METRIC).removesuffix(" µm"),
        "-" if answer.limit_um is None else f"{answer.limit_um:g}",
        change,
        _not_before(answer),
        answer.decision.upper() if answer.decision == RETIRE else f"{answer.decision}{', a hint' * answer.single_hint}",
    )


def _too_short(answer: Answer) -> bool:
    """Whether a change over its days is not carried on to a whole year."""
    return answer.read_over_days is not None and answer.read_over_days < _YEARLY_FROM_DAYS


def _not_before(answer: Answer) -> str:
    if OUT_FOR_GOOD.intersection(answer.because):
        return "-"
    if _PAST.intersection(answer.because):
        return "now"
    if answer.more_days:
        return f"needs {count(answer.more_days, 'more day')}"
    if answer.crosses is None:
        return "-"
    return "now" if answer.crosses.now else answer.crosses.early


def _um(value: float, style: NumberStyle) -> str:
    return micrometres(value, step_um=_STEP_UM, style=style)


def _signed(value: float, style: NumberStyle) -> str:
    return signed_micrometres(value, step_um=_STEP_UM, style=style)


def _listed(notes: Sequence[str]) -> list[str]:
    return [line for note in notes for line in _wrapped(note, "  - ", "    ")]


def _wrapped(text: str, first: str, then: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
