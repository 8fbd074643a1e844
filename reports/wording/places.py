"""Where something was measured."""

from collections.abc import Sequence
from typing import Final, Protocol

from qclog.records import FACE_RUNOUT, RUNOUT

_NAMES: Final = {RUNOUT: "run-out", FACE_RUNOUT: "face run-out"}


class Located(Protocol):
    """Whatever an answer says of one place."""

    @property
    def setup(self) -> str: ...
    @property
    def position(self) -> str: ...
    @property
    def clocking(self) -> str: ...
    @property
    def distance_mm(self) -> float: ...
    @property
    def diameter_mm(self) -> float | None: ...
    @property
    def characteristic(self) -> str: ...


def named(characteristic: str) -> str:
    """A characteristic as it is written in a sentence."""
    return _NAMES.get(characteristic, characteristic)


def what(characteristic: str) -> str:
    """The same, '' of run-out, which goes without saying."""
    return "" if characteristic == RUNOUT else named(characteristic)


def read_on(characteristic: str, diameter_mm: float | None) -> str:
    """As ``what``, a face run-out with the circle it was read on: "face run-out on 60 mm"."""
    circle = f" on {diameter_mm:g} mm" if characteristic == FACE_RUNOUT and diameter_mm else ""
    return what(characteristic) + circle


def out(distance_mm: float, characteristic: str) -> str:
    """ "16 mm out"; '' of what is no run-out and was read at the front face."""
    return f"{distance_mm:g} mm out" if distance_mm or characteristic == RUNOUT else ""


def pins(sizes_mm: Sequence[float]) -> str:
    """ "7.348 mm", or from the smallest to the largest of several: "7.345 to 7.348 mm"; '' where none is known."""
    ends = dict.fromkeys(f"{size:g}" for size in (*sizes_mm[:1], *sizes_mm[-1:]))
    return f"{' to '.join(ends)} mm" if ends else ""


def place(group: Located, among: Sequence[Located] = ()) -> str:
    """Where a group was measured, in words: "L2, position A, 16 mm out"; with the pin's diameter where another group
    ``among`` these was measured at the same place with another pin."""
    name = _place(group)
    if group.characteristic == FACE_RUNOUT:
        return name
    if any(other.diameter_mm != group.diameter_mm and _place(other) == name for other in among):
        return f"{name}, on {group.diameter_mm:g} mm" if group.diameter_mm is not None else f"{name}, pin not named"
    return name


def _place(group: Located) -> str:
    parts = [group.setup]
    if group.position:
        parts.append(f"position {group.position}")
    if group.clocking:
        parts.append(f"clocked {group.clocking}")
    parts += [out(group.distance_mm, group.characteristic), read_on(group.characteristic, group.diameter_mm)]
    return ", ".join(part for part in parts if part)
