"""Intervals for variances that are sums and differences of independent mean squares.

Modified large samples: exact for one mean square, close for any combination. Sums after Graybill and Wang 1980 (JASA
75), differences after Ting, Burdick, Graybill, Jeyaratnam and Lu 1990 (J. Statist. Comput. Simul. 35); overview,
Burdick and Graybill 1992, Confidence Intervals on Variance Components. All from memory; coverage from own simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

CONFIDENCE: Final = 0.95


@dataclass(frozen=True, slots=True)
class Estimate:
    """A variance, 0 where its estimate is negative, and its two-sided interval."""

    variance: float
    low: float
    high: float


def combined(
    coefficients: npt.ArrayLike, mean_squares: npt.ArrayLike, df: Sequence[int], confidence: float = CONFIDENCE
) -> Estimate:
    """sum of coefficient x mean square with its interval; all arguments (K,), mean squares independent.

    With A_q = c_q MS_q the terms added and B_r = |c_r| MS_r those subtracted, F_p(a, b) the value exceeded with
    probability p and p half the risk: G = 1 - 1/F_p(n, inf), H = 1/F_{1-p}(n, inf) - 1;
    lower = sum A - sum B - sqrt(sum G_q² A_q² + sum H_r² B_r² + sum G_qr A_q B_r + sum G*_qt A_q A_t), the upper
    likewise with the parts exchanged. Limits below 0 are 0.
    """
    c, ms, n = (np.asarray(given, dtype=np.float64) for given in (coefficients, mean_squares, df))
    used = np.abs(c) > 1e-12 * np.abs(c).max()
    terms, n = (c * ms)[used], n[used]
    plus = terms >= 0
    risk = (1.0 - confidence) / 2.0
    estimate = float(terms.sum())
    below = _spread_below(terms[plus], n[plus], -terms[~plus], n[~plus], risk)
    above = _spread_above(terms[plus], n[plus], -terms[~plus], n[~plus], risk)
    return Estimate(max(estimate, 0.0), max(estimate - below, 0.0), max(estimate + above, 0.0))


def _spread_below(added: Floats, n: Floats, taken: Floats, m: Floats, risk: float) -> float:
    g, h = _shrink(n, risk), _grow(m, risk)
    f = _f(n[:, None], m[None, :], risk)
    cross = ((f - 1) ** 2 - (g[:, None] * f) ** 2 - h[None, :] ** 2) / f
    squares = np.sum((g * added) ** 2) + np.sum((h * taken) ** 2) + np.sum(cross * np.outer(added, taken))
    return float(np.sqrt(max(squares + (_together(added, n, risk) if taken.size else 0.0), 0.0)))


def _spread_above(added: Floats, n: Floats, taken: Floats, m: Floats, risk: float) -> float:
    h, g = _grow(n, risk), _shrink(m, risk)
    f = _f(n[:, None], m[None, :], 1.0 - risk)
    cross = ((1 - f) ** 2 - (h[:, None] * f) ** 2 - g[None, :] ** 2) / f
    squares = np.sum((h * added) ** 2) + np.sum((g * taken) ** 2) + np.sum(cross * np.outer(added, taken))
    return float(np.sqrt(max(squares + (_together(taken, m, risk) if added.size else 0.0), 0.0)))


def _together(terms: Floats, n: Floats, risk: float) -> float:
    """What two terms on the same side give together, beyond each for itself: only where there is another side."""
    count = len(terms)
    if count < 2:
        return 0.0
    g = _shrink(n, risk)
    total = 0.0
    for i in range(count):
        for j in range(i + 1, count):
            both = n[i] + n[j]
            whole = float(_shrink(np.array([both]), risk)[0]) ** 2 * both**2 / (n[i] * n[j])
            apart = g[i] ** 2 * n[i] / n[j] + g[j] ** 2 * n[j] / n[i]
            total += (whole - apart) / (count - 1) * terms[i] * terms[j]
    return total


def _shrink(n: Floats, risk: float) -> Floats:
    """G = 1 - n over the upper point of chi-square."""
    from scipy.special import chdtri

    return np.asarray(1.0 - n / chdtri(n, risk))


def _grow(n: Floats, risk: float) -> Floats:
    """H = n over the lower point of chi-square, less 1."""
    from scipy.special import chdtri

    return np.asarray(n / chdtri(n, 1.0 - risk) - 1.0)


def _f(n: Floats, m: Floats, upper: float) -> Floats:
    """The value of F that is exceeded with this probability."""
    from scipy.special import fdtri

    return np.asarray(fdtri(n, m, 1.0 - upper))
