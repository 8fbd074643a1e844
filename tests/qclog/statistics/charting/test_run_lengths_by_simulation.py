"""Run lengths as they are stated, against charts that are run: in control and after a shift by 0.5, 1, 2 and 3 standard
deviations of a point.

Own simulation with fixed seeds, each chart written here once more, in plain steps. 4,000 charts each: a mean run length
has a standard error of at most 1.6 per cent, and 8 are allowed. Published figures stand in
``tests/reference/test_charts_published.py``.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.questions.charted import RULES
from qclog.statistics.changing import running_chart
from qclog.statistics.charting import control_charts, run_lengths
from qclog.statistics.charting.chart_constants import constants
from qclog.statistics.charting.run_lengths import BEYOND, FOUR_OF_FIVE, NINE_IN_A_ROW, TWO_OF_THREE, Rule

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Chart = Callable[[Floats, Floats], tuple[Floats, Bools]]
"""A step of many charts: from their states (..., n) and the next points (n,) to the new states and who alarms."""

CHARTS, WITHIN = 4000, 0.08
SHIFTS = (0.0, 0.5, 1.0, 2.0, 3.0)
ONCE_IN_370 = 2.78183


def simulated(step: Chart, state: Floats, shift: float, seed: int, charts: int = CHARTS) -> float:
    """The mean number of points to the first alarm; ``state``: of one chart at its beginning."""
    rng = np.random.default_rng(seed)
    states = np.repeat(state[:, None], charts, axis=1)
    total, points = 0, 0
    while states.shape[1]:
        points += 1
        states, alarms = step(states, shift + np.asarray(rng.normal(size=states.shape[1])))
        total += points * int(alarms.sum())
        states = states[:, ~alarms]
    return total / charts


def beyond(limit: float, *, both: bool) -> Chart:
    def step(states: Floats, z: Floats) -> tuple[Floats, Bools]:
        return states, (np.abs(z) if both else z) > limit

    return step


def summed(allowance: float, limit: float) -> Chart:
    """States: the sum upwards, and where there are two of them, downwards."""

    def step(states: Floats, z: Floats) -> tuple[Floats, Bools]:
        sides = np.array([z, -z])[: states.shape[0]]
        new = np.maximum(0.0, states + sides - allowance)
        return new, (new > limit).any(axis=0)

    return step


def weighted(weight: float, limit: float) -> Chart:
    def step(states: Floats, z: Floats) -> tuple[Floats, Bools]:
        new = (1.0 - weight) * states + weight * z
        return new, np.abs(new[0]) > limit

    return step


def ruled(rules: tuple[Rule, ...]) -> Chart:
    """States: the last eight points, the newest last; 0 is on neither side."""

    def step(states: Floats, z: Floats) -> tuple[Floats, Bools]:
        last = np.vstack([states, z])
        told = np.zeros(z.size, dtype=np.bool_)
        for rule in rules:
            for side in (1.0, -1.0):
                hits = side * last[-rule.among :] > rule.beyond
                told |= hits[-1] & (hits.sum(axis=0) >= rule.count)
        return last[1:], told

    return step


@pytest.mark.parametrize("shift", SHIFTS)
def test_single_points_beyond_three_standard_deviations(shift: float) -> None:
    found = simulated(beyond(3.0, both=True), np.zeros(0), shift, 11)
    assert found == pytest.approx(run_lengths.single_points(shift), rel=WITHIN)


@pytest.mark.parametrize("shift", SHIFTS)
def test_single_points_above_a_limit_passed_once_in_370(shift: float) -> None:
    found = simulated(beyond(ONCE_IN_370, both=False), np.zeros(0), shift, 12)
    assert found == pytest.approx(run_lengths.points_above(shift, running_chart.FALSE_ALARM_EVERY), rel=WITHIN)


def test_a_point_above_its_limit_is_by_chance_as_rare_as_said() -> None:
    assert run_lengths.points_above(0.0, 370) == pytest.approx(370)
    assert run_lengths.points_above(1.0, 370) == pytest.approx(1 / scipy.stats.norm.sf(ONCE_IN_370 - 1), rel=1e-4)


@pytest.mark.parametrize("shift", SHIFTS)
def test_the_sum_upwards(shift: float) -> None:
    allowance, limit = running_chart.ALLOWANCE, running_chart.CUSUM_LIMIT
    found = simulated(summed(allowance, limit), np.zeros(1), shift, 13)
    assert found == pytest.approx(run_lengths.cumulative_sum(shift, allowance, limit), rel=WITHIN)


@pytest.mark.parametrize("shift", SHIFTS)
def test_the_sums_both_ways(shift: float) -> None:
    allowance, limit = control_charts.ALLOWANCE, control_charts.SUM_LIMIT
    found = simulated(summed(allowance, limit), np.zeros(2), shift, 14)
    assert found == pytest.approx(run_lengths.two_sided_sums(shift, allowance, limit), rel=WITHIN)


@pytest.mark.parametrize("shift", SHIFTS)
def test_the_weighted_mean(shift: float) -> None:
    weight, width = control_charts.WEIGHT, control_charts.WIDTH
    found = simulated(weighted(weight, width * (weight / (2 - weight)) ** 0.5), np.zeros(1), shift, 15)
    assert found == pytest.approx(run_lengths.weighted_mean(shift, weight, width), rel=WITHIN)


@pytest.mark.parametrize("shift", SHIFTS)
@pytest.mark.parametrize("rules", [(TWO_OF_THREE,), (FOUR_OF_FIVE,), (NINE_IN_A_ROW,), (BEYOND, *RULES)])
def test_each_run_rule_and_all_in_use_together(rules: tuple[Rule, ...], shift: float) -> None:
    found = simulated(ruled(rules), np.zeros(8), shift, 16)
    assert found == pytest.approx(run_lengths.with_rules(shift, rules), rel=WITHIN)


@pytest.mark.parametrize("shift", SHIFTS)
def test_nine_in_a_row_on_one_side_have_a_closed_form(shift: float) -> None:
    """The wait for a run of r is (1 - p^r)/(q p^r), and rates of runs of either kind add up (Feller 1968, XIII.7, from
    memory): 511 points where nothing has shifted. ISO 7870-2 names the rule and no run length for it."""
    up = float(scipy.stats.norm.cdf(shift))
    waits = [(1 - p**9) / ((1 - p) * p**9) for p in (up, 1 - up)]
    exact = 1 / sum(1 / wait for wait in waits)
    assert run_lengths.with_rules(shift, (NINE_IN_A_ROW,)) == pytest.approx(exact, rel=1e-9)
    if shift == 0.0:
        assert exact == pytest.approx(511.0)


@pytest.mark.parametrize(("n", "by"), [(2, "range"), (3, "range"), (5, "range"), (8, "range"), (10, "sd"), (25, "sd")])
def test_the_spread_of_a_day_is_beyond_its_limits_by_chance_once_in_so_many_points(n: int, by: str) -> None:
    """Against the exact distributions (scipy: studentized range, chi-square); 200,000 days, fixed seed."""
    known, rng = constants(n), np.random.default_rng(n)
    values = rng.normal(size=(200_000, n))
    if by == "range":
        low, high = (end * known.d2 for end in known.ranges)
        spread = np.ptp(values, axis=1)
        exact = scipy.stats.studentized_range.sf(high, n, np.inf) + scipy.stats.studentized_range.cdf(low, n, np.inf)
    else:
        low, high = (end * known.c4 for end in known.deviations)
        spread = values.std(axis=1, ddof=1)
        square = scipy.stats.chi2(n - 1)
        exact = square.sf((n - 1) * high**2) + square.cdf((n - 1) * low**2)
    once_in = 1 / float(np.mean((spread > high) | (spread < low)))
    assert once_in == pytest.approx(1 / exact, rel=0.16)
    assert 105 < 1 / exact < 400


def _swings(rng: np.random.Generator, kappa: float, shape: tuple[int, ...]) -> Floats:
    return np.asarray(np.hypot(kappa + rng.normal(size=shape), rng.normal(size=shape)))


def _first(over: Bools) -> Floats:
    """The number of the first True of each row, from 1; infinite where there is none."""
    return np.where(over.any(axis=1), over.argmax(axis=1) + 1.0, np.inf)


def test_the_self_starting_sum_of_normal_values_runs_as_long_as_one_with_known_ones() -> None:
    """600 charts of up to 1,500 points: the share that alarmed by 50, 200 and 800 scores, against a sum of plain normal
    scores, which runs 370."""
    rng = np.random.default_rng(17)
    y = rng.normal(10.0, 1.0, (600, 802))
    learnt = _first(running_chart.cusum(running_chart.self_starting_scores(y, 0.0)) > running_chart.CUSUM_LIMIT)
    known = _first(running_chart.cusum(rng.normal(size=(4000, 800))) > running_chart.CUSUM_LIMIT)
    for points in (50, 200, 800):
        assert np.mean(learnt <= points) == pytest.approx(np.mean(known <= points), abs=0.07)
    assert np.mean(known <= 800) == pytest.approx(1 - np.exp(-800 / 370), abs=0.03)


@pytest.mark.parametrize(("kappa", "least", "most"), [(0.0, 0.08, 0.21), (1.0, 0.06, 0.18), (3.0, 0.05, 0.16)])
def test_the_self_starting_sum_of_swings_alarms_by_chance_as_often_as_said(
    kappa: float, least: float, most: float
) -> None:
    """Within 50 points, swings with a systematic part of 0, 1 and 3 times the scatter: 0.10 where scores are normal."""
    y = _swings(np.random.default_rng(18), kappa, (1000, 50)) ** (2 / 3)
    alarmed = running_chart.cusum(running_chart.self_starting_scores(y, 0.0)) > running_chart.CUSUM_LIMIT
    assert least < alarmed.any(axis=1).mean() < most


@pytest.mark.parametrize(
    ("before", "shift", "least"),
    [(20, 1.0, 0.45), (20, 2.0, 0.85), (20, 3.0, 0.93), (50, 0.5, 0.3), (50, 1.0, 0.7), (50, 2.0, 0.98)],
)
def test_the_self_starting_sum_finds_a_shift_the_sooner_the_more_it_has_seen(
    before: int, shift: float, least: float
) -> None:
    """The share found within 20 points of a shift by so many standard deviations; known levels would find 0.51, 0.99
    and all."""
    rng = np.random.default_rng(19)
    y = rng.normal(10.0, 1.0, (800, before + 20))
    y[:, before:] += shift
    sums = running_chart.cusum(running_chart.self_starting_scores(y, 0.0))
    quiet = ~(sums[:, : before - 2] > running_chart.CUSUM_LIMIT).any(axis=1)
    found = (sums[quiet, before - 2 :] > running_chart.CUSUM_LIMIT).any(axis=1).mean()
    assert least <= found <= found_with_known(shift)


def found_with_known(shift: float) -> float:
    """The share of sums with known level and scatter, in their stride, that alarm within 20 points of a shift."""
    rng = np.random.default_rng(20)
    z = rng.normal(size=(4000, 50))
    z[:, 30:] += shift
    sums = running_chart.cusum(z)
    quiet = ~(sums[:, :30] > running_chart.CUSUM_LIMIT).any(axis=1)
    return float((sums[quiet, 30:] > running_chart.CUSUM_LIMIT).any(axis=1).mean()) + 0.03


def test_the_chart_of_vectors_runs_like_the_sum_of_normal_scores_and_finds_a_move_in_any_direction() -> None:
    """150 charts of 60 vectors; a sum of 58 normal scores alarms in 0.13 of them. Moved by 1, 2 and 3 standard
    deviations an axis after 20."""
    rng = np.random.default_rng(21)

    def alarmed(move: complex) -> float:
        e = rng.normal(size=(150, 60)) + 1j * rng.normal(size=(150, 60))
        e[:, 20:] += move
        scores = (control_charts.vector_scores(chain, least_sd=0.0) for chain in e)
        return float(np.mean([(running_chart.cusum(z) > running_chart.CUSUM_LIMIT).any() for z in scores]))

    still = alarmed(0.0)
    assert 0.04 < still < 0.26
    one, two, three = (alarmed(size * np.exp(1j * size)) for size in (1.0, 2.0, 3.0))
    assert still < one < two < three
    assert 0.45 < two < 0.85
    assert three > 0.9


@pytest.mark.parametrize("n", [1, 4])
def test_points_beyond_limits_learnt_from_all_of_them_are_about_as_rare_as_from_known_ones(n: int) -> None:
    """Own simulation: 25 points each, single values by moving ranges and means of four by ranges; 0.0027 nominal, more
    where the scatter was found too small by chance."""
    rng, beyond_limits = np.random.default_rng(22), []
    for _ in range(1500):
        values = rng.normal(size=(25, n))
        limits = (
            control_charts.single_values(values[:, 0], least_sd=0.0)
            if n == 1
            else control_charts.groups_of(values, least_sd=0.0).means
        )
        points = values.mean(axis=1)
        beyond_limits.append(float(np.mean((points > limits.upper) | (points < limits.lower))))
    assert 0.0015 < np.mean(beyond_limits) < 0.0065
