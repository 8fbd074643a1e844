"""Factors that turn a centre and a standard deviation into a bound, shipped as tables.

The content is 95 % everywhere: bounds on the 95 % point, and on the next value with probability 95 %. What is
asked for at sample sizes up to 200, at the degrees of freedom that go with them (one a value from swings, two
from vectors) and at the risks of ``qclog.statistics.bounding.looking``, stands in ``factors.npz``
(``python -m statistics.bounding.factors`` rewrites it); anything else is computed directly, and only then is scipy
loaded.

Sources: one-sided tolerance factor k = t'(f, z sqrt n)/sqrt n, t' the quantile of the noncentral t
distribution: ISO 16269-6; Natrella 1963, NBS Handbook 91; Hahn and Meeker 1991, Statistical Intervals (from
memory). Prediction factor t sqrt(1 + 1/n): Hahn and Meeker 1991.
"""

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.looking import LOOKS, OWN_DOES_NOT_HOLD, OWN_HOLDS, SHOP_HOLDS, risk

Floats: TypeAlias = npt.NDArray[np.float64]

LARGEST = 200
LARGEST_DF = 400
LARGEST_OWN_DF = 100
Z_95 = 1.6448536269514722
SHOWN_RISK = 0.05
_POLYNOMIAL_DEGREE = 28
_TABLES = Path(__file__).with_name("factors.npz")
_RICE_SCALE = 2.0


def tolerance_factor(n: npt.ArrayLike, df: npt.ArrayLike, confidence: npt.ArrayLike, content: float = 0.95) -> Floats:
    """One-sided tolerance factor k(n, df; content, confidence) by the noncentral t distribution, direct.

    With a small confidence it is the factor of the lower limit of the same percentile. n and df may be
    fractional (an effective size, Satterthwaite's degrees of freedom). All arguments broadcast.
    """
    from scipy.special import nctdtrit, ndtri

    root = np.sqrt(np.asarray(n, dtype=np.float64))
    df, confidence = np.asarray(df, dtype=np.float64), np.asarray(confidence, dtype=np.float64)
    return np.asarray(nctdtrit(df, ndtri(content) * root, confidence) / root)


def upper_factor(clampings: npt.ArrayLike) -> Floats:
    """k(n, n-1; 0.95, 0.95) of the bound that is shown; inf below two clampings."""
    return _by_clampings("upper", clampings)


def upper_factor_verdict(clampings: npt.ArrayLike) -> Floats:
    """k(n, n-1; 0.95, confidence of the look at n) for "holds" on own data; inf below two clampings."""
    return _by_clampings("upper_verdict", clampings)


def lower_factor_verdict(clampings: npt.ArrayLike) -> Floats:
    """k(n, n-1; 0.95, risk of the look at n) for "does not hold" on own data; -inf below two clampings."""
    return _by_clampings("lower_verdict", clampings)


def vector_upper_factor(clampings: npt.ArrayLike) -> Floats:
    """k(n, 2(n-1); 0.95, 0.95) of the bound from vectors that is shown; inf below two clampings."""
    return _by_clampings("vector_upper", clampings)


def vector_upper_factor_verdict(clampings: npt.ArrayLike) -> Floats:
    """The factor of "holds" from vectors, k(n, 2(n-1)) at the look at n; inf below two clampings."""
    return _by_clampings("vector_upper_verdict", clampings)


def vector_lower_factor_verdict(clampings: npt.ArrayLike) -> Floats:
    """The factor of "does not hold" from vectors, k(n, 2(n-1)) at the look at n; -inf below two clampings."""
    return _by_clampings("vector_lower_verdict", clampings)


def t_95(df: npt.ArrayLike) -> Floats:
    """95 % quantile of Student's t for any df >= 1, whole or not, without scipy.

    A polynomial in 1/df that passes through the exact quantile at its Chebyshev points (relative error
    below 1e-12).
    """
    u = 1.0 / np.asarray(df, dtype=np.float64)
    return _chebyshev(2.0 * u - 1.0, _shipped()["t_95_polynomial"])


def prediction_factor(n: npt.ArrayLike, df: npt.ArrayLike) -> Floats:
    """Factor t_0.95(df) sqrt(1 + 1/n) of the bound the next value stays below with probability 95 %."""
    return t_95(df) * np.sqrt(1.0 + 1.0 / np.asarray(n, dtype=np.float64))


def rice_95(kappa: npt.ArrayLike) -> Floats:
    """95 % point of the Rice distribution for kappa = nu/sigma >= 0, in sigma, without scipy.

    kappa + z + a polynomial in 2/(2 + kappa) through the exact quantile at its Chebyshev points (error below
    1e-8). The quantile is the root of that of noncentral chi-square with 2 degrees of freedom.
    """
    kappa = np.asarray(kappa, dtype=np.float64)
    u = _RICE_SCALE / (_RICE_SCALE + kappa)
    return np.asarray(kappa + Z_95 + _chebyshev(2.0 * u - 1.0, _shipped()["rice_95_polynomial"]))


def t_quantile(df: npt.ArrayLike, tail: npt.ArrayLike) -> Floats:
    """Quantile of Student's t with this upper tail; df and tail broadcast, df >= 1."""
    return _by_df_and_risk("t", df, tail, _t_quantile)


def variance_excess(df: npt.ArrayLike, tail: npt.ArrayLike) -> Floats:
    """A = df/chi2 - 1, chi2 the lower quantile at ``tail``: what the upper limit of a variance adds to it.

    Graybill and Wang 1980, JASA 75 (from memory). df and tail broadcast, df >= 1.
    """
    return _by_df_and_risk("excess", df, tail, _variance_excess)


def exceeds_pool(ratio: npt.ArrayLike, df: npt.ArrayLike, pool_df: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """Whether an own/pool ratio of variances exceeds the 95 % point of F(df, pool_df); broadcasts.

    Own degrees of freedom count up to 100, the pool's up to 200 (beyond, the test is a little milder than
    5 %). False where either is 0.
    """
    own, pool = np.minimum(df, LARGEST_OWN_DF), np.minimum(pool_df, LARGEST)
    return np.asarray(ratio) > _shipped()["f_95"][own, pool]


def distribution_free_size(content: float, confidence: float) -> int:
    """Fewest values whose largest is a tolerance bound whatever the distribution (Wilks 1941, from memory).

    The smallest n with content^n <= 1 - confidence.
    """
    return int(np.ceil(np.log1p(-confidence) / np.log(content) - 1e-9))


def _t_quantile(df: Floats, tail: Floats) -> Floats:
    from scipy.special import stdtrit

    return np.asarray(-stdtrit(df, tail))


def _variance_excess(df: Floats, tail: Floats) -> Floats:
    from scipy.special import gammaincinv

    return np.asarray(df / (2.0 * gammaincinv(df / 2.0, tail)) - 1.0)


def _by_clampings(name: str, clampings: npt.ArrayLike) -> Floats:
    n = np.asarray(clampings)
    factor = np.asarray(_shipped()[name][np.minimum(n, LARGEST)])
    beyond = n > LARGEST
    if beyond.any():
        many = n[beyond]
        factor[beyond] = _factor(name, many)
    return factor


def _by_df_and_risk(
    name: str, df: npt.ArrayLike, tail: npt.ArrayLike, direct: Callable[[Floats, Floats], Floats]
) -> Floats:
    df, tail = np.broadcast_arrays(np.asarray(df, dtype=np.float64), np.asarray(tail, dtype=np.float64))
    tables = _shipped()
    row = np.minimum(np.searchsorted(tables["risk"], tail), tables["risk"].size - 1)
    column = np.minimum(df, LARGEST_DF).astype(np.intp)
    value = np.asarray(tables[name][row, column])
    missing = (tables["risk"][row] != tail) | (column != df)
    if missing.any():
        value[missing] = direct(df[missing], tail[missing])
    return value


def _factor(name: str, n: npt.NDArray[np.int64]) -> Floats:
    axes, confidence = _FACTORS[name]
    return tolerance_factor(n, axes * (n - 1), confidence(n))


def _shown(n: npt.ArrayLike) -> Floats:
    return np.full(np.shape(n), 1.0 - SHOWN_RISK)


def _holds(n: npt.ArrayLike) -> Floats:
    return 1.0 - risk(n, OWN_HOLDS)


def _does_not_hold(n: npt.ArrayLike) -> Floats:
    return risk(n, OWN_DOES_NOT_HOLD)


_FACTORS: dict[str, tuple[int, Callable[[npt.ArrayLike], Floats]]] = {
    "upper": (1, _shown),
    "upper_verdict": (1, _holds),
    "lower_verdict": (1, _does_not_hold),
    "vector_upper": (2, _shown),
    "vector_upper_verdict": (2, _holds),
    "vector_lower_verdict": (2, _does_not_hold),
}
"""Degrees of freedom a clamping brings, and the confidence."""


def _chebyshev(x: Floats, coefficients: Floats) -> Floats:
    """A sum of Chebyshev polynomials at x in -1..1, by the recurrence of Clenshaw 1955 (from memory).

    As numpy.polynomial has it; loading that takes longer than a verdict.
    """
    last, one_before = np.zeros_like(x), np.zeros_like(x)
    for coefficient in coefficients[:0:-1].tolist():
        last, one_before = coefficient + 2.0 * x * last - one_before, last
    return np.asarray(coefficients[0] + x * last - one_before)


@lru_cache(maxsize=1)
def _shipped() -> dict[str, Floats]:
    with _TABLES.open("rb") as file, np.load(file) as tables:
        return dict(tables)


def compute_tables() -> dict[str, npt.NDArray[np.floating]]:
    """All shipped tables, computed directly. Index 0, and 1 where two are needed, hold "not available"."""
    from scipy.special import chndtrix, fdtri

    n = np.arange(2, LARGEST + 1)
    df = np.arange(1, LARGEST_DF + 1, dtype=np.float64)
    steps = np.array(LOOKS)
    risks = np.unique(np.concatenate([[SHOWN_RISK], risk(steps, OWN_HOLDS), risk(steps, SHOP_HOLDS)]))
    tables: dict[str, npt.NDArray[np.floating]] = {}
    for name in _FACTORS:
        never = -np.inf if "lower" in name else np.inf
        tables[name] = np.concatenate([[never, never], _factor(name, n)])
    none = np.full((risks.size, 1), np.inf)
    tables["risk"] = risks
    tables["t"] = np.hstack([none, _t_quantile(df, risks[:, None])])
    tables["excess"] = np.hstack([none, _variance_excess(df, risks[:, None])])
    tables["f_95"] = np.full((LARGEST_OWN_DF + 1, LARGEST + 1), np.inf, dtype=np.float32)
    tables["f_95"][1:, 1:] = fdtri(df[:LARGEST_OWN_DF, None], df[:LARGEST], 0.95)

    points = np.polynomial.chebyshev.chebpts1(_POLYNOMIAL_DEGREE + 1)
    u = (points + 1.0) / 2.0
    kappa = _RICE_SCALE * (1.0 / u - 1.0)
    for name, values in (
        ("t_95_polynomial", _t_quantile(1.0 / u, np.asarray(SHOWN_RISK))),
        ("rice_95_polynomial", np.sqrt(chndtrix(0.95, 2.0, kappa**2)) - kappa - Z_95),
    ):
        tables[name] = np.polynomial.chebyshev.chebfit(points, values, _POLYNOMIAL_DEGREE)
    return tables


if __name__ == "__main__":
    np.savez(_TABLES, **compute_tables())  # type: ignore[arg-type]
