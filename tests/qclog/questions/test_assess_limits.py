"""Which limit governs a verdict: its distance, setup, position and modification; the stricter one.

Swings are constructed cases: small ones that plainly hold, large ones that plainly do not.
"""

from typing import Any

import pytest

from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.records import EVERY_DISTANCE, Limit, Work

UM = 1_000_000
MM = 1_000_000_000
GOOD = (2.0, 2.3, 1.8)
BAD = (20.0, 21.0, 19.5)
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 9))


@pytest.mark.parametrize(
    ("distance_mm", "limit"), [(16.0, 8.0), (16.04, 8.0), (16.1, None), (15.9, None), (40.0, None)]
)
def test_a_limit_applies_at_its_own_distance_only(shop: Any, distance_mm: float, limit: float | None) -> None:
    shop.log(GOOD, distance_mm=distance_mm)
    group = shop.group()
    assert group.limit_um == limit
    if limit is None:
        assert {group.as_read, group.this_sitting, group.next_clampings} == {"no limit"}
        assert "limit_elsewhere" in group.caveats
        assert group.limit_from is None
        assert group.more_clampings is None
    else:
        assert (group.limit_from, group.next_clampings) == ("item", "holds")


def test_a_limit_without_distance_applies_at_all(shop: Any) -> None:
    shop.limit("C-047", Limit(9 * UM, distance_pm=EVERY_DISTANCE))
    for distance in (0.0, 16.0, 123.4):
        shop.log(GOOD, item="C-047", distance_mm=distance)
    assert {group.limit_um for group in shop.answer("C-047").groups} == {9.0}
    assert len(shop.answer("C-047").groups) == 3


def test_of_two_limits_at_a_distance_the_stricter_governs(shop: Any) -> None:
    shop.limit("C-046", Limit(5 * UM))
    shop.log(GOOD)
    shop.log(GOOD, distance_mm=40)
    assert {g.distance_mm: g.limit_um for g in shop.answer().groups} == {16.0: 5.0, 40.0: 5.0}


def test_a_limit_may_be_meant_for_one_setup_or_position_only(shop: Any) -> None:
    shop.limit("C-047", Limit(4 * UM, setup="LATHE", position="a"))
    shop.limit("C-047", Limit(7 * UM, setup="TAIL"))
    shop.log(GOOD, item="C-047")
    shop.log(GOOD, item="C-047", position="B")
    shop.log(GOOD, item="C-047", setup="TAIL", position="")
    found = {(g.setup, g.position): g.limit_um for g in shop.answer("C-047").groups}
    assert found == {("LATHE", "A"): 4.0, ("LATHE", "B"): None, ("TAIL", ""): 7.0}


def test_limits_of_the_newest_modification_replace_those_before(shop: Any) -> None:
    def bore(entry: Entry, register: Register) -> None:
        work = Work("bored", "2026-02-01", limits=(Limit(3 * UM, distance_pm=40 * MM),))
        items.modify(entry, register, register.need("C-046", "item"), work)

    shop.do(bore)
    shop.log(GOOD)
    shop.log(GOOD, distance_mm=40)
    assert {g.distance_mm: g.limit_um for g in shop.answer().groups} == {16.0: None, 40.0: 3.0}
    assert (shop.answer().modification, shop.answer().what) == (1, "bored")


def test_a_modification_without_limits_keeps_those_before(shop: Any) -> None:
    shop.do(lambda e, r: items.modify(e, r, r.need("C-046", "item"), Work("annealed", "2026-02-01")))
    shop.log(GOOD)
    assert (shop.group().limit_um, shop.group().limit_from) == (8.0, "item")


def test_a_limit_of_a_modification_to_come_does_not_reach_back(shop: Any) -> None:
    shop.limit("C-047", Limit(9 * UM), modification=1)
    shop.log(GOOD, item="C-047")
    assert shop.group("C-047").limit_um is None


@pytest.mark.parametrize(("setup_limit", "governs"), [(5, (5.0, "setup")), (20, (8.0, "item")), (8, (8.0, "item"))])
def test_the_stricter_of_item_and_setup_governs(shop: Any, setup_limit: int, governs: tuple[float, str]) -> None:
    shop.limit("LATHE", Limit(setup_limit * UM))
    shop.log(GOOD)
    assert (shop.group().limit_um, shop.group().limit_from) == governs


def test_a_setup_with_a_limit_has_an_answer_of_its_own_and_is_flagged(shop: Any) -> None:
    shop.limit("LATHE", Limit(5 * UM))
    shop.log(GOOD)
    shop.log(BAD, item="C-047")
    for answers in (assess(shop.store), assess(shop.store, "lathe")):
        (answer,) = [one for one in answers if one.setup == "LATHE"]
        assert answer.item == ""
        assert [group.item for group in answer.groups] == ["C-046", "C-047"]
        (reason,) = answer.reasons
        assert (reason.code, reason.item, reason.setup) == ("next_clampings_do_not_hold", "C-047", "LATHE")
    assert [one.item for one in assess(shop.store, "C-047")] == ["C-047"]


def test_a_setup_without_a_limit_has_no_answer(shop: Any) -> None:
    shop.log(GOOD)
    assert [answer.setup for answer in assess(shop.store)] == [""]
    assert assess(shop.store, "LATHE") == []
