"""Simulated coverage of every bound shown, from known truth: Rice-distributed swings with fixed seeds.

A clamping is nu + sitting + scatter in the plane, in swing units; its swing is the length. The scatter of a
clamping in a new sitting is 1 on each axis throughout, ``ratio`` its sitting part over the rest. Shares come
from thousands of sets (standard error 0.001 to 0.004); the limits stand three or more of those off the
share found, and nearer than what the usual mistakes give.
"""

import numpy as np
import numpy.typing as npt
import pytest

from qclog.statistics import rice
from qclog.statistics.bounding.bounds import Bounds, Method, bounds_next_clampings, bounds_within_sitting
from qclog.statistics.swings import group_swings, shop_scatter

Floats = npt.NDArray[np.float64]

FINE = 1e-6


def vectors(rng: np.random.Generator, shape: tuple[int, ...]) -> npt.NDArray[np.complex128]:
    return rng.standard_normal(shape) + 1j * rng.standard_normal(shape)


def one_sitting(rng: np.random.Generator, sets: int, n: int, nu: float) -> Floats:
    return np.abs(nu + vectors(rng, (sets, n)))


def over_sittings(rng: np.random.Generator, nu: npt.ArrayLike, ratio: float, sizes: list[int], sets: int) -> Floats:
    """Swings (sets, clampings) of sittings of these sizes."""
    within = 1.0 / np.hypot(1.0, ratio)
    sitting = np.repeat(vectors(rng, (sets, len(sizes))) * ratio * within, sizes, axis=1)
    swings: Floats = np.abs(np.reshape(nu, (-1, 1)) + sitting + within * vectors(rng, (sets, sum(sizes))))
    return swings


def bounds_of(swings: Floats, sizes: list[int], resolution: float = FINE, limit: float | None = None) -> Bounds:
    """Bounds of each set: of more clampings in the one sitting, or of other days."""
    sets, n = swings.shape
    labels = np.tile(np.repeat(np.arange(len(sizes)), sizes), sets)
    group = np.repeat(np.arange(sets), n)
    groups = group_swings(swings.ravel(), group, labels, groups=sets, resolution_um=resolution)
    return bounds_within_sitting(groups) if len(sizes) == 1 else bounds_next_clampings(groups, limit_um=limit)


def share(condition: npt.NDArray[np.bool_]) -> float:
    return float(np.mean(condition))


@pytest.mark.parametrize("nu", [0.0, 1.0, 3.0])
@pytest.mark.parametrize("n", [4, 6, 12])
def test_bounds_of_one_sitting_cover_what_they_promise(n: int, nu: float) -> None:
    rng = np.random.default_rng(11)
    bounds = bounds_of(one_sitting(rng, 20_000, n, nu), [n])
    point = float(rice.quantile(nu))
    following = one_sitting(rng, 20_000, 1, nu)[:, 0]
    assert 0.933 <= share(bounds.upper_um >= point) <= 0.975
    assert 0.940 <= share(following <= bounds.p95_um) <= 0.962
    assert 0.470 <= share(following <= bounds.median_um) <= 0.520
    assert 0.002 <= share(bounds.upper_verdict_um < point) <= 0.012
    assert 0.007 <= share(bounds.lower_verdict_um > point) <= 0.015


@pytest.mark.parametrize(("n", "widest"), [(4, 1.9), (6, 1.55), (12, 1.32)])
def test_the_bound_of_one_sitting_is_no_wider_than_known(n: int, widest: float) -> None:
    rng = np.random.default_rng(12)
    upper = bounds_of(one_sitting(rng, 5_000, n, 3.0), [n]).upper_um
    assert widest - 0.2 <= np.median(upper) / rice.quantile(3.0) <= widest


@pytest.mark.parametrize("ratio", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("sizes", [[1, 1], [3, 3], [2, 2, 2], [3, 3, 3, 3], [1] * 6, [1, 2, 3, 6]])
def test_bounds_over_sittings_cover_other_days(sizes: list[int], ratio: float) -> None:
    rng = np.random.default_rng(13)
    swings = over_sittings(rng, 3.0, ratio, sizes, 8_000)
    bounds = bounds_of(swings, sizes, limit=np.nan)
    point = float(rice.quantile(3.0))
    following = one_sitting(rng, 8_000, 1, 3.0)[:, 0]
    assert 0.950 <= share(bounds.upper_um >= point) <= (0.982 if ratio == 2.0 else 0.997)
    assert 0.924 <= share(following <= bounds.p95_um) <= 0.968
    assert 0.470 <= share(following <= bounds.median_um) <= 0.505
    assert share(bounds.upper_verdict_um < point) <= 0.009
    lower = bounds_of(swings[:800], sizes).lower_verdict_um
    assert 0.001 <= share(lower > point) <= 0.032


@pytest.mark.parametrize("nu", [0.0, 1.0, 6.0])
@pytest.mark.parametrize("sizes", [[2, 2, 2], [1] * 6, [4] * 6])
def test_bounds_over_sittings_cover_for_any_systematic_part(sizes: list[int], nu: float) -> None:
    """Lowest without systematic part and with many clampings in sittings far apart (0.931)."""
    rng = np.random.default_rng(23)
    bounds = bounds_of(over_sittings(rng, nu, 2.0, sizes, 8_000), sizes, limit=np.nan)
    following = one_sitting(rng, 8_000, 1, nu)[:, 0]
    assert 0.922 <= share(bounds.upper_um >= rice.quantile(nu)) <= 0.983
    assert 0.930 <= share(following <= bounds.p95_um) <= 0.968
    assert share(bounds.upper_verdict_um < rice.quantile(nu)) <= 0.013


@pytest.mark.parametrize(("sizes", "widest"), [([3, 3, 3, 3], 1.65), ([1] * 6, 1.55), ([2, 2, 2], 2.2)])
def test_the_bound_over_sittings_is_no_wider_than_known(sizes: list[int], widest: float) -> None:
    rng = np.random.default_rng(14)
    upper = bounds_of(over_sittings(rng, 3.0, 1.0, sizes, 5_000), sizes, limit=np.nan).upper_um
    assert widest - 0.2 <= np.median(upper) / rice.quantile(3.0) <= widest


@pytest.mark.parametrize("resolution", [1.0, 2.5])
@pytest.mark.parametrize("nu", [2.0, 5.0])
def test_bounds_cover_when_the_indicator_hides_the_scatter(nu: float, resolution: float) -> None:
    rng = np.random.default_rng(15)
    read = np.rint(one_sitting(rng, 10_000, 5, nu) / resolution) * resolution
    bounds = bounds_of(read, [5], resolution)
    following = one_sitting(rng, 10_000, 1, nu)[:, 0]
    assert share(bounds.upper_um >= rice.quantile(nu)) >= 0.96
    assert share(following <= bounds.p95_um) >= 0.95


@pytest.mark.parametrize("sizes", [[2, 2, 2], [1] * 4])
def test_bounds_over_sittings_cover_when_the_indicator_hides_the_scatter(sizes: list[int]) -> None:
    rng = np.random.default_rng(16)
    read = np.rint(over_sittings(rng, 5.0, 1.0, sizes, 8_000) / 2.5) * 2.5
    bounds = bounds_of(read, sizes, 2.5, limit=np.nan)
    assert share(bounds.upper_um >= rice.quantile(5.0)) >= 0.97
    assert share(one_sitting(rng, 8_000, 1, 5.0)[:, 0] <= bounds.p95_um) >= 0.95


def shop_bounds(
    pool: Floats, own: Floats, own_sizes: list[int], resolution: float = FINE, limit: float = np.nan
) -> Bounds:
    """Bounds of the own item of each set; pool (sets, items x 2 sittings x 2), own (sets, clampings)."""
    sets, n = own.shape
    items = pool.shape[1] // 4
    swings = np.concatenate([pool.ravel(), own.ravel()])
    group = np.concatenate([np.repeat(np.arange(items * sets), 4), items * sets + np.repeat(np.arange(sets), n)])
    own_labels = np.repeat(np.arange(len(own_sizes)), own_sizes)
    sitting = np.concatenate([np.tile([0, 0, 1, 1], items * sets), np.tile(own_labels, sets)])
    groups = group_swings(swings, group, sitting, groups=(items + 1) * sets, resolution_um=resolution)
    kind = np.concatenate([np.repeat(np.arange(sets), items), np.arange(sets)])
    bounds = bounds_next_clampings(groups, shop_scatter(groups, kind), limit_um=limit)
    return Bounds(*(getattr(bounds, name)[items * sets :] for name in Bounds.__slots__))


def pool_of(rng: np.random.Generator, ratio: float, sets: int, items: int = 8) -> Floats:
    return over_sittings(rng, rng.uniform(1.0, 5.0, items * sets), ratio, [2, 2], items * sets).reshape(sets, -1)


@pytest.mark.parametrize("ratio", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("own_sizes", [[1], [3], [3, 3]])
def test_bounds_with_the_shops_scatter_cover_other_days(own_sizes: list[int], ratio: float) -> None:
    rng = np.random.default_rng(17)
    sets = 2_500
    pool = pool_of(rng, ratio, sets)
    bounds = shop_bounds(pool, over_sittings(rng, 3.0, ratio, own_sizes, sets), own_sizes)
    served = bounds.method == Method.SHOP
    following = one_sitting(rng, sets, 1, 3.0)[:, 0]
    point = float(rice.quantile(3.0))
    assert share(served) >= 0.92
    assert 0.935 <= share(bounds.upper_um[served] >= point) <= 0.99
    assert 0.935 <= share(following[served] <= bounds.p95_um[served]) <= 0.975
    assert share(bounds.upper_verdict_um < point) <= 0.02
    assert 1.2 <= np.median(bounds.upper_um[served]) / point <= 1.5


@pytest.mark.parametrize("own_sizes", [[1], [3], [3, 3]])
def test_beyond_fifty_others_the_bounds_with_their_scatter_neither_narrow_nor_cover_differently(
    own_sizes: list[int],
) -> None:
    """As many as lend at the most (``questions.judging.lending``), and four times as many."""
    narrow = []
    for items, sets in ((50, 1_000), (200, 400)):
        rng = np.random.default_rng(22)
        pool = pool_of(rng, 1.0, sets, items)
        bounds = shop_bounds(pool, over_sittings(rng, 3.0, 1.0, own_sizes, sets), own_sizes)
        served = bounds.method == Method.SHOP
        point = float(rice.quantile(3.0))
        assert share(served) >= 0.90
        assert share(bounds.upper_um[served] >= point) >= 0.965
        narrow.append(np.median(bounds.upper_um[served]) / point)
    assert narrow[0] == pytest.approx(narrow[1], rel=0.06)


def test_bounds_with_the_shops_scatter_cover_when_the_indicator_hides_the_scatter() -> None:
    rng = np.random.default_rng(18)
    pool = np.rint(pool_of(rng, 1.0, 1_500) / 4.0) * 4.0
    own = np.rint(over_sittings(rng, 5.0, 1.0, [3], 1_500) / 4.0) * 4.0
    bounds = shop_bounds(pool, own, [3], 4.0)
    assert share(bounds.upper_um >= rice.quantile(5.0)) >= 0.95


@pytest.mark.parametrize("nu", [0.0, 1.0, 3.0])
def test_looking_after_every_clamping_of_a_sitting_keeps_the_wrong_verdicts_at_five_in_a_hundred(
    nu: float,
) -> None:
    """Item exactly at its limit, stopped at the first wanted word between clamping 3 and 20."""
    rng = np.random.default_rng(19)
    sets, point = 4_000, float(rice.quantile(nu))
    swings = one_sitting(rng, sets, 20, nu)
    holds, does_not = np.zeros((2, sets), dtype=np.bool_)
    for n in range(3, 21):
        bounds = bounds_of(swings[:, :n], [n])
        holds |= bounds.upper_verdict_um <= point
        does_not |= bounds.lower_verdict_um > point
    assert 0.018 <= share(holds) <= 0.064
    assert 0.034 <= share(does_not) <= 0.058


@pytest.mark.parametrize("nu", [0.0, 3.0])
def test_looking_on_to_a_hundred_clampings_keeps_the_wrong_verdicts_rare(nu: float) -> None:
    """0.09 "holds" (no systematic part) and 0.11 "does not hold" (three times the scatter) if the risk stayed."""
    rng = np.random.default_rng(20)
    sets, point = 1_500, float(rice.quantile(nu))
    swings = one_sitting(rng, sets, 100, nu)
    holds, does_not = np.zeros((2, sets), dtype=np.bool_)
    for n in [*range(3, 21), *range(22, 101, 3)]:
        bounds = bounds_of(swings[:, :n], [n])
        holds |= bounds.upper_verdict_um <= point
        does_not |= bounds.lower_verdict_um > point
    assert share(holds) <= 0.078
    assert share(does_not) <= 0.085


@pytest.mark.parametrize("each", [1, 2])
def test_looking_over_sittings_keeps_the_wrong_verdicts_at_five_in_a_hundred(each: int) -> None:
    rng = np.random.default_rng(21)
    sets, point = 2_500, float(rice.quantile(3.0))
    swings = over_sittings(rng, 3.0, 1.0, [each] * 8, sets)
    holds, does_not = np.zeros((2, sets), dtype=np.bool_)
    for n in range(each + 1, 8 * each + 1):
        sizes = [each] * (n // each) + [n % each] * (n % each > 0)
        bounds = bounds_of(swings[:, :n], sizes, limit=point)
        holds |= bounds.upper_verdict_um <= point
        does_not |= bounds.lower_verdict_um > point
    assert share(holds) <= 0.05
    assert 0.008 <= share(does_not) <= 0.06


@pytest.mark.parametrize("nu", [0.0, 3.0])
def test_looking_with_the_shops_scatter_keeps_the_wrong_verdicts_at_five_in_a_hundred(nu: float) -> None:
    rng = np.random.default_rng(22)
    sets, point = 2_000, float(rice.quantile(nu))
    pool = pool_of(rng, 1.0, sets)
    swings = over_sittings(rng, nu, 1.0, [3, 3], sets)
    holds, does_not = np.zeros((2, sets), dtype=np.bool_)
    for sizes in ([1], [2], [3], [3, 1], [3, 2], [3, 3]):
        bounds = shop_bounds(pool, swings[:, : sum(sizes)], sizes, limit=point)
        holds |= bounds.upper_verdict_um <= point
        does_not |= bounds.lower_verdict_um > point
    assert share(holds) <= 0.05
    assert 0.005 <= share(does_not) <= 0.06
