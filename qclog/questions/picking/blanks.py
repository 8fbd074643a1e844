"""What to bore or to buy where nothing owned holds a part: the blank that costs least, and where boring has held."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np

from qclog.logbook.owned import Owned
from qclog.questions.owned.prices import parse_price
from qclog.questions.owned.sizes import bought_as, family_of, is_odd, size_of
from qclog.questions.picking.fitting import Part, grips_too_long
from qclog.questions.picking.read_places import Level

_BORED: Final = ("collet", "jaws")
_FEW: Final = 3
"""Of a place with fewer items worked on in it little is known."""
_DEAR: Final = Decimal("Infinity")


@dataclass(frozen=True, slots=True)
class BoredThere:
    """A place and what the items worked on in it run there: how many, their least and largest mean swing in µm, and
    how far out that was read."""

    setup: str
    position: str
    items: int
    least_um: float
    most_um: float
    distance_mm: float


@dataclass(frozen=True, slots=True)
class Blank:
    """An owned item to bore. ``why``: "worn out" where it holds nowhere any more, "double" where another has its size,
    else ''."""

    item: str
    kind: str
    system: str
    size_mm: float
    kept_at: str
    price: str
    why: str


@dataclass(frozen=True, slots=True)
class Buy:
    """A blank to order: the largest size its kind is owned in below the diameter; ``price`` as on a card."""

    kind: str
    system: str
    size_mm: float
    price: str


@dataclass(frozen=True, slots=True)
class ToMake:
    """``size_mm``: what to bore to. ``where``: None where nothing is known that was worked on in place and runs within
    the run-out there. ``blank`` is None where nothing owned may be bored for it, ``buy`` where nothing is known of what
    to order."""

    size_mm: float
    blank: Blank | None
    buy: Buy | None
    where: BoredThere | None


def to_make(
    owned: Mapping[int, Owned],
    levels: Iterable[Level],
    part: Part,
    *,
    spare: Collection[int],
    worn_out: Collection[int],
    ready: Collection[str] | None,
) -> ToMake:
    """``spare``: ids of what is in its drawer and may be used; ``worn_out``: of what holds nowhere any more; ``ready``:
    the setups asked for, None for all."""
    items = list(owned.values())
    room: dict[tuple[str, str], int] = {}
    for item in items:
        family = family_of(item)
        room[family] = max(room.get(family, 0), size_of(item) or 0, item.opens_to_pm or 0)
    borable = [
        item
        for item in items
        if item.kind in _BORED
        and (size := size_of(item)) is not None
        and size < part.diameter_pm <= room[family_of(item)]
        and not grips_too_long(item, part)
    ]
    blanks = [item for item in borable if item.id in spare and (item.id in worn_out or not is_odd(item))]
    best = min(blanks, key=lambda item: _cost(item, items, part, worn_out), default=None)
    where = _where(owned, levels, part, ready)
    return ToMake(
        size_mm=part.diameter_pm / 1e9,
        blank=None if best is None else _blank(best, items, worn_out),
        buy=_buy(borable, part) if best is None else None,
        where=where if where is not None and where.least_um <= part.runout_um else None,
    )


def _cost(item: Owned, items: Sequence[Owned], part: Part, worn_out: Collection[int]) -> tuple[object, ...]:
    """What holds nowhere any more costs nothing, then doubles, then the lower price, then the least to bore away."""
    price = parse_price(item.price)
    return (
        item.id not in worn_out,
        not _is_double(item, items),
        _DEAR if price is None else price[0],
        part.diameter_pm - (size_of(item) or 0),
        item.code.casefold(),
    )


def _is_double(item: Owned, items: Sequence[Owned]) -> bool:
    alike = (family_of(item), size_of(item))
    return any(other.id != item.id and (family_of(other), size_of(other)) == alike for other in items)


def _blank(item: Owned, items: Sequence[Owned], worn_out: Collection[int]) -> Blank:
    why = "worn out" if item.id in worn_out else "double" if _is_double(item, items) else ""
    size = size_of(item) or 0
    return Blank(item.code, item.kind, item.system, size / 1e9, item.place, item.price, why)


def _buy(borable: Sequence[Owned], part: Part) -> Buy | None:
    known = [item for item in borable if (size := bought_as(item)) is not None and size < part.diameter_pm]
    if not known:
        return None
    nearest = max(known, key=lambda item: (bought_as(item) or 0, bool(item.price)))
    return Buy(nearest.kind, nearest.system, (bought_as(nearest) or 0) / 1e9, nearest.price)


def _where(
    owned: Mapping[int, Owned], levels: Iterable[Level], part: Part, ready: Collection[str] | None
) -> BoredThere | None:
    """The place where what was worked on in it runs best, at the distance nearest to the one wanted; one where several
    were comes before one where one or two came out well."""
    places: dict[tuple[str, str, int], list[float]] = {}
    for level in levels:
        one, item = level.series, owned[level.series.item_id]
        here = item.kind in _BORED and (item.married_setup, item.married_position) == (one.setup, one.position)
        if here and (ready is None or one.setup in ready):
            places.setdefault((one.setup, one.position, one.distance_tenths), []).append(level.mean_um)
    if not places:
        return None
    nearest = min(abs(distance - part.distance_tenths) for _, _, distance in places)
    near = {place: means for place, means in places.items() if abs(place[2] - part.distance_tenths) == nearest}

    def by_evidence(place: tuple[tuple[str, str, int], list[float]]) -> tuple[object, ...]:
        return len(place[1]) < _FEW, float(np.median(place[1])), place[0]

    (setup, position, distance), means = min(near.items(), key=by_evidence)
    return BoredThere(setup, position, len(means), min(means), max(means), distance / 10)
