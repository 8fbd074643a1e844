"""Recordings: what came in, byte for byte and with its times, in a file that can be replayed.

One JSON object a line: ``{"at": 0.512, "bytes": "+0.0123\\r\\n"}``, with ``sent`` for what was sent, ``lost`` or
``connected`` for a change of the line, and ``typed`` for a line typed meanwhile. In bytes each character stands for the
byte of its number.
"""

import json
import math
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final, Self

from instruments.errors import PortRefusedError, RecordingError
from instruments.records import Arrival, Bytes, Change, Sent, Typed

LONGEST_LINE: Final = 100_000
"""Far more than comes at once; what is longer is no line of a recording."""


class Recorder:
    """A recording in the making, in a new file: each line is written as it comes."""

    def __init__(self, path: Path) -> None:
        """Raises RecordingError where there is a file already, or none can be made."""
        try:
            self._file = path.open("x", encoding="ascii", newline="\n")
        except OSError as error:
            raise RecordingError(
                f"{path} cannot be written: {error.strerror or error}.", "Name a new file to record into."
            ) from None

    def keep(self, arrival: Arrival) -> None:
        """One more line; when this returns the system has it."""
        self._file.write(recorded(arrival) + "\n")
        self._file.flush()

    def close(self) -> None:
        """The recording is whole."""
        self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def write_recording(path: Path, arrivals: Iterable[Arrival]) -> None:
    """Writes ``arrivals`` to a new file. Raises RecordingError where there is one already."""
    with Recorder(path) as recorder:
        for arrival in arrivals:
            recorder.keep(arrival)


def recorded(arrival: Arrival) -> str:
    """The line of a recording for ``arrival``, without its end."""
    match arrival:
        case Bytes(data, time):
            content = {"at": time, "bytes": data.decode("latin-1")}
        case Sent(data, time):
            content = {"at": time, "sent": data.decode("latin-1")}
        case Typed(text, time):
            content = {"at": time, "typed": text}
        case Change(state, time, what):
            content = {"at": time, state: what}
    return json.dumps(content)


def read_recording(path: Path) -> Iterator[Arrival]:
    """The arrivals in ``path``, one by one. Raises RecordingError, naming the line."""
    try:
        with path.open(encoding="utf-8") as file:
            lines = iter(lambda: file.readline(LONGEST_LINE), "")
            for number, line in enumerate(lines, start=1):
                yield _arrival(line, f"{path}, line {number}")
    except OSError as error:
        raise RecordingError(f"{path} cannot be read: {error.strerror}.", "Check the path.") from None
    except UnicodeDecodeError:
        raise RecordingError(f"{path} is no recording.", "Name a file that was recorded.") from None


def _arrival(line: str, where: str) -> Arrival:
    try:
        content: Any = json.loads(line)
        time = float(content.pop("at"))
        ((kind, text),) = content.items()
        text.encode()  # a half of a character is no text
        if not math.isfinite(time):
            raise ValueError
        if kind in ("lost", "connected") and isinstance(text, str):
            return Change(kind, time, text)
        if kind == "typed" and isinstance(text, str):
            return Typed(text, time)
        if kind in ("bytes", "sent"):
            data = text.encode("latin-1")
            return Bytes(data, time) if kind == "bytes" else Sent(data, time)
    except (ValueError, KeyError, TypeError, AttributeError, OverflowError, RecursionError):
        pass
    raise RecordingError(f"{where}: this is no arrival.", "Take the recording as it was written.")


class Replay:
    """A recording as a source: everything comes at once, with the times it came at."""

    def __init__(self, arrivals: Iterable[Arrival], name: str = "recording") -> None:
        self.name = name
        self._arrivals = iter(arrivals)
        self._next = next(self._arrivals, None)
        self._now = 0.0

    def read(self, timeout: float) -> Arrival | None:  # noqa: ARG002 - nothing is waited for
        """The next arrival; None at the end, after which an hour has passed on its clock."""
        arrival = self._next
        self._next = next(self._arrivals, None)
        self._now = self._now + 3600 if arrival is None else arrival.time
        return arrival

    def write(self, data: bytes) -> None:
        """What was sent is in the recording: raises PortRefusedError."""
        raise PortRefusedError(f"{data!r} cannot be sent to a recording.", "Its own requests are in it.")

    def now(self) -> float:
        """The time of the last arrival."""
        return self._now

    @property
    def ended(self) -> bool:
        """Whether everything was read."""
        return self._next is None

    def close(self) -> None:
        """Nothing to give back."""
