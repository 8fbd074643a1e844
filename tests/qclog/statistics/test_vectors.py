"""Sums and estimates of vectors. Printed figures are of constructed cases, computed a second time elsewhere."""

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.vectors import (
    VectorGroups,
    VectorMoments,
    anisotropic,
    group_vectors,
    isotropy,
    shop_scatter_vectors,
)

VECTORS = [2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j]
LOBED_SWINGS = [5.2, 6.6, 6.1, 4.4, 6.5]


def one_group(vectors: npt.ArrayLike, swings: npt.ArrayLike | None = None, **given: Any) -> VectorGroups:
    e = np.asarray(vectors, dtype=np.complex128)
    swing = 2.0 * np.abs(e) if swings is None else swings
    zeros = np.zeros(e.size, dtype=int)
    return group_vectors(e, swing, zeros, given.pop("sitting", zeros), groups=1, **{"resolution_um": 0.01, **given})


def moments_of(vectors: npt.ArrayLike) -> VectorMoments:
    return one_group(vectors).plain


def isotropy_of(moments: VectorMoments) -> tuple[Floats, Floats]:
    """As ``anisotropic`` asks of a group that stands alone."""
    return isotropy(moments.squares, moments.twist, moments.clampings - 1, moments.df * moments.floor_um**2)


def near(found: npt.ArrayLike, printed: complex, digits: float = 6e-7) -> None:
    assert complex(np.squeeze(found)) == pytest.approx(printed, abs=digits)


def test_five_vectors_have_their_known_estimates() -> None:
    moments = moments_of(VECTORS)
    near(moments.mean, 2.4 + 0.9j)
    near(np.abs(moments.mean), 2.563201)
    near(np.degrees(np.angle(moments.mean)), 20.556045)
    near(moments.sd_um, 0.531507)
    assert moments.df[0] == 8
    near(moments.circle_um, 0.709834)
    near(moments.length_um, 2.541063)
    f, p = moments.systematic()
    near(f, 58.141593)
    near(p, 0.000017)
    w, p = isotropy_of(moments)
    near(w, 0.992952)
    near(p, 0.989446)


def test_the_estimates_agree_with_matrix_algebra_and_library_distributions() -> None:
    rng = np.random.default_rng(31)
    for n in (3, 4, 7, 20):
        xy = rng.standard_normal((n, 2)) @ np.array([[1.3, 0.4], [0.0, 0.7]]) + [0.8, -0.3]
        moments = moments_of(xy @ np.array([1.0, 1.0j]))
        covariance, mean = np.cov(xy.T), xy.mean(axis=0)
        w = 4 * np.linalg.det(covariance) / np.trace(covariance) ** 2
        near(isotropy_of(moments)[0], w, 1e-12)
        f = n * np.sum(mean**2) / np.trace(covariance)
        near(moments.systematic()[1], scipy.stats.f.sf(f, 2, 2 * (n - 1)), 1e-10)
        radius = np.sqrt(np.trace(covariance) * scipy.stats.f.ppf(0.95, 2, 2 * (n - 1)) / n)
        near(moments.circle_um, radius, 1e-10)


@pytest.mark.parametrize("n", [3, 5, 12])
def test_the_probabilities_are_uniform_where_there_is_nothing_to_find(n: int) -> None:
    """Mean vector 0 and scatter alike on both axes: each test calls wolf in five of a hundred."""
    rng = np.random.default_rng(32)
    sets = 20_000
    e = rng.standard_normal(sets * n) + 1j * rng.standard_normal(sets * n)
    group = np.repeat(np.arange(sets), n)
    moments = group_vectors(e, 2 * np.abs(e), group, group, groups=sets, resolution_um=1e-6).plain
    for p in (moments.systematic()[1], isotropy_of(moments)[1]):
        for level in (0.05, 0.20, 0.5):
            assert np.mean(p < level) == pytest.approx(level, abs=4.5 * np.sqrt(level * (1 - level) / sets))


def test_the_circle_covers_the_true_mean_vector() -> None:
    rng = np.random.default_rng(33)
    sets = 20_000
    e = 3.0 + rng.standard_normal(sets * 3) + 1j * rng.standard_normal(sets * 3)
    group = np.repeat(np.arange(sets), 3)
    moments = group_vectors(e, 2 * np.abs(e), group, group, groups=sets, resolution_um=1e-6).plain
    assert np.mean(np.abs(moments.mean - 3.0) <= moments.circle_um) == pytest.approx(0.95, abs=0.006)


def test_effective_vectors_have_the_length_of_the_whole_swing() -> None:
    groups = one_group(VECTORS, LOBED_SWINGS)
    near(groups.effective.mean, 2.656404 + 0.989596j)
    near(groups.effective.sd_um, 0.521546)
    near(groups.plain.mean, 2.4 + 0.9j)
    near(groups.mean_swing_um, 5.76)
    near(groups.median_um, float(np.mean(np.array(LOBED_SWINGS) ** (2 / 3))) ** 1.5)


@pytest.mark.parametrize(
    ("resolution", "noise", "least"), [(1.0, 0.0, 0.144338), (1.0, 0.2, 0.2), (0.2, 0.02, 0.028868)]
)
def test_scatter_is_never_taken_below_rounding_and_reading_noise(resolution: float, noise: float, least: float) -> None:
    groups = one_group([2 + 1j] * 4, resolution_um=resolution, reading_noise_um=noise, sitting=[1, 1, 2, 2])
    near(groups.plain.sd_um, least)
    near(groups.effective.sd_um, least)
    sums = groups.sums(np.array([True]))
    near(sums.within, least**2)
    near(sums.between, least**2 / 2)
    assert isotropy_of(groups.plain)[1][0] == 1.0


def test_vectors_over_three_sittings_have_their_known_sums() -> None:
    groups = one_group(VECTORS, sitting=[1, 1, 2, 2, 3])
    near(groups.centre, 2.466667 + 0.95j)
    near(groups.between, 0.134167)
    near(groups.within, 0.348750)
    near(groups.harmonic_size, 1.5)
    assert (groups.df_between[0], groups.df_within[0], groups.one_each[0]) == (4, 4, False)


def test_reading_by_eye_adds_the_hour_and_the_flat_top() -> None:
    """Constructed case: swings 5, 6 and 5 by the clock with a step of 1 µm."""
    e = np.array([2.5, 3.0, 2.5]) * np.exp(1j * np.radians([30, 60, 30]))
    near(np.sqrt(one_group(e, eye_within_rad=np.radians(15), resolution_um=1.0).eye_variance), 0.384508)
    half = one_group(e, eye_within_rad=np.radians([15, 0, 0]), resolution_um=1.0)
    near(half.eye_variance, 0.384508**2 / 3, 1e-6)
    assert one_group(e, resolution_um=1.0).eye_variance[0] == 0.0
    near(one_group([0j, 0j], eye_within_rad=1e-9).eye_variance, np.pi**2 / 3)


def test_too_few_vectors_know_nothing_and_say_so() -> None:
    for vectors in ([], [1 + 1j]):
        moments = moments_of(vectors)
        assert moments.df[0] == 0
        assert moments.sd_um[0] == 0.0
        assert np.isposinf(moments.circle_um[0])
        assert moments.systematic()[1][0] == isotropy_of(moments)[1][0] == 1.0


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        ({"eccentricity": [1.0, np.nan]}, "clamping 2 of 2: an eccentricity"),
        ({"eccentricity": [1.0, complex(0, np.inf)]}, "clamping 2 of 2: an eccentricity"),
        ({"full_swing_um": [-1.0, 2.0]}, "clamping 1 of 2: a full swing of -1 µm"),
        ({"full_swing_um": [2.0, np.inf]}, "clamping 2 of 2: a full swing"),
        ({"eye_within_rad": [0.1, -0.1]}, "clamping 2 of 2: a direction known within"),
        ({"resolution_um": 0.0}, "group 1 of 1: a resolution of 0 µm"),
        ({"reading_noise_um": np.nan}, "group 1 of 1: a reading noise"),
    ],
)
def test_figures_that_are_none_are_refused_with_their_position(broken: dict[str, Any], words: str) -> None:
    given = {"eccentricity": [1.0, 1j], "full_swing_um": [2.0, 2.0], "group": [0, 0], "sitting": [0, 0]}
    with pytest.raises(NotAnswerableError, match=words):
        group_vectors(**{**given, "groups": 1, "resolution_um": 0.1, **broken})


@given(
    st.lists(st.complex_numbers(max_magnitude=50), min_size=2, max_size=9),
    st.floats(0.01, 100.0),
    st.floats(-np.pi, np.pi),
    st.randoms(),
)
@settings(max_examples=60, deadline=None)
def test_estimates_follow_unit_and_frame_and_not_the_order(
    vectors: list[complex], unit: float, turn: float, chance: Any
) -> None:
    at_first = one_group(vectors)
    shuffled = list(vectors)
    chance.shuffle(shuffled)
    turned = one_group(np.array(shuffled) * unit * np.exp(1j * turn), resolution_um=0.01 * unit)
    np.testing.assert_allclose(turned.plain.sd_um, unit * at_first.plain.sd_um, rtol=1e-9)
    np.testing.assert_allclose(
        turned.plain.length_um**2, (unit * at_first.plain.length_um) ** 2, atol=1e-9 * unit**2 * 2500
    )
    if at_first.plain.sd_um[0] > 0.0101:
        np.testing.assert_allclose(isotropy_of(turned.plain)[0], isotropy_of(at_first.plain)[0], atol=1e-6)


def test_groups_in_any_order_have_the_sums_of_each_group_by_itself() -> None:
    rng = np.random.default_rng(34)
    e = rng.standard_normal(60) + 1j * rng.standard_normal(60) + 2.0
    group, sitting = rng.integers(0, 5, 60), rng.integers(0, 4, 60)
    swing, eye = 2 * np.abs(e) + 0.3, rng.choice([0.0, 0.2], 60)
    together = group_vectors(e, swing, group, sitting, groups=6, resolution_um=0.5, eye_within_rad=eye)
    for g in range(6):
        own = group == g
        alone = group_vectors(
            e[own], swing[own], 0 * group[own], sitting[own], groups=1, resolution_um=0.5, eye_within_rad=eye[own]
        )
        for name in VectorGroups.__slots__:
            all_of, one_of = getattr(together, name), getattr(alone, name)
            pairs = [(all_of, one_of)]
            if isinstance(all_of, VectorMoments):
                pairs = [(getattr(all_of, part), getattr(one_of, part)) for part in VectorMoments.__slots__]
            for found, expected in pairs:
                np.testing.assert_allclose(found[g], expected[0], rtol=1e-12, atol=1e-12, err_msg=name)


def items(rng: np.random.Generator, count: int, spread: npt.ArrayLike = 1.0, n: int = 4) -> dict[str, Any]:
    """Items of n clampings in two sittings, with this scatter on x, 1 on y."""
    e = 3.0 + np.repeat(np.broadcast_to(spread, count), n) * rng.standard_normal(count * n)
    e = e + 1j * rng.standard_normal(count * n)
    return {
        "eccentricity": e,
        "full_swing_um": 2 * np.abs(e),
        "group": np.repeat(np.arange(count), n),
        "sitting": np.tile(np.repeat([0, 1], n // 2), count),
        "groups": count,
    }


def test_the_shops_scatter_is_pooled_per_axis_over_the_other_items_of_the_kind() -> None:
    given = items(np.random.default_rng(35), 6)
    groups = group_vectors(**given, resolution_um=0.01)
    shop = shop_scatter_vectors(groups, [0] * 6)
    others = slice(1, 6)
    np.testing.assert_allclose(shop.between[0], groups.between[others].mean())
    np.testing.assert_allclose(shop.within[0], groups.within[others].mean())
    assert (shop.df_between[0], shop.df_within[0], shop.ratio[0]) == (10, 20, 0.5)


def test_four_other_items_in_two_sittings_are_enough_and_three_are_not() -> None:
    given = items(np.random.default_rng(36), 5)
    groups = group_vectors(**given, resolution_um=0.01)
    assert shop_scatter_vectors(groups, [0] * 5).df_between[0] == 8
    assert (shop_scatter_vectors(groups, [0] * 4 + [1]).df_between == 0).all()


def test_directions_read_by_eye_lend_no_scatter_to_the_shop() -> None:
    given = items(np.random.default_rng(37), 6)
    eye = np.where(given["group"] == 5, 0.26, 0.0)
    shop = shop_scatter_vectors(group_vectors(**given, resolution_um=0.01, eye_within_rad=eye), [0] * 6)
    assert list(shop.df_between) == [8, 8, 8, 8, 8, 10]


def test_unequal_scatter_is_found_by_the_pool_and_by_a_group_alone() -> None:
    rng = np.random.default_rng(38)
    wide = group_vectors(**items(rng, 8, 3.0, 6), resolution_um=0.01)
    assert anisotropic(wide, np.zeros(8)).all()
    even = group_vectors(**items(rng, 8, 1.0, 6), resolution_um=0.01)
    assert not anisotropic(even, np.zeros(8)).any()
    alone = isotropy_of(even.effective)[1] < 0.20
    np.testing.assert_array_equal(anisotropic(even, np.arange(8)), alone)
    few = group_vectors(**items(rng, 8, 9.0, 4), resolution_um=0.01)
    assert not anisotropic(few, np.zeros(8)).any()


def test_scatter_below_the_resolution_shows_no_direction() -> None:
    """Constructed case: the last digits of one vector, five times, must not look like scatter on a line."""
    for vectors in ([3.82j] * 5, list(3.1 + 2.2j + np.linspace(-0.1, 0.1, 5))):
        groups = one_group(vectors, resolution_um=1.0)
        assert isotropy_of(groups.effective)[1][0] == 1.0
        assert not anisotropic(groups, [0]).any()
    assert anisotropic(one_group(list(3.1 + 2.2j + np.linspace(-1, 1, 5)), resolution_um=1.0), [0]).all()


def test_a_group_alone_is_flagged_at_the_stated_level() -> None:
    rng = np.random.default_rng(39)
    even = group_vectors(**items(rng, 10_000, 1.0, 6), resolution_um=1e-6)
    assert np.mean(anisotropic(even, np.arange(10_000))) == pytest.approx(0.20, abs=0.02)
    pairs = np.repeat(np.arange(5_000), 2)
    assert np.mean(anisotropic(even, pairs)) == pytest.approx(0.05, abs=0.014)


def test_directions_by_eye_are_not_judged_for_isotropy() -> None:
    given = items(np.random.default_rng(40), 8, 9.0, 6)
    eye = group_vectors(**given, resolution_um=0.01, eye_within_rad=0.26)
    assert not anisotropic(eye, np.zeros(8)).any()
    some = group_vectors(**given, resolution_um=0.01, eye_within_rad=np.where(given["group"] < 3, 0.26, 0.0))
    assert list(anisotropic(some, np.zeros(8))) == [False] * 3 + [True] * 5


def test_results_cannot_be_written_to() -> None:
    groups = one_group(VECTORS)
    for array in (groups.centre, groups.median_um, groups.plain.mean, groups.effective.squares):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0
