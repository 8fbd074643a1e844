"""Clampings over several sittings: how far a clamping on another day may lie from the centre.

Model: value = centre + sitting + clamping, both terms normal with unknown variances. ``between`` is the
mean square of the sitting means about their unweighted mean, ``within`` that of the clampings about their
sitting's mean. The scatter of a clamping in a new sitting, tau² = M + R, is a sum of two positive terms (M from
between, R from within the sittings), so that nothing has to be cut off at zero. Pooling all clampings "because
no sitting effect shows" is wrong: the test for it is blind with few sittings.

The same formulas serve swings (real values, on the scale T^(2/3) for own data, linear with shop figures)
and eccentricity vectors (complex values; every degree of freedom counts twice, mean squares are per axis).

Sources (from memory): unweighted means, Thomas and Hultquist 1978, Annals of Statistics 6; upper limit of a sum
of variances, Graybill and Wang 1980, JASA 75; joining it to the centre, Zou and Donner 2008; Satterthwaite
1946; overview, Krishnamoorthy and Mathew 2009, Statistical Tolerance Regions. Coverage from own simulation.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import (
    SHOWN_RISK,
    Z_95,
    Floats,
    exceeds_pool,
    rice_95,
    t_95,
    t_quantile,
    tolerance_factor,
    variance_excess,
)

Ints = npt.NDArray[np.int64]

SHOP_DF_NEEDED = 8
_SHOP_DF_CAP = 6


@dataclass(frozen=True, slots=True, eq=False)
class SittingSums:
    """What the sittings of one group amount to; arrays of one shape, or all scalars.

    centre: unweighted mean of the sitting means. between, within: mean squares, 0 where their degrees of
    freedom are 0. harmonic_size: m / sum(1/n_i), the size an unequal sitting counts for. sittings: m.
    """

    centre: Floats | npt.NDArray[np.complex128]
    between: Floats
    df_between: Ints
    within: Floats
    df_within: Ints
    harmonic_size: Floats
    sittings: Ints


@dataclass(frozen=True, slots=True, eq=False)
class ShopScatter:
    """Mean squares pooled over other items, arrays of one shape; df_between 0 where there are none.

    between M_b, ratio h = mean of 1/harmonic size over its degrees of freedom, within S_e². Swings: µm²;
    vectors: µm² per axis, degrees of freedom counted twice.
    """

    between: Floats
    df_between: Ints
    ratio: Floats
    within: Floats
    df_within: Ints

    def of(self, which: npt.NDArray[np.bool_]) -> "ShopScatter":
        """Figures for the groups chosen by a mask."""
        return ShopScatter(
            self.between[which],
            self.df_between[which],
            self.ratio[which],
            self.within[which],
            self.df_within[which],
        )


def sitting_sums(values: npt.NDArray[np.float64] | npt.NDArray[np.complex128], sitting: Ints) -> SittingSums:
    """Sums of one group of values (N,), real or complex, with a sitting label each (N,)."""
    _, cell = np.unique(sitting, return_inverse=True)
    size = np.bincount(cell)
    mean = np.array([values[cell == i].mean() for i in range(size.size)])
    axes = 2 if np.iscomplexobj(values) else 1
    df_between, df_within = axes * (size.size - 1), axes * (values.size - size.size)
    centre = mean.mean()
    return SittingSums(
        centre=np.asarray(centre),
        between=np.asarray(np.sum(np.abs(mean - centre) ** 2) / max(df_between, 1)),
        df_between=np.asarray(df_between),
        within=np.asarray(np.sum(np.abs(values - mean[cell]) ** 2) / max(df_within, 1)),
        df_within=np.asarray(df_within),
        harmonic_size=np.asarray(size.size / np.sum(1.0 / size)),
        sittings=np.asarray(size.size),
    )


def scatter_of_others(
    kind_of_group: npt.ArrayLike,
    pooled: npt.NDArray[np.bool_],
    between: Floats,
    df_between: Ints,
    within: Floats,
    df_within: Ints,
    harmonic_size: Floats,
    floor: Floats,
) -> ShopScatter:
    """Scatter of the other groups of the same kind, for each group; all arrays (G,).

    Mean squares as read, their degrees of freedom, the harmonic size of the sittings and the least mean square
    (of the rounding) of each group; ``pooled`` says which groups lend their scatter: the others of their kind borrow
    only, and so few add nothing at all to the sums, which are the same to the last digit whoever else is there.
    None (df_between 0) below 8 degrees of freedom between sittings, or where the group's own scatter within its
    sittings exceeds the pool's by the F test at 5 %.
    """
    kind = np.unique(np.asarray(kind_of_group), return_inverse=True)[1]

    def of_others(values: npt.NDArray[np.number]) -> Floats:
        return np.asarray(np.bincount(kind, values)[kind] - values, dtype=np.float64)

    own_df_within = df_within
    df_between, df_within = df_between * pooled, df_within * pooled
    other_between = np.rint(of_others(df_between)).astype(np.int64)
    other_within = np.rint(of_others(df_within)).astype(np.int64)
    some_between = np.maximum(other_between, 1)
    ratio = of_others(df_between / harmonic_size) / some_between
    pool_within = of_others(df_within * within) / np.maximum(other_within, 1)
    pool_within = np.where(other_within > 0, np.maximum(pool_within, floor), 0.0)
    pool_between = np.maximum(of_others(df_between * between) / some_between, floor * ratio)

    own_ratio = within / np.where(pool_within > 0.0, pool_within, 1.0)
    enough = other_between >= SHOP_DF_NEEDED
    usable = enough & ~exceeds_pool(own_ratio, own_df_within * enough, other_within)
    return ShopScatter(
        between=np.where(usable, pool_between, 0.0),
        df_between=np.where(usable, other_between, 0),
        ratio=np.where(usable, ratio, 1.0),
        within=np.where(usable, pool_within, 0.0),
        df_within=np.where(usable, other_within, 0),
    )


def satterthwaite(first: Floats, df_first: Ints, second: Floats, df_second: Ints) -> Floats:
    """Degrees of freedom of a sum of two independent mean squares (JCGM 100:2008, G.4.1)."""
    return np.asarray((first + second) ** 2 / (first**2 / df_first + second**2 / df_second))


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Scatter tau² = between + rest of a clamping in a new sitting, and the variance of the centre.

    Degrees of freedom are at least 1; a rest of 0 contributes nothing whatever they are.
    """

    between: Floats
    df_between: Ints
    rest: Floats
    df_rest: Ints
    centre_variance: Floats
    prediction_df: Floats

    @property
    def sd(self) -> Floats:
        """tau."""
        return np.sqrt(self.between + self.rest)

    @property
    def prediction_sd(self) -> Floats:
        """Standard deviation of the next clamping about the centre found."""
        return np.sqrt(self.between + self.rest + self.centre_variance)

    def prediction_margin(self) -> Floats:
        """What to add to the centre for the bound the next clamping stays below with probability 95 %."""
        return t_95(self.prediction_df) * self.prediction_sd

    def upper_margin(self, risk: npt.ArrayLike = SHOWN_RISK, z: float = Z_95) -> Floats:
        """What to add to the centre for the upper limit of the 95 % point, at confidence 1 - risk.

        z tau + w, w² = t² v + z² (tau_U - tau)², tau_U² = tau² + sqrt[(A_b M)² + (A_e R)²]. ``z``: the normal
        quantile of another content, or of the middle 95 %.
        """
        risk = np.asarray(risk)
        excess = np.hypot(
            variance_excess(self.df_between, risk) * self.between,
            variance_excess(self.df_rest, risk) * self.rest,
        )
        upper_sd = np.sqrt(self.between + self.rest + excess)
        from_centre = t_quantile(self.df_between, risk) * np.sqrt(self.centre_variance)
        return np.asarray(z * self.sd + np.hypot(from_centre, z * (upper_sd - self.sd)))

    def lower_margin(self, risk: npt.ArrayLike) -> Floats:
        """What to add to the centre for the lower limit of the 95 % point, at confidence 1 - risk (scipy).

        k tau, k the tolerance factor at Satterthwaite's degrees of freedom and effective size tau²/v. It is
        always below the plug-in z tau: P(t' <= delta) >= P(Z <= 0) P(chi2_f >= f) >= 0.15 > risk.
        """
        df = satterthwaite(self.between, self.df_between, self.rest, self.df_rest)
        effective_size = (self.between + self.rest) / self.centre_variance
        return tolerance_factor(effective_size, df, risk) * self.sd


def own_spread(own: SittingSums) -> Spread:
    """Scatter from the group's own sittings; two sittings or more."""
    rest = (1.0 - 1.0 / own.harmonic_size) * own.within
    df_rest = np.maximum(own.df_within, 1)
    centre_variance = own.between / own.sittings
    prediction_df = satterthwaite(own.between + centre_variance, own.df_between, rest, df_rest)
    return Spread(own.between, own.df_between, rest, df_rest, centre_variance, prediction_df)


def shop_spread(own: SittingSums, shop: ShopScatter) -> Spread:
    """Scatter with the figures of the shop, for one sitting or more of the group itself.

    The shop's mean squares count for at most 6 degrees of freedom each, because the scatter differs from item
    to item (with the cap items that differ by 30 % are covered to 0.92-0.97, without it to 0.90); the group's
    own, brought to the shop's mean sitting size, are added to them.
    """
    pool_df = np.minimum(shop.df_within, _SHOP_DF_CAP)
    df_rest = pool_df + own.df_within
    within = (pool_df * shop.within + own.df_within * own.within) / np.maximum(df_rest, 1)

    own_between = np.maximum(own.between + (shop.ratio - 1.0 / own.harmonic_size) * within, 0.0)
    pool_df = np.minimum(shop.df_between, _SHOP_DF_CAP)
    df_between = pool_df + own.df_between
    between = (pool_df * shop.between + own.df_between * own_between) / df_between

    rest = (1.0 - shop.ratio) * within
    df_rest = np.maximum(df_rest, 1)
    of_sitting_mean = between + (1.0 / own.harmonic_size - shop.ratio) * within
    centre_variance = np.maximum(of_sitting_mean, within / own.harmonic_size) / own.sittings
    return Spread(
        between, df_between, rest, df_rest, centre_variance, satterthwaite(between, df_between, rest, df_rest)
    )


def vector_upper_centre(modulus: Floats, spread: Spread) -> Floats:
    """Centre for upper and prediction bounds from vectors: sqrt(max(|m|² - 2v, 0) + tau²); bounds are doubled."""
    return np.asarray(np.sqrt(np.maximum(modulus**2 - 2.0 * spread.centre_variance, 0.0) + spread.sd**2))


def vector_lower_centre(modulus: Floats, spread: Spread) -> Floats:
    """Centre for the lower limit from vectors: tau (g - z), g the Rice 95 % point at the ratio found.

    That of ``vector_upper_centre`` is high for a small modulus, and would call sound items bad.
    """
    kappa = np.sqrt(np.maximum(modulus**2 - 2.0 * spread.centre_variance, 0.0)) / spread.sd
    return np.asarray(spread.sd * (rice_95(kappa) - Z_95))
