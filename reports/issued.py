"""A statement handed over, in a line: of what it is, where that was measured, and what it says."""

from typing import Protocol

from qclog.records import SWINGS
from reports import numbers
from reports.numbers import METRIC, NumberStyle
from reports.wording import places


class HandedOver(Protocol):
    """Whatever an answer says of a statement that was issued."""

    @property
    def item(self) -> str: ...
    @property
    def setup(self) -> str: ...
    @property
    def position(self) -> str: ...
    @property
    def distance_mm(self) -> float: ...
    @property
    def characteristic(self) -> str: ...
    @property
    def verdict(self) -> str: ...
    @property
    def limit_um(self) -> float | None: ...
    @property
    def lower_limit_um(self) -> float | None: ...
    @property
    def in_sitting(self) -> bool: ...


def about(one: HandedOver) -> str:
    """ "B-945 in LATHE-A, position S", "PP-20, pair difference"."""
    parts = [
        f"{one.item} in {one.setup}" if one.setup else one.item,
        one.position and f"position {one.position}",
        places.what(one.characteristic),
    ]
    return ", ".join(part for part in parts if part)


def verdict(one: HandedOver, style: NumberStyle = METRIC) -> str:
    """ "HOLDS 11 µm", "DOES NOT HOLD 12.00 to 12.05 mm"; of a gap read in one sitting "HOLDS 20 to 60 µm in its
    sitting"."""
    return f"{one.verdict.upper()} {stated_limits(one, style)}{in_its_sitting(one.in_sitting)}"


def in_its_sitting(so: bool) -> str:
    return " in its sitting" if so else ""


def stated_limits(one: HandedOver, style: NumberStyle = METRIC) -> str:
    return limits(one.characteristic, one.lower_limit_um, one.limit_um, style)


def limits(characteristic: str, lower_um: float | None, upper_um: float | None, style: NumberStyle = METRIC) -> str:
    """ "11 µm", "12.00 to 12.05 mm"; "none" where there is none."""
    lower, upper = (None if end is None else round(end * 1e6) for end in (lower_um, upper_um))
    return numbers.limits(lower, upper, swing=characteristic in SWINGS, style=style) or "none"
