"""Which limit governs a series: that of the item or that of the setup, the stricter one.

A limit applies at its own distance, or at all distances if it has none; never at the nearest. Those of the
newest modification that has any replace the ones before.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.figures import Series
from qclog.logbook.lookup import Limit
from qclog.logbook.owned import Owned, OwnedSetup
from qclog.records import EVERY_DISTANCE

_PM_PER_UM: Final = 1e6
_PM_PER_TENTH_MM: Final = 100_000_000


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


def _in_force(limits: Iterable[Limit], modification: int, one: Series) -> list[Limit]:
    same = [x for x in limits if x.characteristic == one.characteristic and x.modification_number <= modification]
    newest = max((x.modification_number for x in same), default=-1)
    return [
        x
        for x in same
        if x.modification_number == newest
        and x.setup_id in (None, one.setup_id)
        and x.position.casefold() in ("", one.position.casefold())
        and (x.distance_pm == EVERY_DISTANCE or round(x.distance_pm / _PM_PER_TENTH_MM) == one.distance_tenths)
    ]
