"""Are clocking and reading angles counted the same way round? Told by one body clamped at several clockings.

The eccentricity of clamping k is e_k = F + P exp(i a_k): F of everything that stays, P of the body turned to the
angle a_k. Counted the other way round against the readings, it looks like F + P exp(-i a_k). Both are fitted by least
squares; the sums of what they leave, each with 2(n - 2) degrees of freedom in n clampings, are held against each
other by F. Turned by thirds of a turn the two are independent, and the ratio is that of two Fourier components of the
clampings (least-squares theory; the test is ours). Angles in degrees, lengths in µm.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError

FEWEST_ANGLES = 3
RISK = 0.01
"""How often a body without run-out, turned rightly, is said to be counted the other way round (and the reverse)."""


class Sense(IntEnum):
    """How the clocking is counted against the readings."""

    AS_SAID = 0
    OTHER_WAY = 1
    CANNOT_TELL = 2


@dataclass(frozen=True, slots=True)
class Misfit:
    """What both senses leave of n clampings of one body in one place: sums of squares in µm^2, 2(n - 2) ``df``."""

    as_said_um2: float
    other_way_um2: float
    df: int


@dataclass(frozen=True, slots=True)
class SenseTest:
    """``ratio``: the sum of squares left the other way round over that left as said; ``df`` of either."""

    sense: Sense
    ratio: float
    df: int


def misfit(vectors: npt.ArrayLike, angles_deg: npt.ArrayLike, *, floor_um: float) -> Misfit:
    """Fit both senses to eccentricity vectors (n,), complex, of a body clamped at clockings (n,).

    ``floor_um``: the standard deviation per axis of a vector that rounding to the step alone gives; neither sum is
    taken to be smaller than it makes it. Raises NotAnswerableError below three different angles, for what is not
    finite, and for a floor that is not above zero.
    """
    e = np.asarray(vectors, dtype=np.complex128)
    angles = np.asarray(angles_deg, dtype=np.float64)
    if e.shape != angles.shape or e.ndim != 1:
        raise NotAnswerableError(f"{e.size} vectors do not go with {angles.size} clockings.", "Give one for each.")
    if not (np.isfinite(e).all() and np.isfinite(angles).all()):
        raise NotAnswerableError("A vector or a clocking is not finite.", "Leave that clamping out.")
    if np.unique(angles % 360).size < FEWEST_ANGLES:
        raise NotAnswerableError(
            f"A body at fewer than {FEWEST_ANGLES} clockings does not show a sense.", "Clamp it at thirds of a turn."
        )
    if not floor_um > 0:
        raise NotAnswerableError("A floor of nothing cannot be.", "No reading is better than its step.")
    df = 2 * (e.size - 2)
    smallest = df * floor_um**2
    turned = np.exp(1j * np.radians(angles))
    return Misfit(max(_left(e, turned), smallest), max(_left(e, turned.conj()), smallest), df)


def judge_sense(misfits: Iterable[Misfit], *, risk: float = RISK) -> SenseTest:
    """Decide from clampings of one body in one or several places, their sums added up.

    Whatever the run-out of the body, and however it was turned, a wrong decision has at most this risk; where it has
    none, either decision has. Raises NotAnswerableError without any clampings.
    """
    given = list(misfits)
    if not given:
        raise NotAnswerableError("There are no clampings to tell a sense by.", "Clamp one body at thirds of a turn.")
    as_said, other_way = sum(one.as_said_um2 for one in given), sum(one.other_way_um2 for one in given)
    df = sum(one.df for one in given)
    ratio = other_way / as_said
    sense = Sense.CANNOT_TELL
    if f_beyond(max(ratio, 1 / ratio), df) < risk:
        sense = Sense.AS_SAID if ratio > 1 else Sense.OTHER_WAY
    return SenseTest(sense, ratio, df)


def f_beyond(ratio: float, df: int) -> float:
    """Probability that F with df and df degrees of freedom, df even, exceeds a ratio from 1 on.

    It is that of m or more successes in 2m - 1 trials of probability 1/(1 + ratio), m = df/2, since the incomplete
    beta function of whole numbers is a binomial sum (Abramowitz and Stegun 26.5.24 and 26.6.2, from memory).
    """
    m, chance = df // 2, 1 / (1 + ratio)
    trials = 2 * m - 1
    return math.fsum(
        math.exp(
            math.lgamma(trials + 1)
            - math.lgamma(k + 1)
            - math.lgamma(trials - k + 1)
            + k * math.log(chance)
            + (trials - k) * math.log1p(-chance)
        )
        for k in range(m, trials + 1)
    )


def _left(e: npt.NDArray[np.complex128], turned: npt.NDArray[np.complex128]) -> float:
    """The sum of squares that the fit e = F + P turned leaves, in µm^2."""
    basis, _ = np.linalg.qr(np.column_stack([np.ones_like(turned), turned]))
    left = e - basis @ (basis.conj().T @ e)
    return float(np.sum(np.abs(left) ** 2))
