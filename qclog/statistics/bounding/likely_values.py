"""Where values may lie and scatter that are known only between two ends, as go and no-go pins tell them.

Normal values of which each is known to lie in its own interval have the likelihood L = prod P(interval). Every mean and
standard deviation with L at least ``risk`` times the largest L stands for them: the likelihood-ratio region with two
degrees of freedom, exp(-chi2/2) = risk (Wilks 1938, from memory). Where all intervals are the same one it is exact: a
normal distribution with less than risk^(1/n) of its values in the interval puts all n there in fewer than ``risk`` of
cases. Coverage from own simulation: ``tests/qclog/statistics/test_value_bounds.py``.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import Floats

_STEPS: Final = 80
_HALVINGS: Final = 36
_FINEST: Final = 1e-3
_WIDEST: Final = 1e3
_LEAST: Final = 1e-300


@dataclass(frozen=True, slots=True)
class _Cells:
    """The intervals (C,), each once with its count, in units of the widest from the middle of all."""

    low: Floats
    high: Floats
    count: Floats

    def likelihood(self, mean: Floats, sd: Floats) -> Floats:
        """Its logarithm (S,) for means and standard deviations (S,)."""
        from scipy.special import ndtr

        low, high = ((end - mean[:, None]) / sd[:, None] for end in (self.low, self.high))
        flip = low > 0  # the upper tail keeps its digits
        inside = np.where(flip, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low))
        return np.asarray(np.log(np.maximum(inside, _LEAST)) @ self.count)


@dataclass(frozen=True, slots=True)
class Region:
    """Standard deviations (S,) with the lowest and highest mean that go with each."""

    sd: Floats
    lowest: Floats
    highest: Floats

    def below(self, z: float) -> float:
        """The lowest that mean - z sd may be."""
        return float((self.lowest - z * self.sd).min())

    def above(self, z: float) -> float:
        """The highest that mean + z sd may be."""
        return float((self.highest + z * self.sd).max())

    def least_above(self, z: float) -> float:
        """The lowest that mean + z sd may be."""
        return float((self.lowest + z * self.sd).min())

    def most_below(self, z: float) -> float:
        """The highest that mean - z sd may be."""
        return float((self.highest - z * self.sd).max())


def likely_region(low: npt.ArrayLike, high: npt.ArrayLike, risk: float, counts: npt.ArrayLike = 1.0) -> Region:
    """The region for values known between ``low`` and ``high`` (n,), low < high, at confidence 1 - risk (loads scipy).

    ``counts``: how often each was found so.
    """
    low, high = np.asarray(low, dtype=np.float64), np.asarray(high, dtype=np.float64)
    unit, middle = float((high - low).max()), float((low.min() + high.max()) / 2)
    ends, which = np.unique(np.column_stack([low, high]), axis=0, return_inverse=True)
    often = np.bincount(which.ravel(), np.broadcast_to(counts, low.shape)).astype(np.float64)
    cells = _Cells((ends[:, 0] - middle) / unit, (ends[:, 1] - middle) / unit, often)
    reach = float(cells.high.max() - cells.low.min())
    sd = np.geomspace(_FINEST, _WIDEST * reach, _STEPS)
    best, most = _best_means(cells, sd)
    needed = float(most.max()) + np.log(risk)
    inside = np.flatnonzero(most >= needed)
    # between the last two steps it ends: finer there
    last = min(inside[-1] + 1, _STEPS - 1)
    sd = np.concatenate([sd[inside], np.geomspace(sd[max(inside[-1] - 3, 0)], sd[last], _STEPS)])
    best, most = _best_means(cells, sd)
    sd, best = sd[most >= needed], best[most >= needed]
    lowest, highest = (_edge(cells, sd, best, side * (reach + 10 * sd), needed) for side in (-1.0, 1.0))
    return Region(sd * unit, lowest * unit + middle, highest * unit + middle)


def _best_means(cells: _Cells, sd: Floats) -> tuple[Floats, Floats]:
    """The mean of the largest likelihood for each standard deviation, and it; the likelihood is log-concave in it."""
    low, high = np.full(sd.shape, cells.low.min()), np.full(sd.shape, cells.high.max())
    for _ in range(_HALVINGS):
        first, second = low + (high - low) / 3, high - (high - low) / 3
        rising = cells.likelihood(first, sd) < cells.likelihood(second, sd)
        low, high = np.where(rising, first, low), np.where(rising, high, second)
    best = (low + high) / 2
    return best, cells.likelihood(best, sd)


def _edge(cells: _Cells, sd: Floats, best: Floats, away: Floats, needed: float) -> Floats:
    """How far from the best mean the likelihood stays at what is needed."""
    near, far = np.zeros(sd.shape), away
    for _ in range(_HALVINGS):
        middle = (near + far) / 2
        within = cells.likelihood(best + middle, sd) >= needed
        near, far = np.where(within, middle, near), np.where(within, far, middle)
    return best + far
