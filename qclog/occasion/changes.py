"""Another pin or another person than planned, from now on or in one clamping alone; and what is left of a plan then."""

import dataclasses
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal, get_args

from qclog.errors import DamagedError
from qclog.occasion.plan import Stop

What = Literal["pin", "operator"]
_ALONE: Final = "alone"
_FROM_NOW_ON: Final = "from now on"


@dataclass(frozen=True, slots=True)
class Change:
    """``now`` in place of ``planned``, a pin or the person who clamps and reads; ``alone``: in the clamping under way,
    else in all that are left."""

    what: What
    planned: str
    now: str
    alone: bool

    @property
    def text(self) -> str:
        """As it stands in a journal."""
        return "\t".join((self.what, self.planned, self.now, _ALONE if self.alone else _FROM_NOW_ON))


def change_of(text: str) -> Change:
    """As a journal has it. Raises DamagedError."""
    for what in get_args(What):
        if text.startswith(f"{what}\t") and text.count("\t") == 3:
            _, planned, now, span = text.split("\t")
            return Change(what, planned, now, span == _ALONE)
    raise DamagedError(f"A journal says that {text!r} changed.", "Go on with the qclog that wrote it.")


def changed(stop: Stop, changes: Iterable[Change]) -> Stop:
    """A clamping with another pin or by another person than planned, the newest change winning."""
    pin, operator = stop.pin, stop.operator
    for change in changes:
        if change.what == "pin" and change.planned == stop.pin:
            pin = change.now
        elif change.what == "operator" and change.planned == stop.operator:
            operator = change.now
    return dataclasses.replace(stop, pin=pin, operator=operator)


def left_to_make(order: Sequence[Stop], made: Iterable[Stop], changes: Sequence[Change]) -> list[Stop]:
    """What is left of a plan, as planned; one that was struck out meanwhile is made again.

    ``changes`` from now on: what was made with them stands for what was planned. What was made and neither planned nor
    changed to is one more.
    """
    there = Counter(made)
    left = []
    for stop in order:
        for one in (stop, changed(stop, changes)):
            if there[one]:
                there[one] -= 1
                break
        else:
            left.append(stop)
    return left
