"""Many places looked at once: which signs of a change are likely real, and how many chance alone would show."""

from collections.abc import Sequence

from qclog.questions.changing.changes import Tested
from qclog.questions.codes import Worth
from qclog.statistics.changing import many_tests


def marks(tests: Sequence[Tested]) -> list[Worth | None]:
    """The mark of each test among all of them, None where nothing was found."""
    if not tests:
        return []
    worth = many_tests.many_tests([test.p_value for test in tests]).marks
    return [
        None if not test.found else Worth.LIKELY_REAL if mark == many_tests.Mark.LIKELY_REAL else Worth.SINGLE_HINT
        for test, mark in zip(tests, worth, strict=True)
    ]


def by_chance(tests: Sequence[Tested]) -> many_tests.ByChance:
    """How many signs were found, and how many would be with nothing wrong."""
    return many_tests.signs(sum(test.by_chance for test in tests), sum(test.found for test in tests))
