"""What is due in the small workshop: each reason comes, goes when it was done, and stands in its place."""

import datetime
import json
from typing import Any

import pytest

from qclog import times
from qclog.logbook import custody, items, recalls, setups
from qclog.logbook.entries import Entry
from qclog.logbook.gauges import add_calibration, add_pin
from qclog.logbook.lookup import Register
from qclog.questions.codes import Due as Why
from qclog.questions.due import Due, document, due
from qclog.questions.wear import wear
from qclog.records import Card, Clamping, Limit, Reading, Turn, Work
from reports.due import command, told
from reports.numbers import METRIC

MM = 10**9
UM = 10**6
BORED = "2026-05-04"


@pytest.fixture(autouse=True)
def today(monkeypatch: pytest.MonkeyPatch) -> None:
    set_today(monkeypatch, "2026-06-01")


def set_today(monkeypatch: pytest.MonkeyPatch, day: str) -> None:
    monkeypatch.setattr(times, "now", lambda: f"{day}T12:00:00+00:00")


def asked(shop: Any, *codes: str) -> list[Due]:
    """What is due of some items, or of everything but C-047, C-048 and D-2, which are due all the time."""
    return [
        one for one in due(shop.store) if (one.code in codes if codes else one.code not in ("C-047", "C-048", "D-2"))
    ]


def why(shop: Any, code: str = "C-046") -> list[Why]:
    return [one.why for one in asked(shop, code)]


def bore(shop: Any, setup: str = "LATHE", position: str = "B") -> None:
    work = Work("bored", BORED, size_pm=6_480 * UM, holder=setup, position=position, limits=(Limit(9 * UM, 25 * MM),))
    shop.do(lambda entry, register: items.modify(entry, register, register.need("C-046", "item"), work))


def refit(shop: Any, since: str = BORED) -> None:
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crashed", since=since))


def test_what_was_never_measured_is_due_parts_of_a_setup_are_not(shop: Any) -> None:
    assert [(one.code, one.why) for one in due(shop.store)] == [
        ("C-046", Why.NEVER_MEASURED),
        ("C-047", Why.NEVER_MEASURED),
        ("C-048", Why.NEVER_MEASURED),
        ("D-2", Why.GAUGE_NEVER),
    ]


def test_what_was_worked_on_is_due_until_it_is_measured_as_it_is_now(shop: Any) -> None:
    shop.log([3.0, 3.4, 3.2])
    assert why(shop) == []
    bore(shop)
    (one,) = asked(shop)
    assert (one.why, one.since, one.because) == (Why.MODIFIED, BORED, "bored")
    assert (one.setup, one.positions, one.distance_mm, one.pin) == ("LATHE", ("B",), 25.0, "P-65")
    shop.log([3.0], days=("2026-05-05",), recalled=True)
    assert why(shop) == [Why.MODIFIED]
    shop.log(
        [3.0, 3.4, 3.2], days=("2026-05-05", "2026-05-06", "2026-05-07", "2026-05-08"), distance_mm=25, position="B"
    )
    assert why(shop) == []


def test_only_a_pin_hardly_smaller_than_the_bore_is_named(shop: Any) -> None:
    def pins(entry: Entry, register: Register) -> None:
        for code, um in (("P-A", 6_480), ("P-B", 6_481), ("P-C", 6_475)):
            add_pin(entry, register, code, diameter_pm=um * UM, roundness_pm=None, kind="pin", grade="")

    bore(shop)
    shop.do(pins)
    assert asked(shop)[0].pin == "P-A"
    assert asked(shop, "C-047")[0].pin == "P-B"


def test_a_setup_that_was_changed_makes_due_what_was_measured_in_it(shop: Any) -> None:
    shop.log([3.0, 3.4, 3.2], position="A")
    shop.log([3.0, 3.4, 3.2], position="B", pin="P-65")
    refit(shop)
    (one,) = asked(shop)
    assert (one.why, one.since, one.because) == (Why.SETUP_CHANGED, BORED, "crashed")
    assert (one.setup, one.positions, one.distance_mm, one.instrument) == ("LATHE", ("A", "B"), 16.0, "D-1")
    assert one.last_measured == "2026-03-04"
    after = ("2026-05-05", "2026-05-06", "2026-05-07", "2026-05-08")
    shop.log([3.0, 3.4, 3.2], days=after, position="A")
    assert [one.positions for one in asked(shop)] == [("B",)]
    shop.log([3.0, 3.4, 3.2], days=after, position="B")
    assert why(shop) == []


def test_what_needs_more_days_is_due_the_fewest_first(shop: Any) -> None:
    shop.log([4.0, 4.6, 5.2], days=("2026-03-02",))
    shop.limit("C-048", Limit(8 * UM, distance_pm=16 * MM))
    shop.log([4.0, 4.6, 5.2], item="C-048", days=("2026-03-02",))
    shop.log([4.9], days=("2026-03-03",))
    found = [(one.code, one.more_clampings) for one in due(shop.store) if one.why == Why.UNDECIDED]
    assert found == [(code, shop.group(code).more_clampings) for code in ("C-048", "C-046")]
    assert (found[0][1] or 0) < (found[1][1] or 0)


def test_what_no_number_of_days_will_tell_is_not_due(shop: Any) -> None:
    shop.log([7.0, 7.9, 8.3], days=[f"2026-03-0{day}" for day in range(1, 7)])
    group, (worn,) = shop.group(), wear(shop.store, ["C-046"])
    assert (group.next_clampings, group.more_clampings) == ("cannot tell", None)
    assert worn.crosses is not None
    assert worn.crosses.now
    assert why(shop) == []


def test_a_rise_that_meets_the_limit_before_the_next_check_is_due_a_level_one_is_not(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_today(monkeypatch, "2026-02-01")
    start = datetime.date(2025, 6, 1)
    shop.limit("C-047", Limit(8 * UM, distance_pm=16 * MM))
    shop.limit("C-048", Limit(30 * UM, distance_pm=16 * MM))
    for i in range(9):
        day = ((start + datetime.timedelta(days=30 * i)).isoformat(),)
        shop.log([3.0 + i % 2 * 0.2, 3.2], days=day)
        for code in ("C-047", "C-048"):
            shop.log([2.0 + 0.7 * i, 2.2 + 0.7 * i], item=code, days=day)
    assert why(shop) == []
    assert why(shop, "C-048") == []
    shop.limit("C-047", Limit(8 * UM, distance_pm=25 * MM))
    shop.log([4.0, 4.6, 5.2], item="C-047", days=("2026-01-27",), distance_mm=25)
    assert shop.groups("C-047")["A", 25.0].more_clampings == 5
    (one,) = asked(shop, "C-047")
    worn = next(one for one in wear(shop.store, ["C-047"]) if one.distance_mm == 16.0)
    assert worn.crosses is not None
    assert worn.next_check == "2026-02-26"
    assert (one.why, one.until, one.now, one.limit_um) == (Why.MEETS_LIMIT, worn.crosses.early, worn.crosses.now, 8.0)
    assert one.now or one.until is not None
    assert one.now or (one.until or "") <= worn.next_check


MONTHLY = ("2026-01-05", "2026-02-02", "2026-03-02", "2026-04-07", "2026-05-04")


def test_what_was_read_again_and_again_is_due_when_it_has_not_been_for_long(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Gaps of 28, 28, 36 and 27 days: due after more than 56, twice the usual one."""
    shop.log([3.0, 3.4], days=MONTHLY)
    set_today(monkeypatch, "2026-06-29")
    assert why(shop) == []
    set_today(monkeypatch, "2026-06-30")
    (one,) = asked(shop)
    assert (one.why, one.last_measured, one.every_days) == (Why.OVERDUE, "2026-05-04", 28.0)
    assert told(one, METRIC) == "last measured 2026-05-04, before that about every 28 days"
    assert command(one) == "qclog measure C-046 --setup LATHE --positions A --distance 16 --instrument D-1"
    shop.log([3.2], days=("2026-06-30",))
    assert why(shop) == []


def test_a_rhythm_takes_four_gaps_of_a_week_and_one_long_gap_is_waited_for_again(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_today(monkeypatch, "2027-06-01")
    shop.log([3.0, 3.4], days=MONTHLY[:4])
    shop.log([3.0, 3.4], item="C-047", days=("2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05", "2026-03-06"))
    assert asked(shop, "C-046", "C-047") == []
    shop.log([3.0, 3.4], item="C-048", days=("2025-01-06", *MONTHLY))
    set_today(monkeypatch, "2027-05-03")
    assert asked(shop, "C-048") == []  # the longest gap was of 364 days
    set_today(monkeypatch, "2027-05-04")
    assert [one.why for one in asked(shop, "C-048")] == [Why.OVERDUE]


def test_what_is_in_doubt_comes_first_and_not_with_the_gauge_found_wrong(shop: Any) -> None:
    def wrong(entry: Entry, register: Register) -> None:
        recalls.add_recall(entry, register.need("D-1", "instrument"), found_at="2026-03-10", found="bent")

    shop.log([3.0, 3.4, 3.2])
    shop.do(wrong)
    found = asked(shop)
    assert [(one.code, one.why) for one in found] == [("C-046", Why.IN_DOUBT), ("D-1", Why.GAUGE_WRONG)]
    assert (found[0].instrument, found[1].since) == ("", "2026-03-10")


@pytest.mark.parametrize(
    ("day", "expected"),
    [
        ("2026-12-05", []),
        ("2026-12-06", [Why.GAUGE_SOON]),
        ("2027-01-05", [Why.GAUGE_SOON]),
        ("2027-01-06", [Why.GAUGE_OVERDUE]),
    ],
)
def test_a_gauge_is_told_a_month_before_and_overdue_the_day_after(
    shop: Any, monkeypatch: pytest.MonkeyPatch, day: str, expected: list[Why]
) -> None:
    set_today(monkeypatch, day)
    assert why(shop, "D-1") == expected


def test_the_newest_calibration_of_a_gauge_counts_and_of_pins_only_those_that_are_calibrated(
    shop: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def calibrate(entry: Entry, register: Register) -> None:
        add_calibration(entry, register, register.need("P-65", "pin"), done_on="2026-01-05", due_on="2027-01-05")
        instrument = register.need("D-1", "instrument")
        add_calibration(entry, register, instrument, done_on="2026-12-20", due_on="2027-12-20")
        add_calibration(entry, register, instrument, done_on="2025-01-05", due_on="2026-01-05")

    shop.do(calibrate)
    set_today(monkeypatch, "2027-02-01")
    assert [(one.code, one.why, one.until) for one in due(shop.store) if one.kind in ("pin", "instrument")] == [
        ("P-65", Why.GAUGE_OVERDUE, "2027-01-05"),
        ("D-2", Why.GAUGE_NEVER, None),
    ]


def test_what_is_put_away_or_out_of_service_is_not_due(shop: Any) -> None:
    def change(entry: Entry, register: Register) -> None:
        one, other = (register.need(code, "item") for code in ("C-047", "C-048"))
        items.set_state(entry, register, one, state="scrap", limit_pm=None, since=BORED, reason="worn")
        items.inspect_item(entry, register, other, finding="blue", seen_on=BORED, note="")

    shop.do(change)
    assert asked(shop, "C-047", "C-048") == []


def test_who_has_it_is_told_beside(shop: Any) -> None:
    def take(entry: Entry, register: Register) -> None:
        custody.take(entry, [register.need("C-047", "item")], setup=None, place="the grinder", done_at=BORED)
        items.write_card(entry, register, register.need("C-047", "item"), Card(place="tray 2"))

    shop.do(take)
    (one,) = asked(shop, "C-047")
    assert one.out is not None
    assert (one.out.place, one.place) == ("the grinder", "tray 2")


def test_the_reasons_stand_in_the_order_of_their_urgency(shop: Any) -> None:
    shop.log([3.0, 3.4, 3.2])
    shop.log([4.0, 4.6, 5.2], item="C-048", days=("2026-03-02",))
    shop.limit("C-048", Limit(9 * UM, distance_pm=16 * MM))
    bore(shop)
    assert [one.why for one in due(shop.store)] == [*(Why.MODIFIED, Why.NEVER_MEASURED, Why.UNDECIDED, Why.GAUGE_NEVER)]
    refit(shop, "2026-05-05")
    assert [one.why for one in due(shop.store)] == [
        *(Why.MODIFIED, Why.SETUP_CHANGED, Why.NEVER_MEASURED, Why.GAUGE_NEVER)
    ]


def test_the_document_is_plain_values(shop: Any) -> None:
    told = json.loads(json.dumps(document(due(shop.store))))
    assert told["question"] == "due"
    assert [one["why"] for one in told["answers"]] == [*3 * ["never_measured"], "gauge_never_calibrated"]


def test_what_was_read_as_clocked_is_to_be_measured_clocked_so_again(shop: Any) -> None:
    shop.log([4.0, 4.6, 5.2], days=("2026-03-02",), clocking=(("C-046", 150_000),))
    (found,) = asked(shop, "C-046")
    assert (found.why, found.clocking) == (Why.UNDECIDED, "C-046=150")
    assert '--positions A --clocking "C-046=150" --distance 16' in command(found)


def crash(shop: Any, seen_on: str, finding: str = "crash") -> None:
    shop.do(
        lambda e, r: items.inspect_item(e, r, r.need("C-046", "item"), finding=finding, seen_on=seen_on, note="seen")
    )


def test_a_crash_is_told_before_the_work_that_was_not_measured_either(shop: Any) -> None:
    shop.log([3.0, 3.4, 3.2])
    bore(shop)
    crash(shop, "2026-05-20")
    (one,) = asked(shop)
    assert (one.why, one.since, one.because) == (Why.CRASHED, "2026-05-20", f"bored {BORED}")
    assert told(one, METRIC) == f"crash 2026-05-20, bored {BORED}, not measured since"
    shop.log(
        [3.0, 3.4, 3.2], days=("2026-05-25", "2026-05-26", "2026-05-27", "2026-05-28"), distance_mm=25, position="B"
    )
    assert Why.CRASHED not in why(shop)


def test_a_crash_is_due_where_nothing_was_ever_measured_until_it_is_found_sound(shop: Any) -> None:
    crash(shop, "2026-05-20")
    assert why(shop) == [Why.CRASHED]
    crash(shop, "2026-05-21", "sound")
    assert why(shop) == [Why.NEVER_MEASURED]


def test_a_face_or_what_pins_told_is_read_again_by_log_as_it_was_read() -> None:
    face = Due(Why.CRASHED, "C-9", "chuck", setup="L2", characteristic="face runout", distance_mm=0.0, diameter_mm=40.0)
    assert command(face) == 'qclog log C-9 SWING --characteristic "face runout" --setup L2 --diameter 40'
    bore_ = Due(Why.UNDECIDED, "KI-8", "insert", characteristic="bore", by_pins=True, more_clampings=14)
    assert command(bore_) == "qclog log KI-8 --characteristic bore --go PIN --no-go PIN"
    assert "finer or calibrated pins tell sooner than 14 more days" in told(bore_, METRIC)


def _values(shop: Any, characteristic: str, *values_um: float, days: int = 1) -> None:
    made = [
        Clamping(
            "C-046",
            "",
            f"2026-05-{day + 1:02d}T09:{i:02d}",
            (Turn("value", (Reading(round(value * UM), f"{value:g}", UM),), 0, characteristic),),
        )
        for day in range(days)
        for i, value in enumerate(values_um)
    ]
    shop._log(shop.store, *made)


def test_a_size_that_does_not_hold_is_due_to_be_worked_again(shop: Any) -> None:
    shop.limit("C-046", Limit(8_540 * UM, lower_pm=8_500 * UM, characteristic="depth", text="depth 8.50..8.54mm"))
    _values(shop, "depth", 8_900, 8_901, days=5)
    (one,) = [found for found in asked(shop, "C-046") if found.characteristic == "depth"]
    assert one.why == Why.BEYOND
    assert "work it to 8.50 to 8.54 mm again, or put it away" in told(one, METRIC)
    assert command(one) == "qclog modify C-046 WORK"


@pytest.fixture
def jaws(shop: Any) -> Any:
    """JW-1, bored in LATHE, position A, for 18 µm."""
    work = Work("bored", BORED, size_pm=24 * MM, holder="LATHE", position="A", limits=(Limit(18 * UM),))
    shop.do(lambda entry, register: items.add_item(entry, register, "JW-1", Card(kind="jaws")))
    shop.do(lambda entry, register: items.modify(entry, register, register.need("JW-1", "item"), work))
    return shop


def test_jaws_of_which_their_sitting_does_not_tell_are_due_to_be_clamped_again_in_it(jaws: Any) -> None:
    jaws.log((6.0, 7.0), item="JW-1", days=("2026-05-05",))
    (one,) = asked(jaws, "JW-1")
    assert (one.why, one.more_clampings) == (Why.UNDECIDED, None)
    assert (
        told(one, METRIC) == f"clamp it {one.more_in_sitting} more times in this sitting to tell whether it holds 18 µm"
    )
    assert command(one).endswith(f"--clampings {one.more_in_sitting}")


def test_jaws_that_do_not_hold_are_due_to_be_bored_again(jaws: Any) -> None:
    jaws.log((40.0, 41.0, 40.0, 41.0, 40.0), item="JW-1", days=("2026-05-05",))
    (one,) = asked(jaws, "JW-1")
    assert (one.why, told(one, METRIC)) == (Why.BEYOND, "does not hold 18 µm: bore it again")
    assert command(one) == 'qclog modify JW-1 "bored for JOB" --in LATHE --position A'
