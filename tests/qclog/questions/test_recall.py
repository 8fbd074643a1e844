"""A recall: each verdict as given, as it stands, as it would stand; what changes and what to do about it."""

import json
from pathlib import Path
from typing import Any

import pytest

import demo_readings
from qclog.errors import NotFoundError
from qclog.logbook import items, recalls, setups, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.exchange import import_folder
from qclog.logbook.gauges import add_calibration
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.codes import NextStep
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.questions.recall import Answer, Place, document, recall
from qclog.records import Limit, Work
from reports.recall import recall as text

UM = 1_000_000
GOOD, NEAR, BAD = (2.0, 2.3, 1.8), (5.0, 5.1, 4.9), (20.0, 21.0, 19.5)
LATER = ("2026-03-11", "2026-03-12", "2026-03-13", "2026-03-14")


def found_wrong(shop: Any, read_um: int | None = None, true_um: int | None = None, gauge: str = "D-1") -> None:
    def do(entry: Entry, register: Register) -> None:
        name = register.find(gauge)
        assert name is not None
        recalls.add_recall(
            entry,
            name,
            found_at="2026-03-10",
            found="bent" if read_um is None else f"{read_um} on {true_um}",
            read_pm=None if read_um is None else read_um * UM,
            true_pm=None if true_um is None else true_um * UM,
        )

    shop.do(do)


def calibrated(shop: Any) -> None:
    shop.do(
        lambda entry, register: add_calibration(
            entry, register, register.need("D-1", "instrument"), done_on="2026-03-10", error_limit_pm=1_200_000
        )
    )


def the_recall(shop: Any, gauge: str = "D-1") -> Answer:
    (answer,) = recall(shop.store, gauge)
    return answer


def place(shop: Any, item: str = "C-046", modification: int = 0) -> Place:
    (found,) = [one for one in the_recall(shop).places if (one.item, one.modification) == (item, modification)]
    return found


def told(one: Place) -> tuple[str | None, str | None, str | None]:
    return tuple(None if v is None else v.next_clampings for v in (one.given, one.now, one.had_it_read_so))  # type: ignore[return-value]


def limited(shop: Any, item: str, um: int) -> None:
    shop.limit(item, Limit(um * UM, distance_pm=16_000_000_000))


def test_each_verdict_is_given_as_it_was_as_it_stands_and_as_it_would_stand(shop: Any) -> None:
    limited(shop, "C-047", 8)
    shop.log(NEAR)
    shop.log(GOOD, item="C-047")
    found_wrong(shop, 5, 10)
    answer = the_recall(shop)
    assert (answer.clampings, answer.in_doubt, answer.since) == (24, 24, "2026-01-05")
    assert (answer.read_um, answer.true_um) == (5.0, 10.0)
    assert told(place(shop)) == (HOLDS, CANNOT_TELL, DOES_NOT_HOLD)
    assert told(place(shop, "C-047")) == (HOLDS, CANNOT_TELL, HOLDS)
    assert (answer.unchanged, answer.change, answer.untold) == (1, 1, 2)
    assert place(shop).next_step == NextStep.MEASURE_FIRST
    assert place(shop, "C-047").next_step == NextStep.MEASURE_AGAIN


def test_the_bound_it_would_have_had_is_the_bound_times_the_error(shop: Any) -> None:
    shop.log(GOOD)
    found_wrong(shop, 10, 5)
    one = place(shop)
    assert one.given is not None
    assert one.had_it_read_so is not None
    assert one.now is not None
    assert one.given.bound_um is not None
    assert one.had_it_read_so.bound_um == pytest.approx(one.given.bound_um / 2, rel=0.02)  # steps stay those typed
    assert one.now.bound_um is None


def test_what_was_cleared_is_not_supposed_to_have_been_read_wrong(shop: Any) -> None:
    shop.log(GOOD)
    found_wrong(shop, 5, 10)
    shop.do(lambda e, r: recalls.clear(e, r.need("D-1", "instrument"), "it was good", before="2026-03-03"))
    one = place(shop)
    assert one.had_it_read_so is not None
    assert one.given is not None
    assert one.given.bound_um is not None
    assert one.had_it_read_so.bound_um is not None
    assert one.had_it_read_so.bound_um > 2.1 * one.given.bound_um  # half of them doubled: they scatter


def test_one_that_holds_by_older_readings_is_measured_first_where_the_newest_would_say_otherwise(shop: Any) -> None:
    shop.log((3.8, 4.0, 3.9), days=("2026-01-01", "2026-01-02", "2026-01-03", "2026-01-04"))
    shop.log((4.0, 4.2, 4.1))
    found_wrong(shop, 5, 10)
    one = place(shop)
    assert told(one) == (HOLDS, HOLDS, CANNOT_TELL)
    assert one.next_step == NextStep.MEASURE_FIRST
    calibrated(shop)
    shop.log((4.0, 4.2, 4.1), days=LATER)
    assert place(shop).next_step == NextStep.NONE


def test_of_readings_around_the_turn_the_vectors_are_supposed_larger_too(shop: Any) -> None:
    shop.log_vectors([1 + 0j, 1.1 + 0j, 0.9 + 0j, 1.05j, 1 + 0.1j], days=("2026-03-01", "2026-03-02", "2026-03-03"))
    before = shop.group()
    assert before.bound is not None
    assert before.bound.method.endswith("from vectors")
    found_wrong(shop, 10, 20)
    one = place(shop)
    assert one.had_it_read_so is not None
    assert one.had_it_read_so.bound_um == pytest.approx(2 * before.bound.value_um, rel=0.01)


def test_what_was_read_with_a_steep_lever_carries_no_verdict_and_is_not_counted(shop: Any) -> None:
    shop.log(GOOD, days=("2026-03-01",))
    shop.log(GOOD, days=("2026-03-02",), lever_mdeg=45_000)
    found_wrong(shop)
    assert place(shop).clampings == 3


def test_without_figures_what_stands_now_decides(shop: Any) -> None:
    shop.log(GOOD)
    found_wrong(shop)
    assert told(place(shop)) == (HOLDS, CANNOT_TELL, None)
    answer = the_recall(shop)
    assert (answer.unchanged, answer.change) == (0, 1)


def test_the_logbook_answers_as_before_and_nothing_in_it_is_changed(shop: Any) -> None:
    shop.log(GOOD, instrument="D-2", lever_mdeg=None)
    before = assess(shop.store)
    found_wrong(shop, 5, 10)
    assert assess(shop.store) == before
    answer = the_recall(shop)
    assert (answer.clampings, answer.places) == (0, ())
    assert "Nothing was read with it since its last good check on 2026-01-05." in text([answer])


def test_as_given_is_as_the_logbook_stood_right_before(shop: Any) -> None:
    """What was struck out before is not in it, what was struck out after still is."""
    numbers = shop.log((*GOOD, 30.0))

    def struck(some: list[int]) -> None:
        def do(entry: Entry, register: Register) -> None:
            for number in some:
                striking.strike(entry, register.need("C-046", "item"), number, reason="misread")

        shop.do(do)

    struck(numbers[3:8:4])
    shop.log(GOOD, days=LATER[:1])
    given = shop.group().next_clampings
    found_wrong(shop)
    struck(numbers[11::4])
    one = place(shop)
    assert one.given is not None
    assert one.given.next_clampings == given
    assert one.clampings == 16 - 2 + 3 - 2


def test_measured_again_the_new_verdict_stands_beside_the_one_given(shop: Any) -> None:
    shop.log(NEAR)
    found_wrong(shop, 5, 10)
    calibrated(shop)
    shop.log(GOOD, days=LATER)
    one = place(shop)
    assert told(one)[:2] == (HOLDS, HOLDS)
    assert (one.clampings, one.in_doubt, one.next_step) == (12, 12, NextStep.NONE)


def test_an_item_worked_on_since_is_told_as_it_was_then(shop: Any) -> None:
    shop.log(NEAR)
    work = Work("bored", "2026-03-06", limits=(Limit(8 * UM, distance_pm=16_000_000_000),))
    shop.do(lambda entry, register: items.modify(entry, register, register.need("C-046", "item"), work))
    shop.log(GOOD, days=("2026-03-07", "2026-03-08"))
    found_wrong(shop, 5, 10)
    before, after = place(shop), place(shop, modification=1)
    assert told(before) == (HOLDS, CANNOT_TELL, DOES_NOT_HOLD)
    assert (before.as_it_is, before.next_step, before.clampings) == (False, NextStep.TELL, 12)
    assert (after.as_it_is, after.clampings) == (True, 6)
    assert "(modification 0, setup" in text([the_recall(shop)])


def test_a_setup_changed_since_is_told_as_it_was_then(shop: Any) -> None:
    shop.log(GOOD)

    def refitted(entry: Entry, register: Register) -> None:
        setups.refit(entry, register, register.need("LATHE", "setup"), reason="re-seated", since="2026-03-06")

    shop.do(refitted)
    found_wrong(shop, 11, 10)
    one = place(shop)
    assert told(one) == (HOLDS, CANNOT_TELL, HOLDS)
    assert (one.as_it_is, one.setup_revision, one.next_step) == (False, 1, NextStep.NONE_WORKED_ON)


def test_a_verdict_that_leaned_on_the_repeat_of_what_is_in_doubt_is_named_too(shop: Any) -> None:
    limited(shop, "C-048", 12)
    week = [f"2026-03-0{day}" for day in range(1, 8)]
    for item in ("C-046", "C-047"):
        shop.log(GOOD, item=item, days=week)
    shop.log(GOOD, item="C-048", days=("2026-03-01",), instrument="", lever_mdeg=None)
    assert shop.group("C-048").next_clampings == HOLDS
    found_wrong(shop)
    one = place(shop, "C-048")
    assert (one.clampings, one.in_doubt, one.changes) == (0, 0, True)
    assert told(one)[:2] == (HOLDS, CANNOT_TELL)
    assert "judged by the repeat of others" in " ".join(text([the_recall(shop)]).split())


def test_a_verdict_of_the_sitting_alone_counts_as_one(shop: Any) -> None:
    shop.log((2.0, 2.1, 1.9, 2.0, 2.1), days=("2026-03-01",))
    assert (shop.group().this_sitting, shop.group().next_clampings) == (HOLDS, CANNOT_TELL)
    found_wrong(shop, 5, 30)
    answer = the_recall(shop)
    (one,) = answer.places
    assert one.given is not None
    assert one.given.told == (HOLDS, True)
    assert (answer.change, one.next_step) == (1, NextStep.MEASURE_FIRST)
    assert "HOLDS (sitting)" in text([answer])


def test_what_is_written_after_the_recall_was_never_given(shop: Any) -> None:
    found_wrong(shop)
    shop.log(GOOD)
    answer = the_recall(shop)
    assert told(place(shop)) == (None, CANNOT_TELL, None)
    assert (answer.unchanged, answer.change, answer.in_doubt) == (0, 0, 12)


def test_without_a_limit_no_verdict_is_counted(shop: Any) -> None:
    shop.log(GOOD, item="C-047")
    found_wrong(shop, 5, 10)
    answer = the_recall(shop)
    assert (answer.unchanged, answer.change, answer.untold, len(answer.places)) == (0, 0, 0, 1)


def test_several_recalls_stand_the_newest_first_and_each_leaves_the_others_alone(shop: Any) -> None:
    shop.log(GOOD, pin="P-65")
    found_wrong(shop, 5, 4)
    found_wrong(shop, gauge="P-65")
    answers = recall(shop.store)
    assert [answer.gauge for answer in answers] == ["P-65", "D-1"]
    (one,) = answers[1].places
    assert told(one) == (HOLDS, CANNOT_TELL, CANNOT_TELL)  # the pin is still in doubt


def test_a_withdrawn_recall_leaves_nothing_in_doubt(shop: Any) -> None:
    shop.log(GOOD)
    found_wrong(shop, 5, 10)
    shop.do(lambda entry, register: recalls.clear(entry, register.need("D-1", "instrument"), "wrong block"))
    answer = the_recall(shop)
    assert (answer.in_doubt, answer.change, answer.untold) == (0, 0, 0)
    assert "Nothing is in doubt any more: wrong block" in text([answer])


def test_both_databases_name_the_same_verdicts(store: Store) -> None:
    import_folder(store, Path(demo_readings.__file__).parent / "workshop")

    def found(entry: Entry, register: Register) -> None:
        gauge = register.need("L-1", "instrument")
        recalls.add_recall(entry, gauge, found_at="2026-09-30", found="17 on 20", read_pm=17 * UM, true_pm=20 * UM)

    with new_entry(store, "recall") as entry:
        found(entry, Register(entry.connection))
    (answer,) = recall(store, "L-1")
    assert (answer.clampings, answer.in_doubt, answer.unchanged, answer.change, answer.untold) == (61, 61, 9, 4, 4)
    changed = [(one.item, one.position, one.distance_mm) for one in answer.places if one.changes]
    assert changed == [("B-795", "2", 3.0), ("B-860", "N", 16.0), ("B-920", "N", 25.0), ("B-945", "S", 25.0)]


def test_unknown_gauges_and_items_are_refused(shop: Any) -> None:
    for code in ("D-9", "C-046"):
        with pytest.raises(NotFoundError):
            recall(shop.store, code)


def test_the_document_is_plain_json(shop: Any) -> None:
    shop.log(GOOD)
    found_wrong(shop, 5, 10)
    told = json.loads(json.dumps(document(recall(shop.store))))
    assert told["question"] == "recall"
    (answer,) = told["answers"]
    assert answer["places"][0]["given"]["next_clampings"] == HOLDS
    assert {"unchanged", "change", "untold", "in_doubt", "since", "places"} <= answer.keys()
