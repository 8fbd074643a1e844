"""Conformity decisions after JCGM 106:2012 and ISO 14253-1:2017, and constructed cases beside them.

Printed figures of both documents are from memory and agree with their arithmetic.
"""

import pytest

from qclog.statistics.bounding.conformity import Verdict, as_read, conformance_probability, guard_band


def within(value: float, u: float, low: float, high: float) -> float:
    """Probability of a two-sided tolerance, as the difference of two one-sided ones."""
    below_high = conformance_probability(value, u, high, floor=False)
    return float(below_high - conformance_probability(value, u, low, floor=False))


def test_jcgm_106_breakdown_voltage_of_a_diode_against_an_upper_limit() -> None:
    assert conformance_probability(-5.47, 0.05, -5.40, floor=False) == pytest.approx(0.92, abs=0.005)


def test_jcgm_106_burst_pressure_of_a_container_against_a_lower_limit() -> None:
    assert 1 - conformance_probability(509.7, 8.6, 490.0, floor=False) == pytest.approx(0.99, abs=0.005)


def test_jcgm_106_viscosity_of_an_oil_against_two_limits() -> None:
    assert within(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.66, abs=0.005)
    assert within(13.6, 1.8, 12.5, 16.3) == pytest.approx(0.662630, abs=5.1e-7)


@pytest.mark.parametrize(("probability", "z"), [(0.8, 0.84), (0.9, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_jcgm_106_table_1_distance_from_the_limit_for_a_conformance_probability(probability: float, z: float) -> None:
    assert guard_band(1.0, probability) == pytest.approx(z, abs=0.006)  # 1.6449 is printed 1.64
    on_the_guard_band = 10 - guard_band(0.3, probability)
    assert conformance_probability(on_the_guard_band, 0.3, 10.0) == pytest.approx(probability, abs=1e-12)


@pytest.mark.parametrize(
    ("width", "guard"), [(3.92, 1.95394), (4, 1.79621), (4.5, 1.66768), (5, 1.64877), (6, 1.64492), (8, 1.64485)]
)
def test_the_one_sided_guard_band_serves_two_limits_that_lie_far_apart(width: float, guard: float) -> None:
    # constructed: guard band in u at which a two-sided tolerance of that width in u is held with 95 %
    assert within(guard, 1.0, 0.0, width) == pytest.approx(0.95, abs=2e-6)
    assert (abs(guard_band(1.0) - guard) < 5.1e-6) == (width >= 8)


@pytest.mark.parametrize(
    ("read_mm", "verdict"),
    [
        (0.009013, Verdict.HOLDS),
        (0.009014, Verdict.CANNOT_TELL),
        (0.010000, Verdict.CANNOT_TELL),
        (0.010986, Verdict.CANNOT_TELL),
        (0.010987, Verdict.DOES_NOT_HOLD),
    ],
)
def test_iso_14253_1_a_run_out_of_ten_micrometres_with_a_guard_band(read_mm: float, verdict: Verdict) -> None:
    # constructed: limit 0.010 mm, u 0.0006 mm, guard band 1.6449 u
    assert as_read(read_mm, 0.010, 0.0006) == verdict


@pytest.mark.parametrize(
    ("share_of_u95", "wrong"), [(3, 1e-9), (1.5, 0.00135), (1, 0.02275), (0.83, 0.04846), (0, 0.5)]
)
def test_ilac_g8_the_wrong_acceptance_left_by_a_guard_band(share_of_u95: float, wrong: float) -> None:
    # ILAC-G8:09/2019, guard band as a share of U = 2u: < 1e-6, < 0.16 %, < 2.5 %, < 5 %, < 50 % (from memory)
    accepted = 10 - share_of_u95 * 2 * 0.4
    assert 1 - conformance_probability(accepted, 0.4, 10.0) == pytest.approx(wrong, abs=5.1e-6)
