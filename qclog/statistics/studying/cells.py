"""Values with the levels of several factors, gathered by the finest combination of them all."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.statistics.samples import checked, checked_vectors

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The data by the finest combination of all factors: how many values, their mean, and what they scatter about it.

    ``fixed`` and ``factors``: the level of each cell, (C,) each.
    """

    size: Ints
    mean: npt.NDArray[np.complex128]
    squares: float
    fixed: Ints
    factors: dict[str, Ints]
    axes: int


def in_cells(values: npt.ArrayLike, factors: Mapping[str, npt.ArrayLike], fixed: npt.ArrayLike | None = None) -> Cells:
    """Values (N,) with their labels, by cells. Raises NotAnswerableError for a value that is not finite."""
    given = np.asarray(values)
    axes = 2 if np.iscomplexobj(given) else 1
    data = checked_vectors(given, 1) if axes == 2 else checked(given, 1).astype(np.complex128)
    labels = [_levels(np.zeros(data.size, dtype=np.int64) if fixed is None else fixed)]
    labels += [_levels(label) for label in factors.values()]
    _, first, cell = np.unique(np.stack(labels, axis=1), axis=0, return_index=True, return_inverse=True)
    cell = cell.reshape(-1)
    size = np.bincount(cell)
    mean = (np.bincount(cell, data.real) + 1j * np.bincount(cell, data.imag)) / size
    squares = float(np.sum(np.abs(data - mean[cell]) ** 2))
    rows = {name: label[first] for name, label in zip(factors, labels[1:], strict=True)}
    return Cells(size, np.asarray(mean, dtype=np.complex128), squares, labels[0][first], rows, axes)


def is_balanced(cells: Cells) -> bool:
    """Whether all levels of a factor have equally many values, and any two factors are orthogonal: within each set of
    their levels that hang together every combination occurs in proportion (nested factors are, and crossed ones that
    are complete). Then the order in which they are fitted does not matter."""
    labels = [cells.fixed, *cells.factors.values()]
    if any(len(set(np.bincount(label, cells.size).tolist())) > 1 for label in (*labels, np.arange(cells.size.size))):
        return False
    return all(_orthogonal(one, other, cells.size) for i, one in enumerate(labels) for other in labels[:i])


def _orthogonal(one: Ints, other: Ints, size: Ints) -> bool:
    """Counts n_ij n = n_i n_j within each set of levels that hang together."""
    joined = one.copy()
    while True:
        for label in (other, one):
            least = np.full(int(label.max()) + 1, joined.max())
            np.minimum.at(least, label, joined)
            joined, before = least[label], joined
        if (joined == before).all():
            break
    pair = one * (int(other.max()) + 1) + other
    _, first, which = np.unique(pair, return_index=True, return_inverse=True)
    together = np.bincount(which.reshape(-1), size)
    whole, of_one, of_other = (np.bincount(label, size)[label][first] for label in (joined, one, other))
    if not np.array_equal(together * whole, of_one * of_other):
        return False
    sets = np.unique(joined)
    complete = sum(len(set(one[joined == s])) * len(set(other[joined == s])) for s in sets)
    return complete == len(first)


def dummies(level: Ints) -> Floats:
    """A column for each level, 1 in the rows that have it."""
    return np.asarray(np.eye(int(level.max()) + 1)[level])


def _levels(labels: npt.ArrayLike) -> Ints:
    return np.unique(np.asarray(labels), return_inverse=True)[1].reshape(-1).astype(np.int64)
