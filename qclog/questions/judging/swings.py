"""Holding many groups of swings against their limits at once: arrays in, arrays out."""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.questions.codes import Caveat
from qclog.questions.judging.directions import Directed, judge_directions
from qclog.questions.judging.gauging import GaugeOfGroups, Gauges, ReadWith
from qclog.questions.judging.lending import Pools
from qclog.questions.judging.sums import Sums
from qclog.statistics.bounding.bounds import (
    Bounds,
    Method,
    bounds_next_clampings,
    bounds_within_sitting,
    verdict_confidence,
)
from qclog.statistics.bounding.conformity import Verdict, as_read, verdicts, widen, widen_down
from qclog.statistics.bounding.forecast import NEVER, bounds_to_come, more_clampings, vector_bounds_to_come
from qclog.statistics.bounding.pooled_repeat import lean_on_others
from qclog.statistics.swings import SwingGroups, shop_scatter
from qclog.statistics.uncertainty import smallest_provable_limit

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

_FEW: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """G groups of swings, held against their limits. ``here`` is the last sitting of each group alone.

    ``holds_from_um``: the least limit that the next clampings would be found to hold, infinite where none would.
    ``more_in_sitting``: of jaws, how many more clampings in the last sitting would show that it holds; else 0.
    ``in_doubt``: all clampings of the group are; then nothing is claimed, neither that it holds nor that it does not.
    ``pools``: who lent to whom.
    """

    swings: SwingGroups
    here: SwingGroups
    gauge: GaugeOfGroups
    limit_um: Floats
    last_um: Floats
    holds_from_um: Floats
    in_doubt: Bools
    directed: Directed
    more_in_sitting: Ints
    read_with: ReadWith
    pools: Pools
    _codes: dict[Caveat, Bools]
    _told: tuple[npt.NDArray[np.int8], npt.NDArray[np.int8], npt.NDArray[np.int8]]

    def verdicts(self, i: int) -> tuple[int, int, int]:
        """As read, this sitting, next clampings."""
        as_it_was, here, following = self._told
        return int(as_it_was[i]), int(here[i]), int(following[i])

    def shown(self) -> Bounds:
        """The bounds to show: for the next clampings, or where nothing can be said of them for this sitting."""
        here, following = self.directed.here_bounds, self.directed.next_bounds
        untold = following.method == Method.NONE
        return Bounds(
            *(np.where(untold, getattr(here, f.name), getattr(following, f.name)) for f in dataclasses.fields(Bounds))
        )

    def decided(self) -> tuple[Floats, Floats, Floats]:
        """How the verdicts on the next clampings were reached (G,): the confidence they ask for, the bound at it, and
        that bound with what the gauge adds. Of use where there is such a verdict."""
        bounds, u, linear = self.directed.next_bounds, self.gauge.u_um, self.gauge.assumed
        holds = self._told[2] == Verdict.HOLDS
        bound = np.where(holds, bounds.upper_verdict_um, bounds.lower_verdict_um)
        up, down = (widens(bound, bounds.centre_um, u, linear) for widens in (widen, widen_down))
        confidence = verdict_confidence(self.swings.clampings, bounds.method, holds=holds)
        return confidence, bound, np.where(holds, up, down)

    def holds_from_with(self, days: Sequence[int | None]) -> Floats:
        """The least limit (G, D) that the next clampings would be found to hold with one more clamping on each of so
        many further days, if they come out like those so far; None for any number. Infinite below two sittings."""
        bounds, directed = bounds_to_come(self.swings, days), self.directed
        if directed.vectors is not None:
            theirs = vector_bounds_to_come(directed.vectors, days)
            bounds[directed.chosen] = np.where(
                directed.from_vectors[directed.chosen, None], theirs, bounds[directed.chosen]
            )
        centre = directed.next_bounds.centre_um[:, None]
        found = widen(bounds, centre, self.gauge.u_um[:, None], self.gauge.assumed[:, None])
        return np.where(self.in_doubt[:, None], np.inf, found)

    def caveats(self, i: int) -> list[Caveat]:
        """What limits the figures of one group."""
        return [code for code, where in self._codes.items() if where[i]] + self.gauge.caveats(i)


def judge(
    sums: Sums,
    limit_um: Floats,
    gauges: Gauges,
    pools: Callable[[Ints, Ints, Bools], Pools],
    jaws: Bools,
) -> Judged:
    """Groups in the order of the sums.

    ``pools`` gives, from the counts of clampings and sittings and from what is in doubt, who lends to whom. ``jaws``
    (G,): those of jaws, which lean on the repeat of others within a sitting too.
    """
    of, count = sums.of, len(limit_um)
    swings, here, in_doubt = of.swings, of.here, of.in_doubt
    pool = pools(swings.clampings, swings.sittings, in_doubt)
    gauge = gauges.of_groups(sums.read_with, swings.mean_um, swings.resolution_um)
    worth_a_lower_limit = np.where(gauge.assumed, limit_um + gauge.guard_um, limit_um)
    few = lean_on_others(bounds_within_sitting(here), here, swings, pool.alike, jaws & ~in_doubt, pool.lends)
    directed = judge_directions(
        of,
        next_bounds=bounds_next_clampings(
            swings, shop_scatter(swings, pool.alike, pool.lends) if count else None, worth_a_lower_limit
        ),
        here_bounds=few,
        more_days=more_clampings(swings, limit_um, gauge_um=gauge.guard_um, within_sitting=False),
        pools=pool,
        worth_a_lower_limit=worth_a_lower_limit,
        limit_um=limit_um,
        guard_um=gauge.guard_um,
    )
    following, more_days = directed.next_bounds, directed.more_days

    def unless_in_doubt(verdict: npt.NDArray[np.int8]) -> npt.NDArray[np.int8]:
        return np.where(in_doubt & (verdict != Verdict.NO_LIMIT), np.int8(Verdict.CANNOT_TELL), verdict)

    told = unless_in_doubt(_verdicts(following, limit_um, gauge))
    told_here = unless_in_doubt(_verdicts(directed.here_bounds, limit_um, gauge))
    undecided, more_here = (told == Verdict.CANNOT_TELL) & ~in_doubt, np.zeros(count, dtype=np.int64)
    if jaws.any():  # bored for a job: no other day will tell of it
        more_days = np.where(jaws, 0, more_days)
        directed = dataclasses.replace(directed, more_days=more_days)
        wanted = jaws & undecided & (told_here == Verdict.CANNOT_TELL) & (here.clampings > 0)
        asked = more_clampings(here, limit_um, gauge_um=gauge.guard_um, within_sitting=True)
        more_here = np.where(wanted, asked, more_here)
    codes = _codes(swings, here, directed)
    leans = codes[Caveat.CHUCK_REPEAT]
    for_its_job = jaws & undecided & ~leans
    codes[Caveat.ONE_SITTING] &= ~(leans | for_its_job)
    unsuited = limit_um < smallest_provable_limit(gauge.u_um)
    will_not_tell = undecided & ((more_days == NEVER) | (more_here == NEVER)) & ((swings.clampings >= _FEW) | unsuited)
    codes[Caveat.FEW_CLAMPINGS] &= ~will_not_tell  # it would ask for more of them
    return Judged(
        swings=swings,
        here=here,
        gauge=gauge,
        limit_um=limit_um,
        last_um=of.last_um,
        holds_from_um=np.where(
            in_doubt, np.inf, widen(following.upper_verdict_um, following.centre_um, gauge.u_um, gauge.assumed)
        ),
        in_doubt=in_doubt,
        directed=directed,
        more_in_sitting=more_here,
        read_with=sums.read_with,
        pools=pool,
        _codes={
            **{code: c & ~in_doubt for code, c in codes.items()},
            Caveat.FOR_ITS_JOB: for_its_job,
            Caveat.LOOKED_AGAIN: (swings.clampings > _FEW) & np.isin(told, (Verdict.HOLDS, Verdict.DOES_NOT_HOLD))
            | (undecided & _paid(directed, told_here, limit_um)),
            Caveat.MORE_WILL_NOT_TELL: will_not_tell,
            Caveat.TWO_GROUPS: of.two_groups,
            Caveat.ANGLES_MISSING: of.some_missing,
            Caveat.INSTRUMENT_NOT_SUITED: unsuited,
            Caveat.IN_DOUBT: in_doubt,
            Caveat.IN_DOUBT_LEFT_OUT: of.left_out,
        },
        _told=(
            unless_in_doubt(as_read(swings.max_um, limit_um, gauge.u_um)),
            told_here,
            told,
        ),
    )


def _paid(directed: Directed, told_here: npt.NDArray[np.int8], limit_um: Floats) -> Bools:
    """Whether the bound that is shown lies inside the limit where that of the verdict, which is higher, does not."""
    following, here = directed.next_bounds, directed.here_bounds
    shown = np.where(following.method == Method.NONE, here.upper_um, following.upper_um)
    inside: Bools = shown <= limit_um
    inside &= (following.method != Method.NONE) | (told_here == Verdict.CANNOT_TELL)
    return inside


def _codes(swings: SwingGroups, here: SwingGroups, directed: Directed) -> dict[Caveat, Bools]:
    """Caveats that follow from how many clampings and sittings there are, and how they scatter."""
    n, m = swings.clampings, swings.sittings
    method, from_vectors = directed.next_bounds.method, directed.from_vectors
    own, none = method != Method.SHOP, method == Method.NONE
    leans = none & (directed.here_bounds.method == Method.ONE_SITTING_POOLED)
    rough = np.where(none, here.clampings == _FEW, (m <= 2) | ((n == _FEW) & (m == _FEW)))
    return {
        Caveat.ONE_SITTING: none & (m == 1),
        Caveat.FEW_CLAMPINGS: own & (n < _FEW) & ~leans,
        Caveat.ROUGH_BOUND: own & (n >= _FEW) & rough & ~from_vectors & ~leans,
        Caveat.CHUCK_REPEAT: leans,
        Caveat.SHOP_REPEAT: ~own,
        Caveat.RESOLUTION_FLOOR: (n > 1) & (swings.sd_um < swings.resolution_um / np.sqrt(12.0)),
    }


def _verdicts(bounds: Bounds, limit_um: Floats, gauge: GaugeOfGroups) -> npt.NDArray[np.int8]:
    upper, lower = bounds.upper_verdict_um, bounds.lower_verdict_um
    return verdicts(upper, lower, bounds.centre_um, limit_um, gauge.u_um, gauge.assumed)
