"""Keep, watch or retire: what the bounds on an item say about its limit, and what it costs to be wrong.

Keep where "holds" is proven, retire where "does not hold" is, else watch (``qclog.statistics.bounding.conformity``),
at the confidence that looking after every clamping asks for. An item with less than 5 % of its clampings beyond
the limit is so retired with at most about 5 %, one with more is kept with at most 5 %; the price of few
clampings is "watch", not a wrong verdict. Where a drift is shown, the limits come from the line
(``drift_limits``) at the time of the next check instead of from all clampings alike.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.conformity import Verdict, verdicts
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.bounding.looking import OWN_DOES_NOT_HOLD, OWN_HOLDS, risk
from qclog.statistics.changing.crossing import tolerance_band
from qclog.statistics.changing.trend import Line
from qclog.statistics.many import OneOrMany
from qclog.statistics.samples import checked


class Decision(IntEnum):
    """What is advised. What a person decides is another matter."""

    KEEP = 0
    WATCH = 1
    RETIRE = 2
    NO_LIMIT = 3


@dataclass(frozen=True, slots=True)
class DriftLimits:
    """Limits of the 95 % point at a place of each line (...), at the confidence of the verdict, and the line there;
    µm."""

    upper_um: OneOrMany
    lower_um: OneOrMany
    centre_um: OneOrMany


def decide(
    upper_um: npt.ArrayLike,
    lower_um: npt.ArrayLike,
    centre_um: npt.ArrayLike,
    limit_um: npt.ArrayLike,
    u_um: npt.ArrayLike,
    linear: npt.ArrayLike,
) -> npt.NDArray[np.int8]:
    """A Decision for each item; arguments, as the limits of verdicts, those of ``conformity.verdicts``; broadcasts."""
    of_verdict = np.empty(len(Verdict), dtype=np.int8)
    of_verdict[Verdict.HOLDS], of_verdict[Verdict.DOES_NOT_HOLD] = Decision.KEEP, Decision.RETIRE
    of_verdict[Verdict.CANNOT_TELL], of_verdict[Verdict.NO_LIMIT] = Decision.WATCH, Decision.NO_LIMIT
    return np.asarray(of_verdict[verdicts(upper_um, lower_um, centre_um, limit_um, u_um, linear)], dtype=np.int8)


def drift_limits(line: Line, x: npt.ArrayLike) -> DriftLimits:
    """Limits for the verdict at x, the place of the next check, from lines of swings (...)."""
    upper = tolerance_band(line, x, 1.0 - risk(line.clampings, OWN_HOLDS))
    lower = tolerance_band(line, x, risk(line.clampings, OWN_DOES_NOT_HOLD))
    return DriftLimits(upper, np.maximum(lower, 0.0), line.at(x))


def worth_replacing_above(*, p_new: float, price: float, usual_life: float, cost: float) -> float:
    """Probability of the next clamping exceeding the limit above which replacing pays: p_new + price/(life cost).

    p_new: that of a fresh item; usual_life in clampings; cost of one exceeding clamping: parts in it, times the
    share spoilt, times the cost of a part, or of clamping again where every clamping is checked before cutting.
    Raises NotAnswerableError for a probability outside 0 to 1, and a price, life or cost not above 0.
    """
    if not 0.0 <= p_new <= 1.0:
        raise NotAnswerableError(f"A probability of {p_new:g} is none.", "Give 0 to 1.")
    if not (0.0 < price < np.inf and 0.0 < usual_life < np.inf and 0.0 < cost < np.inf):
        raise NotAnswerableError("The price, the life or the cost is not above 0.", "Give what is usual.")
    return p_new + price / (usual_life * cost)


def replace_at(p_next: npt.ArrayLike, *, price: float, cost: float) -> int | None:
    """With drift: the first clamping, from 1, whose expected cost exceeds the average so far; None if none does.

    p_next (x,): probability of exceeding the limit at clampings 1, 2, … of its life. Replace at the first x with
    cost p(x) > (price + cost sum p)/x (Barlow and Hunter 1960, from memory).
    """
    p: Floats = checked(p_next, 1, "probability")
    average = (price + cost * np.cumsum(p)) / np.arange(1, p.size + 1)
    dearer = np.flatnonzero(cost * p > average)
    return int(dearer[0]) + 1 if dearer.size else None
