"""Components of variance: a worked case, a general library, and the coverage of the intervals that are shown.

The worked case is a constructed one (two key positions, four pins, five clampings, three readings, µm TIR); its figures
were computed apart, the restricted likelihood with a general optimiser over the full covariance matrix.
"""

import itertools
from typing import Any

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.studying.cells import in_cells, is_balanced
from qclog.statistics.studying.components import Components, degrees_of_freedom, mean_squares, variance_components
from qclog.statistics.studying.mean_squares import combined
from qclog.statistics.studying.reml import reml

# fmt: off
WORKED = {
    ("A", 1): ((3.9, 4.1, 3.1), (3.6, 3.6, 4.2), (6.0, 6.2, 5.5), (6.0, 6.0, 6.1), (3.0, 3.1, 3.1)),
    ("A", 2): ((2.9, 3.2, 3.1), (8.6, 8.8, 7.8), (6.0, 6.1, 5.9), (4.7, 5.0, 4.9), (3.6, 2.8, 3.6)),
    ("A", 3): ((1.8, 1.9, 2.3), (2.6, 2.9, 2.1), (2.2, 2.7, 2.7), (2.5, 2.5, 2.3), (6.7, 6.8, 6.0)),
    ("A", 4): ((7.3, 7.7, 7.2), (4.6, 4.4, 5.0), (7.3, 7.9, 7.4), (3.9, 3.8, 3.9), (5.6, 5.1, 5.6)),
    ("B", 1): ((10.7, 10.0, 10.7), (12.2, 12.7, 12.2), (9.5, 9.4, 9.3), (11.3, 11.0, 11.3), (10.9, 11.4, 11.6)),
    ("B", 2): ((7.6, 7.5, 7.7), (9.4, 9.3, 9.0), (10.8, 11.1, 10.8), (9.8, 10.4, 9.7), (8.8, 8.7, 8.7)),
    ("B", 3): ((8.8, 9.8, 8.9), (10.0, 9.5, 10.1), (8.3, 7.9, 7.7), (6.2, 6.8, 6.7), (11.0, 11.0, 10.9)),
    ("B", 4): ((13.2, 12.5, 12.9), (12.2, 13.2, 12.8), (12.6, 12.5, 12.9), (14.6, 14.9, 15.2), (13.4, 13.1, 13.4)),
}
# fmt: on
VALUES = np.array([value for clampings in WORKED.values() for turns in clampings for value in turns])
POSITION = np.array([position for position, _ in WORKED for _ in range(15)])
PIN = np.array([pin for _, pin in WORKED for _ in range(15)])
PIN_AT = np.array([f"{position}{pin}" for position, pin in WORKED for _ in range(15)])
CLAMPING = np.repeat(np.arange(40), 3)
FACTORS = {"pin": PIN, "pin x position": PIN_AT, "clamping": CLAMPING}


def worked() -> Components:
    return variance_components(VALUES, FACTORS, fixed=POSITION, rest="reading")


def test_the_mean_squares_of_the_worked_case() -> None:
    strata = worked().strata
    assert [(one.name, one.df) for one in strata] == [
        ("pin", 3),
        ("pin x position", 3),
        ("clamping", 32),
        ("reading", 80),
    ]
    assert [one.mean_square for one in strata] == pytest.approx([63.063639, 14.944528, 7.231375, 0.093833], abs=6e-7)


def test_the_expected_mean_squares_are_those_of_the_design() -> None:
    expected = np.array([one.expected for one in worked().strata])
    assert expected == pytest.approx(np.array([[30, 15, 3, 1], [0, 15, 3, 1], [0, 0, 3, 1], [0, 0, 0, 1]]))


def test_the_components_of_the_worked_case_with_their_intervals() -> None:
    found = worked()
    assert found.balanced
    published = {
        "pin": (1.603970, 0.0, 28.642757),
        "pin x position": (0.514210, 0.0, 13.342633),
        "clamping": (2.379181, 1.527414, 4.185601),
        "reading": (0.093833, 0.070400, 0.131343),
    }
    for name, one in zip(found.names, found.estimates, strict=True):
        assert (one.variance, one.low, one.high) == pytest.approx(published[name], abs=6e-7)
    both = found.sum_of(["clamping", "reading"])
    assert (both.variance, both.low, both.high) == pytest.approx((2.473014, 1.621304, 4.279866), abs=6e-7)
    assert (found.total.variance, found.total.low, found.total.high) == pytest.approx(
        (4.591194, 2.973595, 32.501499), abs=6e-7
    )


def test_restricted_likelihood_gives_the_same_for_balanced_data() -> None:
    cells = in_cells(VALUES, FACTORS, POSITION)
    found = reml(cells, ["pin", "pin x position", "clamping"], np.full(4, 1.0))
    assert found.variances == pytest.approx([1.603971, 0.514210, 2.379181, 0.093833], abs=2e-5)
    assert found.objective == pytest.approx(10.372541, abs=6e-7)


def test_one_mean_square_has_the_exact_interval() -> None:
    """Against scipy's chi-square."""
    from scipy.stats import chi2

    found = combined([1.0], [0.25], [9])
    assert (found.low, found.high) == pytest.approx((9 * 0.25 / chi2.ppf(0.975, 9), 9 * 0.25 / chi2.ppf(0.025, 9)))


def unbalanced(seed: int, sds: tuple[float, float, float, float]) -> tuple[Any, dict[str, Any], Any]:
    """Two positions, three pins, one to five clampings of one to three readings."""
    rng = np.random.default_rng(seed)
    counts = ((2, 2, 1), (2, 1, 1, 2, 2), (2, 2), (3, 2, 2, 1), (2, 2, 2), (1, 2, 2, 2))
    cells = list(zip(itertools.product(range(2), range(3)), counts, strict=True))
    rows = [(p, k, c) for (p, k), sizes in cells for c, n in enumerate(sizes) for _ in range(n)]
    position, pin, clamping = np.array(rows).T
    both, single = position * 3 + pin, (position * 3 + pin) * 10 + clamping
    effects = [rng.normal(0.0, sd, 100) for sd in sds[:3]]
    y = 5.0 + 6.0 * position + effects[0][pin] + effects[1][both] + effects[2][single]
    y = y + rng.normal(0.0, sds[3], len(rows))
    return y, {"pin": pin, "pin x position": both, "clamping": single}, position


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("seed", [3, 8])
def test_unbalanced_data_agree_with_a_general_library(seed: int) -> None:
    """statsmodels' mixed linear model, fitted by restricted maximum likelihood, all factors as variance components."""
    import pandas as pd
    import statsmodels.formula.api as smf

    y, factors, position = unbalanced(seed, (1.5, 1.0, 1.5, 0.4))
    found = variance_components(y, factors, fixed=position, rest="reading")
    assert not found.balanced
    assert found.by_likelihood
    frame = pd.DataFrame({"y": y, "position": position, "one": 1})
    frame["pin"], frame["both"], frame["clamping"] = factors.values()
    vc = {"pin": "0 + C(pin)", "both": "0 + C(both)", "clamping": "0 + C(clamping)"}
    model = smf.mixedlm("y ~ C(position)", frame, groups="one", vc_formula=vc, re_formula="0")
    fitted = model.fit(reml=True, method=["lbfgs", "powell"])
    theirs = dict(zip(model.exog_vc.names, fitted.vcomp, strict=True)) | {"reading": float(fitted.scale)}
    ours = dict(zip(("pin", "both", "clamping", "reading"), (one.variance for one in found.estimates), strict=True))
    for name, variance in ours.items():
        assert variance == pytest.approx(theirs[name], rel=2e-3, abs=2e-3), name


def test_the_order_of_factors_does_not_matter_where_the_design_is_balanced() -> None:
    turned = {name: FACTORS[name] for name in reversed(FACTORS)}
    assert variance_components(VALUES, turned, fixed=POSITION, rest="reading").estimates == worked().estimates


def test_vectors_add_what_both_axes_tell() -> None:
    """Constructed: the second axis is the first one turned round, so that mean squares stay and df double."""
    plain = variance_components(VALUES, FACTORS, fixed=POSITION, rest="reading")
    both = variance_components(VALUES - 1j * VALUES, FACTORS, fixed=POSITION, rest="reading")
    assert [one.df for one in both.strata] == [2 * one.df for one in plain.strata]
    assert both.moments == pytest.approx(plain.moments)
    assert both.estimates[2].low > plain.estimates[2].low


def test_a_negative_component_is_shown_as_nothing() -> None:
    """Constructed: the means of three groups agree better than their scatter lets them."""
    found = variance_components([1.0, 3.0, 1.5, 3.5, 2.0, 4.2], {"group": [0, 0, 1, 1, 2, 2]}, rest="rest")
    assert found.moments[0] < 0
    assert (found.estimates[0].variance, found.estimates[0].low) == (0.0, 0.0)
    assert found.estimates[0].high > 0


def test_what_was_always_changed_together_is_refused() -> None:
    with pytest.raises(NotAnswerableError, match="cannot be told apart"):
        variance_components([1.0, 2.0, 3.0, 4.0], {"pin": [0, 0, 1, 1]}, fixed=[0, 0, 1, 1], rest="rest")


def test_without_any_repetition_there_is_no_answer() -> None:
    with pytest.raises(NotAnswerableError, match="Nothing is left"):
        variance_components([1.0, 2.0, 3.0], {"clamping": [0, 1, 2]}, rest="reading")


def test_a_value_that_is_none_is_refused_by_its_place() -> None:
    with pytest.raises(NotAnswerableError, match="value 2 of 3"):
        variance_components([1.0, np.nan, 2.0], {"group": [0, 0, 1]}, rest="rest")


def test_degrees_of_freedom_tell_what_a_design_can_say() -> None:
    known = degrees_of_freedom({"pin": [0, 0, 1, 1], "day": [0, 1, 0, 1]}, fixed=[0, 0, 0, 0])
    assert known == {"pin": 1, "day": 1}
    assert degrees_of_freedom({"pin": [0, 0, 1, 1]}, fixed=[0, 0, 1, 1]) == {"pin": 0}


def test_nested_and_crossed_designs_are_seen_to_be_balanced_or_not() -> None:
    assert is_balanced(in_cells(VALUES, FACTORS, POSITION))
    assert not is_balanced(in_cells(VALUES[:-1], {name: x[:-1] for name, x in FACTORS.items()}, POSITION[:-1]))
    places, persons, pins = np.indices((2, 2, 3)).reshape(3, -1)
    both = {"persons": places * 2 + persons, "pins": places * 3 + pins}  # crossed within each place
    assert is_balanced(in_cells(np.arange(12.0), both, places))
    assert not is_balanced(in_cells([1, 2, 3, 4, 5, 6], {"a": [0, 0, 0, 1, 1, 1], "b": [0, 1, 2, 0, 1, 1]}))


def test_intervals_hold_the_true_components_of_unbalanced_data() -> None:
    """Own simulation, 80 studies of 24 clampings and 41 readings; over 600 of them 0.93 to 0.97 for each component."""
    sds = (0.6, 0.4, 1.5, 0.3)
    truth = [*(sd**2 for sd in sds), sum(sd**2 for sd in sds)]
    held = np.zeros(5)
    for seed in range(80):
        y, factors, position = unbalanced(1000 + seed, sds)
        found = variance_components(y, factors, fixed=position, rest="reading")
        held += [one.low <= true <= one.high for one, true in zip((*found.estimates, found.total), truth, strict=True)]
    assert held.min() / 80 > 0.85


def test_the_expected_mean_squares_of_unbalanced_data_come_out_on_average() -> None:
    """Own simulation: the mean squares of 400 sets of effects, which are linear in the variances."""
    _, factors, position = unbalanced(0, (1.0, 1.0, 1.0, 1.0))
    sds = np.array([2.0, 1.0, 1.5, 0.5])
    rng = np.random.default_rng(5)
    total = np.zeros(4)
    for _ in range(400):
        effects = sum(sd * rng.normal(size=100)[label] for sd, label in zip(sds, factors.values(), strict=False))
        y = effects + 0.5 * rng.normal(size=position.size)
        cells = in_cells(y, factors, position)
        strata = mean_squares(cells, ["pin", "pin x position", "clamping"], "reading")
        total += [one.mean_square for one in strata]
    expected = np.array([one.expected for one in strata]) @ sds**2
    assert total / 400 == pytest.approx(expected, rel=0.16)


def test_intervals_of_the_moments_hold_the_true_components_of_balanced_data() -> None:
    """Own simulation, the mean squares alone: two positions, three pins, four clampings, two readings."""
    rng = np.random.default_rng(12)
    truth, n, df = np.array([0.36, 0.16, 2.25, 0.09]), np.array([2, 2, 18, 24]), [2, 2, 18, 24]
    expected = np.array([[16, 8, 2, 1], [0, 8, 2, 1], [0, 0, 2, 1], [0, 0, 0, 1.0]])
    held = np.zeros(5)
    for _ in range(2000):
        ms = expected @ truth * rng.chisquare(n) / n
        for i, wanted in enumerate((*np.eye(4), np.ones(4))):
            one = combined(np.linalg.solve(expected.T, wanted), ms, df)
            held[i] += one.low <= float(wanted @ truth) <= one.high
    assert held / 2000 == pytest.approx(np.full(5, 0.95), abs=0.022)


def test_two_terms_less_a_third_have_a_lower_limit_that_holds() -> None:
    """Own simulation, nominal 0.975 on a side: 0.98 over 4,000 sets; without what the two terms give together 0.95."""
    rng = np.random.default_rng(1)
    df, truth, coefficients = np.array([2, 2, 10]), np.array([3.0, 3.0, 1.0]), np.array([1.0, 1.0, -1.0])
    sets = truth * rng.chisquare(df, (2000, 3)) / df
    held = [combined(coefficients, ms, df.tolist()).low <= float(coefficients @ truth) for ms in sets]
    assert 0.97 < np.mean(held) < 0.992


def test_a_level_of_unequal_size_counts_as_the_textbook_says() -> None:
    """One-way with sizes n: (N - sum n²/N)/(a - 1) (Searle, Casella and McCulloch 1992; from memory)."""
    size = np.array([1, 2, 3, 6])
    label = np.repeat(np.arange(4), size)
    values = np.random.default_rng(2).normal(size=12)
    for finest in ({"clamping": label}, {"group": label, "half": label // 2}):
        found = variance_components(values, finest, rest="rest")
        stratum = found.strata[-2]
        if "half" not in finest:
            assert stratum.expected[0] == pytest.approx((12 - np.sum(size**2) / 12) / 3)
        else:
            halves = [(3 - 5 / 3), (9 - 45 / 9)]  # nested in two halves of 3 and 9 values
            assert stratum.expected[1] == pytest.approx(sum(halves) / 2)
