"""What passes between the layers: bytes with their time, frames, and what they mean or why they were refused.

Times are seconds of one clock that never jumps: the monotonic clock for ports, the recorded one for a replay.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Literal


@dataclass(frozen=True, slots=True)
class Bytes:
    """Bytes that came in together, and when they were read."""

    data: bytes
    time: float


@dataclass(frozen=True, slots=True)
class Sent:
    """Bytes that were sent to the indicator."""

    data: bytes
    time: float


@dataclass(frozen=True, slots=True)
class Change:
    """The line was lost, or is connected (again): bytes may be missing here. ``what``: the cause, as it was given."""

    state: Literal["connected", "lost"]
    time: float
    what: str


@dataclass(frozen=True, slots=True)
class Typed:
    """A line typed meanwhile, by a person or a foot switch: no part of what the indicator says."""

    text: str
    time: float


Arrival = Bytes | Sent | Change | Typed


@dataclass(frozen=True, slots=True)
class Frame:
    """One complete frame. ``raw``: all its bytes; ``text``: what it says; ``time``: when its first byte came."""

    raw: bytes
    text: str
    time: float


class Why(StrEnum):
    """Why something that came in is not a reading."""

    PARTIAL = "partial"  # begun before listening began, cut by a gap, a pause or a new request, or never ended
    TOO_LONG = "too_long"  # longer than any frame: noise, a wrong terminator, a wrong speed
    NOT_TEXT = "not_text"  # bytes that are no text: noise, a wrong speed, a wrong number of data bits
    NOT_BCD = "not_bcd"  # not four digits F and nine decimal digits
    GARBLED = "garbled"  # a reply whose check sum or length is wrong
    DEVICE_ERROR = "device_error"  # the indicator answered that it cannot
    UNASKED = "unasked"  # came without a request: an old answer, or another mode than the profile says
    NO_ANSWER = "no_answer"  # a request that was not answered in time; there are no bytes
    DOUBLE = "double"  # a second press of the data button right behind the first
    NO_MATCH = "no_match"  # not of the form the profile gives
    NOT_A_NUMBER = "not_a_number"
    DECIMALS = "decimals"  # another number of decimals than the profile gives
    NO_UNIT = "no_unit"
    UNKNOWN_UNIT = "unknown_unit"
    UNKNOWN_SIGN = "unknown_sign"
    UNKNOWN_STATUS = "unknown_status"
    NO_COUNT = "no_count"  # where the count of the encoder on the spindle should stand there is none
    UNKNOWN_INDEX = "unknown_index"
    HOLD = "hold"  # a kept value: not where the plunger stands now
    MAX = "max"
    MIN = "min"
    PRESET = "preset"
    OVER_RANGE = "over_range"  # said by the indicator
    OUT_OF_RANGE = "out_of_range"  # outside what the profile, or sense, allows
    ERROR = "error"  # said by the indicator
    LOW_BATTERY = "low_battery"  # said without a number


@dataclass(frozen=True, slots=True)
class Refused:
    """Bytes that did not become a reading, why, and the part that was not understood."""

    raw: bytes
    time: float
    why: Why
    detail: str = ""

    @property
    def text(self) -> str:
        """The bytes for the eye: printable ASCII as it is, the rest as escapes."""
        return shown(self.raw)


@dataclass(frozen=True, slots=True)
class Reading:
    """One live value. ``value`` is exact, in ``unit`` (a key of ``instruments.units.UNITS``), sign and scale applied.

    ``status``: words that came along and leave the value valid ("low battery"). ``angle_deg``: where the spindle stood,
    from the count of an encoder on it: exact, 0 to under 360. ``index``: whether its mark passed, once a turn. Both are
    None for an indicator that does not tell.
    """

    value: Decimal
    unit: str
    time: float
    raw: bytes
    status: tuple[str, ...] = ()
    angle_deg: Fraction | None = None
    index: bool | None = None

    @property
    def text(self) -> str:
        """The bytes for the eye."""
        return shown(self.raw)


@dataclass(frozen=True, slots=True)
class Said:
    """What the indicator told about itself: who it is, or what is in its error queue."""

    about: Literal["identity", "error"]
    words: str
    time: float
    raw: bytes


@dataclass(frozen=True, slots=True)
class Blank:
    """Ends of lines with no line before them, where the line was cut or connected: nothing was said."""

    raw: bytes
    time: float


Outcome = Reading | Refused | Said | Blank


def shown(data: bytes) -> str:
    """Bytes for the eye: printable ASCII as it is, the rest as escapes (\\r, \\n, \\x02)."""
    return repr(data)[2:-1]
