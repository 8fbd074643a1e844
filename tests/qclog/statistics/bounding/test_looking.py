"""The confidence a verdict needs at every look."""

import numpy as np
import pytest

from qclog.statistics.bounding.looking import LOOKS, OWN_DOES_NOT_HOLD, OWN_HOLDS, SHOP_DOES_NOT_HOLD, SHOP_HOLDS, risk

CONSTANTS = [OWN_HOLDS, OWN_DOES_NOT_HOLD, SHOP_HOLDS, SHOP_DOES_NOT_HOLD]


def test_the_constants_are_those_of_the_simulation() -> None:
    """Own simulation with Rice data, looks after every clamping from 3 to 20."""
    assert CONSTANTS == [0.993, 0.988, 0.988, 0.990]


@pytest.mark.parametrize("confidence", CONSTANTS)
def test_the_confidence_is_constant_up_to_twenty_clampings(confidence: float) -> None:
    np.testing.assert_allclose(risk(np.arange(1, 21), confidence), 1.0 - confidence, rtol=1e-12)


@pytest.mark.parametrize("confidence", CONSTANTS)
def test_beyond_twenty_the_risk_is_never_above_the_formula_and_at_most_an_eighth_below(confidence: float) -> None:
    n = np.arange(21, 201)
    formula = (1.0 - confidence) * 20.0 / n
    assert np.all(risk(n, confidence) <= formula * (1.0 + 1e-12))
    assert np.all(risk(n, confidence) >= formula / 1.135)


@pytest.mark.parametrize("confidence", CONSTANTS)
def test_beyond_two_hundred_the_risk_is_the_formula_itself(confidence: float) -> None:
    n = np.array([200, 201, 333, 10_000])
    np.testing.assert_allclose(risk(n, confidence), (1.0 - confidence) * 20.0 / n, rtol=1e-12)


def test_the_risk_changes_at_the_preferred_numbers_only() -> None:
    found = risk(np.arange(1, 201), OWN_HOLDS)
    last_of_each_step = np.flatnonzero(np.diff(found, append=0.0)) + 1
    assert last_of_each_step.tolist() == list(LOOKS)
