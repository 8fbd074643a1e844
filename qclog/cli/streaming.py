"""A stream while the spindle is turned by hand: the value that stands there at a press, the values at the angles that
are wanted where an encoder tells them, or a whole turn."""

from collections import deque
from typing import TYPE_CHECKING, Final

from qclog.lengths import as_typed

if TYPE_CHECKING:
    from instruments.records import Reading
    from qclog.cli.screen import Screen
    from qclog.occasion.encoded_turn import EncodedTurnCapture
    from qclog.occasion.slow_turn import SlowTurnCapture

FRESH_SECONDS: Final = 0.5
NEAR_DEG: Final = 3.0
"""So near to an angle that is wanted a reading is taken for one at it."""
_MISSED_DEG: Final = 450.0
"""A turn and a quarter in which no reading came near the angle that is wanted."""
_WATCHED_SECONDS: Final = 12.0
_WATCHED_APART: Final = 0.005
_WATCH_EVERY: Final = 1.0
_LOOK_EVERY: Final = 0.5
_LEAST_SECONDS: Final = 3.0
"""A turn is watched for so long, since a motor would be through with it before it can be told from a hand."""


class Stream:
    """``whole_turns``: a press begins a turn, and marks the spindle's zero; else it takes the newest value, or with an
    encoder begins the turn in which the values are taken at their angles.

    ``press`` and ``add`` return the reading as it would be typed, once there is one. All times are those of the
    readings, so that a recording gives the same.
    """

    def __init__(self, screen: "Screen", *, whole_turns: bool) -> None:
        from instruments.watching import EncoderSpeed

        self._speed = EncoderSpeed()
        self._screen = screen
        self._whole_turns = whole_turns
        self._watched: deque[Reading] = deque()
        self._newest: Reading | None = None
        self._nearest: Reading | None = None
        self._widest_um = 1.0
        self._capture: SlowTurnCapture | EncodedTurnCapture | None = None
        self._quarters = 0
        self._by_angles = self._doubted = False
        self._wanted_since = 0.0
        self._looked = self._watched_at = self._begun = float("-inf")
        self._power_on = False

    def add(self, reading: "Reading", wanted_deg: int | None) -> str | None:
        """One more reading; ``wanted_deg``: where one is to be taken next, if at an angle."""
        from instruments.watching import FASTER_THAN_A_HAND
        from reports import occasion

        before, self._newest = self._newest, reading
        index = bool(reading.index) and not (before is not None and before.index)
        value = _um(reading)
        self._widest_um = max(self._widest_um, abs(value))
        self._watch(reading)
        if self._speed.turns_a_second(reading) > FASTER_THAN_A_HAND and not self._power_on:
            self._stop_for_power()
        text = None
        if self._by_angles and wanted_deg is not None:
            text = self._passing(reading, wanted_deg)
        elif self._capture is not None:
            text = self._collected(self._capture, reading, value, index=index)
        turn = (self._capture.readings, self._quarters) if self._capture is not None else None
        self._screen.follow(occasion.live(value, self._widest_um, turn))
        return text

    def press(self, now: float) -> str | None:
        """Enter, or a foot switch that types it, at ``now``."""
        from reports import occasion

        newest = self._newest
        if self._power_on:
            self._screen.say(occasion.POWER_ON, bells=2)
        elif newest is None or now - newest.time > FRESH_SECONDS:
            self._screen.say(occasion.SILENT, bells=2)
        elif self._whole_turns:
            self._begin_or_mark(newest)
        elif newest.angle_deg is None:
            return as_typed(newest.value, newest.unit)
        else:
            self._by_angles, self._wanted_since = True, self._speed.turned_deg
            self._screen.say(occasion.TURN_ROUND)
        return None

    def begin_again(self) -> None:
        """What was turned so far does not count."""
        self._capture = self._nearest = None
        self._by_angles = False

    def _begin_or_mark(self, newest: "Reading") -> None:
        from qclog.occasion.encoded_turn import EncodedTurnCapture
        from qclog.occasion.slow_turn import SlowTurnCapture
        from reports import occasion

        if isinstance(self._capture, SlowTurnCapture):
            self._capture.mark()
            self._screen.say(occasion.marked(self._capture.marks))
        elif self._capture is None:
            encoded = newest.angle_deg is not None
            self._capture = (EncodedTurnCapture if encoded else SlowTurnCapture)(_step_um(newest))
            self._quarters, self._begun = 0, newest.time
            self._screen.say(occasion.TURN_ROUND if encoded else occasion.TURN_SLOWLY)

    def _passing(self, reading: "Reading", wanted_deg: int) -> str | None:
        """The reading nearest to the angle that is wanted, once the spindle stands there or goes on from there."""
        from reports import occasion

        nearest, off = self._nearest, _off_deg(reading, wanted_deg)
        if off <= NEAR_DEG and (nearest is None or off < _off_deg(nearest, wanted_deg)):
            self._nearest = reading
            return None
        self._nearest = None
        if nearest is not None:
            self._wanted_since = self._speed.turned_deg
        elif abs(self._speed.turned_deg - self._wanted_since) > _MISSED_DEG:
            self._wanted_since = self._speed.turned_deg
            self._screen.say(occasion.TOO_FAST, bells=2)
        return as_typed(nearest.value, nearest.unit) if nearest is not None else None

    def _collected(
        self, capture: "SlowTurnCapture | EncodedTurnCapture", reading: "Reading", value_um: float, *, index: bool
    ) -> str | None:
        """A reading of the turn that is captured; the swing, once it is enough."""
        from qclog.occasion.slow_turn import SlowTurnCapture
        from reports import occasion

        if isinstance(capture, SlowTurnCapture):
            capture.add(value_um)
            if index:
                capture.mark()
                self._screen.say(occasion.marked(capture.marks))
        elif reading.angle_deg is not None:
            capture.add(value_um, float(reading.angle_deg))
        if reading.time - self._looked < _LOOK_EVERY:
            return None
        self._looked = reading.time
        self._quarters = capture.quarters
        if reading.time - self._begun < _LEAST_SECONDS or not capture.enough():
            return None
        captured, self._capture = capture.captured(), None
        doubtful = "levels_differ" in captured.caveats and not self._doubted
        self._doubted = doubtful
        for line in occasion.captured(captured):
            self._screen.say(line, bells=2 * doubtful)
        if doubtful:
            self._screen.say(occasion.ONCE_MORE)
            return None
        return captured.text

    def _stop_for_power(self) -> None:
        from reports import occasion

        self._power_on = True
        self.begin_again()
        self._screen.say(occasion.POWER_ON, bells=2)

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
            self._stop_for_power()
        self._power_on = found.power_is_on
        if self._capture is not None and is_frozen(tuple(self._watched)):
            self._capture = None
            self._screen.say(occasion.FROZEN, bells=2)


def _off_deg(reading: "Reading", wanted_deg: int) -> float:
    """How far from an angle a reading was taken, whichever way round is shorter."""
    assert reading.angle_deg is not None
    return abs((float(reading.angle_deg) - wanted_deg + 180.0) % 360.0 - 180.0)


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
