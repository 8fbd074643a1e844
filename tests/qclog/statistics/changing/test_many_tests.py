"""A drawer of tests: the known case, a library, and the share of false flags."""

import numpy as np
import pytest
import scipy.stats

from qclog.errors import NotAnswerableError
from qclog.statistics.changing.many_tests import Mark, chart_alarms, many_tests, p_within_limit, q_values

P = [
    *(0.0004, 0.003, 0.011, 0.018, 0.04, 0.09, 0.21, 0.33, 0.47, 0.52),
    *(0.61, 0.68, 0.77, 0.81, 0.9, 0.93, 0.95, 0.97, 0.98, 0.99),
]


def test_the_known_case_has_its_known_q_and_marks() -> None:
    found = many_tests(P)
    np.testing.assert_allclose(found.q[:6], [0.008, 0.03, 0.073333, 0.09, 0.16, 0.3], atol=6e-7)
    assert found.marks.tolist() == [Mark.LIKELY_REAL] * 4 + [Mark.SINGLE_HINT] + [Mark.NOTHING] * 15
    assert (found.chance.expected, found.chance.found) == (1.0, 5)
    assert found.chance.p_as_many == pytest.approx(0.002574, abs=6e-7)
    assert not found.chance.no_more_than_chance


def test_q_agrees_with_a_library_in_any_order() -> None:
    p = np.random.default_rng(1).permutation(P)
    np.testing.assert_allclose(q_values(p), scipy.stats.false_discovery_control(p), rtol=1e-12)


def test_as_many_alarms_as_expected_are_no_more_than_chance() -> None:
    """40 items with 10 clampings each: 1.08 alarms expected, one or more with probability 0.66."""
    found = chart_alarms(400, 1)
    assert found.expected == pytest.approx(1.08, abs=0.005)
    assert found.p_as_many == pytest.approx(0.66, abs=0.005)
    assert found.no_more_than_chance
    assert not chart_alarms(400, 4).no_more_than_chance
    assert chart_alarms(400, 0).p_as_many == 1.0


def test_nothing_found_is_certain_by_chance() -> None:
    assert many_tests([0.5, 0.9]).chance.p_as_many == 1.0


def test_impossible_p_values_are_refused() -> None:
    with pytest.raises(NotAnswerableError, match=r"p value 2 of 2 is 1\.2"):
        many_tests([0.5, 1.2])
    with pytest.raises(NotAnswerableError, match="0 p values given, 1 needed"):
        many_tests([])
    with pytest.raises(NotAnswerableError, match="p value 1 of 1"):
        many_tests([np.nan])


def test_the_attained_confidence_of_the_known_case_is_its_p_for_ordering() -> None:
    """4.2 5.6 4.9 6.3 5.1 µm after 3, 4 and 5 clampings, limit 9 µm: constructed case."""
    y = np.array([4.2, 5.6, 4.9, 6.3, 5.1]) ** (2 / 3)
    found = [float(p_within_limit(y[:n].mean(), y[:n].std(ddof=1), n, 9.0 ** (2 / 3))) for n in (3, 4, 5)]
    np.testing.assert_allclose(found, [0.898008, 0.887640, 0.956731], atol=6e-7)


def test_items_far_beyond_their_limit_come_first_and_never_without_a_p() -> None:
    found = p_within_limit([2.0, 4.0, 9.0, 40.0], 0.5, 20, 3.0)
    assert np.isfinite(found).all()
    assert np.all(np.diff(found) <= 1e-15)
    assert found[-1] < 1e-15


def test_of_those_called_likely_real_at_most_ten_percent_are_false() -> None:
    rng = np.random.default_rng(2)
    false_share, found = [], []
    for _ in range(1_000):
        z = rng.standard_normal(40)
        z[:4] += 3.5
        marks = many_tests(scipy.special.ndtr(-z)).marks == Mark.LIKELY_REAL
        false_share.append(marks[4:].sum() / max(marks.sum(), 1))
        found.append(marks[:4].sum())
    assert 0.06 <= np.mean(false_share) <= 0.11  # 0.10 x 36/40
    assert np.mean(found) >= 2.0
