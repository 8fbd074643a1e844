"""Did it jump, and where? The largest two-sample t over all places of a step, on the scale T^(2/3).

The limits for the largest t are from own simulation (400 000 series; 200 000 from n = 60 on); simulated with
Rice-distributed swings they hold for a systematic part of 0 to 5 times the scatter (3.08-3.23 for the 95 %
points). Idea: Hawkins 1977, JASA 72 (from memory). Pettitt's test with its approximate p has no power below 15.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import Floats
from qclog.statistics.many import OneOrMany
from qclog.statistics.samples import checked_swings, power_scale

FEWEST_CLAMPINGS = 8
FEWEST_ASIDE = 3
RISK = 0.05

_RISKS = np.array([0.10, 0.05, 0.01])
_SIZES = np.array([8, 10, 12, 15, 20, 30, 40, 60, 100, 200])
_LIMITS = np.array(
    [
        [2.597, 3.193, 4.697],
        [2.674, 3.203, 4.447],
        [2.713, 3.188, 4.240],
        [2.720, 3.140, 4.046],
        [2.742, 3.120, 3.922],
        [2.752, 3.096, 3.808],
        [2.773, 3.090, 3.711],
        [2.796, 3.090, 3.694],
        [2.840, 3.114, 3.679],
        [2.893, 3.159, 3.694],
    ]
)


@dataclass(frozen=True, slots=True)
class Step:
    """The likeliest step of a record, or of records of one length (...): ``before`` clampings before it, the next one
    after.

    change_um: mean swing after less before. t: the largest over all places; p_value: approximate. proven: at 5 %.
    """

    clampings: int
    before: OneOrMany
    change_um: OneOrMany
    t: OneOrMany
    p_value: OneOrMany
    proven: OneOrMany


def find_step(swings: npt.ArrayLike, *, resolution_um: npt.ArrayLike) -> Step:
    """The likeliest step in swings (..., n), in the order they were taken, three or more on either side.

    resolution_um: the step they were read to, one or (...).

    Raises NotAnswerableError for a swing that is negative or not finite, and below eight clampings.
    """
    tir = checked_swings(swings, FEWEST_CLAMPINGS)
    y, floor = power_scale(tir, resolution_um)
    n = y.shape[-1]
    before = np.arange(FEWEST_ASIDE, n - FEWEST_ASIDE + 1)
    y = y - y.mean(axis=-1, keepdims=True)
    sums = np.cumsum(y, axis=-1)[..., before - 1]
    explained = sums**2 * n / (before * (n - before))
    variance = np.maximum((np.sum(y**2, axis=-1, keepdims=True) - explained) / (n - 2), floor[..., None] ** 2)
    all_t = np.sqrt(explained / variance)
    place = np.argmax(all_t, axis=-1)
    t = np.take_along_axis(all_t, place[..., None], axis=-1)[..., 0]
    k, change = before[place], np.empty(t.shape)
    for split in np.unique(k):
        here = tir[k == split]
        change[k == split] = here[:, split:].mean(axis=-1) - here[:, :split].mean(axis=-1)
    p_value = step_p(n, t)
    return Step(n, k, change, t, p_value, p_value <= RISK)


def step_limits(n: int) -> Floats:
    """Limits (3,) the largest t of n clampings exceeds by chance with 10, 5 and 1 %; interpolated over 1/n."""
    return np.array([np.interp(-1.0 / n, -1.0 / _SIZES, column) for column in _LIMITS.T])


def step_p(n: int, t: npt.ArrayLike) -> Floats:
    """Approximate p of a largest t, any shape: that of a single place, times the number of places it counts for.

    That number is set by the limits at 10, 5 and 1 %, interpolated over t, and held beyond them.
    """
    from scipy.special import stdtr

    limits, t = step_limits(n), np.asarray(t, dtype=np.float64)
    places = _RISKS / (2.0 * stdtr(n - 2, -limits))
    return np.asarray(np.minimum(1.0, 2.0 * stdtr(n - 2, -t) * np.interp(t, limits, places)))
