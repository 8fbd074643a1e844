"""What part of the scatter is whose: components of variance from crossed and nested factors, balanced or not.

Model: value = mean of its cell of the fixed part + an effect of each random factor + the rest, all random effects
normal. Mean squares are those of fitting the factors one after the other, each taking only what those before it left
(sequential sums of squares); their expectations follow from the design, and the components are the solution (method
of moments; Henderson 1953, Searle, Casella and McCulloch 1992, Variance Components, from memory). Interactions with
the fixed part are random (the unrestricted model). Where the design is not balanced the components shown are those of
restricted maximum likelihood (``qclog.statistics.studying.reml``); intervals rest on the mean squares in both.

Values on one axis, or complex ones on two axes that scatter alike: sums of squares and degrees of freedom of both
axes are added, and mean squares are per axis.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.studying.cells import Cells, dummies, in_cells, is_balanced
from qclog.statistics.studying.mean_squares import Estimate, combined

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_MOST_CELLS = 400
"""Beyond it the likelihood takes too long, and with so much data the mean squares tell as well."""
_NOTHING_LEFT = 1e-8
"""A direction of which the factors before left less than this share is one of theirs."""


@dataclass(frozen=True, slots=True, eq=False)
class Stratum:
    """One line of the analysis: what a factor took of the scatter, with the factors before it fitted.

    ``expected``: by component, in the order of ``Components.names``, how often it is in the mean square.
    """

    name: str
    df: int
    mean_square: float
    expected: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Components:
    """Variances per axis: one for each name, the rest last, and of all of them together.

    ``moments``: the estimates by the method of moments, negative ones included. ``balanced``: every combination that
    occurs occurs equally often, so that the order of the factors does not matter; else the estimates are those
    ``by_likelihood``, but for more than 400 cells.
    """

    names: tuple[str, ...]
    estimates: tuple[Estimate, ...]
    total: Estimate
    strata: tuple[Stratum, ...]
    moments: Floats
    balanced: bool
    by_likelihood: bool
    axes: int

    def sum_of(self, names: Sequence[str]) -> Estimate:
        """Some of the components together, with their interval."""
        chosen = np.isin(self.names, list(names))
        found = _sum(self.strata, chosen.astype(np.float64))
        if not self.by_likelihood:
            return found
        return _about(found, sum(one.variance for one, yes in zip(self.estimates, chosen, strict=True) if yes))


def variance_components(
    values: npt.ArrayLike, factors: Mapping[str, npt.ArrayLike], *, fixed: npt.ArrayLike | None = None, rest: str
) -> Components:
    """Components of values (N,), real or complex, for factors given by a label for each value (N,).

    Factors with fewer levels are fitted first, of two with equally many the one named first. ``fixed``: a label for
    each value; values of one label share a mean. ``rest``: the name of what the factors leave.
    Raises NotAnswerableError for a factor that the others and the fixed part leave nothing of, and where nothing is
    left to judge by.
    """
    cells = in_cells(values, factors, fixed)
    names = _in_order(cells)
    strata = mean_squares(cells, names, rest)
    expected = np.array([stratum.expected for stratum in strata])
    found = np.array([stratum.mean_square for stratum in strata])
    moments = np.linalg.solve(expected, found)
    balanced = is_balanced(cells)
    each = np.eye(len(names) + 1)
    estimates = tuple(_sum(strata, one) for one in each)
    total = _sum(strata, np.ones(len(names) + 1))
    by_likelihood = not balanced and cells.size.size <= _MOST_CELLS
    if by_likelihood:
        from qclog.statistics.studying.reml import reml

        best = reml(cells, names, np.maximum(moments, 0.0)).variances
        estimates = tuple(_about(one, float(v)) for one, v in zip(estimates, best, strict=True))
        total = _about(total, float(best.sum()))
    return Components((*names, rest), estimates, total, strata, moments, balanced, by_likelihood, cells.axes)


def degrees_of_freedom(factors: Mapping[str, npt.ArrayLike], *, fixed: npt.ArrayLike | None = None) -> dict[str, int]:
    """What each factor can be told by, on one axis, in the order they are fitted in: 0 where the factors before it and
    the fixed part leave nothing of it. Labels (N,) as in ``variance_components``; for a factor as fine as the cells
    what the others leave."""
    (size,) = {np.asarray(label).size for label in factors.values()}
    cells = in_cells(np.zeros(size), factors, fixed)
    fitted = _basis(dummies(cells.fixed), None)
    found = {}
    for name in _in_order(cells):
        if _is_finest(cells, name):
            found[name] = cells.size.size - fitted.shape[1]
        else:
            new = _basis(dummies(cells.factors[name]), fitted)
            fitted, found[name] = np.hstack([fitted, new]), new.shape[1]
    return found


def mean_squares(cells: Cells, names: Sequence[str], rest: str) -> tuple[Stratum, ...]:
    """Sequential mean squares of the factors in the order named, and of what they leave, with their expectations."""
    weight = np.sqrt(cells.size)[:, None]
    whole = int(cells.size.sum())
    columns = {name: dummies(cells.factors[name]) * weight for name in names if not _is_finest(cells, name)}
    data = np.stack([cells.mean.real, cells.mean.imag][: cells.axes], axis=1) * weight
    fitted = _basis(dummies(cells.fixed) * weight, None)
    taken = np.zeros(len(names) + 1)
    strata = []
    for k, name in enumerate(names):
        if name not in columns:
            continue
        new = _basis(columns[name], fitted)
        df = new.shape[1]
        if df == 0:
            raise NotAnswerableError(f"{name} cannot be told apart from what else was changed with it.")
        expected = np.zeros(len(names) + 1)
        for i in range(k, len(names)):
            # of the finest factor every cell is a level, so that its columns are the weights alone
            held = new.T @ columns[names[i]] if names[i] in columns else new.T * weight.T
            expected[i] = np.sum(held**2) / df
        expected[-1] = 1.0
        taken += expected * df
        strata.append(Stratum(name, df * cells.axes, float(np.sum((new.T @ data) ** 2)) / df / cells.axes, expected))
        fitted = np.hstack([fitted, new])
    left = data - fitted @ (fitted.T @ data)
    df_left, squares_left = cells.size.size - fitted.shape[1], float(np.sum(left**2))
    df_rest, squares_rest = whole - cells.size.size, cells.squares
    if finest := [name for name in names if name not in columns]:
        if df_left < 1:
            raise NotAnswerableError(f"{finest[0]} cannot be told apart from what else was changed with it.")
        expected = np.zeros(len(names) + 1)
        expected[names.index(finest[0])] = (whole - float(np.sum((fitted.T * weight.T) ** 2))) / df_left
        expected[-1] = 1.0
        strata.append(Stratum(finest[0], df_left * cells.axes, squares_left / df_left / cells.axes, expected))
    else:
        df_rest, squares_rest = df_rest + df_left, squares_rest + squares_left
    if df_rest < 1:
        raise NotAnswerableError(f"Nothing is left to tell {rest} by.", "Repeat at least one reading as it was.")
    only_rest = np.r_[np.zeros(len(names)), 1.0]
    strata.append(Stratum(rest, df_rest * cells.axes, squares_rest / df_rest / cells.axes, only_rest))
    return tuple(strata)


def _in_order(cells: Cells) -> tuple[str, ...]:
    return tuple(sorted(cells.factors, key=lambda name: int(cells.factors[name].max())))


def _is_finest(cells: Cells, name: str) -> bool:
    """Whether every cell is a level of this factor, the first of several such."""
    finest = [other for other, level in cells.factors.items() if int(level.max()) + 1 == cells.size.size]
    return bool(finest) and finest[0] == name


def _basis(columns: Floats, fitted: Floats | None) -> Floats:
    """Orthonormal columns (C, df) for what is in these columns and not in those fitted."""
    left, size = columns, np.linalg.norm(columns)
    if fitted is not None:
        for _ in range(2):  # the second time for what rounding left
            left = left - fitted @ (fitted.T @ left)
    directions, lengths, _ = np.linalg.svd(left, full_matrices=False)
    return np.asarray(directions[:, lengths > _NOTHING_LEFT * size])


def _sum(strata: Sequence[Stratum], chosen: Floats) -> Estimate:
    """The sum of the components chosen (weights in their order) as a combination of the mean squares."""
    expected = np.array([stratum.expected for stratum in strata])
    coefficients = np.linalg.solve(expected.T, chosen)
    return combined(coefficients, [stratum.mean_square for stratum in strata], [stratum.df for stratum in strata])


def _about(interval: Estimate, variance: float) -> Estimate:
    return Estimate(variance, min(interval.low, variance), max(interval.high, variance))
