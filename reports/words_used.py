"""Which words of an answer have a page that says more: codes in the order in which they are said.

Of a single answer its verdict too; of a list what limits it, since its verdicts stand in every line.
"""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final

from qclog.questions.assess import Answer
from qclog.questions.codes import Caveat, NextStep
from qclog.questions.judging.groups import Group, goes_by, sitting_counts
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, NO_LIMIT, ValueGroup
from reports.explanations import pages
from reports.wording import places
from reports.wording.caveats import CAVEATS
from reports.wording.flags import locked

if TYPE_CHECKING:
    from qclog.logbook.safekeeping.verifying import Verified
    from qclog.questions import chain, chart, compare, due, pick, recall, sense, study, uncertainty, wear
    from qclog.questions.comparing import key_positions
    from qclog.questions.drawer import Drawer

_SAID: Final = list(CAVEATS)


def of_assess(answers: Sequence[Answer]) -> list[str]:
    groups: list[Group | ValueGroup] = []
    for answer in answers:
        groups += [*answer.groups, *answer.values]
    findings = [reason.code for answer in answers for reason in answer.reasons if reason.distance_mm is None]
    alone = len(answers) == 1 and not locked(answers[0])
    verdicts = [word for group in groups for word in _verdict_words(group)] if alone else []
    return [*findings, *verdicts, *_in_order(code for group in groups for code in group.caveats)]


def _verdict_words(group: "Group | ValueGroup") -> list[str]:
    """The verdict that is said, and that it is of one sitting where it is."""
    return [goes_by(group), *(["this sitting"] if sitting_counts(group) else []), *of_characteristic(group)]


def of_characteristic(group: "Group | ValueGroup") -> list[str]:
    """What was read, if no run-out, where there is a page on it."""
    name = places.what(group.characteristic)
    return [name] if pages(name) else []


def of_compare(answers: "Sequence[compare.Answer]", chucks: "Sequence[key_positions.Answer]" = ()) -> list[str]:
    outcomes = [answer.outcome for answer in answers] if len(answers) == 1 else []
    marks = [answer.mark for answer in answers if answer.mark is not None]
    together = [*(answer.caveats for answer in answers), *(chuck.caveats for chuck in chucks)]
    caveats = _in_order(code for codes in together for code in codes)
    return [*outcomes, *marks, *(chuck.statement for chuck in chucks), *caveats]


def of_wear(answers: "Sequence[wear.Answer]") -> list[str]:
    """The signs of what is not to be kept; of a list no caveats, which it does not say."""
    from qclog.questions.wear import KEEP
    from reports.wear import said_of

    told = [answer for answer in answers if answer.decision != KEEP]
    signs = [sign for answer in told for sign in answer.because]
    marks = [test.mark for answer in told for test in answer.tests if test.mark is not None]
    if len({answer.item for answer in answers}) > 1:
        return [*signs, *marks]
    caveats = _in_order(code for answer in answers for code in said_of(answer))
    return [*(answer.decision for answer in answers), *signs, *marks, *caveats]


def of_drawer(found: "Drawer") -> list[str]:
    groups = [entry.worst for entry in found.entries if entry.worst is not None and not entry.put_away]
    verdicts = {goes_by(group) for group in groups}
    told = [word for word in (DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT) if word in verdicts]
    return [*told, *(["married"] if found.married else []), *(why for order in found.reorder for why in order.why)]


def of_due(found: "Iterable[due.Due]") -> list[str]:
    return [one.why for one in found]


def of_recall(answers: "Iterable[recall.Answer]") -> list[str]:
    steps = {place.next_step for answer in answers if answer.in_doubt for place in answer.places}
    to_do = [step for step in (NextStep.MEASURE_FIRST, NextStep.MEASURE_AGAIN, NextStep.TELL) if step in steps]
    return [Caveat.IN_DOUBT, *to_do] if steps else []


def of_sense(answers: "Iterable[sense.Answer]") -> list[str]:
    return [answer.state for answer in answers]


def of_chart(answers: "Iterable[chart.Answer]") -> list[str]:
    told = list(answers)
    signs = [signal.sign for answer in told for signal in answer.signals]
    terms = ["usual", *(["P_U"] if any(answer.performance is not None for answer in told) else [])]
    return [*(answer.state for answer in told), *signs, *(terms if any(answer.points for answer in told) else [])]


def of_study(answers: "Iterable[study.Answer]") -> list[str]:
    """What is to be mended first, and what limits it."""
    told = list(answers)
    causes = [pages(answer.parts[0].cause, "study")[0].title for answer in told if answer.parts]
    return [*causes, *_in_order(code for answer in told for code in answer.caveats)]


def of_uncertainty(answers: "Iterable[uncertainty.Answer]") -> list[str]:
    """What each budget is made of, the largest first, and what limits it."""
    places = [place for answer in answers for place in answer.places]
    sources = [line.source for place in places for line in place.lines]
    return [*sources, *_in_order(code for place in places for code in place.caveats)]


def of_pick(found: "pick.Picked") -> list[str]:
    """What the offers rest on, why others are left out, and what limits the first."""
    grounds = [choice.ground for choice in found.choices]
    caveats = _in_order(code for choice in found.choices[:1] for code in choice.caveats)
    return [*grounds, *(one.why for one in found.left_out), *caveats]


def of_chain(answers: "Iterable[chain.Answer]") -> list[str]:
    told = list(answers)
    table = ["circle", "without"] if any(one.parts for answer in told for one in answer.distances) else []
    return [
        *(answer.advice.what for answer in told),
        *table,
        *_in_order(code for answer in told for code in answer.caveats),
    ]


def of_verify(found: "Verified") -> list[str]:
    return [check.check for check in found.checks if check.wrong]


def _in_order(codes: Iterable[Caveat]) -> list[Caveat]:
    """Each caveat once, as the notes below an answer follow each other."""
    return sorted(set(codes), key=_SAID.index)
