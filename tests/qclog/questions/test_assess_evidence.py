"""What stands behind a verdict: which clampings count, the indicator, and the repeat of other items.

Swings are constructed cases: small ones that plainly hold, large ones that plainly do not.
"""

import math
from typing import Any

import pytest

from qclog.logbook import items, setups
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess, document
from qclog.records import Card, Reading, Turn, Work

UM = 1_000_000
MM = 1_000_000_000
GOOD = (2.0, 2.3, 1.8)
BAD = (20.0, 21.0, 19.5)
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 9))


def test_only_the_item_as_it_is_now_is_judged(shop: Any) -> None:
    shop.log(BAD)
    shop.do(lambda e, r: items.modify(e, r, r.need("C-046", "item"), Work("ground", "2026-03-20")))
    assert shop.answer().groups == ()
    shop.log(GOOD, days=[f"2026-03-2{day}" for day in range(1, 5)])
    assert (shop.group().clampings, shop.group().next_clampings) == (12, "holds")


def test_an_old_revision_of_the_setup_tells_nothing_of_the_next_clampings(shop: Any) -> None:
    shop.log(GOOD)
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crash", since="2026-03-20"))
    group = shop.group()
    assert (group.setup_revision, group.as_read) == (1, "holds")
    assert (group.this_sitting, group.next_clampings, group.more_clampings) == ("cannot tell", "cannot tell", None)
    assert "setup_changed" in group.caveats
    shop.log(GOOD, days=[f"2026-03-2{day}" for day in range(1, 5)])
    found = {g.setup_revision: ("setup_changed" in g.caveats, g.next_clampings) for g in shop.answer().groups}
    assert found == {1: (True, "cannot tell"), 2: (False, "holds")}


def test_recalled_readings_are_kept_out_of_every_verdict(shop: Any) -> None:
    shop.log((90.0,), days=("2019-05",), recalled=True)
    assert shop.answer().groups == ()
    shop.log(GOOD)
    group = shop.group()
    assert (group.clampings, group.tir_um.max, group.next_clampings) == (12, 2.3, "holds")
    assert "recalled_left_out" in group.caveats


def test_readings_of_a_steep_lever_are_kept_out_of_every_verdict(shop: Any) -> None:
    shop.log((90.0,), lever_mdeg=45_000)
    shop.log(GOOD)
    group = shop.group()
    assert (group.clampings, group.next_clampings) == (12, "holds")
    assert "steep_lever_left_out" in group.caveats


def test_turns_of_a_clamping_are_averaged_first_and_count_once(shop: Any) -> None:
    shop.log_turns(shop.swing(2), shop.swing(4), shop.swing(6))
    shop.log_turns(shop.swing(8))
    group = shop.group()
    assert (group.clampings, group.tir_um.mean, group.tir_um.max) == (2, 6.0, 8.0)


def test_the_lever_angle_is_taken_out_of_the_swing(shop: Any) -> None:
    shop.log((10.0,), lever_mdeg=20_000)
    assert shop.group().tir_um.mean == pytest.approx(10 * math.cos(math.radians(20)))


def test_the_finest_place_typed_is_the_resolution(shop: Any) -> None:
    shop.log_turns(Turn("tir", (Reading(2 * UM, "2", UM),), 16 * MM))
    assert shop.group().resolution_um == 1.0
    shop.log_turns(shop.swing(2.1))
    assert shop.group().resolution_um == 0.1


# --- the indicator ---


def test_a_calibrated_indicator_counts_with_its_own_figure(shop: Any) -> None:
    shop.log(GOOD)
    group = shop.group()
    assert group.uncertainty_um == pytest.approx(2 * 1.2 / math.sqrt(3), rel=0.02)
    assert not {"instrument_unknown", "instrument_uncalibrated", "calibration_overdue"} & set(group.caveats)


def test_an_unknown_indicator_counts_with_a_cautious_default(shop: Any) -> None:
    shop.log_turns(shop.swing(2))
    calibrated = shop.group().uncertainty_um
    shop.log(GOOD, item="C-047", instrument="", lever_mdeg=None)
    group = shop.group("C-047")
    assert "instrument_unknown" in group.caveats
    assert group.uncertainty_um is not None
    assert calibrated is not None
    mean = sum(GOOD) / 3
    assert group.uncertainty_um == pytest.approx(2 * math.sqrt(0.5**2 / 3 + (0.035 * mean) ** 2))


def test_an_indicator_never_calibrated_counts_by_its_division(shop: Any) -> None:
    shop.log((10.0, 20.0, 10.0), instrument="D-2", lever_mdeg=None)
    group = shop.group()
    assert "instrument_uncalibrated" in group.caveats
    assert "instrument_unknown" not in group.caveats
    assert group.uncertainty_um == pytest.approx(2 * math.sqrt(8**2 / 3 + (0.035 * 40 / 3) ** 2))
    assert "instrument_not_suited" in group.caveats


def test_a_calibration_that_is_overdue_is_said(shop: Any) -> None:
    shop.log(GOOD, days=("2027-01-05",))
    assert "calibration_overdue" not in shop.group().caveats
    shop.log(GOOD, days=("2027-01-06",))
    assert "calibration_overdue" in shop.group().caveats


def test_the_worst_indicator_of_a_group_counts(shop: Any) -> None:
    shop.log(GOOD)
    better = shop.group().uncertainty_um
    shop.log(GOOD, days=DAYS[5:6], instrument="D-2", lever_mdeg=None)
    worse = shop.group().uncertainty_um
    assert better is not None
    assert worse is not None
    assert worse > 3 * better


def test_the_roundness_of_the_pin_adds_to_the_uncertainty(shop: Any) -> None:
    """0.3 um of roundness, rectangular, added to the indicator's in squares."""
    shop.log(GOOD)
    shop.log(GOOD, item="C-047", pin="P-65", diameter_pm=None)
    without, with_pin = shop.group().uncertainty_um, shop.group("C-047").uncertainty_um
    assert without is not None
    assert with_pin is not None
    assert with_pin**2 - without**2 == pytest.approx((2 * 0.3 / math.sqrt(3)) ** 2, rel=0.05)


# --- the shop's repeat ---


def other_collets(shop: Any, count: int, kind: str = "collet", bore_um: int = 6_500) -> None:
    """Collets measured on three days each: two degrees of freedom between days a collet."""
    for i in range(count):

        def add(entry: Entry, register: Register, i: int = i) -> None:
            items.add_item(entry, register, f"T-{i}", Card(kind=kind, bore_pm=bore_um * UM))

        shop.do(add)
        for day, shift in zip(DAYS[:3], (0.0, 0.3, -0.2), strict=True):
            shop.log([3 + i * 0.1 + shift, 3.4 + shift], item=f"T-{i}", days=(day,))


def test_the_shops_repeat_speaks_for_a_new_item(shop: Any) -> None:
    other_collets(shop, 4)
    shop.log(GOOD, days=DAYS[:1])
    group = shop.group()
    assert group.bound is not None
    assert group.bound.method == "shop's repeat"
    assert "shop_repeat" in group.caveats
    assert "one_sitting" not in group.caveats
    assert group.next_clampings == "holds"


def test_eight_degrees_of_freedom_are_needed(shop: Any) -> None:
    other_collets(shop, 3)  # six
    shop.log(GOOD, days=DAYS[:1])
    group = shop.group()
    assert group.next_clampings == "cannot tell"
    assert "one_sitting" in group.caveats


@pytest.mark.parametrize(
    ("kind", "bore_um", "speaks"),
    [("collet", 6_500, True), ("collet", 9_900, True), ("collet", 10_100, False), ("sleeve", 6_500, False)],
)
def test_only_items_of_the_same_kind_and_size_class_lend_their_repeat(
    shop: Any, kind: str, bore_um: int, speaks: bool
) -> None:
    other_collets(shop, 5, kind, bore_um)
    shop.log(GOOD, days=DAYS[:1])
    assert ("shop_repeat" in shop.group().caveats) is speaks


@pytest.mark.parametrize("elsewhere", [{"position": "B"}, {"distance_mm": 40}, {"setup": "TAIL", "position": ""}])
def test_only_the_same_place_lends_its_repeat(shop: Any, elsewhere: dict[str, Any]) -> None:
    other_collets(shop, 5)
    shop.log(GOOD, days=DAYS[:1], **elsewhere)
    assert "shop_repeat" not in shop.group().caveats


def test_another_revision_of_the_setup_lends_nothing(shop: Any) -> None:
    other_collets(shop, 5)
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crash", since="2026-03-05"))
    shop.log(GOOD, days=DAYS[6:7])
    assert "shop_repeat" not in shop.group().caveats
    (asked_for_all,) = [answer for answer in assess(shop.store) if answer.item == "C-046"]
    assert "shop_repeat" not in asked_for_all.groups[0].caveats


def test_a_shops_repeat_that_does_not_fit_is_dropped(shop: Any) -> None:
    """The new item's own scatter within its sitting is far above that of the others."""
    other_collets(shop, 5)
    shop.log((2.0, 7.0, 1.0, 6.0), days=DAYS[:1])
    assert "shop_repeat" not in shop.group().caveats


def test_an_item_of_unknown_size_borrows_nothing(shop: Any) -> None:
    other_collets(shop, 5)
    shop.do(lambda e, r: items.add_item(e, r, "X-1", Card(kind="collet")))
    shop.log(GOOD, item="X-1", days=DAYS[:1])
    assert "shop_repeat" not in shop.group("X-1").caveats


def test_asking_for_one_item_gives_what_asking_for_all_gives(shop: Any) -> None:
    other_collets(shop, 5)
    shop.log(GOOD, days=DAYS[:1])
    shop.log(BAD, item="C-047", position="B")
    everything = {answer.item: answer for answer in assess(shop.store)}
    assert set(everything) == {"C-046", "C-047", *(f"T-{i}" for i in range(5))}
    for item, answer in everything.items():
        assert to_twelve_digits(document(assess(shop.store, item))) == to_twelve_digits(document([answer]))


def to_twelve_digits(value: Any) -> Any:
    """Sums over the other items are taken in another order, which moves the last digit of a double."""
    if isinstance(value, dict):
        return {key: to_twelve_digits(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [to_twelve_digits(one) for one in value]
    return float(f"{value:.12g}") if isinstance(value, float) else value
