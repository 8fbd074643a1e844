"""What lies ahead of a place: whether it holds its limit, when it no longer will, and what it is good for then."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from qclog.questions.changes import Changes
from qclog.questions.codes import Caveat, Sign
from qclog.questions.groups import Group, waits_for_doubt
from qclog.questions.values import DOES_NOT_HOLD, HOLDS
from qclog.statistics import retirement
from qclog.statistics.conformity import widen
from qclog.statistics.crossing import crossing

_ROUND_LIMITS_UM: Final = (3, 5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)


@dataclass(frozen=True, slots=True)
class Crosses:
    """When 5 % of the clampings will exceed the limit: dates, or clampings in work since the last modification.

    Not before ``early``; ``median`` and ``late`` only with a drift. Nothing is told beyond ``horizon``, as far ahead
    as the record is long: there ``early`` stops. ``now``: even today it cannot be said that they do not yet.
    """

    early: str
    median: str | None
    late: str | None
    now: bool
    horizon: str


def held(changes: Changes, group: Group) -> Sign:
    """Whether it holds its limit: as assessed, or with a drift where the next check will find it; nothing while it
    waits for what is in doubt."""
    if waits_for_doubt(group):
        return Sign.IN_DOUBT
    if group.limit_um is None:
        return Sign.NO_LIMIT
    told = {HOLDS: Sign.HOLDS, DOES_NOT_HOLD: Sign.DOES_NOT_HOLD}.get(group.next_clampings)
    if changes.drift is not None:
        limits = retirement.drift_limits(changes.drift, next_check(changes))
        decided = retirement.decide(
            limits.upper_um, limits.lower_um, limits.centre_um, group.limit_um, _u_um(group), _assumed(group)
        )
        told = {
            retirement.Decision.KEEP: Sign.HOLDS,
            retirement.Decision.RETIRE: Sign.DOES_NOT_HOLD,
        }.get(retirement.Decision(int(decided)))
    if told == Sign.DOES_NOT_HOLD and group.limit_from == "setup":
        return Sign.SETUP_LIMIT
    return told or Sign.CANNOT_TELL


def _u_um(group: Group) -> float:
    return (group.uncertainty_um or 0.0) / 2


def _assumed(group: Group) -> bool:
    return bool({Caveat.INSTRUMENT_UNKNOWN, Caveat.INSTRUMENT_UNCALIBRATED}.intersection(group.caveats))


def next_check(changes: Changes) -> float:
    """Where the next check will be: as far on as the checks so far lie apart."""
    places = np.unique(changes.points.x)
    return float(places[-1] + (places[-1] - places[0]) / max(places.size - 1, 1))


def crosses(changes: Changes, limit_um: float | None) -> Crosses | None:
    """When the limit will be crossed: the early end always, the rest only with a drift, nothing too far ahead."""
    history = changes.history
    if changes.line is None or limit_um is None:
        return None
    found = crossing(changes.line, history.x, limit_um=limit_um)

    def within(place: float | None) -> str | None:
        return None if place is None or place > found.horizon or changes.drift is None else history.written(place)

    early = found.horizon if found.early is None else min(found.early, found.horizon)
    return Crosses(
        early=history.written(early),
        median=within(found.median),
        late=within(found.late),
        now=early <= found.now,
        horizon=history.written(found.horizon),
    )


def good_for(changes: Changes, group: Group) -> float | None:
    """The smallest round limit above its own that it would still be found to hold."""
    needed = group.holds_from_um
    if changes.drift is not None:
        limits = retirement.drift_limits(changes.drift, next_check(changes))
        needed = float(widen(limits.upper_um, limits.centre_um, _u_um(group), _assumed(group)))
    if group.limit_um is None or needed is None:
        return None
    least = max(needed, group.limit_um)
    return next((float(limit) for limit in _ROUND_LIMITS_UM if limit >= least and limit > group.limit_um), None)
