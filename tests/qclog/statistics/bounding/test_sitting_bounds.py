"""Bounds over several sittings and with the scatter of the shop.

Figures are of constructed cases, computed a second time with a general-purpose library.
"""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.statistics import rice
from qclog.statistics.bounding.bounds import Bounds, Method, bounds_next_clampings, bounds_within_sitting
from qclog.statistics.bounding.factors import Z_95, tolerance_factor
from qclog.statistics.bounding.sittings import (
    ShopScatter,
    SittingSums,
    Spread,
    own_spread,
    satterthwaite,
    shop_spread,
    sitting_sums,
    vector_lower_centre,
    vector_upper_centre,
)
from qclog.statistics.swings import SwingGroups, group_swings, shop_scatter

THREE_SITTINGS = [[4.2, 5.6, 4.9], [6.3, 5.1], [7.0]]
VECTORS = np.array([2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j])


def grouped(items: list[list[list[float]]], resolution: float = 0.01) -> SwingGroups:
    """Groups from items > sittings > swings."""
    rows = [(t, g, s) for g, item in enumerate(items) for s, sitting in enumerate(item) for t in sitting]
    tir, group, sitting = (np.array(column) for column in zip(*rows, strict=True))
    return group_swings(tir, group, sitting, groups=len(items), resolution_um=resolution)


def figures(
    between: float, df_between: int, ratio: float, within: float, df_within: int, groups: int = 1
) -> ShopScatter:
    """The same figures of the shop for every group."""
    return ShopScatter(
        np.full(groups, between),
        np.full(groups, df_between),
        np.full(groups, ratio),
        np.full(groups, within),
        np.full(groups, df_within),
    )


def near(found: npt.ArrayLike, printed: float) -> None:
    assert float(np.squeeze(found)) == pytest.approx(printed, abs=6e-7)


def test_three_unequal_sittings_have_their_known_figures() -> None:
    groups = grouped([THREE_SITTINGS])
    near(groups.centre, 3.242269)
    near(groups.harmonic_size, 1.636364)
    near(groups.between, 0.153921)
    near(groups.within, 0.083972)
    assert (groups.df_between[0], groups.df_within[0]) == (2, 3)
    near(groups.between - groups.within / groups.harmonic_size, 0.102604)
    spread = own_spread(groups.sums(np.array([True])))
    near(spread.sd**2, 0.186577)
    margin = spread.upper_margin() - Z_95 * spread.sd
    near(margin, 2.258346)
    near(spread.prediction_sd**2, 0.237884)
    near(spread.prediction_df, 2.642515)
    df = satterthwaite(spread.between, spread.df_between, spread.rest, spread.df_rest)
    near(df, 2.853051)
    near(spread.sd**2 / spread.centre_variance, 3.636481)
    near(spread.lower_margin(0.05) / spread.sd, 0.713694)
    near((groups.centre + spread.lower_margin(0.05)) ** 1.5, 6.690254)
    bounds = bounds_next_clampings(groups)
    near(bounds.upper_um, 15.479356)
    near(bounds.p95_um, 9.407032)
    near(bounds.upper_verdict_um, 37.501508)
    size = float(spread.sd[0] ** 2 / spread.centre_variance[0])
    factor = scipy.stats.nct.ppf(0.012, float(df[0]), Z_95 * np.sqrt(size)) / np.sqrt(size)
    near(bounds.lower_verdict_um, float(groups.centre[0] + factor * spread.sd[0]) ** 1.5)
    near(bounds_within_sitting(groups).upper_um, 9.618627)
    assert bounds.method[0] == Method.SITTINGS


def test_vectors_in_three_sittings_have_their_known_figures() -> None:
    own = sitting_sums(VECTORS, np.array([1, 1, 2, 2, 3]))
    assert complex(own.centre) == pytest.approx(2.466667 + 0.95j, abs=6e-7)
    near(np.abs(own.centre), 2.643283)
    near(own.harmonic_size, 1.5)
    near(own.between, 0.134167)
    near(own.within, 0.348750)
    assert (int(own.df_between), int(own.df_within)) == (4, 4)
    spread = own_spread(own)
    near(spread.sd, 0.500416)
    centre = vector_upper_centre(np.abs(own.centre), spread)
    near(centre, 2.673559)
    near(spread.upper_margin() - Z_95 * spread.sd, 0.988706)
    near(2.0 * (centre + spread.upper_margin()), 8.970753)
    near(spread.prediction_sd**2, 0.295139)
    near(spread.prediction_df, 7.655181)
    near(2.0 * (centre + spread.prediction_margin()), 7.379441)


def test_the_lower_limit_from_vectors_has_its_known_figures() -> None:
    """One sitting: the mean square about the mean vector stands for between, with 2(n-1) degrees of freedom."""
    centre = VECTORS.mean()
    variance = np.asarray(np.sum(np.abs(VECTORS - centre) ** 2) / 8.0)
    none, df = np.asarray(0.0), np.asarray(8)
    spread = Spread(variance, df, none, np.asarray(1), variance / 5.0, np.asarray(8.0))
    modulus = np.abs(centre)
    near(np.sqrt(modulus**2 - 2.0 * spread.centre_variance) / spread.sd, 4.780862)
    lower = vector_lower_centre(np.asarray(modulus), spread)
    near(lower, 2.588737)
    near(2.0 * (lower + spread.lower_margin(0.012)), 5.813165)
    near(2.0 * (lower + spread.lower_margin(0.05)), 6.086697)
    upper = vector_upper_centre(np.asarray(modulus), spread) + tolerance_factor(5, 8, 0.993) * spread.sd
    near(2.0 * upper, 9.916244)


def test_one_sitting_with_the_shops_figures_has_its_known_figures() -> None:
    groups = grouped([[[4.2, 5.6, 4.9]]])
    shop = figures(1.44, 9, 0.5, 1.21, 18)
    near(np.sqrt(shop.between - shop.ratio * shop.within), 0.913783)
    own = groups.linear_sums(np.array([True]))
    near(own.within, 0.49)
    spread = shop_spread(own, shop)
    near(spread.rest / 0.5, 1.03)
    assert (spread.df_between[0], spread.df_rest[0]) == (6, 8)
    near(spread.sd, 1.398213)
    near(spread.centre_variance, 1.268333)
    near(spread.prediction_df, 10.091072)
    near(spread.sd**2 / spread.centre_variance, 1.541393)
    near(spread.lower_margin(0.010) / spread.sd, -0.238683)
    bounds = bounds_next_clampings(groups, shop)
    near(bounds.upper_um, 9.973258)
    near(bounds.upper_verdict_um, 11.651169)
    near(bounds.p95_um, 8.151051)
    near(bounds.lower_verdict_um, 4.566270)
    near(bounds.median_um, 4.9)
    near(bounds.centre_um, 4.9)
    assert bounds.method[0] == Method.SHOP


def test_two_own_sittings_join_the_shops_figures_on_its_footing() -> None:
    """Constructed case, by the formulas written out with plain numbers."""
    groups = grouped([[[4.0, 5.0], [7.0, 7.5, 8.6]]])
    means, size = np.array([4.5, 7.7]), 2.0 / (1 / 2 + 1 / 3)
    own_within = (0.5 + np.sum((np.array([7.0, 7.5, 8.6]) - 7.7) ** 2)) / 3
    own_between = np.var(means, ddof=1)
    within = (6 * 1.21 + 3 * own_within) / 9
    between = (6 * 1.44 + max(own_between + (0.5 - 1 / size) * within, 0)) / 7
    spread = shop_spread(groups.linear_sums(np.array([True])), figures(1.44, 9, 0.5, 1.21, 18))
    assert (spread.df_between[0], spread.df_rest[0]) == (7, 9)
    near(spread.between, between)
    near(spread.rest, 0.5 * within)
    near(spread.centre_variance, max(between + (1 / size - 0.5) * within, within / size) / 2)


def test_the_centre_of_many_clampings_is_never_surer_than_their_own_scatter_allows() -> None:
    """Constructed case: the shop's mean square between sittings is smaller than its part from within."""
    groups = grouped([[[4.0, 5.0, 6.0, 4.0, 5.0, 6.0]]])
    spread = shop_spread(groups.linear_sums(np.array([True])), figures(0.3, 9, 0.5, 1.21, 18))
    near(spread.centre_variance, (6 * 1.21 + 5 * 0.8) / 11 / 6)


def test_one_clamping_in_each_sitting_takes_the_exact_factors_of_one_group() -> None:
    one_each = grouped([[[4.2], [5.6], [4.9], [6.3], [5.1]]])
    over, inside = bounds_next_clampings(one_each), bounds_within_sitting(one_each)
    assert over.method[0] == Method.ONE_EACH
    for name in ("median_um", "p95_um", "upper_um", "upper_verdict_um", "lower_verdict_um", "centre_um"):
        assert getattr(over, name)[0] == pytest.approx(getattr(inside, name)[0], rel=1e-12), name


def test_for_one_clamping_in_each_sitting_the_general_lower_limit_is_the_exact_one() -> None:
    groups = grouped([[[4.2], [5.6], [4.9], [6.3], [5.1]]])
    spread = own_spread(groups.sums(np.array([True])))
    near((groups.centre + spread.lower_margin(0.012)) ** 1.5, 5.657724)


METHODS = [
    ([[5.0]], False, Method.NONE),
    ([[5.0, 6.0, 5.5, 4.8]], False, Method.NONE),
    ([[5.0], [6.0]], False, Method.SITTINGS),
    ([[5.0], [6.0], [5.5]], False, Method.ONE_EACH),
    ([[5.0, 5.1], [6.0]], False, Method.SITTINGS),
    ([[5.0]], True, Method.SHOP),
    ([[5.0, 5.1], [6.0], [5.5]], True, Method.SHOP),
    ([[5.0], [6.0], [5.5]], True, Method.SHOP),
    ([[5.0], [6.0], [5.5], [5.2]], True, Method.ONE_EACH),
    ([[5.0, 5.1], [6.0], [5.5], [5.2]], True, Method.SITTINGS),
]


@pytest.mark.parametrize(("item", "with_shop", "method"), METHODS)
def test_the_method_follows_from_what_was_measured(item: list[list[float]], with_shop: bool, method: Method) -> None:
    shop = figures(1.44, 8, 0.5, 1.21, 18) if with_shop else None
    assert bounds_next_clampings(grouped([item]), shop).method[0] == method


def test_seven_degrees_of_freedom_of_the_shop_are_not_enough() -> None:
    bounds = bounds_next_clampings(grouped([[[5.0, 5.2]]]), figures(1.44, 7, 0.5, 1.21, 18))
    assert bounds.method[0] == Method.NONE
    assert np.isposinf(bounds.upper_um[0])


def test_one_sitting_says_nothing_about_other_days() -> None:
    bounds = bounds_next_clampings(grouped([[[5.0, 5.2, 4.9, 5.1]]]))
    for upper in (bounds.median_um, bounds.p95_um, bounds.upper_um, bounds.upper_verdict_um):
        assert np.isposinf(upper[0])
    assert np.isneginf(bounds.lower_verdict_um[0])
    assert 4.9 < bounds.centre_um[0] < 5.2


def shop_of(rng: np.random.Generator, items: int) -> list[list[list[float]]]:
    sizes = [(2, 2), (1, 3), (2, 1, 2), (1, 1), (4,)]
    return [[list(rng.gamma(9.0, 0.6, size)) for size in sizes[i % 5]] for i in range(items)]


def test_the_shops_scatter_is_pooled_over_the_other_items_of_the_kind() -> None:
    items = shop_of(np.random.default_rng(2), 40)
    kind = np.arange(40) % 2
    found = shop_scatter(grouped(items), kind)
    for g in range(40):
        others = [items[i] for i in range(40) if i != g and kind[i] == kind[g] and len(items[i]) > 1]
        df_between = sum(len(item) - 1 for item in others)
        df_within = sum(len(sitting) - 1 for item in others for sitting in item)
        squares = sum((len(item) - 1) * np.var([np.mean(x) for x in item], ddof=1) for item in others)
        ratio = sum((len(item) - 1) * np.mean([1.0 / len(x) for x in item]) for item in others) / df_between
        within = sum(np.var(x) * len(x) for item in others for x in item) / df_within
        own = [x for x in items[g] if len(x) > 1]
        own_df = sum(len(x) - 1 for x in own)
        own_within = sum(np.var(x) * len(x) for x in own) / max(own_df, 1)
        if found.df_between[g] == 0:
            assert own_within > 2.0 * within
            continue
        assert (found.df_between[g], found.df_within[g]) == (df_between, df_within)
        assert found.between[g] == pytest.approx(squares / df_between)
        assert found.ratio[g] == pytest.approx(ratio)
        assert found.within[g] == pytest.approx(within)


def test_the_shops_scatter_needs_eight_degrees_of_freedom_of_others() -> None:
    pair = [[5.0, 5.4], [6.0, 5.2]]
    assert not shop_scatter(grouped([pair] * 8), np.zeros(8)).df_between.any()
    assert (shop_scatter(grouped([pair] * 9), np.zeros(9)).df_between == 8).all()


def test_an_item_that_scatters_more_than_its_kind_gets_no_figures_of_the_shop() -> None:
    pair = [[5.0, 5.4], [6.0, 5.2]]
    wild, tame, single = [[2.0, 9.0, 5.0]], [[5.0, 5.3, 5.1]], [[40.0]]
    found = shop_scatter(grouped([pair] * 9 + [wild, tame, single]), np.zeros(12))
    assert found.df_between[9] == 0
    assert (found.df_between[10], found.df_between[11]) == (9, 9)


def test_the_shops_scatter_is_never_below_that_of_the_rounding() -> None:
    flat = [[5.0, 5.0], [5.0, 5.0]]
    groups = grouped([flat] * 9 + [[[5.0]]], resolution=1.0)
    found = shop_scatter(groups, np.zeros(10))
    assert found.within[9] == pytest.approx(1.0 / 12.0)
    assert found.between[9] == pytest.approx(1.0 / 24.0)
    assert bounds_next_clampings(groups, found).upper_um[9] > 5.5


def test_a_shop_that_clamps_once_a_day_has_figures_too() -> None:
    rng = np.random.default_rng(6)
    items = [[[float(t)] for t in rng.gamma(9.0, 0.6, 3)] for _ in range(6)]
    groups = grouped([*items, [[5.0, 5.2]], [[5.0]]])
    shop = shop_scatter(groups, np.zeros(8))
    assert (shop.ratio[6], shop.df_within[6]) == (1.0, 0)
    bounds = bounds_next_clampings(groups, shop)
    assert (bounds.method[6:] == Method.SHOP).all()
    assert np.isfinite(bounds.upper_um[6:]).all()


def test_the_lower_limit_is_found_only_where_it_can_exceed_the_limit() -> None:
    rng = np.random.default_rng(7)
    sizes = [(2, 2), (3, 1, 2), (2, 2, 2, 2)]
    items = [[list(rng.gamma(9.0, 0.6, size)) for size in sizes[i % 3]] for i in range(30)]
    groups = grouped(items)
    shop = figures(1.44, 9, 0.5, 1.21, 18, groups=30)
    for figures_of_shop in (None, shop):
        every = bounds_next_clampings(groups, figures_of_shop)
        assert np.isfinite(every.lower_verdict_um).all()
        for limit in (3.0, 6.0, 7.5, 9.0):
            some = bounds_next_clampings(groups, figures_of_shop, limit_um=limit)
            above = every.lower_verdict_um > limit
            np.testing.assert_array_equal(some.lower_verdict_um > limit, above)
            np.testing.assert_array_equal(some.lower_verdict_um[above], every.lower_verdict_um[above])
            for name in Bounds.__slots__:
                if name != "lower_verdict_um":
                    np.testing.assert_array_equal(getattr(some, name), getattr(every, name))
        none = bounds_next_clampings(groups, figures_of_shop, limit_um=np.full(30, np.nan))
        assert np.isneginf(none.lower_verdict_um).all()
        assert np.isneginf(bounds_next_clampings(groups, figures_of_shop, limit_um=50.0).lower_verdict_um).all()


def test_the_lower_limit_never_exceeds_the_plug_in_point() -> None:
    n, df = np.meshgrid(np.geomspace(1.0, 300.0, 15), np.geomspace(1.0, 300.0, 15))
    assert (tolerance_factor(n, df, 0.05) < Z_95).all()


def test_near_zero_the_shops_lower_limit_comes_from_the_groups_own_sittings() -> None:
    small = grouped([[[0.8, 2.0], [1.5, 0.6]], [[0.8, 2.0, 1.1]]])
    with_shop = bounds_next_clampings(small, figures(1.44, 9, 0.5, 1.21, 18, groups=2))
    own = bounds_next_clampings(small)
    assert (with_shop.method == Method.SHOP).all()
    assert with_shop.lower_verdict_um[0] == own.lower_verdict_um[0] > 0.0
    assert np.isneginf(with_shop.lower_verdict_um[1])


def test_more_sittings_narrow_the_bound() -> None:
    uppers = [bounds_next_clampings(grouped([[[4.0, 5.0], [6.0, 5.0]] * k])).upper_um[0] for k in (1, 2, 4, 8)]
    assert uppers == sorted(uppers, reverse=True)


def test_real_sums_of_one_item_are_those_of_the_groups() -> None:
    flat = np.array([t for sitting in THREE_SITTINGS for t in sitting])
    label = np.array([9, 9, 9, 4, 4, 1])
    one: SittingSums = sitting_sums(flat ** (2 / 3), label)
    groups = grouped([THREE_SITTINGS])
    for name in ("centre", "between", "within", "df_between", "df_within", "harmonic_size", "sittings"):
        assert float(getattr(one, name)) == pytest.approx(float(getattr(groups, name)[0])), name


def test_vector_bounds_over_sittings_cover_other_days() -> None:
    """Own simulation, three sittings of two, sitting scatter as large as the rest; nominal 0.95."""
    rng = np.random.default_rng(9)
    sets, label = 1_500, np.array([0, 0, 1, 1, 2, 2])
    scatter = rng.standard_normal((sets, 9, 2)) / np.sqrt(2.0)
    noise = scatter[..., 0] + 1j * scatter[..., 1]
    clampings = 3.0 + noise[:, 3:] + np.repeat(noise[:, :3], 2, axis=1)
    point = 2.0 * float(rice.quantile(3.0))
    upper, below = np.empty(sets), np.empty(sets, dtype=np.bool_)
    following = 2.0 * np.abs(3.0 + (rng.standard_normal(sets) + 1j * rng.standard_normal(sets)))
    for i, values in enumerate(clampings):
        own = sitting_sums(values, label)
        spread = own_spread(own)
        centre = vector_upper_centre(np.abs(own.centre), spread)
        upper[i] = 2.0 * (centre + spread.upper_margin())
        below[i] = following[i] <= 2.0 * (centre + spread.prediction_margin())
    assert 0.935 <= np.mean(upper >= point) <= 0.975
    assert 0.925 <= np.mean(below) <= 0.965
    assert 1.3 <= np.median(upper) / point <= 1.48
