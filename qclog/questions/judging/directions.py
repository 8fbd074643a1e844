"""Bounds from vectors, where every clamping of a group has a direction: they need far fewer clampings.

Whether a group is judged from vectors or from swings is decided by what was measured, before any bound is looked at.
"""

import dataclasses
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.questions.judging.lending import Pools
from qclog.questions.judging.sums import OfSeries
from qclog.statistics import many
from qclog.statistics.bounding.bounds import Bounds
from qclog.statistics.bounding.forecast import more_vector_clampings
from qclog.statistics.bounding.vector_bounds import (
    vector_bounds_next_clampings,
    vector_bounds_within_sitting,
    vectors_or_swings,
)
from qclog.statistics.vectors import VectorGroups, anisotropic, shop_scatter_vectors

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Vectors = npt.NDArray[np.complex128]

_FEWEST: Final = 2


@dataclass(frozen=True, slots=True, eq=False)
class Directed:
    """Bounds and counts of all G groups, those from vectors put in their places.

    ``mean`` is the mean eccentricity (NaN where a clamping has no direction), ``repeat_um`` the repeat as the TIR it
    causes (0 below two clampings). ``vectors``: the groups with a direction for every clamping, and ``chosen``, which
    of all they are.
    """

    next_bounds: Bounds
    here_bounds: Bounds
    more_days: Ints
    from_vectors: Bools
    mean: Vectors
    repeat_um: Floats
    vectors: VectorGroups | None
    chosen: Ints


def judge_directions(
    of: OfSeries,
    *,
    next_bounds: Bounds,
    here_bounds: Bounds,
    more_days: Ints,
    pools: Pools,
    worth_a_lower_limit: Floats,
    limit_um: Floats,
    guard_um: Floats,
) -> Directed:
    """The bounds and counts given are those from swings. ``pools``: who lends to whom."""
    count = len(limit_um)
    mean, repeat = np.full(count, np.nan, dtype=np.complex128), np.zeros(count)
    from_vectors = np.zeros(count, dtype=np.bool_)
    chosen, vector_groups = np.flatnonzero(of.directed), None
    if chosen.size:
        vector_groups = groups = many.of(of.vectors, chosen)
        here = many.of(of.vectors_here, chosen)
        uneven = anisotropic(groups, pools.frame[chosen], pools.witness[chosen])
        shop = shop_scatter_vectors(groups, pools.alike[chosen], pools.lends[chosen])
        vectors = vector_bounds_next_clampings(groups, shop, worth_a_lower_limit[chosen])
        best, rests = vectors_or_swings(groups, vectors, many.of(next_bounds, chosen), uneven)
        next_bounds = _put(next_bounds, chosen, best)
        best, rests_here = vectors_or_swings(
            here, vector_bounds_within_sitting(here), many.of(here_bounds, chosen), uneven
        )
        here_bounds = _put(here_bounds, chosen, best)
        more = more_vector_clampings(groups, limit_um[chosen], gauge_um=guard_um[chosen], within_sitting=False)
        more_days = more_days.copy()
        more_days[chosen] = np.where(rests | (groups.sittings == 1), more, more_days[chosen])
        from_vectors[chosen] = rests | ((groups.sittings == 1) & rests_here)
        mean[chosen] = groups.plain.mean
        repeat[chosen] = np.where(groups.clampings >= _FEWEST, 2 * groups.effective.sd_um, 0.0)
    return Directed(next_bounds, here_bounds, more_days, from_vectors, mean, repeat, vector_groups, chosen)


def _put(bounds: Bounds, chosen: Ints, part: Bounds) -> Bounds:
    whole = []
    for field in dataclasses.fields(bounds):
        values = getattr(bounds, field.name).copy()
        values[chosen] = getattr(part, field.name)
        whole.append(values)
    return Bounds(*whole)
