"""What a process does with its limit: the performance index from percentiles, with an interval.

P_U = (U - X50)/(X99.865 - X50), the form for characteristics with a natural zero (ISO 22514-2 and -4, from memory),
for swings with the percentiles of the normal distribution on the scale T^(2/3), otherwise of the normal distribution
itself. The interval by generalized pivotal quantities (Weerahandi 1993, JASA 88, from memory): centre and mean squares
are drawn anew around those found, with a fixed seed; for one normal sample it is the exact one by the noncentral t.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.sittings import SittingSums
from qclog.statistics.swings import POWER

Floats = npt.NDArray[np.float64]

HIGH: Final = 2.999977
"""The standard normal value below which 99.865 % lie."""
_DRAWS: Final = 40_000
_SEED: Final = 22514


@dataclass(frozen=True, slots=True)
class Capability:
    """The index with its two-sided 95 % interval, the percentiles it rests on (in the unit of the limit), and the share
    beyond the limit with the upper end of its one-sided 95 % interval."""

    index: float
    low: float
    high: float
    median: float
    high_percentile: float
    beyond: float
    beyond_at_most: float


def percentile_index(upper: npt.ArrayLike, median: npt.ArrayLike, high: npt.ArrayLike) -> Floats:
    """(U - X50)/(X99.865 - X50)."""
    u, m, h = (np.asarray(given, dtype=np.float64) for given in (upper, median, high))
    return np.asarray((u - m) / (h - m))


def capability(own: SittingSums, upper: float, *, swings: bool) -> Capability:
    """Of the sums over sittings of one group, on the scale T^(2/3) where ``swings``; three sittings or more.

    One value in each sitting is the plain case of a single sample. Raises NotAnswerableError below three sittings.
    """
    from scipy.special import ndtr

    m, df_within = int(own.sittings), int(own.df_within)
    if m < 3:
        raise NotAnswerableError(f"{m} sittings tell nothing of a process.", "Three are the least.")
    rng = np.random.default_rng(_SEED)
    df_between, size = int(own.df_between), float(own.harmonic_size)
    between = float(own.between) * np.r_[1.0, df_between / rng.chisquare(df_between, _DRAWS)]
    within = np.zeros(_DRAWS + 1)
    if df_within:
        within = float(own.within) * np.r_[1.0, df_within / rng.chisquare(df_within, _DRAWS)]
    centre = float(own.centre.real) + np.r_[0.0, rng.normal(size=_DRAWS)] * np.sqrt(between / m)
    sd = np.sqrt(between + (1.0 - 1.0 / size) * within)
    power = 1.0 / POWER if swings else 1.0
    low = 0.0 if swings else -np.inf
    median, high = (np.maximum(v, low) ** power if swings else v for v in (centre, centre + HIGH * sd))
    index = percentile_index(upper, median, high)
    limit = upper**POWER if swings else upper
    beyond = ndtr((centre - limit) / sd)
    ends = np.quantile(index[1:], [0.025, 0.975])
    return Capability(
        index=float(index[0]),
        low=float(ends[0]),
        high=float(ends[1]),
        median=float(median[0]),
        high_percentile=float(high[0]),
        beyond=float(beyond[0]),
        beyond_at_most=float(np.quantile(beyond[1:], 0.95)),
    )
