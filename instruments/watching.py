"""What a run of readings tells beside its values: its pace, whether it is frozen, and how fast the spindle turns.

Pure functions over what was heard; the caller decides and stops. numpy is loaded where it is used.
"""

import itertools
from collections import Counter, deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from instruments.records import Outcome, Reading, Refused, Why
from instruments.units import picometres

FASTER_THAN_A_HAND: Final = 2.0
"""Turns a second from which on a machine turns, not a hand."""

LONG_GAP: Final = 5.0
"""A pause of so many usual ones is a gap."""

MODE_WORDS: Final = (Why.HOLD, Why.MAX, Why.MIN, Why.PRESET)
"""Refusals that come from a mode left on at the indicator."""

_LEAST_READINGS: Final = 48
_LEAST_TURNS: Final = 4
_LEAST_STEPS: Final = 3
_LEAST_SHARE: Final = 0.75
_LEAST_SHARE_OF_MANY: Final = 0.5


@dataclass(frozen=True, slots=True)
class Pace:
    """How readings come: ``count`` of them, ``per_second`` over their whole time, ``median_gap`` and ``longest_gap``
    between them in seconds, ``gaps``: how many are longer than LONG_GAP times the mean. None with fewer than two
    readings, or all at once."""

    count: int
    per_second: float | None
    median_gap: float | None
    longest_gap: float | None
    gaps: int


def pace(times: Sequence[float]) -> Pace:
    """The pace of readings taken at ``times``, in order."""
    between = sorted(later - earlier for earlier, later in itertools.pairwise(times))
    if not between or times[-1] <= times[0]:
        return Pace(len(times), None, None, None, 0)
    mean = (times[-1] - times[0]) / len(between)
    middle = len(between) // 2
    median = between[middle] if len(between) % 2 else (between[middle - 1] + between[middle]) / 2
    return Pace(len(times), 1 / mean, median, between[-1], sum(gap > LONG_GAP * mean for gap in between))


@dataclass(frozen=True, slots=True)
class Unchanged:
    """The last readings that are all the same: how many, and for how many seconds."""

    count: int
    seconds: float


def unchanged(readings: Sequence[Reading]) -> Unchanged:
    """The run of equal readings at the end. While the spindle turns, a run of about a turn means that the indicator
    is frozen or kept, or does not touch; a short one is only the turning point of a small swing."""
    count = 0
    for reading in reversed(readings):
        if (reading.value, reading.unit) != (readings[-1].value, readings[-1].unit):
            break
        count += 1
    return Unchanged(count, readings[-1].time - readings[-count].time if count else 0.0)


def is_frozen(readings: Sequence[Reading], *, seconds: float = 10.0, least: int = 20) -> bool:
    """Whether the last ``least`` readings or more were the same for ``seconds``, about half a slow turn."""
    run = unchanged(readings)
    return run.count >= least and run.seconds >= seconds


class EncoderSpeed:
    """How fast an encoder says that the spindle turns, over the last second: readings may come in bunches."""

    def __init__(self) -> None:
        self.turned_deg = 0.0
        """How far the spindle has turned, without going back to 0."""
        self._passed: deque[tuple[float, float]] = deque()
        self._angle_deg: float | None = None

    def turns_a_second(self, reading: Reading) -> float:
        """After ``reading``; 0 without an encoder and while less than half a second was seen."""
        if reading.angle_deg is None:
            return 0.0
        angle = float(reading.angle_deg)
        if self._angle_deg is not None:
            self.turned_deg += (angle - self._angle_deg + 180.0) % 360.0 - 180.0
        self._angle_deg = angle
        self._passed.append((reading.time, self.turned_deg))
        while reading.time - self._passed[0][0] > 1.0:
            self._passed.popleft()
        since, travel_deg = self._passed[0]
        if reading.time - since < 0.5:
            return 0.0
        return abs(self.turned_deg - travel_deg) / 360.0 / (reading.time - since)


@dataclass(frozen=True, slots=True)
class Turning:
    """``turns_per_second`` as the readings repeat, or None if no turn shows; ``visible_up_to``: half the pace of the
    readings, above which a speed shows as a slower one or not at all."""

    turns_per_second: float | None
    visible_up_to: float

    @property
    def power_is_on(self) -> bool:
        """Faster than a hand turns."""
        return self.turns_per_second is not None and self.turns_per_second > FASTER_THAN_A_HAND


def turning(times: Sequence[float], values: Sequence[Decimal | float]) -> Turning:
    """How fast the spindle turns under the plunger, from a few seconds of readings at a steady pace.

    The largest peak of the spectrum (Hann window, line taken off), or the lowest that has a quarter of its power; a
    turn shows if that peak and the one at twice its place hold enough of all the power: 0.75, from 128 readings on 0.5,
    over at least 4 turns and 48 readings. White noise does so in fewer than one window of 2,000 (own simulation).
    Less than three steps of the readings are no swing: a slow change shown in steps looks like many small turns.
    A form with lobes only and no eccentricity shows a multiple of the speed. A speed close to a multiple of the pace of
    the readings cannot be seen: see ``visible_up_to``.
    """
    import numpy as np

    count = len(values)
    if count < _LEAST_READINGS or times[-1] <= times[0]:
        return Turning(None, 0.0)
    rate = (count - 1) / (times[-1] - times[0])
    n = np.arange(count)
    x = np.array([float(value) for value in values])
    steps = np.abs(np.diff(x))
    if not steps.any():
        return Turning(None, rate / 2)
    x -= np.polyval(np.polyfit(n, x, 1), n)
    if np.ptp(x) < _LEAST_STEPS * steps[steps > 0].min():
        return Turning(None, rate / 2)
    power = np.abs(np.fft.rfft(x * np.hanning(count))) ** 2
    power[0] = 0.0
    strongest = float(power.max())
    at = next(
        k for k in range(1, len(power)) if power[k] >= strongest / 4 and power[k] == power[max(k - 2, 0) : k + 3].max()
    )
    share = sum(float(power[k - 1 : k + 2].sum()) for k in (at, 2 * at)) / float(power.sum())
    least = _LEAST_SHARE if count < 128 else _LEAST_SHARE_OF_MANY
    if at < _LEAST_TURNS or share < least:
        return Turning(None, rate / 2)
    around = np.arange(at - 1, min(at + 2, len(power)))
    place = float((power[around] * around).sum() / power[around].sum())
    return Turning(place * rate / count, rate / 2)


@dataclass(frozen=True, slots=True)
class Watched:
    """A run of outcomes at a glance. ``refused``: how many for each reason; ``units``: those of the readings in the
    order they first came, more than one if somebody switched the unit."""

    pace: Pace
    unchanged: Unchanged
    turning: Turning
    refused: dict[Why, int]
    units: tuple[str, ...]

    @property
    def mode_words(self) -> tuple[Why, ...]:
        """The modes left on at the indicator, as it said itself."""
        return tuple(why for why in MODE_WORDS if why in self.refused)


def watched(outcomes: Iterable[Outcome]) -> Watched:
    """What the last few seconds tell."""
    kept = list(outcomes)
    readings = [outcome for outcome in kept if isinstance(outcome, Reading)]
    times = [reading.time for reading in readings]
    return Watched(
        pace=pace(times),
        unchanged=unchanged(readings),
        turning=turning(times, [picometres(reading.value, reading.unit) for reading in readings]),
        refused=dict(Counter(outcome.why for outcome in kept if isinstance(outcome, Refused))),
        units=tuple(dict.fromkeys(reading.unit for reading in readings)),
    )
