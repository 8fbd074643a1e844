"""Who owns the run-out: spindle, sleeve, chuck, collet or pin? How should they be clocked, and what would that gain?

Told from clampings in which bodies were turned against each other to angles noted (``--clocking``). Advice is given
only where everything it rests on is shown: the bodies apart, their repeat, and that readings and clocking are counted
the same way round.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.errors import NotAnswerableError
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.owned import OwnedSetup, read_setups
from qclog.logbook.turn_readings import read_at_quarter_turns
from qclog.notation import format_clocking
from qclog.questions.chains.advice import Advice, advise
from qclog.questions.chains.distances import (
    FEWEST_RUNS,
    Distance,
    Part,
    asked,
    both,
    correlation_of,
    distance_of,
    fit_of,
    mm,
    tilts_of,
    undirected,
    with_tilts,
)
from qclog.questions.chains.runs import Measured, Runs, read_chains
from qclog.questions.codes import Caveat, Clocking, SenseState
from qclog.questions.sense import turned_bodies
from qclog.statistics.chains.bodies import STAYS, Chain, two_sizes
from qclog.statistics.chains.index_plan import FEWEST_DF, next_run
from qclog.statistics.chains.overhang import FARTHEST_WEIGHT, weights

QUESTION: Final = "chain"
CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Sizes:
    """From swings alone, ``body`` at even positions: what stays and what turns, which is which staying open."""

    body: str
    larger_um: float
    smaller_um: float
    clampings: int


@dataclass(frozen=True, slots=True)
class Answer:
    """One item in one setup and position, the same bodies clocked.

    ``bodies`` were clocked, from the spindle out; ``kinds``: what they are; ``pins``: which of them are test pins;
    ``unturned``: what stands in the chain beside them, never clocked. ``counted``: the way round the setup types its
    angles; those here are all clockwise. ``now``: the clocking it was clamped at last. ``at_mm``: the distance that
    owner and ``advice`` are told of. ``between_distances``: correlation of the scatter at the two distances used to
    extrapolate. ``add``: the clocking that tells most of what is not told yet, to be clamped in one sitting with
    ``now``; '' where nothing is missing. ``swings_alone``: what swings without high spots tell, where there are no
    others. ``caveats``: what limits all that.
    """

    item: str
    modification: int
    setup: str
    setup_revision: int
    position: str
    diameter_mm: float | None
    characteristic: str
    bodies: tuple[str, ...]
    kinds: tuple[str, ...]
    pins: tuple[str, ...]
    unturned: tuple[str, ...]
    sense: SenseState
    counted: str
    now: str
    at_mm: float
    distances: tuple[Distance, ...]
    between_distances: float | None
    advice: Advice
    add: str
    swings_alone: Sizes | None
    caveats: tuple[Caveat, ...]

    @property
    def decisive(self) -> Distance:
        """The distance that the answer is about."""
        return next(one for one in self.distances if one.distance_mm == self.at_mm)


Turnable = Mapping[str, tuple[float, ...] | None]
"""By body, the angles it can be turned to, None for any."""


def chain(
    store: Store,
    code: str | None = None,
    *,
    setup: str | None = None,
    at_mm: float | None = None,
    turn: Turnable | None = None,
) -> list[Answer]:
    """One answer for each item, setup, position and set of bodies that were clocked; of an item, a setup, or all.

    ``setup``: only there. ``at_mm``: a distance that need not have been measured, where two others were. ``turn``: the
    bodies that advice may turn, in place of all. Raises NotFoundError, and RefusedError where that cannot be told.
    """
    at_mm = None if at_mm is None else round(at_mm, 1)
    with store.reading() as connection:
        register = Register(connection)
        setups = read_setups(connection)
        only = None if setup is None else register.need(setup, "setup").id
        return [
            _answer(connection, measured, setups, at_mm, turn)
            for measured in read_chains(connection, register, code)
            if only in (None, measured.series.setup_id)
        ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _answer(
    connection: sa.Connection,
    measured: Measured,
    setups: Mapping[int, OwnedSetup],
    at_mm: float | None,
    turn: Turnable | None,
) -> Answer:
    runs = [one.directed for one in measured.distances]
    known = [one for one in runs if one.clamping.size >= FEWEST_RUNS]
    shared = both(known[0], known[-1]) if len(known) > 1 else None
    there = asked(measured, known, at_mm)
    if there is not None:
        known = [*known, there]
    fits = [fit_of(connection, measured, one) for one in known]
    told = [
        distance_of(measured, one, fit, setups, extrapolated=one is there) for one, fit in zip(known, fits, strict=True)
    ]
    if shared is not None:
        tilts = tilts_of(*shared)
        told = [with_tilts(one, fit, tilts) for one, fit in zip(told, fits, strict=True)]
    every = measured.distances[-1]
    decided = _decisive(told, at_mm)
    sense = SenseState.NOT_TRIED
    if decided is None:
        at = every.series.distance_tenths / 10
        advice, add = Advice.withheld(Clocking.NO_HIGH_SPOTS), ""
        told = [undirected(measured, one, setups) for one in measured.distances]
    else:
        at = told[decided].distance_mm
        sense = _sense(connection, known[decided])
        advice = advise(measured, known[decided], fits[decided], sense, turn)
        add = _add(measured, known[decided], fits[decided], turn)
        told[decided] = _as_advised(told[decided], advice)
    return Answer(
        item=measured.item.code,
        modification=measured.item.modification,
        setup=measured.series.setup,
        setup_revision=measured.series.revision,
        position=measured.series.position,
        diameter_mm=None if measured.series.diameter_tenths < 0 else measured.series.diameter_tenths / 10,
        characteristic=measured.series.characteristic,
        bodies=measured.bodies,
        kinds=measured.kinds,
        pins=tuple(measured.bodies[i] for i in sorted(measured.pins)),
        unturned=measured.unturned,
        sense=sense,
        counted=measured.sense,
        now=clocking_text(measured.bodies, (every if decided is None else known[decided]).angles_deg[-1]),
        at_mm=at,
        distances=tuple(told),
        between_distances=correlation_of(*shared) if shared is not None else None,
        advice=advice,
        add=add,
        swings_alone=_sizes(measured) if decided is None else None,
        caveats=tuple(_caveats(connection, measured, known, fits, decided, at)),
    )


def _as_advised(told: Distance, advice: Advice) -> Distance:
    """With where the high spots come to stand."""
    if not advice.turn:
        return told
    moved = {one.body: one.to_deg - one.from_deg for one in advice.turn}

    def then(part: Part) -> float | None:
        by = 0.0 if part.stays else moved.get(part.bodies[0], 0.0)
        return None if part.now_deg is None else (part.now_deg + by) % 360.0

    parts = (dataclasses.replace(part, then_deg=then(part)) for part in told.parts)
    return dataclasses.replace(told, parts=tuple(parts))


def clocking_text(bodies: Sequence[str], angles_deg: Iterable[float]) -> str:
    """A clocking as it is typed."""
    turned = [round(1000 * float(angle)) % 360_000 for angle in angles_deg]
    return format_clocking(tuple(zip(bodies, turned, strict=True)))


def _decisive(told: Sequence[Distance], at_mm: float | None) -> int | None:
    """The one asked for, else the farthest with a limit, else the farthest."""
    if not told:
        return None
    places = list(range(len(told)))
    if at_mm is not None:
        return min(places, key=lambda i: abs(told[i].distance_mm - at_mm))
    return max([i for i in places if told[i].limit_um is not None] or places, key=lambda i: told[i].distance_mm)


def _sense(connection: sa.Connection, runs: Runs) -> SenseState:
    """What the trials of the setup show, these clampings among them."""
    revision = runs.series.revision_id
    bodies = turned_bodies(connection, [revision]).get(revision, ())
    return bodies[0].state if bodies else SenseState.NOT_TRIED


def _add(measured: Measured, runs: Runs, fit: Chain, turn: Turnable | None) -> str:
    lumped = bool(fit.bodies[STAYS]) or any(len(part) > 1 for part in fit.bodies[1:])
    if not lumped and np.isfinite(fit.vectors).all() and fit.df:
        return ""
    can = [None if turn is None else turn.get(body.casefold()) for body in measured.bodies]
    try:
        return clocking_text(measured.bodies, next_run(runs.angles_deg, runs.sitting, can))
    except NotAnswerableError:
        return ""


def _sizes(measured: Measured) -> Sizes | None:
    """Where one body stood at even positions, three or more, all else being the same, and only swings were noted."""
    for runs in reversed(measured.distances):
        for body, code in enumerate(measured.bodies):
            others = np.delete(runs.angles_deg, body, axis=1)
            for here in np.unique(others, axis=0):
                which = (others == here).all(axis=1)
                angles = np.unique(runs.angles_deg[which, body])
                even = 360.0 / max(angles.size, 1)
                if angles.size < 3 or not np.allclose(np.diff(angles), even):
                    continue
                swings = [runs.swing_um[which & (runs.angles_deg[:, body] == angle)].mean() for angle in angles]
                return Sizes(code, *two_sizes(swings), int(which.sum()))
    return None


def _caveats(
    connection: sa.Connection,
    measured: Measured,
    known: Sequence[Runs],
    fits: Sequence[Chain],
    decided: int | None,
    at_mm: float,
) -> list[Caveat]:
    found = []
    if any(one.directed.clamping.size < one.clamping.size for one in measured.distances) and decided is not None:
        found.append(Caveat.NO_HIGH_SPOT_LEFT_OUT)
    if any(one.in_doubt for one in measured.distances):
        found.append(Caveat.IN_DOUBT)
    if decided is None:
        return found
    fit, runs = fits[decided], known[decided]
    if len(np.unique(runs.sitting)) == 1:
        found.append(Caveat.ONE_SITTING)
    if fit.one_clocking_each:
        found.append(Caveat.ONE_CLOCKING_A_DAY)
    if 0 < fit.df < FEWEST_DF:
        found.append(Caveat.FEW_RUNS)
    if not any(measured.pins.issuperset(part) for part in fit.bodies[1:]):
        found.append(Caveat.PIN_COUNTS)
    if fit.df and not fit.from_shop and fit.sd_um <= runs.floor_um:
        found.append(Caveat.RESOLUTION_FLOOR)
    if read_at_quarter_turns(connection, [one.series.id for one in measured.distances]):
        found.append(Caveat.FOUR_READINGS)
    near, far = mm(known[0]), max(mm(one) for one in measured.distances)
    if far > near and abs(weights(near, far, at_mm)[0]) > FARTHEST_WEIGHT:
        found.append(Caveat.FAR_OUT)
    return found
