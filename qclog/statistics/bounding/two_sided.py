"""Two-sided tolerance factors: with a confidence, a share of all values lies within mean - k sd and mean + k sd.

Exact for the normal distribution (ISO 16269-6; Wald and Wolfowitz 1946, Annals of Mathematical Statistics 17; Odeh and
Owen 1980, Tables for Normal Tolerance Limits; from memory).
"""

from functools import lru_cache
from typing import Final

import numpy as np

_NODES: Final = 96
_FARTHEST: Final = 8.5
"""Standard errors of the mean beyond which nothing is left to integrate."""


@lru_cache(maxsize=1024)
def two_sided_factor(n: int, df: int, confidence: float, content: float = 0.95) -> float:
    """Factor k of a mean of ``n`` values and a standard deviation with ``df`` degrees of freedom (loads scipy).

    Solves 2 int_0^inf phi(z) P(chi2_df > df r(z)²/k²) dz = confidence, r(z) the half width about the point z/sqrt(n)
    that holds the content of a standard normal distribution. Infinite below two values or without degrees of freedom.
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc, chndtrix

    if n < 2 or df < 1:
        return float("inf")
    points, weights = np.polynomial.legendre.leggauss(_NODES)
    z = _FARTHEST / 2 * (points + 1.0)
    density = _FARTHEST * weights * np.exp(-z * z / 2) / np.sqrt(2 * np.pi)
    r_squared = chndtrix(content, 1, z * z / n)

    def missing(log_k: float) -> float:
        return float(np.sum(density * chdtrc(df, df * r_squared / np.exp(2 * log_k))) - confidence)

    return float(np.exp(brentq(missing, -5.0, 25.0, xtol=1e-12)))
