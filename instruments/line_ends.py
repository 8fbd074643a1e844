"""The other end of a line, for a simulated indicator: a pseudo-terminal where there is one, else a network port.

An end can be pulled out and put back; its address stays the same.
"""

import contextlib
import os
import select
import socket
import tempfile
import time
from pathlib import Path
from typing import Final, Protocol

from instruments.errors import SimulationError

WAIT_SECONDS: Final = 1.0
"""So long a write waits for a full line; then the rest is not sent, as by an indicator without handshake."""


class LineEnd(Protocol):
    """What a simulated indicator speaks into and hears from."""

    address: str

    def read(self, timeout: float) -> bytes:
        """What the other side sent, or nothing after ``timeout`` seconds."""

    def write(self, data: bytes) -> int:
        """Sends ``data``; how many bytes were taken."""

    def pull(self) -> None:
        """The cable is out."""

    def put_back(self) -> None:
        """The cable is in again."""

    def close(self) -> None:
        """Gone for good."""


def new_end(*, pseudo_terminal: bool | None = None) -> LineEnd:
    """An end of the kind asked for, or of the best kind there is. Raises SimulationError."""
    there = hasattr(os, "openpty")
    if pseudo_terminal and not there:
        raise SimulationError("This system has no pseudo-terminals.", "Use a network port instead.")
    return PseudoTerminal() if there and pseudo_terminal is not False else NetworkPort()


class PseudoTerminal:
    """A serial port that is none. ``address`` is a link in a folder of its own, which always leads to the port."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="indicator-")
        self._link = Path(self._folder.name) / "port"
        self.address = str(self._link)
        self._ends: tuple[int, int] | None = None
        self.put_back()

    def put_back(self) -> None:
        """The cable is in again: a new port behind the same link."""
        import tty  # not on Windows

        if self._ends is None:
            here, there = os.openpty()
            tty.setraw(there)
            os.set_blocking(here, False)
            self._ends = here, there
            self._link.symlink_to(os.ttyname(there))

    def pull(self) -> None:
        """The cable is out: whoever has the port open gets an error."""
        if self._ends is not None:
            self._link.unlink()
            for end in self._ends:
                os.close(end)
            self._ends = None

    def read(self, timeout: float) -> bytes:
        """What the other side sent, or nothing after ``timeout`` seconds."""
        if self._ends is None:
            time.sleep(timeout)
            return b""
        readable, _, _ = select.select([self._ends[0]], [], [], timeout)
        return os.read(self._ends[0], 4096) if readable else b""

    def write(self, data: bytes) -> int:
        """Sends ``data``; how many bytes were taken before the line was full for WAIT_SECONDS."""
        taken = 0
        while self._ends is not None and taken < len(data):
            _, writable, _ = select.select([], [self._ends[0]], [], WAIT_SECONDS)
            if not writable:
                break
            with contextlib.suppress(BlockingIOError):
                taken += os.write(self._ends[0], data[taken:])
        return taken

    def close(self) -> None:
        """Gone for good, with its link."""
        self.pull()
        self._folder.cleanup()


class NetworkPort:
    """A port on this computer's own network, for one listener at a time."""

    def __init__(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._listening.setblocking(False)
        self.address = f"socket://127.0.0.1:{self._listening.getsockname()[1]}"
        self._other: socket.socket | None = None
        self._in = True

    def put_back(self) -> None:
        """The cable is in again: a listener may connect."""
        self._in = True

    def pull(self) -> None:
        """The cable is out: the listener is disconnected, and a new one at once again."""
        self._in = False
        self._hang_up()

    def read(self, timeout: float) -> bytes:
        """What the other side sent, or nothing after ``timeout`` seconds; lets a listener in."""
        readable, _, _ = select.select([self._other or self._listening], [], [], timeout)
        if not readable:
            return b""
        if self._other is None:
            self._other = self._listening.accept()[0]
            self._other.setblocking(False)
            if not self._in:
                self._hang_up()
            return b""
        with contextlib.suppress(OSError):
            if data := self._other.recv(4096):
                return data
        self._hang_up()
        return b""

    def write(self, data: bytes) -> int:
        """Sends ``data``; how many bytes were taken before the line was full for WAIT_SECONDS."""
        taken = 0
        while self._other is not None and taken < len(data):
            _, writable, _ = select.select([], [self._other], [], WAIT_SECONDS)
            if not writable:
                break
            try:
                taken += self._other.send(data[taken:])
            except OSError:
                self._hang_up()
        return taken

    def close(self) -> None:
        """Gone for good."""
        self._hang_up()
        self._listening.close()

    def _hang_up(self) -> None:
        if self._other is not None:
            self._other.close()
            self._other = None
