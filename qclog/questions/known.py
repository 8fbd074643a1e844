"""What is known of items, each thing read once: several questions about them ask for the same."""

from collections.abc import Sequence
from functools import cached_property

import sqlalchemy as sa

from qclog.characteristics import known as characteristic
from qclog.logbook.figures import Figures, Series, read_figures, read_series
from qclog.logbook.owned import Owned, OwnedSetup, read_owned, read_setups


class Known:
    """Some items or, with None, all of them, as they are within one transaction; read when it is first asked for."""

    def __init__(self, connection: sa.Connection, items: Sequence[int] | None = None) -> None:
        self.connection, self.items = connection, items

    @cached_property
    def owned(self) -> dict[int, Owned]:
        return read_owned(self.connection, self.items)

    @cached_property
    def setups(self) -> dict[int, OwnedSetup]:
        return read_setups(self.connection)

    @cached_property
    def series(self) -> list[Series]:
        """Those of the items, at any modification."""
        return read_series(self.connection, items=self.items)

    @cached_property
    def figures(self) -> Figures:
        """The figures of all these series."""
        chosen = None if self.items is None else [one.id for one in self.series]
        return read_figures(self.connection, chosen)

    def current(self, setup: str | None = None, position: str | None = None) -> list[Series]:
        """The series of items as they are now, of swings and of plain values; in one setup or at one position of it. A
        gap as it was before it was bonded is among them: it cannot be read again."""
        before = self._before_bonding()
        return [
            one
            for one in self.series
            if one.item_id in self.owned
            and (one.modification == self.owned[one.item_id].modification or one.id in before)
            and (setup is None or one.setup == setup)
            and (position is None or one.position.casefold() == position.casefold())
        ]

    def _before_bonding(self) -> set[int]:
        """The gaps of items that were bonded, as read last before, where they were not read since."""
        gaps = [one for one in self.series if characteristic(one.characteristic).once and one.item_id in self.owned]
        since = {one.item_id for one in gaps if one.modification >= self.owned[one.item_id].bonded}
        return {
            one.id
            for one in gaps
            if one.item_id not in since and one.modification == self.owned[one.item_id].bonded - 1
        }
