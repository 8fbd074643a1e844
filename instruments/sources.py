"""Where bytes come from: what every source does, and the two that need no port.

A source hands over arrivals in order: bytes with their time, what was sent, and where the line was lost or connected.
``instruments.port`` has the source for serial ports; ``instruments.recordings`` the one that replays a file.
"""

import queue
import threading
import time
from collections.abc import Iterable
from typing import Protocol

from instruments.errors import PortRefusedError
from instruments.records import Arrival, Bytes


class Source(Protocol):
    """Anything that bytes come from."""

    @property
    def name(self) -> str:
        """What it is, for messages."""

    def read(self, timeout: float) -> Arrival | None:
        """The next arrival, or None if there was none for ``timeout`` seconds."""

    def write(self, data: bytes) -> None:
        """Sends ``data``, which is then also an arrival. Raises PortLostError or PortRefusedError."""

    def now(self) -> float:
        """The clock that the arrivals are stamped with, in seconds."""

    @property
    def ended(self) -> bool:
        """Whether nothing can come any more."""

    def close(self) -> None:
        """Gives everything back; what was read stays."""


class TypedLines:
    """Lines typed on a keyboard, by a person or by a gauge that acts as one.

    ``typed`` hands a line over; ``follow`` does so with every line of a text file such as the standard input, in a
    thread of its own, since typing cannot be waited for with a time limit.
    """

    name = "keyboard"

    def __init__(self) -> None:
        self._arrivals: queue.SimpleQueue[Bytes] = queue.SimpleQueue()
        self._over = False

    def typed(self, line: str) -> None:
        """One line, without or with its end."""
        self._arrivals.put(Bytes(line.rstrip("\r\n").encode("utf-8") + b"\n", self.now()))

    def follow(self, lines: Iterable[str]) -> None:
        """Hands over every line of ``lines``; at their end the source has ended. A last line without an end is
        handed over as it is: nobody pressed Enter."""

        def follow_them() -> None:
            for line in lines:
                self._arrivals.put(Bytes(line.encode("utf-8"), self.now()))
            self._over = True

        threading.Thread(target=follow_them, name="typed lines", daemon=True).start()

    def read(self, timeout: float) -> Bytes | None:
        """The next line, or None if there was none for ``timeout`` seconds."""
        try:
            return self._arrivals.get(timeout=timeout)
        except queue.Empty:
            return None

    def write(self, data: bytes) -> None:
        """Nothing can be sent to a keyboard: raises PortRefusedError."""
        raise PortRefusedError(f"{data!r} cannot be sent to a keyboard.", 'Use a profile of mode "button".')

    def now(self) -> float:
        """The monotonic clock."""
        return time.monotonic()

    @property
    def ended(self) -> bool:
        """Whether the file that was followed is at its end and everything was read."""
        return self._over and self._arrivals.empty()

    def close(self) -> None:
        """Nothing to give back."""
