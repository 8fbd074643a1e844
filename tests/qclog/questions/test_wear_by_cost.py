"""What the costs advise, and what outranks them."""

from typing import Any

import pytest

from qclog.errors import NotAnswerableError, UsageError
from qclog.logbook import items
from qclog.questions.codes import ByCost
from qclog.questions.replacing import costs
from qclog.questions.wear import wear
from reports.advice import by_cost
from reports.numbers import one_in

DAYS = tuple(f"2026-0{month}-10" for month in range(1, 8))


def test_the_threshold_is_price_over_life_and_loss() -> None:
    """Constructed case: 180 for a new one, 600 clampings, 24 lost a clamping: 0.0125; published rule, from memory."""
    found = costs(180.0, 600.0, 24.0)
    assert found is not None
    assert found.threshold == pytest.approx(0.0125)


def test_without_costs_none_are_judged_and_a_part_of_them_is_refused() -> None:
    assert costs(None, None, None) is None
    with pytest.raises(UsageError, match="belong together"):
        costs(180.0, None, 24.0)
    with pytest.raises(NotAnswerableError):
        costs(180.0, 0.0, 24.0)


@pytest.mark.parametrize(("swings", "advice"), [((4.0, 4.4, 4.2), ByCost.KEEP), ((7.0, 9.0, 8.2), ByCost.REPLACE)])
def test_it_pays_to_replace_what_goes_over_its_limit_often(
    shop: Any, swings: tuple[float, ...], advice: ByCost
) -> None:
    shop.log(swings * 2, days=DAYS[:6])
    (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    assert answer.cost is not None
    assert answer.cost.advice == advice
    assert (answer.cost.p_next or 0.0) > answer.cost.threshold or advice == ByCost.KEEP
    assert by_cost(answer).startswith("By cost")


def test_a_finding_outranks_the_costs(shop: Any) -> None:
    shop.log((4.0, 4.4, 4.2), days=DAYS[:3])
    shop.do(
        lambda entry, register: items.inspect_item(
            entry, register, register.need("C-046", "item"), finding="crack", seen_on="2026-04-01", note=""
        )
    )
    (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    assert answer.cost is not None
    assert answer.cost.advice == ByCost.OUTRANKED


def test_one_sitting_tells_nothing_of_the_costs(shop: Any) -> None:
    shop.log((4.0, 4.4, 4.2), days=DAYS[:1])
    (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    assert answer.cost is not None
    assert (answer.cost.p_next, answer.cost.advice) == (None, ByCost.CANNOT_TELL)


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.0125, "1 in 80"), (0.0225, "1 in 44"), (0.5, "1 in 2"), (0.0001, "fewer than 1 in 1000"), (0.75, "7 in 10")],
)
def test_a_rare_case_is_told_among_how_many(probability: float, text: str) -> None:
    assert one_in(probability) == text
