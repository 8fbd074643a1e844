"""Components of variance by restricted maximum likelihood (Patterson and Thompson 1971, Biometrika 58, from memory).

The likelihood of what is left when the fixed part is taken out. Values of one cell are brought to their mean and
their scatter about it, which are independent, so that matrices are as large as there are cells.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from qclog.statistics.studying.cells import Cells, dummies

Floats = npt.NDArray[np.float64]

_LEAST = 1e-9
"""Least share of the rest in the whole variance, so that there is always something to divide by."""


@dataclass(frozen=True, slots=True, eq=False)
class Reml:
    """Variances in the order of the names, the rest last, and the least of
    ½ ln|V| + ½ ln|X'V⁻¹X| + ½ r'V⁻¹r, summed over the axes."""

    variances: Floats
    objective: float


def reml(cells: Cells, names: Sequence[str], start: Floats) -> Reml:
    """Of the factors named, from a first guess of their variances and that of the rest (loads scipy)."""
    from scipy.optimize import Bounds, minimize

    data = np.stack([cells.mean.real, cells.mean.imag][: cells.axes], axis=1)
    fixed = dummies(cells.fixed)
    kinds = [z @ z.T for z in (dummies(cells.factors[name]) for name in names)] + [np.diag(1.0 / cells.size)]
    df_within = int(cells.size.sum()) - cells.size.size
    whole = max(float(start.sum()), 1e-30)
    constant = 0.5 * cells.axes * float(np.sum(np.log(cells.size)))

    def objective(share: Any) -> tuple[float, Any]:
        variance = share * whole
        v = sum(one * kind for one, kind in zip(variance, kinds, strict=True))
        inverse = np.linalg.inv(v)
        weighed = inverse @ fixed
        information = fixed.T @ weighed
        projection = inverse - weighed @ np.linalg.solve(information, weighed.T)
        through = projection @ data
        axes, rest = cells.axes, float(variance[-1])
        value = axes * (np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1]) + np.sum(data * through)
        value += axes * df_within * np.log(rest) + cells.squares / rest
        slope = np.array([axes * np.sum(projection * kind) - np.sum(through * (kind @ through)) for kind in kinds])
        slope[-1] += axes * df_within / rest - cells.squares / rest**2
        return 0.5 * float(value), 0.5 * slope * whole

    first = np.maximum(start / whole, 1e-3)
    bounds = Bounds(np.r_[np.zeros(len(names)), _LEAST], np.inf)
    options: Any = {"ftol": 1e-14, "gtol": 1e-9, "maxiter": 1000}
    found: Any = minimize(objective, first, jac=True, method="L-BFGS-B", bounds=bounds, options=options)
    return Reml(np.asarray(found.x * whole), float(found.fun) + constant)
