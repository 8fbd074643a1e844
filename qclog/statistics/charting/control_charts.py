"""Charts of a process: limits that fit what is charted, and where points speak against its being steady.

Swings are one-sided and skewed: limits stand at the probability of one false alarm in 370 on the scale T^(2/3), each
point judged by those before it, and are brought back to µm. Vectors are judged on both axes by Hotelling's T² for
scatter alike in all directions, likewise by those before. Other characteristics have the classical charts, limits three
standard deviations away (ISO 7870-2): single values by their moving range, means of equal groups with ranges (to 8) or
standard deviations; beside them the weighted mean and the cumulative sum, both two-sided.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.statistics.changing.running_chart import FALSE_ALARM_EVERY
from qclog.statistics.charting.chart_constants import constants
from qclog.statistics.charting.run_lengths import Rule
from qclog.statistics.samples import checked, checked_swings, checked_vectors, power_scale
from qclog.statistics.swings import POWER

Floats = npt.NDArray[np.float64]

FEWEST: Final = 3
RANGES_TO: Final = 8
"""Groups up to this size are charted by their range, larger ones by their standard deviation."""
ALLOWANCE, SUM_LIMIT = 0.5, 4.77
WEIGHT, WIDTH = 0.2, 2.86
"""Both run 370 points on average until they alarm falsely (``run_lengths``)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Centre line and limits three standard deviations of a point away; ``sd``: of a point, as the chart takes it."""

    centre: float
    lower: float
    upper: float
    sd: float


@dataclass(frozen=True, slots=True, eq=False)
class Grouped:
    """A chart of means and one of what the values scatter in their groups; ``by``: "range" or "sd"."""

    means: Limits
    spreads: Limits
    by: str


def single_values(values: npt.ArrayLike, *, least_sd: float) -> Limits:
    """Single values (n,), in order, their standard deviation from the mean moving range over d2 of two values.

    ``least_sd``: what rounding alone gives. Raises NotAnswerableError below three values and for one not finite.
    """
    x = checked(values, FEWEST)
    sd = max(float(np.mean(np.abs(np.diff(x)))) / constants(2).d2, least_sd)
    return _three(float(x.mean()), sd)


def groups_of(values: npt.ArrayLike, *, least_sd: float) -> Grouped:
    """Groups of n values, (m, n). The standard deviation within the groups, and the limits of both charts."""
    x = np.asarray(values, dtype=np.float64)
    checked(x.ravel(), 2 * FEWEST)
    n = x.shape[1]
    known = constants(n)
    by = "range" if n <= RANGES_TO else "sd"
    spread = np.ptp(x, axis=1) if by == "range" else x.std(axis=1, ddof=1)
    expected = known.d2 if by == "range" else known.c4
    low, high = known.ranges if by == "range" else known.deviations
    sd = max(float(spread.mean()) / expected, least_sd)
    centre = expected * sd
    spreads = Limits(centre, low * centre, high * centre, (high - 1.0) * centre / 3.0)
    return Grouped(_three(float(x.mean()), sd / np.sqrt(n)), spreads, by)


def hints(scores: npt.ArrayLike, rules: Sequence[Rule]) -> list[tuple[int, Rule]]:
    """Where rules are first fulfilled: the place of the last point of each (from 0) and the rule, in order of place.

    ``scores`` (n,): points in standard deviations from the centre. A rule is told again only after a point that does
    not fulfil it.
    """
    z = np.asarray(scores, dtype=np.float64)
    found = []
    for rule in rules:
        fulfilled = np.zeros(z.size, dtype=np.bool_)
        for side in (1.0, -1.0):
            beyond = side * z > rule.beyond
            for i in np.flatnonzero(beyond):
                fulfilled[i] |= int(beyond[max(0, i - rule.among + 1) : i + 1].sum()) >= rule.count
        starts = np.flatnonzero(fulfilled & ~np.r_[False, fulfilled[:-1]])
        found += [(int(i), rule) for i in starts]
    return sorted(found, key=lambda one: one[0])


def sums(scores: npt.ArrayLike, allowance: float = ALLOWANCE) -> tuple[Floats, Floats]:
    """The cumulative sums (n,) upwards and downwards: C = max(0, C + z - allowance), D likewise of -z."""
    z = np.asarray(scores, dtype=np.float64)
    return _summed(z, allowance), _summed(-z, allowance)


def changed_after(values: npt.ArrayLike) -> int:
    """How many of values (n,), in order, lie before their likeliest step: where the means of both sides differ by most
    standard errors (maximum likelihood, normal distribution: Hinkley 1970, from memory).

    Raises NotAnswerableError below three values and for one not finite.
    """
    x = checked(values, FEWEST)
    before = np.arange(1, x.size)
    sums_before = np.cumsum(x - x.mean())[:-1]
    return int(before[np.argmax(sums_before**2 / (before * (x.size - before)))])


def weighted(scores: npt.ArrayLike, weight: float = WEIGHT, start: float = 0.0) -> Floats:
    """The weighted mean E = (1 - weight) E + weight z, (n,), from a start on."""
    z = np.asarray(scores, dtype=np.float64)
    gathered, state = np.empty_like(z), start
    for i, value in enumerate(z):
        state = (1.0 - weight) * state + weight * float(value)
        gathered[i] = state
    return gathered


def limit_of_weighted(weight: float = WEIGHT, width: float = WIDTH) -> float:
    """How far from the centre the weighted mean may lie, in standard deviations: width sqrt(weight/(2 - weight))."""
    return width * float(np.sqrt(weight / (2.0 - weight)))


def swing_limits(swings: npt.ArrayLike, *, resolution_um: float, kept: int | None = None) -> tuple[Floats, Floats]:
    """Middle and upper limit (n,) of each swing, µm, from those before it; NaN for the first two.

    y = T^(2/3) stays below mean + t s sqrt(1 + 1/j), of the j before it, but for one time in 370. ``kept``: after a
    change, how many at the beginning go on to be the measure.
    """
    from scipy.special import stdtrit

    tir = checked_swings(swings, FEWEST)
    y, floor = power_scale(tir, resolution_um)
    middle, upper = np.full(tir.size, np.nan), np.full(tir.size, np.nan)
    for i in range(2, tir.size):
        before = y[: i if kept is None else min(i, max(kept, 2))]
        j = before.size
        sd = max(float(before.std(ddof=1)), floor)
        away = float(stdtrit(j - 1, 1.0 - 1.0 / FALSE_ALARM_EVERY)) * sd * np.sqrt(1.0 + 1.0 / j)
        middle[i], upper[i] = max(float(before.mean()), 0.0), before.mean() + away
    return middle ** (1.0 / POWER), upper ** (1.0 / POWER)


def vector_scores(vectors: npt.ArrayLike, *, least_sd: float) -> Floats:
    """Normal scores (n - 2,) of vectors (n,), complex, from the third on, each against those before it.

    With j before, their mean m and scatter s per axis: F = j/(j+1) |e - m|²/(2 s²) on (2, 2(j-1)) degrees of freedom,
    P(F > x) = (1 + x/(j-1))^-(j-1); the score is the normal value exceeded as rarely. Independent while nothing
    changes.
    """
    from scipy.special import ndtri

    e = checked_vectors(vectors, FEWEST)
    scores = np.empty(e.size - 2)
    for i in range(2, e.size):
        before = e[:i]
        s2 = max(float(np.sum(np.abs(before - before.mean()) ** 2)) / (2 * (i - 1)), least_sd**2)
        f = i / (i + 1) * float(np.abs(e[i] - before.mean())) ** 2 / (2.0 * s2)
        scores[i - 2] = -float(ndtri((1.0 + f / (i - 1)) ** -(i - 1.0)))
    return scores


def _summed(z: Floats, allowance: float) -> Floats:
    gathered, state = np.empty_like(z), 0.0
    for i, value in enumerate(z):
        state = max(0.0, state + float(value) - allowance)
        gathered[i] = state
    return gathered


def _three(centre: float, sd: float) -> Limits:
    return Limits(centre, centre - 3.0 * sd, centre + 3.0 * sd, sd)
