"""Sums of swings by group and sitting, the bounds of one sitting, forecasts and refusals.

Figures are of constructed cases, computed a second time with a general-purpose library.
"""

import subprocess
import sys
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.bounds import Bounds, Method, bounds_next_clampings, bounds_within_sitting, exceedance
from qclog.statistics.bounding.factors import tolerance_factor, upper_factor
from qclog.statistics.bounding.forecast import NEVER, more_clampings, sizes_needed
from qclog.statistics.swings import SwingGroups, group_swings

SWINGS = [4.2, 5.6, 4.9, 6.3, 5.1]


def one_group(swings: npt.ArrayLike, resolution: float = 0.01, sitting: npt.ArrayLike | None = None) -> SwingGroups:
    tir = np.asarray(swings, dtype=np.float64)
    zeros = np.zeros(tir.size, dtype=np.int64)
    labels = zeros if sitting is None else sitting
    return group_swings(tir, zeros, labels, groups=1, resolution_um=resolution)


def near(found: npt.ArrayLike, printed: float) -> None:
    assert float(np.squeeze(found)) == pytest.approx(printed, abs=6e-7)


def test_the_bounds_of_one_sitting_have_their_known_figures() -> None:
    groups = one_group(SWINGS)
    bounds = bounds_within_sitting(groups)
    near(groups.mean_um, 5.22)
    near(groups.sd_um, 0.785493)
    near(groups.pooled_centre, 3.003103)
    near(groups.pooled_sd, 0.301921)
    near(bounds.upper_um, 8.829659)
    near(bounds.p95_um, 7.140723)
    near(bounds.median_um, 5.204217)
    near(bounds.centre_um, 5.204217)
    near(exceedance(groups, 8.0), 0.019694)
    near(bounds.upper_verdict_um, 11.812374)
    near(bounds.lower_verdict_um, 5.657724)
    assert bounds.method[0] == Method.ONE_SITTING


def test_the_first_three_clampings_alone_give_their_known_bound() -> None:
    near(bounds_within_sitting(one_group(SWINGS[:3])).upper_um, 11.138097)


def test_the_lower_limit_at_95_percent_has_its_known_figure() -> None:
    groups = one_group(SWINGS)
    y = groups.pooled_centre + tolerance_factor(5, 4, 0.05) * groups.pooled_sd
    near(y**1.5, 5.859042)


@pytest.mark.parametrize(
    ("limit", "attained"), [(9.0, [0.898008, 0.887640, 0.956731]), (12.0, [0.959891, 0.972828, 0.993627])]
)
def test_confidence_attained_look_by_look_matches_the_verdict(limit: float, attained: list[float]) -> None:
    for n, expected in zip((3, 4, 5), attained, strict=True):
        groups = one_group(SWINGS[:n])
        distance = (limit ** (2 / 3) - groups.pooled_centre[0]) / groups.pooled_sd[0]
        found = scipy.stats.nct.cdf(distance * np.sqrt(n), n - 1, scipy.stats.norm.ppf(0.95) * np.sqrt(n))
        near(found, expected)
        bounds = bounds_within_sitting(groups)
        assert (bounds.upper_um[0] <= limit) == (expected >= 0.95)
        assert (bounds.upper_verdict_um[0] <= limit) == (expected >= 0.993)


def test_the_forecast_at_95_percent_has_its_known_sizes() -> None:
    groups = one_group(SWINGS)
    factor = upper_factor(np.arange(201))
    for limit, size in ((7.0, 35), (8.0, 8)):
        y_limit = np.array([limit ** (2 / 3)])
        found = sizes_needed(groups.pooled_centre, groups.pooled_sd, y_limit, groups.clampings, factor)
        assert found[0] == size


def test_the_forecast_is_the_smallest_size_that_meets_the_limit() -> None:
    groups = one_group(SWINGS)
    for limit in (8.0, 9.0, 10.0, 11.0):
        more = int(more_clampings(groups, limit, within_sitting=True)[0])
        n = 5 + more
        k_now, k_before = tolerance_factor([n, n - 1], [n - 1, n - 2], 0.993)
        assert n <= 20
        assert groups.pooled_centre[0] + k_now * groups.pooled_sd[0] <= limit ** (2 / 3)
        assert groups.pooled_centre[0] + k_before * groups.pooled_sd[0] > limit ** (2 / 3)


def test_the_forecast_says_none_where_the_bound_already_holds_and_never_where_it_cannot() -> None:
    groups = one_group(SWINGS)
    upper = float(bounds_within_sitting(groups).upper_verdict_um[0])
    assert more_clampings(groups, upper + 1e-9, within_sitting=True)[0] == 0
    assert more_clampings(groups, upper - 1e-6, within_sitting=True)[0] == 1
    plug_in = float((groups.pooled_centre[0] + 1.6448536 * groups.pooled_sd[0]) ** 1.5)
    assert more_clampings(groups, plug_in, within_sitting=True)[0] == NEVER
    assert more_clampings(groups, np.nan, within_sitting=True)[0] == 0


def test_the_forecast_leaves_room_for_the_gauge() -> None:
    groups = one_group(SWINGS)
    with_gauge = more_clampings(groups, 9.5, gauge_um=1.5, within_sitting=True)
    assert with_gauge[0] == more_clampings(groups, 8.0, within_sitting=True)[0] > 0
    assert more_clampings(groups, 2.0, gauge_um=2.0, within_sitting=True)[0] == NEVER


@pytest.mark.parametrize(("swings", "more"), [([], 3), ([4.0], 2), ([4.0, 4.1], 1)])
def test_below_three_clampings_the_forecast_is_the_count_to_a_first_answer(swings: list[float], more: int) -> None:
    assert more_clampings(one_group(swings), 50.0, within_sitting=True)[0] == more


def test_one_sitting_needs_five_more_days_for_a_first_answer_about_other_days() -> None:
    assert more_clampings(one_group(SWINGS), 9.0, within_sitting=False)[0] == 5
    assert more_clampings(one_group([]), 9.0, within_sitting=False)[0] == 6


def test_the_forecast_for_other_days_counts_one_clamping_a_day() -> None:
    groups = one_group([4.2, 5.6, 4.9, 6.3, 5.1, 7.0], sitting=[1, 1, 1, 2, 2, 3])
    limit = 12.0
    more = int(more_clampings(groups, limit, within_sitting=False)[0])
    tau = np.sqrt(0.186577)
    needed = (limit ** (2 / 3) - 3.242269) / tau
    size = next(m for m in range(4, 100) if tolerance_factor(m, m - 1, 0.993) <= needed)
    assert more == size - 3 > 0
    assert more_clampings(groups, 40.0, within_sitting=False)[0] == 0


def test_the_next_clamping_exceeds_its_own_prediction_bound_in_five_of_a_hundred() -> None:
    for sitting in ([0] * 6, [1, 1, 1, 2, 2, 3], [1, 2, 3, 4, 5, 6]):
        groups = one_group([4.2, 5.6, 4.9, 6.3, 5.1, 7.0], sitting=sitting)
        bounds = bounds_within_sitting(groups) if len(set(sitting)) == 1 else bounds_next_clampings(groups)
        assert exceedance(groups, bounds.p95_um)[0] == pytest.approx(0.05, abs=1e-10)
        assert exceedance(groups, bounds.median_um)[0] == pytest.approx(0.5, abs=1e-10)


def test_without_a_limit_nothing_exceeds_it() -> None:
    groups = group_swings(SWINGS * 2, [0] * 5 + [1] * 5, [0] * 5 + [0, 0, 1, 1, 2], groups=2, resolution_um=0.1)
    assert exceedance(groups, np.nan).tolist() == [0.0, 0.0]


def test_too_few_clampings_have_no_bound_and_say_so() -> None:
    for swings in ([], [4.0], [4.0, 5.0]):
        bounds = bounds_within_sitting(one_group(swings))
        assert bounds.method[0] == Method.NONE
        for upper in (bounds.median_um, bounds.p95_um, bounds.upper_um, bounds.upper_verdict_um):
            assert np.isposinf(upper[0])
        assert np.isneginf(bounds.lower_verdict_um[0])
        assert exceedance(one_group(swings), 9.0)[0] == 1.0


def test_scatter_is_never_taken_below_that_of_the_rounding() -> None:
    """JCGM 100:2008, 4.3.7: a step hides a rectangular error of step/sqrt(12)."""
    groups = one_group([5.0] * 5, resolution=1.0)
    floor = 1.0 / np.sqrt(12.0) * (2.0 / 3.0) * 5.0 ** (-1.0 / 3.0)
    assert groups.pooled_sd[0] == pytest.approx(floor, rel=1e-12)
    assert bounds_within_sitting(groups).upper_um[0] == pytest.approx((5.0 ** (2 / 3) + 4.202681 * floor) ** 1.5)
    days = one_group([5.0] * 5, resolution=1.0, sitting=[1, 1, 2, 2, 3])
    assert days.within[0] == pytest.approx(floor**2, rel=1e-12)
    assert days.between[0] == pytest.approx(floor**2 / days.harmonic_size[0], rel=1e-12)


def test_a_swing_of_zero_is_entered_as_a_quarter_of_the_resolution() -> None:
    found, entered = one_group([0.0, 3.0, 2.0], 1.0), one_group([0.25, 3.0, 2.0], 1.0)
    assert found.pooled_centre[0] == entered.pooled_centre[0]
    assert found.pooled_sd[0] == entered.pooled_sd[0]
    assert found.min_um[0] == 0.0
    assert found.mean_um[0] == pytest.approx(5.0 / 3.0)


def test_all_swings_zero_still_have_a_bound_above_the_resolution() -> None:
    bounds = bounds_within_sitting(one_group([0.0] * 4, 1.0))
    assert 0.5 < bounds.upper_um[0] < 5.0


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, -0.1])
def test_a_swing_that_is_none_is_refused_with_its_position(bad: float) -> None:
    with pytest.raises(NotAnswerableError, match="clamping 3 of 4"):
        one_group([4.0, 5.0, bad, 6.0])


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan, np.inf])
def test_a_resolution_that_is_none_is_refused_with_its_group(bad: float) -> None:
    with pytest.raises(NotAnswerableError, match="group 2 of 2"):
        group_swings([4.0, 5.0], [0, 1], [0, 0], groups=2, resolution_um=[0.1, bad])


def test_a_large_common_part_costs_no_digits() -> None:
    """Means first, then deviations: one-pass sums of squares would lose all of them here."""
    groups = one_group(np.array([0.1, 0.2, 0.4]) + 1e6, resolution=1e-9)
    assert groups.sd_um[0] == pytest.approx(np.std([0.1, 0.2, 0.4], ddof=1), rel=1e-8)
    y = (np.array([0.1, 0.2, 0.4]) + 1e6) ** (2 / 3)
    assert groups.pooled_sd[0] == pytest.approx(np.std(y, ddof=1), rel=1e-6)


def scattered(seed: int, groups: int) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    rng = np.random.default_rng(seed)
    n = 12 * groups
    return rng.gamma(9.0, 0.6, n), rng.integers(0, groups, n), rng.choice([-7, 0, 3, 10**15], n)


def test_groups_in_any_order_have_the_sums_of_each_group_by_itself() -> None:
    tir, group, sitting = scattered(4, 30)
    group[group == 11] = 12
    found = group_swings(tir, group, sitting, groups=30, resolution_um=0.001)
    for g in range(30):
        mine, label = tir[group == g], sitting[group == g]
        assert found.clampings[g] == mine.size
        if mine.size == 0:
            continue
        parts = [mine[label == s] for s in np.unique(label)]
        n, m = mine.size, len(parts)
        assert (found.sittings[g], found.df_between[g], found.df_within[g]) == (m, m - 1, n - m)
        assert found.one_each[g] == (n == m)
        assert (found.min_um[g], found.max_um[g]) == (mine.min(), mine.max())
        assert found.harmonic_size[g] == pytest.approx(m / sum(1.0 / p.size for p in parts))
        for scale, (centre, between, within) in (
            (2 / 3, (found.centre[g], found.between[g], found.within[g])),
            (1.0, (found.linear_centre[g], found.linear_between[g], found.linear_within[g])),
        ):
            means = [np.mean(p**scale) for p in parts]
            assert centre == pytest.approx(np.mean(means))
            assert between == pytest.approx(np.var(means, ddof=1) if m > 1 else 0.0)
            squares = sum(np.sum((p**scale - np.mean(p**scale)) ** 2) for p in parts)
            assert within == pytest.approx(squares / (n - m) if n > m else 0.0)
        assert found.pooled_centre[g] == pytest.approx(np.mean(mine ** (2 / 3)))
        assert found.sd_um[g] == pytest.approx(np.std(mine, ddof=1) if n > 1 else 0.0)


def test_many_groups_at_once_have_the_bounds_of_each_by_itself() -> None:
    tir, group, sitting = scattered(5, 12)
    together = group_swings(tir, group, sitting, groups=12, resolution_um=0.01)
    for bounds_of in (bounds_within_sitting, bounds_next_clampings):
        found = bounds_of(together)
        for g in range(12):
            alone = bounds_of(one_group(tir[group == g], 0.01, sitting[group == g]))
            for name in Bounds.__slots__:
                assert getattr(found, name)[g] == pytest.approx(getattr(alone, name)[0], rel=1e-9), name


def test_results_cannot_be_written_to() -> None:
    groups = one_group(SWINGS)
    for result in (groups, bounds_within_sitting(groups), bounds_next_clampings(groups)):
        for name in result.__slots__:
            with pytest.raises(ValueError, match="read-only"):
                getattr(result, name)[:] = 0


def test_no_groups_and_no_clampings_are_no_error() -> None:
    nothing = group_swings([], [], [], groups=0, resolution_um=1.0)
    assert bounds_within_sitting(nothing).upper_um.shape == (0,)
    empty = group_swings([], [], [], groups=3, resolution_um=1.0)
    assert np.isposinf(bounds_next_clampings(empty).upper_um).all()
    assert np.isposinf(bounds_next_clampings(empty).centre_um).all()


swings_of_a_sitting = st.lists(st.floats(0.01, 1000.0), min_size=3, max_size=12)


@settings(max_examples=60, deadline=None)
@given(swings_of_a_sitting, st.floats(0.001, 1000.0), st.randoms(use_true_random=False))
def test_bounds_follow_the_unit_and_not_the_order(swings: list[float], unit: float, chance: object) -> None:
    shuffled = list(swings)
    chance.shuffle(shuffled)  # type: ignore[attr-defined]
    plain = bounds_within_sitting(one_group(swings, 0.1))
    scaled = bounds_within_sitting(one_group(np.array(shuffled) * unit, 0.1 * unit))
    for name in ("median_um", "p95_um", "upper_um", "upper_verdict_um", "lower_verdict_um"):
        assert getattr(scaled, name)[0] == pytest.approx(getattr(plain, name)[0] * unit, rel=1e-9, abs=1e-9 * unit)


@settings(max_examples=60, deadline=None)
@given(swings_of_a_sitting)
def test_bounds_stand_in_their_order(swings: list[float]) -> None:
    bounds = bounds_within_sitting(one_group(swings, 0.1))
    order = [bounds.median_um, bounds.p95_um, bounds.upper_um, bounds.upper_verdict_um]
    assert all(low[0] <= high[0] for low, high in pairwise(order))
    assert bounds.lower_verdict_um[0] < bounds.upper_um[0]


def test_logging_a_swing_and_judging_it_loads_no_scipy() -> None:
    program = (
        "import sys, numpy as np\n"
        "from qclog.statistics.bounding.bounds import bounds_next_clampings, bounds_within_sitting\n"
        "from qclog.statistics.bounding.forecast import more_clampings\n"
        "from qclog.statistics.swings import group_swings, shop_scatter\n"
        "rng = np.random.default_rng(1)\n"
        "group, sitting = np.divmod(np.arange(120), 4)\n"
        "sitting //= 2\n"
        "sitting[116:] = 0\n"
        "groups = group_swings(rng.gamma(9, 0.6, 120), group, sitting, groups=30, resolution_um=0.1)\n"
        "shop = shop_scatter(groups, np.where(np.arange(30) < 25, 0, 1))\n"
        "bounds_within_sitting(groups)\n"
        "bounds_next_clampings(groups, None, limit_um=np.full(30, 40.0))\n"
        "bounds_next_clampings(groups, shop, limit_um=np.full(30, 40.0))\n"
        "more_clampings(groups, 9.0, within_sitting=True)\n"
        "more_clampings(groups, 9.0, within_sitting=False)\n"
        "sys.exit('scipy' in sys.modules)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
