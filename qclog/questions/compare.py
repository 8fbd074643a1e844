"""Which key position (or setup, or item) is better, is the difference real, and what would settle it?

Groups are compared at the same distance, pin diameter and clocking, from their swings; less is better. Whether it
is settled follows a rule that keeps the error of naming a better one at 5 % whenever one stops looking. Where every
clamping has its high spot, they are compared as vectors too. A list stands in the order of p, the surest first.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from typing import Any, Final

from qclog.errors import NotFoundError
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_owned
from qclog.questions.assess import assess
from qclog.questions.codes import Caveat, Worth
from qclog.questions.comparing import key_positions
from qclog.questions.comparing.one import BETTER, NO_DIFFERENCE, UNDECIDED, Answer, Member, answer_of
from qclog.questions.comparing.sets import By, read_measured, sets_alike
from qclog.questions.places import Place
from qclog.statistics.changing.many_tests import ByChance, Mark, many_tests

__all__ = [
    "BETTER",
    "MATTERS",
    "NO_DIFFERENCE",
    "UNDECIDED",
    "Answer",
    "Member",
    "by_chance",
    "compare",
    "document",
    "need_something",
]

QUESTION: Final = "compare"
MATTERS: Final = "difference that matters, um"
"""The setting of the logbook that keeps what difference would make one change."""
_MARKS: Final = {Mark.LIKELY_REAL: Worth.LIKELY_REAL, Mark.SINGLE_HINT: Worth.SINGLE_HINT}
_DEFAULT_MATTERS_UM: Final = 2.0


def compare(
    store: Store,
    codes: Sequence[str] = (),
    *,
    by: By = "position",
    setup: str | None = None,
    matters_um: float | None = None,
) -> list[Answer]:
    """One answer for each set of at least two that were measured alike, of the items named or of all.

    ``matters_um``: the smallest difference that would make one change; without it the logbook's setting, else
    2 µm. Raises NotFoundError for what is not registered.
    """
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        if setup is not None:
            setup = register.need(setup, "setup").text
        owned = read_owned(connection, items)
        measured = read_measured(connection, owned, items, setup)
        matters = matters_um or float(register.setting(MATTERS, str(_DEFAULT_MATTERS_UM)))
    bounds = _bounds(store, codes)
    answers = [answer_of(by, members, matters, bounds) for members in sets_alike(measured, by)]
    return _marked(_by_diameter(answers))


def document(answers: Sequence[Answer], chucks: Iterable[key_positions.Answer] = ()) -> dict[str, Any]:
    """The answers as plain values for JSON, with what they say of key positions over many items."""
    return {
        "question": QUESTION,
        "answers": [dataclasses.asdict(answer) for answer in answers],
        "key_positions": [dataclasses.asdict(answer) for answer in chucks],
        "expected_by_chance": chance.expected if (chance := by_chance(answers)) else 0.0,
    }


def by_chance(answers: Iterable[Answer]) -> ByChance | None:
    """How many comparisons would come out at 5 % or below with no difference anywhere, and how many do."""
    p_values = [answer.p_value for answer in answers if answer.p_value is not None]
    return many_tests(p_values).chance if p_values else None


def need_something(answers: Sequence[Answer], codes: Sequence[str], by: By) -> None:
    """Raises NotFoundError where there are no two things to compare."""
    if not answers:
        what = {"position": "key positions", "setup": "setups", "item": "items"}[by]
        of = f" of {', '.join(codes)}" if codes else ""
        raise NotFoundError(
            f"There are no two {what}{of} whose run-out was measured at the same distance.",
            f"Log clampings at both{', with --position' if by == 'position' else ''}. Only run-out is compared; "
            "sizes and differences are judged by qclog assess.",
        )


def _bounds(store: Store, codes: Sequence[str]) -> dict[Place, float]:
    """The bounds that ``assess`` gives, by where they were measured."""
    answers = [answer for code in codes for answer in assess(store, code)] if codes else assess(store)
    return {group.place: group.bound.value_um for answer in answers for group in answer.groups if group.bound}


def _by_diameter(answers: Sequence[Answer]) -> list[Answer]:
    """The answers, with a caveat where the same was compared on several pins and they do not agree."""
    places: dict[tuple[Any, ...], list[Answer]] = {}
    for answer in answers:
        places.setdefault(_but_for_the_pin(answer), []).append(answer)
    doubtful = {
        place
        for place, told in places.items()
        if len(told) > 1 and (len({a.better for a in told}) > 1 or not all(a.settled for a in told))
    }
    return [
        dataclasses.replace(answer, caveats=(*answer.caveats, Caveat.DIAMETER_MATTERS))
        if _but_for_the_pin(answer) in doubtful
        else answer
        for answer in answers
    ]


def _but_for_the_pin(answer: Answer) -> tuple[Any, ...]:
    place = (answer.item, answer.setup, answer.position, answer.clocking)
    return (*place, answer.distance_mm, answer.characteristic)


def _marked(answers: Sequence[Answer]) -> list[Answer]:
    """The answers in the order of p, each of a list marked for what its p is worth among so many."""
    tested = sorted((a for a in answers if a.p_value is not None), key=lambda a: a.p_value or 0.0)
    if len(tested) > 1:
        marks = many_tests([a.p_value or 0.0 for a in tested]).marks
        tested = [
            dataclasses.replace(a, mark=_MARKS.get(Mark(mark))) for a, mark in zip(tested, marks.tolist(), strict=True)
        ]
    return tested + [a for a in answers if a.p_value is None]
