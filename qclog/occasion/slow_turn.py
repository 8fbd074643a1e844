"""A slow turn by hand, read from a stream: when it is enough, and the swing it comes to as it would be typed."""

from dataclasses import dataclass
from typing import Final

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.marked_turn import read_marked_turn
from qclog.statistics.turn.slow_turn import SlowTurn, read_slow_turn

ENOUGH_HALF_TURNS: Final = 3
"""Half turns seen from high to low spot: a turn and a half, with the way to the first of them."""
ENOUGH_MARKS: Final = 2
MOST_READINGS: Final = 200_000
_FINE_UM: Final = 1.0
_WIDEST_DEG: Final = 60.0
"""A high spot that is known no better than this is not worth keeping."""


@dataclass(frozen=True, slots=True)
class Captured:
    """A swing as it would be typed, "5.9um" or "5.9um@120±25"; its standard uncertainty; codes of what limits it."""

    text: str
    u_um: float
    caveats: tuple[str, ...]


def swing_text(swing_um: float, resolution_um: float, high_spot_deg: float | None, within_deg: float) -> str | None:
    """A swing as it would be typed, with the high spot where one is given; None if that is known too badly to keep."""
    text = f"{swing_um:.{1 if resolution_um >= _FINE_UM else 2}f}um"
    if high_spot_deg is None:
        return text
    return f"{text}@{round(high_spot_deg) % 360}\u00b1{within_deg:.0f}" if within_deg <= _WIDEST_DEG else None


class SlowTurnCapture:
    """The readings of one slow turn; ``resolution_um``: the step they are shown in."""

    def __init__(self, resolution_um: float) -> None:
        self._resolution_um = resolution_um
        self._readings: list[float] = []
        self._marks: list[int] = []

    @property
    def readings(self) -> int:
        return len(self._readings)

    @property
    def marks(self) -> int:
        return len(self._marks)

    def add(self, reading_um: float) -> None:
        if len(self._readings) < MOST_READINGS:
            self._readings.append(reading_um)

    @property
    def quarters(self) -> int:
        """How far it has come, in quarters of what is enough."""
        seen = self.seen()
        return min(4 * seen.half_turns // ENOUGH_HALF_TURNS, 4) if seen is not None else 0

    def mark(self) -> None:
        """The spindle's mark passes the indicator now; a second time at the same reading it is the same pass."""
        if self._readings and self._marks[-1:] != [len(self._readings) - 1]:
            self._marks.append(len(self._readings) - 1)

    def seen(self) -> SlowTurn | None:
        """What the readings show so far; None before the first."""
        return read_slow_turn(self._readings, resolution_um=self._resolution_um) if self._readings else None

    def enough(self) -> bool:
        """Whether a turn and a half was seen, and if it was marked the mark passed twice."""
        if 0 < self.marks < ENOUGH_MARKS:
            return False
        seen = self.seen()
        return seen is not None and seen.complete and seen.half_turns >= ENOUGH_HALF_TURNS

    def captured(self) -> Captured:
        """The swing. Raises NotAnswerableError where less than a turn was seen."""
        seen = self.seen()
        if seen is None or not seen.complete:
            raise NotAnswerableError(
                "Less than one full turn was seen.", "Turn again, one way and slowly, a turn and a half or more."
            )
        plain = swing_text(seen.swing_um, self._resolution_um, None, 0.0)
        assert plain is not None
        if not self._marks:
            return Captured(plain, seen.u_swing_um, seen.caveats)
        try:
            marked = read_marked_turn(self._readings, self._marks, resolution_um=self._resolution_um)
        except NotAnswerableError:
            return Captured(plain, seen.u_swing_um, (*seen.caveats, "marks_not_used"))
        text = swing_text(seen.swing_um, self._resolution_um, marked.high_spot_deg, marked.high_spot_within_deg)
        caveats = marked.caveats if text else (*marked.caveats, "marks_not_used")
        return Captured(text or plain, seen.u_swing_um, caveats)
