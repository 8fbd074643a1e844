"""Three or more groups of swings at once: which is the best, and is it settled?

Every two groups are compared by Welch's t on the scale T^(2/3), and the p values adjusted for their number, since
the best was picked after looking (Holm 1979, Scandinavian Journal of Statistics 6). Beside them stands Welch's
test of all means at once (Welch 1951, Biometrika 38). Both from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.comparing.settling import look_risk
from qclog.statistics.comparing.swings import FEWEST_EACH, FEWEST_FOR_VERDICT, Sums, sums_of, welch
from qclog.statistics.samples import checked_swings, power_scale

FEWEST_GROUPS = 3


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """k groups of swings, compared all at once.

    order: indices of the groups, the best (least) first. p_all: p of no difference at all. p_pairs (k, k):
    adjusted p of every two, 1 on the diagonal. settled: the first in order is better than each of the others,
    at the risk of the look.
    """

    clampings: tuple[int, ...]
    order: tuple[int, ...]
    p_all: float
    p_pairs: Floats
    risk: float
    settled: bool

    def __post_init__(self) -> None:
        self.p_pairs.flags.writeable = False


def rank(groups_um: Sequence[npt.ArrayLike], *, resolution_um: float) -> Ranking:
    """Rank three or more groups of swings, each (n_i,), looked at after every clamping.

    Simulated error of "settled" where there is no difference, looks from 4 to 12: at most 0.05. Raises
    NotAnswerableError for a swing that is negative or not finite, below three clampings of any, and below
    three groups.
    """
    if len(groups_um) < FEWEST_GROUPS:
        raise NotAnswerableError(f"{len(groups_um)} groups given, {FEWEST_GROUPS} needed.", "Compare two as two.")
    groups = [checked_swings(group, FEWEST_EACH) for group in groups_um]
    sums = [sums_of(*power_scale(group, resolution_um)) for group in groups]
    y = Sums(np.array([s.n for s in sums]), np.array([s.mean for s in sums]), np.array([s.sd for s in sums]))
    first, second = np.triu_indices(len(groups), 1)
    adjusted = holm(welch(_chosen(y, first), _chosen(y, second)).p_value)
    p_pairs = np.ones((len(groups), len(groups)))
    p_pairs[first, second] = p_pairs[second, first] = adjusted
    order = np.argsort(y.mean, kind="stable")
    looks = int(y.n.min())
    risk = float(look_risk(looks))
    return Ranking(
        clampings=tuple(int(n) for n in y.n),
        order=tuple(int(i) for i in order),
        p_all=welch_f_p(y),
        p_pairs=p_pairs,
        risk=risk,
        settled=looks >= FEWEST_FOR_VERDICT and bool(np.all(p_pairs[order[0], order[1:]] <= risk)),
    )


def welch_f_p(y: Sums) -> float:
    """p of Welch's F test that the means of k groups with their own scatter each are equal; sums (k,)."""
    from scipy.special import fdtrc

    k = y.n.size
    weight = y.n / y.sd**2
    centre = np.sum(weight * y.mean) / weight.sum()
    unequal = np.sum((1.0 - weight / weight.sum()) ** 2 / (y.n - 1))
    f = np.sum(weight * (y.mean - centre) ** 2) / (k - 1) / (1.0 + 2.0 * (k - 2) * unequal / (k**2 - 1))
    return float(fdtrc(k - 1, (k**2 - 1) / (3.0 * unequal), f))


def holm(p_values: Floats) -> Floats:
    """p values (m,) adjusted for their number after Holm, in the order given."""
    order = np.argsort(p_values)
    stepped = np.maximum.accumulate(p_values[order] * np.arange(p_values.size, 0, -1))
    adjusted = np.empty_like(p_values)
    adjusted[order] = np.minimum(stepped, 1.0)
    return adjusted


def _chosen(y: Sums, which: npt.NDArray[np.intp]) -> Sums:
    return Sums(y.n[which], y.mean[which], y.sd[which])
