"""Verdicts: guard bands, widened bounds, conformance probabilities.

Figures come from constructed cases and own simulation, computed apart with a general numerical library.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.conformity import (
    Verdict,
    acceptance_fraction,
    as_read,
    conformance_probability,
    guard_band,
    verdicts,
    widen,
    widen_down,
)
from qclog.statistics.uncertainty import default_indicator_u

Z95 = stats.norm.ppf(0.95)
HOLDS, DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT = Verdict


def test_the_guard_band_of_the_worked_budget() -> None:
    u = 0.619863
    assert guard_band(u) == pytest.approx(1.019584, abs=1e-6)
    assert 10 - guard_band(u) == pytest.approx(8.980416, abs=1e-6)
    assert 10 + guard_band(u) == pytest.approx(11.019584, abs=1e-6)
    assert 10 - 2 * u == pytest.approx(8.760273, abs=1e-6)
    assert as_read([8.326, 8.9804, 8.9805, 11.0195, 11.0196], 10, u).tolist() == [
        HOLDS,
        HOLDS,
        CANNOT_TELL,
        CANNOT_TELL,
        DOES_NOT_HOLD,
    ]


def test_a_higher_probability_asks_for_a_wider_guard_band() -> None:
    assert [float(guard_band(2.0, p)) for p in (0.5, 0.95, 0.99)] == pytest.approx([0, 3.289707, 4.652696], abs=1e-6)


@pytest.mark.parametrize(
    ("half_width", "step", "u", "linear", "root_sum_square"),
    [
        (0.5, 0.2, 0.341337, 9.391159, 8.872883),
        (2.0, 1.0, 1.168979, 10.752629, 9.308074),
        (8.0, 10.0, 4.622392, 16.433494, 13.628120),
    ],
)
def test_a_bound_is_widened_by_the_default_uncertainty(
    half_width: float, step: float, u: float, linear: float, root_sum_square: float
) -> None:
    # constructed case of five clampings; its figures were computed with the factor rounded to 1.645
    centre, bound = 5.204217, 8.829659
    default = default_indicator_u(step, centre)
    assert default == pytest.approx(np.sqrt(half_width**2 / 3 + (0.035 * centre) ** 2), rel=1e-12)
    assert default == pytest.approx(u, abs=5.1e-7)
    rounded = default * 1.645 / Z95
    assert widen(bound, centre, rounded, True) == pytest.approx(linear, abs=1.1e-6)
    assert widen(bound, centre, rounded, False) == pytest.approx(root_sum_square, abs=1.1e-6)


def test_items_with_and_without_a_named_instrument_are_widened_each_in_its_way() -> None:
    wide = widen([7.0, 7.0, np.inf], [3.0, 3.0, 3.0], 3 / Z95, [True, False, False])
    assert wide == pytest.approx([10.0, 8.0, np.inf])
    low = widen_down([1.0, 1.0, -np.inf], [5.0, 5.0, 5.0], 3 / Z95, [True, False, True])
    assert low == pytest.approx([-2.0, 0.0, -np.inf])


def test_a_lower_bound_above_the_middle_falls_by_the_whole_guard_band() -> None:
    assert widen_down(6.0, 5.0, 1 / Z95, False) == pytest.approx(5.0)
    assert widen(4.0, 5.0, 1 / Z95, False) == pytest.approx(5.0)


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100), st.floats(0, 50), st.booleans())
def test_widening_only_ever_widens_and_at_most_by_the_guard_band(
    one: float, other: float, centre: float, u: float, linear: bool
) -> None:
    lower, upper = min(one, other), max(one, other)
    guard = float(guard_band(u))
    assert upper - 1e-9 <= widen(upper, centre, u, linear) <= upper + guard + 1e-9
    assert lower - guard - 1e-9 <= widen_down(lower, centre, u, linear) <= lower + 1e-9


def test_each_item_gets_its_verdict() -> None:
    found = verdicts(
        upper_um=[7.0, 9.0, 9.0, np.inf, np.inf, np.inf, 5.0],
        lower_um=[4.0, 4.0, 8.5, 8.5, -np.inf, -np.inf, 3.0],
        centre_um=[5.0, 5.0, 7.0, 7.0, 0.0, np.inf, 4.0],
        limit_um=[8.0, 8.0, 7.0, 7.0, 8.0, 8.0, np.nan],
        u_um=[0.5, 0.5, 0.5, 0.5, 0.0, 0.0, 0.5],
        linear=True,
    )
    expected = [HOLDS, CANNOT_TELL, DOES_NOT_HOLD, DOES_NOT_HOLD, CANNOT_TELL, CANNOT_TELL, NO_LIMIT]
    assert found.tolist() == expected
    assert found.dtype == np.int8


def test_the_instrument_can_take_either_verdict_away() -> None:
    assert verdicts(7.9, 3.0, 5.0, 8.0, 0.0, True) == HOLDS
    assert verdicts(7.9, 3.0, 5.0, 8.0, 0.1, True) == CANNOT_TELL
    assert verdicts(7.9, 3.0, 5.0, 8.0, 0.1, False) == HOLDS
    assert verdicts(12.0, 8.1, 9.0, 8.0, 0.0, True) == DOES_NOT_HOLD
    assert verdicts(12.0, 8.1, 9.0, 8.0, 0.1, False) == DOES_NOT_HOLD
    assert verdicts(12.0, 8.1, 9.0, 8.0, 0.1, True) == CANNOT_TELL
    assert verdicts(12.0, 8.1, 9.0, 8.0, 0.3, False) == CANNOT_TELL


def test_a_bound_on_the_limit_holds_and_proves_no_failure() -> None:
    assert verdicts(8.0, 3.0, 5.0, 8.0, 0.0, True) == HOLDS
    assert verdicts(9.0, 8.0, 5.0, 8.0, 0.0, True) == CANNOT_TELL


def test_without_a_limit_the_clampings_read_get_no_verdict() -> None:
    assert as_read([5.0, 5.0], [np.nan, 8.0], 0.1).tolist() == [NO_LIMIT, HOLDS]


@pytest.mark.parametrize(
    ("value", "u", "limit", "with_floor", "without"),
    [
        (0.0, 0.8, 2, 0.987581, 0.993790),
        (0.5, 0.8, 2, 0.958589, 0.969604),
        (1.0, 0.8, 2, 0.881870, 0.894350),
        (2.5, 0.8, 3, 0.733778, 0.734014),
        (9.0, 0.7, 10, 0.923436, 0.923436),
        (10.0, 0.7, 10, 0.500000, 0.500000),
        (11.2, 0.7, 10, 0.043238, 0.043238),
        (8.326281, 0.619863, 10, 0.996535, 0.996535),
    ],
)
def test_the_probability_that_the_limit_is_held(
    value: float, u: float, limit: float, with_floor: float, without: float
) -> None:
    assert conformance_probability(value, u, limit) == pytest.approx(with_floor, abs=5.1e-7)
    assert conformance_probability(value, u, limit, floor=False) == pytest.approx(without, abs=5.1e-7)


def test_no_swing_is_below_a_limit_below_zero() -> None:
    assert conformance_probability([0.0, 1.0], 0.5, -1.0).tolist() == [0.0, 0.0]


def test_the_floor_is_that_of_a_normal_distribution_cut_off_at_zero() -> None:
    values = np.linspace(0, 4, 9)
    cut = stats.truncnorm.cdf(2.0, (0 - values) / 0.8, np.inf, loc=values, scale=0.8)
    np.testing.assert_allclose(conformance_probability(values, 0.8, 2.0), cut, rtol=1e-12)


def test_how_much_of_the_limit_may_be_used_falls_with_the_uncertainty() -> None:
    fractions = acceptance_fraction([1, 2, 3, 5, 10])
    assert fractions[0] == -np.inf
    assert fractions[1:] == pytest.approx([0.030077, 0.435636, 0.670991, 0.835515], abs=5.1e-7)
    assert (3 - guard_band(1.0)) / 3 == pytest.approx(0.451715, abs=5.1e-7)
    accepted = fractions[1:] * np.array([2, 3, 5, 10])
    assert conformance_probability(accepted, 1.0, [2, 3, 5, 10]) == pytest.approx(0.95, abs=1e-9)


def test_a_verdict_on_what_was_read_is_wrong_one_time_in_twenty_at_most() -> None:
    # a swing on the limit, read with its uncertainty: either claim is made in 5 % of cases
    read = 10 + 0.6 * np.random.default_rng(8).normal(size=100_000)
    found = as_read(read, 10, 0.6)
    assert np.mean(found == HOLDS) == pytest.approx(0.05, abs=0.003)
    assert np.mean(found == DOES_NOT_HOLD) == pytest.approx(0.05, abs=0.003)


@pytest.mark.parametrize(
    ("step", "half_width", "swing", "sd", "no_allowance", "root_sum_square", "linear"),
    [
        (0.2, 0.5, 5, 0.5, 0.917, 0.924, 0.963),
        (1.0, 2.0, 5, 0.5, 0.677, 0.781, 0.956),
        (1.0, 2.0, 10, 1.0, 0.847, 0.877, 0.960),
        (10.0, 8.0, 10, 1.0, 0.438, 0.696, 0.964),
    ],
)
def test_only_the_linear_allowance_covers_an_indicator_that_reads_low_by_its_whole_error(
    step: float, half_width: float, swing: float, sd: float, no_allowance: float, root_sum_square: float, linear: float
) -> None:
    # own simulation: five clampings, 95/95 bound of swing^(2/3) with k = 4.202681, indicator low by a; swings
    # are twice the length of a vector that scatters by sd on each axis, cut off at zero
    rng, items, n = np.random.default_rng(11), 12_000, 5
    vector = swing / 2 + sd * (rng.normal(size=(items, n)) + 1j * rng.normal(size=(items, n)))
    read = np.maximum(2 * np.abs(vector) - half_width, 0)
    y = read ** (2 / 3)
    bound = np.maximum(y.mean(axis=1) + 4.202681 * y.std(axis=1, ddof=1), 0) ** 1.5
    centre = y.mean(axis=1) ** 1.5
    true = 2 * sd * stats.rice.ppf(0.95, swing / 2 / sd)
    u = default_indicator_u(step, centre)
    shares = [
        np.mean(widened >= true) for widened in (bound, widen(bound, centre, u, False), widen(bound, centre, u, True))
    ]
    assert shares == pytest.approx([no_allowance, root_sum_square, linear], abs=0.015)


@pytest.mark.parametrize("bad", [-0.1, np.nan, np.inf])
def test_an_uncertainty_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(NotAnswerableError, match="standard uncertainty"):
        guard_band([0.1, bad])
    with pytest.raises(NotAnswerableError, match="standard uncertainty"):
        conformance_probability(5.0, [0.1, bad], 8.0)


@pytest.mark.parametrize("bad", [0.4, 1.0, np.nan])
def test_a_probability_that_proves_nothing_is_refused(bad: float) -> None:
    with pytest.raises(NotAnswerableError, match="probability"):
        guard_band(1.0, bad)
