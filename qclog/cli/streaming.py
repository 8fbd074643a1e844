"""A stream while the spindle is turned by hand: the value that stands there at a press, or a whole slow turn."""

import time
from collections import deque
from typing import TYPE_CHECKING, Final

from qclog.cli.common import say

if TYPE_CHECKING:
    from instruments.records import Reading
    from qclog.occasion.slow_turn import SlowTurnCapture

FRESH_SECONDS: Final = 0.5
_KEPT: Final = 2_000
_LOOK_EVERY: Final = 25
_WATCH_EVERY: Final = 50


class Stream:
    """``whole_turns``: a press begins a slow turn and marks the spindle's zero; else it takes the newest value.

    ``press`` and ``add`` return the reading as it would be typed, once there is one.
    """

    def __init__(self, *, whole_turns: bool) -> None:
        self._whole_turns = whole_turns
        self._newest: deque[Reading] = deque(maxlen=_KEPT)
        self._capture: SlowTurnCapture | None = None
        self._count = 0
        self._power_on = False

    def add(self, reading: "Reading") -> str | None:
        from reports import occasion

        self._newest.append(reading)
        self._count += 1
        if self._count % _WATCH_EVERY == 0:
            self._watch()
        if self._capture is None or self._power_on:
            return None
        self._capture.add(_um(reading))
        if self._capture.readings % _LOOK_EVERY:
            return None
        seen = self._capture.seen()
        if seen is not None:
            say(occasion.turning(self._capture.readings, seen.half_turns, seen.read_swing_um))
        return self._captured() if self._capture.enough() else None

    def press(self) -> str | None:
        """Enter, or a foot switch that types it."""
        from qclog.occasion.slow_turn import SlowTurnCapture
        from reports import occasion

        if self._power_on:
            say("\a\a" + occasion.POWER_ON)
            return None
        newest = self._newest[-1] if self._newest else None
        if newest is None or time.monotonic() - newest.time > FRESH_SECONDS:
            say("\a\a" + occasion.SILENT)
            return None
        if not self._whole_turns:
            return f"{newest.value:f}{newest.unit}"
        if self._capture is None:
            self._capture = SlowTurnCapture(_step_um(newest))
            say(occasion.TURN_SLOWLY)
        else:
            self._capture.mark()
            say(occasion.marked(self._capture.marks))
        return None

    def begin_again(self) -> None:
        """What was turned so far does not count."""
        self._capture = None

    def _captured(self) -> str:
        from reports import occasion

        assert self._capture is not None
        captured, self._capture = self._capture.captured(), None
        for line in occasion.captured(captured):
            say(line)
        return captured.text

    def _watch(self) -> None:
        """Notice power on, and an indicator that does not move."""
        from instruments.watching import is_frozen, turning
        from reports import occasion

        last = list(self._newest)[-500:]
        found = turning([reading.time for reading in last], [reading.value for reading in last])
        if found.power_is_on and not self._power_on:
            self._capture = None
            say("\a\a" + occasion.POWER_ON)
        self._power_on = found.power_is_on
        if self._capture is not None and is_frozen(last):
            self._capture = None
            say("\a\a" + occasion.FROZEN)


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
