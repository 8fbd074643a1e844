"""Samples handed to a test: refused where no answer can come of them, and brought to the scale T^(2/3)."""

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.many import OneOrMany
from qclog.statistics.swings import POWER

Vectors = npt.NDArray[np.complex128]


def checked(values: npt.ArrayLike, fewest: int, what: str = "value") -> Floats:
    """Values (..., n), of one record or of many, as an array.

    Raises NotAnswerableError for a value that is not finite, naming its position from 1, and for fewer than
    needed, with both counts.
    """
    data = np.asarray(values, dtype=np.float64)
    _refuse(np.isfinite(data), fewest, what)
    return data


def checked_swings(swings: npt.ArrayLike, fewest: int) -> Floats:
    """Swings (..., n), finite and not negative; raises as ``checked``."""
    tir = np.asarray(swings, dtype=np.float64)
    _refuse(np.isfinite(tir) & (tir >= 0.0), fewest, "swing")
    return tir


def checked_vectors(vectors: npt.ArrayLike, fewest: int) -> Vectors:
    """Eccentricity vectors (n,), complex, finite; raises as ``checked``."""
    data = np.asarray(vectors, dtype=np.complex128)
    _refuse(np.isfinite(data), fewest, "vector")
    return data


def rounding_sd(step_um: OneOrMany) -> OneOrMany:
    """Standard deviation that rounding to a step alone gives, step/sqrt(12) (JCGM 100:2008, 4.3.7)."""
    return step_um / float(np.sqrt(12.0))


def power_scale(swings: Floats, step_um: npt.ArrayLike) -> tuple[Floats, OneOrMany]:
    """Swings (..., n) on the scale T^(2/3), a swing of 0 as a quarter of the step (...), and the floor (...) of their
    sd there."""
    step = np.asarray(step_um, dtype=np.float64)
    entered = np.where(swings == 0.0, step[..., None] / 4.0, swings)
    return entered**POWER, rounding_sd(step) * POWER * np.mean(entered, axis=-1) ** (-1.0 / 3.0)


def _refuse(good: npt.NDArray[np.bool_], fewest: int, what: str) -> None:
    n = good.shape[-1]
    if not good.all():
        raise NotAnswerableError(
            f"{what} {int(np.argmin(good)) % n + 1} of {n} is not to be computed with.",
            "Strike it out or correct it.",
        )
    if n < fewest:
        raise NotAnswerableError(f"{n} {what}s given, {fewest} needed.", f"Log {fewest - n} more.")
