"""What takes a part of some diameter, what of it is left out and why, and which setups stand ready on their machines.

How far an item closes is taken from its card. Where the card says nothing a collet is good for its own size and a
little under; one of the ISO 15488 kind closes a millimetre (from memory), whoever bored it keeps nearer to its size
(common practice).
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from qclog.characteristics import BORE
from qclog.logbook.custody import Out
from qclog.logbook.owned import Owned
from qclog.questions.codes import LOCKING, PUT_AWAY, Unfit
from qclog.questions.judging.values import ValueGroup

HOLDING: Final = ("collet", "jaws", "chuck", "insert", "other")
"""Kinds that hold a part by its outside."""
_MM: Final = 1_000_000_000
_PM_PER_UM: Final = 1e6
_LITTLE_PM: Final = 50_000_000
"""Draw-in and bored collets, jaws: so far below their size they still hold true (common practice)."""
_ISO_15488_PM: Final = (_MM // 2, _MM)
"""What a collet of ISO 15488 closes, up to 3 mm and above (from memory)."""
_BORED_ISO_15488_PM: Final = _MM // 2
_SMALL_PM: Final = 3 * _MM


@dataclass(frozen=True, slots=True)
class Part:
    """What is to be held: its diameter, the run-out it may have so far out, and the length there is to grip, if that
    matters. Lengths in picometres, the run-out in µm."""

    diameter_pm: int
    runout_um: float
    distance_pm: int
    grip_pm: int | None = None

    @property
    def distance_tenths(self) -> int:
        return round(self.distance_pm / (_MM // 10))


def part_of(diameter_mm: float, runout_um: float, distance_mm: float, grip_mm: float | None = None) -> Part:
    """A part whose lengths are given in millimetres."""
    grip = None if grip_mm is None else round(grip_mm * _MM)
    return Part(round(diameter_mm * _MM), runout_um, round(distance_mm * _MM), grip)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something that takes the diameter and is not offered. ``because``: what was noted, as typed. ``distance_mm``,
    ``diameter_mm``: what it was measured at; ``bore_mm``: between what its bore was read; the place is '' where it is
    the item as a whole."""

    item: str
    why: Unfit
    because: str = ""
    setup: str = ""
    position: str = ""
    distance_mm: float | None = None
    diameter_mm: float | None = None
    out: Out | None = None
    bore_mm: tuple[float, float] | None = None


def takes(item: Owned) -> tuple[int, int] | None:
    """The smallest and the largest diameter it takes, picometres; None where no size is known."""
    size = item.size_pm
    on_card = item.closes_to_pm, item.opens_to_pm
    worked = item.worked_to_pm is not None
    if size is None:
        return None if None in on_card else (on_card[0] or 0, on_card[1] or 0)
    low, high = on_card
    if (low is not None and low > size) or (high is not None and high < size):
        low = high = None  # noted before it was worked to its size
    if low is None:
        low = size - _closes(item)
    return low, size if worked or high is None else high


def _closes(item: Owned) -> int:
    if item.kind == "collet" and "15488" in item.system and item.size_pm is not None:
        return _BORED_ISO_15488_PM if item.worked_to_pm is not None else _ISO_15488_PM[item.size_pm > _SMALL_PM]
    return _LITTLE_PM


def takes_part(item: Owned, part: Part) -> bool:
    """Whether it holds by the outside, and takes the diameter."""
    taken = takes(item)
    return item.kind in HOLDING and taken is not None and taken[0] <= part.diameter_pm <= taken[1]


def grips_too_long(item: Owned, part: Part) -> bool:
    """Whether it is known to grip longer than there is to grip."""
    return part.grip_pm is not None and item.grip_pm is not None and item.grip_pm > part.grip_pm


def unfit(item: Owned, out: Out | None, part: Part) -> LeftOut | None:
    """Why an item that takes the diameter is left out wherever it might be used; None where it is not."""
    locked = [finding for finding in item.findings if finding in LOCKING]
    if locked:
        return LeftOut(item.code, Unfit.LOCKED, locked[0])
    if item.state in PUT_AWAY:
        return LeftOut(item.code, Unfit.SCRAP if item.state == "scrap" else Unfit.PUT_AWAY)
    if out is not None and not out.setup:
        return LeftOut(item.code, Unfit.LENT, out=out)
    if item.state == "restricted" and (item.restricted_pm is None or part.runout_um * 1e6 < item.restricted_pm):
        return LeftOut(item.code, Unfit.RESTRICTED)
    if grips_too_long(item, part):
        return LeftOut(item.code, Unfit.GRIP_TOO_LONG)
    return None


def bore_refuses(item: Owned, values: Iterable[ValueGroup], part: Part) -> LeftOut | None:
    """Why an item does not take a part by its bore as it was read, by pins or otherwise; None where it may.

    Both ends count, and what it was read with counts against the claim: refused is only what surely does not go in, or
    is smaller than such a thing closes to.
    """
    part_um = part.diameter_pm / _PM_PER_UM
    for value in values:
        if value.characteristic == BORE:
            low, high, u = value.read_um.low, value.read_um.high, value.uncertainty_um
            bore_mm = (low / 1000, high / 1000)
            if part_um > high + u:
                return LeftOut(item.code, Unfit.BORE_TOO_SMALL, bore_mm=bore_mm)
            if item.closes_to_pm is None and part_um < low - u - _closes(item) / _PM_PER_UM:
                return LeftOut(item.code, Unfit.BORE_TOO_LARGE, bore_mm=bore_mm)
    return None


def standing(setups: Iterable[str], parts: Mapping[int, tuple[str, ...]], mounted: Collection[str]) -> set[str]:
    """The setups that stand ready: no chuck has to be changed for them.

    ``parts``: of each part of a setup the setups it is in; ``mounted``: the setups in which an item is. A setup that
    shares no part with another always stands; of those that share one, those with something mounted, and what is made
    of nothing but their parts.
    """
    made_of: dict[str, set[int]] = {setup: set() for setup in setups}
    for part, where in parts.items():
        for setup in where:
            made_of.setdefault(setup, set()).add(part)
    ready = set()
    for setup, own in made_of.items():
        sharing = [other for other, theirs in made_of.items() if other != setup and own & theirs]
        within = any(other in mounted and own <= made_of[other] for other in sharing)
        if setup in mounted or not sharing or within:
            ready.add(setup)
    return ready
