"""How far two readings of one body lie apart: the rate of false alarms, and what is refused."""

import math

import numpy as np
import pytest
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.repeated_reading import most_apart


def test_two_values_are_held_apart_by_t_of_the_earlier_ones() -> None:
    """s of 1, 2, 3, 4 is sqrt(5/3); t(0.975, 3) = 3.182 (NIST/SEMATECH e-Handbook 1.3.6.7.2)."""
    assert most_apart([1.0, 2.0, 3.0, 4.0]) == pytest.approx(3.182 * math.sqrt(2 * 5 / 3), abs=2e-3)


def test_two_vectors_are_held_apart_by_f_of_the_earlier_ones() -> None:
    """Squares 2 over 4 degrees of freedom of both axes; F(0.95; 2, 4) = 6.944 (NIST/SEMATECH e-Handbook 1.3.6.7.3)."""
    assert most_apart([1 + 0j, -1 + 0j, 0j]) == pytest.approx(2 * math.sqrt(2 / 4) * math.sqrt(6.944), abs=2e-3)


@pytest.mark.parametrize("n", [4, 8])
@pytest.mark.parametrize("vectors", [False, True])
def test_a_body_that_did_not_move_is_said_to_have_moved_once_in_twenty_times(n: int, vectors: bool) -> None:
    rng = np.random.default_rng(5)
    trials = 3_000
    across, along = rng.normal(size=(2, trials, n + 2)).tolist()
    drawn = [[complex(*pair) for pair in zip(*rows, strict=True)] for rows in zip(across, along, strict=True)]
    said = [abs(one[-1] - one[-2]) > most_apart(one[:n]) for one in (drawn if vectors else across)]
    assert stats.binom.ppf(1e-6, trials, 0.05) <= sum(said) <= stats.binom.ppf(1 - 1e-6, trials, 0.05)


@pytest.mark.parametrize("earlier", [[], [1.0], [1.0, math.nan], [1j, complex("inf")]])
def test_too_few_or_what_is_not_finite_is_refused(earlier: list[complex]) -> None:
    with pytest.raises(NotAnswerableError):
        most_apart(earlier)
