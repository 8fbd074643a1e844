"""How large the part of the run-out is that stays the same from clamping to clamping, and how well that is known."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.statistics.samples import rounding_sd

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Systematic:
    """The TIR that the mean once-per-turn vector causes, from ``low_um`` to ``high_um`` with this confidence."""

    low_um: float
    high_um: float
    confidence: float


def systematic(vectors_um: Sequence[complex], sittings: Sequence[int], resolution_um: float) -> Systematic | None:
    """From the vectors of clampings, µm of eccentricity, and the sitting of each; None for a single clamping.

    Over several sittings their means are the witnesses, else the clampings; ``qclog.statistics.length_interval``.
    """
    from qclog.statistics.length_interval import length_interval

    vectors: npt.NDArray[np.complex128] = np.asarray(vectors_um, dtype=np.complex128)
    _, cell = np.unique(np.asarray(sittings), return_inverse=True)
    if cell.size and cell.max() > 0:
        count = np.bincount(cell)
        means = np.bincount(cell, vectors.real) + 1j * np.bincount(cell, vectors.imag)
        vectors = np.asarray(means / count, dtype=np.complex128)
    n = vectors.size
    if n < 2:
        return None
    squares = float(np.sum(np.abs(vectors - vectors.mean()) ** 2)) / (2 * (n - 1))
    sd = max(float(np.sqrt(squares)), rounding_sd(resolution_um / 2.0))
    low, high = length_interval(abs(vectors.mean()), sd / np.sqrt(n), 2 * (n - 1), CONFIDENCE)
    return Systematic(2 * float(low), 2 * float(high), CONFIDENCE)
