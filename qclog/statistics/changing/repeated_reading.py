"""How far two readings of one body may lie apart, from how earlier readings of it scattered."""

import math
from collections.abc import Sequence

import numpy as np

from qclog.errors import NotAnswerableError

CONFIDENCE = 0.95


def most_apart(earlier: Sequence[float] | Sequence[complex], *, confidence: float = CONFIDENCE) -> float:
    """The distance that two further readings exceed with probability 1 - ``confidence``, in the unit of ``earlier``.

    ``earlier``: n numbers, or n vectors as complex numbers that scatter alike on both axes. For numbers t(n - 1)
    times sqrt(2) s (two samples of one with a known pool, NIST/SEMATECH e-Handbook 7.3.1); for vectors
    |d|^2 / (4 s^2) follows F(2, 2 (n - 1)), the two-sample Hotelling statistic for scatter alike on both axes (from
    memory; own simulation in the tests). Raises NotAnswerableError for fewer than two or what is not finite.
    """
    values = np.asarray(earlier)
    if len(values) < 2 or not np.isfinite(values).all():
        raise NotAnswerableError(
            f"{len(values)} earlier readings do not show how they scatter.", "Two or more finite ones are needed."
        )
    from scipy import stats

    n = len(values)
    squares = float((np.abs(values - values.mean()) ** 2).sum())
    if np.iscomplexobj(values):
        per_axis = math.sqrt(squares / (2 * (n - 1)))
        return 2 * per_axis * math.sqrt(float(stats.f.ppf(confidence, 2, 2 * (n - 1))))
    return math.sqrt(2 * squares / (n - 1)) * float(stats.t.ppf((1 + confidence) / 2, n - 1))
