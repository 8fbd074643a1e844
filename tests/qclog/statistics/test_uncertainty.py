"""Budgets of one swing, and what all clampings of an item have in common.

The worked budget is a constructed case, computed apart with a general numerical library.
"""

from math import cos, inf, radians, sqrt
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.uncertainty import (
    ARCSINE,
    Budget,
    Contribution,
    combine,
    common_budget,
    common_u,
    corrected_tir,
    coverage_factor,
    default_half_width,
    default_indicator_u,
    smallest_provable_limit,
    tir_budget,
)


def worked_budget() -> Budget:
    return tir_budget(
        8.62,
        step_um=0.2,
        error_limit_um=1.0,
        lever_angle_deg=15,
        lever_angle_within_deg=5,
        repeat_sd_um=0.25,
        repeat_df=9,
        repeats=3,
        roundness_um=0.3,
        axial_within_mm=1,
        swing_per_mm_um=0.02,
        drift_um=0.12,
    )


@pytest.mark.parametrize(
    ("name", "value", "distribution", "divisor", "sensitivity", "u"),
    [
        ("indicator", 1.0, "rectangular", 1.732051, 0.965926, 0.557678),
        ("resolution", 0.2, "triangular", 2.449490, 0.965926, 0.078868),
        ("lever angle", 0.087266, "rectangular", 1.732051, -2.231020, 0.112406),
        ("repeatability", 0.25, "normal", 1.732051, 0.965926, 0.139419),
        ("roundness", 0.3, "rectangular", 1.732051, 1.0, 0.173205),
        ("axial position", 1.0, "rectangular", 1.732051, 0.02, 0.011547),
        ("drift", 0.12, "rectangular", 1.732051, 1.0, 0.069282),
        ("spindle", 0.0, "normal", 1.0, 1.0, 0.0),
    ],
)
def test_each_line_of_the_worked_budget_comes_out(
    name: str, value: float, distribution: str, divisor: float, sensitivity: float, u: float
) -> None:
    (line,) = [line for line in worked_budget().contributions if line.name == name]
    assert line.distribution == distribution
    figures = (line.value, line.divisor, line.sensitivity, line.u)
    assert figures == pytest.approx((value, divisor, sensitivity, u), abs=5.1e-7)


def test_the_worked_budget_adds_up() -> None:
    budget = worked_budget()
    assert corrected_tir(8.62, 15) == pytest.approx(8.326281, abs=5.1e-7)
    assert budget.u_um == pytest.approx(0.619863, abs=5.1e-7)
    assert budget.df == pytest.approx(3516.7, abs=0.051)
    assert budget.coverage_factor == 2
    assert budget.expanded_um == pytest.approx(1.239727, abs=5.1e-7)


def test_the_worked_budget_agrees_with_drawing_every_input_at_random() -> None:
    # JCGM 101: propagation of distributions. Constructed case: mean 8.3154, sd 0.6237, 95 % in 7.1890 ... 9.4533
    rng, draws = np.random.default_rng(7), 400_000

    def rectangular(half_width: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return rng.uniform(-half_width, half_width, draws)

    indicated = 8.62 + rectangular(1.0) + rectangular(0.1) - rectangular(0.1)
    indicated += 0.25 / sqrt(3) * rng.standard_t(9, draws)
    swing = indicated * np.cos(np.radians(15 + rectangular(5)))
    swing += rectangular(0.3) + 0.02 * rectangular(1) + rectangular(0.12)
    assert swing.mean() == pytest.approx(8.3154, abs=0.005)
    assert swing.std() == pytest.approx(0.6237, rel=0.006)
    assert np.quantile(swing, [0.025, 0.975]) == pytest.approx([7.1890, 9.4533], abs=0.015)
    budget = worked_budget()
    assert budget.u_um == pytest.approx(swing.std(), rel=0.015)
    assert abs(corrected_tir(8.62, 15) - swing.mean()) < 0.02
    covered = np.abs(swing - corrected_tir(8.62, 15)) <= budget.expanded_um
    assert covered.mean() == pytest.approx(0.975, abs=0.005)  # a factor of 2 on a mostly rectangular sum


def test_a_calibration_takes_the_place_of_the_error_limit() -> None:
    budget = tir_budget(8.62, step_um=0.2, calibration_expanded_um=0.4, lever_angle_deg=15)
    line = budget.contributions[0]
    assert (line.name, line.distribution, line.divisor) == ("indicator", "normal", 2)
    assert line.u == pytest.approx(0.193185, abs=5.1e-7)
    certificate = tir_budget(5, step_um=0, calibration_expanded_um=0.6, calibration_factor=3)
    assert certificate.u_um == pytest.approx(0.2)


def test_a_lever_that_stands_straight_keeps_the_second_order_of_its_angle() -> None:
    straight = tir_budget(10, step_um=0, error_limit_um=1, lever_angle_within_deg=10)
    assert straight.contributions[2].u == pytest.approx(10 * radians(10) ** 2 / 2 / sqrt(3))
    inclined = tir_budget(10, step_um=0, error_limit_um=1, lever_angle_deg=30, lever_angle_within_deg=10)
    assert inclined.contributions[2].u == pytest.approx(10 * 0.5 * radians(10) / sqrt(3))


def test_the_spindle_adds_as_measured() -> None:
    budget = tir_budget(5, step_um=0, error_limit_um=0.3 * sqrt(3), spindle_um=0.4)
    assert budget.u_um == pytest.approx(0.5)


def test_few_degrees_of_freedom_raise_the_coverage_factor() -> None:
    budget = combine([Contribution("repeatability", 0.6, "normal", 1.0, df=4)])
    assert (budget.df, budget.coverage_factor) == pytest.approx((4, 2.776445), abs=5.1e-7)
    assert budget.expanded_um == pytest.approx(0.6 * 2.776445, abs=1e-6)
    shared = combine([*budget.contributions, Contribution("drift", 0.8, "normal", 1.0)])
    assert (shared.u_um, shared.df) == pytest.approx((1.0, 4 / 0.6**4))


@pytest.mark.parametrize(("df", "factor"), [(1, 12.706205), (9, 2.262157), (60, 2.000298), (61, 2), (200, 2), (inf, 2)])
def test_the_coverage_factor_falls_to_two_and_stays_there(df: float, factor: float) -> None:
    assert coverage_factor(df) == pytest.approx(factor, abs=5.1e-7)


def test_a_swinging_temperature_is_u_shaped() -> None:
    # JCGM 100, H.1.3.4: amplitude 0.5, u = 0.35
    assert Contribution("temperature", 0.5, "arcsine", ARCSINE).u == pytest.approx(0.35355, abs=5.1e-6)


def test_a_budget_of_nothing_is_certain() -> None:
    assert combine([]) == Budget((), 0.0, inf, 2.0, 0.0)


@pytest.mark.parametrize(
    ("step", "swing", "u"),
    [
        (0.2, 5.204217, 0.341337),
        (1.0, 5.204217, 1.168979),
        (10.0, 5.204217, 4.622392),
        (0.1, 5.0, 0.3376),
        (0.21, 5.0, 1.168),
        (1.01, 5.0, 4.622),
        (2.0, 5.0, 4.622),
        (10.1, 0.0, 0.8 * 10.1 / sqrt(3)),
        (20.0, 5.0, 9.239),
    ],
)
def test_an_unnamed_indicator_is_judged_by_the_step_it_was_read_to(step: float, swing: float, u: float) -> None:
    assert default_indicator_u(step, swing) == pytest.approx(u, abs=5.1e-4 if swing == 5 else 5.1e-7)


def test_the_default_is_taken_for_each_item_and_a_named_lever_counts() -> None:
    u = default_indicator_u([0.2, 1.0, 2.0, 2.0], 5.0, [False, False, False, True])
    assert u == pytest.approx([0.3376, 1.168, 4.622, 2.316], abs=5.1e-4)
    assert smallest_provable_limit(u) == pytest.approx([1.0, 3.5, 13.9, 7.0], abs=0.06)


def test_the_common_part_leaves_out_what_the_scatter_already_shows() -> None:
    budget = worked_budget()
    common = common_u(
        mean_tir_um=8.62, error_limit_um=1.0, lever_angle_deg=15, lever_angle_within_deg=5, roundness_um=0.3
    )
    lines = {line.name: line.u for line in budget.contributions}
    expected = sqrt(lines["indicator"] ** 2 + lines["lever angle"] ** 2 + lines["roundness"] ** 2)
    assert common == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    "given",
    [
        {"error_limit_um": 1.0, "lever_angle_deg": 15.0, "lever_angle_within_deg": 5.0, "roundness_um": 0.3},
        {"error_limit_um": 1.0, "lever_angle_within_deg": 5.0},
        {"calibration_expanded_um": 0.4, "calibration_factor": 2.1, "roundness_um": 0.5},
    ],
)
def test_the_lines_of_the_common_part_add_up_to_it(given: dict[str, Any]) -> None:
    budget = common_budget(mean_tir_um=8.62, **given)
    assert budget.u_um == pytest.approx(float(common_u(mean_tir_um=8.62, **given)), rel=1e-12)


def test_the_lines_of_the_common_part_are_those_of_the_worked_budget() -> None:
    """Indicator, lever angle and roundness as in the budget above; the lever's sensitivity is told in µm a degree."""
    budget = common_budget(
        mean_tir_um=8.62, error_limit_um=1.0, lever_angle_deg=15.0, lever_angle_within_deg=5.0, roundness_um=0.3
    )
    assert [line.u for line in budget.contributions] == pytest.approx([0.557678, 0.112406, 0.173205], abs=1e-6)
    assert budget.contributions[1].value == 5.0


def test_an_assumed_indicator_has_the_lines_of_its_default() -> None:
    budget = common_budget(mean_tir_um=5.0, error_limit_um=float(default_half_width(1.0)), unknown_lever=True)
    assert budget.u_um == pytest.approx(float(default_indicator_u(1.0, 5.0)), rel=1e-12)


def test_the_common_part_is_worked_out_for_many_items_at_once() -> None:
    u = common_u(mean_tir_um=[4.0, 8.0], calibration_expanded_um=[0.4, 0.9], calibration_factor=[2, 3])
    assert u == pytest.approx([0.2, 0.3])
    angled = common_u(mean_tir_um=[0.0, 10.0], error_limit_um=sqrt(3), lever_angle_deg=60, lever_angle_within_deg=6)
    lever = 10 * cos(radians(30)) * radians(6) / sqrt(3)
    assert angled == pytest.approx([0.5, sqrt(0.25 + lever**2)])


@pytest.mark.parametrize(
    ("limit", "calibration"),
    [(None, None), (1.0, 0.4)],
)
def test_an_indicator_known_twice_or_not_at_all_is_refused(limit: float | None, calibration: float | None) -> None:
    with pytest.raises(NotAnswerableError, match="twice or not at all"):
        tir_budget(5, step_um=1, error_limit_um=limit, calibration_expanded_um=calibration)
    with pytest.raises(NotAnswerableError, match="twice or not at all"):
        common_u(mean_tir_um=5, error_limit_um=limit, calibration_expanded_um=calibration)


@pytest.mark.parametrize("bad", [-1.0, float("nan"), inf])
def test_figures_that_are_negative_or_not_finite_are_refused_by_name(bad: float) -> None:
    with pytest.raises(NotAnswerableError, match="'drift'"):
        tir_budget(5, step_um=1, error_limit_um=1, drift_um=bad)
    with pytest.raises(NotAnswerableError, match="error limit"):
        tir_budget(5, step_um=1, error_limit_um=bad)
    with pytest.raises(NotAnswerableError, match="roundness"):
        common_u(mean_tir_um=[5, 5], error_limit_um=1, roundness_um=[0, bad])
    with pytest.raises(NotAnswerableError, match="mean swing"):
        default_indicator_u(1, [5, bad])
    with pytest.raises(NotAnswerableError, match="standard uncertainty"):
        smallest_provable_limit(bad)


def test_an_indicator_without_step_or_error_is_refused() -> None:
    with pytest.raises(NotAnswerableError, match="step of the readings is zero"):
        default_indicator_u([1.0, 0.0], 5)
    with pytest.raises(NotAnswerableError, match="error limit is zero"):
        common_u(mean_tir_um=5, error_limit_um=[1.0, 0.0])
    with pytest.raises(NotAnswerableError, match="uncertainty is zero"):
        tir_budget(5, step_um=1, calibration_expanded_um=0)
    with pytest.raises(NotAnswerableError, match="factor is zero"):
        common_u(mean_tir_um=5, calibration_expanded_um=0.4, calibration_factor=0)
