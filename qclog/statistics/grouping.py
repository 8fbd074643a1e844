"""Clampings by group and sitting: counts, means and squared deviations, for swings and vectors alike."""

from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.sittings import Ints

Numbers: TypeAlias = npt.NDArray[Any]
"""Real or complex; what comes out is of the kind that went in, squared deviations are real."""


class Grouping:
    """To which group and sitting each of N clampings belongs.

    group (N,): 0 … groups-1. sitting (N,): whole numbers; equal labels in one group are one sitting. Arrays
    (G,): clampings n, sittings m, and harmonic_size = m / sum(1/n_i), the size an unequal sitting counts for
    (1 without clampings). Of the C sittings of all groups: ``cell`` (N,), which one each clamping is in; ``size`` (C,).
    """

    def __init__(self, group: npt.ArrayLike, sitting: npt.ArrayLike, groups: int) -> None:
        self.group = np.asarray(group, dtype=np.intp)
        self.groups = groups
        label = np.unique(np.asarray(sitting), return_inverse=True)[1]
        span = int(label.max(initial=0)) + 1
        cells, self.cell = np.unique(self.group * span + label, return_inverse=True)
        self._owner = cells // span
        self.size: Ints = np.bincount(self.cell, minlength=cells.size)
        self.clampings: Ints = np.bincount(self.group, minlength=groups)
        self.sittings: Ints = np.bincount(self._owner, minlength=groups)
        reciprocals = np.bincount(self._owner, 1.0 / self.size, groups)
        some = self.sittings > 0
        self.harmonic_size = np.where(some, self.sittings, 1) / np.where(some, reciprocals, 1.0)

    def total(self, values: Numbers) -> Numbers:
        """Sum (G,) of values (N,)."""
        return _sums(self.group, values, self.groups)

    def mean(self, values: Numbers) -> Numbers:
        """Mean (G,) of values (N,), every clamping counting the same; 0 without clampings."""
        return np.asarray(self.total(values) / np.maximum(self.clampings, 1))

    def over_sittings(self, values: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        """Unweighted mean of the sitting means, squares of these about it, squares of the values about theirs."""
        means = self.sitting_means(values)
        centre = _sums(self._owner, means, self.groups) / np.maximum(self.sittings, 1)
        between = _sums(self._owner, np.abs(means - centre[self._owner]) ** 2, self.groups)
        within = self.total(np.abs(values - means[self.cell]) ** 2)
        return centre, between, within

    def sitting_means(self, values: Numbers) -> Numbers:
        """The means (C,) of values (N,), sitting by sitting in the order of their groups and labels."""
        return np.asarray(_sums(self.cell, values, self.size.size) / self.size)


def _sums(index: npt.NDArray[np.intp], values: Numbers, size: int) -> Numbers:
    if np.iscomplexobj(values):
        return np.asarray(_sums(index, values.real, size) + 1j * _sums(index, values.imag, size))
    return np.asarray(np.bincount(index, values, size))
