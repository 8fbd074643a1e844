"""Sizes, gaps, flushness and differences held against one limit or two: cases constructed to be plainly so or not."""

import dataclasses
from collections.abc import Sequence
from typing import Any

import pytest

from qclog.logbook import setups, striking
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess, document, gate
from qclog.questions.codes import Caveat
from qclog.questions.judging.values import ValueGroup
from qclog.records import Clamping, Limit, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 9))
DEPTH = Limit(12_050 * UM, characteristic="depth", lower_pm=12_000 * UM)


def read(*values_um: float, ends: tuple[float, float] | None = None, step: int = UM) -> tuple[Reading, ...]:
    low, high = (None, None) if ends is None else (round(end * UM) for end in ends)
    return tuple(Reading(round(v * UM), f"{v:g}", step, low_pm=low, high_pm=high) for v in values_um)


def log(shop: Any, name: str, days: Sequence[str], *turns: Sequence[Reading], **changes: Any) -> list[int]:
    """One clamping for each turn's readings on each day."""
    base = Clamping("C-047", "", "", (), instrument="D-1")
    return list(
        shop._log(
            shop.store,
            *(
                dataclasses.replace(base, taken_at=day, turns=(Turn("value", tuple(readings), 0, name),), **changes)
                for day in days
                for readings in turns
            ),
        )
    )


def value(shop: Any, name: str) -> ValueGroup:
    found: list[ValueGroup] = [one for one in shop.answer("C-047").values if one.characteristic == name]
    assert len(found) == 1
    return found[0]


def told(one: ValueGroup) -> tuple[str, str, str]:
    return one.as_read, one.this_sitting, one.next_clampings


def test_a_depth_read_on_many_days_well_inside_both_limits_holds(shop: Any) -> None:
    shop.limit("C-047", DEPTH)
    log(shop, "depth", DAYS, read(12_024), read(12_026))
    found = value(shop, "depth")
    assert found.next_clampings == "holds"
    assert found.bounds_um is not None
    assert found.limits_um is not None
    assert (found.limits_um.lower, found.limits_um.upper, found.limit_from) == (12_000.0, 12_050.0, "item")
    assert 12_000 < (found.bounds_um.low or 0) < 12_024 < 12_026 < (found.bounds_um.high or 0) < 12_050
    assert Caveat.LOOKED_AGAIN in found.caveats


@pytest.mark.parametrize("level", [11_960.0, 12_090.0])
def test_a_depth_outside_either_limit_does_not_hold_and_is_flagged(shop: Any, level: float) -> None:
    shop.limit("C-047", DEPTH)
    log(shop, "depth", DAYS, read(level - 1), read(level + 1))
    assert told(value(shop, "depth"))[0::2] == ("does not hold", "does not hold")
    (reason,) = shop.answer("C-047").reasons
    assert (reason.code, reason.characteristic, reason.distance_mm) == ("next_clampings_do_not_hold", "depth", 0.0)
    assert gate(assess(shop.store, "C-047")) == 1


def test_one_sitting_says_nothing_of_other_days(shop: Any) -> None:
    shop.limit("C-047", DEPTH)
    log(shop, "depth", DAYS[:1], *(read(12_025 + d) for d in (-1, 0, 1, 0, -1, 1, 0, 0)))
    found = value(shop, "depth")
    assert told(found) == ("holds", "holds", "cannot tell")
    assert Caveat.ONE_SITTING in found.caveats
    assert (found.more_readings or 0) > 0
    assert gate(assess(shop.store, "C-047")) == 8


def test_the_limits_are_not_proven_nearer_than_the_gauge_can_tell(shop: Any) -> None:
    """D-1 is calibrated to an error limit of 1.2 um, rectangular: the guard band is 1.645 x 1.2/sqrt(3) = 1.14 um."""
    shop.limit("C-047", DEPTH)
    inside = log(shop, "depth", DAYS[:1], read(12_048.8))
    assert value(shop, "depth").as_read == "holds"
    shop.do(lambda entry, register: striking.strike(entry, register.need("C-047", "item"), inside[0], reason="again"))
    log(shop, "depth", DAYS[:1], read(12_048.9))
    assert value(shop, "depth").as_read == "cannot tell"


def test_of_too_few_readings_it_is_not_said_that_more_will_not_settle_it_unless_the_gauge_stands_in_the_way(
    shop: Any,
) -> None:
    """D-1 reads to 1.4 um (k = 2): suited for a room of 25 um to either side, not for one of 1 um."""
    shop.limit("C-047", DEPTH)
    log(shop, "depth", DAYS[:1], read(12_049.5))
    few = {Caveat.FEW_CLAMPINGS, Caveat.MORE_WILL_NOT_TELL}
    assert few.intersection(value(shop, "depth").caveats) == {Caveat.FEW_CLAMPINGS}
    shop.limit("C-047", Limit(12_026 * UM, characteristic="height", lower_pm=12_024 * UM))
    log(shop, "height", DAYS[:1], read(12_025.5))
    assert few.intersection(value(shop, "height").caveats) == {Caveat.MORE_WILL_NOT_TELL}


def test_what_nobody_named_counts_as_a_micrometer_or_a_calliper_by_its_step(shop: Any) -> None:
    """5 and 30 um, rectangular (DIN 863, DIN 862, from memory), k = 2."""
    log(shop, "depth", DAYS[:1], read(12_025), instrument="")
    log(shop, "height", DAYS[:1], read(12_020, step=10 * UM), instrument="")
    fine, coarse = (value(shop, name) for name in ("depth", "height"))
    assert fine.uncertainty_um == pytest.approx(2 * 5 / 3**0.5)
    assert coarse.uncertainty_um == pytest.approx(2 * 30 / 3**0.5)
    assert Caveat.INSTRUMENT_UNKNOWN in fine.caveats


def test_an_upper_limit_alone_is_not_held_from_below(shop: Any) -> None:
    shop.limit("C-047", Limit(30 * UM, characteristic="jaw lift"))
    log(shop, "jaw lift", DAYS, read(9), read(11))
    found = value(shop, "jaw lift")
    assert found.next_clampings == "holds"
    assert found.bounds_um is not None
    assert found.bounds_um.low is None


def test_flushness_is_signed_and_never_a_swing(shop: Any) -> None:
    shop.limit("C-047", Limit(0, characteristic="flushness", lower_pm=-50 * UM))
    log(shop, "flushness", DAYS, read(-24), read(-26))
    assert value(shop, "flushness").next_clampings == "holds"
    assert shop.answer("C-047").groups == ()
    log(shop, "flushness", ["2026-04-01"], read(8))
    proud = value(shop, "flushness")
    assert (proud.as_read, proud.read_um.high) == ("does not hold", 8.0)


def test_what_pins_tell_is_judged_by_both_ends(shop: Any) -> None:
    """Unnamed pins count 5.08 um, rectangular, k = 1.645 for the guard band: 4.8 um (ASME B89.1.5, class ZZ)."""
    shop.limit("C-047", Limit(6_500 * UM, characteristic="bore", lower_pm=6_470 * UM))
    log(shop, "bore", DAYS[:1], read(6_485, ends=(6_480, 6_490), step=10 * UM), instrument="")
    found = value(shop, "bore")
    assert (found.by_pins, found.read_um.low, found.read_um.high) == (True, 6_480.0, 6_490.0)
    assert (found.read_um.mean, found.read_um.last) == (None, None)
    assert found.as_read == "holds"
    assert found.uncertainty_um == pytest.approx(2 * 5.08 / 3**0.5)
    assert Caveat.BY_PINS in found.caveats


@pytest.mark.parametrize(("upper", "as_read"), [(6_495.0, "holds"), (6_494.0, "cannot tell"), (6_486.0, "cannot tell")])
def test_the_middle_of_what_pins_tell_proves_nothing(shop: Any, upper: float, as_read: str) -> None:
    shop.limit("C-047", Limit(round(upper * UM), characteristic="bore", lower_pm=6_400 * UM))
    log(shop, "bore", DAYS[:1], read(6_485, ends=(6_480, 6_490), step=10 * UM), instrument="")
    assert value(shop, "bore").as_read == as_read


def test_a_bore_that_a_pin_goes_into_beyond_its_limit_does_not_hold(shop: Any) -> None:
    shop.limit("C-047", Limit(6_474 * UM, characteristic="bore", lower_pm=6_400 * UM))
    log(shop, "bore", DAYS[:1], read(6_485, ends=(6_480, 6_490), step=10 * UM), instrument="")
    assert value(shop, "bore").as_read == "does not hold"


@pytest.mark.parametrize(
    ("upper", "told_of_next"),
    [(6_540.0, "holds"), (6_500.0, "cannot tell"), (6_484.0, "cannot tell"), (6_440.0, "does not hold")],
)
def test_pins_that_tell_the_same_on_many_days_settle_what_is_far_from_the_limits(
    shop: Any, upper: float, told_of_next: str
) -> None:
    """On eight days between 6.48 and 6.49; the upper limit lies 50 and 10 um above, between the pins, 40 um below."""
    shop.limit("C-047", Limit(round(upper * UM), characteristic="bore", lower_pm=6_430 * UM))
    log(shop, "bore", DAYS, read(6_485, ends=(6_480, 6_490), step=10 * UM), instrument="")
    assert value(shop, "bore").next_clampings == told_of_next


@pytest.mark.parametrize(("low", "high"), [(6_535, 6_545), (6_380, 6_390)])
def test_of_a_bore_that_all_pins_tell_beyond_a_limit_the_days_that_are_missing_are_asked_for(
    shop: Any, low: float, high: float
) -> None:
    """Three readings of one day do not settle it, the days that were foretold do."""
    shop.limit("C-047", Limit(6_500 * UM, characteristic="bore", lower_pm=6_430 * UM))
    pins = read((low + high) / 2, ends=(low, high), step=10 * UM)
    log(shop, "bore", DAYS[:1], pins, pins, pins, instrument="")
    found = value(shop, "bore")
    assert found.next_clampings == "cannot tell"
    assert Caveat.MORE_WILL_NOT_TELL not in found.caveats
    more = found.more_readings or 0
    assert more > 0
    log(shop, "bore", DAYS[1:more], pins, instrument="")
    assert value(shop, "bore").next_clampings == "cannot tell"
    log(shop, "bore", DAYS[more : more + 1], pins, instrument="")
    assert told(value(shop, "bore"))[0::2] == ("does not hold", "does not hold")


def test_of_a_depth_read_beyond_its_limit_more_days_are_asked_for_and_nothing_finer(shop: Any) -> None:
    shop.limit("C-047", DEPTH)
    log(shop, "depth", DAYS[:1], read(12_089), read(12_090), read(12_091))
    found = value(shop, "depth")
    assert (found.as_read, found.next_clampings) == ("does not hold", "cannot tell")
    assert Caveat.MORE_WILL_NOT_TELL not in found.caveats
    assert found.more_readings == 5


def test_of_a_gap_the_bore_less_the_pin_counts_with_the_uncertainty_of_both(shop: Any) -> None:
    shop.limit("C-047", Limit(100 * UM, characteristic="diametral gap", lower_pm=20 * UM))
    log(shop, "diametral gap", DAYS, read(8_060, 8_000), read(8_059, 8_000))
    found = value(shop, "diametral gap")
    assert (found.read_um.low, found.read_um.high, found.next_clampings) == (59.0, 60.0, "holds")
    assert found.uncertainty_um == pytest.approx(2 * 2**0.5 * 1.2 / 3**0.5)
    assert Caveat.KEPT_TOGETHER in found.caveats


def test_a_limit_of_the_radial_gap_is_carried_over_to_the_diametral_one(shop: Any) -> None:
    shop.limit("C-047", Limit(50 * UM, characteristic="radial gap", lower_pm=10 * UM))
    log(shop, "diametral gap", DAYS[:1], read(8_060, 8_000))
    found = value(shop, "diametral gap")
    assert found.limits_um is not None
    assert (found.limits_um.lower, found.limits_um.upper) == (20.0, 100.0)


def test_a_gap_told_by_pins_has_the_ends_of_its_bore(shop: Any) -> None:
    bore = read(8_055, ends=(8_050, 8_060), step=10 * UM)
    log(shop, "diametral gap", DAYS[:1], [*bore, *read(7_998)], instrument="")
    assert (value(shop, "diametral gap").read_um.low, value(shop, "diametral gap").read_um.high) == (52.0, 62.0)


def test_a_pair_counts_either_way_round(shop: Any) -> None:
    shop.limit("C-047", Limit(5 * UM, characteristic="pair difference", lower_pm=-5 * UM))
    log(shop, "pair difference", DAYS, read(10_000, 10_001), read(10_001, 10_000))
    found = value(shop, "pair difference")
    assert (found.read_um.low, found.read_um.high) == (-1.0, 1.0)


def test_of_a_pair_with_one_reading_struck_out_nothing_counts(shop: Any) -> None:
    (number,) = log(shop, "pair difference", DAYS[:1], read(10_002, 10_004))
    log(shop, "pair difference", DAYS[1:2], read(10_002, 10_003))

    def strike(entry: Entry, register: Register) -> None:
        striking.strike(entry, register.need("C-047", "item"), number, reason="misread", turn=1, reading=1)

    shop.do(strike)
    found = value(shop, "pair difference")
    assert (found.clampings, found.read_um.last) == (1, -1.0)


def test_a_value_in_a_setup_that_was_changed_since_is_measured_again(shop: Any) -> None:
    shop.limit("C-047", Limit(30 * UM, characteristic="jaw lift"))
    log(shop, "jaw lift", DAYS, read(9), read(11), setup="LATHE", position="A")
    assert value(shop, "jaw lift").next_clampings == "holds"
    shop.do(lambda e, r: setups.refit(e, r, r.need("LATHE", "setup"), reason="crashed", since="2026-05-01"))
    found = value(shop, "jaw lift")
    assert (found.as_read, found.next_clampings) == ("holds", "cannot tell")
    assert Caveat.SETUP_CHANGED in found.caveats


def test_a_setups_own_limit_governs_what_is_read_in_it(shop: Any) -> None:
    shop.limit("LATHE", Limit(5 * UM, characteristic="jaw lift"))
    log(shop, "jaw lift", DAYS, read(19), read(21), setup="LATHE", position="A")
    found = value(shop, "jaw lift")
    assert (found.limit_from, found.next_clampings) == ("setup", "does not hold")
    (answer,) = assess(shop.store, "LATHE")
    assert [one.characteristic for one in answer.values] == ["jaw lift"]


def test_a_limit_at_another_distance_is_not_carried_over(shop: Any) -> None:
    shop.limit("C-047", dataclasses.replace(DEPTH, distance_pm=4 * MM))
    log(shop, "depth", DAYS[:1], read(12_025))
    found = value(shop, "depth")
    assert told(found) == ("no limit",) * 3
    assert Caveat.LIMIT_ELSEWHERE in found.caveats


def test_the_document_has_a_plain_key_for_every_figure(shop: Any) -> None:
    log(shop, "depth", DAYS[:1], read(12_025))
    ((one,),) = [answer["values"] for answer in document(assess(shop.store, "C-047"))["answers"]]
    keys = "read_um bounds_um uncertainty_um resolution_um limits_um limit_from as_read this_sitting next_clampings"
    assert set(keys.split()) < set(one)
    assert set(one["read_um"]) == {"low", "high", "mean", "sd", "last"}


def test_recalled_readings_are_kept_but_count_for_nothing(shop: Any) -> None:
    log(shop, "depth", ["2019-05"], read(12_090), recalled=True)
    log(shop, "depth", DAYS[:1], read(12_025))
    found = value(shop, "depth")
    assert (found.clampings, found.read_um.high) == (1, 12_025.0)
    assert Caveat.RECALLED_LEFT_OUT in found.caveats
