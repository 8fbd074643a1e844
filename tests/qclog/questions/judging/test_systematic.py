"""The systematic part of the run-out: its interval covers the truth, over sittings as within one."""

import numpy as np
import pytest

from qclog.questions.judging.systematic import systematic


@pytest.mark.parametrize(("days", "each", "between"), [(1, 6, 0.0), (4, 3, 1.0)])
def test_the_interval_covers_the_length_of_the_mean_vector(days: int, each: int, between: float) -> None:
    """Own simulation from known truth, nominal 0.95; 80 sets."""
    rng = np.random.default_rng(days * 10 + each)
    held = 0
    for _ in range(80):
        day = between * (rng.standard_normal(days) + 1j * rng.standard_normal(days))
        vectors = (
            2.5
            + np.repeat(day, each)
            + 0.6 * (rng.standard_normal(days * each) + 1j * rng.standard_normal(days * each))
        )
        found = systematic(vectors.tolist(), np.repeat(np.arange(days), each).tolist(), 0.01)
        assert found is not None
        held += found.low_um <= 5.0 <= found.high_um
    assert held / 80 >= 0.86


def test_one_clamping_says_nothing_of_it() -> None:
    assert systematic([2.0 + 1.0j], [1], 0.1) is None


def test_readings_that_agree_to_the_step_are_known_no_better_than_the_step() -> None:
    found = systematic([2.0 + 0.0j] * 4, [1, 1, 2, 2], 1.0)
    assert found is not None
    assert found.low_um < 4.0 < found.high_um
