"""Trends: the known case, exact rank distribution against a library, size, power and dependent series."""

import numpy as np
import numpy.typing as npt
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.trend import (
    autocorrelation,
    kendall_critical,
    kendall_tail,
    least_squares,
    line_through_sittings,
    rank_trend,
    trend,
)

Floats = npt.NDArray[np.float64]

X = [1, 4, 8, 12, 15, 20, 24, 30, 33, 40]
T = [4.8, 5.3, 4.4, 5.9, 5.2, 6.4, 5.8, 6.9, 6.1, 7.2]
FINE = 0.01


def near(found: float, printed: float) -> None:
    assert found == pytest.approx(printed, abs=6e-7)


def series(rng: np.random.Generator, lag_1: float, n: int) -> Floats:
    """A stationary series (n,) about 10 with this lag-1 correlation."""
    z = rng.standard_normal(n)
    for i in range(1, n):
        z[i] = lag_1 * z[i - 1] + np.sqrt(1.0 - lag_1**2) * z[i]
    return 10.0 + z


def test_the_known_case_has_its_known_line() -> None:
    found = trend(X, T, resolution_um=FINE)
    near(found.line.x_mean, 18.7)
    near(found.line.x_squares, 1518.1)
    near(found.line.level, 5.8)
    near(found.line.slope, 0.058560)
    near(found.line.sd, 0.499251)
    near(found.low, 0.029012)
    near(found.high, 0.088108)
    near(found.line.slope / found.line.slope_error, 4.570173)
    near(found.line.p_rising(), 0.000913)
    near(found.p_value, 2 * 0.00091269)


def test_one_clamping_a_sitting_gives_the_known_line_again() -> None:
    assert line_through_sittings(X, T, X, resolution_um=FINE) == least_squares(X, T, resolution_um=FINE)


def test_a_line_through_sittings_goes_through_their_means_and_knows_the_scatter_of_a_clamping() -> None:
    """Constructed case: sittings of two, the known case ± 0.2 and one of three; R by hand is (1 - 1/n) S²."""
    x, sitting = np.append(np.repeat(X, 2), 40), np.append(np.repeat(X, 2), 40)
    values = np.append(np.repeat(T, 2) + np.tile([0.2, -0.2], 10), 7.2)
    found, points = (
        line_through_sittings(x, values, sitting, resolution_um=FINE),
        least_squares(X, T, resolution_um=FINE),
    )
    assert (found.level, found.slope, found.sd) == pytest.approx((points.level, points.slope, points.sd))
    assert (found.points, found.clampings, found.df, found.df_rest) == (10, 21, 8, 11)
    within = 20 * 0.2**2 / 11
    assert found.rest == pytest.approx((1 - (9 / 2 + 1 / 3) / 10) * within)
    assert found.clamping_sd == pytest.approx(np.sqrt(points.sd**2 + found.rest))


def test_clampings_of_one_day_do_not_make_the_slope_surer_than_the_days_do() -> None:
    """Five a day that scatter as much between days as within: the 95 % interval of all as one line covers 0.69."""
    rng = np.random.default_rng(6)
    x, sitting = np.repeat(np.arange(7.0), 5), np.repeat(np.arange(7), 5)
    held = []
    for _ in range(1_000):
        y = rng.standard_normal(7)[sitting] + rng.standard_normal(35)
        lines = line_through_sittings(x, y, sitting, resolution_um=FINE), least_squares(x, y, resolution_um=FINE)
        held.append([abs(found.slope) <= scipy.stats.t.ppf(0.975, found.df) * found.slope_error for found in lines])
    by_days, by_clampings = np.mean(held, axis=0)
    assert 0.93 <= by_days <= 0.97
    assert by_clampings <= 0.75


def test_fewer_than_five_sittings_are_no_line() -> None:
    with pytest.raises(NotAnswerableError, match="4 places given, 5 needed"):
        line_through_sittings(np.repeat(X[:4], 3), np.repeat(T[:4], 3), np.repeat(X[:4], 3), resolution_um=FINE)


def test_the_known_case_has_its_known_ranks() -> None:
    found = rank_trend(np.array(X, dtype=float), np.array(T))
    near(found.slope, 0.061538)
    near(found.low, 0.028571)
    near(found.high, 0.0875)
    assert found.s == 29
    near(found.p_value, 0.009148)
    near(found.intercept, 4.738462)
    assert kendall_critical(10, 0.025) == 23


def test_the_line_agrees_with_a_library() -> None:
    theirs = scipy.stats.linregress(X, T, alternative="greater")
    line = least_squares(X, T, resolution_um=FINE)
    assert line.slope == pytest.approx(theirs.slope, rel=1e-12)
    assert line.slope_error == pytest.approx(theirs.stderr, rel=1e-12)
    assert line.p_rising() == pytest.approx(theirs.pvalue, rel=1e-10)
    assert float(line.at(0.0)) == pytest.approx(theirs.intercept, rel=1e-12)


@pytest.mark.parametrize("n", [4, 5, 9, 20, 100])
def test_the_exact_rank_distribution_agrees_with_a_library(n: int) -> None:
    rng = np.random.default_rng(n)
    for _ in range(10):
        y = rng.permutation(n).astype(np.float64)
        x = np.arange(n, dtype=np.float64)
        theirs = scipy.stats.kendalltau(x, y, method="exact")
        found = rank_trend(x, y)
        assert found.p_value == pytest.approx(float(theirs.pvalue), rel=1e-9)
        assert found.s == round(float(theirs.statistic) * n * (n - 1) / 2)


def test_the_smallest_possible_p_of_few_points_is_known() -> None:
    """4 and 5 points in order: 1/24 and 1/120."""
    assert kendall_tail(4, 6) == pytest.approx(1 / 24)
    assert kendall_tail(5, 10) == pytest.approx(1 / 120)
    assert kendall_tail(5, -10) == pytest.approx(1.0)


def test_beyond_two_hundred_points_the_normal_distribution_takes_over_without_a_break() -> None:
    assert kendall_tail(201, 2000) == pytest.approx(kendall_tail(200, 2000), rel=0.06)
    assert kendall_critical(201, 0.025) == pytest.approx(kendall_critical(200, 0.025), rel=0.012)


def test_the_interval_of_the_rank_slope_agrees_with_a_library_within_a_rank() -> None:
    rng = np.random.default_rng(1)
    x, y = np.arange(12.0), rng.normal(size=12)
    slopes = np.sort([(y[j] - y[i]) / (x[j] - x[i]) for i in range(12) for j in range(i + 1, 12)])
    found = rank_trend(x, y)
    theirs = scipy.stats.theilslopes(y, x, 0.95)
    assert found.slope == pytest.approx(float(theirs.slope), rel=1e-12)
    for ours, ends in ((found.low, theirs.low_slope), (found.high, theirs.high_slope)):
        assert abs(np.searchsorted(slopes, ours) - np.searchsorted(slopes, float(ends))) <= 1


def test_one_gross_value_hardly_moves_the_rank_slope() -> None:
    spoilt = [*T[:-1], 30.0]
    assert rank_trend(np.array(X, dtype=float), np.array(spoilt)).slope < 0.09
    assert least_squares(X, spoilt, resolution_um=FINE).slope > 0.25


def test_turning_the_record_upside_down_turns_the_trend_round() -> None:
    up, down = trend(X, T, resolution_um=FINE), trend(X, [-t for t in T], resolution_um=FINE)
    assert up.worse
    assert not down.worse
    assert down.p_value == pytest.approx(up.p_value, rel=1e-9)
    x, t = np.array(X, dtype=float), np.array(T)
    above, below = rank_trend(x, t), rank_trend(x, -t)
    assert (below.low, below.high) == pytest.approx((-above.high, -above.low))


def test_equal_readings_have_no_trend() -> None:
    found = trend(X, [5.0] * 10, resolution_um=1.0)
    assert not found.worse
    ranks = rank_trend(np.array(X, dtype=float), np.full(10, 5.0))
    assert (found.line.slope, ranks.slope, ranks.s) == (0.0, 0.0, 0)


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([1, 2, 3, 4], [1, 2, 3, 4], "4 places given, 5 needed"),
        ([1, 2, 3, 4, 5], [1, 2, 3, 4], "4 points given, 5 needed"),
        ([1, 2, 3, 4, 5], [1, 2, np.inf, 4, 5], "point 3 of 5"),
        ([1, 2, 3, 4, 5, 6], [1, 2, 3, 4, 5], "6 places for 5 points"),
        ([3, 3, 3, 3, 3], [1, 2, 3, 4, 5], "All 5 points stand at 3"),
    ],
)
def test_records_without_an_answer_are_refused(x: list[float], y: list[float], words: str) -> None:
    with pytest.raises(NotAnswerableError, match=words):
        trend(x, y, resolution_um=FINE)


@pytest.mark.parametrize("n", [5, 8, 10, 20])
def test_a_steady_record_is_called_worse_in_five_percent(n: int) -> None:
    rng = np.random.default_rng(2)
    x = np.arange(float(n))
    records = [np.abs(3.0 + rng.standard_normal(n) + 1j * rng.standard_normal(n)) for _ in range(1_500)]
    found = [trend(x, record, resolution_um=1e-6) for record in records]
    assert 0.028 <= np.mean([t.worse for t in found]) <= 0.07
    assert 0.93 <= np.mean([t.low <= 0.0 <= t.high for t in found]) <= 0.97
    ranks = [rank_trend(x, record) for record in records]
    assert np.mean([t.low <= 0.0 <= t.high for t in ranks]) >= 0.93


def test_ten_points_of_a_level_that_doubles_are_called_worse_as_often_as_known() -> None:
    """Least squares 0.742, ranks 0.664 two-sided at a start of three times the scatter (own simulation)."""
    rng = np.random.default_rng(3)
    x = np.arange(10.0)
    two_sided = []
    for _ in range(1_000):
        y = np.abs(3.0 + 3.0 * x / 9.0 + rng.standard_normal(10) + 1j * rng.standard_normal(10))
        found = trend(x, y, resolution_um=1e-6)
        two_sided.append((found.p_value <= 0.05, rank_trend(x, y).p_value <= 0.05))
    line, ranks = np.mean(two_sided, axis=0)
    assert 0.69 <= line <= 0.79
    assert 0.61 <= ranks <= 0.72


def test_the_lag_one_correlation_of_what_is_left_is_found_without_much_bias() -> None:
    rng = np.random.default_rng(4)
    x = np.arange(40.0)
    for truth in (0.0, 0.3, 0.6):
        found = []
        for _ in range(400):
            y = series(rng, truth, 40)
            found.append(autocorrelation(y - least_squares(x, y, resolution_um=1e-6).at(x)))
        assert np.mean(found) == pytest.approx(truth, abs=0.07)


@pytest.mark.parametrize("n", [20, 40])
def test_a_dependent_record_is_noticed_and_not_called_worse_out_of_hand(n: int) -> None:
    """The ranks alone would call 0.13 of them worse one-sided."""
    rng = np.random.default_rng(5)
    x = np.arange(float(n))
    records = [series(rng, 0.6, n) for _ in range(800)]
    found = [trend(x, record, resolution_um=1e-6) for record in records]
    assert np.mean([t.dependent for t in found]) >= 0.75
    assert np.mean([t.worse for t in found]) <= 0.08
    plain = np.mean([rank_trend(x, record).p_rising <= 0.05 for record in records])
    assert plain >= 0.12


def test_below_twenty_points_nothing_is_said_about_dependence() -> None:
    assert trend(X, T, resolution_um=FINE).autocorrelation is None
