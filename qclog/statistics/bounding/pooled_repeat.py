"""Bounds for one occasion from two or three clampings, their scatter taken from others clamped the same way.

Soft jaws are bored for a job, clamped a few times and used: how much a clamping moves is the chuck's, and other jaws
bored in it show that. Linear scale (as for figures of the shop, ``statistics.bounding.bounds``): U = T + k s, s² pooled
over the other groups' mean squares within their sittings with the group's own, k the one-sided tolerance factor at
their degrees of freedom (ISO 16269-6). The others count for at most 6, because the scatter differs from one to
another; they are not used where the group's own exceeds theirs by the F test at 5 %.
"""

from dataclasses import fields
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.bounds import Bounds, Mask, Method
from qclog.statistics.bounding.factors import SHOWN_RISK, exceeds_pool, prediction_factor, tolerance_factor
from qclog.statistics.bounding.looking import SHOP_DOES_NOT_HOLD, SHOP_HOLDS, risk
from qclog.statistics.swings import SwingGroups

FEWEST: Final = 2
OWN_DATA_FROM: Final = 4
DF_NEEDED: Final = 8
_DF_CAP: Final = 6


def lean_on_others(
    bounds: Bounds,
    here: SwingGroups,
    groups: SwingGroups,
    kind_of_group: npt.ArrayLike,
    leaning: Mask,
    lends: npt.ArrayLike = True,
) -> Bounds:
    """``bounds`` of one sitting, those of ``leaning`` groups (G,) with two or three clampings here taken anew.

    ``here``: the last sitting of each group alone; ``groups``: all of it. kind_of_group (G,): those of one number that
    lend (lends (G,)) lend each other, and the rest of them, their scatter. Left as they were with fewer than 8 degrees
    of freedom, or where the F test says no (loads scipy).
    """
    kind = np.unique(np.asarray(kind_of_group), return_inverse=True)[1]
    lent = groups.df_within * np.asarray(lends)
    df = np.rint(np.bincount(kind, lent)[kind] - lent).astype(np.int64)
    squares = lent * groups.linear_within
    others = np.bincount(kind, squares)[kind] - squares
    floor = here.resolution_um**2 / 12.0
    pooled = np.maximum(others / np.maximum(df, 1), floor)
    own_df = np.maximum(here.clampings - 1, 0)
    own = np.where(own_df > 0, here.sd_um**2, 0.0)
    which = leaning & (here.clampings >= FEWEST) & (here.clampings < OWN_DATA_FROM) & (df >= DF_NEEDED)
    which &= ~exceeds_pool(own / pooled, own_df, df)
    if not which.any():
        return bounds
    n, centre, counted = here.clampings[which], here.mean_um[which], np.minimum(df[which], _DF_CAP)
    total = counted + own_df[which]
    sd = np.sqrt((counted * pooled[which] + own_df[which] * np.maximum(own, floor)[which]) / total)
    taken = {field.name: getattr(bounds, field.name).copy() for field in fields(bounds)}
    taken["median_um"][which] = taken["centre_um"][which] = centre
    taken["p95_um"][which] = centre + prediction_factor(n, total) * sd
    taken["upper_um"][which] = centre + tolerance_factor(n, total, 1.0 - SHOWN_RISK) * sd
    taken["upper_verdict_um"][which] = centre + tolerance_factor(n, total, 1.0 - risk(n, SHOP_HOLDS)) * sd
    lower = centre + tolerance_factor(n, total, risk(n, SHOP_DOES_NOT_HOLD)) * sd
    taken["lower_verdict_um"][which] = np.maximum(lower, 0.0)
    taken["method"][which] = Method.ONE_SITTING_POOLED
    return Bounds(**taken)
