"""Keyboard and indicator at once: whatever comes first is handed over first."""

import queue
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from instruments.listening import Listening
    from instruments.records import Outcome


@dataclass(frozen=True, slots=True)
class Typed:
    """A line typed, without its end; None: the keyboard has ended."""

    text: str | None


@dataclass(frozen=True, slots=True)
class Told:
    """What came from the indicator, and how it is: connected, silent or lost."""

    outcomes: "tuple[Outcome, ...]"
    state: str


class Inputs:
    """Two threads and a queue. ``ask`` asks the indicator for a reading, where it answers to requests."""

    def __init__(self, indicator: "Listening | None") -> None:
        self._queue: queue.SimpleQueue[Typed | Told | BaseException] = queue.SimpleQueue()
        self._indicator = indicator
        self._wanted = threading.Event()
        self._stop = threading.Event()
        threading.Thread(target=self._read_lines, name="keyboard", daemon=True).start()
        self._listener = threading.Thread(target=self._listen, name="indicator", daemon=True)
        if indicator is not None:
            self._listener.start()

    def __iter__(self) -> Iterator[Typed | Told]:
        """What comes, as it comes. Raises what listening raised."""
        while True:
            found = self._queue.get()
            if isinstance(found, BaseException):
                raise found
            yield found

    def ask(self) -> None:
        self._wanted.set()

    def close(self) -> None:
        self._stop.set()
        if self._indicator is not None:
            self._listener.join(timeout=2.0)
            self._indicator.close()

    def _read_lines(self) -> None:
        for line in sys.stdin:
            self._queue.put(Typed(line.rstrip("\r\n")))
        self._queue.put(Typed(None))

    def _listen(self) -> None:
        assert self._indicator is not None
        state = "connected"
        try:
            while not self._stop.is_set():
                if self._wanted.is_set() and self._indicator.state != "lost" and self._indicator.ask():
                    self._wanted.clear()
                heard = self._indicator.poll(0.1)
                if heard.outcomes or self._indicator.state != state:
                    state = self._indicator.state
                    self._queue.put(Told(heard.outcomes, state))
        except Exception as error:
            self._queue.put(error)
