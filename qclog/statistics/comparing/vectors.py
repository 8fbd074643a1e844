"""Two groups of eccentricity vectors against each other.

Whether the positions differ as vectors and which is better are two questions: they can differ strongly and be
equally good. For the difference of level use Welch's t on the swings 2|e| (``qclog.statistics.comparing.swings``): as
good as any pivot from the vectors, and simpler. Vectors are µm of eccentricity, swings twice that.

Isotropic scatter is assumed: with a scatter of 3 to 1 between the axes the size of the test of the means is 0.08
instead of 0.05, of the test of the scatter 0.10-0.13; heavy tails bring the latter to 0.2 (own simulation).

Sources: Hotelling 1931 with covariance s² I; Rice 1945; Weerahandi 1993 (all from memory).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import Floats
from qclog.statistics.rice import distribution
from qclog.statistics.samples import Vectors, checked_vectors, rounding_sd

FEWEST_EACH = 2
_DRAWS = 2_000
_SEED = 20_1107


@dataclass(frozen=True, slots=True)
class VectorComparison:
    """Group B against group A, µm of eccentricity.

    difference_um: mean vector of B less that of A, known to within a circle of radius_um at 95 %; f and p_value
    of no difference, on 2 and df degrees of freedom. length_difference_um: |mean B| - |mean A|. scatter_ratio:
    s_A²/s_B² with its two-sided p, indicative. p_a_better_next: probability that the next clamping in A is
    better than the next in B, with a 90 % interval.
    """

    clampings: tuple[int, int]
    difference_um: complex
    radius_um: float
    f: float
    df: int
    p_value: float
    length_difference_um: float
    scatter_ratio: float
    p_scatter: float
    p_a_better_next: float
    p_a_better_low: float
    p_a_better_high: float


def compare_vectors(a_um: npt.ArrayLike, b_um: npt.ArrayLike, *, resolution_um: float) -> VectorComparison:
    """Compare vectors a_um (n_A,) with b_um (n_B,), complex, from readings to a step of resolution_um.

    F = n_A n_B/(n_A + n_B) |difference|²/(2 s²) on 2 and 2(n_A + n_B - 2) degrees of freedom. Raises
    NotAnswerableError for a vector that is not finite, and below two of either.
    """
    from scipy.special import fdtr, fdtrc, fdtri

    a, b = checked_vectors(a_um, FEWEST_EACH), checked_vectors(b_um, FEWEST_EACH)
    df_a, df_b = 2 * (a.size - 1), 2 * (b.size - 1)
    floor = rounding_sd(resolution_um / 2.0)
    s_a, s_b = per_axis_sd(a, floor), per_axis_sd(b, floor)
    df = df_a + df_b
    variance = (df_a * s_a**2 + df_b * s_b**2) / df * (1.0 / a.size + 1.0 / b.size)
    difference = complex(b.mean() - a.mean())
    f = abs(difference) ** 2 / (2.0 * variance)
    ratio = (s_a / s_b) ** 2
    likely = _better_draws(a, s_a, b, s_b)
    low, high = np.quantile(likely, [0.05, 0.95])
    return VectorComparison(
        clampings=(a.size, b.size),
        difference_um=difference,
        radius_um=float(np.sqrt(2.0 * fdtri(2, df, 0.95) * variance)),
        f=f,
        df=df,
        p_value=float(fdtrc(2, df, f)),
        length_difference_um=float(abs(b.mean()) - abs(a.mean())),
        scatter_ratio=ratio,
        p_scatter=float(2.0 * min(fdtr(df_a, df_b, ratio), fdtrc(df_a, df_b, ratio))),
        p_a_better_next=float(np.mean(likely)),
        p_a_better_low=float(low),
        p_a_better_high=float(high),
    )


def per_axis_sd(vectors: Vectors, floor: float) -> float:
    """Standard deviation on each axis of vectors (n,) about their mean, 2(n-1) degrees of freedom."""
    squares = np.sum(np.abs(vectors - vectors.mean()) ** 2)
    return float(max(np.sqrt(squares / (2 * (vectors.size - 1))), floor))


def shorter_probability(nu_a: npt.ArrayLike, sd_a: npt.ArrayLike, nu_b: npt.ArrayLike, sd_b: npt.ArrayLike) -> Floats:
    """Probability that a Rice length (nu_A, sd_A) is below an independent one (nu_B, sd_B); broadcasts.

    Q1(a, b) - sd_A²/S exp(-(a² + b²)/2) I0(ab), S = sd_A² + sd_B², a = nu_B/sqrt S, b = nu_A/sqrt S (Schwartz,
    Bennett and Stein 1966, from memory; checked by own simulation).
    """
    from scipy.special import i0e

    total = np.asarray(sd_a) ** 2 + np.asarray(sd_b) ** 2
    a, b = np.asarray(nu_b) / np.sqrt(total), np.asarray(nu_a) / np.sqrt(total)
    share = np.asarray(sd_a) ** 2 / total
    return np.asarray(1.0 - distribution(b, a, 1.0) - share * np.exp(-((a - b) ** 2) / 2.0) * i0e(a * b))


def _better_draws(a: Vectors, s_a: float, b: Vectors, s_b: float) -> Floats:
    """Draws of the probability that A is shorter, by generalised pivots, always the same."""
    rng = np.random.default_rng(_SEED)

    def drawn(vectors: Vectors, s: float) -> tuple[Floats, Floats]:
        df = 2 * (vectors.size - 1)
        sd = s * np.sqrt(df / rng.chisquare(df, _DRAWS))
        away = rng.standard_normal(_DRAWS) + 1j * rng.standard_normal(_DRAWS)
        return np.abs(vectors.mean() - sd * away / np.sqrt(vectors.size)), sd

    return shorter_probability(*drawn(a, s_a), *drawn(b, s_b))
