"""Nothing is claimed from what was read with a gauge found wrong, until it is measured again or cleared."""

import cmath
import math
from typing import Any

import pytest

from qclog.frames import readings
from qclog.logbook import recalls
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess, gate
from qclog.questions.changing.replacing import costs
from qclog.questions.codes import Caveat, Flag, Sign
from qclog.questions.compare import UNDECIDED, compare
from qclog.questions.comparing.key_positions import key_positions
from qclog.questions.dossier import dossiers
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS
from qclog.questions.sense import sense
from qclog.questions.wear import RETIRE, WATCH, wear
from reports.assessment import assessment
from reports.pages.item import item_page
from reports.pictures.over_time import over_time

GOOD, BAD = (2.0, 2.3, 1.8), (20.0, 21.0, 19.5)
EARLIER = ("2026-01-01", "2026-01-02", "2026-01-03", "2026-01-04")
"""Before the last calibration of D-1."""
FOUR_DAYS = ("2026-03-01", "2026-03-02", "2026-03-03", "2026-03-04")
LATER = ("2026-03-11", "2026-03-12", "2026-03-13", "2026-03-14")


def found_wrong(shop: Any, gauge: str = "D-1", on: str = "2026-03-10") -> None:
    def do(entry: Entry, register: Register) -> None:
        name = register.find(gauge)
        assert name is not None
        recalls.add_recall(entry, name, found_at=on, found="bent")

    shop.do(do)


def cleared(shop: Any) -> None:
    shop.do(lambda entry, register: recalls.clear(entry, register.need("D-1", "instrument"), "it was good"))


@pytest.mark.parametrize(("swings", "before"), [(GOOD, HOLDS), (BAD, DOES_NOT_HOLD)])
def test_a_verdict_that_rests_on_it_is_no_longer_given_in_either_direction(
    shop: Any, swings: tuple[float, ...], before: str
) -> None:
    shop.log(swings)
    assert shop.group().next_clampings == before
    found_wrong(shop)
    (group,), reasons = shop.answer().groups, shop.answer().reasons
    assert (group.as_read, group.this_sitting, group.next_clampings) == (CANNOT_TELL,) * 3
    assert (group.bound, group.next, group.more_clampings, group.holds_from_um) == (None,) * 4
    assert (group.clampings, group.tir_um.max) == (12, max(swings))
    assert Caveat.IN_DOUBT in group.caveats
    assert [reason.code for reason in reasons] == [Flag.IN_DOUBT]
    assert gate(assess(shop.store)) == 8


def test_cleared_the_verdict_is_what_it_was(shop: Any) -> None:
    shop.log(GOOD)
    before = assess(shop.store)
    found_wrong(shop)
    cleared(shop)
    assert assess(shop.store) == before


def test_without_a_limit_there_is_still_none(shop: Any) -> None:
    shop.log(GOOD, item="C-047")
    found_wrong(shop)
    group = shop.group("C-047")
    assert group.next_clampings == "no limit"
    assert Caveat.IN_DOUBT in group.caveats


@pytest.mark.parametrize(("swings", "verdict"), [(GOOD, HOLDS), (BAD, DOES_NOT_HOLD)])
def test_measured_again_with_another_indicator_the_new_clampings_suffice(
    shop: Any, swings: tuple[float, ...], verdict: str
) -> None:
    shop.log(BAD if swings == GOOD else GOOD)
    found_wrong(shop)
    shop.log(swings, days=LATER, instrument="D-2", lever_mdeg=None)
    group = shop.group()
    if verdict == DOES_NOT_HOLD:
        assert group.next_clampings == verdict
    assert (group.clampings, group.sittings) == (12, 4)
    assert Caveat.IN_DOUBT_LEFT_OUT in group.caveats
    assert Caveat.IN_DOUBT_CONTRADICTS not in group.caveats


def test_older_readings_carry_the_verdict_where_those_in_doubt_say_the_same(shop: Any) -> None:
    shop.log(GOOD, days=EARLIER)
    shop.log(GOOD)
    found_wrong(shop)
    group = shop.group()
    assert (group.next_clampings, group.clampings) == (HOLDS, 12)
    assert Caveat.IN_DOUBT_LEFT_OUT in group.caveats
    assert shop.answer().reasons == ()


def test_bad_news_in_doubt_is_not_left_out_in_favour_of_older_good_news(shop: Any) -> None:
    shop.log(GOOD, days=EARLIER)
    shop.log(BAD)
    found_wrong(shop)
    group = shop.group()
    assert group.next_clampings == CANNOT_TELL
    assert Caveat.IN_DOUBT_CONTRADICTS in group.caveats
    assert [reason.code for reason in shop.answer().reasons] == [Flag.IN_DOUBT]
    assert "speaks against the rest" in assessment([shop.answer()])
    (worn,) = wear(shop.store, ["C-046"])
    assert Sign.IN_DOUBT in worn.because


def test_what_is_in_doubt_lends_its_repeat_to_nobody(shop: Any) -> None:
    for item in ("C-046", "C-047"):
        shop.log(GOOD, item=item, days=(*FOUR_DAYS, "2026-03-05", "2026-03-06", "2026-03-07"))
    shop.log(GOOD, item="C-048", days=("2026-03-01",), instrument="D-2", lever_mdeg=None)
    assert Caveat.SHOP_REPEAT in shop.group("C-048").caveats
    found_wrong(shop)
    assert Caveat.SHOP_REPEAT not in shop.group("C-048").caveats
    assert Caveat.IN_DOUBT not in shop.group("C-048").caveats


def test_key_positions_are_not_compared_by_it(shop: Any) -> None:
    for item in ("C-046", "C-047", "C-048"):
        shop.log(GOOD, item=item)
        shop.log(BAD, item=item, position="B")
    assert compare(shop.store, ["C-046"])[0].better == "A"
    assert key_positions(shop.store)
    found_wrong(shop)
    (answer,) = compare(shop.store, ["C-046"])
    assert (answer.better, answer.settled, answer.outcome) == (None, False, UNDECIDED)
    assert (answer.difference_um, answer.p_value, answer.vectors) == (None, None, None)
    assert Caveat.IN_DOUBT in answer.caveats
    assert key_positions(shop.store) == []


def test_vectors_in_doubt_are_not_compared_either(shop: Any) -> None:
    for position, vector in (("A", 3 + 0j), ("B", 3j)):
        shop.log_vectors([vector, vector * 1.02, vector * 0.98], position=position)
    assert compare(shop.store, ["C-046"])[0].vectors is not None
    found_wrong(shop)
    assert compare(shop.store, ["C-046"])[0].vectors is None


def test_a_sense_is_asked_of_what_is_left(shop: Any) -> None:
    for turned in (0, 120, 240):
        vector = 5 * cmath.exp(1j * math.radians(turned))
        for day, gauge in (("2026-03-01", "D-1"), ("2026-03-02", "D-2")):
            lever = 0 if gauge == "D-1" else None
            clocking = (("P-65", turned * 1000),)
            shop.log_vectors([vector], days=(day,), clocking=clocking, instrument=gauge, lever_mdeg=lever)
    (before,) = sense(shop.store, "LATHE")
    found_wrong(shop)
    (after,) = sense(shop.store, "LATHE")
    assert [body.clampings for answer in (before, after) for body in answer.bodies] == [6, 3]


def test_a_dot_in_doubt_is_drawn_as_one_no_verdict_rests_on(shop: Any) -> None:
    shop.log([5.0], item="C-047", days=("2026-03-01",))

    def drawn() -> str:
        (dossier,) = dossiers(shop.store, ["C-047"])
        return over_time(dossier.places[0], [], "one").svg

    before = drawn()
    found_wrong(shop)
    assert drawn() != before
    cleared(shop)
    assert drawn() == before


def test_wear_sees_no_change_in_it_and_says_why(shop: Any) -> None:
    for k in range(10):
        shop.log([5.0 + k, 5.2 + k], days=(f"2026-02-{k + 10}",))
    assert wear(shop.store, ["C-046"])[0].decision == RETIRE
    found_wrong(shop)
    (answer,) = wear(shop.store, ["C-046"], costs(100, 600, 20))
    assert (answer.decision, answer.because, answer.tests) == (WATCH, (Sign.IN_DOUBT,), ())
    assert (answer.trend, answer.step, answer.signal, answer.crosses) == (None,) * 4
    assert answer.cost is not None
    assert answer.cost.p_next is None


def test_readings_and_pages_mark_it(shop: Any) -> None:
    shop.log(GOOD[:1])
    found_wrong(shop, on="2026-03-10")
    shop.log(GOOD[:1], days=LATER[:1], instrument="D-2", lever_mdeg=None)
    (dossier,) = dossiers(shop.store, ["C-046"])
    assert [clamping.in_doubt for clamping in dossier.life.clampings] == [True] * 4 + [False]
    points = [point for place in dossier.places for stretch in place.stretches for point in stretch.points]
    assert [(point.in_doubt, point.counts) for point in points] == [(True, False)] * 4 + [(False, True)]
    page = item_page(dossier)
    assert page.count("IN DOUBT; ") == 4
    assert "IN DOUBT: 8" in page
    assert "Triangles: recalled, in doubt" in page


def test_where_everything_is_in_doubt_figures_and_pictures_still_show_it(shop: Any) -> None:
    shop.log(GOOD[:1])
    found_wrong(shop)
    (dossier,) = dossiers(shop.store, ["C-046"])
    points = [point for place in dossier.places for stretch in place.stretches for point in stretch.points]
    assert [(point.in_doubt, point.counts) for point in points] == [(True, True)] * 4
    assert "Filled: a clamping" not in item_page(dossier)


def test_vectors_in_doubt_are_left_out_with_their_swings(shop: Any) -> None:
    shop.log_vectors([3 + 0j, 3.1 + 0j, 2.9j], days=EARLIER)
    shop.log_vectors([9j, 9.1j], days=("2026-03-01",))
    (without,) = [group.eccentricity for group in shop.answer().groups]
    found_wrong(shop)
    group = shop.group()
    assert group.clampings == 3
    assert group.eccentricity is not None
    assert without is not None
    assert group.eccentricity.tir_um < without.tir_um


def test_a_place_measured_with_two_pins_is_flagged_once(shop: Any) -> None:
    for pin in ("P-65", "P-3"):
        shop.log(GOOD, pin=pin)
    found_wrong(shop)
    assert len(shop.answer().groups) == 2
    assert [reason.code for reason in shop.answer().reasons] == [Flag.IN_DOUBT]


def test_a_notebook_sees_which_readings_are_in_doubt(shop: Any) -> None:
    shop.log(GOOD[:1], days=EARLIER[:1])
    shop.log(GOOD[:1], days=LATER[:1])
    found_wrong(shop)
    assert readings(shop.store)["in_doubt"].tolist() == [False, True]
