"""Whether an occasion has answered its question."""

from typing import Final

from qclog.errors import BusyError
from qclog.logbook.engine import Store
from qclog.occasion.plan import Plan

FEWEST: Final = 3
"""Clampings of each position before an occasion may stop by itself."""


def settled(store: Store, plan: Plan, done: int) -> bool:
    """Asked after every round in which each position had its turn; ``done`` clampings so far. While the logbook cannot
    be reached nothing is settled."""
    each = done / len(plan.positions)
    if not plan.until_settled or each < FEWEST or each != int(each):
        return False
    try:
        return _compared(store, plan) if len(plan.positions) > 1 else _judged(store, plan)
    except BusyError:
        return False


def _compared(store: Store, plan: Plan) -> bool:
    from qclog.questions.compare import compare

    answers = compare(store, [plan.item], setup=plan.setup)
    here = [answer for answer in answers if _is_here(plan, answer.distance_mm)]
    return bool(here) and all(answer.settled for answer in here)


def _judged(store: Store, plan: Plan) -> bool:
    from qclog.questions.assess import assess
    from qclog.questions.judging.values import CANNOT_TELL, NO_LIMIT

    answers = assess(store, plan.item, setup=plan.setup, position=plan.positions[0] or None)
    here = [group for answer in answers for group in answer.groups if _is_here(plan, group.distance_mm)]
    limited = [group for group in here if group.next_clampings != NO_LIMIT or group.this_sitting != NO_LIMIT]
    return bool(limited) and all(
        group.next_clampings not in (CANNOT_TELL, NO_LIMIT) or group.this_sitting not in (CANNOT_TELL, NO_LIMIT)
        for group in limited
    )


def _is_here(plan: Plan, distance_mm: float) -> bool:
    return round(distance_mm * 10) in {round(distance / 1e8) for distance in plan.distances_pm}
