"""What a place is known by, in the same words in every answer about one."""

from dataclasses import dataclass
from typing import NamedTuple

from qclog.logbook.figures import Series


class Place(NamedTuple):
    """One item in one revision of a setup, at one position, clocking and distance, on one pin, and what is read there.

    ``diameter_mm``: of the pin, None where that is not known.
    """

    item: str
    setup: str
    setup_revision: int
    position: str
    clocking: str
    distance_mm: float
    diameter_mm: float | None
    characteristic: str


@dataclass(frozen=True, slots=True)
class AtPlace:
    """An answer about one place: its fields, and with them the keys of its document, begin with those of the place."""

    item: str
    setup: str
    setup_revision: int
    position: str
    clocking: str
    distance_mm: float
    diameter_mm: float | None
    characteristic: str

    @property
    def place(self) -> Place:
        """Where it was measured."""
        return Place(
            self.item,
            self.setup,
            self.setup_revision,
            self.position,
            self.clocking,
            self.distance_mm,
            self.diameter_mm,
            self.characteristic,
        )


def place_of(one: Series) -> Place:
    """Where a series was measured."""
    return Place(
        one.item,
        one.setup,
        one.revision,
        one.position,
        one.clocking,
        one.distance_tenths / 10,
        None if one.diameter_tenths < 0 else one.diameter_tenths / 10,
        one.characteristic,
    )
