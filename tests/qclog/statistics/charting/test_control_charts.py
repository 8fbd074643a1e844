"""Charts: their limits, what they signal, and how often they do so by chance. Constructed cases and own simulation."""

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.questions.charted import HINT_EVERY, RULES
from qclog.statistics.changing import running_chart
from qclog.statistics.charting import control_charts, run_lengths
from qclog.statistics.charting.control_charts import (
    changed_after,
    groups_of,
    hints,
    single_values,
    swing_limits,
    vector_scores,
)
from qclog.statistics.charting.run_lengths import FOUR_OF_FIVE, NINE_IN_A_ROW, TWO_OF_THREE, Rule


def test_groups_are_charted_by_their_range_and_large_ones_by_their_standard_deviation() -> None:
    """By hand with printed factors: A2 0.577, D4 2.114 for five; A3 0.927, B3 0.321 and B4 1.679 for eleven."""
    rng = np.random.default_rng(1)
    small, large = rng.normal(10.0, 1.0, (20, 5)), rng.normal(10.0, 1.0, (20, 11))
    found, mean_range = groups_of(small, least_sd=0.0), float(np.ptp(small, axis=1).mean())
    assert found.by == "range"
    assert found.means.upper - found.means.centre == pytest.approx(0.577 * mean_range, rel=1e-3)
    assert (found.spreads.lower, found.spreads.upper) == pytest.approx((0.0, 2.114 * mean_range), rel=1e-3)
    found, mean_sd = groups_of(large, least_sd=0.0), float(large.std(axis=1, ddof=1).mean())
    assert found.by == "sd"
    assert found.means.upper - found.means.centre == pytest.approx(0.927 * mean_sd, rel=1e-3)
    assert (found.spreads.lower, found.spreads.upper) == pytest.approx((0.321 * mean_sd, 1.679 * mean_sd), rel=2e-3)


def test_limits_are_never_closer_than_rounding_leaves_them() -> None:
    assert single_values([5.0, 5.0, 5.0, 5.0], least_sd=0.3).upper == pytest.approx(5.9)
    assert groups_of(np.full((4, 4), 5.0), least_sd=0.3).means.upper == pytest.approx(5.0 + 3 * 0.3 / 2)


def test_too_few_values_and_those_that_are_none_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="2 values given, 3 needed"):
        single_values([1.0, 2.0], least_sd=0.1)
    with pytest.raises(NotAnswerableError, match="value 2 of 3"):
        single_values([1.0, np.inf, 2.0], least_sd=0.1)


def test_rules_are_told_where_they_are_first_fulfilled() -> None:
    z = [0.1, 2.1, 0.5, 2.2, 2.3, -0.5, *([0.4] * 9), -1.2, -1.1, 0.3, -1.3, -1.4]
    assert hints(z, list(RULES)) == [(3, TWO_OF_THREE), (14, NINE_IN_A_ROW), (19, FOUR_OF_FIVE)]


def test_points_on_both_sides_do_not_add_up() -> None:
    assert hints([2.5, -2.5, 2.5, -2.5], [Rule(3, 4, 2.0)]) == []


def _until(alarmed: np.ndarray) -> float:
    """The mean number of points to the first alarm, of chains (N, points) that all alarm."""
    assert alarmed.any(axis=1).all()
    return float(np.mean(alarmed.argmax(axis=1) + 1))


def test_run_lengths_are_those_of_simulated_charts() -> None:
    """Own simulation, 2,000 charts with points shifted by one standard deviation: standard errors of 2 per cent."""
    z = np.random.default_rng(7).normal(1.0, 1.0, (2000, 120))
    total, mean, state, by = np.zeros(2000), np.zeros(2000), [], []
    for column in z.T:
        total = np.maximum(0.0, total + column - control_charts.ALLOWANCE)
        mean = (1 - control_charts.WEIGHT) * mean + control_charts.WEIGHT * column
        state.append(total > control_charts.SUM_LIMIT)
        by.append(np.abs(mean) > control_charts.limit_of_weighted())
    sums = run_lengths.two_sided_sums(1.0, control_charts.ALLOWANCE, control_charts.SUM_LIMIT)
    weighted = run_lengths.weighted_mean(1.0, control_charts.WEIGHT, control_charts.WIDTH)
    assert _until(np.array(state).T) == pytest.approx(sums, rel=0.07)
    assert _until(np.array(by).T) == pytest.approx(weighted, rel=0.07)


def test_run_rules_alarm_as_often_in_simulated_charts() -> None:
    """Own simulation, 1,500 charts shifted by one standard deviation, with the rules that are looked for."""
    rules = (run_lengths.BEYOND, *RULES)
    z = np.random.default_rng(8).normal(1.0, 1.0, (1500, 90))
    first = [min(i for i, _ in hints(chain, rules)) + 1 for chain in z]
    assert np.mean(first) == pytest.approx(run_lengths.with_rules(1.0, rules), rel=0.08)


def test_what_is_said_of_chance_is_what_the_charts_were_made_for() -> None:
    """Cumulative sum and weighted mean run 370 points; points and hints together 109."""
    up = run_lengths.cumulative_sum(0.0, running_chart.ALLOWANCE, running_chart.CUSUM_LIMIT)
    assert up == pytest.approx(running_chart.FALSE_ALARM_EVERY, abs=0.1)
    both = run_lengths.two_sided_sums(0.0, control_charts.ALLOWANCE, control_charts.SUM_LIMIT)
    assert both == pytest.approx(370, abs=2)
    assert run_lengths.weighted_mean(0.0, control_charts.WEIGHT, control_charts.WIDTH) == pytest.approx(371.1, abs=0.1)
    assert run_lengths.with_rules(0.0, (run_lengths.BEYOND, *RULES)) == pytest.approx(HINT_EVERY, abs=0.5)


def _rice(rng: np.random.Generator, kappa: float, size: tuple[int, int]) -> np.ndarray:
    return np.asarray(2.0 * np.hypot(kappa + rng.normal(size=size), rng.normal(size=size)))


@pytest.mark.parametrize(
    ("kappa", "least", "most"), [(0.0, 0.0015, 0.0045), (3.0, 0.0005, 0.0045), (6.0, 0.0008, 0.0045)]
)
def test_a_swing_lies_above_its_limit_about_once_in_370_whatever_its_share_of_scatter(
    kappa: float, least: float, most: float
) -> None:
    """Own simulation, Rice distributed swings: 300 charts of 40 points; 0.0027 nominal."""
    swings = _rice(np.random.default_rng(int(kappa) + 1), kappa, (300, 40))
    over = [np.nansum(chain > swing_limits(chain, resolution_um=0.01)[1]) for chain in swings]
    assert least < np.sum(over) / (300 * 38) < most


def test_limits_in_micrometres_alarm_where_the_scores_do() -> None:
    """The limit is that of the self-starting score: the normal value exceeded once in 370."""
    chain = _rice(np.random.default_rng(3), 2.0, (1, 60))[0]
    chain[40] *= 3.2
    _, upper = swing_limits(chain, resolution_um=0.01)
    scores = running_chart.self_starting_scores(chain ** (2 / 3), 0.0)
    assert (chain[2:] > upper[2:]).tolist() == (scores > 2.78183).tolist()
    assert chain[40] > upper[40]
    for i in (2, 5, 30):
        on_the_limit = chain[: i + 1].copy()
        on_the_limit[i] = upper[i]
        score = running_chart.self_starting_scores(on_the_limit ** (2 / 3), 0.0)[-1]
        assert score == pytest.approx(2.78183, abs=1e-4)  # exceeded once in 370, by scipy


def test_scores_of_vectors_are_standard_normal_and_independent_while_nothing_changes() -> None:
    """Own simulation: 1,500 chains of ten vectors, alike in all directions."""
    rng = np.random.default_rng(4)
    e = 3.0 + rng.normal(size=(1500, 10)) + 1j * rng.normal(size=(1500, 10))
    scores = np.array([vector_scores(chain, least_sd=0.0) for chain in e])
    assert np.abs(scores.mean(axis=0)).max() < 0.1
    assert scores.std(axis=0) == pytest.approx(np.ones(8), abs=0.08)
    apart = np.corrcoef(scores.T) - np.eye(8)
    assert np.abs(apart).max() < 0.1


def test_a_vector_that_turned_is_seen_though_its_length_stayed() -> None:
    rng = np.random.default_rng(6)
    e = np.r_[np.full(15, 4.0), np.full(8, 4.0j)] + 0.5 * (rng.normal(size=23) + 1j * rng.normal(size=23))
    total = running_chart.cusum(vector_scores(e, least_sd=0.01))
    assert total[:13].max() < running_chart.CUSUM_LIMIT
    assert total[13:].max() > running_chart.CUSUM_LIMIT


def test_the_likeliest_step_is_where_it_was_made() -> None:
    """Own simulation: a step of 3 standard deviations after 8 of 20 values, by 2000 records; without noise exactly."""
    assert changed_after([5.0, 5.0, 5.0, 7.0, 7.0]) == 3
    assert changed_after([1.0, 1.0, 1.0, 1.0, -1.0]) == 4
    rng = np.random.default_rng(12)
    values = rng.standard_normal((2000, 20))
    values[:, 8:] += 3.0
    found = np.array([changed_after(one) for one in values])
    assert np.mean(found == 8) > 0.75
    assert np.mean(np.abs(found - 8) <= 1) > 0.92
