"""What to order: for what is scrap, broken or worn out and has no other of its size, and for gaps in a set."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from qclog.logbook.owned import Owned
from qclog.questions.codes import Wanted
from qclog.questions.owned.sizes import Sizes, bought_as, family_of, size_of


@dataclass(frozen=True, slots=True)
class Order:
    """One piece to order.

    ``size_mm``: as it is bought; ``work_to_mm``: the size it is then to be worked to, which makes it a blank, None for
    one used as it comes. ``instead_of``: what it is to replace; ``price``: as on a card.
    """

    kind: str
    system: str
    material: str
    size_mm: float | None
    work_to_mm: float | None
    why: tuple[Wanted, ...]
    instead_of: tuple[str, ...]
    price: str


def reorder(
    owned: Sequence[Owned], found: Iterable[Sizes], *, broken: Sequence[Owned], worn_out: Sequence[Owned]
) -> tuple[Order, ...]:
    """One order for each size wanted, by kind, system and size.

    What is put away as "out" is not wanted again. What has a sound one of its kind and size beside it needs no other.
    """
    why: dict[int, list[Wanted]] = {item.id: [Wanted.SCRAP] for item in owned if item.state == "scrap"}
    for reason, items in ((Wanted.OUT_OF_SERVICE, broken), (Wanted.WORN, worn_out)):
        for item in items:
            why.setdefault(item.id, []).append(reason)
    sound = {(family_of(item), size_of(item)) for item in owned if item.id not in why and item.state != "out"}
    orders: dict[tuple[Any, ...], Order] = {}
    for item in owned:
        covered = size_of(item) is not None and (family_of(item), size_of(item)) in sound
        if item.id in why and item.state != "out" and not covered:
            _add(orders, _instead_of(item, why[item.id]))
    by_code = {item.code: item for item in owned}
    for one in found:
        for missing in one.missing:
            once_had = [by_code[code] for code in (*missing.gone, *missing.bored_out)]
            if not any(item.state == "out" for item in once_had):
                _add(orders, _gap(one, missing.size_mm, once_had))
    return tuple(sorted(orders.values(), key=lambda one: (one.kind, one.system.casefold(), one.size_mm or 0.0)))


def _instead_of(item: Owned, why: Sequence[Wanted]) -> Order:
    bought, size = bought_as(item), size_of(item)
    return Order(
        kind=item.kind,
        system=item.system,
        material=item.material,
        size_mm=None if bought is None else bought / 1e9,
        work_to_mm=None if size is None or size == bought else size / 1e9,
        why=tuple(why),
        instead_of=(item.code,),
        price=item.price,
    )


def _gap(family: Sizes, size_mm: float, once_had: Sequence[Owned]) -> Order:
    """A size that a set lacks; priced as the one that once had it."""
    priced = [item for item in once_had if item.price]
    return Order(
        kind=family.kind,
        system=family.system,
        material=once_had[0].material if once_had else "",
        size_mm=size_mm,
        work_to_mm=None,
        why=(Wanted.MISSING,),
        instead_of=(),
        price=priced[0].price if priced else "",
    )


def _add(orders: dict[tuple[Any, ...], Order], order: Order) -> None:
    """One order for what is wanted for several reasons; what has no size is never the same."""
    size = order.size_mm if order.size_mm is not None else order.instead_of
    key = (order.kind, " ".join(order.system.casefold().split()), size, order.work_to_mm)
    known = orders.get(key)
    if known is not None:
        order = replace(
            known,
            why=tuple(dict.fromkeys((*known.why, *order.why))),
            instead_of=(*known.instead_of, *order.instead_of),
            price=known.price or order.price,
        )
    orders[key] = order
