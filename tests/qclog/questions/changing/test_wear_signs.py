"""The signs of a change: known cases through the question, hints told from what is likely real, and chance counted."""

import dataclasses
import datetime
import json
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from qclog.logbook import items
from qclog.logbook.figures import Series
from qclog.questions.changing import changes as looked_for
from qclog.questions.changing.by_chance import by_chance, marks
from qclog.questions.changing.changes import Changes, changes_of
from qclog.questions.changing.histories import DATE, WORK, History, by_sitting, written
from qclog.questions.changing.outlook import crosses
from qclog.questions.codes import Sign, Worth
from qclog.questions.wear import RETIRE, WATCH, Answer, document, wear
from qclog.records import Limit, Work

Floats = npt.NDArray[np.float64]

WORN_X = (1, 4, 8, 12, 15, 20, 24, 30, 33, 40)
WORN = (4.8, 5.3, 4.4, 5.9, 5.2, 6.4, 5.8, 6.9, 6.1, 7.2)
STEPPED = (5.0, 4.6, 5.4, 4.9, 5.3, 4.7, 5.1, 5.6, 4.8, 5.2, 7.1, 6.6, 7.4, 6.9)
ROUND = (3, 5, 8, 10, 12, 15, 20, 25, 30, 40)
P = (
    *(0.0004, 0.003, 0.011, 0.018, 0.04, 0.09, 0.21, 0.33, 0.47, 0.52),
    *(0.61, 0.68, 0.77, 0.81, 0.9, 0.93, 0.95, 0.97, 0.98, 0.99),
)


def days(count: int, apart: int = 20) -> tuple[str, ...]:
    start = datetime.date(2026, 1, 10)
    return tuple((start + datetime.timedelta(days=i * apart)).isoformat() for i in range(count))


def log_each(shop: Any, swings: Sequence[float], **changes: Any) -> None:
    for day, swing in zip(days(len(swings)), swings, strict=True):
        shop.log((swing,), days=(day,), **changes)


def history(number: int, swings: npt.ArrayLike, *, per_day: int = 1, distance_mm: int = 25) -> History:
    """Swings of an item of this number, so many a day, read to 0.1 µm, a day apart."""
    tir = np.asarray(swings, dtype=np.float64)
    n = tir.size
    day = np.arange(n) // per_day
    series = Series(
        *(1000 * number + distance_mm, number, f"C-{number}", 0, "L1", 1, 1, 1),
        *("", "", -1, distance_mm * 10, "runout"),
    )
    return History(
        series=series,
        swings=np.round(tir, 1),
        x=np.asarray(day + 738_000.0, dtype=np.float64),
        order=20_260_100_000_000 + 1_000_000 * (day + 1),
        sitting=day,
        clamping=np.arange(n),
        step_um=0.1,
        axis=DATE,
        worked=None,
        in_doubt=False,
    )


def changes(swings: npt.ArrayLike, per_day: int = 1) -> Changes:
    (found,) = changes_of([history(1, swings, per_day=per_day)])
    return found


def sound(rng: np.random.Generator, n: int, systematic: float) -> Floats:
    return np.asarray(np.abs(systematic + rng.standard_normal(n) + 1j * rng.standard_normal(n)))


def answer(shop: Any, item: str = "C-046") -> Answer:
    (found,) = wear(shop.store, [item])
    return found


def test_the_known_drift_has_its_known_slope_and_crossing_in_clampings_in_work(shop: Any) -> None:
    """Constructed case, figures by a general-purpose library; one clamping each, use noted between."""
    shop.limit("C-046", Limit(10_000_000, distance_pm=16_000_000_000, text="10um@16mm"))
    log_each(shop, WORN)
    for day, used in zip(days(10), np.diff((0, *WORN_X)), strict=True):
        before = (datetime.date.fromisoformat(day) - datetime.timedelta(days=1)).isoformat()
        shop.do(
            lambda entry, register, at=before, count=int(used): items.record_use(
                entry, register.need("C-046", "item"), used_on=at, clampings=count, hours=None, note=""
            )
        )
    found = answer(shop)
    assert (found.axis, found.worked) == (WORK, 40)
    assert found.trend is not None
    assert found.trend.per_1000_um == pytest.approx(58.560, abs=6e-4)
    assert (found.trend.low, found.trend.high) == pytest.approx((29.012, 88.108), abs=6e-4)
    assert found.crosses is not None
    assert (found.crosses.early, found.crosses.median, found.crosses.late) == ("55", "76", None)
    assert (found.crosses.horizon, found.crosses.now) == ("79", False)
    assert found.level_um == pytest.approx(5.8 + 0.058560 * (40 - 18.7), abs=1e-4)
    assert Sign.LEVEL_RISES in found.because


def test_use_before_the_last_modification_does_not_count(shop: Any) -> None:
    def work(entry: Any, register: Any) -> None:
        item = register.need("C-046", "item")
        items.record_use(entry, item, used_on="2025-01-01", clampings=900, hours=None, note="")
        items.modify(entry, register, item, Work(what="bored", done_at="2025-06-01"))
        for day, count in (("2026-01-05", 100), ("2026-01-25", 200)):
            items.record_use(entry, item, used_on=day, clampings=count, hours=None, note="")

    shop.do(work)
    log_each(shop, (4.0, 4.2, 4.1))
    assert answer(shop).worked == 300


def test_the_known_step_is_seen_by_the_chart_from_the_clamping_after_it(shop: Any) -> None:
    """Constructed case: the sum exceeds its limit at the twelfth clamping and points to the change after the tenth."""
    log_each(shop, STEPPED)
    found = answer(shop)
    assert found.signal == days(14)[10]
    assert found.step is not None
    assert found.step.at == days(14)[10]
    assert {Sign.CHART_SIGNAL, Sign.STEPPED} <= set(found.because)
    told = json.loads(json.dumps(document([found])))
    assert {test["sign"] for test in told["answers"][0]["tests"] if test["found"]} >= {"chart_signal", "stepped"}


def test_a_chart_that_came_back_to_what_it_was_no_longer_signals() -> None:
    assert changes(STEPPED).signal == "2026-01-11"
    assert changes((*STEPPED, *([5.0, 4.8, 5.2, 4.7] * 4))).signal is None


def test_the_known_list_has_its_known_marks() -> None:
    """Constructed case: of twenty p values four are likely real, the fifth is a hint, one is expected by chance."""
    tests = [looked_for.Tested(Sign.LEVEL_RISES, p <= 0.05, p, by_chance=0.05) for p in P]
    assert marks(tests) == [Worth.LIKELY_REAL] * 4 + [Worth.SINGLE_HINT] + [None] * 15
    chance = by_chance(tests)
    assert chance.expected == pytest.approx(1.0)
    assert chance.found == 5
    assert not chance.no_more_than_chance
    assert by_chance(tests[4:]).no_more_than_chance
    assert marks([]) == []


def test_a_drawer_of_sound_items_shows_no_more_signs_than_chance_and_calls_hardly_any_real() -> None:
    """30 drawers of 40 items with ten clampings on ten days: 6.1 signs expected, 4.4 found (own simulation)."""
    rng = np.random.default_rng(20261101)
    within, found, expected, real = [], [], [], []
    for _ in range(30):
        drawer = [history(i, sound(rng, 10, rng.uniform(0.0, 6.0))) for i in range(40)]
        tests = [test for one in changes_of(drawer) for test in one.tests]
        chance = by_chance(tests)
        within.append(chance.no_more_than_chance)
        found.append(chance.found)
        expected.append(chance.expected)
        real.append(Worth.LIKELY_REAL in marks(tests))
    assert np.mean(within) >= 0.9
    assert np.mean(expected) == pytest.approx(40 * (0.05 + 0.025 + 0.05 + 10 / 370))
    assert 3.0 <= np.mean(found) <= 6.1
    assert np.mean(real) <= 0.3


def test_in_a_drawer_with_four_worn_items_they_are_likely_real_and_the_list_says_more_than_chance() -> None:
    rng = np.random.default_rng(20261102)
    drawer = [history(i, sound(rng, 10, 6.0) + (0.8 * np.arange(10) if i < 4 else 0.0)) for i in range(40)]
    found = changes_of(drawer)
    tests = [test for one in found for test in one.tests]
    told = dict(zip([(one.series.item_id, t.sign) for one in found for t in one.tests], marks(tests), strict=True))
    assert {told[i, Sign.LEVEL_RISES] for i in range(4)} == {Worth.LIKELY_REAL}
    assert not by_chance(tests).no_more_than_chance


def test_a_watch_that_rests_on_one_of_many_tests_is_a_single_hint(shop: Any) -> None:
    """The same record, alone likely real; beside twenty steady ones a hint."""
    weak = (4.0, 4.5, 4.1, 4.4, 4.4, 4.3, 4.8, 4.6)
    shop.limit("C-046", Limit(20_000_000, distance_pm=16_000_000_000, text="20um@16mm"))
    log_each(shop, weak)
    alone = answer(shop)
    assert (alone.decision, alone.because, alone.single_hint) == (WATCH, (Sign.LEVEL_RISES,), False)
    rng = np.random.default_rng(3)
    for i in range(20):
        log_each(shop, [round(float(swing), 1) for swing in 6.0 + 0.5 * rng.standard_normal(8)], distance_mm=20 + i)
    answers = wear(shop.store)
    (among,) = [one for one in answers if one.distance_mm == 16.0]
    assert (among.decision, among.because, among.single_hint) == (WATCH, (Sign.LEVEL_RISES,), True)
    told = document(answers)
    assert told["tests"] == sum(len(one.tests) for one in answers)
    assert told["expected_by_chance"] == pytest.approx(21 * (0.05 + 0.025 + 8 / 370) + 0.05)  # far to near
    assert told["signs"] == sum(test.found for one in answers for test in one.tests)
    shop.do(
        lambda entry, register: items.inspect_item(
            entry, register, register.need("C-046", "item"), finding="slip", seen_on="2026-07-01", note=""
        )
    )
    (slipped,) = [one for one in wear(shop.store) if one.distance_mm == 16.0]
    assert (slipped.decision, slipped.single_hint) == (WATCH, False)


def test_a_watch_because_it_cannot_be_told_is_no_hint(shop: Any) -> None:
    shop.log((4.0, 4.2), days=days(1))
    found = answer(shop)
    assert (found.decision, found.single_hint) == (WATCH, False)


def test_clampings_of_few_days_prove_no_change_however_many_they_are() -> None:
    found = changes([3.0, 3.2, 3.1, 2.9, 3.0, 6.1, 6.0, 6.3, 5.8, 6.2, 9.1, 9.0, 9.2, 8.9, 9.3], per_day=5)
    assert (found.trend, found.line, found.step, found.more_days) == (None, None, None, 2)
    assert not {Sign.LEVEL_RISES, Sign.STEPPED}.intersection(found.signs)


def test_the_interval_of_a_slope_covers_where_days_differ_as_much_as_clampings() -> None:
    """Told for 95 %; from all clampings alike it covers 0.69 (own simulation)."""
    rng = np.random.default_rng(20261103)
    held = []
    for _ in range(400):
        swings = 20.0 + np.repeat(rng.standard_normal(7), 5) + rng.standard_normal(35)
        trended = changes(swings, per_day=5).trend
        assert trended is not None
        held.append(trended.low <= 0.0 <= trended.high)
    assert 0.92 <= np.mean(held) <= 0.98


def test_the_band_ahead_rests_on_days_and_knows_all_clampings() -> None:
    line = changes(np.tile([4.0, 4.4, 4.2], 6), per_day=3).line
    assert line is not None
    assert (line.points, line.clampings, line.df_rest) == (6, 18, 12)


def test_days_that_resemble_each_other_have_to_prove_a_rise_more_strictly() -> None:
    """Without that 0.22 of them would be said to rise (own simulation)."""
    rng = np.random.default_rng(20261104)
    rising, noticed = [], []
    for _ in range(200):
        z = rng.standard_normal(30)
        for i in range(1, 30):
            z[i] = 0.6 * z[i - 1] + 0.8 * z[i]
        found = changes(10.0 + z)
        assert found.trend is not None
        noticed.append(found.trend.dependent)
        rising.append(Sign.LEVEL_RISES in found.signs)
        assert (Sign.LEVEL_RISES in found.signs) == found.trend.worse
    assert np.mean(noticed) >= 0.75
    assert np.mean(rising) <= 0.09


def test_one_wild_clamping_does_not_make_a_bell_mouth() -> None:
    far = np.array([4.0, 4.1, 3.9, 4.0, 4.2, 12.0])
    pair = [history(1, np.full(6, 3.0), distance_mm=3), history(1, far)]
    assert Sign.FAR_TO_NEAR_GROWN not in changes_of(pair)[1].signs
    worn = [history(1, np.full(6, 3.0), distance_mm=3), history(1, far[:1] + 1.2 * np.arange(6))]
    near, found = changes_of(worn)
    assert Sign.FAR_TO_NEAR_GROWN in found.signs
    assert all(isinstance(test.found, bool) and isinstance(test.p_value, float) for test in found.tests)
    assert Sign.FAR_TO_NEAR_GROWN not in near.signs
    doubtful = [worn[0], dataclasses.replace(worn[1], in_doubt=True)]
    assert [one.tests for one in changes_of(doubtful[1:])] == [()]
    assert all(test.sign != Sign.FAR_TO_NEAR_GROWN for one in changes_of(doubtful) for test in one.tests)
    two_days = [history(1, np.full(2, 3.0), distance_mm=3), history(1, [4.0, 12.0])]
    assert all(test.sign != Sign.FAR_TO_NEAR_GROWN for one in changes_of(two_days) for test in one.tests)


def test_a_ratio_that_rises_a_little_is_no_bell_mouth() -> None:
    far = 4.0 + 0.3 * np.arange(6)
    pair = [history(1, np.full(6, 3.0), distance_mm=3), history(1, far)]
    assert Sign.FAR_TO_NEAR_GROWN not in changes_of(pair)[1].signs


def test_a_rising_level_alone_is_no_worse_repeat() -> None:
    assert Sign.REPEAT_GROWN not in changes(3.0 + np.array([0, 0, 0, 0, 0, 0, 2, 4, 6, 8, 10, 12.0])).signs


@pytest.mark.parametrize("rise", [0.0, 0.35])
def test_what_it_is_still_good_for_is_the_least_round_limit_it_would_be_found_to_hold(shop: Any, rise: float) -> None:
    """Ten places of one item, each past its limit by a little more: the limit it is good for is set, then the next
    smaller one."""
    rng = np.random.default_rng(20261105)
    levels = {10 + i: 9.0 + 0.6 * i for i in range(10)}
    for distance, level in levels.items():
        shop.limit("C-047", Limit(5_000_000, distance_pm=distance * 1_000_000_000, text=f"5um@{distance}mm"))
        swings = level + rise * np.arange(8) + 0.3 * rng.standard_normal(8)
        log_each(shop, [round(float(swing), 1) for swing in swings], item="C-047", distance_mm=distance)
    first = {one.distance_mm: one for one in wear(shop.store, ["C-047"])}
    assert {one.decision for one in first.values()} == {RETIRE}
    good = {distance: one.good_for_um for distance, one in first.items()}
    assert len(set(good.values())) > 1

    def holding(step: int) -> set[bool]:
        for distance, limit in good.items():
            assert limit is not None
            um = ROUND[ROUND.index(int(limit)) - step]
            shop.limit("C-047", Limit(um * 1_000_000, distance_pm=round(distance * 1e9), text=f"{um}um"))
        past = {Sign.CANNOT_TELL, Sign.DOES_NOT_HOLD}
        return {not past.intersection(one.because) for one in wear(shop.store, ["C-047"])}

    assert holding(0) == {True}
    assert holding(1) == {False}


def test_the_early_end_is_always_told_and_nothing_beyond_one_record_ahead() -> None:
    steady = changes([5.0, 5.3, 4.8, 5.1, 4.9, 5.2, 5.0, 4.9, 5.1, 5.0])
    far_off, near, none = crosses([steady] * 3, [500.0, 4.0, None])
    assert far_off is not None
    assert far_off.early == far_off.horizon == written(DATE, 738_000.0 + 9 + 9)
    assert (far_off.median, far_off.late, far_off.now) == (None, None, False)
    assert near is not None
    assert near.now
    assert none is None
    (rising,) = crosses([changes(5.0 + 0.02 * np.arange(10.0) + 0.01 * (np.arange(10) % 2))], [50.0])
    assert rising is not None
    assert rising.median is None


def test_the_next_check_is_as_far_on_as_sittings_lie_apart_however_many_clampings_each_has() -> None:
    one = history(1, np.full(15, 4.0) + 0.1 * (np.arange(15) % 3), per_day=3)
    minutes = dataclasses.replace(one, x=one.x * 7 + np.tile([0.0, 0.01, 0.02], 5))
    (found,) = changes_of([minutes])
    assert found.next_check - float(by_sitting([minutes])[0].x[-1]) == pytest.approx(7.0, abs=1e-6)
