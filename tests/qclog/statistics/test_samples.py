"""Samples: refusals with position and counts, rounding, and the scale T^(2/3)."""

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.samples import checked, checked_swings, checked_vectors, power_scale, rounding_sd
from qclog.statistics.swings import group_swings


def test_the_scale_and_its_floor_are_those_of_the_bounds() -> None:
    tir = np.array([0.0, 1.0, 1.0, 2.0])
    y, floor = power_scale(tir, 1.0)
    groups = group_swings(tir, [0] * 4, [0] * 4, groups=1, resolution_um=1.0)
    assert float(y.mean()) == pytest.approx(float(groups.pooled_centre[0]), rel=1e-12)
    equal = group_swings([3.0, 3.0], [0, 0], [0, 0], groups=1, resolution_um=1.0)
    assert power_scale(np.array([3.0, 3.0]), 1.0)[1] == pytest.approx(float(equal.pooled_sd[0]), rel=1e-12)
    assert floor > 0.0


def test_rounding_alone_scatters_by_its_step_over_root_twelve() -> None:
    exact = np.random.default_rng(1).uniform(0.0, 100.0, 100_000)
    assert float(np.std(np.round(exact) - exact)) == pytest.approx(rounding_sd(1.0), rel=0.01)


def test_refusals_name_the_position_and_both_counts() -> None:
    with pytest.raises(NotAnswerableError, match="value 2 of 3"):
        checked([1.0, np.inf, 2.0], 1)
    with pytest.raises(NotAnswerableError, match=r"1 values given, 4 needed\. Log 3 more"):
        checked([1.0], 4)
    with pytest.raises(NotAnswerableError, match="swing 1 of 2"):
        checked_swings([-1.0, 2.0], 1)
    with pytest.raises(NotAnswerableError, match="vector 2 of 2"):
        checked_vectors([1.0, complex(0.0, np.nan)], 1)
