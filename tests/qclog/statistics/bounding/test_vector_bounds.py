"""Bounds from vectors. Figures are of constructed cases, computed a second time with a general-purpose library."""

import subprocess
import sys
from dataclasses import fields
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.statistics import rice
from qclog.statistics.bounding import factors
from qclog.statistics.bounding.bounds import Bounds, Method, bounds_within_sitting
from qclog.statistics.bounding.factors import (
    tolerance_factor,
    vector_upper_factor,
)
from qclog.statistics.bounding.looking import SHOP_HOLDS, risk
from qclog.statistics.bounding.sittings import ShopScatter
from qclog.statistics.bounding.vector_bounds import (
    centre_and_sd,
    directions_serve,
    vector_bounds_next_clampings,
    vector_bounds_within_sitting,
    vectors_or_swings,
)
from qclog.statistics.swings import group_swings
from qclog.statistics.vectors import VectorGroups, group_vectors

VECTORS = [2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j]
BY_THE_CLOCK = np.array([2.5, 3.0, 2.5]) * np.exp(1j * np.radians([30, 60, 30]))
HOUR = float(np.radians(15))


def one_group(vectors: npt.ArrayLike, swings: npt.ArrayLike | None = None, **given: Any) -> VectorGroups:
    e = np.asarray(vectors, dtype=np.complex128)
    swing = 2.0 * np.abs(e) if swings is None else swings
    zeros = np.zeros(e.size, dtype=int)
    return group_vectors(e, swing, zeros, given.pop("sitting", zeros), groups=1, **{"resolution_um": 0.01, **given})


def figures(between: float, df_between: int, ratio: float, within: float, df_within: int) -> ShopScatter:
    return ShopScatter(
        np.array([between]), np.array([df_between]), np.array([ratio]), np.array([within]), np.array([df_within])
    )


def near(found: npt.ArrayLike, printed: float) -> None:
    assert float(np.squeeze(found)) == pytest.approx(printed, abs=6e-7)


def test_the_bounds_of_one_sitting_have_their_known_figures() -> None:
    groups = one_group(VECTORS)
    centre, sd = centre_and_sd(groups)
    near(centre, 2.596055)
    near(sd, 0.531507)
    bounds = vector_bounds_within_sitting(groups)
    near(bounds.upper_um, 8.567636)
    near(bounds.p95_um, 7.357505)
    near(bounds.upper_verdict_um, 9.916244)
    near(bounds.lower_verdict_um, 5.813165)
    near(bounds.median_um, float(groups.median_um[0]))
    assert bounds.method[0] == Method.ONE_SITTING


def test_swings_alone_give_their_known_wider_bounds() -> None:
    swings = group_swings(2 * np.abs(VECTORS), np.zeros(5), np.zeros(5), groups=1, resolution_um=0.01)
    bounds = bounds_within_sitting(swings)
    near(bounds.upper_um, 10.497803)
    near(bounds.p95_um, 7.981733)


def test_lobes_are_in_the_bound() -> None:
    swings = [5.2, 6.6, 6.1, 4.4, 6.5]
    bounds = vector_bounds_within_sitting(one_group(VECTORS, swings))
    near(bounds.upper_um, 9.039037)
    near(bounds.p95_um, 7.851587)
    near(centre_and_sd(one_group(VECTORS, swings))[0], 2.863388)
    alone = group_swings(swings, np.zeros(5), np.zeros(5), groups=1, resolution_um=0.01)
    near(bounds_within_sitting(alone).upper_um, 10.184966)


def test_three_unequal_sittings_have_their_known_figures() -> None:
    bounds = vector_bounds_next_clampings(one_group(VECTORS, sitting=[1, 1, 2, 2, 3]))
    near(bounds.upper_um, 8.970753)
    near(bounds.p95_um, 7.379441)
    assert bounds.method[0] == Method.SITTINGS


def test_directions_by_the_clock_have_their_known_figures_and_give_way_to_swings() -> None:
    groups = one_group(BY_THE_CLOCK, resolution_um=1.0, eye_within_rad=HOUR)
    centre, sd = centre_and_sd(groups)
    near(sd, 0.744789)
    near(centre, 2.571372)
    near(2 * (centre + vector_upper_factor([3]) * sd), 11.662922)
    assert not directions_serve(groups)[0]
    vectors = vector_bounds_within_sitting(groups)
    assert vectors.method[0] == Method.NONE
    assert np.isposinf(vectors.upper_um[0])
    swings = group_swings(2 * np.abs(BY_THE_CLOCK), [0] * 3, [0] * 3, groups=1, resolution_um=1.0)
    chosen, from_vectors = vectors_or_swings(groups, vectors, bounds_within_sitting(swings), np.array([False]))
    near(chosen.upper_um, 10.255765)
    assert not from_vectors[0]
    near(vector_bounds_within_sitting(one_group(BY_THE_CLOCK, resolution_um=1.0)).upper_um, 10.583948)


@pytest.mark.parametrize(
    ("n", "largest"), [(2, 4.52), (3, 2.03), (4, 1.48), (5, 1.23), (6, 1.08), (8, 0.91), (10, 0.81), (20, 0.59)]
)
def test_directions_by_eye_serve_up_to_the_stated_ratio(n: int, largest: float) -> None:
    """Vectors on one ray: the scatter along is that of the lengths, the rest is what the eye leaves."""
    lengths = 10.0 + np.resize([1.0, -1.0], n) * np.sqrt((n - 1) / (n - n % 2 / n))
    along = float(np.std(lengths, ddof=1))
    for step in (-0.006, 0.006):
        u = (largest + step) * along / float(np.mean(lengths))
        groups = one_group(lengths, resolution_um=1e-9, eye_within_rad=np.sqrt(3.0) * u)
        assert directions_serve(groups)[0] == (step < 0), (n, step)


def test_scatter_is_floored_along_before_the_eye_is_judged() -> None:
    same = one_group([3.0, 3.0, 3.0], resolution_um=1.0, eye_within_rad=0.05)
    _, sd = centre_and_sd(same)
    along = (1 / np.sqrt(12) / 2) ** 2
    near(sd, float(np.sqrt((along + 9 * float(same.eye_variance[0])) / 2)))


def test_by_eye_only_one_sitting_or_one_clamping_a_day_has_bounds() -> None:
    wide = np.array([2.0, 3.4, 4.1, 2.7])
    by_eye: dict[str, Any] = {"resolution_um": 0.01, "eye_within_rad": 0.02}
    assert vector_bounds_within_sitting(one_group(wide, **by_eye)).method[0] == Method.ONE_SITTING
    one_each = one_group(wide, sitting=[1, 2, 3, 4], **by_eye)
    assert vector_bounds_next_clampings(one_each).method[0] == Method.ONE_EACH
    two_a_day = one_group(wide, sitting=[1, 1, 2, 2], **by_eye)
    shop = figures(0.3, 12, 0.5, 0.2, 20)
    assert vector_bounds_next_clampings(two_a_day).method[0] == Method.NONE
    assert vector_bounds_next_clampings(two_a_day, shop).method[0] == Method.NONE


def test_one_sitting_with_the_shops_figures_follows_the_formula() -> None:
    """Written out: 6 degrees of freedom at most from the shop, centre corrected by twice its variance."""
    groups = one_group(VECTORS[:3])
    shop = figures(0.36, 10, 0.5, 0.30, 20)
    own = float(groups.within[0])
    within = (6 * 0.30 + 4 * own) / 10
    tau2, rest = 0.36 + 0.5 * within, 0.5 * within
    v = max(0.36 + (1 / 3 - 0.5) * within, within / 3)
    length = float(np.abs(np.mean(VECTORS[:3])))
    true_square = length**2 - 2 * v
    c = np.sqrt(true_square + tau2)

    def margin(tail: float) -> float:
        a6, a10 = (f / scipy.stats.chi2.ppf(tail, f) - 1 for f in (6, 10))
        upper = np.sqrt(tau2 + np.hypot(a6 * 0.36, a10 * rest))
        z, t = factors.Z_95, scipy.stats.t.isf(tail, 6)
        return float(z * np.sqrt(tau2) + np.hypot(t * np.sqrt(v), z * (upper - np.sqrt(tau2))))

    bounds = vector_bounds_next_clampings(groups, shop)
    near(bounds.upper_um, 2 * (c + margin(0.05)))
    near(bounds.upper_verdict_um, 2 * (c + margin(float(risk(3, SHOP_HOLDS)))))
    df = tau2**2 / (0.36**2 / 6 + rest**2 / 10)
    near(bounds.p95_um, 2 * (c + scipy.stats.t.ppf(0.95, df) * np.sqrt(tau2 + v)))
    kappa = np.sqrt(true_square / tau2)
    k = float(tolerance_factor(tau2 / v, df, 0.010))
    near(bounds.lower_verdict_um, 2 * np.sqrt(tau2) * (float(rice.quantile(kappa)) - factors.Z_95 + k))
    assert bounds.method[0] == Method.SHOP


@pytest.mark.parametrize(
    ("sitting", "with_shop", "method"),
    [
        ([1, 1, 1, 1], False, Method.NONE),
        ([1, 1, 1, 1], True, Method.SHOP),
        ([1, 1, 2, 2], False, Method.SITTINGS),
        ([1, 1, 2, 2], True, Method.SHOP),
        ([1, 1, 2, 3], True, Method.SITTINGS),
        ([1, 2, 3, 4], True, Method.ONE_EACH),
        ([1, 2, 3, 4], False, Method.ONE_EACH),
    ],
)
def test_the_method_follows_from_what_was_measured(sitting: list[int], with_shop: bool, method: Method) -> None:
    shop = figures(0.36, 8, 0.5, 0.3, 16) if with_shop else None
    assert vector_bounds_next_clampings(one_group(VECTORS[:4], sitting=sitting), shop).method[0] == method


def test_one_vector_with_the_shops_figures_has_bounds_and_without_them_none() -> None:
    groups = one_group(VECTORS[:1])
    bounds = vector_bounds_next_clampings(groups, figures(0.36, 8, 0.5, 0.3, 16))
    assert bounds.lower_verdict_um[0] < bounds.p95_um[0] < bounds.upper_um[0] < bounds.upper_verdict_um[0] < np.inf
    assert vector_bounds_next_clampings(groups, figures(0.36, 7, 0.5, 0.3, 16)).method[0] == Method.NONE


def test_two_vectors_have_a_bound_to_show_and_none_for_a_verdict() -> None:
    bounds = vector_bounds_within_sitting(one_group(VECTORS[:2]))
    assert bounds.upper_um[0] < np.inf
    assert (bounds.upper_verdict_um[0], bounds.lower_verdict_um[0]) == (np.inf, -np.inf)
    assert vector_bounds_within_sitting(one_group(VECTORS[:1])).method[0] == Method.NONE


def test_the_lower_limit_over_sittings_is_found_only_where_it_can_exceed_the_limit() -> None:
    groups = one_group(VECTORS, sitting=[1, 1, 2, 2, 3])
    full = vector_bounds_next_clampings(groups).lower_verdict_um[0]
    assert vector_bounds_next_clampings(groups, limit_um=5.0).lower_verdict_um[0] == full > 5.0
    for limit in (9.0, np.nan):
        assert vector_bounds_next_clampings(groups, limit_um=limit).lower_verdict_um[0] == -np.inf


def bounds_with(upper: float, lower: float, method: Method) -> Bounds:
    """Constructed: prediction a tenth below the bound, the verdict's limit a tenth above."""
    one = np.ones(1)
    return Bounds(
        one * 4, upper * one - 0.1, upper * one, upper * one + 0.1, lower * one, one * 4, np.array([method], np.int8)
    )


@pytest.mark.parametrize(
    ("vector", "swing", "larger", "upper", "lower", "rests_on_vectors"),
    [
        (8.0, 9.0, False, 8.0, 3.0, True),
        (8.0, 9.0, True, 9.0, 2.0, False),
        (9.0, 8.0, True, 9.0, 2.0, True),
        (9.0, 8.0, False, 9.0, 3.0, True),
    ],
)
def test_the_larger_bound_governs_only_where_scatter_is_unequal(
    vector: float, swing: float, larger: bool, upper: float, lower: float, rests_on_vectors: bool
) -> None:
    vectors, swings = bounds_with(vector, 3.0, Method.ONE_SITTING), bounds_with(swing, 2.0, Method.SITTINGS)
    chosen, from_vectors = vectors_or_swings(one_group(VECTORS), vectors, swings, np.array([larger]))
    assert (chosen.upper_um[0], chosen.p95_um[0], chosen.upper_verdict_um[0]) == (upper, upper - 0.1, upper + 0.1)
    assert chosen.lower_verdict_um[0] == lower
    assert from_vectors[0] == rests_on_vectors
    assert chosen.method[0] == (Method.ONE_SITTING if rests_on_vectors else Method.SITTINGS)


def test_by_eye_the_lower_limit_is_that_from_swings() -> None:
    groups = one_group([2.0, 3.4, 4.1, 2.7], eye_within_rad=0.02)
    vectors, swings = vector_bounds_within_sitting(groups), bounds_with(9.0, 2.0, Method.ONE_SITTING)
    assert vectors.lower_verdict_um[0] == -np.inf
    chosen, from_vectors = vectors_or_swings(groups, vectors, swings, np.array([False]))
    assert from_vectors[0]
    assert (chosen.upper_um[0], chosen.lower_verdict_um[0]) == (vectors.upper_um[0], 2.0)


def test_where_vectors_give_none_the_swings_stand() -> None:
    groups = one_group(VECTORS)
    none = vector_bounds_next_clampings(groups)
    swings = bounds_with(8.0, 2.0, Method.SHOP)
    chosen, from_vectors = vectors_or_swings(groups, none, swings, np.array([True]))
    for field in fields(Bounds):
        assert getattr(chosen, field.name)[0] == getattr(swings, field.name)[0]
    assert not from_vectors[0]


def test_many_groups_at_once_have_the_bounds_of_each_by_itself() -> None:
    rng = np.random.default_rng(41)
    e = 3.0 + rng.standard_normal(80) + 1j * rng.standard_normal(80)
    group, sitting = rng.integers(0, 9, 80), rng.integers(0, 3, 80)
    eye = np.where(group > 6, 0.02, 0.0)

    def bounds_of(own: npt.NDArray[np.bool_], labels: npt.NDArray[np.int64], groups: int) -> list[Bounds]:
        found = group_vectors(
            e[own], 2 * np.abs(e[own]), labels, sitting[own], groups=groups, resolution_um=0.1, eye_within_rad=eye[own]
        )
        shop = ShopScatter(*(np.full(groups, x) for x in (0.5, 9, 0.5, 0.4, 16)))
        return [
            vector_bounds_within_sitting(found),
            vector_bounds_next_clampings(found),
            vector_bounds_next_clampings(found, shop, 6.0),
        ]

    together = bounds_of(group >= 0, group, 10)
    for g in range(9):
        for all_of, one_of in zip(together, bounds_of(group == g, 0 * group[group == g], 1), strict=True):
            for field in fields(Bounds):
                found, expected = getattr(all_of, field.name)[g], getattr(one_of, field.name)[0]
                np.testing.assert_allclose(found, expected, rtol=1e-10)
    for all_of in together:
        assert all_of.method[9] == Method.NONE


def test_judging_vectors_loads_no_scipy() -> None:
    program = (
        "import sys, numpy as np\n"
        "from qclog.statistics.vectors import *\n"
        "from qclog.statistics.bounding.vector_bounds import *\n"
        "from qclog.statistics.bounding.forecast import more_vector_clampings\n"
        "import qclog.statistics.length_interval\n"
        "e = np.array([2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j])\n"
        "def of(sitting, **more):\n"
        "    return group_vectors(e, 2 * abs(e), [0] * 5, sitting, groups=1, resolution_um=0.01, **more)\n"
        "for groups in (of([0] * 5), of([1, 1, 2, 2, 3]), of(range(5)), of([0] * 5, eye_within_rad=0.1)):\n"
        "    shop = shop_scatter_vectors(groups, [0])\n"
        "    vector_bounds_within_sitting(groups)\n"
        "    vector_bounds_next_clampings(groups, shop, limit_um=9.0)\n"
        "    more_vector_clampings(groups, 9.0, within_sitting=True)\n"
        "    more_vector_clampings(groups, 9.0, within_sitting=False)\n"
        "    anisotropic(groups, [0]), groups.plain.circle_um, groups.plain.systematic()\n"
        "sys.exit('scipy' in sys.modules)\n"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
