"""The next clampings at a place: chances against scipy's distributions, and their simulated truth.

Simulations have fixed seeds; a clamping is nu + day + grip in the plane, µm of eccentricity. Shares come from some
hundreds of sets (standard error about 0.01); the limits stand three or more of those off the share found.
"""

import numpy as np
import numpy.typing as npt
import pytest
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.sittings import ShopScatter
from qclog.statistics.grips import TRIES, NextGrips, grips_of_sum, grips_of_swings, grips_of_vectors

Floats = npt.NDArray[np.float64]
Vectors = npt.NDArray[np.complex128]
FINE = 1e-6
MANY = 20_000


def in_plane(rng: np.random.Generator, *shape: int) -> Vectors:
    found: Vectors = rng.standard_normal(shape) + 1j * rng.standard_normal(shape)
    return found


def one_day(count: int) -> npt.NDArray[np.int64]:
    return np.zeros(count, dtype=np.int64)


# --- the first grip, against scipy ---


def test_the_chance_from_swings_of_one_day_is_that_of_students_t() -> None:
    swings = np.array([4.2, 5.6, 4.9, 6.3, 5.1])
    y = swings ** (2 / 3)
    for limit in (5.0, 7.0, 9.0):
        t = (limit ** (2 / 3) - y.mean()) / (y.std(ddof=1) * np.sqrt(1 + 1 / 5))
        found = grips_of_swings(swings, one_day(5), step_um=FINE).chance(limit)
        assert found == pytest.approx(stats.t(4).cdf(t), abs=2e-4)


def test_the_chance_from_many_vectors_is_that_of_the_rice_distribution() -> None:
    rng = np.random.default_rng(71)
    e = 3.0 + 0.8 * in_plane(rng, MANY)
    grips = grips_of_vectors(e, one_day(MANY), floor_um=FINE)
    for limit in (5.0, 7.0, 9.0):
        assert grips.chance(limit) == pytest.approx(stats.rice(3.0 / 0.8, scale=0.8).cdf(limit / 2), abs=0.01)
        assert grips.chance(limit) == pytest.approx(stats.ncx2(2, (3 / 0.8) ** 2).cdf((limit / 1.6) ** 2), abs=0.01)


def test_the_swing_stayed_under_is_where_the_chance_is_that() -> None:
    grips = grips_of_swings([4.2, 5.6, 4.9, 6.3, 5.1], [1, 1, 2, 2, 3], step_um=0.1)
    for probability in (0.5, 0.95):
        assert grips.chance(grips.under(probability)) == pytest.approx(probability, abs=1e-6)


def test_the_shops_repeat_stands_in_for_days_not_seen() -> None:
    shop = ShopScatter(*(np.asarray(x) for x in (1.44, 9, 0.5, 1.21, 18)))
    alone = grips_of_swings([4.2, 5.6, 4.9], one_day(3), step_um=0.1)
    with_shop = grips_of_swings([4.2, 5.6, 4.9], one_day(3), step_um=0.1, shop=shop)
    # by hand after method of one sitting with the shop's figures: tau² + v = 1.955 + 1.268, f = 10.09
    assert with_shop.chance(8.0) == pytest.approx(stats.t(10.09).cdf((8 - 4.9) / np.sqrt(1.955 + 1.2683)), abs=2e-3)
    assert with_shop.repeat_known
    # within a day by both: (6 x 1.21 + 2 x 0.49) / 8 = 1.03; gripped three times, by drawing days from the rest
    rng = np.random.default_rng(70)
    scatter = np.sqrt(10.09 / rng.chisquare(10.09, 200_000))
    days = 4.9 + scatter * np.sqrt(1.955 + 1.2683 - 1.03) * rng.standard_normal(scatter.size)
    over = stats.norm.sf((8.0 - days) / (scatter * np.sqrt(1.03)))
    _, again = with_shop.gripped(8.0)
    assert again is not None
    assert again.inside == pytest.approx(float(np.mean(1.0 - over**3)), abs=3e-3)
    assert alone.chance(8.0) != with_shop.chance(8.0)


# --- gripping again ---


def test_without_days_grips_are_geometric() -> None:
    rng = np.random.default_rng(72)
    swings = 2.0 * np.abs(3.0 + 0.8 * in_plane(rng, MANY))
    grips = grips_of_swings(swings, one_day(MANY), step_um=FINE)
    p = grips.chance(6.5)
    _, again = grips.gripped(6.5)
    assert again is not None
    tries = stats.geom(p)
    made = sum(k * tries.pmf(k) for k in range(1, TRIES)) + TRIES * tries.sf(TRIES - 1)
    assert again.inside == pytest.approx(tries.cdf(TRIES), abs=1e-3)
    assert again.grips == pytest.approx(made, abs=1e-3)


def test_gripping_again_does_not_mend_what_is_the_same_all_day() -> None:
    rng = np.random.default_rng(73)
    days = np.repeat(np.arange(40), 3)
    e = 3.0 + 0.8 * in_plane(rng, 40)[days] + 0.001 * in_plane(rng, 120)
    grips = grips_of_vectors(e, days, floor_um=FINE)
    _, again = grips.gripped(6.5)
    assert again is not None
    assert again.inside == pytest.approx(grips.chance(6.5), abs=0.01)
    assert 0.3 < again.inside < 0.95


def test_what_gripping_again_mends_is_not_known_from_one_clamping_a_day() -> None:
    grips = grips_of_swings([4.2, 5.6, 4.9], [1, 2, 3], step_um=0.1)
    assert not grips.repeat_known
    assert grips.gripped(6.0)[1] is None
    assert 0.5 < grips.chance(6.0) < 0.95


def test_one_clamping_alone_gives_no_chance() -> None:
    with pytest.raises(NotAnswerableError, match="1 clamping given, 2 needed"):
        grips_of_swings([4.0], one_day(1), step_um=0.1)


# --- simulated truth ---


def days_of(sizes: list[int]) -> npt.NDArray[np.int64]:
    return np.repeat(np.arange(len(sizes)), sizes)


@pytest.mark.parametrize(("sizes", "ratio"), [([3, 3, 3], 1.0), ([2, 2, 2, 2, 2], 0.5), ([5, 5], 0.0)])
@pytest.mark.parametrize("nu", [1.0, 3.0])
@pytest.mark.parametrize("from_vectors", [True, False])
def test_chances_come_true(sizes: list[int], ratio: float, nu: float, from_vectors: bool) -> None:
    """Of the first grip and within three; the stated mean and what happens on days to come differ little."""
    rng = np.random.default_rng(74)
    within = 1.0 / np.hypot(1.0, ratio)
    days = days_of(sizes)
    limit = 2.0 * float(stats.rice(nu).ppf(0.8))
    told: list[tuple[float, float]] = []
    came: list[tuple[bool, bool]] = []
    for _ in range(250):
        e = nu + within * (ratio * in_plane(rng, len(sizes))[days] + in_plane(rng, days.size))
        grips = (
            grips_of_vectors(e, days, floor_um=FINE)
            if from_vectors
            else grips_of_swings(2.0 * np.abs(e), days, step_um=FINE)
        )
        _, again = grips.gripped(limit)
        assert again is not None
        told.append((grips.chance(limit), again.inside))
        coming = 2.0 * np.abs(nu + within * (ratio * in_plane(rng, 1) + in_plane(rng, TRIES)))
        came.append((bool(coming[0] <= limit), bool((coming <= limit).any())))
    stated, happened = np.mean(told, axis=0), np.mean(came, axis=0)
    assert abs(stated[0] - happened[0]) <= 0.12
    assert abs(stated[1] - happened[1]) <= 0.12
    assert stated[0] <= happened[0] + 0.06  # it errs low rather than high


# --- forecasts from sizes alone ---


def test_two_vectors_of_unknown_directions_add_up_as_they_must() -> None:
    """|1 + exp(i phi)| = 2 |cos(phi/2)|: 95 % stay under 2 cos(0.025 pi), half under 2 cos(0.25 pi)."""
    grips = grips_of_sum([1.0, 1.0], [1.0, 1.0, 1.0], one_day(3), step_um=FINE)
    assert grips.under(0.95) == pytest.approx(2.0 * np.cos(0.025 * np.pi), abs=0.01)
    assert grips.under(0.5) == pytest.approx(2.0 * np.cos(0.25 * np.pi), abs=0.08)


def test_three_vectors_of_unknown_directions_add_up_as_simulated() -> None:
    """95 % of the sums of three equal vectors stay under 2.82 times one of them (own simulation)."""
    grips = grips_of_sum([1.0, 1.0, 1.0], [1.0, 1.0, 1.0], one_day(3), step_um=FINE)
    assert grips.under(0.95) == pytest.approx(2.82, abs=0.05)


def test_a_vector_alone_is_as_long_as_it_is() -> None:
    grips = grips_of_sum([5.0], [5.0, 5.0, 5.0], one_day(3), step_um=FINE)
    assert grips.under(0.95) == pytest.approx(5.0, abs=0.001)


def covered(grips: NextGrips, following: float) -> bool:
    """Whether the next swing stays under the 95 % of the forecast."""
    return grips.chance(following) <= 0.95


@pytest.mark.parametrize("married", [False, True])
@pytest.mark.parametrize("others", [2, 5])
def test_forecasts_for_a_place_never_tried_cover_at_their_rate(married: bool, others: int) -> None:
    """Items S + K seen at one place, forecast for another; every size drawn anew, every direction alike likely.

    A married item was worked on at the first place: its own vector takes that place's out but for a little.
    """
    rng = np.random.default_rng(75)
    days = days_of([3, 3])
    hits = []
    for _ in range(250):
        first, second = rng.uniform(1.0, 6.0, 2) * np.exp(2j * np.pi * rng.random(2))
        own = rng.uniform(1.0, 4.0) * np.exp(2j * np.pi * rng.random())
        if married:
            own = -first + 0.3 * own
        e = first + own + 0.2 * in_plane(rng, 2)[days] + 0.3 * in_plane(rng, 6)
        theirs = rng.uniform(1.0, 4.0, others) * np.exp(2j * np.pi * rng.random(others))
        sizes = [2 * np.abs(second + theirs)] + ([2 * np.abs(first + theirs)] if married else [])
        swings = 2.0 * np.abs(e)
        grips = grips_of_sum([float(swings.mean()), *sizes], swings, days, step_um=0.1)
        turned = own * np.exp(2j * np.pi * rng.random())  # it sits turned anyhow in another place
        following = 2.0 * abs(second + turned + 0.2 * in_plane(rng, 1)[0] + 0.3 * in_plane(rng, 1)[0])
        hits.append(covered(grips, following))
    assert 0.93 <= np.mean(hits) <= 0.999


@pytest.mark.parametrize("directed", [True, False])
def test_an_allowance_for_a_lean_covers_leans_of_that_size(directed: bool) -> None:
    rng = np.random.default_rng(76)
    days = days_of([3, 3, 3])
    lean, hits = 0.8, []
    for _ in range(250):
        nu = rng.uniform(0.5, 4.0)
        e = nu + 0.2 * in_plane(rng, 3)[days] + 0.3 * in_plane(rng, 9)
        if directed:
            grips = grips_of_vectors(e, days, floor_um=FINE, lean_um=lean)
        else:
            swings = 2.0 * np.abs(e)
            grips = grips_of_sum([float(swings.mean())], swings, days, step_um=FINE, lean_um=2 * lean)
        there = nu + lean * in_plane(rng, 1)[0] + 0.2 * in_plane(rng, 1)[0] + 0.3 * in_plane(rng, 1)[0]
        hits.append(covered(grips, 2.0 * abs(there)))
    assert 0.925 <= np.mean(hits) <= 0.985


@pytest.mark.parametrize("sizes", [[3, 3], [2, 2, 2]])
def test_two_distances_carried_on_cover_at_their_rate(sizes: list[int]) -> None:
    """Offset and lean that a day and a clamping both move; read at 10 and 40 mm, forecast for 60 mm."""
    rng = np.random.default_rng(77)
    days, hits = days_of(sizes), []

    def read(day: Vectors, count: int, z: float) -> tuple[Vectors, Vectors]:
        moved = day + 0.3 * in_plane(rng, count)
        lean = tilt + 0.006 * in_plane(rng, count)
        return moved + lean * z, moved + lean * 40.0

    for _ in range(200):
        tilt = 0.03 * in_plane(rng, 1)[0]
        off = rng.uniform(0.5, 3.0)
        e1, e2 = read(off + 0.2 * in_plane(rng, len(sizes))[days], days.size, 10.0)
        e = -2.0 / 3.0 * e1 + 5.0 / 3.0 * e2
        there, _ = read(off + 0.2 * in_plane(rng, 1), 1, 60.0)
        hits.append(covered(grips_of_vectors(e, days, floor_um=FINE), 2.0 * abs(there[0])))
    assert 0.90 <= np.mean(hits) <= 0.995
