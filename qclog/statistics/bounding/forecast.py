"""How many more clampings would bring the bound below the limit, if they behave like those so far.

Centre and scatter are kept as they are; the factor falls with the count until the bound reaches the limit.
"""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.bounds import FEWEST_CLAMPINGS, bounds_next_clampings, bounds_within_sitting
from qclog.statistics.bounding.factors import LARGEST, Z_95, Floats, upper_factor_verdict, vector_upper_factor_verdict
from qclog.statistics.bounding.sittings import own_spread, vector_upper_centre
from qclog.statistics.bounding.vector_bounds import (
    centre_and_sd,
    vector_bounds_next_clampings,
    vector_bounds_within_sitting,
)
from qclog.statistics.swings import POWER, SwingGroups
from qclog.statistics.vectors import VectorGroups

Counts = npt.NDArray[np.int64]

NEVER = -1
SITTINGS_FOR_AN_ANSWER = 6
"""One clamping on each of six days gives a first answer from swings alone (own simulation)."""
SITTINGS_FOR_AN_ANSWER_FROM_VECTORS = 4


def more_clampings(
    groups: SwingGroups, limit_um: npt.ArrayLike, *, gauge_um: npt.ArrayLike = 0.0, within_sitting: bool
) -> Counts:
    """Further clampings (G,) until "holds" from swings: 0 already, -1 not even with 200 in all.

    within_sitting: in the same sitting; else one on each of so many further days. gauge_um is what the
    verdict adds to the bound for the gauge. limit_um NaN: no limit, 0. Where the scatter asked about is not
    known yet (one clamping, or one sitting), the count is that to a first answer.
    """
    limit, room = _limit_and_room(limit_um, gauge_um, groups.clampings)
    if within_sitting:
        n, first = groups.clampings, FEWEST_CLAMPINGS
        centre, sd, known = groups.pooled_centre, groups.pooled_sd, groups.clampings > 1
        upper = bounds_within_sitting(groups).upper_verdict_um
    else:
        n, first = groups.sittings, SITTINGS_FOR_AN_ANSWER
        known = groups.sittings > 1
        centre, sd = _over_sittings(groups)
        upper = bounds_next_clampings(groups, limit_um=np.nan).upper_verdict_um
    needed = sizes_needed(centre, sd, room**POWER, n, upper_factor_verdict(np.arange(LARGEST + 1)))
    return _more(needed, n, known, first, upper, limit, room)


def more_vector_clampings(
    groups: VectorGroups, limit_um: npt.ArrayLike, *, gauge_um: npt.ArrayLike = 0.0, within_sitting: bool
) -> Counts:
    """Further clampings (G,) until "holds" from vectors; the rest as in more_clampings."""
    limit, room = _limit_and_room(limit_um, gauge_um, groups.clampings)
    if within_sitting:
        n, first, known = groups.clampings, FEWEST_CLAMPINGS, groups.clampings > 1
        centre, sd = centre_and_sd(groups)
        upper = vector_bounds_within_sitting(groups).upper_verdict_um
    else:
        n, first = groups.sittings, SITTINGS_FOR_AN_ANSWER_FROM_VECTORS
        known = groups.sittings > 1
        centre, sd = _vectors_over_sittings(groups)
        upper = vector_bounds_next_clampings(groups, limit_um=np.nan).upper_verdict_um
    factor = vector_upper_factor_verdict(np.arange(LARGEST + 1))
    needed = sizes_needed(centre, sd, room / 2.0, n, factor)
    return _more(needed, n, known, first, upper, limit, room)


def bounds_to_come(groups: SwingGroups, days: Sequence[int | None]) -> Floats:
    """The bound of the verdict, µm (G, D), with one more clamping on each of so many further days, from swings.

    As in ``more_clampings`` centre and scatter are kept as they are. None in place of a count: with any number, where
    only the 95 % point itself is left. Infinite below two sittings.
    """
    centre, sd = _over_sittings(groups)
    factor = _factors_to_come(groups.sittings, days, upper_factor_verdict(np.arange(LARGEST + 1)))
    bound = np.maximum(centre[:, None] + factor * sd[:, None], 0.0) ** (1.0 / POWER)
    return np.where(groups.sittings[:, None] > 1, bound, np.inf)


def vector_bounds_to_come(groups: VectorGroups, days: Sequence[int | None]) -> Floats:
    """The same from vectors."""
    centre, sd = _vectors_over_sittings(groups)
    factor = _factors_to_come(groups.sittings, days, vector_upper_factor_verdict(np.arange(LARGEST + 1)))
    return np.where(groups.sittings[:, None] > 1, 2.0 * (centre[:, None] + factor * sd[:, None]), np.inf)


def _factors_to_come(sittings: Counts, days: Sequence[int | None], factor: Floats) -> Floats:
    columns = [
        np.full(sittings.shape, Z_95)
        if more is None
        else factor[np.clip(sittings + more, FEWEST_CLAMPINGS, factor.size - 1)]
        for more in days
    ]
    return np.stack(columns, axis=1)


def _over_sittings(groups: SwingGroups) -> tuple[Floats, Floats]:
    """Centre and scatter of a clamping on another day, on the scale T^(2/3); scatter 0 below two sittings."""
    known, sd = groups.sittings > 1, np.zeros(groups.sittings.shape)
    sd[known] = own_spread(groups.sums(known)).sd
    return groups.centre, sd


def _vectors_over_sittings(groups: VectorGroups) -> tuple[Floats, Floats]:
    centre, sd = centre_and_sd(groups)
    over = (groups.sittings > 1) & ~groups.one_each
    spread = own_spread(groups.sums(over))
    centre[over], sd[over] = vector_upper_centre(np.abs(groups.centre[over]), spread), spread.sd
    return centre, sd


def sizes_needed(centre: Floats, sd: Floats, limit: Floats, size: Counts, factor: Floats) -> Counts:
    """Smallest size n' > size, at least 3, with centre + factor[n'] sd <= limit; 0 where there is none."""
    counts = np.arange(FEWEST_CLAMPINGS, factor.size)
    reached = factor[FEWEST_CLAMPINGS:] * sd[:, None] <= (limit - centre)[:, None]
    reached &= counts > size[:, None]
    return np.where(reached.any(axis=1), counts[reached.argmax(axis=1)], 0)


def _limit_and_room(limit_um: npt.ArrayLike, gauge_um: npt.ArrayLike, clampings: Counts) -> tuple[Floats, Floats]:
    limit = np.array(np.broadcast_to(limit_um, clampings.shape), dtype=np.float64)
    return limit, np.maximum(limit - np.asarray(gauge_um, dtype=np.float64), 0.0)


def _more(
    needed: Counts, n: Counts, known: npt.NDArray[np.bool_], first: int, upper: Floats, limit: Floats, room: Floats
) -> Counts:
    more = np.where(known, np.where(needed > 0, needed - n, NEVER), first - n)
    more = np.where(room > 0.0, more, NEVER)
    return np.where(np.isnan(limit) | (upper <= room), 0, more)
