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
from qclog.statistics.bounds import Bounds, Method, bounds_next_clampings, bounds_within_sitting
from qclog.statistics.looking import OWN_HOLDS
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
    return np.abs(np.reshape(nu, (-1, 1)) + sitting + within * vectors(rng, (sets, sum(sizes))))


def bounds_of(swings: Floats, sizes: list[int], resolution: float = FINE, limit: float | None = None) -> Bounds:
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
    point, middle = float(rice.quantile(nu)), float(rice.quantile(nu, 0.5))
    following = one_sitting(rng, 20_000, 1, nu)[:, 0]
    print("one", n, nu, share(bounds.upper_um >= point), share(following <= bounds.p95_um), share(following <= bounds.median_um),
      share(bounds.upper_verdict_um < point), share(bounds.lower_verdict_um > point), np.median(bounds.upper_um)/point, np.median(bounds.median_um)/middle)


@pytest.mark.parametrize("ratio", [0.0, 1.0, 2.0])
@pytest.mark.parametrize("sizes", [[1, 1], [3, 3], [3, 3, 3, 3], [1] * 6, [1, 2, 3, 6]])
def test_sit(sizes: list[int], ratio: float) -> None:
    rng = np.random.default_rng(13)
    nu = 3.0
    bounds = bounds_of(over_sittings(rng, nu, ratio, sizes, 10_000), sizes, limit=1e9)
    b2 = bounds_of(over_sittings(rng, nu, ratio, sizes, 1000), sizes)
    point = float(rice.quantile(nu))
    following = one_sitting(rng, 10_000, 1, nu)[:, 0]
    print("sit", sizes, ratio, share(bounds.upper_um >= point), share(following <= bounds.p95_um), share(following <= bounds.median_um),
      share(bounds.upper_verdict_um < point), share(b2.lower_verdict_um > point), np.median(bounds.upper_um)/point)
