"""Bodies of a chain told apart, against worked cases, numpy and a brute search."""

import cmath
import itertools
import math

import numpy as np
import numpy.typing as npt
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.chains.bodies import STAYS, chain_misfit, circle, fit_chain, two_sizes
from qclog.statistics.chains.sense import Sense, judge_sense

FLOOR = 1e-6
SIX: list[tuple[int, ...]] = [(k, p) for k in (0, 120, 240) for p in (0, 180)]
# constructed case: three vectors with scatter, read in six runs; figures checked by an independent calculation
READ = [-0.25 + 0.32j, -0.50 + 3.26j, 0.91 - 3.24j, 0.89 + 0j, 4.33 + 0.51j, 4.48 + 3.42j]

# runs as angles of the bodies, standard errors over sigma of spindle and bodies, condition: least-squares theory
PLANS: dict[str, tuple[list[tuple[int, ...]], list[float], float]] = {
    "0,180": ([(0,), (180,)], [0.707, 0.707], 1.00),
    "0,90": ([(0,), (90,)], [1.0, 1.0], 2.41),
    "0,120": ([(0,), (120,)], [0.816, 0.816], 1.73),
    "thirds": ([(0,), (120,), (240,)], [0.577, 0.577], 1.00),
    "quarters": ([(0,), (90,), (180,), (270,)], [0.5, 0.5], 1.00),
    "one at a time, half": ([(0, 0), (180, 0), (0, 180)], [0.707, 0.707, 0.707], 2.00),
    "one at a time, third": ([(0, 0), (120, 0), (0, 120)], [1.0, 0.816, 0.816], 3.15),
    "latin thirds": ([(0, 0), (120, 240), (240, 120)], [0.577] * 3, 1.00),
    "2 x 2": ([(0, 0), (0, 180), (180, 0), (180, 180)], [0.5] * 3, 1.00),
    "3 x 2": (SIX, [0.408] * 3, 1.00),
    "3 x 3": (list(itertools.product((0, 120, 240), repeat=2)), [0.333] * 3, 1.00),
    "three, one at a time": ([(0, 0, 0), (180, 0, 0), (0, 180, 0), (0, 0, 180)], [1.0, 0.707, 0.707, 0.707], 3.73),
    "half fraction": ([(0, 0, 0), (180, 180, 0), (180, 0, 180), (0, 180, 180)], [0.5] * 4, 1.00),
    "2 x 2 x 2": (list(itertools.product((0, 180), repeat=3)), [0.354] * 4, 1.00),
    "four, one at a time": (
        [(0, 0, 0, 0), (180, 0, 0, 0), (0, 180, 0, 0), (0, 0, 180, 0), (0, 0, 0, 180)],
        [1.414, 0.707, 0.707, 0.707, 0.707],
        6.34,
    ),
    "five-point cyclic": ([tuple(72 * i * j % 360 for i in (1, 2, 3, 4)) for j in range(5)], [0.447] * 5, 1.00),
    "nine of thirds": (
        [
            tuple(120 * int(level) for level in run)
            for run in ("0000", "0112", "0221", "1011", "1120", "1202", "2022", "2101", "2210")
        ],
        [0.333] * 5,
        1.00,
    ),
}


def _design(angles: npt.ArrayLike) -> npt.NDArray[np.complex128]:
    turned = np.exp(1j * np.radians(np.asarray(angles, dtype=float)))
    return np.asarray(np.column_stack([np.ones(len(turned)), turned]))


def test_three_bodies_come_out_as_in_the_constructed_case() -> None:
    found = fit_chain(READ, SIX, floor_um=FLOOR)
    expected = [1.643333 + 0.711667j, -2.044067 + 1.550973j, 0.020000 - 1.515000j]
    assert np.allclose(found.vectors, expected, atol=1e-6)
    assert abs(found.vectors[0]) == pytest.approx(1.790814, abs=1e-6)
    assert math.degrees(cmath.phase(found.vectors[1])) == pytest.approx(142.809930, abs=1e-6)
    assert math.degrees(cmath.phase(found.vectors[2])) % 360 == pytest.approx(270.756336, abs=1e-6)
    assert found.sd_um == pytest.approx(0.486125, abs=1e-6)
    assert found.df == 6
    assert [found.part(i).error_um for i in range(3)] == pytest.approx([0.198460] * 3, abs=1e-6)


def test_forecasts_come_out_as_in_the_constructed_case() -> None:
    found = fit_chain(READ, SIX, floor_um=FLOOR)
    swings = {(k, p): found.forecast((k, p)).tir_um for k in (0, 120, 240) for p in range(0, 360, 60)}
    ordered = sorted(swings, key=lambda one: swings[one])
    assert (ordered[:3], ordered[-1]) == ([(0, 0), (120, 240), (120, 180)], (240, 120))
    assert [swings[one] for one in (*ordered[:3], ordered[-1])] == pytest.approx(
        [1.678003, 2.187709, 2.681394, 11.723252], abs=1e-6
    )
    best, other = found.forecast((0, 0)), found.forecast((120, 60))
    assert best.vector == pytest.approx(-0.380734 + 0.747640j, abs=1e-6)
    assert best.error_um == pytest.approx(0.486125 * math.sqrt(0.5), abs=1e-6)
    assert best.expected_um == pytest.approx(1.939320, abs=1e-6)
    assert (best.bound_um, best.bound_selected_um) == pytest.approx((3.991859, 4.483241), abs=1e-6)
    assert (other.tir_um, other.bound_um) == pytest.approx((7.380634, 9.694490), abs=1e-6)


def test_two_settings_half_a_turn_apart_are_the_classical_reversal() -> None:
    """S = (e0 + e180)/2, K = (e0 - e180)/2 (Donaldson 1972; Evans, Hocken and Estler 1996, from memory)."""
    found = fit_chain([3 + 1j, -1 + 2j], [[0], [180]], floor_um=FLOOR)
    assert np.allclose(found.vectors, [1 + 1.5j, 2 - 0.5j], atol=1e-14)
    assert found.df == 0
    assert math.isnan(found.part(STAYS).error_um)


@pytest.mark.parametrize("name", list(PLANS))
def test_a_plan_has_the_standard_errors_of_least_squares(name: str) -> None:
    angles, errors, condition = PLANS[name]
    found = fit_chain(np.zeros(len(angles)), angles, floor_um=1.0, repeat=(1.0, 10))
    assert [found.part(i).error_um for i in range(len(errors))] == pytest.approx(errors, abs=6e-4)
    assert np.linalg.cond(_design(angles)) == pytest.approx(condition, abs=6e-3)


@pytest.mark.parametrize("name", list(PLANS))
def test_vectors_are_those_of_numpy(name: str) -> None:
    """numpy.linalg.lstsq as the outside reference."""
    angles = PLANS[name][0]
    chance = np.random.default_rng(5)
    e = chance.normal(size=len(angles)) + 1j * chance.normal(size=len(angles))
    design = _design(angles)
    solution, squares, rank, _ = np.linalg.lstsq(design, e, rcond=None)
    found = fit_chain(e, angles, floor_um=FLOOR)
    assert np.allclose(found.vectors, solution, atol=1e-12)
    if len(angles) > rank:
        assert found.sd_um**2 * found.df == pytest.approx(float(squares[0]), rel=1e-10)


def test_bodies_always_turned_together_are_one_part() -> None:
    found = fit_chain([1, 2j, -1j], [[0, 30], [120, 150], [240, 270]], floor_um=FLOOR)
    assert found.bodies == ((), (0, 1))
    with pytest.raises(NotAnswerableError, match="turns what was never turned by itself"):
        found.forecast((0, 120))
    assert found.forecast((60, 90)).vector == pytest.approx(
        found.vectors[0] + found.vectors[1] * cmath.rect(1, math.pi / 3)
    )


def test_a_body_never_turned_belongs_to_what_stays() -> None:
    found = fit_chain([1, 2j], [[0, 30], [180, 30]], floor_um=FLOOR)
    assert found.bodies == ((1,), (0,))
    with pytest.raises(NotAnswerableError, match="turns what was never turned by itself"):
        found.forecast((0, 31))


def test_what_too_few_runs_do_not_tell_is_not_a_number() -> None:
    found = fit_chain([1, 2j], [[0, 0], [90, 180]], floor_um=FLOOR)
    assert np.isnan(found.vectors).all()
    partly = fit_chain([1, 2j, 3, 4], [[0, 0, 0], [180, 0, 0], [0, 90, 120], [180, 90, 120]], floor_um=FLOOR)
    assert np.isfinite(partly.vectors).tolist() == [False, True, False, False]


def test_a_pin_left_out_takes_its_part_away() -> None:
    found = fit_chain(READ, SIX, floor_um=FLOOR)
    without = found.forecast((120, 0), frozenset({1}))
    assert without.vector == pytest.approx(found.vectors[0] + found.vectors[1] * cmath.rect(1, 2 * math.pi / 3))
    assert without.error_um == pytest.approx(0.486125 * math.sqrt(1 / 3), abs=1e-6)


def test_a_shift_of_a_whole_day_leaves_the_bodies_alone() -> None:
    e = np.asarray([*READ, *READ]) + np.repeat([0, 5 - 3j], 6)
    both = fit_chain(e, SIX * 2, np.repeat([0, 1], 6), floor_um=FLOOR)
    alone = fit_chain(READ, SIX, floor_um=FLOOR)
    assert np.allclose(both.vectors[1:], alone.vectors[1:], atol=1e-12)
    assert both.vectors[0] == pytest.approx(alone.vectors[0] + 2.5 - 1.5j)
    assert (both.sittings, both.df, both.df_between) == (2, 2 * (12 - 4), 2)
    assert both.between_um2 == pytest.approx(34 / 4)  # |5 - 3i|²/2 over 2 degrees of freedom
    assert both.part(STAYS).error_um == pytest.approx(math.sqrt(34 / 8), rel=0.02)


def test_one_clocking_a_day_is_one_run_a_day() -> None:
    e = np.asarray([1.0, 1.2, 0.5j, 0.7j, -1, 0.4 + 0.1j])
    days, angles = [0, 0, 1, 1, 2, 3], [[0], [0], [120], [120], [240], [0]]
    found = fit_chain(e, angles, days, floor_um=FLOOR)
    means = fit_chain([1.1, 0.6j, -1, 0.4 + 0.1j], [[0], [120], [240], [0]], floor_um=FLOOR)
    assert found.one_clocking_each
    assert np.allclose(found.vectors, means.vectors)
    assert (found.df, found.df_extra) == (4, 4)
    assert found.extra_um2 == pytest.approx((1 - 0.75) * 0.04 / 4)


def test_the_error_of_a_forecast_for_another_day_is_as_large_as_it_says() -> None:
    """Own simulation, two sittings of six runs: the mean square of what the next clamping is off by, per axis."""
    chance = np.random.default_rng(11)
    angles, days = SIX * 2, np.repeat([0, 1], 6)
    true = np.array([2, 3j, 1])
    exact, at = _design(angles) @ true, (60, 30)
    off, told = [], []
    for _ in range(600):
        moves = chance.normal(size=3) + 1j * chance.normal(size=3)
        e = exact + moves[days] + 0.6 * (chance.normal(size=12) + 1j * chance.normal(size=12))
        found = fit_chain(e, angles, days, floor_um=FLOOR).forecast(at)
        after = (_design([at]) @ true)[0] + moves[2] + 0.6 * complex(*chance.normal(size=2))
        off.append(abs(after - found.vector) ** 2 / 2)
        told.append(found.next_um**2)
    assert 0.83 < np.mean(told) / np.mean(off) < 1.2


def test_rounding_is_the_least_scatter() -> None:
    exact = _design(SIX) @ np.array([1, 2j, -1])
    assert fit_chain(exact, SIX, floor_um=0.2).sd_um == 0.2


def test_the_largest_part_is_named_only_where_it_is_shown() -> None:
    assert fit_chain(READ, SIX, floor_um=FLOOR).largest() == 1
    near = _design(SIX) @ np.array([2, 2.1j, 1]) + 0.3 * np.array([1, -1, 1j, -1j, 0.5, -0.5])
    assert fit_chain(near, SIX, floor_um=FLOOR).largest() is None


@pytest.mark.parametrize(
    ("angles", "proves"),
    [
        (SIX, True),
        (PLANS["nine of thirds"][0], True),
        (list(itertools.product((0, 180), repeat=3)), False),
        ([(0, 0), (120, 240), (240, 120)] * 2, False),  # the bodies change places when counted the other way round
    ],
)
def test_the_clampings_of_a_chain_prove_their_sense_where_a_plan_can(
    angles: list[tuple[int, ...]], proves: bool
) -> None:
    chance = np.random.default_rng(3)
    k = len(angles[0])
    e = _design(angles) @ (chance.normal(size=k + 1) + 4 * np.exp(1j * np.arange(k + 1)))
    e = e + 0.1 * (chance.normal(size=len(e)) + 1j * chance.normal(size=len(e)))
    found = chain_misfit(e, angles, np.zeros(len(e)), floor_um=FLOOR)
    turned = chain_misfit(e, -np.asarray(angles), np.zeros(len(e)), floor_um=FLOOR)
    assert found is not None
    assert turned is not None
    assert judge_sense([found]).sense is (Sense.AS_SAID if proves else Sense.CANNOT_TELL)
    assert judge_sense([turned]).sense is (Sense.OTHER_WAY if proves else Sense.CANNOT_TELL)


@pytest.mark.parametrize("k", [3, 4, 6])
@pytest.mark.parametrize(("stays", "turns"), [(2.0, 1.3), (0.7, 3.0), (1.0, 1.0), (2.0, 0.0)])
def test_swings_alone_at_even_positions_give_both_sizes(k: int, stays: float, turns: float) -> None:
    swings = [2 * abs(stays + turns * cmath.rect(1, 0.3 + 2 * math.pi * j / k)) for j in range(k)]
    assert sorted(two_sizes(swings)) == pytest.approx(sorted([2 * stays, 2 * turns]), abs=1e-6)


def test_bad_input_is_refused() -> None:
    with pytest.raises(NotAnswerableError, match="vector 2 of 2"):
        fit_chain([1, math.nan], [[0], [180]], floor_um=FLOOR)
    with pytest.raises(NotAnswerableError, match="1 vectors given, 2 needed"):
        fit_chain([1], [[0]], floor_um=FLOOR)
    with pytest.raises(NotAnswerableError, match="do not go with"):
        fit_chain([1, 2], [[0]], floor_um=FLOOR)
    with pytest.raises(NotAnswerableError, match="2 swings"):
        two_sizes([1, 2])


def test_a_circle_is_that_of_f() -> None:
    """scipy.stats.f as the outside reference."""
    from scipy.stats import f

    found = fit_chain(READ, SIX, floor_um=FLOOR).part(1)
    assert circle(found) == pytest.approx(found.error_um * math.sqrt(2 * f.ppf(0.95, 2, 6)), rel=1e-12)
