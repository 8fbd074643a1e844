"""Complete frames, way two: 13 decimal digits of four bits, one digit a byte.

The 52-bit frame of a gauge's data output: four digits F, sign (0 plus, 8 minus), six digits with the most significant
first, the number of decimals, the unit (0 mm, 1 inch). An interface that passes it on as bytes is read here; one that
passes it on as 13 characters and an end of line is read by ``instruments.lines``.

What could not be checked against a standard, since there is none: the layout is common practice as printed in manuals
of several senders, that each digit comes in the low half of a byte of its own is an assumption, and some senders print
8 for inch or put a judgement (2 to 7) where the unit stands. The profile says which digits it takes.
The frame carries no check sum: a digit that was changed on the way cannot be seen.
"""

import re
from typing import Final

from instruments.lines import LONGEST
from instruments.records import Frame, Refused, Why

SETTLED_SECONDS: Final = 0.05
"""With so much silence behind it a frame is at its end."""

_GROUP: Final = re.compile(rb"\x0f*[^\x0f]+(?=\x0f)|\x0f+(?=\Z)", re.DOTALL)
_FRAME: Final = re.compile(rb"\x0f{4}[\x00-\x09]{9}")


class NibbleFramer:
    """Cuts a stream of bytes at each run of F into groups; a group is a frame if it is of the one form.

    The end of a frame shows by the next one, or by silence, so a byte too many is seen as well as one too few.
    """

    def __init__(self) -> None:
        self._buffer = bytearray()
        self._begun = 0.0
        self._last = 0.0

    @property
    def pending(self) -> bytes:
        """The bytes of a group whose end has not shown yet."""
        return bytes(self._buffer)

    def feed(self, data: bytes, time: float) -> list[Frame | Refused]:
        """The frames completed by ``data``, which came at ``time``, and what had to be refused."""
        found = list(self.idle(time))
        if not self._buffer:
            self._begun = time
        self._last = time
        self._buffer += data
        while group := _GROUP.match(self._buffer):
            if group.end() == len(self._buffer):
                break
            found.append(self._group(group.end()))
            self._begun = time
        if len(self._buffer) > LONGEST:
            found.append(self._group(len(self._buffer), Why.TOO_LONG))
        return found

    def idle(self, time: float) -> list[Frame | Refused]:
        """To be called when nothing came: what stands still is at its end."""
        return [self._group(len(self._buffer))] if self._buffer and time - self._last > SETTLED_SECONDS else []

    def cut(self) -> list[Frame | Refused]:
        """A new question is asked: what came of the last answer is refused, if anything."""
        return [self._group(len(self._buffer), Why.PARTIAL)] if self._buffer else []

    def interrupted(self, time: float) -> list[Frame | Refused]:
        """Bytes may be missing here, or nothing more will come: the group in hand is refused."""
        self._last = time
        return self.cut()

    def _group(self, length: int, why: Why | None = None) -> Frame | Refused:
        raw = bytes(self._buffer[:length])
        del self._buffer[:length]
        if why is None and _FRAME.fullmatch(raw):
            return Frame(raw, "".join(f"{digit:X}" for digit in raw), self._begun)
        short = len(raw) < 13 and all(byte <= 9 or byte == 0x0F for byte in raw)
        return Refused(raw, self._begun, why or (Why.PARTIAL if short else Why.NOT_BCD))
