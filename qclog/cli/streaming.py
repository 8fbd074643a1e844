"""A stream while the spindle is turned by hand: the value that stands there at a press, or a whole slow turn."""

from collections import deque
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from instruments.records import Reading
    from qclog.cli.screen import Screen
    from qclog.occasion.slow_turn import SlowTurnCapture

FRESH_SECONDS: Final = 0.5
_WATCHED_SECONDS: Final = 12.0
_WATCHED_APART: Final = 0.005
_WATCH_EVERY: Final = 1.0
_LOOK_EVERY: Final = 0.5
_SPELT: Final = {"tenths": " tenths of a thou"}


class Stream:
    """``whole_turns``: a press begins a slow turn and marks the spindle's zero; else it takes the newest value.

    ``press`` and ``add`` return the reading as it would be typed, once there is one. All times are those of the
    readings, so that a recording gives the same.
    """

    def __init__(self, screen: "Screen", *, whole_turns: bool) -> None:
        self._screen = screen
        self._whole_turns = whole_turns
        self._watched: deque[Reading] = deque()
        self._newest: Reading | None = None
        self._widest_um = 1.0
        self._capture: SlowTurnCapture | None = None
        self._half_turns = 0
        self._looked = self._watched_at = float("-inf")
        self._power_on = False

    def add(self, reading: "Reading") -> str | None:
        """One more reading."""
        from reports import occasion

        self._newest = reading
        value = _um(reading)
        self._widest_um = max(self._widest_um, abs(value))
        self._watch(reading)
        if self._capture is not None and not self._power_on:
            self._capture.add(value)
            if reading.time - self._looked >= _LOOK_EVERY:
                self._looked = reading.time
                seen = self._capture.seen()
                self._half_turns = seen.half_turns if seen is not None else 0
                if self._capture.enough():
                    return self._captured()
        counted = (self._capture.readings, self._half_turns) if self._capture is not None else None
        self._screen.follow(occasion.live(value, self._widest_um, counted))
        return None

    def press(self, now: float) -> str | None:
        """Enter, or a foot switch that types it, at ``now``."""
        from qclog.occasion.slow_turn import SlowTurnCapture
        from reports import occasion

        if self._power_on:
            self._screen.say(occasion.POWER_ON, bells=2)
            return None
        newest = self._newest
        if newest is None or now - newest.time > FRESH_SECONDS:
            self._screen.say(occasion.SILENT, bells=2)
            return None
        if not self._whole_turns:
            return as_typed(newest)
        if self._capture is None:
            self._capture, self._half_turns = SlowTurnCapture(_step_um(newest)), 0
            self._screen.say(occasion.TURN_SLOWLY)
        else:
            self._capture.mark()
            self._screen.say(occasion.marked(self._capture.marks))
        return None

    def begin_again(self) -> None:
        """What was turned so far does not count."""
        self._capture = None

    def _captured(self) -> str:
        from reports import occasion

        assert self._capture is not None
        captured, self._capture = self._capture.captured(), None
        for line in occasion.captured(captured):
            self._screen.say(line)
        return captured.text

    def _watch(self, reading: "Reading") -> None:
        """Notice power on, and an indicator that does not move while a turn is captured."""
        from instruments.watching import is_frozen, turning
        from reports import occasion

        if not self._watched or reading.time - self._watched[-1].time >= _WATCHED_APART:
            self._watched.append(reading)
        while reading.time - self._watched[0].time > _WATCHED_SECONDS:
            self._watched.popleft()
        if reading.time - self._watched_at < _WATCH_EVERY:
            return
        self._watched_at = reading.time
        found = turning([one.time for one in self._watched], [one.value for one in self._watched])
        if found.power_is_on and not self._power_on:
            self._capture = None
            self._screen.say(occasion.POWER_ON, bells=2)
        self._power_on = found.power_is_on
        if self._capture is not None and is_frozen(tuple(self._watched)):
            self._capture = None
            self._screen.say(occasion.FROZEN, bells=2)


def as_typed(reading: "Reading") -> str:
    """A reading as it would be typed, so that no unit is ambiguous."""
    return f"{reading.value:f}{_SPELT.get(reading.unit, reading.unit)}"


def _um(reading: "Reading") -> float:
    from instruments.units import picometres

    return float(picometres(reading.value, reading.unit)) / 1e6


def _step_um(reading: "Reading") -> float:
    """The last place the indicator shows."""
    from decimal import Decimal

    from instruments.units import picometres

    exponent = reading.value.as_tuple().exponent
    assert isinstance(exponent, int)
    return float(picometres(Decimal(1).scaleb(exponent), reading.unit)) / 1e6
