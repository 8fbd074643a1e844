"""Bounds on the swing of further clampings, from vectors: what ``qclog.statistics.bounding.bounds`` gives from swings.

A bound is 2 (c + k s): c the length of the mean vector with the scatter across it, sqrt(max(|m|² - 2s²/n, 0) + s²),
and k the factor for the scatter s along it. c + z s stands above the exact Rice 95 % point by 0.20 s without
systematic part and 0.03 s with one of three times the scatter, never below. Coverage of the 95/95 bound from
one sitting 0.94-0.98, and from three clampings it is 1.5 times the true point where swings alone give 2.3
times (own simulation, systematic part three times the scatter). The lower limit takes the Rice 95 % point.

A direction read by eye widens the scatter across, unless all fall on the same mark, when none shows: the
scatter across is therefore not taken below what reading by eye must leave, and vectors serve only while that is
no worse than knowing nothing of the direction. Decided before any bound is looked at; coverage 0.94 or more
(own simulation). By eye it is used for one sitting, and for one clamping in each. What the eye adds to the scatter
would call sound items bad twice too often, so that by eye the lower limit is that from swings.
"""

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.bounds import FEWEST_CLAMPINGS, FEWEST_SITTINGS_ONE_EACH, Bounds, BoundsTable, Method
from qclog.statistics.bounding.factors import (
    Z_95,
    Floats,
    prediction_factor,
    upper_factor,
    vector_lower_factor_verdict,
    vector_upper_factor,
    vector_upper_factor_verdict,
)
from qclog.statistics.bounding.looking import (
    OWN_DOES_NOT_HOLD,
    OWN_HOLDS,
    SHOP_DOES_NOT_HOLD,
    SHOP_HOLDS,
    risk,
)
from qclog.statistics.bounding.sittings import (
    SHOP_DF_NEEDED,
    ShopScatter,
    Spread,
    own_spread,
    shop_spread,
    vector_lower_centre,
    vector_upper_centre,
)
from qclog.statistics.vectors import Mask, VectorGroups

FEWEST_VECTORS = 2
OWN_VECTORS_FROM_SITTINGS = 3


def vector_bounds_within_sitting(groups: VectorGroups) -> Bounds:
    """Bounds for more clampings on the same occasion, each group taken as one sitting.

    Shown from two clampings on, for a verdict from three. None where directions by eye do not serve; by eye no
    lower limit.
    """
    table = BoundsTable(groups.median_um, groups.clampings)
    _one_group(table, directions_serve(groups), groups, Method.ONE_SITTING)
    return table.bounds()


def vector_bounds_next_clampings(
    groups: VectorGroups, shop: ShopScatter | None = None, limit_um: npt.ArrayLike | None = None
) -> Bounds:
    """Bounds for clampings on other days, by the same rules as from swings.

    shop: ``shop_scatter_vectors``, used while there are fewer than three own sittings. limit_um as in
    ``statistics.bounding.bounds.bounds_next_clampings``: the costly lower limits over sittings are found only where
    they can exceed it.
    """
    limit = np.full(groups.clampings.shape, -np.inf if limit_um is None else limit_um, dtype=np.float64)
    measured = groups.eye_variance == 0.0
    with_shop = np.zeros(groups.clampings.shape, dtype=np.bool_)
    if shop is not None:
        with_shop = (shop.df_between >= SHOP_DF_NEEDED) & (groups.clampings > 0) & measured
        with_shop &= groups.sittings < OWN_VECTORS_FROM_SITTINGS
    table = BoundsTable(groups.median_um, groups.clampings)
    exact = groups.one_each & (groups.sittings >= FEWEST_SITTINGS_ONE_EACH)
    _one_group(table, exact & directions_serve(groups) & ~with_shop, groups, Method.ONE_EACH)
    _sittings(table, (groups.sittings > 1) & measured & ~exact & ~with_shop, groups, None, limit)
    if shop is not None:
        _sittings(table, with_shop, groups, shop, limit)
    return table.bounds()


def directions_serve(groups: VectorGroups) -> Mask:
    """Whether the directions are known well enough for bounds from vectors (G,), from two clampings on.

    By eye, with q the scatter across that reading by eye must leave over the scatter along, T u/2 over s_r:
    q² <= 2 [(k(n, n-1)/k(n, 2(n-1)))² - 1], the bound then being no wider than that from swings.
    """
    n = groups.clampings
    enough = n >= FEWEST_VECTORS
    counted = np.maximum(n, FEWEST_VECTORS)
    along, _ = _axes(groups)
    q_squared = groups.mean_swing_um**2 / 4.0 * groups.eye_variance / along
    largest = 2.0 * ((upper_factor(counted) / vector_upper_factor(counted)) ** 2 - 1.0)
    return np.asarray(enough & (q_squared <= largest))


def centre_and_sd(groups: VectorGroups) -> tuple[Floats, Floats]:
    """Centre c and standard deviation s per axis (G,), µm, of all clampings of a group as one sitting.

    With directions by eye c = sqrt(max(r² - s², s²)), r² the mean square length: errors of the direction
    shorten the mean vector, not the lengths. s is 0 below two clampings.
    """
    moments, by_eye = groups.effective, groups.eye_variance > 0.0
    along, across = _axes(groups)
    sd = np.where(by_eye & (groups.clampings > 1), np.sqrt((along + across) / 2.0), moments.sd_um)
    eye = np.sqrt(np.maximum(_mean_square(groups) - sd**2, sd**2))
    return np.where(by_eye, eye, np.sqrt(moments.length_um**2 + sd**2)), sd


def vectors_or_swings(
    groups: VectorGroups, vectors: Bounds, swings: Bounds, larger_governs: Mask
) -> tuple[Bounds, Mask]:
    """Bounds that count, and where they rest on vectors (G,): on swings where vectors give none.

    groups: those of the vector bounds. larger_governs (G,): groups whose scatter is not alike in all directions
    (``anisotropic``). Of their bounds each upper one is the larger, the lower limit the smaller; where swings
    give none there is none. Where directions were read by eye the lower limit is that from swings.
    """
    from_vectors = vectors.method != Method.NONE

    def chosen(name: str, widen: np.ufunc) -> Floats:
        vector, swing = getattr(vectors, name), getattr(swings, name)
        return np.asarray(np.where(from_vectors, np.where(larger_governs, widen(vector, swing), vector), swing))

    lower = chosen("lower_verdict_um", np.minimum)
    rests_on_vectors = from_vectors & ~(larger_governs & (swings.upper_um > vectors.upper_um))
    return (
        Bounds(
            median_um=np.where(from_vectors, vectors.median_um, swings.median_um),
            p95_um=chosen("p95_um", np.maximum),
            upper_um=chosen("upper_um", np.maximum),
            upper_verdict_um=chosen("upper_verdict_um", np.maximum),
            lower_verdict_um=np.where(groups.eye_variance > 0.0, swings.lower_verdict_um, lower),
            centre_um=np.where(from_vectors, vectors.centre_um, swings.centre_um),
            method=np.where(rests_on_vectors, vectors.method, swings.method),
        ),
        rests_on_vectors,
    )


def _mean_square(groups: VectorGroups) -> Floats:
    moments = groups.effective
    return np.asarray(np.abs(moments.mean) ** 2 + moments.squares / np.maximum(moments.clampings, 1))


def _axes(groups: VectorGroups) -> tuple[Floats, Floats]:
    """Variances (G,) along the mean vector and across it, floored at the rounding and at reading by eye."""
    moments = groups.effective
    length = np.abs(moments.mean)
    unit = np.where(length > 0.0, moments.mean, 1.0) / np.where(length > 0.0, length, 1.0)
    turned = np.real(moments.twist * unit.conj() ** 2)
    df, floor = np.maximum(moments.clampings - 1, 1), moments.floor_um**2
    along = np.maximum((moments.squares + turned) / 2.0 / df, floor)
    across = np.maximum((moments.squares - turned) / 2.0 / df, floor)
    return along, np.maximum(across, _mean_square(groups) * groups.eye_variance)


def _one_group(table: BoundsTable, which: Mask, groups: VectorGroups, method: Method) -> None:
    n, median = groups.clampings[which], groups.median_um[which]
    all_centres, all_sds = centre_and_sd(groups)
    centre, sd = all_centres[which], all_sds[which]
    table.median[which] = median
    table.p95[which] = 2.0 * (centre + prediction_factor(n, 2 * (n - 1)) * sd)
    table.upper[which] = 2.0 * (centre + vector_upper_factor(n) * sd)
    judged = n >= FEWEST_CLAMPINGS
    upper = 2.0 * (centre + vector_upper_factor_verdict(n) * sd)
    table.upper_verdict[which] = np.where(judged, upper, np.inf)
    lower_centre = vector_lower_centre(np.abs(groups.effective.mean[which]), _as_spread(sd**2, n))
    lower = 2.0 * (lower_centre + vector_lower_factor_verdict(n) * sd)
    table.lower_verdict[which] = np.where(judged & (groups.eye_variance[which] == 0.0), lower, -np.inf)
    table.method[which] = method


def _as_spread(variance: Floats, n: npt.NDArray[np.int64]) -> Spread:
    """One sitting: the mean square about the mean vector stands for that between sittings."""
    df, none = 2 * (n - 1), np.zeros(n.shape)
    return Spread(variance, df, none, np.ones_like(df), variance / n, df.astype(np.float64))


def _sittings(table: BoundsTable, which: Mask, groups: VectorGroups, shop: ShopScatter | None, limit: Floats) -> None:
    """Bounds over sittings, from own data or with the figures of the shop."""

    def spread_of(chosen: Mask) -> Spread:
        sums = groups.sums(chosen)
        return own_spread(sums) if shop is None else shop_spread(sums, shop.of(chosen))

    own, holds, does_not_hold = Method.SITTINGS, OWN_HOLDS, OWN_DOES_NOT_HOLD
    if shop is not None:
        own, holds, does_not_hold = Method.SHOP, SHOP_HOLDS, SHOP_DOES_NOT_HOLD
    modulus, n = np.abs(groups.centre), groups.clampings
    spread = spread_of(which)
    centre = vector_upper_centre(modulus[which], spread)
    table.median[which] = groups.median_um[which]
    table.p95[which] = 2.0 * (centre + spread.prediction_margin())
    table.upper[which] = 2.0 * (centre + spread.upper_margin())
    table.upper_verdict[which] = 2.0 * (centre + spread.upper_margin(risk(n[which], holds)))
    table.method[which] = own

    plug_in = 2.0 * (vector_lower_centre(modulus[which], spread) + Z_95 * spread.sd)
    needed = which.copy()
    needed[which] = plug_in > limit[which]
    if needed.any():
        spread = spread_of(needed)
        margin = spread.lower_margin(risk(n[needed], does_not_hold))
        lower = 2.0 * (vector_lower_centre(modulus[needed], spread) + margin)
        table.lower_verdict[needed] = np.maximum(lower, 0.0)
