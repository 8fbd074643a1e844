"""Bytes from a serial port, real or by URL, that may be pulled out and put back at any time.

A thread of its own empties the port, so that nothing overflows while a reading is being stored, and stamps the bytes
as they come. When the port is lost it tries to open it again every second, by its address: an adapter that comes back
under another name is found.
"""

import contextlib
import queue
import threading
import time
from typing import Final

from instruments.errors import InstrumentsError, PortLostError
from instruments.ports import find_device, list_ports
from instruments.profile import LineSettings
from instruments.records import Arrival, Bytes, Change, Sent
from instruments.serial_line import SerialLine, open_line

RETRY_SECONDS: Final = 1.0
_MOST: Final = 4096  # bytes handed over at once
_WAITING: Final = 65_536  # arrivals kept for a slow reader; then the port itself has to wait


class PortSource:
    """A serial port as a source of arrivals. Open to the end of ``close``.

    Raises InstrumentsError of a fitting kind if the port cannot be opened at first; later it is a Change.
    """

    def __init__(self, address: str, settings: LineSettings, *, retry_seconds: float = RETRY_SECONDS) -> None:
        self.name = address
        self._settings = settings
        self._retry_seconds = retry_seconds
        self._arrivals: queue.Queue[Arrival] = queue.Queue(_WAITING)
        self._stop = threading.Event()
        self._line: SerialLine | None = self._open()
        self._thread = threading.Thread(target=self._run, name=f"port {address}", daemon=True)
        self._thread.start()

    def read(self, timeout: float) -> Arrival | None:
        """The next arrival, or None if there was none for ``timeout`` seconds."""
        try:
            return self._arrivals.get(timeout=timeout)
        except queue.Empty:
            return None

    def write(self, data: bytes) -> None:
        """Sends ``data``; it stands among the arrivals before its answer. Raises PortLostError."""
        line = self._line
        if line is None:
            raise PortLostError(f"{self.name} is not connected.", "Plug it in again; it goes on by itself.")
        self._hand_over(Sent(data, self.now()))
        try:
            line.write(data)
        except (OSError, TypeError) as error:  # TypeError: closed by the thread in this moment
            raise PortLostError(
                f"{self.name} takes no bytes: {error}.", "Check the cable; it goes on by itself."
            ) from None

    def now(self) -> float:
        """The monotonic clock."""
        return time.monotonic()

    @property
    def ended(self) -> bool:
        """Whether it was closed and everything was read."""
        return self._stop.is_set() and self._arrivals.empty()

    def close(self) -> None:
        """Stops listening and gives the port back."""
        self._stop.set()
        self._thread.join()
        if self._line is not None:
            self._line.close()
            self._line = None

    def _open(self) -> SerialLine:
        usb = self.name.lower().startswith("usb:")
        device = find_device(self.name, list_ports() if usb else ())
        line = open_line(device, self._settings)
        self._hand_over(Change("connected", self.now(), device))
        return line

    def _run(self) -> None:
        while not self._stop.is_set():
            if self._line is None:
                self._stop.wait(self._retry_seconds)
                self._try_again()
                continue
            self._empty(self._line)

    def _empty(self, line: SerialLine) -> None:
        """Hands over what is there; a network port gives it byte by byte. What came before a loss is not lost."""
        data, why = b"", ""
        try:
            data = line.read(max(1, line.in_waiting))
            while data and len(data) < _MOST and (waiting := line.in_waiting):
                data += line.read(waiting)
        except OSError as error:
            why = str(error) or type(error).__name__
        if data:
            self._hand_over(Bytes(data, self.now()))
        if why:
            self._lose(line, why)

    def _hand_over(self, arrival: Arrival) -> None:
        while not self._stop.is_set():
            with contextlib.suppress(queue.Full):
                self._arrivals.put(arrival, timeout=0.1)
                return

    def _lose(self, line: SerialLine, why: str) -> None:
        self._line = None
        with contextlib.suppress(OSError):
            line.close()
        self._hand_over(Change("lost", self.now(), why))

    def _try_again(self) -> None:
        with contextlib.suppress(InstrumentsError):
            self._line = self._open()
