"""Keep, watch, retire: sound items are never retired, worn ones always, the price of few clampings is "watch"."""

import numpy as np
import numpy.typing as npt
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics import rice
from qclog.statistics.bounding.bounds import bounds_within_sitting
from qclog.statistics.changing.crossing import tolerance_band
from qclog.statistics.changing.retirement import Decision, decide, drift_limits, replace_at, worth_replacing_above
from qclog.statistics.changing.trend import least_squares, line_through_sittings
from qclog.statistics.swings import group_swings

Decisions = npt.NDArray[np.int8]

X = [1, 4, 8, 12, 15, 20, 24, 30, 33, 40]
T = [4.8, 5.3, 4.4, 5.9, 5.2, 6.4, 5.8, 6.9, 6.1, 7.2]


def swings(rng: np.random.Generator, shape: tuple[int, ...], nu: float, sigma: float) -> npt.NDArray[np.float64]:
    return np.abs(nu + sigma * (rng.standard_normal(shape) + 1j * rng.standard_normal(shape)))


def decisions(tir: npt.NDArray[np.float64], limit: float, u: float = 0.0) -> Decisions:
    """Of items (sets, n), all clampings of one as one sitting."""
    sets, n = tir.shape
    group = np.repeat(np.arange(sets), n)
    bounds = bounds_within_sitting(
        group_swings(tir.ravel(), group, np.zeros(sets * n), groups=sets, resolution_um=0.01)
    )
    return decide(bounds.upper_verdict_um, bounds.lower_verdict_um, bounds.centre_um, limit, u, False)


def test_what_the_bounds_prove_decides() -> None:
    found = decide(
        [7.0, 12.0, 20.0, 7.0], [4.0, 6.0, 11.0, 4.0], [5.0, 8.0, 14.0, 5.0], [10, 10, 10, np.nan], 0.0, False
    )
    assert found.tolist() == [Decision.KEEP, Decision.WATCH, Decision.RETIRE, Decision.NO_LIMIT]


def test_the_uncertainty_of_the_gauge_counts_against_whoever_claims() -> None:
    assert decide(9.0, 4.0, 6.0, 10.0, 0.5, True) == Decision.KEEP
    assert decide(9.0, 4.0, 6.0, 10.0, 0.7, True) == Decision.WATCH
    assert decide(20.0, 11.0, 14.0, 10.0, 0.5, True) == Decision.RETIRE
    assert decide(20.0, 11.0, 14.0, 10.0, 0.7, True) == Decision.WATCH


def test_five_clampings_of_the_known_case_are_watched_at_eight_and_kept_at_twelve() -> None:
    known = np.array([[4.2, 5.6, 4.9, 6.3, 5.1]])
    assert [int(decisions(known, limit)[0]) for limit in (8.0, 9.0, 12.0, 5.0)] == [
        Decision.WATCH,
        Decision.WATCH,
        Decision.KEEP,
        Decision.RETIRE,
    ]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_of_120_steady_collets_none_is_retired_and_of_120_worn_ones_every_one(seed: int) -> None:
    """Looked at after every clamping from the third to the twentieth: 5 or 20 µm, repeat 1 µm, limit 12 µm."""
    rng = np.random.default_rng(seed)
    steady, worn = swings(rng, (120, 20), 5.0, 1.0), swings(rng, (120, 20), 20.0, 1.0)
    for n in range(3, 21):
        assert not np.any(decisions(steady[:, :n], 12.0) == Decision.RETIRE)
        assert not np.any(decisions(worn[:, :n], 12.0) == Decision.KEEP)
    assert np.all(decisions(steady, 12.0) == Decision.KEEP)
    assert np.all(decisions(worn, 12.0) == Decision.RETIRE)


@pytest.mark.parametrize("kappa", [0.0, 3.0, 6.0])
def test_an_item_exactly_at_its_limit_is_wrongly_told_in_five_percent_over_all_looks(kappa: float) -> None:
    rng = np.random.default_rng(4)
    tir = swings(rng, (3_000, 20), kappa, 1.0)
    limit = float(rice.quantile(kappa))
    kept, retired = np.zeros((2, 3_000), dtype=np.bool_)
    for n in range(3, 21):
        found = decisions(tir[:, :n], limit)
        kept |= found == Decision.KEEP
        retired |= found == Decision.RETIRE
    assert 0.015 <= kept.mean() <= 0.065
    assert 0.030 <= retired.mean() <= 0.062


def test_with_a_drift_the_limits_come_from_the_line_at_the_next_check() -> None:
    line = least_squares(X, T, resolution_um=0.01)
    here, later = drift_limits(line, 40.0), drift_limits(line, 60.0)
    assert here.upper_um == pytest.approx(float(tolerance_band(line, 40.0, 0.993)))
    assert here.lower_um == pytest.approx(float(tolerance_band(line, 40.0, 0.012)))
    assert later.centre_um > here.centre_um
    assert later.upper_um > here.upper_um > float(tolerance_band(line, 40.0, 0.95))


def test_over_sittings_the_price_of_looking_counts_clampings_not_days() -> None:
    """30 clampings on ten days: risk 0.007 x 20/32 for "holds", 0.012 x 20/32 for "does not hold"."""
    x, values = np.repeat(X, 3), np.repeat(T, 3) + np.tile([0.3, 0.0, -0.3], 10)
    line = line_through_sittings(x, values, x, resolution_um=0.01)
    found = drift_limits(line, 45.0)
    assert found.upper_um == pytest.approx(float(tolerance_band(line, 45.0, 1.0 - 0.007 * 20 / 32)))
    assert found.lower_um == pytest.approx(float(tolerance_band(line, 45.0, 0.012 * 20 / 32)))


def test_drifting_collets_are_kept_well_before_and_retired_well_past_their_limit() -> None:
    """12 points that rise from 5 to 11 µm, repeat 0.5 µm."""
    rng = np.random.default_rng(5)
    x = np.arange(12)
    for limit, expected, never in ((20.0, Decision.KEEP, Decision.RETIRE), (6.0, Decision.RETIRE, Decision.KEEP)):
        found = []
        for _ in range(120):
            tir = np.abs(5.0 + 6.0 * x / 11.0 + 0.5 * (rng.standard_normal(12) + 1j * rng.standard_normal(12)))
            limits = drift_limits(least_squares(x, tir, resolution_um=0.1), 13.0)
            found.append(int(decide(limits.upper_um, limits.lower_um, limits.centre_um, limit, 0.0, False)))
        assert never not in found
        assert found.count(expected) == 120


def test_the_cost_rule_has_its_known_threshold() -> None:
    """Constructed case: 12 a part, 4 parts, half of them spoilt; 180 for a collet of 600 clampings."""
    threshold = worth_replacing_above(p_new=0.01, price=180.0, usual_life=600.0, cost=12.0 * 4 * 0.5)
    assert threshold == pytest.approx(0.0225)
    assert threshold > 0.0197


def test_with_a_drift_replacing_at_the_first_dearer_clamping_is_the_cheapest_on_average() -> None:
    p = 1e-4 * np.arange(1, 2_001)
    found = replace_at(np.minimum(p, 1.0), price=180.0, cost=24.0)
    average = (180.0 + 24.0 * np.cumsum(p)) / np.arange(1, 2_001)
    assert found is not None
    assert abs(found - (int(np.argmin(average)) + 1)) <= 1
    assert replace_at([0.01] * 100, price=180.0, cost=24.0) is None


def test_impossible_costs_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match=r"probability of 1\.5"):
        worth_replacing_above(p_new=1.5, price=1.0, usual_life=1.0, cost=1.0)
    with pytest.raises(NotAnswerableError, match="not above 0"):
        worth_replacing_above(p_new=0.1, price=1.0, usual_life=0.0, cost=1.0)
