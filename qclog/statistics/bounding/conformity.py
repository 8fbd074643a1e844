"""Does it hold? Verdicts against an upper limit, with the measuring uncertainty against whoever claims.

ISO 14253-1:2017: to prove that a limit is held a value must lie a guard band inside it, to prove that it
is not held a guard band outside; between them nothing is proven. Conformance probabilities after JCGM
106:2012. Everything in µm; arrays broadcast.
"""

from enum import IntEnum
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qclog.errors import NotAnswerableError

Floats = NDArray[np.float64]


class Verdict(IntEnum):
    """What is proven about a limit."""

    HOLDS = 0
    DOES_NOT_HOLD = 1
    CANNOT_TELL = 2
    NO_LIMIT = 3


def guard_band(u_um: ArrayLike, probability: float = 0.95) -> Floats:
    """One-sided guard band, the normal quantile of the probability times u: 1.645 u at 95 %.

    ISO 14253-1:2017 (the default of 95 % and its rounded factor 1.65: from memory). Raises NotAnswerableError
    for an uncertainty that is negative or not finite, and for a probability outside 0.5 to 1.
    """
    u = np.asarray(u_um, dtype=np.float64)
    if not (np.isfinite(u) & (u >= 0)).all():
        raise NotAnswerableError("A standard uncertainty is negative or not finite.", "Give 0 or more.")
    if not 0.5 <= probability < 1:
        raise NotAnswerableError(f"A conformance probability of {probability} proves nothing.", "Give 0.5 to 1.")
    return NormalDist().inv_cdf(probability) * u


def widen(bound_um: ArrayLike, centre_um: ArrayLike, u_um: ArrayLike, linear: ArrayLike) -> Floats:
    """An upper bound raised by the uncertainty u common to all clampings.

    ``linear``: bound + 1.645 u, for an instrument nobody named; it reads every item, and its error does not
    average out. Else by root sum of squares from the middle value, M + sqrt((bound - M)^2 + (1.645 u)^2).
    A bound of infinity stays. A 95 % bound on five clampings, own simulation: with an indicator that is off
    at random linear covers 0.98 to 1.00, root sum of squares 0.94 to 0.97; with one that reads low by the
    whole of its error 0.94 to 0.97 and 0.52 to 0.92.
    """
    bound, centre = np.asarray(bound_um, dtype=np.float64), np.asarray(centre_um, dtype=np.float64)
    guard = guard_band(u_um)
    middle = np.where(np.isinf(bound), 0.0, np.minimum(centre, bound))
    distance = bound - middle
    return np.asarray(middle + np.where(linear, distance + guard, np.hypot(distance, guard)))


def widen_down(bound_um: ArrayLike, centre_um: ArrayLike, u_um: ArrayLike, linear: ArrayLike) -> Floats:
    """A lower bound lowered likewise, never above where it was; minus infinity stays.

    Where the bound lies above the middle value there is no distance to share, and it falls by 1.645 u.
    """
    return -widen(-np.asarray(bound_um, dtype=np.float64), -np.asarray(centre_um, dtype=np.float64), u_um, linear)


def verdicts(
    upper_um: ArrayLike,
    lower_um: ArrayLike,
    centre_um: ArrayLike,
    limit_um: ArrayLike,
    u_um: ArrayLike,
    linear: ArrayLike,
) -> NDArray[np.int8]:
    """A Verdict for each item from the bounds on its swing, both widened by the measuring uncertainty.

    Holds if the widened upper bound is at most the limit, does not hold if the widened lower bound is above
    it. Bounds that are not available are infinite; a limit of NaN is no limit. u and linear as in widen.
    """
    limit = np.asarray(limit_um, dtype=np.float64)
    holds = widen(upper_um, centre_um, u_um, linear) <= limit
    does_not_hold = widen_down(lower_um, centre_um, u_um, linear) > limit
    return _chosen(holds, does_not_hold, limit)


def as_read(max_tir_um: ArrayLike, limit_um: ArrayLike, u_um: ArrayLike) -> NDArray[np.int8]:
    """A Verdict on the clampings that were read, from the largest swing among them (ISO 14253-1).

    Holds if it lies a guard band of 1.645 u or more inside the limit, does not hold if as much outside.
    """
    value, limit = np.asarray(max_tir_um, dtype=np.float64), np.asarray(limit_um, dtype=np.float64)
    guard = guard_band(u_um)
    return _chosen(value <= limit - guard, value >= limit + guard, limit)


def between(
    holds: tuple[float, float],
    fails: tuple[float, float],
    centre_um: float,
    limits_um: tuple[float, float],
    u_um: float,
    linear: bool,
) -> Verdict:
    """A Verdict on a value that has a lower and an upper limit, infinite where there is none.

    ``holds``: between these ends readings are shown to lie; ``fails``: the most that their lower end, and the least
    that their upper end can be; all widened by the uncertainty as for ``verdicts``. Both limits must hold; one that
    does not is enough. With both limits infinite there is none.
    """
    lower, upper = limits_um
    if np.isinf(lower) and np.isinf(upper):
        return Verdict.NO_LIMIT
    low, high = widen_ends(holds, centre_um, u_um, linear)
    if low >= lower and high <= upper:
        return Verdict.HOLDS
    low, high = widen_ends_inward(fails, centre_um, u_um, linear)
    return Verdict.DOES_NOT_HOLD if high > upper or low < lower else Verdict.CANNOT_TELL


def widen_ends(ends_um: tuple[float, float], centre_um: float, u_um: float, linear: bool) -> tuple[float, float]:
    """Both ends between which readings are shown to lie, moved outward by the uncertainty as ``widen`` does."""
    low, high = ends_um
    return -float(widen(-low, -centre_um, u_um, linear)), float(widen(high, centre_um, u_um, linear))


def widen_ends_inward(ends_um: tuple[float, float], centre_um: float, u_um: float, linear: bool) -> tuple[float, float]:
    """The most that the lower end, and the least that the upper end can be, moved inward as ``widen_down`` does."""
    low, high = ends_um
    return -float(widen_down(-low, -centre_um, u_um, linear)), float(widen_down(high, centre_um, u_um, linear))


def as_read_between(low_um: ArrayLike, high_um: ArrayLike, limits_um: tuple[float, float], u_um: float) -> Verdict:
    """A Verdict on the values that were read, each known between ``low_um`` and ``high_um`` (n,), as ``as_read``."""
    low, high = np.asarray(low_um, dtype=np.float64), np.asarray(high_um, dtype=np.float64)
    (lower, upper), guard = limits_um, float(guard_band(u_um))
    if np.isinf(lower) and np.isinf(upper):
        return Verdict.NO_LIMIT
    if high.max() <= upper - guard and low.min() >= lower + guard:
        return Verdict.HOLDS
    beyond = low.max() >= upper + guard or high.min() <= lower - guard
    return Verdict.DOES_NOT_HOLD if beyond else Verdict.CANNOT_TELL


def conformance_probability(value_um: ArrayLike, u_um: ArrayLike, limit_um: ArrayLike, floor: bool = True) -> Floats:
    """Probability that the swing behind a value read with standard uncertainty u > 0 is within the limit.

    Normal about the value (JCGM 106:2012, 7), and with ``floor`` cut off at zero, since no swing is negative.
    """
    from scipy.special import ndtr

    value, u, limit = (np.asarray(given, dtype=np.float64) for given in (value_um, u_um, limit_um))
    if not (np.isfinite(u) & (u > 0)).all():
        raise NotAnswerableError("A standard uncertainty is not above zero.", "Give the indicator's.")
    within = ndtr((limit - value) / u)
    if not floor:
        return np.asarray(within)
    return np.asarray(np.maximum(within - ndtr(-value / u), 0) / ndtr(value / u))


def acceptance_fraction(limit_over_u: ArrayLike, probability: float = 0.95) -> Floats:
    """Largest value to accept, as a fraction of the limit, for a conformance probability with floor.

    ``limit_over_u``: the limit in standard uncertainties. Minus infinity where no value proves conformity.
    """
    ratio = np.asarray(limit_over_u, dtype=np.float64)
    low, high = np.zeros_like(ratio), np.ones_like(ratio)
    possible = conformance_probability(0.0, 1.0, ratio) >= probability
    for _ in range(60):
        middle = (low + high) / 2
        proven = conformance_probability(middle * ratio, 1.0, ratio) >= probability
        low, high = np.where(proven, middle, low), np.where(proven, high, middle)
    return np.asarray(np.where(possible, low, -np.inf))


def _chosen(holds: NDArray[np.bool_], does_not_hold: NDArray[np.bool_], limit: Floats) -> NDArray[np.int8]:
    chosen = np.select(
        [np.isnan(limit), holds, does_not_hold],
        [Verdict.NO_LIMIT, Verdict.HOLDS, Verdict.DOES_NOT_HOLD],
        Verdict.CANNOT_TELL,
    )
    return np.asarray(chosen, dtype=np.int8)
