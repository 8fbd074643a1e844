"""What lies ahead of a place: whether it holds its limit, when it no longer will, and what it is good for then."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from qclog.questions.changing.changes import Changes
from qclog.questions.changing.histories import written
from qclog.questions.codes import Caveat, Sign
from qclog.questions.judging.groups import Group, goes_by, waits_for_doubt
from qclog.questions.judging.values import DOES_NOT_HOLD, HOLDS
from qclog.statistics.bounding.conformity import widen
from qclog.statistics.changing import retirement
from qclog.statistics.changing.crossing import crossing
from qclog.statistics.many import each, together

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
    told = {HOLDS: Sign.HOLDS, DOES_NOT_HOLD: Sign.DOES_NOT_HOLD}.get(goes_by(group))
    limits = changes.limits_ahead
    if limits is not None:
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


def crosses(changes: Sequence[Changes], limits_um: Sequence[float | None]) -> list[Crosses | None]:
    """When each will cross its limit: the early end always, the rest only with a drift, nothing too far ahead."""
    found: list[Crosses | None] = [None] * len(changes)
    told = [
        (i, change, change.line, limit_um)
        for i, (change, limit_um) in enumerate(zip(changes, limits_um, strict=True))
        if change.line is not None and limit_um is not None
    ]
    if not told:
        return found
    which, records, lines, limits = zip(*told, strict=True)
    ends = np.array([(record.begins, record.ends) for record in records])
    crossed = each(crossing(together(lines), ends, limit_um=limits))
    for i, record, one in zip(which, records, crossed, strict=True):
        early, drifts = min(one.early, one.horizon), record.drift is not None
        median, late = (
            written(record.axis, place) if drifts and place <= one.horizon else None for place in (one.median, one.late)
        )
        found[i] = Crosses(
            early=written(record.axis, early),
            median=median,
            late=late,
            now=bool(early <= one.now),
            horizon=written(record.axis, one.horizon),
        )
    return found


def good_for(changes: Changes, group: Group) -> float | None:
    """The smallest round limit above its own that it would still be found to hold."""
    needed = group.holds_from_um
    limits = changes.limits_ahead
    if limits is not None:
        needed = float(widen(limits.upper_um, limits.centre_um, _u_um(group), _assumed(group)))
    if group.limit_um is None or needed is None:
        return None
    least = max(needed, group.limit_um)
    return next((float(limit) for limit in _ROUND_LIMITS_UM if limit >= least and limit > group.limit_um), None)
