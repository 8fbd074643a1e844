"""Which limit governs a series: that of the item or that of the setup, the stricter one.

A limit applies at its own distance, or at all distances if it has none; never at the nearest. Those of the
newest modification that has any replace the ones before.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from math import inf
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.characteristics import DIAMETRAL_GAP, RADIAL_GAP
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Limit
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.records import EVERY_DISTANCE

_PM_PER_UM: Final = 1e6
_PM_PER_TENTH_MM: Final = 100_000_000
_GAPS: Final = {DIAMETRAL_GAP: 1.0, RADIAL_GAP: 0.5}
"""What each is of the diametral gap."""


def governing(
    series: Sequence[Series], items: Mapping[int, Owned], setups: Mapping[int, OwnedSetup]
) -> tuple[npt.NDArray[np.float64], list[str | None]]:
    """The upper limit of each series, µm (NaN: none), and whether it is the "item"'s or the "setup"'s."""
    values = np.full(len(series), np.nan)
    sources: list[str | None] = [None] * len(series)
    for i, one in enumerate(series):
        found = governing_limit(one, items[one.item_id], setups.get(one.setup_id))
        if found is not None:
            limit, sources[i] = found
            values[i] = (limit.upper_pm or 0) / _PM_PER_UM
    return values, sources


def governing_limit(one: Series, item: Owned, setup: OwnedSetup | None) -> tuple[Limit, str] | None:
    """The limit that governs one series, and whether it is the "item"'s or the "setup"'s; None where there is none."""
    stated = [(limit, "item") for limit in _in_force(item.limits, item.modification, one)]
    if setup is not None:
        stated += [(limit, "setup") for limit in _in_force(setup.limits, 0, one)]
    upper = [(limit.upper_pm, source, limit) for limit, source in stated if limit.upper_pm is not None]
    if not upper:
        return None
    _, source, limit = min(upper, key=lambda one: one[:2])
    return limit, source


def governing_values(
    one: Series, items: Mapping[int, Owned], setups: Mapping[int, OwnedSetup]
) -> tuple[tuple[float, float], str | None]:
    """Lower and upper limit of a series of plain values, µm, infinite where there is none, and whose the limits are.

    Of item's and setup's limits the strictest ends govern; ``from`` is then the "item" wherever it has one. A limit of
    a gap said the other way, radial or diametral, is carried over.
    """
    item = items[one.item_id]
    stated = [(limit, "item") for limit in _in_force(item.limits, item.modification, one, _GAPS)]
    if one.setup_id:
        stated += [(limit, "setup") for limit in _in_force(setups[one.setup_id].limits, 0, one, _GAPS)]
    lower, upper = -inf, inf
    for limit, _ in stated:
        scale = _GAPS.get(one.characteristic, 1.0) / _GAPS.get(limit.characteristic, 1.0) / _PM_PER_UM
        lower = lower if limit.lower_pm is None else max(lower, limit.lower_pm * scale)
        upper = upper if limit.upper_pm is None else min(upper, limit.upper_pm * scale)
    return (lower, upper), min((source for _, source in stated), default=None)


def _in_force(limits: Iterable[Limit], modification: int, one: Series, alike: Collection[str] = ()) -> list[Limit]:
    """``alike``: characteristics whose limits stand for each other."""
    names = alike if one.characteristic in alike else (one.characteristic,)
    same = [x for x in limits if x.characteristic in names and x.modification_number <= modification]
    newest = max((x.modification_number for x in same), default=-1)
    return [
        x
        for x in same
        if x.modification_number == newest
        and x.setup_id in (None, one.setup_id)
        and x.position.casefold() in ("", one.position.casefold())
        and (x.distance_pm == EVERY_DISTANCE or round(x.distance_pm / _PM_PER_TENTH_MM) == one.distance_tenths)
    ]
