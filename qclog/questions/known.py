"""What is known of items, each thing read once: several questions about them ask for the same.

Of a large logbook never all figures at once: its items come in parts of so many clampings, each with all that is known
of it, so that what a question about everything holds in memory does not grow with what was read.
"""

from collections.abc import Collection, Iterator, Sequence
from functools import cached_property
from itertools import groupby
from typing import Final

import sqlalchemy as sa

from qclog.characteristics import known as characteristic
from qclog.logbook.figures import Figures, Series, count_figures, read_figures, read_series
from qclog.logbook.owned import Owned, OwnedSetup, read_owned, read_setups
from qclog.questions.judging.gauging import Gauges, read_gauges_of
from qclog.questions.judging.lending import Lenders

_AT_ONCE: Final = 100_000
"""Clampings: each takes some 450 bytes while it is worked on."""


class Known:
    """Some items or, with None, all of them, as they are within one transaction; read when it is first asked for.

    ``whole``: what these items are a part of; what is known of all is read there.
    """

    def __init__(
        self, connection: sa.Connection, items: Sequence[int] | None = None, whole: "Known | None" = None
    ) -> None:
        self.connection, self.items, self.whole = connection, items, whole or self

    @property
    def named(self) -> bool:
        """Whether these items were asked about, and not everything."""
        return self.whole.items is not None

    @cached_property
    def owned(self) -> dict[int, Owned]:
        if self.whole is not self and self.items is not None:
            return {item: self.whole.owned[item] for item in self.items}
        return read_owned(self.connection, self.items)

    @cached_property
    def setups(self) -> dict[int, OwnedSetup]:
        return read_setups(self.connection) if self.whole is self else self.whole.setups

    @cached_property
    def gauges(self) -> Gauges:
        """What anything was read with."""
        return read_gauges_of(self.connection) if self.whole is self else self.whole.gauges

    @cached_property
    def series(self) -> list[Series]:
        """Those of the items, at any modification, in the order of items."""
        return read_series(self.connection, items=self.items)

    @cached_property
    def figures(self) -> Figures:
        """The figures of all these series."""
        chosen = None if self.items is None else [one.id for one in self.series]
        return read_figures(self.connection, chosen)

    @cached_property
    def lenders(self) -> Lenders:
        """Those that lend to items asked about alone, or some after the other."""
        return Lenders(self.connection, self.items or (), self.gauges) if self.whole is self else self.whole.lenders

    @cached_property
    def sizes(self) -> dict[int, int]:
        """How many turns were read in each series of a whole logbook."""
        return count_figures(self.connection)

    def parts(self, apart: Collection[int] = ()) -> Iterator["Known"]:
        """These items but for some set ``apart``, so many at once that their clampings are few enough; itself where
        they all are."""
        if self.items is not None:
            yield self
            return
        chosen = [one for one in self.series if one.item_id not in apart]
        if not apart and sum(self.sizes.values()) <= _AT_ONCE:
            yield self
            return
        some: list[Series] = []
        clampings = 0
        for _, of_item in groupby(chosen, key=lambda one: one.item_id):
            series = list(of_item)
            size = sum(self.sizes.get(one.id, 0) for one in series)
            if some and clampings + size > _AT_ONCE:
                yield self._part(some)
                some, clampings = [], 0
            some += series
            clampings += size
        yield self._part(some)

    def _part(self, series: list[Series]) -> "Known":
        part = Known(self.connection, list(dict.fromkeys(one.item_id for one in series)), self)
        part.series = series
        return part

    def current(self, setup: str | None = None, position: str | None = None) -> list[Series]:
        """The series of items as they are now, of swings and of plain values; in one setup or at one position of it. A
        gap as it was before it was bonded is among them: it cannot be read again."""
        return [
            one
            for one in self._current
            if (setup is None or one.setup == setup)
            and (position is None or one.position.casefold() == position.casefold())
        ]

    @cached_property
    def _current(self) -> list[Series]:
        owned, before = self.owned, self._before_bonding
        return [
            one
            for one in self.series
            if one.item_id in owned and (one.modification == owned[one.item_id].modification or one.id in before)
        ]

    @cached_property
    def _before_bonding(self) -> set[int]:
        """The gaps of items that were bonded, as read last before, where they were not read since."""
        gaps = [one for one in self.series if characteristic(one.characteristic).once and one.item_id in self.owned]
        since = {one.item_id for one in gaps if one.modification >= self.owned[one.item_id].bonded}
        return {
            one.id
            for one in gaps
            if one.item_id not in since and one.modification == self.owned[one.item_id].bonded - 1
        }
