"""The next clampings at one place: how likely the first is inside a limit, and what gripping again mends.

A day moves the work by a part that is the same for all its clampings: the systematic part and what is not known of
it, the day's own, and in a forecast what was never measured. Gripping again mends only the scatter of re-clamping
about it. ``NextGrips`` is a mixture: what that common part may be (and how large the scatter may be), each with its
weight, and for each the distribution of single clampings. In a given mixture part the number of grips to the first
good one is geometric; over the mixture it is not, since bad days stay bad.

For the next clamping alone the mixture gives the probability of Student's t with the degrees of freedom of the
scatter, from swings on the scale T^(2/3) (``qclog.statistics.swings``), from vectors that of noncentral chi-square
averaged over what length and scatter may be. scipy is loaded when called. Sources: the geometric distribution
and the mixture are any textbook's; sums of vectors whose directions are not known, own work, checked by simulation.
"""

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.bounding.sittings import ShopScatter, SittingSums, own_spread, shop_spread, sitting_sums
from qclog.statistics.chains.bodies import Forecast
from qclog.statistics.swings import POWER

Vectors = npt.NDArray[np.complex128]

TRIES = 3
"""Grips made before one stops and looks: the first and two more."""
SHOP_DF_CAP = 6
_SCALES, _COMMONS, _FORECAST = (20, 24), (8, 8), (5, 3, 4)
"""Nodes for what the scatter may be, and for the common part: along a line, or by its size and direction."""
_PHASES, _LENGTHS = 24, 48
_BISECTIONS = 24
_FAR = 50.0
"""Vectors so many times as long as their scatter have lengths that are normal (noncentral chi-square is slow there)."""


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
            half, kappa = max(limit_um, 0.0) / 2.0 / self.sd, self.centre / self.sd
            near = chndtr(np.minimum(half, 2.0 * _FAR) ** 2, 2.0, np.minimum(kappa, _FAR) ** 2)
            return np.where(kappa > _FAR, ndtr(half - kappa - 0.5 / np.maximum(kappa, 1.0)), near)
        limit = max(limit_um, 0.0) ** POWER if self.scale is Scale.POWER else limit_um
        return np.asarray(ndtr((limit - self.centre) / self.sd))

    def chance(self, limit_um: float) -> float:
        """Chance that the next clamping swings no more than the limit."""
        return float(self.weight @ self.inside(limit_um))

    def gripped(self, limit_um: float) -> tuple[float, Regripped | None]:
        """That chance, and what gripping again makes of it; None where the repeat is not known."""
        inside = self.inside(limit_um)
        chance = float(self.weight @ inside)
        if not self.repeat_known:
            return chance, None
        over = 1.0 - inside
        grips = sum(over**k for k in range(TRIES))
        return chance, Regripped(float(1.0 - self.weight @ over**TRIES), float(self.weight @ np.asarray(grips)))

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
    length = np.sqrt(max(abs(parts.centre) ** 2 - 2.0 * parts.of_centre, 0.0))  # scatter lengthens what it is added to
    return _from_lengths(np.array([length]), parts, lean_um, (_SCALES[0], *_COMMONS))


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
    lengths = first
    turned = np.exp(1j * np.pi * (np.arange(_PHASES) + 0.5) / _PHASES)  # the other half circle gives the same lengths
    for other in others:
        lengths = _evenly(np.abs(lengths[:, None] + (other[:, None] * turned).ravel()).ravel())
    halved = _Parts(
        parts.centre / 2.0, parts.common / 4.0, parts.each / 4.0, parts.of_centre / 4.0, parts.df, parts.repeat_known
    )
    return _from_lengths(lengths, halved, lean_um / 2.0, _FORECAST)


def grips_of_chain(found: Forecast, repeat_um: float) -> NextGrips:
    """From the forecast of a chain at a clocking *chosen because* it looked best: the length to expect of such a one.

    ``repeat_um``: scatter of re-clamping within a sitting, per axis. Raises NotAnswerableError where none is known.
    """
    if not found.df > 0.0 or not repeat_um > 0.0:
        raise NotAnswerableError("The repeat of this chain is not known.", "Clamp it once more at one clocking.")
    total, error = found.next_um**2, found.error_um**2
    each = min(repeat_um**2, total - error)
    parts = _Parts(0.0, total - each, each, error, found.df, repeat_known=True)
    return _from_lengths(np.array([found.expected_um / 2.0]), parts, 0.0, (_SCALES[0], *_COMMONS))


@dataclass(frozen=True, slots=True)
class _Parts:
    """Centre, and variances (per axis for vectors): of the common part, of a single clamping about it, of the centre
    as found, which is in the common part too."""

    centre: complex
    common: float
    each: float
    of_centre: float
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
        return _Parts(complex(sums.centre), within / n, within, within / n, float(axes * (n - 1)), True)
    centre_variance = float(spread.centre_variance)
    total = float(spread.between) + float(spread.rest) + centre_variance
    each = min(within, total - centre_variance) if known else total
    return _Parts(complex(sums.centre), total - each, each, centre_variance, float(spread.prediction_df), known)


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
    scatter, of_scatter = _scatters(parts.df, _SCALES[0])
    at, of_common = _even(_SCALES[1])
    common = np.sqrt(parts.common) * scatter[:, None] * ndtri(at)
    return NextGrips(
        scale=scale,
        centre=(parts.centre.real + common).ravel(),
        sd=np.broadcast_to(np.sqrt(parts.each) * scatter[:, None], common.shape).ravel().copy(),
        weight=np.outer(of_scatter, of_common).ravel(),
        repeat_known=parts.repeat_known,
    )


def _from_lengths(lengths: Floats, parts: _Parts, lean_um: float, nodes: tuple[int, int, int]) -> NextGrips:
    """The mixture about vectors of these lengths (m,), alike likely; the common part is added in the plane.

    ``nodes``: of the scatter, of the size of the common part (Rayleigh distributed), of its direction.
    """
    scatter, of_scatter = _scatters(parts.df, nodes[0])
    at, of_size = _even(nodes[1])
    spread = np.sqrt(parts.common * scatter**2 + lean_um**2)[:, None, None, None]
    size = spread * np.sqrt(-2.0 * np.log1p(-at))[None, :, None, None]
    along = np.cos(np.pi * (np.arange(nodes[2]) + 0.5) / nodes[2])[None, None, :, None]
    centre = np.sqrt(np.maximum(lengths**2 + 2.0 * lengths * size * along + size**2, 0.0))
    weight = of_scatter[:, None, None, None] * of_size[None, :, None, None] / (nodes[2] * lengths.size)
    each = (np.sqrt(parts.each) * scatter)[:, None, None, None]
    return NextGrips(
        scale=Scale.AXES,
        centre=centre.ravel(),
        sd=np.broadcast_to(each, centre.shape).ravel().copy(),
        weight=np.broadcast_to(weight, centre.shape).ravel().copy(),
        repeat_known=parts.repeat_known,
    )


def _evenly(lengths: Floats) -> Floats:
    """As many lengths as are needed to stand for all of these, each for as many of them."""
    ordered = np.sort(lengths)
    if ordered.size <= _LENGTHS:
        return ordered
    return np.asarray(np.quantile(ordered, (np.arange(_LENGTHS) + 0.5) / _LENGTHS))


def _scatters(df: float, nodes: int) -> tuple[Floats, Floats]:
    """What a standard deviation may truly be, in found ones, sqrt(f/chi-square), and the weights."""
    from scipy.special import gammaincinv

    at, weight = _even(nodes)
    return np.asarray(np.sqrt(df / (2.0 * gammaincinv(df / 2.0, at)))), weight


@functools.cache
def _even(nodes: int) -> tuple[Floats, Floats]:
    """Probabilities and weights for averaging over a distribution (Gauss and Legendre)."""
    at, weight = np.polynomial.legendre.leggauss(nodes)
    found = (at + 1.0) / 2.0, weight / 2.0
    for array in found:
        array.flags.writeable = False
    return found
