"""What the range and the standard deviation of a few normal values are on average: factors of control charts.

By integration over the normal distribution (Tippett 1925, Biometrika 17; ISO 7870-2 prints them to three or four
places): d2 = ∫ [1 - (1-F)^n - F^n] dx; E R² = 2 ∬_{x<y} [1 - F(y)^n - (1-F(x))^n + (F(y)-F(x))^n] dx dy,
d3² = E R² - d2²; c4 = √(2/(n-1)) Γ(n/2)/Γ((n-1)/2).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import exp, lgamma, sqrt

import numpy as np

from qclog.errors import NotAnswerableError

_NODES = 160
_REACH = 8.5
"""Standard deviations beyond which the normal distribution adds nothing to ten digits."""


@dataclass(frozen=True, slots=True)
class Constants:
    """Of n normal values with standard deviation 1: mean d2 and standard deviation d3 of the range, mean c4 of the
    standard deviation. The factors for limits three standard deviations away follow; lower ones end at 0."""

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def a2(self) -> float:
        """Mean plus or minus a2 times the mean range."""
        return 3.0 / (self.d2 * sqrt(self.n))

    @property
    def a3(self) -> float:
        """Mean plus or minus a3 times the mean standard deviation."""
        return 3.0 / (self.c4 * sqrt(self.n))

    @property
    def ranges(self) -> tuple[float, float]:
        """D3 and D4: limits of a range, in mean ranges."""
        return max(0.0, 1.0 - 3.0 * self.d3 / self.d2), 1.0 + 3.0 * self.d3 / self.d2

    @property
    def deviations(self) -> tuple[float, float]:
        """B3 and B4: limits of a standard deviation, in mean standard deviations."""
        spread = 3.0 * sqrt(1.0 - self.c4**2) / self.c4
        return max(0.0, 1.0 - spread), 1.0 + spread


@lru_cache
def constants(n: int) -> Constants:
    """The constants of n values, 2 to 100 (loads scipy). Raises NotAnswerableError for other n."""
    from scipy.special import ndtr

    if not 2 <= n <= 100:
        raise NotAnswerableError(f"There are no chart constants for {n} values.", "Groups have 2 to 100.")
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    x = _REACH * node
    below = ndtr(x)
    d2 = float(np.sum(_REACH * weight * (1.0 - (1.0 - below) ** n - below**n)))
    away = _REACH * (node + 1.0)  # from x to x + 2 reach
    above = ndtr(x[:, None] + away[None, :])
    inside = 1.0 - above**n - (1.0 - below[:, None]) ** n + (above - below[:, None]) ** n
    squared = 2.0 * float(np.sum(np.outer(_REACH * weight, _REACH * weight) * inside))
    c4 = sqrt(2.0 / (n - 1)) * exp(lgamma(n / 2) - lgamma((n - 1) / 2))
    return Constants(n, d2, sqrt(squared - d2**2), c4)
