"""What an answer says of readings with an indicator whose last quick check was out, before anybody recalls it."""

from collections.abc import Callable
from typing import Any

import pytest

from qclog.logbook import gauges, recalls
from qclog.questions.assess import assess
from qclog.questions.chart import chart
from qclog.questions.codes import Caveat
from qclog.questions.codes import Due as Why
from qclog.questions.compare import compare
from qclog.questions.due import due
from qclog.questions.study import study
from qclog.questions.uncertainty import uncertainty
from reports.assessment import assessment
from reports.due import command

UM = 1_000_000
GOOD = (2.0, 2.3, 1.8)
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 5))


def check(shop: Any, done_at: str, read: float) -> None:
    def add(entry: Any, register: Any) -> None:
        gauge = register.need("D-1", "instrument")
        gauges.add_check(entry, gauge, done_at=done_at, read_pm=round(read * UM), true_pm=100 * UM, within_pm=UM)

    shop.do(add)


def unsure(shop: Any) -> bool:
    return Caveat.CHECK_FAILED in shop.group().caveats


def test_what_was_read_since_the_last_good_check_says_that_the_newest_was_out_and_what_to_type(shop: Any) -> None:
    shop.log(GOOD, days=DAYS)
    check(shop, "2026-03-03T12:00", 100.2)
    assert not unsure(shop)
    check(shop, "2026-03-08", 103.0)
    group = shop.group()
    assert unsure(shop)
    assert group.next_clampings == "holds"
    said = " ".join(assessment(assess(shop.store, "C-046")).split())
    assert "The last quick check of what it was read with was out" in said
    assert "Check it again; if it stays out, recall it (qclog due says which one, and what to type)." in said
    listed = [one for one in due(shop.store) if one.why == Why.CHECK_FAILED]
    assert [command(one) for one in listed] == ['qclog recall D-1 --found "103um on 100um"']
    assert Caveat.CHECK_FAILED in uncertainty(shop.store, ["C-046"])[0].places[0].caveats


@pytest.mark.parametrize(
    ("good_at", "so"),
    [("2026-03-03", True), ("2026-03-04", True), ("2026-03-04T07:00", True), ("2026-03-05", False)],
)
def test_what_was_read_before_the_last_good_check_is_not_concerned(shop: Any, good_at: str, so: bool) -> None:
    """A clamping of the day of the check, of which only the day is known, may have been after it."""
    shop.log(GOOD, days=DAYS)
    check(shop, good_at, 100.0)
    check(shop, "2026-03-08", 103.0)
    assert unsure(shop) is so


def test_a_comparison_a_chart_and_a_study_say_it_too(shop: Any) -> None:
    shop.log(GOOD, days=DAYS)
    shop.log(GOOD, days=DAYS, position="B")

    def carried() -> list[bool]:
        told = (compare(shop.store, ["C-046"]), chart(shop.store, ["C-046"]), study(shop.store, ["C-046"]))
        assert all(told)
        return [Caveat.CHECK_FAILED in answers[0].caveats for answers in told]

    check(shop, "2026-03-03T12:00", 100.2)
    assert carried() == [False, False, False]
    check(shop, "2026-03-08", 103.0)
    assert carried() == [True, True, True]


def recalled(entry: Any, register: Any) -> None:
    d_1 = register.need("D-1", "instrument")
    recalls.add_recall(entry, d_1, found_at="2026-03-08", found="97 on 100", since="2026-03-04")


def calibrated(entry: Any, register: Any) -> None:
    gauges.add_calibration(entry, register, register.need("D-1", "instrument"), done_on="2026-03-09", error_limit_pm=UM)


@pytest.mark.parametrize(
    "settle",
    [lambda shop: check(shop, "2026-03-08T08:10", 100.0), lambda shop: shop.do(recalled), lambda s: s.do(calibrated)],
    ids=["a good check", "a recall", "a calibration"],
)
def test_what_was_done_about_it_since_settles_it(shop: Any, settle: Callable[[Any], object]) -> None:
    shop.log(GOOD, days=DAYS)
    check(shop, "2026-03-08T08:00", 97.0)
    assert unsure(shop)
    settle(shop)
    assert not unsure(shop)
