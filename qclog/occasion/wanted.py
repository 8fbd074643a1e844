"""What an occasion wants next, and what became of a reading."""

from dataclasses import dataclass
from typing import Literal

from qclog.occasion.turning import TurnTo
from qclog.questions.doubts import Doubtful


@dataclass(frozen=True, slots=True)
class Wanted:
    """The reading wanted next. ``clamping`` of ``clampings`` counted from 1; ``angle_deg`` None for a swing.

    ``new_clamping``: the pin has to be clamped anew before; ``returning``: back at zero, to see whether it closes;
    ``check``: it is the check piece that is read, at the start or at the end; ``bodies``: how they are clocked.
    ``turn`` of ``turns``: how often the clamping is read before it is opened, at ``distance_pm``; ``distances``: at how
    many. ``pin`` and ``operator``: what goes in
    and who clamps and reads; ``pin_before`` and ``operator_before``: in the clamping before, '' where there is none.
    """

    clamping: int
    clampings: int
    position: str
    angle_deg: int | None
    reading: int
    readings: int
    new_clamping: bool
    returning: bool
    check: Literal["", "start", "end"] = ""
    bodies: tuple[TurnTo, ...] = ()
    turn: int = 1
    turns: int = 1
    distance_pm: int = 0
    distances: int = 1
    pin: str = ""
    pin_before: str = ""
    operator: str = ""
    operator_before: str = ""

    @property
    def new_turn(self) -> bool:
        """Whether a turn begins with it."""
        return self.reading == 1


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a reading: ``logged`` the clampings that are in the logbook since; ``waits``: a clamping is whole
    and the logbook cannot be reached; ``doubts`` to be answered first."""

    logged: tuple[int, ...] = ()
    waits: bool = False
    doubts: tuple[Doubtful, ...] = ()
