"""What there is to choose from, read once: items, setups, clampings, who has what, how things were tightened."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.logbook.custody import read_out
from qclog.logbook.figures import Series, read_figures, read_newest, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.noting import read_noted
from qclog.logbook.owned import Owned, read_kept_gauges, read_owned, read_parts, read_setups
from qclog.logbook.tightening import read_torques
from qclog.logbook.trials import same_bodies
from qclog.notation import parse_clocking
from qclog.particulars import PICTURE
from qclog.questions.codes import Ground
from qclog.questions.owned.sizes import family_of
from qclog.questions.picking.choices import Choice
from qclog.questions.picking.fitting import Part, standing
from qclog.questions.picking.read_places import Read, read_places

_SAME_DIAMETER_MM: Final = 0.05
"""A pin, known to a tenth of a millimetre, so near to the part speaks for it."""

Where = tuple[str, str, str]
"""Setup, position and clocking."""


class Stock:
    """Everything that choices for one part are made from; ``ready``: the setups that stand ready."""

    def __init__(self, connection: sa.Connection, part: Part) -> None:
        self.connection, self.part = connection, part
        self.owned, self.setups = read_owned(connection), read_setups(connection)
        self.by_code = {setup.code: setup for setup in self.setups.values()}
        self.out = read_out(connection)
        figures = read_figures(connection)
        self.reads = read_places(connection, self.owned, self.setups, figures)
        self._of_item: dict[int, list[Read]] = defaultdict(list)
        self._of_family: dict[tuple[str, str], list[Read]] = defaultdict(list)
        self._items_at: dict[tuple[str, str], dict[tuple[str, str], set[int]]] = defaultdict(lambda: defaultdict(set))
        for read in self.reads.values():
            self._of_item[read.series.item_id].append(read)
            if read.series.distance_tenths == part.distance_tenths and not read.series.clocking:
                family = family_of(self.owned[read.series.item_id])
                self._of_family[family].append(read)
                self._items_at[family][read.place].add(read.series.item_id)
        self._clocked = _codes_clocked(read_series(connection, clocked=True))
        mounted = {out.setup for out in self.out.values() if out.setup}
        self.ready = standing(self.by_code, read_parts(connection), mounted)
        self._newest, self._torques = read_newest(connection, figures), read_torques(connection)
        self._gauges, self._noted = read_kept_gauges(connection), read_noted(connection)
        self._pins = frozenset(pin.text.casefold() for pin in Register(connection).names("pin"))

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
            if read.series.distance_tenths == self.part.distance_tenths
            and self.speaks_for_part(read.diameter_mm)
            and not self.pin_clocked(read.series.clocking)
        ]

    def places_of_alike(self, item: Owned) -> set[tuple[str, str]]:
        """Where others of its kind and size system were read at the distance wanted."""
        return {place for place, items in self._items_at[family_of(item)].items() if items - {item.id}}

    def others(self, item: Owned, there: tuple[str, str]) -> list[Read]:
        """Others of its kind and size system at a place, read at the distance wanted, that were not worked on in it:
        those that were show none of its own run-out."""
        return [
            read
            for read in self._of_family[family_of(item)]
            if read.series.item_id != item.id
            and read.place == there
            and married_to(self.owned[read.series.item_id]) != there
        ]

    def choice(self, item: Owned, where: Where, reads: Sequence[Read], **told: Any) -> Choice:
        """A choice that rests on some reads; ``told``: what is found of it, by the fields of ``Choice``."""
        newest = max((self._newest[read.series.id] for read in reads), key=lambda one: one.day)
        out = self.out.get(item.id)
        setup, position, clocking = where
        torques = [self._torques[read.series.id] for read in reads if read.series.id in self._torques]
        here = told["ground"] != Ground.OTHER_PLACE
        pin = self._gauges.get(newest.pin_id)
        return Choice(
            item=item.code,
            kind=item.kind,
            size_mm=None if item.size_pm is None else item.size_pm / 1e9,
            kept_at=item.place,
            worked=item.modification > 0,
            mounted=out is not None and out.setup == setup,
            setup=setup,
            setup_revision=self.by_code[setup].revision,
            position=position,
            clocking=clocking,
            distances_mm=tuple(read.series.distance_tenths / 10 for read in reads),
            diameter_mm=reads[0].diameter_mm,
            clampings=reads[0].swings.size,
            sittings=int(np.unique(reads[0].sitting).size),
            last_measured=newest.day,
            torque=torques[0] if torques and here else "",
            holder=self._noted.get(self.by_code[setup].id, {}),
            picture=self._noted.get(item.id, {}).get(PICTURE, ""),
            pin=self._sound(newest.pin_id),
            pin_mm=None if pin is None or pin.size_pm is None else pin.size_pm / 1e9,
            instrument=self._sound(newest.instrument_id),
            findings=item.findings,
            **told,
        )

    def _sound(self, gauge_id: int) -> str:
        """The code of a gauge to measure with again; '' where none was named, or it was found wrong or out."""
        gauge = self._gauges.get(gauge_id)
        return "" if gauge is None or gauge.wrong_since or gauge.check_failed else gauge.code


def _codes_clocked(series: Iterable[Series]) -> set[str]:
    """Of clocked series the codes, folded, of what was clamped and of the bodies turned."""
    found = {one.item.casefold() for one in series}
    return found.union(*(same_bodies(clocking) for clocking in {one.clocking for one in series}))


def married_to(item: Owned) -> tuple[str, str]:
    """The setup and position it was worked on in, '' and '' where it was in none."""
    return item.married_setup, item.married_position
