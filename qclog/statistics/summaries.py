"""Mean and standard deviation that keep their digits."""

import numpy as np
from numpy.typing import ArrayLike

from qclog.errors import NotAnswerableError


def mean_and_sd(values: ArrayLike) -> tuple[float, float]:
    """Mean and standard deviation (n - 1) of values (N,), N at least 2.

    The corrected two-pass sum of squared deviations of Chan, Golub and LeVeque (The American
    Statistician 37, 1983): the mean first, then the deviations, less what rounding left in their sum.
    Raises NotAnswerableError below two values and for one that is not finite, naming its position.
    """
    data = np.asarray(values, dtype=np.float64)
    if data.ndim != 1 or len(data) < 2:
        raise NotAnswerableError(f"A standard deviation needs 2 values, {data.size} given.")
    if not np.isfinite(data).all():
        raise NotAnswerableError(f"Value {int(np.argmin(np.isfinite(data))) + 1} is not a number.")
    mean = data.mean()
    deviation = data - mean
    left = deviation.sum()
    squares = np.sum(deviation**2) - left**2 / len(data)
    return float(mean + left / len(data)), float(np.sqrt(squares / (len(data) - 1)))
