"""Does replacing pay, by what it costs? Asked for with three figures, and only where nothing stronger has decided.

A fresh item is taken never to exceed its limit, the plainest assumption there is: it favours replacing, so that
"keep" holds against any new one. With a proven drift over clampings in work the marginal rule decides
(``statistics.changing.retirement.replace_at``). Where work was not noted the usual life has to stand for the item's
own, and the chance is that at the next check.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import sqlalchemy as sa

from qclog.errors import UsageError
from qclog.logbook.figures import read_figures
from qclog.questions.changing.histories import WORK, History
from qclog.questions.codes import ByCost
from qclog.statistics.bounding.bounds import exceedance
from qclog.statistics.changing.crossing import exceedance_at
from qclog.statistics.changing.retirement import replace_at, worth_replacing_above
from qclog.statistics.changing.trend import Line
from qclog.statistics.length_interval import vector_exceedance
from qclog.statistics.swings import group_swings
from qclog.statistics.vectors import group_vectors

_P_NEW: Final = 0.0
_MOST_STEPS: Final = 20_000
_FEWEST_SITTINGS: Final = 3
"""From two days the chance of the next one comes out many times too high, and would replace what is sound."""


@dataclass(frozen=True, slots=True)
class Costs:
    """What a new item costs, how many clampings one usually lasts, and what a clamping beyond the limit costs.

    The last: parts in a clamping, times the share spoilt, times the cost of a part; or, where every clamping is checked
    before cutting, the cost of clamping again. All in one currency.
    """

    price: float
    usual_life: float
    loss: float

    @property
    def threshold(self) -> float:
        """Chance of exceeding the limit above which replacing pays. Raises NotAnswerableError for figures of 0."""
        return worth_replacing_above(p_new=_P_NEW, price=self.price, usual_life=self.usual_life, cost=self.loss)


@dataclass(frozen=True, slots=True)
class Replacing:
    """What the costs advise.

    ``p_next``: chance that the next clamping exceeds the limit, None if unknown. ``threshold``: above it replacing
    pays. ``replace_at``: with a drift, the clamping in work from which it pays, counted from the last modification;
    None where that is not in sight.
    """

    p_next: float | None
    threshold: float
    replace_at: int | None
    advice: ByCost


def costs(price: float | None, usual_life: float | None, loss: float | None) -> Costs | None:
    """The costs, if they are asked for.

    Raises UsageError unless all are given or none, and NotAnswerableError for figures that are not above 0.
    """
    given = [figure for figure in (price, usual_life, loss) if figure is not None]
    if not given:
        return None
    if len(given) < 3:
        raise UsageError("--price, --life and --loss belong together.", "Give all three, or none.")
    found = Costs(*given)
    _ = found.threshold
    return found


def replacing(
    connection: sa.Connection,
    history: History,
    limit_um: float | None,
    asked: Costs,
    *,
    drift: Line | None,
    next_check: float,
    from_vectors: bool,
) -> Replacing:
    """What the costs advise for one place. ``drift``: the line, if its rise is shown; else the chance is constant."""
    if limit_um is None or np.unique(history.sitting).size < _FEWEST_SITTINGS:
        return Replacing(None, asked.threshold, None, ByCost.CANNOT_TELL)
    if drift is not None and history.axis == WORK and history.worked:
        return _with_drift(drift, history.worked, float(np.ptp(history.x)), limit_um, asked)
    if drift is not None:
        p_next = float(exceedance_at(drift, next_check, limit_um))
    else:
        p_next = _chance(connection, history, limit_um) if from_vectors else _chance_of_swings(history, limit_um)
    return Replacing(p_next, asked.threshold, None, ByCost.REPLACE if p_next > asked.threshold else ByCost.KEEP)


def _with_drift(drift: Line, worked: int, record: float, limit_um: float, asked: Costs) -> Replacing:
    """The marginal rule over the clampings of its life, looking ahead no farther than the record is long.

    A long life is cut in equal lots of clampings, each with the chance at its end.
    """
    last = worked + int(record)
    lot = -(-last // _MOST_STEPS)
    at = np.arange(lot, last + lot, lot)
    found = replace_at(exceedance_at(drift, at, limit_um), price=asked.price / lot, cost=asked.loss)
    place = None if found is None else int(at[found - 1])
    p_next = float(exceedance_at(drift, worked + 1.0, limit_um))
    due = place is not None and place <= worked + 1
    return Replacing(p_next, asked.threshold, place, ByCost.REPLACE if due else ByCost.KEEP)


def _chance_of_swings(history: History, limit_um: float) -> float:
    groups = group_swings(
        history.swings, np.zeros(history.swings.size, int), history.sitting, groups=1, resolution_um=history.step_um
    )
    return float(exceedance(groups, limit_um)[0])


def _chance(connection: sa.Connection, history: History, limit_um: float) -> float:
    """The chance from vectors; every clamping has one."""
    figures = read_figures(connection, [history.series.id])  # the clampings of the history, in their order
    groups = group_vectors(
        figures.vector,
        history.swings,
        np.zeros(history.swings.size, int),
        history.sitting,
        groups=1,
        resolution_um=history.step_um,
        eye_within_rad=figures.within_rad,
    )
    return float(vector_exceedance(groups, limit_um)[0])
