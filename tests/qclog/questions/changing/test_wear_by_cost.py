"""What the costs advise, and what outranks them."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotAnswerableError, UsageError
from qclog.logbook import items
from qclog.questions.changing.replacing import _with_drift, costs
from qclog.questions.codes import ByCost
from qclog.questions.wear import WATCH, wear
from qclog.records import Clamping, Limit, Reading, Turn
from qclog.statistics.changing.crossing import exceedance_at
from qclog.statistics.changing.retirement import replace_at
from qclog.statistics.changing.trend import least_squares
from qclog.statistics.length_interval import vector_exceedance
from qclog.statistics.vectors import group_vectors
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


@pytest.mark.parametrize("days", [1, 2])
def test_one_or_two_sittings_tell_nothing_of_the_costs(shop: Any, days: int) -> None:
    shop.log((4.0, 4.4, 4.2), days=DAYS[:days])
    (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    assert answer.cost is not None
    assert (answer.cost.p_next, answer.cost.advice) == (None, ByCost.CANNOT_TELL)


def test_the_chance_of_the_known_case_is_its_known_one(shop: Any) -> None:
    """4.2 5.6 4.9 6.3 5.1 µm on five days, limit 8 µm: constructed case, t distribution on T^(2/3) with 4 df."""
    for day, swing in zip(DAYS, (4.2, 5.6, 4.9, 6.3, 5.1), strict=False):
        shop.log((swing,), days=(day,))
    for loss, advice in ((24.0, ByCost.REPLACE), (12.0, ByCost.KEEP)):
        (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, loss))
        assert answer.decision == WATCH
        assert answer.cost is not None
        assert answer.cost.p_next == pytest.approx(0.0197, abs=1e-4)
        assert answer.cost.advice == advice


def test_the_chance_of_clampings_with_a_direction_is_that_of_their_vectors_in_whatever_order_logged(
    shop: Any, log: Callable[..., list[int]]
) -> None:
    read = dict(zip(DAYS, ((5.0, 10.0), (6.2, 18.0), (5.6, 4.0), (4.4, 22.0), (5.9, 1.0)), strict=False))
    for day in reversed(read):
        swing, angle = read[day]
        reading = Reading(round(swing * 1e6), f"{swing:.1f}", 100_000, angle_mdeg=round(angle * 1_000))
        turns = (Turn("tir", (reading,), 16_000_000_000),)
        log(shop.store, Clamping("C-046", "LATHE", day, turns, position="A", instrument="D-1", lever_mdeg=0))
    swings, angles = np.array(list(read.values())).T
    vectors = group_vectors(
        swings / 2 * np.exp(1j * np.radians(angles)),
        swings,
        np.zeros(5, int),
        np.arange(5),
        groups=1,
        resolution_um=0.1,
    )
    (answer,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    assert answer.cost is not None
    assert (answer.cost.p_next or 0.0) > 0.001
    assert answer.cost.p_next == pytest.approx(float(vector_exceedance(vectors, 8.0)[0]), rel=1e-9)


def _work(shop: Any, swings: tuple[float, ...]) -> None:
    """One clamping a month, and 200 clampings in work before each but the first."""
    for month, swing in enumerate(swings, start=1):
        if month > 1:
            shop.do(
                lambda entry, register, month=month: items.record_use(
                    entry,
                    register.need("C-046", "item"),
                    used_on=f"2026-{month:02d}-09",
                    clampings=200,
                    hours=None,
                    note="",
                )
            )
        shop.log((swing,), days=(f"2026-{month:02d}-10",))


def test_with_a_drift_over_work_the_marginal_rule_decides(shop: Any) -> None:
    """Rises steadily by 2 µm in 1,000 clampings: where replacing pays the line stands near the limit, not before."""
    _work(shop, tuple(4.0 + 0.4 * i + 0.05 * (i % 2) for i in range(8)))
    (cheap,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 24.0))
    (dear,) = wear(shop.store, ["C-046"], costs(180.0, 600.0, 0.01))
    assert cheap.cost is not None
    assert cheap.cost.replace_at is not None
    assert cheap.worked == 1_400
    assert cheap.cost.advice == ByCost.KEEP
    assert 1_500 <= cheap.cost.replace_at <= 2_100
    assert "replacing pays from clamping" in by_cost(cheap)
    assert dear.cost is not None
    assert (dear.cost.replace_at, dear.cost.advice) == (None, ByCost.KEEP)


def test_with_a_drift_that_has_come_near_the_limit_it_pays_to_replace_now(shop: Any) -> None:
    shop.limit("C-046", Limit(6_900_000, distance_pm=16_000_000_000, text="6.9um@16mm"))
    _work(shop, tuple(4.0 + 0.4 * i + 0.3 * (i % 2) for i in range(8)))
    (answer,) = wear(shop.store, ["C-046"], costs(20.0, 600.0, 60.0))
    assert answer.cost is not None
    assert answer.cost.advice == ByCost.REPLACE
    assert (answer.cost.replace_at or 0) <= (answer.worked or 0) + 1
    assert by_cost(answer).startswith("By cost: as it rises, replacing has paid since clamping ")


def test_a_long_life_is_weighed_in_lots_with_the_same_result() -> None:
    line = least_squares([0, 100_000, 200_000, 300_000, 400_000], [4.0, 4.9, 6.1, 6.9, 8.0], resolution_um=0.01)
    asked = costs(180.0, 600_000.0, 0.024)
    assert asked is not None
    found = _with_drift(line, 400_000, 400_000.0, 12.0, asked)
    exact = replace_at(exceedance_at(line, np.arange(1, 800_001), 12.0), price=180.0, cost=0.024)
    assert exact is not None
    assert found.replace_at == pytest.approx(exact, abs=80)


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.0125, "1 in 80"), (0.0225, "1 in 44"), (0.5, "1 in 2"), (0.0001, "fewer than 1 in 1000"), (0.75, "7 in 10")],
)
def test_a_rare_case_is_told_among_how_many(probability: float, text: str) -> None:
    assert one_in(probability) == text
