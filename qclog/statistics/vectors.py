"""Eccentricities of clampings as vectors, grouped by item and sitting: what bounds and estimates start from.

e = x + iy is the once-per-turn part of a turn, µm, in the frame of the spindle; its high spot lies at arg e.
A limit is on the full swing, lobes included, which 2|e| leaves out. Bounds therefore rest on the *effective
vector* (T/2) exp(i arg e), the length from the whole swing T and the direction from the once-per-turn part.
On a lobed form (amplitudes to 1 µm, swings about 5 µm) its 95 % bound covers 0.94-0.99 and that of 2|e| down to
0.14 (own simulation). Estimates and comparisons use the plain vectors.

Scatter is taken as normal and equal on both axes; a standard deviation is per axis, with two degrees of freedom
a vector. Least is that of the rounding of half a swing, step/(2 sqrt 12) (JCGM 100:2008, 4.3.7), or the noise
of the readings. Sources: the test for a mean of zero and that of sphericity, Anderson, An Introduction to Multivariate
Statistical Analysis (from memory). With 2 and f degrees of freedom F has a closed form, P(F > x) = (1 + 2x/f)^(-f/2).
"""

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import SHOWN_RISK, Floats
from qclog.statistics.bounding.sittings import Ints, ShopScatter, SittingSums, scatter_of_others
from qclog.statistics.grouping import Grouping
from qclog.statistics.swings import POWER

Mask = npt.NDArray[np.bool_]
Vectors = npt.NDArray[np.complex128]

POOLED_ISOTROPY_RISK = 0.05
OWN_ISOTROPY_RISK = 0.20
FEWEST_FOR_ISOTROPY = 5


@dataclass(frozen=True, slots=True, eq=False)
class VectorMoments:
    """First and second moments of G groups of vectors, all clampings of a group as one sitting; arrays (G,).

    mean in µm; with d the deviations from it, squares = sum |d|² = Sxx + Syy and twist = sum d² =
    Sxx - Syy + 2i Sxy, in µm². floor_um: least standard deviation on an axis.
    """

    clampings: Ints
    mean: Vectors
    squares: Floats
    twist: Vectors
    floor_um: Floats

    def __post_init__(self) -> None:
        _make_read_only(self)

    @property
    def df(self) -> Ints:
        """Degrees of freedom of the standard deviation, 2(n - 1); 0 without clampings."""
        return np.maximum(2 * (self.clampings - 1), 0)

    @property
    def sd_um(self) -> Floats:
        """Repeat: standard deviation per axis, not below the floor; 0 below two clampings."""
        sd = np.sqrt(self.squares / np.maximum(self.df, 1))
        return np.where(self.df > 0, np.maximum(sd, self.floor_um), 0.0)

    @property
    def length_um(self) -> Floats:
        """Length of the mean vector less what scatter adds to it: sqrt(max(|m|² - 2s²/n, 0))."""
        added = 2.0 * self.sd_um**2 / np.maximum(self.clampings, 1)
        return np.sqrt(np.maximum(np.abs(self.mean) ** 2 - added, 0.0))

    @property
    def circle_um(self) -> Floats:
        """Radius of the 95 % circle for the mean vector, s sqrt(2 F/n), F on (2, 2(n-1)); inf below two."""
        df = np.maximum(self.df, 1)
        quantile = df / 2.0 * (SHOWN_RISK ** (-2.0 / df) - 1.0)
        radius = self.sd_um * np.sqrt(2.0 * quantile / np.maximum(self.clampings, 1))
        return np.where(self.df > 0, radius, np.inf)

    def systematic(self) -> tuple[Floats, Floats]:
        """F and its probability (G,) if there is no systematic part: n|m|²/(2s²) on (2, 2(n-1)); from two on.

        Below two clampings F is 0 and the probability 1.
        """
        sd = np.where(self.df > 0, self.sd_um, np.inf)
        ratio = self.clampings * np.abs(self.mean) ** 2 / (2.0 * sd**2)
        return ratio, _f_tail(ratio, self.df)


@dataclass(frozen=True, slots=True, eq=False)
class VectorGroups:
    """G groups of vectors; every array (G,) and read-only. Empty groups hold zeros.

    plain: moments of the eccentricities; effective: those of the effective vectors. Of the effective vectors
    over sittings, µm and µm² per axis, as read: centre (unweighted mean of the sitting means), between and within
    (mean squares, 0 without degrees of freedom; two degrees of freedom a vector). harmonic_size is m / sum(1/n_i);
    one_each: no sitting has two clampings. mean_swing_um: mean full swing; median_um: half of the swings lie
    below (mean of the sitting means of T^(2/3), raised back). eye_variance: of the directions read by eye, rad²;
    0 where all were read at known angles.
    """

    clampings: Ints
    sittings: Ints
    plain: VectorMoments
    effective: VectorMoments
    centre: Vectors
    between: Floats
    within: Floats
    df_between: Ints
    df_within: Ints
    harmonic_size: Floats
    mean_swing_um: Floats
    median_um: Floats
    eye_variance: Floats
    one_each: Mask

    def __post_init__(self) -> None:
        _make_read_only(self)

    def sums(self, which: Mask) -> SittingSums:
        """Sums over sittings of the groups chosen by a mask (G,), mean squares floored."""
        floor = self.effective.floor_um[which] ** 2
        size, df_between, df_within = self.harmonic_size[which], self.df_between[which], self.df_within[which]
        return SittingSums(
            self.centre[which],
            np.where(df_between > 0, np.maximum(self.between[which], floor / size), 0.0),
            df_between,
            np.where(df_within > 0, np.maximum(self.within[which], floor), 0.0),
            df_within,
            size,
            self.sittings[which],
        )


def group_vectors(
    eccentricity: npt.ArrayLike,
    full_swing_um: npt.ArrayLike,
    group: npt.ArrayLike,
    sitting: npt.ArrayLike,
    *,
    groups: int,
    resolution_um: npt.ArrayLike,
    reading_noise_um: npt.ArrayLike = 0.0,
    eye_within_rad: npt.ArrayLike = 0.0,
) -> VectorGroups:
    """Sums of vectors by group and sitting.

    eccentricity (N,): complex, µm. full_swing_um (N,): swing of the whole turn, watched or fitted, µm. group
    (N,): 0 … groups-1. sitting (N,): whole numbers; equal labels in one group are one sitting. resolution_um:
    step of the readings, one or (G,). reading_noise_um: standard deviation per axis that the readings of a turn
    leave in e, one or (G,): noise x sqrt(2/N) for N readings, 0.2 of the step for four quarter turns.
    eye_within_rad: half width of a direction read by eye, one or (N,); 0 where read at known angles. By the
    clock it is 15 degrees. The flat top of the swing adds its own: an indicator of step d rests at its highest
    mark over a stretch of variance 2d/(3T), at most pi²/3, that of a direction not known at all.

    Raises NotAnswerableError, naming the position from 1, for an eccentricity, swing or half width that is not
    finite, for one of the latter that is negative, and for a resolution that is not above 0.
    """
    e, swing = np.asarray(eccentricity, dtype=np.complex128), np.asarray(full_swing_um, dtype=np.float64)
    eye = np.broadcast_to(np.asarray(eye_within_rad, dtype=np.float64), e.shape)
    step = np.broadcast_to(np.asarray(resolution_um, dtype=np.float64), (groups,))
    noise = np.broadcast_to(np.asarray(reading_noise_um, dtype=np.float64), (groups,))
    _refuse("clamping", "an eccentricity", "µm", e, np.isfinite(e))
    _refuse("clamping", "a full swing", "µm", swing, np.isfinite(swing) & (swing >= 0.0))
    _refuse("clamping", "a direction known within", "rad", eye, np.isfinite(eye) & (eye >= 0.0))
    _refuse("group", "a resolution", "µm", step, np.isfinite(step) & (step > 0.0))
    _refuse("group", "a reading noise", "µm", noise, np.isfinite(noise) & (noise >= 0.0))

    by = Grouping(group, sitting, groups)
    floor = np.maximum(step / (2.0 * np.sqrt(12.0)), noise)
    effective = swing / 2.0 * np.exp(1j * np.angle(e))

    def moments(vectors: Vectors) -> VectorMoments:
        mean = by.mean(vectors)
        away = vectors - mean[by.group]
        return VectorMoments(by.clampings, mean, by.total(np.abs(away) ** 2), by.total(away**2), floor)

    centre, between, within = by.over_sittings(effective)
    df_between = np.maximum(2 * (by.sittings - 1), 0)
    df_within = 2 * (by.clampings - by.sittings)
    mean_swing = by.mean(swing)
    flat_top = 2.0 * step / (3.0 * np.maximum(mean_swing, 2.0 * step / np.pi**2))
    return VectorGroups(
        clampings=by.clampings,
        sittings=by.sittings,
        plain=moments(e),
        effective=moments(effective),
        centre=centre,
        between=between / np.maximum(df_between, 1),
        within=within / np.maximum(df_within, 1),
        df_between=df_between,
        df_within=df_within,
        harmonic_size=by.harmonic_size,
        mean_swing_um=mean_swing,
        median_um=by.over_sittings(swing**POWER)[0] ** (1.0 / POWER),
        eye_variance=by.mean(eye**2) / 3.0 + by.mean(1.0 * (eye > 0.0)) * flat_top,
        one_each=by.clampings == by.sittings,
    )


def shop_scatter_vectors(
    groups: VectorGroups, kind_of_group: npt.ArrayLike, lends: npt.ArrayLike = True
) -> ShopScatter:
    """Scatter of the other groups of the same kind, for each group; arrays (G,), µm² per axis.

    kind_of_group (G,): whole numbers; a kind of its own leaves a group out. Pooled are the other groups that lend
    (lends (G,)), with at least two sittings and no direction read by eye. Eight degrees of freedom between sittings are
    needed: four items in two sittings, or more. The rest as for swings
    (``qclog.statistics.bounding.sittings.scatter_of_others``).
    """
    return scatter_of_others(
        kind_of_group,
        np.logical_and((groups.sittings > 1) & (groups.eye_variance == 0.0), lends),
        groups.between,
        groups.df_between,
        groups.within,
        groups.df_within,
        groups.harmonic_size,
        groups.effective.floor_um**2,
    )


def anisotropic(groups: VectorGroups, setup_of_group: npt.ArrayLike, witness: npt.ArrayLike = True) -> Mask:
    """Groups (G,) of five clampings or more whose scatter is not shown to be alike in all directions.

    A group is pooled with those of the same setup and position that bear witness (setup_of_group (G,): whole
    numbers; witness (G,)), whose vectors share one frame; the sign is then a probability below 0.05; where a group
    stands alone, its own below 0.20, since the test is weak with few clampings. Directions read by eye scatter more
    across than along and are left out.
    """
    setup = np.unique(np.asarray(setup_of_group), return_inverse=True)[1]
    moments, judged = groups.effective, groups.eye_variance == 0.0
    df = np.where(judged, np.maximum(groups.clampings - 1, 0), 0)
    witnesses = np.logical_and(judged, witness)

    def pooled(values: npt.NDArray[np.number]) -> Floats:
        return np.asarray(np.bincount(setup, values * witnesses)[setup] + values * (judged & ~witnesses))

    twist = pooled(moments.twist.real) + 1j * pooled(moments.twist.imag)
    pooled_df = np.rint(pooled(df)).astype(np.int64)
    least = pooled(moments.df * moments.floor_um**2)
    probability = isotropy(pooled(moments.squares), twist, pooled_df, least)[1]
    border = np.where(pooled_df > df, POOLED_ISOTROPY_RISK, OWN_ISOTROPY_RISK)
    return np.asarray(judged & (groups.clampings >= FEWEST_FOR_ISOTROPY) & (probability < border))


def isotropy(squares: Floats, twist: Vectors, df: Ints, least: Floats) -> tuple[Floats, Floats]:
    """W = 4 (Sxx Syy - Sxy²)/(Sxx + Syy)² and its exact probability W^((df-1)/2) if both axes scatter alike; all (G,).

    squares = Sxx + Syy and twist = Sxx - Syy + 2i Sxy, µm², with df + 1 vectors. 1 and 1 below three of them, and where
    the squares are below the least that readings leave, which shows no direction.
    """
    known = (df > 1) & (squares > 0.0) & (squares >= least)
    ratio = np.minimum(np.abs(twist) / np.where(known, squares, 1.0), 1.0)
    w = np.where(known, 1.0 - ratio**2, 1.0)
    return w, np.asarray(w ** (np.maximum(df - 1, 0) / 2.0))


def _f_tail(ratio: Floats, df: Ints) -> Floats:
    """Probability that F on (2, df) exceeds the ratio; 1 without degrees of freedom."""
    return np.asarray((1.0 + 2.0 * ratio / np.maximum(df, 1)) ** (-df / 2.0))


def _refuse(what: str, figure: str, unit: str, values: npt.NDArray[np.inexact], good: Mask) -> None:
    bad = np.flatnonzero(~good)
    if bad.size:
        value = values[bad[0]]
        raise NotAnswerableError(
            f"{what} {int(bad[0]) + 1} of {values.size}: {figure} of {value:g} {unit} is none.",
            "These figures are finite and not negative, a resolution is above 0; strike it out or correct it.",
        )


def _make_read_only(record: "VectorMoments | VectorGroups") -> None:
    for field in fields(record):
        value = getattr(record, field.name)
        if isinstance(value, np.ndarray):
            value.flags.writeable = False
