"""Soft jaws bored for a job: two or three clampings lean on what other jaws in the chuck, and these before, showed."""

from typing import Any

import numpy as np
import pytest

from qclog.logbook import items
from qclog.logbook.entries import Entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import assess
from qclog.questions.codes import Caveat
from qclog.questions.due import due
from qclog.records import Card, Limit, Work
from qclog.statistics.bounding.bounds import Method, bounds_within_sitting
from qclog.statistics.bounding.factors import tolerance_factor
from qclog.statistics.bounding.pooled_repeat import lean_on_others
from qclog.statistics.swings import SwingGroups, group_swings

UM = 1_000_000
JOBS = ((6.1, 7.2, 6.5, 6.9, 6.4), (4.8, 5.4, 5.9, 5.1, 5.5), (8.1, 7.3, 7.9, 8.4, 7.7))


def groups(*swings: tuple[float, ...]) -> SwingGroups:
    tir = [one for group in swings for one in group]
    which = [i for i, group in enumerate(swings) for _ in group]
    return group_swings(tir, which, np.zeros(len(tir), int), groups=len(swings), resolution_um=0.1)


def lean(*swings: tuple[float, ...]) -> Any:
    all_of = groups(*swings)
    leaning = np.ones(len(swings), bool)
    return lean_on_others(bounds_within_sitting(all_of), all_of, all_of, np.zeros(len(swings), int), leaning)


def test_the_bound_is_the_mean_and_so_many_of_the_pooled_standard_deviation() -> None:
    """The factor: ISO 16269-6 by the noncentral t; the mean squares by hand: 12 of the others, counted as 6, and 1."""
    found = lean(*JOBS, (5.0, 5.6))
    others = sum(np.var(job, ddof=1) * 4 for job in JOBS) / 12
    sd = np.sqrt((6 * others + np.var([5.0, 5.6], ddof=1)) / 7)
    assert found.method[3] == Method.ONE_SITTING_POOLED
    assert found.upper_um[3] == pytest.approx(5.3 + float(tolerance_factor(2, 7, 0.95)) * sd, rel=1e-12)


def test_four_clampings_speak_for_themselves_and_one_says_nothing() -> None:
    found = lean(*JOBS, (5.0, 5.6, 5.2, 5.3), (5.0,))
    assert found.method[3:].tolist() == [Method.ONE_SITTING, Method.NONE]


def test_jaws_that_move_more_than_the_others_do_not_lean_on_them() -> None:
    """The F test at 5 %: 15 µm apart where the others scatter by half a micrometre."""
    assert lean(*JOBS, (2.0, 17.0)).method[3] == Method.NONE


def test_too_little_of_others_is_nothing_to_lean_on() -> None:
    assert lean(JOBS[0], JOBS[1][:4], (5.0, 5.6)).method[2] == Method.NONE


@pytest.mark.parametrize("clampings", [2, 3])
@pytest.mark.parametrize("differing", [0.0, 0.3])
def test_pooled_bounds_hold_what_they_say(clampings: int, differing: float) -> None:
    """Own simulation, 1,000 sets of clampings about 8, leaning on three jobs of five; the scatter of each is 0.6, alike
    or differing by 30 %. With 1.645 standard deviations instead of the factor they would hold 0.51."""
    rng = np.random.default_rng(5)
    good = 0
    for _ in range(1_000):
        scatter = 0.6 * np.exp(differing * rng.standard_normal(4))
        jobs = [tuple(8 + one * rng.standard_normal(5)) for one in scatter[:3]]
        found = lean(*jobs, tuple(8 + scatter[3] * rng.standard_normal(clampings)))
        good += not np.isfinite(found.upper_um[3]) or found.upper_um[3] >= 8 + 1.645 * scatter[3]
    assert 0.93 < good / 1_000 < 0.993


@pytest.fixture
def jaws(shop: Any) -> Any:
    """JW-1 bored for three jobs before and now for a fourth, JW-2 never; both in LATHE."""

    def register(entry: Entry, register: Register) -> None:
        for code in ("JW-1", "JW-2"):
            items.add_item(entry, register, code, Card(kind="jaws"), [Limit(20 * UM)])

    shop.do(register)
    for number, swings in enumerate(JOBS, start=1):
        work = Work(what="bored on ring R-24", done_at=f"2026-02-0{number}T08:00", limits=(Limit(20 * UM),))
        shop.do(lambda e, r, work=work: items.modify(e, r, r.need("JW-1", "item"), work))
        shop.log(swings, item="JW-1", days=[f"2026-02-0{number}T09:00"])
    work = Work(what="bored on slug", done_at="2026-02-09T08:00", limits=(Limit(20 * UM),))
    shop.do(lambda e, r: items.modify(e, r, r.need("JW-1", "item"), work))
    return shop


@pytest.mark.parametrize("item", ["JW-1", "JW-2"])
def test_two_clampings_of_newly_bored_jaws_are_judged_for_the_sitting(jaws: Any, item: str) -> None:
    jaws.log((5.0, 5.6), item=item, days=["2026-02-09T09:00"])
    for answer in (jaws.answer(item), *(a for a in assess(jaws.store) if a.item == item)):
        (group,) = answer.groups
        assert (group.this_sitting, group.next_clampings) == ("holds", "cannot tell")
        assert Caveat.CHUCK_REPEAT in group.caveats
        assert Caveat.FEW_CLAMPINGS not in group.caveats
        assert group.bound is not None
        assert group.bound.method == "one sitting, with others' repeat"


def test_collets_with_two_clampings_get_no_verdict_from_jaws(jaws: Any) -> None:
    jaws.log((2.0, 2.2), days=["2026-02-09T09:00"])
    group = jaws.group()
    assert group.this_sitting == "cannot tell"
    assert Caveat.CHUCK_REPEAT not in group.caveats


def test_the_repeat_of_before_is_not_shown_as_a_group_of_its_own(jaws: Any) -> None:
    jaws.log((5.0, 5.6), item="JW-1", days=["2026-02-09T09:00"])
    assert [group.clampings for group in jaws.answer("JW-1").groups] == [2]


def test_jaws_judged_for_their_job_are_not_asked_for_on_other_days(jaws: Any) -> None:
    assert "JW-1" in [one.code for one in due(jaws.store)]
    jaws.log((5.0, 5.6), item="JW-1", days=["2026-02-09T09:00"])
    assert "JW-1" not in [one.code for one in due(jaws.store)]
