"""Two key holes of one chuck, over several collets: is one of them better for the chuck, or only collet by collet?

The pinion pushes the closing centre by p towards one hole: mean vectors A = E + p + C, B = E - p + C with E of
chuck and spindle and C of the collet. A is better for a collet where the part of (A + B)/2 along p points against
p. A difference of the mean swings over collets says nothing about that: with E 2, p 1.5 and C 3 µm B is better by
2.3 µm on average, and yet A is right for 27 % of the collets.

Everything here in µm of eccentricity, except where swings are named. C is taken as normal; where all collets are
equally far out, the interval of p_a_wins covers 0.88-0.94 instead of 0.94-0.96 (own simulation).

Sources: Hotelling 1931; Clopper and Pearson 1934, Biometrika 26; interval of a normal probability by the
noncentral t distribution, Hahn and Meeker 1991, Statistical Intervals (all from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats, t_quantile
from qclog.statistics.comparing.swings import sums_of, welch
from qclog.statistics.samples import Vectors, checked_swings, checked_vectors, rounding_sd

FEWEST_COLLETS = 2
FEWEST_CLAMPINGS = 2
FEWEST_FOR_PROOF = 3
RISK = 0.05
CHUCK_WIDE = 0.9
_BISECTIONS = 60


class Statement(IntEnum):
    """What may be said of the key holes of a chuck."""

    NO_EFFECT_SHOWN = 0
    HOLE_A = 1
    HOLE_B = 2
    PER_COLLET = 3
    NO_WINNER_SHOWN = 4


@dataclass(frozen=True, slots=True)
class KeyShift:
    """Key holes A and B from vectors of I collets, µm of eccentricity.

    shift_um: p, known to within a circle of radius_um at 95 %; shift_variance per axis over collets, df; f and
    p_value of no shift. p_depends: p of the shift being the same for all collets. p_a_wins: probability that A
    is better for a further collet, low to high its 95 % interval; wins_a of the measured ones by their means.
    variance: per axis, of one clamping; harmonic_variance: that of A - B, over the clampings of each.
    """

    collets: int
    shift_um: complex
    radius_um: float
    shift_variance: float
    df: int
    f: float
    p_value: float
    p_depends: float
    p_a_wins: float
    p_a_low: float
    p_a_high: float
    wins_a: int
    variance: float
    harmonic_variance: float
    statement: Statement


@dataclass(frozen=True, slots=True)
class KeySwings:
    """Key holes A and B from swings of I collets alone; the direction of the shift stays unknown.

    The size of the shift in µm of eccentricity lies between narrow_low_um and narrow_high_um as the mean swings
    stand, between low_um and high_um with 95 % confidence. wins_a collets had the smaller mean swing in A,
    wins_low to wins_high is the 95 % interval of that share, next_a_wins its value for one more collet.
    p_depends: p of A - B being the same for all collets. crossing_proven: one collet is proven better in A and
    another in B, so that no key hole is right for all; that one is, swings never prove.
    """

    collets: int
    narrow_low_um: float
    narrow_high_um: float
    low_um: float
    high_um: float
    wins_a: int
    wins_low: float
    wins_high: float
    next_a_wins: float
    p_depends: float
    crossing_proven: bool


def key_shift(a_um: Sequence[npt.ArrayLike], b_um: Sequence[npt.ArrayLike], *, resolution_um: float) -> KeyShift:
    """Key holes from vectors: a_um, b_um hold one complex array (n,) a collet, in the same order.

    Raises NotAnswerableError for a vector that is not finite, below two collets, below two clampings of one in
    either hole, and for lists of different length.
    """
    from scipy.special import fdtrc, fdtri, stdtr

    _refuse(len(a_um), len(b_um))
    a = [checked_vectors(one, FEWEST_CLAMPINGS) for one in a_um]
    b = [checked_vectors(one, FEWEST_CLAMPINGS) for one in b_um]
    i = len(a)
    variance_df = 2 * sum(one.size - 1 for one in a + b)
    squares = sum(float(np.sum(np.abs(one - one.mean()) ** 2)) for one in a + b)
    rounding = rounding_sd(resolution_um / 2.0) ** 2
    variance = max(squares / variance_df, rounding)
    of_difference, floor = variance * _harmonic(a, b), rounding * _harmonic(a, b) / 4.0
    mean_a, mean_b = np.array([one.mean() for one in a]), np.array([one.mean() for one in b])

    df = 2 * (i - 1)
    shift, observed = _mean_and_variance((mean_a - mean_b) / 2.0)
    shift_variance = max(observed, of_difference / 4.0 if i == FEWEST_COLLETS else floor)
    f = i * abs(shift) ** 2 / (2.0 * shift_variance)
    p_value = float(fdtrc(2, df, f))

    centre, centre_variance = _mean_and_variance((mean_a + mean_b) / 2.0)
    along = (centre * shift.conjugate()).real / abs(shift) if shift else 0.0
    sd = float(np.sqrt(max(centre_variance, floor)))
    low, high = _chance_below_zero(along / sd, i, df)
    return KeyShift(
        collets=i,
        shift_um=shift,
        radius_um=float(np.sqrt(2.0 * fdtri(2, df, 0.95) * shift_variance / i)),
        shift_variance=shift_variance,
        df=df,
        f=f,
        p_value=p_value,
        p_depends=float(fdtrc(df, variance_df, 4.0 * observed / of_difference)),
        p_a_wins=float(stdtr(df, -along / (sd * np.sqrt(1.0 + 1.0 / i)))),
        p_a_low=low,
        p_a_high=high,
        wins_a=int(np.sum(np.abs(mean_a) < np.abs(mean_b))),
        variance=variance,
        harmonic_variance=of_difference,
        statement=_statement(p_value, low, high, _crossing_proven(_swings(a), _swings(b), resolution_um)),
    )


def predict_b(key: KeyShift, a_um: npt.ArrayLike) -> tuple[complex, float]:
    """Mean vector in hole B of a collet measured only in A, vectors a_um (n,), and its 95 % radius."""
    from scipy.special import fdtri

    a = checked_vectors(a_um, 1)
    of_collets = 4.0 * key.shift_variance / key.collets
    differing = 4.0 * max(key.shift_variance - key.harmonic_variance / 4.0, 0.0)
    variance = key.variance / a.size + of_collets + differing
    return complex(a.mean()) - 2.0 * key.shift_um, float(np.sqrt(2.0 * fdtri(2, key.df, 0.95) * variance))


def key_swings(a_um: Sequence[npt.ArrayLike], b_um: Sequence[npt.ArrayLike], *, resolution_um: float) -> KeySwings:
    """Key holes from swings: a_um, b_um hold one array (n,) of swings a collet, in the same order.

    |p| lies between the largest |T_A - T_B|/4 and the smallest (T_A + T_B)/4 over collets. Raises as ``key_shift``.
    """
    from scipy.special import betaincinv, fdtrc

    _refuse(len(a_um), len(b_um))
    a = [checked_swings(one, FEWEST_CLAMPINGS) for one in a_um]
    b = [checked_swings(one, FEWEST_CLAMPINGS) for one in b_um]
    i = len(a)
    variance_df = sum(one.size - 1 for one in a + b)
    squares = sum(float(np.sum((one - one.mean()) ** 2)) for one in a + b)
    of_difference = max(squares / variance_df, rounding_sd(resolution_um) ** 2) * _harmonic(a, b)
    mean_a, mean_b = np.array([one.mean() for one in a]), np.array([one.mean() for one in b])
    difference = mean_a - mean_b
    low, high = float(np.max(np.abs(difference))) / 4.0, float(np.min(mean_a + mean_b)) / 4.0
    out = float(t_quantile(variance_df, RISK / 2.0 / i)) * float(np.sqrt(of_difference)) / 4.0
    wins = int(np.sum(difference < 0.0))
    return KeySwings(
        collets=i,
        narrow_low_um=low,
        narrow_high_um=high,
        low_um=max(low - out, 0.0),
        high_um=high + out,
        wins_a=wins,
        wins_low=float(betaincinv(wins, i - wins + 1, RISK / 2.0)) if wins else 0.0,
        wins_high=float(betaincinv(wins + 1, i - wins, 1.0 - RISK / 2.0)) if wins < i else 1.0,
        next_a_wins=(wins + 0.5) / (i + 1.0),
        p_depends=float(fdtrc(i - 1, variance_df, float(np.var(difference, ddof=1)) / of_difference)),
        crossing_proven=_crossing_proven(a, b, resolution_um),
    )


def _statement(p_value: float, low: float, high: float, crossing_proven: bool) -> Statement:
    if p_value > RISK:
        return Statement.NO_EFFECT_SHOWN
    if low > CHUCK_WIDE:
        return Statement.HOLE_A
    if high < 1.0 - CHUCK_WIDE:
        return Statement.HOLE_B
    if crossing_proven or (low >= 1.0 - CHUCK_WIDE and high <= CHUCK_WIDE):
        return Statement.PER_COLLET
    return Statement.NO_WINNER_SHOWN


def _swings(vectors: list[Vectors]) -> list[Floats]:
    return [2.0 * np.abs(one) for one in vectors]


def _crossing_proven(a: list[Floats], b: list[Floats], resolution_um: float) -> bool:
    """Whether one collet is proven better in A and another in B by swings, each at 5 % over the number of collets.

    Two clampings prove nothing: they may agree by luck, and only the step of the readings is then left as scatter.
    """
    floor = rounding_sd(resolution_um)
    enough = [(x, y) for x, y in zip(a, b, strict=True) if min(x.size, y.size) >= FEWEST_FOR_PROOF]
    tests = [welch(sums_of(x, floor), sums_of(y, floor)) for x, y in enough]
    proven = [float(np.sign(test.difference)) for test in tests if test.p_value <= RISK / len(a)]
    return 1.0 in proven and -1.0 in proven


def _chance_below_zero(ratio: float, n: int, df: int) -> tuple[float, float]:
    """95 % interval of the probability that a normal value is below 0, from mean/sd over n with df."""
    from scipy.special import nctdtr, ndtr

    if ratio < 0.0:
        low, high = _chance_below_zero(-ratio, n, df)
        return 1.0 - high, 1.0 - low
    t = np.sqrt(n) * ratio

    def shift_at(tail: float) -> float:
        low, high = -10.0, 10.0 + 4.0 * t  # further out the distribution function is not to be relied on
        for _ in range(_BISECTIONS):
            middle = (low + high) / 2.0
            low, high = (middle, high) if nctdtr(df, middle, t) > tail else (low, middle)
        return float(low)

    return float(ndtr(-shift_at(RISK / 2.0) / np.sqrt(n))), float(ndtr(-shift_at(1.0 - RISK / 2.0) / np.sqrt(n)))


def _mean_and_variance(vectors: Vectors) -> tuple[complex, float]:
    """Mean and variance per axis of vectors (I,)."""
    mean = complex(vectors.mean())
    return mean, float(np.sum(np.abs(vectors - mean) ** 2)) / (2 * (vectors.size - 1))


def _harmonic(a: Sequence[Vectors | Floats], b: Sequence[Vectors | Floats]) -> float:
    """Mean over the collets of 1/n_A + 1/n_B."""
    return float(np.mean([1.0 / x.size + 1.0 / y.size for x, y in zip(a, b, strict=True)]))


def _refuse(in_a: int, in_b: int) -> None:
    if in_a != in_b:
        raise NotAnswerableError(f"{in_a} collets in hole A, {in_b} in hole B.", "Give the same ones in both.")
    if in_a < FEWEST_COLLETS:
        raise NotAnswerableError(f"{in_a} collets given, {FEWEST_COLLETS} needed.", "Measure more in both holes.")
