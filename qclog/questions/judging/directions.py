"""Bounds from vectors, where every clamping of a group has a direction: they need far fewer clampings.

Whether a group is judged from vectors or from swings is decided by what was measured, before any bound is looked at.
"""

import dataclasses
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.questions.judging.lending import Pools
from qclog.statistics.bounding.bounds import Bounds
from qclog.statistics.bounding.forecast import more_vector_clampings
from qclog.statistics.bounding.vector_bounds import (
    vector_bounds_next_clampings,
    vector_bounds_within_sitting,
    vectors_or_swings,
)
from qclog.statistics.vectors import VectorGroups, anisotropic, group_vectors, shop_scatter_vectors

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Vectors = npt.NDArray[np.complex128]

_FEWEST: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class Clampings:
    """Clampings of G groups, arrays (N,): ``vector`` is NaN where a clamping has none."""

    group: Ints
    sitting: Ints
    swing_um: Floats
    vector: Vectors
    within_rad: Floats

    def of(self, which: Bools) -> "Clampings":
        return Clampings(*(getattr(self, field.name)[which] for field in dataclasses.fields(self)))


@dataclass(frozen=True, slots=True, eq=False)
class Directed:
    """Bounds and counts of all G groups, those from vectors put in their places.

    ``mean`` is the mean eccentricity (NaN where a clamping has no direction), ``repeat_um`` the repeat as the TIR it
    causes (0 below two clampings), ``some_missing`` marks groups of which only some clampings have a direction.
    ``vectors``: the groups with a direction for every clamping, and ``chosen``, which of all they are.
    """

    next_bounds: Bounds
    here_bounds: Bounds
    more_days: Ints
    from_vectors: Bools
    mean: Vectors
    repeat_um: Floats
    some_missing: Bools
    vectors: VectorGroups | None
    chosen: Ints


def judge_directions(
    clampings: Clampings,
    last: Bools,
    *,
    next_bounds: Bounds,
    here_bounds: Bounds,
    more_days: Ints,
    resolution_um: Floats,
    pools: Pools,
    worth_a_lower_limit: Floats,
    limit_um: Floats,
    guard_um: Floats,
) -> Directed:
    """``last`` (N,): clampings of each group's last sitting; the bounds and counts given are those from swings.

    ``pools``: who lends to whom.
    """
    count = len(limit_um)
    known = np.isfinite(clampings.vector.real)
    size, having = np.bincount(clampings.group, minlength=count), np.bincount(clampings.group, known, count)
    whole = (size > 0) & (having == size)
    mean, repeat = np.full(count, np.nan, dtype=np.complex128), np.zeros(count)
    from_vectors = np.zeros(count, dtype=np.bool_)
    chosen, vector_groups = np.flatnonzero(whole), None
    if chosen.size:
        inside = whole[clampings.group]
        vector_groups = groups = _grouped(clampings.of(inside), chosen, resolution_um)
        here = _grouped(clampings.of(inside & last), chosen, resolution_um)
        uneven = anisotropic(groups, pools.frame[chosen], pools.witness[chosen])
        shop = shop_scatter_vectors(groups, pools.alike[chosen], pools.lends[chosen])
        vectors = vector_bounds_next_clampings(groups, shop, worth_a_lower_limit[chosen])
        best, rests = vectors_or_swings(groups, vectors, _taken(next_bounds, chosen), uneven)
        next_bounds = _put(next_bounds, chosen, best)
        best, rests_here = vectors_or_swings(
            here, vector_bounds_within_sitting(here), _taken(here_bounds, chosen), uneven
        )
        here_bounds = _put(here_bounds, chosen, best)
        more = more_vector_clampings(groups, limit_um[chosen], gauge_um=guard_um[chosen], within_sitting=False)
        more_days = more_days.copy()
        more_days[chosen] = np.where(rests | (groups.sittings == 1), more, more_days[chosen])
        from_vectors[chosen] = rests | ((groups.sittings == 1) & rests_here)
        mean[chosen] = groups.plain.mean
        repeat[chosen] = np.where(groups.clampings >= _FEWEST, 2 * groups.effective.sd_um, 0.0)
    some_missing = (having > 0) & (having < size)
    return Directed(
        next_bounds, here_bounds, more_days, from_vectors, mean, repeat, some_missing, vector_groups, chosen
    )


def _grouped(clampings: Clampings, chosen: Ints, resolution_um: Floats) -> VectorGroups:
    return group_vectors(
        clampings.vector,
        clampings.swing_um,
        np.searchsorted(chosen, clampings.group),
        clampings.sitting,
        groups=chosen.size,
        resolution_um=resolution_um[chosen],
        eye_within_rad=clampings.within_rad,
    )


def _taken(bounds: Bounds, chosen: Ints) -> Bounds:
    return Bounds(*(getattr(bounds, field.name)[chosen] for field in dataclasses.fields(bounds)))


def _put(bounds: Bounds, chosen: Ints, part: Bounds) -> Bounds:
    whole = []
    for field in dataclasses.fields(bounds):
        values = getattr(bounds, field.name).copy()
        values[chosen] = getattr(part, field.name)
        whole.append(values)
    return Bounds(*whole)
