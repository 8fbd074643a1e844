"""The Rice distribution: length of a vector with mean length nu and normal scatter sigma on both axes.

Swings follow it with nu and sigma in swing units (twice those of the eccentricity). Swings alone say little
about nu and sigma apart: both are for display, on demand, never for bounds. scipy is loaded when called.

Sources: Rice 1945 (distribution, mean; from memory); the small-sample limit of the likelihood ratio is exact
for the mean of a normal sample, to which the Rice distribution tends with growing nu/sigma.
"""

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats, t_quantile

FEWEST_FOR_INTERVAL = 3
_BISECTIONS = 60


def log_density(length: npt.ArrayLike, nu: npt.ArrayLike, sigma: npt.ArrayLike) -> Floats:
    """Log of the density at lengths above 0; arguments broadcast."""
    from scipy.special import i0e

    r, nu, sigma = (np.asarray(x, dtype=np.float64) for x in (length, nu, sigma))
    variance = sigma**2
    return np.asarray(np.log(r / variance) - (r - nu) ** 2 / (2.0 * variance) + np.log(i0e(r * nu / variance)))


def distribution(length: npt.ArrayLike, nu: npt.ArrayLike, sigma: npt.ArrayLike) -> Floats:
    """Probability of at most this length; arguments broadcast. Noncentral chi-square with 2 df."""
    from scipy.special import chndtr

    r, nu, sigma = (np.asarray(x, dtype=np.float64) for x in (length, nu, sigma))
    return np.asarray(chndtr((r / sigma) ** 2, 2.0, (nu / sigma) ** 2))


def quantile(kappa: npt.ArrayLike, content: float = 0.95) -> Floats:
    """Quantile in units of sigma for kappa = nu/sigma (any shape)."""
    from scipy.special import chndtrix

    return np.sqrt(np.asarray(chndtrix(content, 2.0, np.asarray(kappa, dtype=np.float64) ** 2)))


def mean_and_sd(kappa: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Mean and standard deviation in units of sigma for kappa = nu/sigma (any shape)."""
    from scipy.special import i0e, i1e

    x = np.asarray(kappa, dtype=np.float64) ** 2 / 2.0
    mean = np.sqrt(np.pi / 2.0) * ((1.0 + x) * i0e(x / 2.0) + x * i1e(x / 2.0))
    return np.asarray(mean), np.sqrt(2.0 + 2.0 * x - mean**2)


def moment_estimate(swings: npt.ArrayLike) -> tuple[float, float]:
    """nu and sigma from the second and fourth moments of swings (n,)."""
    m2, m4 = _moments(_checked(swings))
    nu_squared = np.sqrt(max(2.0 * m2**2 - m4, 0.0))
    return float(np.sqrt(nu_squared)), float(np.sqrt((m2 - nu_squared) / 2.0))


def maximum_likelihood(swings: npt.ArrayLike) -> tuple[float, float]:
    """nu and sigma of highest likelihood from swings (n,).

    nu is 0 unless the fourth moment is below twice the square of the second. sigma is biased low; times
    sqrt(n/(n-1)) it is fit to be shown. Raises NotAnswerableError for fewer than two or all equal swings.
    """
    tir = _checked(swings)
    m2, m4 = _moments(tir)
    if m4 >= 2.0 * m2**2:
        return 0.0, float(np.sqrt(m2 / 2.0))

    def excess(nu: float) -> float:
        return float(np.mean(tir * _bessel_ratio(2.0 * tir * nu / (m2 - nu**2)))) - nu

    low, high = 0.0, float(np.sqrt(m2))
    for _ in range(_BISECTIONS):
        nu = (low + high) / 2.0
        low, high = (nu, high) if excess(nu) > 0.0 else (low, nu)
    return low, float(np.sqrt((m2 - low**2) / 2.0))


def log_likelihood(swings: npt.ArrayLike, nu: float) -> float:
    """Highest log likelihood of swings (n,) over sigma, with nu held (the profile likelihood)."""
    tir = _checked(swings)
    m2, _ = _moments(tir)
    low, high = 0.0, (m2 + nu**2) / 2.0
    for _ in range(_BISECTIONS):
        variance = (low + high) / 2.0
        fixed = (m2 + nu**2) / 2.0 - nu * float(np.mean(tir * _bessel_ratio(tir * nu / variance)))
        low, high = (variance, high) if fixed > variance else (low, variance)
    return float(np.sum(log_density(tir, nu, np.sqrt(high))))


def systematic_interval(swings: npt.ArrayLike, confidence: float = 0.95) -> tuple[float, float]:
    """Confidence interval of nu from swings (n,), at least 3, by the profile likelihood.

    nu is kept while twice the log likelihood ratio is at most n ln(1 + t²/(n-1)); the chi-square limit would
    cover only 0.85 with three swings. Simulated coverage 0.947-0.966 for n = 3 to 20.
    """
    tir = _checked(swings, FEWEST_FOR_INTERVAL)
    n = tir.size
    t = float(t_quantile(n - 1, (1.0 - confidence) / 2.0))
    best, sigma = maximum_likelihood(tir)
    lowest = float(np.sum(log_density(tir, best, sigma))) - n * np.log1p(t**2 / (n - 1)) / 2.0

    def border(kept: float, left: float) -> float:
        for _ in range(_BISECTIONS):
            middle = (kept + left) / 2.0
            kept, left = (middle, left) if log_likelihood(tir, middle) >= lowest else (kept, middle)
        return kept

    lower = 0.0 if log_likelihood(tir, 0.0) >= lowest else border(best, 0.0)
    beyond = best + sigma
    while log_likelihood(tir, beyond) >= lowest:
        beyond += beyond - best
    return lower, border(best, beyond)


def _bessel_ratio(x: Floats) -> Floats:
    from scipy.special import i0e, i1e

    return np.asarray(i1e(x) / i0e(x))


def _moments(tir: Floats) -> tuple[float, float]:
    return float(np.mean(tir**2)), float(np.mean(tir**4))


def _checked(swings: npt.ArrayLike, fewest: int = 2) -> Floats:
    tir = np.asarray(swings, dtype=np.float64)
    bad = np.flatnonzero(~(np.isfinite(tir) & (tir > 0.0)))
    if bad.size:
        raise NotAnswerableError(
            f"clamping {int(bad[0]) + 1} of {tir.size}: a swing of {tir[bad[0]]:g} has no likelihood.",
            "Swings here are finite and above 0; enter a swing of 0 as a quarter of the resolution.",
        )
    if tir.size < fewest:
        raise NotAnswerableError(
            f"{tir.size} swings given, {fewest} needed.", f"Log {fewest - tir.size} more clampings."
        )
    if np.ptp(tir) == 0.0:
        raise NotAnswerableError(
            f"all {tir.size} swings are equal: no scatter to be seen.", "Use an indicator with finer steps."
        )
    return tir
