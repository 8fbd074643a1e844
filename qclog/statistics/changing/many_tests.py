"""A whole drawer tested at once: how many flags chance alone would raise, and which are likely real.

Verdicts on limits stay per item, since a limit is per item and the price of looking is already paid. Lists of
trends, steps and comparisons are ordered by p and marked by the false discovery rate (Benjamini and Hochberg
1995, Journal of the Royal Statistical Society B 57, from memory).
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Z_95, Floats
from qclog.statistics.changing.running_chart import FALSE_ALARM_EVERY
from qclog.statistics.samples import checked

RISK = 0.05
LIKELY_REAL = 0.10


class Mark(IntEnum):
    """What one p value among many is worth."""

    NOTHING = 0
    SINGLE_HINT = 1
    LIKELY_REAL = 2


@dataclass(frozen=True, slots=True)
class ByChance:
    """Flags expected with nothing wrong, flags found, and the probability of so many or more by chance.

    no_more_than_chance: found is within twice the square root of expected above it.
    """

    expected: float
    found: int
    p_as_many: float
    no_more_than_chance: bool


@dataclass(frozen=True, slots=True, eq=False)
class ManyTests:
    """K tests; arrays (K,) in the order given, read-only. q: least false discovery rate that includes each."""

    q: Floats
    marks: npt.NDArray[np.int8]
    chance: ByChance

    def __post_init__(self) -> None:
        self.q.flags.writeable = self.marks.flags.writeable = False


def many_tests(p_values: npt.ArrayLike) -> ManyTests:
    """Mark p values (K,): q at most 0.10 is likely real, else p at most 0.05 a single hint to be repeated.

    Raises NotAnswerableError for a p outside 0 to 1, naming its position, and for none at all.
    """
    from scipy.special import bdtrc

    p = checked(p_values, 1, "p value")
    bad = np.flatnonzero((p < 0.0) | (p > 1.0))
    if bad.size:
        raise NotAnswerableError(f"p value {int(bad[0]) + 1} of {p.size} is {p[bad[0]]:g}.", "Give 0 to 1.")
    q = q_values(p)
    marks = np.select([q <= LIKELY_REAL, p <= RISK], [Mark.LIKELY_REAL, Mark.SINGLE_HINT], Mark.NOTHING)
    found = int(np.sum(p <= RISK))
    p_as_many = float(bdtrc(found - 1, p.size, RISK)) if found else 1.0
    return ManyTests(q, marks.astype(np.int8), _chance(RISK * p.size, found, p_as_many))


def q_values(p: Floats) -> Floats:
    """q (K,) of p values (K,): min over j >= i of p_(j) K/j, at most 1."""
    order = np.argsort(p)
    stepped = p[order] * p.size / np.arange(1, p.size + 1)
    q = np.empty_like(p)
    q[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    return q


def chart_alarms(clampings: int, found: int) -> ByChance:
    """Alarms by chance of running charts over so many clampings in all, one in 370; Poisson."""
    return signs(clampings / FALSE_ALARM_EVERY, found)


def signs(expected: float, found: int) -> ByChance:
    """Signs of many kinds together, so many expected with nothing wrong and so many found; Poisson.

    Rare and independent signs follow it whatever the probability of each. Those of one item go together (a step is
    a trend too), so that the numbers found spread more: the probability is a guide.
    """
    from scipy.special import pdtrc

    return _chance(expected, found, float(pdtrc(found - 1, expected)) if found else 1.0)


def p_within_limit(centre: npt.ArrayLike, sd: npt.ArrayLike, clampings: npt.ArrayLike, limit: npt.ArrayLike) -> Floats:
    """p that at most 5 % of an item's clampings exceed its limit, to order items by: small is bad; broadcasts.

    centre, sd (above 0) of so many clampings and the limit, all on the scale T^(2/3); noncentral t distribution.
    """
    from scipy.special import nctdtr

    root = np.sqrt(np.asarray(clampings, dtype=np.float64))
    t = (np.asarray(limit) - np.asarray(centre)) * root / np.asarray(sd)
    p = nctdtr(np.asarray(clampings) - 1, Z_95 * root, t)
    return np.where(np.isnan(p), 0.0, p)  # not to be found below 1e-20


def _chance(expected: float, found: int, p_as_many: float) -> ByChance:
    return ByChance(expected, found, p_as_many, found <= expected + 2.0 * float(np.sqrt(expected)))
