"""What the clampings of series come to: all that a verdict needs of them, before anything is held against it.

Of a large logbook the clampings are read part by part, and only their sums are kept together.
"""

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.figures import Figures, Series
from qclog.questions.judging.gauging import Gauges, ReadWith
from qclog.statistics import many
from qclog.statistics.swings import SwingGroups, group_swings
from qclog.statistics.vectors import VectorGroups, group_vectors

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_TWO_GROUPS_FROM: Final = 8
_TWO_GROUPS_GAP: Final = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class OfSeries:
    """Of S series, every field with S entries. ``here``: of the last sitting of each alone.

    ``vectors``: of those in which every clamping has a direction (``directed``), empty in the others;
    ``some_missing``: only some clampings have. ``last_um``: the newest swing. ``in_doubt``: all clampings are;
    ``left_out``: some were left out for doubt, ``newest_left_out``: the newest was. ``recalled`` and ``steep``: how
    many turns were set aside.
    """

    swings: SwingGroups
    here: SwingGroups
    vectors: VectorGroups
    vectors_here: VectorGroups
    directed: Bools
    some_missing: Bools
    last_um: Floats
    two_groups: Bools
    in_doubt: Bools
    left_out: Bools
    newest_left_out: Bools
    recalled: Ints
    steep: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Sums:
    """What the clampings of some series come to, and what they were read with."""

    of: OfSeries
    read_with: ReadWith

    def chosen(self, which: Ints) -> "Sums":
        """Those at some places, each at most once, in that order."""
        return Sums(many.of(self.of, which), self.read_with.chosen(which, self.of.in_doubt.size))


def joined(some: Sequence[Sums]) -> Sums:
    """Those of some series, and of others behind them; at least one."""
    starts = np.cumsum([0, *(one.of.in_doubt.size for one in some)])
    moved = [
        dataclasses.replace(one.read_with, series=one.read_with.series + start)
        for one, start in zip(some, starts.tolist(), strict=False)
    ]
    return Sums(many.joined([one.of for one in some]), many.joined(moved))


def summed(series: Sequence[Series], figures: Figures, gauges: Gauges) -> Sums:
    """The sums of ``series``, in their order; figures of other series are left out."""
    count = len(series)
    place = figures.places_in(series)
    rows = place >= 0
    group, value, order = place[rows], figures.value_um[rows], figures.order[rows]
    sitting, gauging, vector = figures.sitting[rows], figures.gauging[rows], figures.vector[rows]
    resolution = np.full(count, np.inf)
    np.minimum.at(resolution, group, gauges.steps_um(gauging, figures.step_um[rows]))
    resolution[np.isinf(resolution)] = 1.0
    latest, last_rows = _last_sitting(group, sitting, count)
    last = np.zeros(count)
    last[group[last_rows]] = value[last_rows]
    swings = group_swings(value, group, sitting, groups=count, resolution_um=resolution)
    known = np.isfinite(vector.real)
    having = np.bincount(group, known, count)
    directed = (swings.clampings > 0) & (having == swings.clampings)
    within = directed[group]

    def vectors_of(which: Bools) -> VectorGroups:
        return group_vectors(
            vector[which],
            value[which],
            group[which],
            sitting[which],
            groups=count,
            resolution_um=resolution,
            eye_within_rad=figures.within_rad[rows][which],
        )

    aside = np.array([figures.set_aside.get(one.id, (0, 0)) for one in series], dtype=np.int64).reshape(-1, 2)
    return Sums(
        OfSeries(
            swings=swings,
            here=group_swings(value[latest], group[latest], sitting[latest], groups=count, resolution_um=resolution),
            vectors=vectors_of(within),
            vectors_here=vectors_of(within & latest),
            directed=directed,
            some_missing=(having > 0) & ~directed,
            last_um=last,
            two_groups=_two_groups(group, value, swings),
            in_doubt=np.bincount(group, figures.in_doubt[rows], count) > 0,
            left_out=np.array([one.id in figures.left_out for one in series], dtype=np.bool_),
            newest_left_out=np.array([one.id in figures.newest_left_out for one in series], dtype=np.bool_),
            recalled=aside[:, 0],
            steep=aside[:, 1],
        ),
        gauges.read_with(group, gauging, order),
    )


def _last_sitting(group: Ints, sitting: Ints, count: int) -> tuple[Bools, Ints]:
    """Which rows belong to the last sitting of their group, and the last row of each group that has any.

    Rows of a group stand in the order of time.
    """
    last_row = np.full(count, -1, dtype=np.int64)
    np.maximum.at(last_row, group, np.arange(len(group)))
    some = last_row[last_row >= 0]
    newest = np.full(count, -1, dtype=np.int64)
    newest[group[some]] = sitting[some]
    return sitting == newest[group], some


def _two_groups(group: Ints, value: Floats, swings: SwingGroups) -> Bools:
    """Whether the sorted swings of a group show a gap that looks like two seats, with at least two clampings on either
    side: wider than what lies on either side of it and than four of the usual gaps.

    From 8 clampings on; of one seat such a gap comes in 7 to 10 % of groups of 8, 1 to 3 % of 12, hardly ever beyond
    (own simulation, Rice-distributed swings).
    """
    found = np.zeros(len(swings.clampings), dtype=np.bool_)
    by_value = np.lexsort((value, group))
    start = np.cumsum(swings.clampings) - swings.clampings
    gap = np.diff(value[by_value])
    for n in sorted({n for n in swings.clampings.tolist() if n >= _TWO_GROUPS_FROM}):
        alike = np.flatnonzero(swings.clampings == n)
        gaps = gap[start[alike, None] + np.arange(n - 1)]
        usual = _TWO_GROUPS_GAP * np.maximum(_middle(gaps), swings.resolution_um[alike])
        widest = np.argmax(gaps[:, 1:-1], axis=-1) + 1
        for at in set(widest.tolist()):
            here, rows = gaps[widest == at], widest == at
            aside = np.maximum(here[:, :at].sum(axis=-1), here[:, at + 1 :].sum(axis=-1))
            found[alike[rows]] = here[:, at] > np.maximum(usual[rows], aside)
    return found


def _middle(gaps: Floats) -> Floats:
    """The median of each row; numpy's own loads its masked arrays."""
    ordered, n = np.sort(gaps, axis=-1), gaps.shape[-1]
    return (ordered[:, (n - 1) // 2] + ordered[:, n // 2]) / 2
