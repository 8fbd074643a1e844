"""What there is to choose from, read once: items, setups, who has what; and of what was read the levels of others.

Never all that was read at once: items come in lots (``picking/lot.py``) of so many clampings.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, TypeVar

import sqlalchemy as sa

from qclog.logbook.custody import read_out
from qclog.logbook.figures import Series, count_figures, read_figures
from qclog.logbook.lookup import Register
from qclog.logbook.noting import read_noted
from qclog.logbook.owned import Owned, read_kept_gauges, read_parts
from qclog.logbook.trials import same_bodies
from qclog.notation import parse_clocking
from qclog.questions.known import Known
from qclog.questions.owned.sizes import family_of
from qclog.questions.picking.fitting import Part, standing
from qclog.questions.picking.read_places import Level, as_now, read_places

_AT_ONCE: Final = 100_000
"""Clampings: each takes some 450 bytes while it is worked on."""
_ITEM: Final = 10
"""What is told of an item or a place takes as much as so many clampings."""
_SAME_DIAMETER_MM: Final = 0.05
"""A pin, known to a tenth of a millimetre, so near to the part speaks for it."""

_Some = TypeVar("_Some")
_Place = tuple[str, str]
"""Setup and position."""


class Stock:
    """Everything that choices for one part are made from; ``ready``: the setups that stand ready."""

    def __init__(self, connection: sa.Connection, part: Part) -> None:
        self.connection, self.part, self.known = connection, part, Known(connection)
        self.owned, self.setups = self.known.owned, self.known.setups
        self.by_code = {setup.code: setup for setup in self.setups.values()}
        self.out = read_out(connection)
        self._clampings = count_figures(connection)
        self._clampings_of: dict[int, int] = defaultdict(int)
        for one in self.known.series:
            self._clampings_of[one.item_id] += self._clampings.get(one.id, 0)
        self.series = as_now(self.known.series, self.owned, self.setups)
        self._there: dict[tuple[str, str], dict[_Place, list[Series]]] = defaultdict(lambda: defaultdict(list))
        for one in self.series:
            if one.distance_tenths == part.distance_tenths and not one.clocking:
                self._there[family_of(self.owned[one.item_id])][one.setup, one.position].append(one)
        self._others: dict[tuple[tuple[str, str], _Place], list[Level]] = {}
        self._clocked = _codes_clocked(one for one in self.known.series if one.clocking)
        mounted = {out.setup for out in self.out.values() if out.setup}
        self.ready = standing(self.by_code, read_parts(connection), mounted)
        self.gauges, self.noted = read_kept_gauges(connection), read_noted(connection)
        self._pins = frozenset(pin.text.casefold() for pin in Register(connection).names("pin"))

    def lots(self, items: Iterable[Owned]) -> Iterator[list[Owned]]:
        """Items in their order, so many at once that their clampings are few enough."""
        return _lots(items, lambda item: _ITEM + self._clampings_of[item.id])

    def pin_clocked(self, clocking: str) -> bool:
        """Whether the pin was turned on purpose: such clampings part the chain and say nothing of a part."""
        return bool(clocking) and any(code.casefold() in self._pins for code, _ in parse_clocking(clocking))

    def speaks_for_part(self, diameter_mm: float | None) -> bool:
        """Whether what was read on this diameter speaks for the part; a pin nobody named is taken to fill the bore."""
        if diameter_mm is None:
            return True
        return abs(diameter_mm - self.part.diameter_pm / 1e9) <= _SAME_DIAMETER_MM + 1e-6

    def was_clocked(self, item: Owned) -> bool:
        """Whether it was clamped clocked, or turned as a body of a chain."""
        return item.code.casefold() in self._clocked

    def places_of_alike(self, item: Owned) -> set[_Place]:
        """Where others of its kind and size system were clamped at the distance wanted."""
        there = self._there[family_of(item)]
        return {place for place, series in there.items() if any(one.item_id != item.id for one in series)}

    def others(self, item: Owned, there: _Place) -> list[Level]:
        """Others of its kind and size system at a place, read at the distance wanted, that were not worked on in it:
        those that were show none of its own run-out."""
        family = family_of(item)
        if (family, there) not in self._others:
            series = [one for one in self._there[family][there] if married_to(self.owned[one.item_id]) != there]
            self._others[family, there] = self._levels(series)
        return [level for level in self._others[family, there] if level.series.item_id != item.id]

    def bored_in_place(self) -> list[Level]:
        """What was read, at any distance, of items where they were worked on."""
        return self._levels(
            [one for one in self.series if married_to(self.owned[one.item_id]) == (one.setup, one.position)]
        )

    def _levels(self, series: Sequence[Series]) -> list[Level]:
        return [
            Level(read.series, read.mean_um)
            for some in _lots(series, lambda one: _ITEM + self._clampings.get(one.id, 0))
            for read in read_places(some, read_figures(self.connection, [one.id for one in some]))
        ]

    def sound(self, gauge_id: int) -> str:
        """The code of a gauge to measure with again; '' where none was named, or it was found wrong or out."""
        gauge = self.gauges.get(gauge_id)
        return "" if gauge is None or gauge.wrong_since or gauge.check_failed else gauge.code


def _lots(things: Iterable[_Some], clampings: Callable[[_Some], int]) -> Iterator[list[_Some]]:
    some: list[_Some] = []
    size = 0
    for thing in things:
        if some and size + clampings(thing) > _AT_ONCE:
            yield some
            some, size = [], 0
        some.append(thing)
        size += clampings(thing)
    if some:
        yield some


def _codes_clocked(series: Iterable[Series]) -> set[str]:
    """Of clocked series the codes, folded, of what was clamped and of the bodies turned."""
    found = {one.item.casefold() for one in series}
    return found.union(*(same_bodies(clocking) for clocking in {one.clocking for one in series}))


def married_to(item: Owned) -> tuple[str, str]:
    """The setup and position it was worked on in, '' and '' where it was in none."""
    return item.married_setup, item.married_position
