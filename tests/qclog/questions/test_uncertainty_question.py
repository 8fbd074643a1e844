"""What uncertainty answers: the budget of a verdict line by line, and what can be proven with it. Constructed cases."""

import json
import re
from typing import Any

import numpy as np
import pytest

from qclog.characteristics import meant
from qclog.errors import NotFoundError
from qclog.logbook import gauges
from qclog.logbook.lookup import Register
from qclog.questions.codes import Caveat, Source
from qclog.questions.judging.judgement import judgement_in
from qclog.questions.known import Known
from qclog.questions.uncertainty import Place, document, uncertainty
from qclog.records import Clamping, Limit, Reading, Turn
from reports.uncertainty import budgets

UM = 1_000_000
MM = 1_000_000_000
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 7))
SWINGS = (4.0, 4.6, 4.3)


def place(shop: Any, item: str = "C-046") -> Place:
    (answer,) = uncertainty(shop.store, [item])
    (found,) = answer.places
    return found


def certificate(shop: Any, code: str = "D-1", *, uncertainty_pm: int = 400_000, **more: Any) -> None:
    def add(entry: Any, register: Any) -> None:
        instrument = register.need(code, "instrument")
        gauges.add_calibration(
            entry,
            register,
            instrument,
            done_on="2026-02-01",
            due_on="2027-02-01",
            uncertainty_pm=uncertainty_pm,
            coverage_factor=2.0,
            **more,
        )

    shop.do(add)


@pytest.mark.parametrize(
    ("changes", "sources"),
    [
        ({}, {Source.INDICATOR_ERROR_LIMIT, Source.LEVER_ANGLE}),
        ({"pin": "P-65"}, {Source.INDICATOR_ERROR_LIMIT, Source.LEVER_ANGLE, Source.PIN_ROUNDNESS}),
        ({"lever_mdeg": 12_000}, {Source.INDICATOR_ERROR_LIMIT, Source.LEVER_ANGLE}),
        ({"lever_mdeg": None}, {Source.INDICATOR_ERROR_LIMIT, Source.LEVER_ANGLE_UNKNOWN}),
        ({"instrument": "D-2"}, {Source.INDICATOR_ASSUMED, Source.LEVER_ANGLE_UNKNOWN}),
        (
            {"instrument": "", "pin": "P-65"},
            {Source.INDICATOR_ASSUMED, Source.LEVER_ANGLE_UNKNOWN, Source.PIN_ROUNDNESS},
        ),
    ],
)
def test_the_lines_add_up_to_the_uncertainty_of_the_verdict(
    shop: Any, changes: dict[str, Any], sources: set[Source]
) -> None:
    shop.log(SWINGS, **changes)
    found = place(shop)
    assert {line.source for line in found.lines} == sources
    assert sum(line.u_um**2 for line in found.lines) ** 0.5 == pytest.approx(found.u_um, rel=1e-12)
    assert sum(line.share for line in found.lines) == pytest.approx(1.0, rel=1e-12)
    assert found.expanded_um == pytest.approx(shop.group().uncertainty_um, rel=1e-12)
    for line in found.lines:
        assert line.u_um == pytest.approx(line.value / line.divisor * abs(line.sensitivity), rel=1e-12)


def test_a_certificate_counts_in_place_of_the_error_limit(shop: Any) -> None:
    certificate(shop, error_limit_pm=1_200_000)
    shop.log(SWINGS)
    (line,) = [line for line in place(shop).lines if line.source == Source.INDICATOR_CERTIFICATE]
    assert (line.value, line.divisor, line.u_um) == pytest.approx((0.4, 2.0, 0.2))
    assert place(shop).expanded_um == pytest.approx(shop.group().uncertainty_um, rel=1e-12)


def test_of_several_ways_of_reading_the_most_uncertain_counts(shop: Any) -> None:
    shop.log(SWINGS)
    shop.log(SWINGS, days=("2026-03-09",), instrument="D-2")
    found = place(shop)
    assert (found.instrument, found.ways, found.widened) == ("D-2", 2, "linear")
    assert found.expanded_um == pytest.approx(shop.group().uncertainty_um, rel=1e-12)


@pytest.mark.parametrize("logged", ["swings", "vectors"])
def test_more_days_are_asked_for_until_the_limit_they_would_prove_is_the_one_set(shop: Any, logged: str) -> None:
    """``more_clampings`` of assess and the limits to come are two ways to the same count, where u adds as a whole."""
    if logged == "swings":
        for day, swing in zip(DAYS, (4.0, 4.8, 3.6, 4.4, 4.9, 3.9), strict=True):
            shop.log([swing], days=(day,), instrument="")
    else:
        vectors = (2.0 + 0.1j, 2.3 - 0.2j, 1.8 + 0.0j, 2.1 + 0.3j)
        shop.log_vectors(vectors, days=DAYS[:4], instrument="")
    held = place(shop)
    assert held.holds_from_um is not None
    best = held.to_come[-1]
    assert best.days is None
    shop.limit("C-046", Limit(round((held.holds_from_um + 3 * best.limit_um) / 4 * UM), distance_pm=16 * MM))
    more, limit = shop.group().more_clampings, shop.group().limit_um
    with shop.store.reading() as connection:
        items = [Register(connection).need("C-046", "item").id]
        judgement = judgement_in(Known(connection, items))
    before, after = judgement.judged.holds_from_with([more - 1, more])[0]
    assert after <= limit < before


def test_what_can_be_proven_falls_with_the_days_and_stays_above_the_best(shop: Any) -> None:
    for day, swing in zip(DAYS, (4.0, 4.8, 3.6, 4.4, 4.9, 3.9), strict=True):
        shop.log([swing], days=(day,))
    found = place(shop)
    limits = [known.limit_um for known in found.to_come]
    assert [known.days for known in found.to_come] == [1, 3, 10, None]
    assert found.holds_from_um is not None
    assert [found.holds_from_um, *limits] == sorted([found.holds_from_um, *limits], reverse=True)
    assert found.suited_from_um == pytest.approx(3 * found.u_um)


def test_what_one_clamping_a_day_would_not_better_is_not_told(shop: Any) -> None:
    """Three clampings on each of four days prove more than one clamping on each of five."""
    shop.log((4.0, 4.4, 3.6), days=DAYS[:4])
    found = place(shop)
    assert found.holds_from_um is not None
    assert all(known.limit_um < found.holds_from_um for known in found.to_come)
    assert found.to_come[-1].days is None


def test_the_best_is_the_95_per_cent_point_and_what_the_indicator_adds(shop: Any) -> None:
    """Against numpy and the formula by hand: one clamping a day, y = T^(2/3), z = 1.644854 (from memory)."""
    swings = np.array([4.0, 4.8, 3.6, 4.4, 4.9, 3.9])
    for day, swing in zip(DAYS, swings, strict=True):
        shop.log([float(swing)], days=(day,))
    found, y = place(shop), swings ** (2 / 3)
    point = (y.mean() + 1.644854 * y.std(ddof=1)) ** 1.5
    centre = y.mean() ** 1.5
    by_hand = centre + np.hypot(point - centre, 1.644854 * found.u_um)
    assert found.to_come[-1].limit_um == pytest.approx(by_hand, rel=1e-6)


def test_a_limit_below_the_best_is_said_to_be_out_of_reach(shop: Any) -> None:
    shop.log((4.0, 4.8, 3.6), days=DAYS)
    assert Caveat.LIMIT_OUT_OF_REACH not in place(shop).caveats
    shop.limit("C-046", Limit(4_500_000, distance_pm=16 * MM))
    assert Caveat.LIMIT_OUT_OF_REACH in place(shop).caveats


def test_a_limit_below_three_times_the_uncertainty_is_warned_about_here_and_in_assess(shop: Any) -> None:
    shop.log((1.0, 1.2), instrument="D-2")
    assert Caveat.INSTRUMENT_NOT_SUITED in place(shop).caveats
    assert Caveat.INSTRUMENT_NOT_SUITED in shop.group().caveats
    assert place(shop).suited_from_um > 8.0


def test_one_sitting_tells_nothing_of_what_more_days_would_prove(shop: Any) -> None:
    shop.log(SWINGS, days=DAYS[:1])
    found = place(shop)
    assert (found.holds_from_um, found.to_come) == (None, ())
    assert "no limit is proven to hold" in budgets(uncertainty(shop.store, ["C-046"]))


def test_the_text_names_the_lines_and_fits_a_terminal(shop: Any) -> None:
    shop.log(SWINGS, pin="P-65")
    text = budgets(uncertainty(shop.store, ["C-046"]))
    for words in (
        "indicator, by its error limit",
        "roundness of the pin",
        "expanded, U = 2 u",
        "The limit here is 8 µm",
    ):
        assert words in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 100


def test_an_item_without_clampings_is_told_so(shop: Any) -> None:
    (answer,) = uncertainty(shop.store, ["C-047"])
    assert answer.places == ()
    assert "nothing was read of it as it is now" in budgets([answer])


def test_what_is_unknown_is_refused(shop: Any) -> None:
    with pytest.raises(NotFoundError):
        uncertainty(shop.store, ["C-999"])


def test_the_document_is_plain_json(shop: Any) -> None:
    shop.log(SWINGS)
    told = json.loads(json.dumps(document(uncertainty(shop.store, ["C-046", "C-047"]))))
    assert told["question"] == "uncertainty"
    assert [answer["item"] for answer in told["answers"]] == ["C-046", "C-047"]
    assert told["answers"][0]["places"][0]["lines"][0]["source"] == "indicator_error_limit"


@pytest.mark.parametrize(
    ("characteristic", "values_um", "readings", "times", "widths"),
    [
        ("depth", (12_020,), 1, 1.0, 6.0),
        ("pair difference", (10_002, 10_000), 2, 2.0**0.5, 6.0),
        ("lift", (9,), 1, 1.0, 3.0),
    ],
)
def test_of_a_size_the_gauge_counts_once_and_of_two_readings_kept_together_twice(
    shop: Any, characteristic: str, values_um: tuple[int, ...], readings: int, times: float, widths: float
) -> None:
    certificate(shop, "D-2", uncertainty_pm=3 * UM)
    characteristic = meant(characteristic)
    turn = Turn("value", tuple(Reading(value * UM, f"{value}", UM) for value in values_um), 0, characteristic)
    shop._log(shop.store, *(Clamping("C-046", "", day, (turn,), instrument="D-2") for day in DAYS))
    (answer,) = uncertainty(shop.store, ["C-046"])
    (found,) = answer.values
    assert (answer.places, found.readings, found.assumed) == ((), readings, False)
    assert found.gauge_u_um == pytest.approx(1.5)
    assert found.u_um == pytest.approx(1.5 * times)
    assert found.narrowest_um == pytest.approx(widths * found.u_um)
    text = budgets([answer])
    assert f"C-046, {characteristic}: the gauge counts with ± 3.0 µm (k = 2), by its calibration." in text
    assert ("both count" in text) is (readings == 2)
    assert "qclog log" not in text


def test_of_a_size_without_a_gauge_it_is_said_that_its_uncertainty_is_assumed(shop: Any) -> None:
    turn = Turn("value", (Reading(12_020 * UM, "12.02", UM),), 0, "depth")
    shop._log(shop.store, Clamping("C-046", "", DAYS[0], (turn,)))
    (answer,) = uncertainty(shop.store, ["C-046"])
    assert answer.values[0].assumed
    assert "assumed, as no calibration is known" in " ".join(budgets([answer]).split())


def test_limits_many_times_what_was_read_are_not_named_and_more_days_are_asked_for(shop: Any) -> None:
    for day, swings in (("2026-03-01", (4.0, 4.6, 4.3)), ("2026-03-02", (6.4, 6.0, 6.7))):
        shop.log(swings, days=(day,))
    found = place(shop)
    assert (found.holds_from_um or 0) > 100
    assert max(known.limit_um for known in found.to_come) > 5 * found.mean_um
    text = " ".join(budgets(uncertainty(shop.store, ["C-046"])).split())
    assert "2 sittings tell too little to prove a limit of use: more days are needed. About " in text
    assert "with 10 more days of one clamping each" in text
    assert max(float(um) for um in re.findall(r"([0-9.]+) µm", text)) <= 5 * found.mean_um
