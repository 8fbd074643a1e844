"""Whose repeat may speak for whom: items of the same known kind and size class, measured alike.

Only the newest history of an item lends its repeat, and lends it once. Jaws are bored anew for every job, and how much
a clamping moves is the chuck's: there every history lends, of any size, and those before of the same jaws too.
"""

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.figures import Series, read_series
from qclog.logbook.owned import Owned, read_owned
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


def others_alike(
    connection: sa.Connection, wanted: Sequence[Series], items: Mapping[int, Owned]
) -> tuple[list[Series], dict[int, Owned]]:
    """Series of items not among ``items`` that were measured like some of ``wanted``, and those items."""
    labels = {label(one, items) for one in wanted} - {None}
    if not labels:
        return [], {}
    found = read_series(connection, revisions=sorted({one.revision_id for one in wanted}))
    theirs = read_owned(connection, sorted({one.item_id for one in found} - set(items)))
    alike = [one for one in found if is_current(one, theirs) and label(one, theirs) in labels]
    return alike + before(found, {**items, **theirs}, labels), theirs


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


def size_class(size_mm: float) -> int:
    """The number of the bore range of the collet standard that a size lies in."""
    return sum(size_mm > end for end in _ISO_15488_BORES_MM)


def pools(
    series: Sequence[Series], items: Mapping[int, Owned], clampings: npt.NDArray[np.int64]
) -> npt.NDArray[np.int64]:
    """A number for each series; those with the same number lend each other their repeat."""
    shared: dict[tuple[Any, ...], int] = {}
    lending: set[tuple[Any, ...]] = set()
    every = {one.id for one in series if items[one.item_id].kind == JAWS}
    numbers = np.arange(len(series)) + len(series)
    for i in np.argsort(-clampings, kind="stable"):
        one = series[i]
        measured_alike = label(one, items)
        lender = (measured_alike, one.item_id, one.modification if one.id in every else -1)
        if measured_alike is None or lender in lending:
            continue
        lending.add(lender)
        numbers[i] = shared.setdefault(measured_alike, len(shared))
    return numbers
