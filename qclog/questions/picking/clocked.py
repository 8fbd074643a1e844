"""The clocking that a chain's own clampings say is best, as a forecast: it was worked out, and never read."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import sqlalchemy as sa

from qclog.errors import NotAnswerableError, RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.questions.chain import Answer, chain, clocking_text
from qclog.questions.chains.distances import FEWEST_RUNS, asked, fit_of, mm
from qclog.questions.chains.runs import Measured, Runs, read_chains
from qclog.questions.codes import Caveat, Clocking, Ground
from qclog.questions.picking.foreseen import Foreseen
from qclog.questions.picking.read_places import Read
from qclog.records import RUNOUT
from qclog.statistics.grips import grips_of_chain


@dataclass(frozen=True, slots=True)
class Clocked:
    """A forecast, the diameter it was read on, and where: setup, position and the clocking to turn to."""

    foreseen: Foreseen
    diameter_mm: float | None
    where: tuple[str, str, str]


def best_clockings(store: Store, connection: sa.Connection, item: str, distance_mm: float) -> Iterator[Clocked]:
    """Of an item, wherever its chain was studied at this distance and turning it is advised."""
    try:
        answers = chain(store, item, at_mm=distance_mm)
    except RefusedError:  # studied at one other distance, which tells nothing of this one
        return
    advised = [one for one in answers if one.advice.what is Clocking.TURN and one.characteristic == RUNOUT]
    if not advised:
        return
    studied = {_key(one): one for one in read_chains(connection, Register(connection), item)}
    for answer in advised:
        found = _worked_out(connection, studied[_key_of(answer)], answer, distance_mm)
        if found is not None:
            yield found


def _worked_out(connection: sa.Connection, measured: Measured, answer: Answer, distance_mm: float) -> Clocked | None:
    known = [one for one in (runs.directed for runs in measured.distances) if one.clamping.size >= FEWEST_RUNS]
    runs = asked(measured, known, distance_mm) or next(one for one in known if mm(one) == distance_mm)
    fit = fit_of(connection, measured, runs)
    angles = runs.angles_deg[-1].copy()
    for turned in answer.advice.turn:
        angles[measured.bodies.index(turned.body)] = turned.to_deg
    try:
        grips = grips_of_chain(fit.forecast(angles, measured.pins), fit.sd_um)
    except NotAnswerableError:
        return None
    stay = [i for i in range(len(measured.bodies)) if i not in measured.pins]
    clocking = clocking_text([measured.bodies[i] for i in stay], angles[stay])
    one_sitting = (Caveat.ONE_SITTING,) if fit.sittings == 1 and not fit.one_clocking_each else ()
    caveats = (*one_sitting, *(code for code in answer.caveats if code in (Caveat.PIN_COUNTS, Caveat.FAR_OUT)))
    foreseen = Foreseen(Ground.CLOCKING, grips, (_read(runs),), (), caveats)
    return Clocked(foreseen, answer.diameter_mm, (answer.setup, answer.position, clocking))


def _read(runs: Runs) -> Read:
    return Read(runs.series, runs.swing_um, runs.vector, runs.sitting, runs.clamping, float(np.min(runs.step_um)))


def _key(one: Measured) -> tuple[object, ...]:
    diameter = None if one.series.diameter_tenths < 0 else one.series.diameter_tenths / 10
    return one.series.setup, one.series.position, diameter, one.series.characteristic, one.bodies


def _key_of(answer: Answer) -> tuple[object, ...]:
    return answer.setup, answer.position, answer.diameter_mm, answer.characteristic, answer.bodies
