"""How to clock the bodies of a chain so that their run-outs make up for each other, and what that honestly gains.

All allowed settings are tried. The least of many forecasts is too good by its own luck, so that what is expected of
it is 2 sqrt(|e|² + 2u²) (``Forecast.expected_um``), and turning is advised only where that gains more than the error of
a full swing at 95 %, 2 t u, with the error of the best forecast or of its difference from now, whichever is larger.
Simulated in ``tests/qclog/statistics/test_clocking.py``.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
import numpy.typing as npt

from qclog.statistics.chains.bodies import Chain, Forecast

STEP_DEG = 10.0
"""The grid of a body that can be turned to any angle."""
_COARSE_DEG = 30.0
_MANY = 4


@dataclass(frozen=True, slots=True)
class Clocked:
    """The best setting found: absolute angles of all bodies, the bodies to be turned for it, and the forecasts.

    ``gain_um``: how much less systematic swing to expect than ``now``, corrected for the choice; ``proven``: it is more
    than the error of the forecast, and of its difference from now.
    """

    angles_deg: tuple[float, ...]
    turned: tuple[int, ...]
    forecast: Forecast
    now: Forecast
    gain_um: float
    proven: bool


def best_clocking(
    chain: Chain,
    now_deg: Sequence[float],
    allowed: Mapping[int, Sequence[float] | None],
    left_out: frozenset[int] = frozenset(),
) -> Clocked:
    """The best setting, with as few bodies turned as come within two standard errors of the best of all.

    ``now_deg`` (k,): where the bodies stand. ``allowed``: by the first body of a part, its absolute angles, None for
    any; parts that are not named stay, as do those of ``left_out``, which are not among them. Raises
    NotAnswerableError as ``Chain.row``.
    """
    now = chain.forecast(now_deg, left_out)
    parts = [number for number in range(1, len(chain.bodies)) if chain.bodies[number][0] in allowed]
    grid = STEP_DEG if len(parts) < _MANY else _COARSE_DEG
    choices = {number: _choices(allowed[chain.bodies[number][0]], grid) for number in parts}
    found = [
        _best_of(chain, now_deg, {number: choices[number] for number in some}, left_out)
        for size in range(1, len(parts) + 1)
        for some in combinations(parts, size)
    ]
    if not found:
        return Clocked(tuple(now_deg), (), now, now, 0.0, False)
    best = min(found, key=lambda one: one.forecast.expected_um)
    near = best.forecast.expected_um + 4.0 * best.forecast.error_um
    fewest = min(len(one.turned) for one in found if one.forecast.expected_um <= near)
    return min((one for one in found if len(one.turned) == fewest), key=lambda one: one.forecast.expected_um)


def least_um(lengths_um: npt.ArrayLike) -> float:
    """The least swing that bodies with eccentricities of these lengths can be clocked to, one of them staying.

    Vectors that can be turned freely close to a polygon unless one is longer than all others together.
    """
    lengths = np.asarray(lengths_um, dtype=np.float64)
    return 2.0 * max(0.0, 2.0 * float(lengths.max()) - float(lengths.sum()))


def _choices(allowed: Sequence[float] | None, grid: float) -> list[float]:
    return [float(angle) for angle in (np.arange(0.0, 360.0, grid) if allowed is None else allowed)]


def _best_of(
    chain: Chain, now_deg: Sequence[float], choices: Mapping[int, list[float]], left_out: frozenset[int]
) -> Clocked:
    """The best where these parts are turned and all others stay."""
    settings = np.array(list(product(*choices.values())), dtype=np.float64)
    rows = np.repeat(chain.row(now_deg, left_out)[None, :], len(settings), axis=0)
    for column, number in enumerate(choices):
        rows[:, number] = np.exp(1j * np.radians(settings[:, column]))
    used = np.abs(rows[0]) > 0.0
    vectors = rows[:, used] @ chain.vectors[used]
    h = np.real(np.einsum("ij,jk,ik->i", rows[:, used], chain.unscaled[np.ix_(used, used)], rows[:, used].conj()))
    judged = np.abs(vectors) ** 2 + 2.0 * (chain.sd_um**2 if chain.df else 0.0) * h
    chosen = settings[int(np.argmin(judged))]
    angles = list(now_deg)
    for column, number in enumerate(choices):
        first, *others = chain.bodies[number]
        for body in others:
            angles[body] = (angles[body] - now_deg[first] + chosen[column]) % 360.0
        angles[first] = float(chosen[column])
    turned = tuple(i for i, angle in enumerate(angles) if (angle - now_deg[i]) % 360.0 != 0.0)
    now, best = chain.forecast(now_deg, left_out), chain.forecast(angles, left_out)
    gain = now.tir_um - best.expected_um
    between = chain.forecast_row(chain.row(angles, left_out) - chain.row(now_deg, left_out))
    proven = bool(turned) and gain > max(_error_um(best), _error_um(between))
    return Clocked(tuple(angles), turned, best, now, gain, proven)


def _error_um(found: Forecast) -> float:
    """Of a full swing, two-sided at 95 %; inf where not known."""
    from scipy.special import stdtrit

    return 2.0 * float(stdtrit(found.error_df, 0.975)) * found.error_um if found.error_df else math.inf
