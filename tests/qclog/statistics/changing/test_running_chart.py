"""The running chart: the known case, its limits, false alarms and finding a change. Fixed seeds."""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.running_chart import (
    CUSUM_LIMIT,
    EWMA_LIMIT,
    FALSE_ALARM_EVERY,
    cusum,
    ewma,
    running_chart,
    self_starting_scores,
)

Floats = npt.NDArray[np.float64]

RECORD = [5.0, 4.6, 5.4, 4.9, 5.3, 4.7, 5.1, 5.6, 4.8, 5.2, 7.1, 6.6, 7.4, 6.9]
SCORES = [
    *(0.957649, -0.184634, 0.765689, -0.863678, 0.327375, 1.600178, -0.708703, 0.431273),
    *(3.632505, 1.711706, 2.188407, 1.362201),
]
SUMS = [0.457649, 0, 0.265689, 0, 0, 1.100178, 0, 0, 3.132505, 4.344212, 6.032618, 6.894820]


def swings(rng: np.random.Generator, shape: tuple[int, ...], nu: npt.ArrayLike) -> Floats:
    return np.abs(np.asarray(nu) + rng.standard_normal(shape) + 1j * rng.standard_normal(shape))


def test_the_known_case_has_its_known_scores_and_sums() -> None:
    scores = self_starting_scores(np.array(RECORD) ** (2 / 3), 0.0)
    np.testing.assert_allclose(scores, SCORES, atol=6e-7)
    np.testing.assert_allclose(cusum(scores), SUMS, atol=6e-7)
    np.testing.assert_allclose(ewma(scores)[8:10], [0.903399, 1.065060], atol=6e-7)


def test_the_known_case_alarms_at_the_second_clamping_after_its_step() -> None:
    found = running_chart(RECORD, resolution_um=0.01)
    assert (found.alarm_at, found.changed_after) == (12, 10)
    assert not found.established
    np.testing.assert_allclose(found.cusum[:10], SUMS[:10], atol=6e-7)


def test_after_an_alarm_the_scores_stay_against_what_was_before_the_change() -> None:
    found = running_chart(RECORD, resolution_um=0.01)
    y = np.array(RECORD) ** (2 / 3)
    t = (y[12:] - y[:10].mean()) / y[:10].std(ddof=1) * np.sqrt(10 / 11)
    np.testing.assert_allclose(found.scores[10:], scipy.stats.norm.isf(scipy.stats.t.sf(t, 9)), rtol=1e-9)
    longer = running_chart([*RECORD, *[7.0] * 40], resolution_um=0.01)
    assert longer.alarm_at == 12
    assert float(longer.cusum[-1]) > 100.0  # it does not learn the new level and fall silent


def test_a_record_that_stays_is_established_from_twenty_on() -> None:
    steady = [5.0, 5.2, 4.9, 5.1] * 5
    assert running_chart(steady, resolution_um=0.1).established
    assert not running_chart(steady[:19], resolution_um=0.1).established
    assert running_chart(steady, resolution_um=0.1).alarm_at == 0


def test_a_change_from_the_first_score_on_leaves_the_first_two_as_they_were() -> None:
    found = running_chart([5.0, 5.05, 9.0, 9.0, 9.1, 9.0, 30.0, 90.0], resolution_um=0.01)
    assert 2 <= found.changed_after < found.alarm_at
    assert np.isfinite(found.scores).all()


def test_equal_readings_do_not_alarm() -> None:
    found = running_chart([5.0] * 30, resolution_um=1.0)
    assert found.alarm_at == 0
    np.testing.assert_array_equal(found.scores, 0.0)


def test_a_change_below_the_step_of_the_readings_does_not_alarm() -> None:
    assert running_chart([5.0] * 20 + [6.0] + [5.0] * 5, resolution_um=5.0).alarm_at == 0
    assert running_chart([5.0] * 20 + [6.0] * 5, resolution_um=0.5).alarm_at > 0


def test_too_few_or_impossible_swings_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="2 swings given, 3 needed"):
        running_chart([5.0, 5.1], resolution_um=0.1)
    with pytest.raises(NotAnswerableError, match="swing 3 of 3"):
        running_chart([5.0, 5.1, np.nan], resolution_um=0.1)


def run_lengths(over: npt.NDArray[np.bool_]) -> float:
    """Mean run length of series (sets, n): scores seen until the first alarm over alarms."""
    alarmed = over.any(axis=1)
    seen = np.where(alarmed, over.argmax(axis=1) + 1, over.shape[1])
    return float(seen.sum() / alarmed.sum())


def test_the_limits_give_one_false_alarm_in_370_scores() -> None:
    z = np.random.default_rng(1).standard_normal((2_500, 1_600))
    assert run_lengths(cusum(z) > CUSUM_LIMIT) == pytest.approx(FALSE_ALARM_EVERY, rel=0.08)
    assert run_lengths(ewma(z) > EWMA_LIMIT) == pytest.approx(FALSE_ALARM_EVERY, rel=0.08)


def test_a_shift_of_one_standard_deviation_is_found_in_the_known_run_length() -> None:
    z = 1.0 + np.random.default_rng(2).standard_normal((4_000, 120))
    assert run_lengths(cusum(z) > CUSUM_LIMIT) == pytest.approx(8.6, abs=0.3)
    assert run_lengths(ewma(z) > EWMA_LIMIT) == pytest.approx(9.0, abs=0.4)


@pytest.mark.parametrize("nu", [0.0, 2.0, 5.0])
def test_an_unchanged_item_alarms_within_a_hundred_clampings_as_often_as_promised(nu: float) -> None:
    y = swings(np.random.default_rng(3), (4_000, 100), nu) ** (2 / 3)
    over = cusum(self_starting_scores(y, 0.0)) > CUSUM_LIMIT
    assert 0.08 <= np.mean(over[:, :48].any(axis=1)) <= 0.17
    assert 0.17 <= np.mean(over.any(axis=1)) <= 0.30


def test_scores_of_an_unchanged_normal_item_are_standard_normal_from_the_first_on() -> None:
    y = np.random.default_rng(4).standard_normal((20_000, 12))
    scores = self_starting_scores(y, 0.0)
    np.testing.assert_allclose(scores.mean(axis=0), 0.0, atol=0.03)
    np.testing.assert_allclose(scores.std(axis=0), 1.0, atol=0.025)
    assert abs(float(np.corrcoef(scores[:, 3], scores[:, 4])[0, 1])) < 0.03


def test_a_level_half_as_high_again_is_found_in_ten_clampings_as_often_as_known() -> None:
    """After 20 clampings at 5 times the scatter practically always, at twice in 0.42 (own simulation)."""
    rng = np.random.default_rng(5)
    for nu, low, high in ((5.0, 0.98, 1.0), (2.0, 0.37, 0.53)):
        level = np.where(np.arange(30) < 20, nu, 1.5 * nu)
        y = swings(rng, (2_000, 30), level) ** (2 / 3)
        over = cusum(self_starting_scores(y, 0.0)) > CUSUM_LIMIT
        quiet = ~over[:, :18].any(axis=1)
        assert low <= np.mean(over[quiet, 18:].any(axis=1)) <= high
