"""The clampings of places where items, as they are now, were measured in setups as they are now."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.logbook.figures import Figures, Series
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.questions.judging.alike import is_current
from qclog.questions.judging.lending import pools
from qclog.records import RUNOUT
from qclog.statistics.bounding.sittings import ShopScatter
from qclog.statistics.samples import rounding_sd
from qclog.statistics.swings import group_swings, shop_scatter
from qclog.statistics.vectors import group_vectors, shop_scatter_vectors

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Read:
    """The run-out of one series, arrays (n,): full swings and effective vectors in µm, NaN where a clamping has none,
    its sitting and clamping ids. ``step_um``: of the readings."""

    series: Series
    swings: Floats
    vectors: npt.NDArray[np.complex128]
    sitting: Ints
    clamping: Ints
    step_um: float

    @property
    def mean_um(self) -> float:
        return float(self.swings.mean())

    @property
    def diameter_mm(self) -> float | None:
        """Of the pin, None where it is not known."""
        return None if self.series.diameter_tenths < 0 else self.series.diameter_tenths / 10

    @property
    def floor_um(self) -> float:
        """The least scatter per axis of a vector: half a swing's rounding."""
        return float(rounding_sd(self.step_um / 2.0))

    @property
    def directed(self) -> bool:
        """Whether every clamping has a direction read at known angles."""
        return bool(np.isfinite(self.vectors.real).all())


@dataclass(frozen=True, slots=True)
class Level:
    """The mean swing of one series, µm: all that is kept of what was read of others."""

    series: Series
    mean_um: float


def as_now(series: Iterable[Series], owned: Mapping[int, Owned], setups: Mapping[int, OwnedSetup]) -> list[Series]:
    """Those of run-out in a setup, of item and setup as they are now."""
    return [
        one
        for one in series
        if is_current(one, owned)
        and one.characteristic == RUNOUT
        and one.setup_id
        and one.revision == setups[one.setup_id].revision
    ]


def read_places(series: Sequence[Series], figures: Figures) -> list[Read]:
    """Of those series that have figures; nothing that is in doubt. A direction read by eye counts as none."""
    vectors = figures.value_um / 2.0 * np.exp(1j * np.angle(figures.vector))
    vectors = np.where(figures.within_rad > 0.0, np.nan, vectors)
    places = figures.places()
    return [
        Read(
            series=one,
            swings=figures.value_um[here],
            vectors=vectors[here],
            sitting=figures.sitting[here],
            clamping=figures.clamping[here],
            step_um=float(figures.step_um[here].min()),
        )
        for one in series
        if (here := places.get(one.id)) is not None and not figures.in_doubt[here].any()
    ]


def shop_scatters(reads: Sequence[Read], owned: Mapping[int, Owned], *, vectors: bool) -> dict[int, ShopScatter]:
    """The scatter of others of its kind for each of ``reads``, as scalars by the id of the series; as the verdicts take
    it. With ``vectors`` only of those that have a direction."""
    chosen = [read for read in reads if not vectors or read.directed]
    if not chosen:
        return {}
    group = np.repeat(np.arange(len(chosen)), [read.swings.size for read in chosen])
    sitting = np.concatenate([read.sitting for read in chosen])
    swings = np.concatenate([read.swings for read in chosen])
    step = np.array([read.step_um for read in chosen])
    sittings = np.array([np.unique(read.sitting).size for read in chosen])
    no_doubt = np.zeros(len(chosen), dtype=np.bool_)
    pool = pools([read.series for read in chosen], owned, np.bincount(group), sittings, no_doubt)
    if vectors:
        e = np.concatenate([read.vectors for read in chosen])
        vector_groups = group_vectors(e, swings, group, sitting, groups=len(chosen), resolution_um=step)
        found = shop_scatter_vectors(vector_groups, pool.alike, pool.lends)
    else:
        swing_groups = group_swings(swings, group, sitting, groups=len(chosen), resolution_um=step)
        found = shop_scatter(swing_groups, pool.alike, pool.lends)
    scalars = zip(found.between, found.df_between, found.ratio, found.within, found.df_within, strict=True)
    return {read.series.id: ShopScatter(*one) for read, one in zip(chosen, scalars, strict=True)}
