"""In which settings to clamp so that the bodies of a chain come apart: few runs, every vector equally well known.

Orthogonal plans: with all columns of the design orthogonal, every vector has the standard error sigma/sqrt(n), n runs.
Bodies stand at thirds or at half turns; those at thirds follow the orthogonal array of nine runs, those at half turns
a factorial of 2, 4 or 8 (any design text). At least one body at thirds shows the sense of the angles: at half turns
alone both senses fit alike.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import permutations, product

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import SHOWN_RISK
from qclog.statistics.chains.bodies import chain_misfit, fit_chain

MOST_BODIES = 4
FEWEST_DF = 6
"""Fewer degrees of freedom make circles and bounds several times too wide."""
_NINE = ("0000", "0112", "0221", "1011", "1120", "1202", "2022", "2101", "2210")
_TWO_LEVELS = {
    0: ((),),
    1: ((0,), (1,)),
    2: ((0, 0), (0, 1), (1, 1), (1, 0)),
    3: ((0, 0, 0), (0, 1, 1), (1, 1, 0), (1, 0, 1)),
    4: ((0, 0, 0, 0), (0, 0, 1, 1), (0, 1, 1, 0), (0, 1, 0, 1), (1, 1, 0, 0), (1, 1, 1, 1), (1, 0, 1, 0), (1, 0, 0, 1)),
}
_TRIED = 1000
_ALL_ORDERS_TO = 6

Setting = tuple[float, ...]
"""The absolute angle of every body in one run, degrees."""


@dataclass(frozen=True, slots=True)
class IndexPlan:
    """One round: ``runs`` in the order of the hands.

    ``errors``: standard error per axis of what stays, then of each body, over the scatter of a clamping; ``df`` what is
    left to know that scatter by; ``proves_sense``: a body that runs out shows which way round the angles are counted.
    """

    runs: tuple[Setting, ...]
    errors: tuple[float, ...]
    df: int
    proves_sense: bool

    @property
    def fewest_rounds(self) -> int:
        """So many that the scatter is known by ``FEWEST_DF`` degrees of freedom."""
        return 1 + math.ceil(max(FEWEST_DF - self.df, 0) / (2 * len(self.runs)))

    def circle(self, rounds: int) -> float:
        """Radius of the 95 % circle of the worst known vector after so many rounds, over the scatter per axis."""
        df = 2 * (rounds * len(self.runs) - len(self.errors))
        return max(self.errors) * math.sqrt(df * (SHOWN_RISK ** (-2 / df) - 1) / rounds) if df else math.inf

    def rounds_within(self, wanted: float, most: int) -> int:
        """Rounds after which that radius is no more than wanted; ``most`` where it takes more."""
        rounds = self.fewest_rounds
        while rounds < most and self.circle(rounds) > wanted:
            rounds += 1
        return rounds

    def in_order(self, rounds: int) -> tuple[Setting, ...]:
        """All runs: forth and back, so that a steady drift favours none."""
        return tuple(run for i in range(rounds) for run in (self.runs, self.runs[::-1])[i % 2])


@lru_cache(maxsize=64)
def index_plan(allowed: tuple[tuple[float, ...] | None, ...]) -> IndexPlan:
    """The shortest plan for bodies that can be turned to these angles, None for any.

    The first bodies are turned by thirds rather than the later ones, and seldom, so the one that is easiest to turn
    comes last. Raises NotAnswerableError for no body, more than four, or one that cannot be turned.
    """
    if not 1 <= len(allowed) <= MOST_BODIES:
        raise NotAnswerableError(f"{len(allowed)} bodies cannot be planned.", f"Name 1 to {MOST_BODIES} to be turned.")
    levels = [(_thirds(angles), _apart(angles)) for angles in allowed]
    plans = []
    for ways in product((0, 1), repeat=len(allowed)):
        settings = [level for body, way in enumerate(ways) if (level := levels[body][way])]
        if len(settings) == len(allowed):
            plans.append(_plan(_runs(settings, ways)))
    proving = [plan for plan in plans if plan.proves_sense]
    best = min(proving or plans, key=lambda plan: len(plan.runs) * plan.fewest_rounds)
    return replace(best, runs=_against_drift(best.runs))


def next_run(angles_deg: npt.ArrayLike, sitting: npt.ArrayLike, allowed: Sequence[tuple[float, ...] | None]) -> Setting:
    """What to clamp next, with the newest setting once more in the same sitting, to tell apart what is not told yet.

    angles_deg (n, k), sitting (n,). Of thirds and half turns that tell most vectors the one that turns the fewest
    bodies, the later ones rather; then the one that makes them best known.
    """
    angles, days = np.asarray(angles_deg, dtype=np.float64), np.asarray(sitting)
    now = angles[-1]
    options = [
        sorted({float(now[body]), *(_thirds(can) or ()), *(_apart(can) or ())}) for body, can in enumerate(allowed)
    ]
    new_day = [*days, days.max() + 1, days.max() + 1]

    def worth(setting: Setting) -> tuple[float, float, float]:
        tried = np.vstack([angles, now, np.asarray(setting)])
        found = fit_chain(np.zeros(len(tried)), tried, new_day, floor_um=1.0)
        told = [number for number in range(len(found.bodies)) if np.isfinite(found.vectors[number])]
        parts = sum(len(found.bodies[number]) == 1 for number in told if number)
        cost = sum(1.0 + 0.5 ** (body + 1) for body, angle in enumerate(setting) if angle != now[body])
        return (-parts, cost, float(np.sum(np.real(np.diag(found.unscaled))[told])))

    return min(product(*options), key=worth)


def _thirds(can: Sequence[float] | None) -> tuple[float, ...] | None:
    """Three of the angles a third of a turn apart, if there are."""
    if can is None:
        return (0.0, 120.0, 240.0)
    for first in can:
        turned = [(first + step) % 360.0 for step in (0.0, 120.0, 240.0)]
        if all(any(abs(angle - one % 360.0) < 1e-6 for one in can) for angle in turned):
            return tuple(turned)
    return None


def _apart(can: Sequence[float] | None) -> tuple[float, ...] | None:
    """The two angles that lie farthest apart."""
    if can is None:
        return (0.0, 180.0)
    pairs = [(one, other) for i, one in enumerate(can) for other in can[i + 1 :] if (one - other) % 360.0]
    if not pairs:
        raise NotAnswerableError("A body with one angle only cannot be turned.", "Leave it out of the plan.")
    return min(pairs, key=lambda pair: abs(abs(pair[0] - pair[1]) % 360.0 - 180.0))


def _runs(levels: Sequence[tuple[float, ...]], ways: tuple[int, ...]) -> tuple[Setting, ...]:
    """All runs of bodies at these levels; ``ways``: 0 at thirds, 1 at two angles."""
    thirds, halves = [i for i, way in enumerate(ways) if way == 0], [i for i, way in enumerate(ways) if way == 1]
    three = [(0,), (1,), (2,)] if len(thirds) == 1 else [tuple(map(int, run[: len(thirds)])) for run in _NINE]
    runs = []
    for outer in three if thirds else [()]:
        for inner in _TWO_LEVELS[len(halves)]:
            at = dict(zip([*thirds, *halves], [*outer, *inner], strict=True))
            runs.append(tuple(float(levels[body][at[body]]) for body in range(len(ways))))
    return tuple(runs)


def _plan(runs: tuple[Setting, ...]) -> IndexPlan:
    found = fit_chain(np.zeros(len(runs)), runs, floor_um=1.0, repeat=(1.0, 1))
    errors = tuple(found.part(number).error_um for number in range(len(found.bodies)))
    return IndexPlan(runs, errors, 0 if found.from_shop else found.df, _proves_sense(runs))


def _proves_sense(runs: Sequence[Setting]) -> bool:
    """Whether bodies that run out fit worse with their angles counted the other way round, in two rounds."""
    angles = np.radians(np.asarray(runs))
    turned = 1.0 + np.exp(1j * angles) @ np.exp(1j * np.arange(angles.shape[1]))
    found = chain_misfit(np.tile(turned, 2), np.tile(runs, (2, 1)), np.zeros(2 * len(runs)), floor_um=1e-3)
    return found is not None and found.other_way_um2 > 2.0 * found.as_said_um2


def _against_drift(runs: tuple[Setting, ...]) -> tuple[Setting, ...]:
    """The order, its first run being the first given, in which a steady drift falls least on the bodies; of equal ones
    that with the fewest turns of the first bodies."""
    columns = np.exp(1j * np.radians(np.asarray(runs)))
    time = np.arange(len(runs)) - (len(runs) - 1) / 2.0
    rest = range(1, len(runs))
    if len(runs) <= _ALL_ORDERS_TO:
        orders = [(0, *order) for order in permutations(rest)]
    else:
        chance = np.random.default_rng(0)
        orders = [(0, *rest), *((0, *chance.permutation(rest).tolist()) for _ in range(_TRIED))]

    def cost(order: tuple[int, ...]) -> tuple[float, float]:
        drift = float(np.max(np.abs(columns[list(order)].conj().T @ time))) / len(runs)
        turns = np.abs(np.diff(columns[list(order)], axis=0)) > 1e-9
        return round(drift, 1), float(turns.sum(axis=0) @ 0.5 ** np.arange(columns.shape[1]))

    return tuple(runs[i] for i in min(orders, key=cost))
