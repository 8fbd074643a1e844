"""Which series were measured alike: of the same known kind and size class, in one setup revision at one place.

Jaws are bored anew for every job, and how much a clamping moves is the chuck's: there every history is alike, of any
size, and those before of the same jaws too.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

from qclog.logbook.figures import Series
from qclog.logbook.owned import Owned
from qclog.records import SWINGS

JAWS: Final = "jaws"
_ISO_15488_BORES_MM: Final = (1.6, 3, 6, 10, 18, 26)
"""Upper ends of the bore ranges that the collet standard gives one limit each; used as size classes."""


def is_current(one: Series, items: Mapping[int, Owned]) -> bool:
    """Whether a series shows swings of the item as it is now and is used."""
    return is_as_now(one, items) and not one.tried


def is_as_now(one: Series, items: Mapping[int, Owned]) -> bool:
    """Whether a series shows swings of the item as it is now, be it only to find out how to clock it."""
    item = items.get(one.item_id)
    return item is not None and one.modification == item.modification and one.characteristic in SWINGS


def before(series: Sequence[Series], items: Mapping[int, Owned], labels: Collection[Any]) -> list[Series]:
    """The swings of jaws as they were bored before, measured like some that have these labels."""
    return [
        one
        for one in series
        if one.item_id in items
        and items[one.item_id].kind == JAWS
        and one.modification != items[one.item_id].modification
        and one.characteristic in SWINGS
        and label(one, items) in labels
    ]


def label(one: Series, items: Mapping[int, Owned]) -> tuple[Any, ...] | None:
    """What two series share when one may speak for the other; None where kind or size is not known."""
    item = items[one.item_id]
    place = (one.revision_id, one.position, one.clocking, one.distance_tenths, one.characteristic)
    if item.kind == JAWS:
        return (JAWS, *place)
    if item.kind == "other" or item.size_pm is None:
        return None
    return (item.kind, size_class(item.size_pm / 1e9), *place)


def frame(one: Series) -> tuple[int, str]:
    """What series share whose vectors stand in one frame: the setup revision and the position."""
    return one.revision_id, one.position


def where_of(key: tuple[Any, ...]) -> tuple[Any, ...]:
    """Where those with a label or in a frame were measured: a label without kind and size, a frame as it is."""
    return key[-5:]


def size_class(size_mm: float) -> int:
    """The number of the bore range of the collet standard that a size lies in."""
    return sum(size_mm > end for end in _ISO_15488_BORES_MM)
