"""The clampings of every place where items, as they are now, were measured in setups as they are now."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.figures import Figures, Series, read_series
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
    def place(self) -> tuple[str, str]:
        """Setup and position."""
        return self.series.setup, self.series.position

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


def read_places(
    connection: sa.Connection, owned: Mapping[int, Owned], setups: Mapping[int, OwnedSetup], figures: Figures
) -> dict[int, Read]:
    """By the id of the series; nothing that is in doubt. A direction read by eye counts as none."""
    series = [
        one
        for one in read_series(connection)
        if is_current(one, owned)
        and one.characteristic == RUNOUT
        and one.setup_id
        and one.revision == setups[one.setup_id].revision
    ]
    vectors = figures.value_um / 2.0 * np.exp(1j * np.angle(figures.vector))
    vectors = np.where(figures.within_rad > 0.0, np.nan, vectors)
    found = {}
    for one in series:
        start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
        if start < end and not figures.in_doubt[start:end].any():
            found[one.id] = Read(
                series=one,
                swings=figures.value_um[start:end],
                vectors=vectors[start:end],
                sitting=figures.sitting[start:end],
                clamping=figures.clamping[start:end],
                step_um=float(figures.step_um[start:end].min()),
            )
    return found


def shop_of(reads: Sequence[Read], owned: Mapping[int, Owned], wanted: Read, *, vectors: bool) -> ShopScatter:
    """The scatter of other items of its kind for one of ``reads``, as scalars; as the verdicts take it."""
    chosen = [read for read in reads if not vectors or read.directed]
    place = next(i for i, read in enumerate(chosen) if read is wanted)
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
    which = np.arange(len(chosen)) == place
    return ShopScatter(*(array[0] for array in _scalars(found.of(which))))


def _scalars(shop: ShopScatter) -> tuple[npt.NDArray[np.number], ...]:
    return (shop.between, shop.df_between, shop.ratio, shop.within, shop.df_within)
