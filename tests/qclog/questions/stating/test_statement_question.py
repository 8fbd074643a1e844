"""What a statement says of a place, and when it may not be issued."""

import dataclasses
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from qclog.errors import NotFoundError, UsageError
from qclog.logbook import gauges, items, recalls, setups, striking
from qclog.logbook.engine import Store, open_store
from qclog.logbook.statements import ToIssue, add_statement
from qclog.questions.codes import NotForIssue
from qclog.questions.stating.gathering import Prepared, Wanted, prepare
from qclog.questions.stating.signing import sign, signed
from qclog.questions.stating.statement import SwingStatement, digest, document
from qclog.records import Clamping, Limit, Reading, Turn

SIX_DAYS = tuple(f"2026-03-0{day}" for day in range(1, 7))
STEADY = (4.2, 4.7)
Why = NotForIssue


def stated(shop: Any, **wanted: Any) -> Prepared:
    with shop.store.reading() as connection:
        return prepare(connection, Wanted("C-046", **wanted))


def test_what_stands_behind_a_verdict_may_be_issued(shop: Any) -> None:
    ids = shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    found = stated(shop)
    assert found.against == ()
    said = found.statement
    assert isinstance(said, SwingStatement)
    assert said.result == shop.group()
    assert [one.number for one in said.clampings] == ids
    assert [one.swing_um for one in said.clampings] == [4.2, 4.7] * 6
    assert said.limit is not None
    assert (said.limit.upper_um, said.limit.of, said.limit.set_by) == (8.0, "item", "tester")
    (pin,), (indicator,) = said.pins, said.indicators
    assert (pin.code, pin.diameter_mm, pin.clampings) == ("P-65", 6.479, 12)
    assert indicator.calibration is not None
    assert indicator.calibration.error_limit_um == 1.2
    assert digest(found.readings.encode()) == said.readings_sha256
    assert len(found.readings.splitlines()) == 13


def test_does_not_hold_may_be_issued_too(shop: Any) -> None:
    shop.log([14.2, 14.7], days=SIX_DAYS, pin="P-65")
    found = stated(shop)
    assert found.statement.result.next_clampings == "does not hold"
    assert found.against == ()


def log_plainly(shop: Any, **changes: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, **{"pin": "P-65"} | changes)


def no_limit(shop: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, pin="P-65", distance_mm=25)


def cracked(shop: Any) -> None:
    log_plainly(shop)
    shop.do(
        lambda entry, register: items.inspect_item(
            entry, register, register.need("C-046", "item"), finding="crack", seen_on="2026-03-08", note=""
        )
    )


def scrap(shop: Any) -> None:
    log_plainly(shop)
    shop.do(
        lambda entry, register: items.set_state(
            entry,
            register,
            register.need("C-046", "item"),
            state="scrap",
            limit_pm=None,
            since="2026-03-08",
            reason="x",
        )
    )


def refitted(shop: Any) -> None:
    log_plainly(shop)
    shop.do(
        lambda entry, register: setups.refit(
            entry, register, register.need("LATHE", "setup"), since="2026-03-08", reason="crash"
        )
    )


def found_wrong(shop: Any) -> None:
    log_plainly(shop)
    shop.do(
        lambda entry, register: recalls.add_recall(
            entry, register.need("D-1", "instrument"), found_at="2026-03-08", found="17 on 20"
        )
    )


def check_failed(shop: Any) -> None:
    log_plainly(shop)

    def check(entry: Any, register: Any) -> None:
        gauge = register.need("D-1", "instrument")
        gauges.add_check(
            entry, gauge, done_at="2026-12-01", read_pm=17_000_000, true_pm=20_000_000, within_pm=1_000_000
        )

    shop.do(check)


def overdue(shop: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    shop.log(STEADY, days=["2027-01-06"], pin="P-65")


def leans_on_others(shop: Any) -> None:
    for number in range(20):
        code = f"C-{100 + number}"

        def add(entry: Any, register: Any, code: str = code) -> None:
            from qclog.records import Card

            items.add_item(entry, register, code, Card(kind="collet", bore_pm=6_500_000_000))

        shop.do(add)
        shop.log([4.0 + number / 20, 4.4], item=code, days=SIX_DAYS[:2], pin="P-65")
    shop.log(STEADY, days=SIX_DAYS[:2], pin="P-65")


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda shop: shop.log(STEADY * 5, days=SIX_DAYS[:1], pin="P-65"), Why.ONE_SITTING),
        (lambda shop: shop.log([6.8, 7.9], days=SIX_DAYS[:3], pin="P-65"), Why.CANNOT_TELL),
        (lambda shop: log_plainly(shop, instrument=""), Why.NO_INDICATOR),
        (lambda shop: log_plainly(shop, instrument="D-2"), Why.NOT_CALIBRATED),
        (lambda shop: log_plainly(shop, pin=""), Why.PIN_UNKNOWN),
        (no_limit, Why.NO_LIMIT),
        (overdue, Why.OVERDUE),
        (cracked, Why.LOCKED_OUT),
        (scrap, Why.SCRAP),
        (refitted, Why.SETUP_CHANGED),
        (found_wrong, Why.IN_DOUBT),
        (check_failed, Why.CHECK_FAILED),
        (leans_on_others, Why.OTHERS_REPEAT),
    ],
    ids=lambda value: value if isinstance(value, NotForIssue) else "",
)
def test_it_may_not_be_issued(shop: Any, make: Callable[[Any], object], why: NotForIssue) -> None:
    make(shop)
    assert why in stated(shop).against


def test_a_limit_below_what_the_indicator_can_prove_may_not_be_stated(shop: Any) -> None:
    shop.limit("C-046", Limit(2_000_000, distance_pm=16_000_000_000))
    shop.log([14.2, 14.7], days=SIX_DAYS, pin="P-65")
    assert stated(shop).against == (Why.NOT_SUITED,)


def test_what_is_struck_out_is_said_and_goes_into_no_reading(shop: Any) -> None:
    ids = shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    shop.do(lambda entry, register: striking.strike(entry, register.need("C-046", "item"), ids[0], reason="misread"))
    found = stated(shop)
    assert [(one.clamping, one.part, one.reason) for one in found.statement.struck] == [(ids[0], "clamping", "misread")]
    assert ids[0] not in [one.number for one in found.statement.clampings]
    assert len(found.readings.splitlines()) == 12


def test_what_no_figure_rests_on_is_counted_and_goes_into_no_reading(shop: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    steep = shop.log([9.0, 9.5], days=["2026-03-08"], pin="P-65", lever_mdeg=35_000)
    recalled = shop.log([9.0], days=["2026-03-09"], pin="P-65", recalled=True)
    found = stated(shop)
    assert dataclasses.astuple(found.statement.left_out) == (1, 2, 0)
    assert len(found.readings.splitlines()) == 13
    assert not {*steep, *recalled} & {one.number for one in found.statement.clampings}


def test_several_places_have_to_be_told_apart(shop: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    shop.log(STEADY, days=SIX_DAYS, pin="P-65", position="B")
    ids = shop.log(STEADY, days=SIX_DAYS, pin="P-65", distance_mm=40)
    shop.do(lambda entry, register: striking.strike(entry, register.need("C-046", "item"), ids[0], reason="misread"))
    with pytest.raises(UsageError, match=r"--position 'A' or 'B', --distance 16 or 40"):
        stated(shop)
    assert stated(shop, position="B").statement.place.position == "B"
    near, far = (stated(shop, position="A", distance_mm=distance).statement for distance in (16.0, 40.0))
    assert (near.place.distance_mm, far.place.distance_mm) == (16.0, 40.0)
    assert (near.struck, [one.clamping for one in far.struck]) == ((), ids[:1])
    with pytest.raises(NotFoundError, match="not measured there"):
        stated(shop, position="B", distance_mm=40.0)


def test_pins_and_indicators_are_told_with_what_was_read_on_them(shop: Any) -> None:
    shop.do(
        lambda entry, register: gauges.add_pin(
            entry, register, "P-66", diameter_pm=6_481_000_000, roundness_pm=None, kind="pin", grade=""
        )
    )
    shop.log(STEADY, days=SIX_DAYS[:3], pin="P-65")
    shop.log(STEADY, days=SIX_DAYS[3:], pin="P-66", lever_mdeg=15_000)
    said = stated(shop).statement
    assert isinstance(said, SwingStatement)
    assert [(pin.code, pin.clampings) for pin in said.pins] == [("P-65", 6), ("P-66", 6)]
    assert {one.lever_deg for one in said.clampings} == {0.0, 15.0}


def test_issued_again_it_is_the_same_and_after_a_change_the_next_revision(shop: Any) -> None:
    shop.log(STEADY, days=SIX_DAYS, pin="P-65")
    assert issued(shop) == (1, 1, 0)
    assert issued(shop) == (1, 1, 0)
    assert issued(shop, receiver="Another") == (2, 1, 0)
    shop.log(STEADY, days=["2026-03-09"], pin="P-65")
    assert issued(shop) == (1, 2, 1)
    assert issued(shop, issuer="W, moved") == (1, 3, 2)


def issued(shop: Any, receiver: str = "Gauge room", issuer: str = "W") -> tuple[int, int, int]:
    found = stated(shop)
    seen = []

    def issue(entry: Any, _: Any) -> None:
        with_, before = sign(
            entry.connection, found, receiver=receiver, issuer=issuer, signed_by=entry.who, issued_at="2026-04-01"
        )
        said = signed(found, with_)
        seen.append((with_.number, with_.revision, with_.replaces))
        if before is None:
            made = ToIssue(
                *(with_.number, with_.revision, with_.issued_at, receiver, issuer, "holds", 8_000_000),
                digest(document(said)),
                "",
            )
            add_statement(entry, found.about, found.modification_id, made, [one.number for one in said.clampings])

    shop.do(issue)
    return seen[0]


def test_both_databases_say_the_same(
    book: Store, tmp_path: Path, workshop: Callable[[Store], None], log: Callable[..., list[int]]
) -> None:
    other = open_store(str(tmp_path / "other.sqlite"), create=True)
    workshop(other)
    said = []
    for store in (book, other):
        for day in SIX_DAYS:
            for value in (4_200_000, 4_700_000):
                turn = Turn("tir", (Reading(value, f"{value / 1e6:g}", 100_000),), 16_000_000_000)
                base = Clamping(
                    "C-046", "LATHE", day, (turn,), position="A", instrument="D-1", lever_mdeg=0, pin="P-65"
                )
                log(store, base)
        with store.reading() as connection:
            found = prepare(connection, Wanted("C-046"))
        assert isinstance(found.statement, SwingStatement)
        assert found.statement.limit is not None
        plain = dataclasses.replace(
            found.statement, limit=dataclasses.replace(found.statement.limit, set_at_utc="2026-01-01")
        )
        said.append((document(plain), found.readings))
    other.close()
    assert said[0] == said[1]
    assert json.loads(said[0][0])["result"]["next_clampings"] == "holds"
