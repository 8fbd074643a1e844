"""How to clock a chain, and why nothing is advised where that is not shown."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qclog.questions.chains.runs import Measured, Runs
from qclog.questions.codes import Clocking, SenseState
from qclog.statistics.chains.bodies import STAYS, Chain
from qclog.statistics.chains.clocking import best_clocking, least_um


@dataclass(frozen=True, slots=True)
class Turned:
    """A body to be turned, absolute angles from the spindle's mark."""

    body: str
    from_deg: float
    to_deg: float


@dataclass(frozen=True, slots=True)
class Advice:
    """What is advised (``what``), and with it, as TIR and without the test pin where that could be told apart:

    ``now_um``: systematic, as clocked now. ``expected_um``: systematic when clocked by ``turn``, corrected for having
    been chosen as the best; ``gain_um`` less than now. ``bound_um``: what the next clamping stays under with 95 %.
    ``with_pin_um``: what the test pin, where it stands now, should then read, its own run-out included. ``least_um``:
    what no clocking can take away, as found. None where not told. ``half_turns_only``: nothing else may be advised.
    """

    what: Clocking
    turn: tuple[Turned, ...] = ()
    now_um: float | None = None
    expected_um: float | None = None
    gain_um: float | None = None
    bound_um: float | None = None
    with_pin_um: float | None = None
    least_um: float | None = None
    half_turns_only: bool = False

    @classmethod
    def withheld(cls, why: Clocking) -> "Advice":
        return cls(why)


def advise(
    measured: Measured,
    runs: Runs,
    fit: Chain,
    sense: SenseState,
    turn: Mapping[str, tuple[float, ...] | None] | None,
) -> Advice:
    """The best clocking at one distance. Where only half turns were tried neither sense of the angles matters, and
    half turns are what can be advised."""
    left_out = measured.pins
    halves = _half_turns_only(runs)
    why = _why_not(measured, runs, fit, sense, halves=halves)
    if why is not None:
        return Advice.withheld(why)
    now = tuple(float(angle) for angle in runs.angles_deg[-1])
    allowed: dict[int, tuple[float, ...] | None] = {}
    for first, *_ in fit.bodies[1:]:
        code = measured.bodies[first].casefold()
        if first in measured.pins or (turn is not None and code not in turn):
            continue
        allowed[first] = None if turn is None else turn[code]
        if sense is not SenseState.PROVEN:
            there = (now[first], (now[first] + 180.0) % 360.0)
            own = allowed[first]
            allowed[first] = there if own is None else tuple(angle for angle in there if angle in own)
    if not allowed:
        return Advice.withheld(Clocking.NOTHING_TO_TURN)
    best = best_clocking(fit, now, allowed, left_out)
    parts = [n for n, bodies in enumerate(fit.bodies) if n == STAYS or not left_out.issuperset(bodies)]
    least = least_um(np.abs(fit.vectors[parts]))
    halves = sense is not SenseState.PROVEN
    if not best.proven:
        return Advice(
            Clocking.NOTHING_BETTER,
            now_um=best.now.tir_um,
            least_um=least,
            with_pin_um=fit.forecast(now).tir_um if left_out else None,
            half_turns_only=halves,
        )
    return Advice(
        Clocking.TURN,
        tuple(Turned(measured.bodies[i], now[i], best.angles_deg[i]) for i in best.turned),
        now_um=best.now.tir_um,
        least_um=least,
        expected_um=best.forecast.expected_um,
        gain_um=best.gain_um,
        bound_um=best.forecast.bound_selected_um,
        with_pin_um=fit.forecast(best.angles_deg).tir_um if left_out else None,
        half_turns_only=halves,
    )


def _why_not(measured: Measured, runs: Runs, fit: Chain, sense: SenseState, *, halves: bool) -> Clocking | None:
    """What is missing for any advice, the most serious first."""
    if measured.locked:
        return Clocking.LOCKED
    if runs.in_doubt:
        return Clocking.IN_DOUBT
    if sense is SenseState.OTHER_WAY:
        return Clocking.SENSE_WRONG
    if not np.isfinite(fit.vectors).all() or any(len(part) > 1 for part in fit.bodies[1:]):
        return Clocking.NOT_PARTED
    if not fit.df:
        return Clocking.REPEAT_NOT_KNOWN
    if (runs.within_rad > 0.0).any():
        return Clocking.BY_EYE
    if all(measured.pins.issuperset(part) for part in fit.bodies[1:]):
        return Clocking.NOTHING_TO_TURN
    if sense is not SenseState.PROVEN and not halves:
        return Clocking.SENSE_NOT_PROVEN
    return None


def _half_turns_only(runs: Runs) -> bool:
    away = (runs.angles_deg - runs.angles_deg[-1]) % 180.0
    return bool((np.minimum(away, 180.0 - away) < 1e-6).all())
