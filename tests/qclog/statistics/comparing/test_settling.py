"""Looking after every clamping and stopping when it is settled: errors, power, forecast.

Shares from own simulation with Rice-distributed swings and fixed seeds.
"""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.comparing.settling import Outcome, clampings_needed, look_risk, pooled_sd, settle
from qclog.statistics.comparing.swings import Sums, sums_of, welch

A = [4.2, 5.6, 4.9, 6.3, 5.1]
B = [10.4, 12.1, 9.7, 11.8, 13.0]
NEAR_A = [6.1, 7.4, 5.2, 8.3, 6.6]


def swings(rng: np.random.Generator, shape: tuple[int, ...], nu: float, sigma: float) -> npt.NDArray[np.float64]:
    return np.abs(nu + sigma * (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)))


def test_the_case_close_together_is_undecided_with_its_known_p() -> None:
    found = settle(A, NEAR_A, resolution_um=0.01, matters_um=2.0)
    assert found.outcome is Outcome.UNDECIDED
    assert found.p_value == pytest.approx(0.048796, abs=6e-7)
    assert found.risk == pytest.approx(0.0125)
    assert found.more == 9 - 5


def test_the_case_far_apart_is_settled() -> None:
    found = settle(A, B, resolution_um=0.01, matters_um=2.0)
    assert (found.outcome, found.more) == (Outcome.A_BETTER, 0)
    assert settle(B, A, resolution_um=0.01, matters_um=2.0).outcome is Outcome.B_BETTER


def test_the_forecast_has_its_known_sizes() -> None:
    sd = pooled_sd(sums_of(np.array(A), 0.0), sums_of(np.array(NEAR_A), 0.0))
    assert sd == pytest.approx(1.008464, abs=6e-7)
    assert clampings_needed(1.5, sd, 0.0125) == 15
    assert clampings_needed(1.5, sd, 0.05) == 11
    assert clampings_needed(2.0, sd, 0.0125) == 9
    assert clampings_needed(0.01, sd, 0.0125) is None


@pytest.mark.parametrize("sd", [1.0, 2.0, 3.0, 6.0])
def test_the_forecast_is_the_smallest_size_whose_power_by_a_library_is_ninety_percent(sd: float) -> None:

    def power(n: int) -> float:
        df = 2 * n - 2
        shift = 6.0 / (sd * np.sqrt(2.0 / n))
        return float(scipy.stats.nct.sf(scipy.stats.t.isf(0.00625, df), df, shift))

    found = clampings_needed(6.0, sd, 0.0125)
    assert found is not None
    assert power(found) >= 0.90 > power(found - 1)


def test_the_risk_of_a_look_is_constant_to_twelve_and_shrinks_beyond() -> None:
    np.testing.assert_allclose(look_risk([4, 8, 12, 24, 48]), [0.0125, 0.0125, 0.0125, 0.003125, 0.00078125])


def test_below_four_clampings_nothing_is_settled_and_more_are_asked_for() -> None:
    found = settle([4.0, 4.1, 4.2], [20.0, 20.1, 20.2], resolution_um=0.01, matters_um=2.0)
    assert found.outcome is Outcome.UNDECIDED
    assert found.more == 1


def test_alike_with_little_scatter_is_no_difference_that_matters() -> None:
    found = settle([5.0, 5.1, 4.9, 5.0, 5.1, 5.0], [5.1, 5.0, 5.0, 4.9, 5.1, 5.1], resolution_um=0.1, matters_um=1.0)
    assert found.outcome is Outcome.NO_DIFFERENCE
    assert -1.0 <= found.low_um <= found.high_um <= 1.0


def test_a_difference_that_matters_is_above_zero() -> None:
    with pytest.raises(NotAnswerableError, match="matters of 0"):
        settle(A, B, resolution_um=0.01, matters_um=0.0)


@pytest.mark.parametrize("nu", [0.0, 3.0, 10.0])
def test_whenever_one_stops_the_wrong_word_stays_at_five_percent(nu: float) -> None:
    """Looks from 4 to 12, and on to 40; a share of 0.11 would follow from 0.0125 at every look, 0.25 from 0.05."""
    rng = np.random.default_rng(21)
    y = swings(rng, (2, 6_000, 40), nu, 1.0) ** (2 / 3)
    wrong = np.zeros(6_000, dtype=np.bool_)
    for n in range(4, 41):
        a, b = (Sums(np.asarray(n), g[:, :n].mean(axis=1), g[:, :n].std(axis=1, ddof=1)) for g in y)
        wrong |= welch(a, b).p_value <= look_risk(n)
        if n == 12:
            assert 0.032 <= wrong.mean() <= 0.052
    assert 0.040 <= wrong.mean() <= 0.063


def words(rng: np.random.Generator, nu_a: float, nu_b: float, sigma: float, sets: int) -> list[Outcome]:
    """The word each of so many series stops with, looks from 4 to 12."""
    stopped = []
    for _ in range(sets):
        a, b = swings(rng, (12,), nu_a, sigma), swings(rng, (12,), nu_b, sigma)
        for n in range(4, 13):
            outcome = settle(a[:n], b[:n], resolution_um=1e-6, matters_um=2.0).outcome
            if outcome is not Outcome.UNDECIDED:
                break
        stopped.append(outcome)
    return stopped


def test_alike_is_mostly_called_alike_and_seldom_different() -> None:
    stopped = words(np.random.default_rng(22), 5.0, 5.0, 1.0, 300)
    assert sum(word in (Outcome.A_BETTER, Outcome.B_BETTER) for word in stopped) <= 24
    assert stopped.count(Outcome.NO_DIFFERENCE) >= 0.91 * 300


def test_six_and_a_half_against_twelve_and_a_half_is_found_and_never_the_wrong_way_round() -> None:
    stopped = words(np.random.default_rng(23), 6.5, 12.5, 2.0, 300)
    assert stopped.count(Outcome.A_BETTER) >= 0.97 * 300
    assert Outcome.B_BETTER not in stopped


def test_six_clampings_each_settle_six_and_a_half_against_twelve_and_a_half_at_one_look() -> None:
    rng = np.random.default_rng(24)
    found = [
        settle(swings(rng, (6,), 6.5, 2.0), swings(rng, (6,), 12.5, 2.0), resolution_um=0.1, matters_um=2.0).outcome
        for _ in range(300)
    ]
    assert found.count(Outcome.A_BETTER) >= 0.85 * 300
    assert Outcome.B_BETTER not in found
