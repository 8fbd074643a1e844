"""The next clampings at one place: how likely the first is inside a limit, and what gripping again mends.

A day moves the work by a part that is the same for all its clampings: the systematic part and what is not known of
it, the day's own, and in a forecast what was never measured. Gripping again mends only the scatter of re-clamping
about it. ``NextGrips`` is a mixture: what that common part may be (and how large the scatter may be), each with its
weight, and for each the distribution of single clampings. In a given mixture part the number of grips to the first
good one is geometric; over the mixture it is not, since bad days stay bad.

For the next clamping alone the mixture gives the probability of Student's t with the degrees of freedom of the
scatter, from swings on the scale T^(2/3) (``qclog.statistics.swings``), from vectors that of averaged noncentral
chi-square (``qclog.statistics.length_interval``). scipy is loaded when called. Sources: the geometric distribution
and the mixture are any textbook's; sums of vectors whose directions are not known, own work, checked by simulation.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.factors import Floats
from qclog.statistics.sittings import ShopScatter, SittingSums, own_spread, shop_spread, sitting_sums
from qclog.statistics.swings import POWER

Vectors = npt.NDArray[np.complex128]

TRIES = 3
"""Grips made before one stops and looks: the first and two more."""
SHOP_DF_CAP = 6
_SCALES, _COMMONS = 40, 32
_FORECAST_SCALES, _FORECAST_COMMONS = 8, 8
_PHASES = {1: 24, 2: 12}
_BISECTIONS = 26
_FAR = 50.0


class Scale(IntEnum):
    """On what single clampings are normal: T^(2/3), the swing itself, or both axes of the eccentricity."""

    POWER = 0
    SWING = 1
    AXES = 2


@dataclass(frozen=True, slots=True)
class Regripped:
    """Gripped again while it reads over, ``TRIES`` times in all: the chance that one is inside, and how many grips
    that takes on average."""

    inside: float
    grips: float


@dataclass(frozen=True, slots=True, eq=False)
class NextGrips:
    """The next clampings at one place; arrays (k,), the parts of the mixture.

    ``centre``: where the clampings of a day lie, ``sd``: their scatter about it, both on ``scale`` (µm; of the
    eccentricity with AXES). ``weight`` adds up to 1. ``repeat_known``: the scatter of re-clamping within a day is
    known apart from that between days; else ``sd`` is all of it, and what gripping again mends cannot be told.
    """

    scale: Scale
    centre: Floats
    sd: Floats
    weight: Floats
    repeat_known: bool

    def __post_init__(self) -> None:
        for array in (self.centre, self.sd, self.weight):
            array.flags.writeable = False

    def inside(self, limit_um: float) -> Floats:
        """Probability (k,) that a clamping swings no more than the limit, in each part of the mixture."""
        from scipy.special import chndtr, ndtr

        if self.scale is Scale.AXES:
            half = max(limit_um, 0.0) / 2.0
            return np.asarray(chndtr((half / self.sd) ** 2, 2.0, (self.centre / self.sd) ** 2))
        limit = max(limit_um, 0.0) ** POWER if self.scale is Scale.POWER else limit_um
        return np.asarray(ndtr((limit - self.centre) / self.sd))

    def chance(self, limit_um: float) -> float:
        """Chance that the next clamping swings no more than the limit."""
        return float(self.weight @ self.inside(limit_um))

    def regripped(self, limit_um: float) -> Regripped | None:
        """What gripping again makes of it; None where the repeat is not known."""
        if not self.repeat_known:
            return None
        over = 1.0 - self.inside(limit_um)
        grips = sum(over**k for k in range(TRIES))
        return Regripped(float(1.0 - self.weight @ over**TRIES), float(self.weight @ np.asarray(grips)))

    def under(self, probability: float) -> float:
        """The swing, µm, that the next clamping stays under with this probability."""
        low, high = 0.0, 1.0
        while self.chance(high) < probability and high < 1e9:
            low, high = high, 2.0 * high
        for _ in range(_BISECTIONS):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.chance(middle) < probability else (low, middle)
        return high


def grips_of_swings(
    swings_um: npt.ArrayLike, sitting: npt.ArrayLike, *, step_um: float, shop: ShopScatter | None = None
) -> NextGrips:
    """From the swings (n,) of one place and the sitting of each (n,), whole numbers.

    ``step_um``: of the readings; ``shop``: scalars of ``swings.shop_scatter``, on the linear scale, or None. From
    several sittings: of other days; from one without ``shop``: of that sitting, from two clampings on. Raises
    NotAnswerableError below.
    """
    swings = np.asarray(swings_um, dtype=np.float64)
    if shop is not None:
        return _normal(Scale.SWING, swings, sitting, step_um / np.sqrt(12.0), shop)
    entered = np.where(swings == 0.0, step_um / 4.0, swings)
    floor = step_um / np.sqrt(12.0) * POWER * entered.mean() ** (POWER / 2.0 - POWER)
    return _normal(Scale.POWER, entered**POWER, sitting, float(floor), None)


def grips_of_vectors(
    vectors_um: npt.ArrayLike,
    sitting: npt.ArrayLike,
    *,
    floor_um: float,
    shop: ShopScatter | None = None,
    lean_um: float = 0.0,
) -> NextGrips:
    """From effective vectors (n,), complex, µm of eccentricity, and the sitting of each (n,).

    ``floor_um``: least scatter per axis; ``shop``: scalars of ``vectors.shop_scatter_vectors``. ``lean_um``: standard
    deviation per axis of what the place may lie farther off for a reason never measured. The rest as for swings.
    """
    parts = _parts(np.asarray(vectors_um, dtype=np.complex128), np.asarray(sitting), floor_um, shop)
    return _from_lengths(np.array([abs(complex(parts.centre))]), parts, lean_um, scales=_SCALES, commons=_COMMONS)


def grips_of_sum(
    sizes_um: Sequence[npt.ArrayLike],
    own_swings_um: npt.ArrayLike,
    sitting: npt.ArrayLike,
    *,
    step_um: float,
    lean_um: float = 0.0,
) -> NextGrips:
    """A forecast: vectors of known sizes whose directions are not known, with the repeat of the item itself.

    ``sizes_um``: for each vector the full swing it causes, one or several that are alike likely; up to three vectors.
    ``own_swings_um`` (n,), ``sitting`` (n,): clampings of the item elsewhere, whose scatter is taken over, as swings.
    ``lean_um``: as for vectors, in swing. Every direction is alike likely (trade: unknown angles add up by squares,
    with the band that goes with it).
    """
    parts = _parts(np.asarray(own_swings_um, dtype=np.float64), np.asarray(sitting), step_um / np.sqrt(12.0), None)
    first, *others = (np.atleast_1d(np.asarray(size, dtype=np.float64)) / 2.0 for size in sizes_um)
    lengths = first.astype(np.complex128)
    for other in others:
        count = _PHASES[min(len(others), max(_PHASES))]
        turned = np.exp(2j * np.pi * (np.arange(count) + 0.5) / count)
        lengths = (lengths[:, None] + (other[:, None] * turned).ravel()).ravel()
    halved = _Parts(parts.centre / 2.0, parts.common / 4.0, parts.each / 4.0, parts.df, parts.repeat_known)
    return _from_lengths(np.abs(lengths), halved, lean_um / 2.0, scales=_FORECAST_SCALES, commons=_FORECAST_COMMONS)


@dataclass(frozen=True, slots=True)
class _Parts:
    """Centre, and the variances of the common part and of a single clamping about it (per axis for vectors)."""

    centre: complex
    common: float
    each: float
    df: float
    repeat_known: bool


def _parts(
    values: npt.NDArray[np.inexact], sitting: npt.NDArray[np.int64], floor: float, shop: ShopScatter | None
) -> _Parts:
    axes = 2 if np.iscomplexobj(values) else 1
    sums = _floored(sitting_sums(np.asarray(values), sitting), floor)
    n, within, known = values.size, float(sums.within), bool(sums.df_within > 0)
    if shop is not None:
        spread = shop_spread(sums, shop)
        df_pool = min(int(shop.df_within), SHOP_DF_CAP)
        df = df_pool + int(sums.df_within)
        within = (df_pool * float(shop.within) + int(sums.df_within) * within) / max(df, 1)
        known = df > 0
    elif sums.sittings > 1:
        spread = own_spread(sums)
    else:
        if n < 2:
            raise NotAnswerableError("1 clamping given, 2 needed.", "Log another clamping.")
        return _Parts(complex(sums.centre), within / n, within, float(axes * (n - 1)), True)
    centre_variance = float(spread.centre_variance)
    total = float(spread.between) + float(spread.rest) + centre_variance
    each = min(within, total - centre_variance) if known else total
    return _Parts(complex(sums.centre), total - each, each, float(spread.prediction_df), known)


def _floored(sums: SittingSums, floor: float) -> SittingSums:
    """Mean squares not below that of the least scatter."""
    size = sums.harmonic_size
    return SittingSums(
        sums.centre,
        np.where(sums.df_between > 0, np.maximum(sums.between, floor**2 / size), 0.0),
        sums.df_between,
        np.where(sums.df_within > 0, np.maximum(sums.within, floor**2), 0.0),
        sums.df_within,
        size,
        sums.sittings,
    )


def _normal(scale: Scale, values: Floats, sitting: npt.ArrayLike, floor: float, shop: ShopScatter | None) -> NextGrips:
    from scipy.special import ndtri

    parts = _parts(values, np.asarray(sitting), floor, shop)
    scatter, of_scatter = _scatters(parts.df, _SCALES)
    at, of_common = _even(_COMMONS)
    common = np.sqrt(parts.common) * scatter[:, None] * ndtri(at)
    return NextGrips(
        scale=scale,
        centre=(parts.centre.real + common).ravel(),
        sd=np.broadcast_to(np.sqrt(parts.each) * scatter[:, None], common.shape).ravel().copy(),
        weight=np.outer(of_scatter, of_common).ravel(),
        repeat_known=parts.repeat_known,
    )


def _from_lengths(lengths: Floats, parts: _Parts, lean_um: float, *, scales: int, commons: int) -> NextGrips:
    """The mixture about vectors of these lengths (m,), alike likely; the common part is added in the plane."""
    scatter, of_scatter = _scatters(parts.df, scales)
    at, of_common = _even(commons)
    spread = np.sqrt(parts.common * scatter**2 + lean_um**2)[:, None, None]
    length = lengths[None, None, :]
    centre = _rice_points(at[None, :, None], length, spread)
    weight = of_scatter[:, None, None] * of_common[None, :, None] / lengths.size
    return NextGrips(
        scale=Scale.AXES,
        centre=centre.ravel(),
        sd=np.broadcast_to((np.sqrt(parts.each) * scatter)[:, None, None], centre.shape).ravel().copy(),
        weight=np.broadcast_to(weight, centre.shape).ravel().copy(),
        repeat_known=parts.repeat_known,
    )


def _rice_points(probability: Floats, length: Floats, spread: Floats) -> Floats:
    """Where the length of a vector lies with these probabilities, its mean this long, its spread per axis; broadcasts.

    Beyond 50 times the spread a normal one stands for it (short by less than a thousandth of the spread).
    """
    from scipy.special import chndtrix, ndtri

    wide = np.maximum(spread, 1e-9)
    kappa = length / wide
    near = np.sqrt(chndtrix(probability, 2.0, np.minimum(kappa, _FAR) ** 2))
    far = kappa + ndtri(probability) + 0.5 / np.maximum(kappa, 1.0)
    return np.asarray(wide * np.where(kappa > _FAR, np.maximum(far, 0.0), near))


def _scatters(df: float, nodes: int) -> tuple[Floats, Floats]:
    """What a standard deviation may truly be, in found ones, sqrt(f/chi-square), and the weights."""
    from scipy.special import gammaincinv

    at, weight = _even(nodes)
    return np.asarray(np.sqrt(df / (2.0 * gammaincinv(df / 2.0, at)))), weight


def _even(nodes: int) -> tuple[Floats, Floats]:
    """Probabilities and weights for averaging over a distribution (Gauss and Legendre)."""
    at, weight = np.polynomial.legendre.leggauss(nodes)
    return (at + 1.0) / 2.0, weight / 2.0
