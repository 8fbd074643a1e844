"""Which of the limits of an item or a setup are in force at a place, and the ends they set to a plain value.

A limit applies at its own distance, or at all distances if it has none; never at the nearest. Those of the newest
modification that has any replace the ones before. A limit of a gap said the other way, radial or diametral, is
carried over.
"""

from collections.abc import Iterable
from math import inf
from typing import Final, Protocol

from qclog.characteristics import DIAMETRAL_GAP, RADIAL_GAP
from qclog.logbook.lookup import Limit
from qclog.records import EVERY_DISTANCE

_PM_PER_UM: Final = 1e6
_PM_PER_TENTH_MM: Final = 100_000_000
_GAPS: Final = {DIAMETRAL_GAP: 1.0, RADIAL_GAP: 0.5}
"""What each is of the diametral gap."""


class Place(Protocol):
    """Where something was measured, and what; ``setup_id`` 0: without a setup."""

    @property
    def setup_id(self) -> int: ...
    @property
    def position(self) -> str: ...
    @property
    def distance_tenths(self) -> int: ...
    @property
    def characteristic(self) -> str: ...


def limits_in_force(limits: Iterable[Limit], modification: int, place: Place) -> list[Limit]:
    """Those of some ``limits`` of one body that are in force at a place, at a modification of it (a setup: 0)."""
    names = _GAPS if place.characteristic in _GAPS else (place.characteristic,)
    same = [x for x in limits if x.characteristic in names and x.modification_number <= modification]
    newest = max((x.modification_number for x in same), default=-1)
    return [
        x
        for x in same
        if x.modification_number == newest
        and x.setup_id in (None, place.setup_id)
        and x.position.casefold() in ("", place.position.casefold())
        and (x.distance_pm == EVERY_DISTANCE or round(x.distance_pm / _PM_PER_TENTH_MM) == place.distance_tenths)
    ]


def ends_um(characteristic: str, limits: Iterable[Limit]) -> tuple[float, float]:
    """The strictest ends that some limits set to a characteristic, µm, infinite where there is none."""
    lower, upper = -inf, inf
    for limit in limits:
        scale = _GAPS.get(characteristic, 1.0) / _GAPS.get(limit.characteristic, 1.0) / _PM_PER_UM
        lower = lower if limit.lower_pm is None else max(lower, limit.lower_pm * scale)
        upper = upper if limit.upper_pm is None else min(upper, limit.upper_pm * scale)
    return lower, upper
