"""What assess answers: three verdicts kept apart, what is flagged, and the document others read.

Swings are constructed cases: small ones that plainly hold, large ones that plainly do not.
"""

import json
from typing import Any

import pytest

from qclog.errors import NotFoundError
from qclog.logbook import items, striking
from qclog.questions.assess import assess, document, gate
from qclog.records import Limit, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
GOOD = (2.0, 2.3, 1.8)
BAD = (20.0, 21.0, 19.5)
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 9))


def test_small_swings_on_several_days_hold(shop: Any) -> None:
    shop.log(GOOD)
    group = shop.group()
    assert (group.clampings, group.sittings) == (12, 4)
    assert (group.as_read, group.next_clampings) == ("holds", "holds")
    assert group.bound is not None
    assert (group.bound.content, group.bound.confidence, group.bound.method) == (0.95, 0.95, "sittings")
    assert group.next is not None
    assert 2.0 < group.next.median_um < group.next.p95_um < group.bound.value_um < 8
    assert group.tir_um.mean == pytest.approx(sum(GOOD) / 3)
    assert (group.tir_um.min, group.tir_um.max, group.tir_um.last) == pytest.approx((1.8, 2.3, 1.8))
    assert group.tir_um.sd is not None
    assert (group.more_clampings, shop.answer().reasons) == (None, ())


def test_large_swings_on_several_days_do_not_hold_and_are_flagged(shop: Any) -> None:
    shop.log(BAD)
    group = shop.group()
    assert {group.as_read, group.this_sitting, group.next_clampings} == {"does not hold"}
    (reason,) = shop.answer().reasons
    assert (reason.code, reason.item, reason.setup) == ("next_clampings_do_not_hold", "C-046", "LATHE")
    assert (reason.position, reason.distance_mm) == ("A", 16.0)


def test_one_sitting_speaks_for_itself_only(shop: Any) -> None:
    shop.log((2.0, 2.3, 1.8, 2.1, 2.2, 1.9), days=DAYS[:1])
    group = shop.group()
    assert (group.as_read, group.this_sitting, group.next_clampings) == ("holds", "holds", "cannot tell")
    assert "one_sitting" in group.caveats
    assert group.bound is not None
    assert group.bound.method == "one sitting"


def test_this_sitting_is_the_last_one(shop: Any) -> None:
    shop.log(BAD, days=DAYS[:1])
    shop.log((2.0, 2.3, 1.8, 2.1, 2.2, 1.9), days=DAYS[1:2])
    group = shop.group()
    assert (group.as_read, group.this_sitting, group.sittings) == ("does not hold", "holds", 2)
    assert group.tir_um.last == pytest.approx(1.9)


def test_two_readings_are_not_enough_to_tell(shop: Any) -> None:
    shop.log((2.0, 2.1), days=DAYS[:1])
    group = shop.group()
    assert (group.this_sitting, group.next_clampings) == ("cannot tell", "cannot tell")
    assert {"few_clampings", "one_sitting"} <= set(group.caveats)
    assert group.bound is None


def test_one_reading_has_no_scatter(shop: Any) -> None:
    shop.log((2.0,), days=DAYS[:1])
    group = shop.group()
    assert (group.clampings, group.tir_um.sd, group.bound) == (1, None, None)


def test_near_the_limit_it_cannot_be_told_and_more_clampings_are_named_or_said_to_be_no_use(shop: Any) -> None:
    shop.log((5.0, 7.5, 6.0))
    group = shop.group()
    assert group.next_clampings == "cannot tell"
    assert (group.more_clampings is None) == ("more_will_not_tell" in group.caveats)
    assert group.more_clampings is None or group.more_clampings > 0


@pytest.mark.parametrize("limit_um", [1, 8])
def test_of_too_few_clampings_more_are_asked_for_or_said_to_be_no_use_but_never_both(shop: Any, limit_um: int) -> None:
    """D-1 reads to 1.4 µm (k = 2): suited for a limit of 8 µm, not for one of 1 µm."""
    shop.limit("C-046", Limit(limit_um * UM, 16 * MM))
    shop.log((9.0,), days=DAYS[:1])
    asked = {"few_clampings", "more_will_not_tell"}.intersection(shop.group().caveats)
    assert asked == ({"more_will_not_tell"} if limit_um == 1 else {"few_clampings"})


def test_what_is_struck_out_no_longer_counts(shop: Any) -> None:
    shop.log(GOOD)
    (bad,) = shop.log((60.0,), days=DAYS[4:5])
    assert shop.group().as_read == "does not hold"
    shop.do(lambda e, r: striking.strike(e, r.need("C-046", "item"), bad, reason="bumped the stand"))
    assert (shop.group().as_read, shop.group().clampings) == ("holds", 12)


@pytest.mark.parametrize("finding", ["crack", "blue", "bell-mouth", "lost spring", "slip"])
def test_a_finding_is_flagged_whatever_the_runout(shop: Any, finding: str) -> None:
    def inspect(what: str, day: str) -> None:
        shop.do(lambda e, r: items.inspect_item(e, r, r.need("C-046", "item"), finding=what, seen_on=day, note=""))

    inspect(finding, "2026-03-10")
    (unmeasured,) = assess(shop.store)
    assert (unmeasured.item, unmeasured.groups) == ("C-046", ())
    shop.log(GOOD)
    (reason,) = shop.answer().reasons
    assert reason.code == "found_" + finding.replace(" ", "_").replace("-", "_")
    assert (reason.item, reason.distance_mm) == ("C-046", None)
    assert shop.group().next_clampings == "holds"
    inspect("sound", "2026-03-11")
    assert shop.answer().reasons == ()


def test_an_answer_can_be_narrowed_to_a_setup_and_a_position(shop: Any) -> None:
    shop.limit("LATHE", Limit(5 * UM))
    for place in ({}, {"position": "B"}, {"setup": "TAIL", "position": ""}):
        shop.log(GOOD, **place)

    def places(**narrow: Any) -> set[tuple[str, str]]:
        return {(g.setup, g.position) for answer in assess(shop.store, **narrow) for g in answer.groups}

    assert places() == {("LATHE", "A"), ("LATHE", "B"), ("TAIL", "")}
    assert places(setup="lathe") == {("LATHE", "A"), ("LATHE", "B")}
    assert places(code="c-046", setup="lathe", position="b") == {("LATHE", "B")}
    assert places(code="LATHE", position="b") == {("LATHE", "B")}


def test_an_unknown_item_or_setup_is_not_found(shop: Any) -> None:
    with pytest.raises(NotFoundError):
        assess(shop.store, "C-099")
    with pytest.raises(NotFoundError):
        assess(shop.store, "C-046", setup="MILL")
    with pytest.raises(NotFoundError):
        assess(shop.store, "P-65")


def test_other_characteristics_than_swings_are_not_judged(shop: Any) -> None:
    bore = Turn("value", (Reading(3 * UM, "3", UM),), 0, "bore")
    shop.log_turns(bore, Turn("tir", (Reading(2 * UM, "2", UM),), 16 * MM, "face runout"))
    assert [group.characteristic for group in shop.answer().groups] == ["face runout"]


ANSWER_KEYS = ["item", "modification", "reasons", "groups"]
GROUP_KEYS = [
    "setup",
    "setup_revision",
    "position",
    "clocking",
    "distance_mm",
    "diameter_mm",
    "characteristic",
    "clampings",
    "sittings",
    "tir_um",
    "eccentricity",
    "repeat_um",
    "next",
    "bound",
    "uncertainty_um",
    "limit_um",
    "limit_from",
    "as_read",
    "this_sitting",
    "next_clampings",
    "more_clampings",
    "caveats",
]


def test_the_document_has_the_keys_that_are_promised_and_is_plain_json(shop: Any) -> None:
    shop.log(GOOD, pin="P-65", clocking=(("C-046", 120_000),))
    shop.log((20.0,), item="C-047")
    told = json.loads(json.dumps(document(assess(shop.store)), allow_nan=False))
    assert list(told) == ["question", "answers"]
    assert told["question"] == "assess"
    for answer in told["answers"]:
        assert [key for key in answer if key in ANSWER_KEYS] == ANSWER_KEYS
        for group in answer["groups"]:
            assert [key for key in group if key in GROUP_KEYS] == GROUP_KEYS
            assert set(group["tir_um"]) == {"mean", "sd", "min", "max", "last"}
            assert {group["as_read"], group["this_sitting"], group["next_clampings"]} <= {
                "holds",
                "does not hold",
                "cannot tell",
                "no limit",
            }
    (group,) = told["answers"][0]["groups"]
    assert set(group["next"]) == {"median_um", "p95_um"}
    assert set(group["bound"]) == {"value_um", "content", "confidence", "method"}
    assert (group["diameter_mm"], group["clocking"], group["position"]) == (6.5, "C-046=120", "A")


def test_the_gate_tells_a_script_what_to_do(shop: Any) -> None:
    assert gate([]) == 8
    shop.log(GOOD)
    assert gate(assess(shop.store, "C-046")) == 0
    shop.log((2.0,), item="C-047", days=DAYS[:1])
    assert gate(assess(shop.store, "C-047")) == 8
    assert gate(assess(shop.store)) == 8
    shop.log(BAD, position="B")
    assert gate(assess(shop.store)) == 1


def test_two_heaps_of_readings_are_told_from_the_uneven_gaps_of_one(shop: Any) -> None:
    """Twenty swings drawn from one seat, read to a tenth, with a gap of seven times the usual one; two heaps."""
    one = (3.0, 3.1, 3.3, 3.4, 3.6, 3.7, 3.8, 3.9, 4.0, 4.1, 4.2, 4.2, 4.3, 4.4, 4.6, 4.7, 4.8, 5.0, 5.7, 5.9)
    shop.log(one, days=DAYS[:1])
    assert "two_groups" not in shop.group().caveats
    shop.log((3.0, 3.3, 3.6, 3.2, 3.5, 8.1, 8.4, 7.9, 8.2, 8.5), days=DAYS[:1], item="C-047")
    assert "two_groups" in shop.group("C-047").caveats
