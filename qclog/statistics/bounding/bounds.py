"""Bounds on the swing of further clampings, from swings alone.

Two kinds of upper bound, never to be mixed: the *prediction* bound the next clamping stays below with
probability 95 %, and the *tolerance* bound that with 95 % confidence at least 95 % of all clampings stay
below (ISO 16269-6). Verdicts use the tolerance bound at the confidence that looking after every clamping
asks for (``statistics.bounding.looking``). On the scale y = T^(2/3) the bounds of one sitting cover 0.94-0.98 for any
share of the systematic part (own simulation); over sittings see ``qclog.statistics.bounding.sittings``.

Which method serves a group is decided by what was measured, before any bound is looked at.
"""

from dataclasses import dataclass, fields
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import (
    Z_95,
    Floats,
    lower_factor_verdict,
    prediction_factor,
    upper_factor,
    upper_factor_verdict,
)
from qclog.statistics.bounding.looking import (
    OWN_DOES_NOT_HOLD,
    OWN_HOLDS,
    SHOP_DOES_NOT_HOLD,
    SHOP_HOLDS,
    risk,
)
from qclog.statistics.bounding.sittings import SHOP_DF_NEEDED, ShopScatter, own_spread, shop_spread
from qclog.statistics.swings import POWER, SwingGroups

Mask = npt.NDArray[np.bool_]

FEWEST_CLAMPINGS = 3
FEWEST_SITTINGS_ONE_EACH = 3
OWN_DATA_FROM_SITTINGS = 4
SMALL_CENTRE = 1.6
"""Below this many standard deviations the linear lower limit is too high (0.2 sd without systematic part)."""


class Method(IntEnum):
    """How a bound was found."""

    NONE = 0
    ONE_SITTING = 1
    SITTINGS = 2
    ONE_EACH = 3
    SHOP = 4
    ONE_SITTING_POOLED = 5


@dataclass(frozen=True, slots=True, eq=False)
class Bounds:
    """Bounds of G groups, µm; every field an array (G,), read-only.

    median_um, p95_um: half, 95 % of the next clampings stay below. upper_um: the 95/95 bound that is shown.
    upper_verdict_um, lower_verdict_um: limits of the 95 % point at the confidence of the verdict. centre_um: the
    middle value, to which an uncertainty of the gauge in proportion to the swing applies. Not available: inf,
    for the lower limit -inf. method: values of ``Method``.
    """

    median_um: Floats
    p95_um: Floats
    upper_um: Floats
    upper_verdict_um: Floats
    lower_verdict_um: Floats
    centre_um: Floats
    method: npt.NDArray[np.int8]

    def __post_init__(self) -> None:
        for field in fields(self):
            getattr(self, field.name).flags.writeable = False


def bounds_within_sitting(groups: SwingGroups) -> Bounds:
    """Bounds for more clampings on the same occasion, each group taken as one sitting; from 3 clampings on.

    U = (mean + k sd)^(3/2) on the scale T^(2/3), k at n-1 degrees of freedom.
    """
    table = BoundsTable(_swing(groups.pooled_centre), groups.clampings)
    _one_group(table, groups.clampings >= FEWEST_CLAMPINGS, groups, groups.clampings, Method.ONE_SITTING)
    return table.bounds()


def bounds_next_clampings(
    groups: SwingGroups, shop: ShopScatter | None = None, limit_um: npt.ArrayLike | None = None
) -> Bounds:
    """Bounds for clampings on other days.

    From own sittings (two or more), or with the figures of the shop (``shop_scatter``) while there are fewer
    than four: the own bound is honest then but 2 to 7 times too wide. One sitting without shop figures gives
    none. One clamping in each of three sittings or more takes the exact factors of one group.

    limit_um (G,) or one, NaN for no limit: the costly lower limits are then found only where they can exceed
    the limit, that is where the plug-in 95 % point does; elsewhere they are left at -inf. Without it all are
    found.
    """
    limit = np.full(groups.clampings.shape, -np.inf if limit_um is None else limit_um, dtype=np.float64)
    with_shop = np.zeros(groups.clampings.shape, dtype=np.bool_)
    if shop is not None:
        with_shop = (shop.df_between >= SHOP_DF_NEEDED) & (groups.clampings > 0)
        with_shop &= groups.sittings < OWN_DATA_FROM_SITTINGS
    table = BoundsTable(_swing(groups.centre), groups.clampings)
    exact = groups.one_each & (groups.sittings >= FEWEST_SITTINGS_ONE_EACH)
    _one_group(table, exact & ~with_shop, groups, groups.sittings, Method.ONE_EACH)
    _own_sittings(table, (groups.sittings > 1) & ~exact & ~with_shop, groups, limit)
    if shop is not None:
        _with_shop(table, with_shop, groups, shop, limit)
    return table.bounds()


def exceedance(groups: SwingGroups, limit_um: npt.ArrayLike) -> Floats:
    """Probability (G,) that the next clamping exceeds a limit, from own data (loads scipy).

    t distribution about the predicted value: of another day from two sittings on, else of the same sitting.
    1, nothing being known, below three clampings or two sittings. limit_um: (G,) or one, NaN for no limit (0).
    """
    from scipy.special import stdtr

    limit = np.broadcast_to(np.asarray(limit_um, dtype=np.float64), groups.clampings.shape)
    limit = np.where(np.isnan(limit), np.inf, limit)
    probability = np.ones(groups.clampings.shape)
    one = (groups.sittings == 1) & (groups.clampings >= FEWEST_CLAMPINGS)
    n = groups.clampings[one]
    sd = groups.pooled_sd[one] * np.sqrt(1.0 + 1.0 / n)
    probability[one] = stdtr(n - 1, (groups.pooled_centre[one] - limit[one] ** POWER) / sd)
    several = groups.sittings > 1
    spread = own_spread(groups.sums(several))
    distance = groups.centre[several] - limit[several] ** POWER
    probability[several] = stdtr(spread.prediction_df, distance / spread.prediction_sd)
    return probability


def verdict_confidence(clampings: npt.ArrayLike, method: npt.ArrayLike, *, holds: npt.ArrayLike) -> Floats:
    """The confidence that verdicts on so many clampings ask for, see ``statistics.bounding.looking``; broadcasts."""
    shop = np.asarray(method) == Method.SHOP
    for_holds = np.where(shop, risk(clampings, SHOP_HOLDS), risk(clampings, OWN_HOLDS))
    for_not = np.where(shop, risk(clampings, SHOP_DOES_NOT_HOLD), risk(clampings, OWN_DOES_NOT_HOLD))
    return np.asarray(1.0 - np.where(holds, for_holds, for_not))


class BoundsTable:
    """Bounds while the methods, one after the other, fill in their groups; none at first."""

    def __init__(self, centre_um: Floats, clampings: npt.NDArray[np.int64]) -> None:
        shape = clampings.shape
        self.median, self.p95, self.upper, self.upper_verdict = np.full((4, *shape), np.inf)
        self.lower_verdict = np.full(shape, -np.inf)
        self.centre = np.where(clampings > 0, centre_um, np.inf)
        self.method = np.full(shape, Method.NONE, dtype=np.int8)

    def bounds(self) -> Bounds:
        return Bounds(
            self.median,
            self.p95,
            self.upper,
            self.upper_verdict,
            self.lower_verdict,
            self.centre,
            self.method,
        )


def _swing(y: Floats) -> Floats:
    return np.asarray(np.maximum(y, 0.0) ** (1.0 / POWER))


def _one_group(
    table: BoundsTable, which: Mask, groups: SwingGroups, sizes: npt.NDArray[np.int64], method: Method
) -> None:
    n, centre, sd = sizes[which], groups.pooled_centre[which], groups.pooled_sd[which]
    table.median[which] = _swing(centre)
    table.p95[which] = _swing(centre + prediction_factor(n, n - 1) * sd)
    table.upper[which] = _swing(centre + upper_factor(n) * sd)
    table.upper_verdict[which] = _swing(centre + upper_factor_verdict(n) * sd)
    table.lower_verdict[which] = _swing(centre + lower_factor_verdict(n) * sd)
    table.method[which] = method


def _own_sittings(table: BoundsTable, which: Mask, groups: SwingGroups, limit: Floats) -> None:
    centre, spread = groups.centre[which], own_spread(groups.sums(which))
    table.median[which] = _swing(centre)
    table.p95[which] = _swing(centre + spread.prediction_margin())
    table.upper[which] = _swing(centre + spread.upper_margin())
    holds = risk(groups.clampings[which], OWN_HOLDS)
    table.upper_verdict[which] = _swing(centre + spread.upper_margin(holds))
    table.lower_verdict[which] = _own_lower(groups, which, limit)
    table.method[which] = Method.SITTINGS


def _own_lower(groups: SwingGroups, which: Mask, limit: Floats) -> Floats:
    """Lower limits (as many as chosen) from own sittings, -inf where they cannot exceed the limit."""
    plug_in = groups.centre[which] + Z_95 * own_spread(groups.sums(which)).sd
    chosen = _swing(plug_in) > limit[which]
    lower = np.full(chosen.shape, -np.inf)
    needed = np.zeros_like(which)
    needed[which] = chosen
    if needed.any():
        tail = risk(groups.clampings[needed], OWN_DOES_NOT_HOLD)
        lower[chosen] = _swing(groups.centre[needed] + own_spread(groups.sums(needed)).lower_margin(tail))
    return lower


def _with_shop(table: BoundsTable, which: Mask, groups: SwingGroups, shop: ShopScatter, limit: Floats) -> None:
    """Bounds on the linear scale. A small centre takes its lower limit from own sittings, or has none yet."""
    own = groups.linear_sums(which)
    centre, n = groups.linear_centre[which], groups.clampings[which]
    spread = shop_spread(own, shop.of(which))
    table.median[which] = table.centre[which] = centre
    table.p95[which] = centre + spread.prediction_margin()
    table.upper[which] = centre + spread.upper_margin()
    table.upper_verdict[which] = centre + spread.upper_margin(risk(n, SHOP_HOLDS))
    table.method[which] = Method.SHOP

    small = centre < SMALL_CENTRE * spread.sd
    linear, own_scale = which.copy(), which & (groups.sittings > 1)
    linear[which] = ~small & (centre + Z_95 * spread.sd > limit[which])
    own_scale[which] &= small
    if linear.any():
        spread = shop_spread(groups.linear_sums(linear), shop.of(linear))
        margin = spread.lower_margin(risk(groups.clampings[linear], SHOP_DOES_NOT_HOLD))
        table.lower_verdict[linear] = np.maximum(groups.linear_centre[linear] + margin, 0.0)
    table.lower_verdict[own_scale] = _own_lower(groups, own_scale, limit)
