"""Which limit governs a series: that of the item or that of the setup, the stricter one.

A limit applies at its own distance, or at all distances if it has none; never at the nearest. Those of the
newest modification that has any replace the ones before.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.figures import Series
from qclog.logbook.in_force import ends_um, limits_in_force
from qclog.logbook.lookup import Limit
from qclog.logbook.owned import Owned, OwnedSetup

_PM_PER_UM: Final = 1e6


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
    upper = [(x.upper_pm, source, x) for x, source in stated_limits(one, item, setup) if x.upper_pm is not None]
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
    stated = stated_limits(one, items[one.item_id], setups.get(one.setup_id))
    return ends_um(one.characteristic, (limit for limit, _ in stated)), min((of for _, of in stated), default=None)


def stated_limits(one: Series, item: Owned, setup: OwnedSetup | None) -> list[tuple[Limit, str]]:
    """The limits in force for one series, those of the "item" first, then those of the "setup"."""
    stated = [(limit, "item") for limit in limits_in_force(item.limits, item.modification, one)]
    return stated + [(limit, "setup") for limit in limits_in_force(setup.limits if setup else (), 0, one)]
