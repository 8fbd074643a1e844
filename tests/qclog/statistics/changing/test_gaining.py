"""What a modification gained: against a general library, what it refuses to know, how often its interval is right."""

import numpy as np
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.gaining import gain

BEFORE, BEFORE_ON = [13.0, 15.0, 14.0, 16.0, 12.5], [1, 1, 2, 2, 3]
SINCE, SINCE_ON = [4.0, 5.0, 4.0, 4.5], [4, 4, 5, 6]


def test_days_are_the_witnesses_and_welch_weighs_them() -> None:
    """Means of sittings by hand; the interval by scipy.stats.ttest_ind of unequal variances."""
    found = gain(BEFORE, BEFORE_ON, SINCE, SINCE_ON, resolution_um=0.1)
    before, since = [14.0, 15.0, 12.5], [4.5, 4.0, 4.5]
    interval = scipy.stats.ttest_ind(before, since, equal_var=False).confidence_interval(0.95)
    assert found.before_um == pytest.approx(np.mean(before))
    assert found.since_um == pytest.approx(np.mean(since))
    assert found.gain_um == pytest.approx(np.mean(before) - np.mean(since))
    assert (found.low_um, found.high_um) == pytest.approx(interval, rel=1e-6)
    assert not found.one_sitting


def test_a_single_sitting_speaks_through_its_clampings_and_says_so() -> None:
    found = gain([12.0, 13.0, 14.0, 13.0], [1] * 4, SINCE, SINCE_ON, resolution_um=0.1)
    interval = scipy.stats.ttest_ind([12.0, 13.0, 14.0, 13.0], [4.5, 4.0, 4.5], equal_var=False).confidence_interval(
        0.95
    )
    assert (found.low_um, found.high_um) == pytest.approx(interval, rel=1e-6)
    assert found.one_sitting


def test_two_clampings_of_one_sitting_give_a_difference_and_no_interval() -> None:
    found = gain([12.0, 13.0], [1, 1], SINCE, SINCE_ON, resolution_um=0.1)
    assert found.gain_um == pytest.approx(12.5 - 13 / 3)
    assert (found.low_um, found.high_um) == (None, None)


def test_readings_all_alike_are_no_surer_than_their_step() -> None:
    found = gain([9.0] * 4, [1, 2, 3, 4], [4.0] * 4, [5, 6, 7, 8], resolution_um=1.0)
    assert found.low_um is not None
    assert found.low_um < 5.0 - 0.3


def test_swings_without_their_sittings_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match="3 swings do not go with 2 sittings"):
        gain([1.0, 2.0, 3.0], [1, 2], SINCE, SINCE_ON, resolution_um=0.1)


@pytest.mark.parametrize(
    ("days", "between", "least", "most"),
    [((4, 4), 1.0, 0.93, 0.985), ((3, 3), 0.0, 0.93, 0.99), ((1, 1), 1.0, 0.5, 0.75)],
)
def test_the_interval_holds_the_truth_as_often_as_is_said(
    days: tuple[int, int], between: float, least: float, most: float
) -> None:
    """Own simulation, Rice-distributed swings, five clampings a sitting; one sitting each holds it far less often."""
    rng = np.random.default_rng(20_1129)

    def swings(sittings: int, systematic: float, trials: int) -> np.ndarray:
        def axis(*shape: int) -> np.ndarray:
            return rng.standard_normal(shape) + 1j * rng.standard_normal(shape)

        centre = systematic + 0.5 * between * axis(trials, sittings, 1)
        return np.asarray(2 * np.abs(centre + 0.5 * axis(trials, sittings, 5))).reshape(trials, -1)

    def mean(systematic: float) -> float:
        return float(swings(1, systematic, 100_000).mean())

    truth, trials = mean(7.0) - mean(2.0), 600
    before, since = swings(days[0], 7.0, trials), swings(days[1], 2.0, trials)
    on = [np.repeat(np.arange(number), 5) for number in days]
    found = [gain(a, on[0], b, on[1], resolution_um=0.1) for a, b in zip(before, since, strict=True)]
    held = np.mean(
        [one.low_um <= truth <= one.high_um for one in found if one.low_um is not None and one.high_um is not None]
    )
    assert least < held < most


def test_plain_values_may_be_negative_and_swings_not() -> None:
    """Flushness by hand: means of sittings of -20 and -31."""
    before, since = [-21.0, -19.0, -20.0], [-30.0, -32.0, -31.0]
    found = gain(before, [1, 1, 2], since, [3, 3, 4], resolution_um=1.0, swings=False)
    assert (found.before_um, found.since_um, found.gain_um) == (-20.0, -31.0, 11.0)
    with pytest.raises(NotAnswerableError, match="swing 1 of 3"):
        gain(before, [1, 1, 2], since, [3, 3, 4], resolution_um=1.0)
