"""Swings (TIR) grouped by item and sitting: the sums every bound is computed from.

A swing is the length of a vector with normal scatter on both axes, so it follows a Rice distribution. On the
scale y = T^(2/3) it is close to normal whatever the share of the systematic part (Wilson and Hilferty 1931:
the cube root of T², which is exponential without a systematic part; any smooth power with a large one).

An indicator that reads to a step hides scatter below it. Standard deviations are therefore never taken below
that of the rounding alone, step/sqrt(12), carried over to the scale of y (JCGM 100:2008, 4.3.7).
"""

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.bounding.sittings import Ints, ShopScatter, SittingSums, scatter_of_others
from qclog.statistics.grouping import Grouping

POWER = 2.0 / 3.0


@dataclass(frozen=True, slots=True, eq=False)
class SwingGroups:
    """Sums of G groups of swings; every field an array (G,), read-only. Empty groups hold zeros.

    In µm: mean_um, sd_um (0 below two clampings), min_um, max_um, resolution_um.
    On the scale y = T^(2/3), floored at the resolution: centre (unweighted mean of the sitting means), between
    and within (mean squares, 0 without degrees of freedom), pooled_centre and pooled_sd (all clampings as one
    sitting; sd 0 below two). On the linear scale, µm and µm², as read: linear_centre, linear_between,
    linear_within. harmonic_size is m / sum(1/n_i) over the sittings; one_each: no sitting has two clampings.
    """

    clampings: Ints
    sittings: Ints
    mean_um: Floats
    sd_um: Floats
    min_um: Floats
    max_um: Floats
    resolution_um: Floats
    centre: Floats
    between: Floats
    within: Floats
    df_between: Ints
    df_within: Ints
    harmonic_size: Floats
    pooled_centre: Floats
    pooled_sd: Floats
    linear_centre: Floats
    linear_between: Floats
    linear_within: Floats
    one_each: npt.NDArray[np.bool_]

    def __post_init__(self) -> None:
        for field in fields(self):
            getattr(self, field.name).flags.writeable = False

    def sums(self, which: npt.NDArray[np.bool_]) -> SittingSums:
        """Sums over sittings of the groups chosen by a mask (G,), on the scale T^(2/3)."""
        return SittingSums(
            self.centre[which],
            self.between[which],
            self.df_between[which],
            self.within[which],
            self.df_within[which],
            self.harmonic_size[which],
            self.sittings[which],
        )

    def linear_sums(self, which: npt.NDArray[np.bool_]) -> SittingSums:
        """Sums over sittings of the groups chosen by a mask (G,), in µm, floored at the resolution."""
        floor = self.resolution_um[which] ** 2 / 12.0
        size, df_between, df_within = self.harmonic_size[which], self.df_between[which], self.df_within[which]
        return SittingSums(
            self.linear_centre[which],
            np.where(df_between > 0, np.maximum(self.linear_between[which], floor / size), 0.0),
            df_between,
            np.where(df_within > 0, np.maximum(self.linear_within[which], floor), 0.0),
            df_within,
            size,
            self.sittings[which],
        )


def group_swings(
    tir_um: npt.ArrayLike,
    group: npt.ArrayLike,
    sitting: npt.ArrayLike,
    *,
    groups: int,
    resolution_um: npt.ArrayLike,
) -> SwingGroups:
    """Sums of swings by group and sitting.

    tir_um (N,): swings of the clampings, µm, in any order. group (N,): 0 … groups-1. sitting (N,): whole
    numbers; equal labels in one group are one sitting. resolution_um: step of the readings, one or (G,).
    On the scale T^(2/3) a swing of 0 is entered as a quarter of the resolution. Means first, then squared
    deviations from them.

    Raises NotAnswerableError for a swing that is negative or not finite, naming its position from 1, and for
    a resolution that is not above 0.
    """
    tir = np.asarray(tir_um, dtype=np.float64)
    step = np.array(np.broadcast_to(np.asarray(resolution_um, dtype=np.float64), (groups,)))
    _refuse(tir, step)
    by = Grouping(group, sitting, groups)
    n, m = by.clampings, by.sittings
    entered = np.where(tir == 0.0, step[by.group] / 4.0, tir)

    def over_sittings(values: Floats) -> tuple[Floats, Floats, Floats]:
        centre, between, within = by.over_sittings(values)
        return centre, between / np.maximum(m - 1, 1), within / np.maximum(n - m, 1)

    def sd_of(values: Floats, mean: Floats) -> Floats:
        return np.sqrt(by.total((values - mean[by.group]) ** 2) / np.maximum(n - 1, 1))

    y = entered**POWER
    mean_um, pooled_centre = by.mean(tir), by.mean(y)
    centre, between, within = over_sittings(y)
    linear_centre, linear_between, linear_within = over_sittings(tir)
    floor = step / np.sqrt(12.0) * POWER * np.where(n > 0, by.mean(entered), 1.0) ** (-1.0 / 3.0)
    lowest, highest = np.full(groups, np.inf), np.zeros(groups)
    np.minimum.at(lowest, by.group, tir)
    np.maximum.at(highest, by.group, tir)
    return SwingGroups(
        clampings=n,
        sittings=m,
        mean_um=mean_um,
        sd_um=sd_of(tir, mean_um),
        min_um=np.where(n > 0, lowest, 0.0),
        max_um=highest,
        resolution_um=step,
        centre=centre,
        between=np.where(m > 1, np.maximum(between, floor**2 / by.harmonic_size), 0.0),
        within=np.where(n > m, np.maximum(within, floor**2), 0.0),
        df_between=np.maximum(m - 1, 0),
        df_within=n - m,
        harmonic_size=by.harmonic_size,
        pooled_centre=pooled_centre,
        pooled_sd=np.where(n > 1, np.maximum(sd_of(y, pooled_centre), floor), 0.0),
        linear_centre=linear_centre,
        linear_between=linear_between,
        linear_within=linear_within,
        one_each=n == m,
    )


def shop_scatter(groups: SwingGroups, kind_of_group: npt.ArrayLike, lends: npt.ArrayLike = True) -> ShopScatter:
    """Scatter of the other groups of the same kind, for each group; arrays (G,).

    kind_of_group (G,): whole numbers; a kind of its own leaves a group out. Pooled are the other groups that lend
    (lends (G,)) and have at least two sittings, in µm². There is none (df_between 0) with fewer than 8 degrees of
    freedom between sittings (from five items the coverage is only 0.91), or where the group's own scatter within its
    sittings exceeds the pool's by the F test at 5 %. Scatter below that of the rounding at the group's own resolution
    is raised to it.
    """
    return scatter_of_others(
        kind_of_group,
        np.logical_and(groups.sittings > 1, lends),
        groups.linear_between,
        groups.df_between,
        groups.linear_within,
        groups.df_within,
        groups.harmonic_size,
        groups.resolution_um**2 / 12.0,
    )


def _refuse(tir: Floats, step: Floats) -> None:
    bad = np.flatnonzero(~(np.isfinite(tir) & (tir >= 0.0)))
    if bad.size:
        position = int(bad[0])
        raise NotAnswerableError(
            f"clamping {position + 1} of {tir.size}: a swing of {tir[position]:g} µm is no swing.",
            "Swings are finite and not negative; strike the clamping out or correct it.",
        )
    bad = np.flatnonzero(~(np.isfinite(step) & (step > 0.0)))
    if bad.size:
        raise NotAnswerableError(
            f"group {int(bad[0]) + 1} of {step.size}: a resolution of {step[bad[0]]:g} µm is none.",
            "Give the step of the readings, above 0.",
        )
