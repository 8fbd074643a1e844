"""Some items of the stock, with all that was read of them: so many at once as are worked on together."""

from collections import defaultdict
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from qclog.logbook.figures import in_order, read_figures, read_newest
from qclog.logbook.owned import Owned
from qclog.logbook.tightening import read_torques
from qclog.particulars import PICTURE
from qclog.questions.assess import told_in
from qclog.questions.changing.changes import Changes
from qclog.questions.codes import Ground
from qclog.questions.gathered import gather
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.questions.known import Known
from qclog.questions.picking.choices import Choice
from qclog.questions.picking.read_places import Read, as_now, read_places, shop_scatters
from qclog.questions.picking.stock import Stock
from qclog.questions.places import Place, place_of
from qclog.records import RUNOUT
from qclog.statistics.bounding.sittings import ShopScatter

Where = tuple[str, str, str]
"""Setup, position and clocking."""


class Lot:
    """Of some items what is told of them, their swings held against the run-out wanted, how they change, and the
    clampings behind it. ``full``: every choice is told in full, see ``pick``."""

    def __init__(self, stock: Stock, items: Sequence[Owned], *, full: bool) -> None:
        self.stock, self.items, self.full = stock, items, full
        ids = [item.id for item in items]
        self._known = known = Known(stock.connection, ids, stock.known)
        self._gathered = gathered = gather(known)
        told = told_in(known, gathered, limit_um=stock.part.runout_um)
        self.groups: dict[int, list[Group]] = defaultdict(list)
        for one, group in told.groups:
            if group.characteristic == RUNOUT:
                self.groups[one.item_id].append(group)
        self.values: dict[int, list[ValueGroup]] = defaultdict(list)
        for one, value in told.values:
            self.values[one.item_id].append(value)
        self.changes: dict[int, dict[Place, Changes]] = defaultdict(dict)
        for found in gathered.changes.values():
            self.changes[found.series.item_id][place_of(found.series)] = found
        self._series = as_now(known.series, known.owned, known.setups)
        self.reads = {read.series.id: read for read in read_places(self._series, known.figures)}
        self._of_item: dict[int, list[Read]] = defaultdict(list)
        for read in self.reads.values():
            self._of_item[read.series.item_id].append(read)
        self._newest = read_newest(stock.connection, gathered.newest)
        self._torques = read_torques(stock.connection, ids)

    def reads_of(self, item: Owned, where: Where) -> list[Read]:
        """All that was read of an item at a place, at any distance."""
        return [
            read
            for read in self._of_item[item.id]
            if (read.series.setup, read.series.position, read.series.clocking) == where
        ]

    def reads_at_distance(self, item: Owned) -> list[Read]:
        """What was read of an item at the distance wanted and speaks for the part, anywhere."""
        return [
            read
            for read in self._of_item[item.id]
            if read.series.distance_tenths == self.stock.part.distance_tenths
            and self.stock.speaks_for_part(read.diameter_mm)
            and not self.stock.pin_clocked(read.series.clocking)
        ]

    def shop(self, read: Read, *, vectors: bool) -> ShopScatter | None:
        """The scatter of others that its verdict leant on; None where they are too few."""
        found = (self._shop_of_vectors if vectors else self._shop_of_swings)[read.series.id]
        return found if found.df_between else None

    @cached_property
    def _shop_of_vectors(self) -> dict[int, ShopScatter]:
        return shop_scatters(*self._with_lenders, vectors=True)

    @cached_property
    def _shop_of_swings(self) -> dict[int, ShopScatter]:
        return shop_scatters(*self._with_lenders, vectors=False)

    @cached_property
    def _with_lenders(self) -> tuple[list[Read], dict[int, Owned]]:
        """What was read, of these items and of those that lend to them; and whose it is."""
        known = self._known
        lent = known.lenders.lent_to(self._series, known.owned, self._gathered.sums_of(self._series))
        if lent is None:
            return list(self.reads.values()), known.owned
        owned = lent.items | known.owned
        figures = read_figures(known.connection, [one.id for one in lent.series])
        lenders = read_places(as_now(lent.series, owned, known.setups), figures)
        reads = self.reads | {read.series.id: read for read in lenders}
        return [reads[one.id] for one in in_order(read.series for read in reads.values())], owned

    def choice(self, item: Owned, where: Where, reads: Sequence[Read], **told: Any) -> Choice:
        """A choice that rests on some reads; ``told``: what is found of it, by the fields of ``Choice``."""
        stock = self.stock
        newest = max((self._newest[read.series.id] for read in reads), key=lambda one: one.day)
        out = stock.out.get(item.id)
        setup, position, clocking = where
        torques = [self._torques[read.series.id] for read in reads if read.series.id in self._torques]
        here = told["ground"] != Ground.OTHER_PLACE
        pin = stock.gauges.get(newest.pin_id)
        return Choice(
            item=item.code,
            kind=item.kind,
            size_mm=None if item.size_pm is None else item.size_pm / 1e9,
            kept_at=item.place,
            worked=item.modification > 0,
            mounted=out is not None and out.setup == setup,
            setup=setup,
            setup_revision=stock.by_code[setup].revision,
            position=position,
            clocking=clocking,
            distances_mm=tuple(read.series.distance_tenths / 10 for read in reads),
            diameter_mm=reads[0].diameter_mm,
            clampings=reads[0].swings.size,
            sittings=int(np.unique(reads[0].sitting).size),
            last_measured=newest.day,
            torque=torques[0] if torques and here else "",
            holder=stock.noted.get(stock.by_code[setup].id, {}),
            picture=stock.noted.get(item.id, {}).get(PICTURE, ""),
            pin=stock.sound(newest.pin_id),
            pin_mm=None if pin is None or pin.size_pm is None else pin.size_pm / 1e9,
            instrument=stock.sound(newest.instrument_id),
            findings=item.findings,
            **told,
        )
