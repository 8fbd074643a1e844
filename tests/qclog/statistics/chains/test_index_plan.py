"""Index plans: as short as they can be, every vector equally well known, the sense proven where it can be."""

import math

import numpy as np
import pytest

from qclog.errors import NotAnswerableError
from qclog.statistics.chains.bodies import fit_chain
from qclog.statistics.chains.index_plan import FEWEST_DF, index_plan, next_run

HALVES = (0.0, 180.0)
THIRDS = (0.0, 120.0, 240.0)


@pytest.mark.parametrize(
    ("allowed", "runs", "rounds", "proves"),
    [
        ((None,), 3, 2, True),
        ((None, None), 6, 1, True),
        ((None, None, None), 9, 1, True),
        ((None, None, None, None), 9, 1, True),
        ((HALVES,), 2, 3, False),
        ((HALVES, HALVES), 4, 2, False),
        ((HALVES, HALVES, HALVES), 4, 2, False),
        ((HALVES,) * 4, 8, 1, False),
        ((HALVES, None, None), 12, 1, True),
        ((THIRDS, HALVES), 6, 1, True),
    ],
)
def test_a_plan_is_short_and_orthogonal(
    allowed: tuple[tuple[float, ...] | None, ...], runs: int, rounds: int, proves: bool
) -> None:
    """In an orthogonal plan of n runs every standard error is sigma/sqrt(n) (least squares)."""
    plan = index_plan(allowed)
    assert (len(plan.runs), plan.fewest_rounds, plan.proves_sense) == (runs, rounds, proves)
    assert plan.errors == pytest.approx([1 / math.sqrt(runs)] * (len(allowed) + 1))
    design = np.column_stack([np.ones(runs), np.exp(1j * np.radians(plan.runs))])
    assert np.linalg.cond(design) == pytest.approx(1.0)
    assert plan.fewest_rounds * 2 * runs - 2 * (len(allowed) + 1) >= FEWEST_DF


def test_bodies_stand_only_where_they_can() -> None:
    plan = index_plan(((0.0, 90.0), (30.0, 150.0, 270.0, 90.0)))
    assert {run[0] for run in plan.runs} == {0.0, 90.0}
    assert {run[1] for run in plan.runs} == {30.0, 150.0, 270.0}


def test_rounds_go_forth_and_back_so_that_a_steady_drift_falls_on_no_body() -> None:
    plan = index_plan((None, None))
    order = plan.in_order(2)
    drift = 0.3 * np.arange(len(order))
    found = fit_chain(drift.astype(complex), order, floor_um=1e-9)
    assert np.abs(found.vectors[1:]).max() < 1e-12
    once = fit_chain(drift[:6].astype(complex), plan.runs, floor_um=1e-9)
    assert np.abs(once.vectors[1:]).max() < 0.3 * 6 / 10


def test_so_many_rounds_that_the_worst_vector_is_known_well_enough() -> None:
    plan = index_plan((None, None))
    rounds = plan.rounds_within(0.6, 8)
    assert plan.circle(rounds) <= 0.6 < plan.circle(rounds - 1)
    assert plan.rounds_within(0.01, 8) == 8
    e = np.random.default_rng(1).normal(size=(2, 6 * rounds))
    found = fit_chain(e[0] + 1j * e[1], plan.in_order(rounds), floor_um=1e-9)
    assert found.circle_um(1) / found.sd_um == pytest.approx(plan.circle(rounds))


def test_what_is_missing_is_told_by_one_more_setting() -> None:
    assert next_run([[0, 0], [180, 0]], [0, 0], (None, None)) == (180.0, 180.0)
    assert next_run([[0, 0], [180, 180]], [0, 0], (None, None))[0] == 180.0
    locked = [[0, 0], [120, 120], [240, 240]]
    setting = next_run(locked, [0, 0, 0], (None, None))
    found = fit_chain(np.zeros(5), [*locked, locked[-1], setting], [0, 0, 0, 1, 1], floor_um=1.0)
    assert found.bodies == ((), (0,), (1,))
    assert np.isfinite(found.vectors).all()


def test_what_cannot_be_planned_is_refused() -> None:
    with pytest.raises(NotAnswerableError, match="0 bodies"):
        index_plan(())
    with pytest.raises(NotAnswerableError, match="5 bodies"):
        index_plan((None,) * 5)
    with pytest.raises(NotAnswerableError, match="one angle only"):
        index_plan(((0.0,),))
