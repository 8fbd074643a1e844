"""Complete frames, way one: lines of text, each ended by a terminator.

A line is a frame only if its beginning was seen and its terminator came. Everything else is refused with its bytes:
together, frames, refusals and what is pending are the bytes that came in.
"""

import re
from typing import Final, Literal

from instruments.records import Blank, Frame, Refused, Why

LONGEST: Final = 256
"""Bytes in a line with its terminator; a longer one is refused."""

PAUSE_SECONDS: Final = 0.3
"""A line that stands still for so long is cut: at 300 baud its bytes come 0.03 s apart. No hand presses a button again
so soon, so what is left of a line never becomes the beginning of the next."""

QUIET_SECONDS: Final = 0.5
"""After so much silence the next byte begins a line, even if bytes may have been missed before."""

_END: Final = {"CR": rb"\r", "LF": rb"\n", "CRLF": rb"\r\n", "any": rb"[\r\n]"}

Terminator = Literal["CR", "LF", "CRLF", "any"]
TERMINATORS: Final[tuple[Terminator, ...]] = ("CR", "LF", "CRLF", "any")


class LineFramer:
    """Cuts a stream of bytes into lines.

    Blanks, CR and LF around a line are not part of its text, and a line with nothing else is none: its bytes go
    with the next one. So "LF" and "CR" also read what ends in CR LF. The text is UTF-8, of which ASCII is a part.

    What was begun before listening began is not trusted: after ``interrupted`` everything up to the first terminator
    is refused, unless the line had been quiet for QUIET_SECONDS. After a line was cut in the middle its rest may come
    at any time, so there only a terminator helps. A terminator that comes first, alone, is a Blank: what stands behind
    it begins a line.
    """

    def __init__(self, terminator: Terminator) -> None:
        self._line = re.compile(rb"[\r\n]*[^\r\n](?s:.*?)" + _END[terminator])
        self._ends = re.compile(rb"[\r\n]*" + _END[terminator])
        self._buffer = bytearray()
        self._begun = 0.0
        self._last = 0.0
        self._trust: Literal["whole", "unknown", "cut"] = "whole"
        self._half = b"\r" if terminator == "CRLF" else b""
        self._gone = b""  # half a terminator that went with what was cut

    @property
    def pending(self) -> bytes:
        """The bytes of a line that has no terminator yet."""
        return bytes(self._buffer)

    def feed(self, data: bytes, time: float) -> list[Frame | Refused | Blank]:
        """The lines completed by ``data``, which came at ``time``, and what had to be refused."""
        found = list(self.idle(time))
        if not self._begun_line():
            self._begun = time
            if self._trust == "unknown" and time - self._last >= QUIET_SECONDS:
                self._trust = "whole"
        self._last = time
        self._buffer += data
        if self._trust != "whole" and (ends := self._ends.match(self._gone + self._buffer)):
            found.append(self._blank(ends.end() - len(self._gone)))
            self._trust = "whole"
        done = 0
        while line := self._line.match(self._buffer, done):
            found.append(self._line_of(line[0]))
            self._begun = time
            done = line.end()
        del self._buffer[:done]
        if len(self._buffer) > LONGEST:
            found.append(self._cut(Why.TOO_LONG) if self._begun_line() else self._blank(len(self._buffer)))
        return found

    def idle(self, time: float) -> list[Frame | Refused | Blank]:
        """To be called when nothing came: a line that stands still for too long is cut."""
        return self.cut() if time - self._last > PAUSE_SECONDS else []

    def cut(self) -> list[Frame | Refused | Blank]:
        """A new question is asked: what came of the last answer is cut, if anything."""
        return [self._cut(Why.PARTIAL)] if self._begun_line() else []

    def interrupted(self, time: float) -> list[Frame | Refused | Blank]:
        """Bytes may be missing here, or nothing more will come: the line in hand is refused."""
        left = self.cut()
        if self._buffer:
            left.append(self._blank(len(self._buffer)))
        self._trust = "unknown"
        self._gone = self._half
        self._last = time
        return left

    def _begun_line(self) -> bool:
        """Whether anything but the end of the line before is pending."""
        return bool(self._buffer.strip(b"\r\n"))

    def _cut(self, why: Why) -> Refused:
        self._trust = "cut"
        self._gone = self._half if self._buffer.endswith(b"\r") else b""
        refused = Refused(bytes(self._buffer), self._begun, why)
        self._buffer.clear()
        return refused

    def _blank(self, length: int) -> Blank:
        blank = Blank(bytes(self._buffer[:length]), self._begun)
        del self._buffer[:length]
        return blank

    def _line_of(self, raw: bytes) -> Frame | Refused:
        if self._trust != "whole":
            self._trust = "whole"
            return Refused(raw, self._begun, Why.PARTIAL)
        if len(raw) > LONGEST:
            return Refused(raw, self._begun, Why.TOO_LONG)
        try:
            return Frame(raw, raw.decode("utf-8").strip(), self._begun)
        except UnicodeDecodeError:
            return Refused(raw, self._begun, Why.NOT_TEXT)
