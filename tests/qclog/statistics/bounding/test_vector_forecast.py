"""How many more clampings would settle it, from vectors. The example is a constructed case."""

from typing import Any

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import vector_upper_factor, vector_upper_factor_verdict
from qclog.statistics.bounding.forecast import NEVER, more_vector_clampings, sizes_needed
from qclog.statistics.bounding.vector_bounds import centre_and_sd, vector_bounds_within_sitting
from qclog.statistics.vectors import VectorGroups, group_vectors

VECTORS = [2.1 + 0.9j, 3.0 + 0.2j, 2.4 + 1.6j, 1.7 + 0.6j, 2.8 + 1.2j]


def one_group(vectors: npt.ArrayLike, swings: npt.ArrayLike | None = None, **given: Any) -> VectorGroups:
    e = np.asarray(vectors, dtype=np.complex128)
    swing = 2.0 * np.abs(e) if swings is None else swings
    zeros = np.zeros(e.size, dtype=int)
    return group_vectors(e, swing, zeros, given.pop("sitting", zeros), groups=1, **{"resolution_um": 0.01, **given})


def test_the_forecast_is_the_smallest_size_that_meets_the_limit() -> None:
    groups = one_group(VECTORS)
    centre, sd = centre_and_sd(groups)
    more = int(more_vector_clampings(groups, 8.0, within_sitting=True)[0])
    sizes = np.array([5 + more - 1, 5 + more])
    enough = 2 * (centre + vector_upper_factor_verdict(sizes) * sd) <= 8.0
    assert more > 0
    assert list(enough) == [False, True]
    factor = vector_upper_factor(np.arange(201))
    assert sizes_needed(centre, sd, np.array([4.0]), np.array([5]), factor)[0] < 5 + more


def test_the_forecast_says_none_where_the_bound_already_holds_and_never_where_it_cannot() -> None:
    groups = one_group(VECTORS)
    upper = float(vector_bounds_within_sitting(groups).upper_verdict_um[0])
    assert more_vector_clampings(groups, upper + 1e-9, within_sitting=True)[0] == 0
    assert more_vector_clampings(groups, upper - 1e-6, within_sitting=True)[0] == 1
    assert more_vector_clampings(groups, 6.9, within_sitting=True)[0] == NEVER
    assert more_vector_clampings(groups, np.nan, within_sitting=True)[0] == 0
    with_gauge = more_vector_clampings(groups, 9.5, gauge_um=1.5, within_sitting=True)
    assert with_gauge[0] == more_vector_clampings(groups, 8.0, within_sitting=True)[0]


def test_one_sitting_needs_three_more_days_for_a_first_answer_about_other_days() -> None:
    assert more_vector_clampings(one_group(VECTORS), 9.0, within_sitting=False)[0] == 3
    assert more_vector_clampings(one_group([]), 9.0, within_sitting=False)[0] == 4
    assert more_vector_clampings(one_group(VECTORS[:1]), 9.0, within_sitting=True)[0] == 2


def test_the_forecast_for_other_days_counts_one_clamping_a_day() -> None:
    groups = one_group(VECTORS, sitting=[1, 2, 3, 4, 5])
    for limit in (7.5, 8.0, 9.0):
        inside = more_vector_clampings(one_group(VECTORS), limit, within_sitting=True)
        assert more_vector_clampings(groups, limit, within_sitting=False)[0] == inside[0]
    split = one_group(VECTORS, sitting=[1, 1, 2, 2, 3])
    assert 0 < more_vector_clampings(split, 8.5, within_sitting=False)[0] < 20
