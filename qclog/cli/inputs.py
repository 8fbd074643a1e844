"""Keyboard and indicator at once: whatever comes first is handed over first. Or both from a recording."""

import contextlib
import queue
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from instruments.listening import Listening, State
    from instruments.recordings import Recorder
    from instruments.records import Arrival, Outcome


@dataclass(frozen=True, slots=True)
class Typed:
    """A line typed, without its end, and when; None: the keyboard has ended."""

    text: str | None
    time: float


@dataclass(frozen=True, slots=True)
class Told:
    """What came from the indicator, what it means, and how the indicator is: connected, silent or lost."""

    arrival: "Arrival | None"
    outcomes: "tuple[Outcome, ...]"
    state: "State"


class Inputs(Protocol):
    """Where an occasion gets its readings and words from."""

    def __iter__(self) -> Iterator[Typed | Told]:
        """What comes, as it comes."""

    def ask(self) -> None:
        """Asks the indicator for a reading, where it answers to requests."""

    def close(self) -> None:
        """Nothing more is wanted."""


class Live:
    """Two threads and a queue."""

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
            self._queue.put(Typed(line.rstrip("\r\n"), time.monotonic()))
        self._queue.put(Typed(None, time.monotonic()))

    def _listen(self) -> None:
        from instruments.errors import PortLostError

        assert self._indicator is not None
        state: State = "connected"
        try:
            while not self._stop.is_set():
                with contextlib.suppress(PortLostError):  # the loss itself comes with the next arrivals
                    if self._wanted.is_set() and self._indicator.state != "lost" and self._indicator.ask():
                        self._wanted.clear()
                heard = self._indicator.poll(0.1)
                if heard.arrival is not None or heard.outcomes or self._indicator.state != state:
                    state = self._indicator.state
                    self._queue.put(Told(heard.arrival, heard.outcomes, state))
        except Exception as error:
            self._queue.put(error)


class Replayed:
    """What a recording holds, in its order and with its times."""

    def __init__(self, indicator: "Listening") -> None:
        self._indicator = indicator

    def __iter__(self) -> Iterator[Typed | Told]:
        from instruments import records

        ended = False
        while not ended:  # once more behind the last arrival, for what was still pending
            ended = self._indicator.ended
            heard = self._indicator.poll(0.0)
            if isinstance(heard.arrival, records.Typed):
                yield Typed(heard.arrival.text, heard.arrival.time)
            else:
                yield Told(heard.arrival, heard.outcomes, self._indicator.state)

    def ask(self) -> None:
        """The requests are in the recording."""

    def close(self) -> None:
        self._indicator.close()


class Recorded:
    """Hands on what comes from ``inputs``, and keeps all of it in a recording first."""

    def __init__(self, inputs: Inputs, recorder: "Recorder") -> None:
        self._inputs, self._recorder = inputs, recorder

    def __iter__(self) -> Iterator[Typed | Told]:
        from instruments import records

        for found in self._inputs:
            if isinstance(found, Told) and found.arrival is not None:
                self._recorder.keep(found.arrival)
            elif isinstance(found, Typed) and found.text is not None:
                self._recorder.keep(records.Typed(found.text, found.time))
            yield found

    def ask(self) -> None:
        self._inputs.ask()

    def close(self) -> None:
        self._inputs.close()
