"""Hearing what an indicator says, before anything is measured with it."""

import contextlib
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, TYPE_CHECKING, Annotated, Final

import typer

from qclog.cli.common import say, tell

if TYPE_CHECKING:
    from instruments.records import Arrival

_WAIT: Final = 0.2


def add_to(app: typer.Typer) -> None:
    app.command("listen")(listen)


def listen(
    port: Annotated[
        str | None,
        typer.Argument(help="usb:1234:5678, COM3, /dev/ttyUSB0, a URL, a recording; without it, the ports here."),
    ] = None,
    profile: Annotated[
        str, typer.Option(metavar="NAME-OR-FILE", help="How it talks; without it, one is proposed from what comes.")
    ] = "",
    seconds: Annotated[float, typer.Option(help="How long to listen; Ctrl-C ends it sooner.")] = 10.0,
    record: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Keep what comes, byte for byte (FILE.jsonl), to replay it.")
    ] = None,
    request: Annotated[str, typer.Option(help='What asks it for a reading, if it waits to be asked: "R\\r".')] = "",
    baud: Annotated[int, typer.Option(help="Speed, where no profile says it.")] = 9600,
    unit: Annotated[str | None, typer.Option(help="What it shows, where it sends no unit: mm, in, um.")] = None,
) -> None:
    """Hear what an indicator says: bytes, frames and what they mean, or why not.

    Without a profile it proposes one: qclog listen PORT > mine.toml
    """
    from instruments.ports import list_ports
    from reports import indicators

    if port is None:
        for line in indicators.ports(list_ports()):
            tell(line)
    elif profile:
        with _recording(record) as kept:
            _hear(port, profile, seconds, kept)
    else:
        with _recording(record) as kept:
            _propose(port, seconds, kept, request=request, baud=baud, unit=unit)


def _hear(port: str, profile: str, seconds: float, kept: IO[str] | None) -> None:
    """Bytes, meaning and refusals, a line each, and a count at the end."""
    from instruments.indicator import Indicator
    from instruments.opening import open_indicator
    from instruments.profile_files import load_profile
    from instruments.recordings import Replay, read_recording
    from instruments.records import Reading
    from instruments.watching import is_frozen
    from reports import indicators

    known = load_profile(profile)
    heard = []
    replayed = port.endswith(".jsonl")
    opened = Indicator(known, Replay(read_recording(Path(port)))) if replayed else open_indicator(known, port)
    end = time.monotonic() + seconds
    with opened as indicator, contextlib.suppress(KeyboardInterrupt):
        while time.monotonic() < end and not indicator.ended:
            if known.mode == "request" and not replayed and indicator.state != "lost":
                indicator.ask()
            step = indicator.poll(_WAIT)
            if step.arrival is not None:
                _keep(kept, step.arrival)
                tell(indicators.arrival(step.arrival))
            for outcome in step.outcomes:
                tell(indicators.outcome(outcome))
                heard.append(outcome)
    readings = [one for one in heard if isinstance(one, Reading)]
    for line in indicators.heard(heard, frozen=is_frozen(readings)):
        say(line)


def _propose(port: str, seconds: float, kept: IO[str] | None, *, request: str, baud: int, unit: str | None) -> None:
    """Some seconds of bytes, and the profile they speak of."""
    from instruments.port import PortSource
    from instruments.profile import LineSettings
    from instruments.proposing import propose
    from instruments.records import Bytes
    from instruments.sources import Source
    from reports import indicators

    source: Source = PortSource(port, LineSettings(baud=baud))
    asked = request.encode().decode("unicode_escape").encode("latin-1")
    data, end = b"", time.monotonic() + seconds
    say(f"Listening to {port} for {seconds:g} s. Move the plunger both ways; press the data button a few times.")
    with contextlib.suppress(KeyboardInterrupt):
        while time.monotonic() < end:
            if asked:
                source.write(asked)
            arrival = source.read(_WAIT)
            if arrival is not None:
                _keep(kept, arrival)
                say(indicators.arrival(arrival))
            if isinstance(arrival, Bytes):
                data += arrival.data
    source.close()
    found = propose(data, mode="request" if request else "stream", request=request, unit=unit)
    for line in indicators.proposal(found):
        say(line)
    if found.toml:
        tell(found.toml)


@contextlib.contextmanager
def _recording(path: Path | None) -> Iterator[IO[str] | None]:
    """The file that keeps what comes. Raises RefusedError where it cannot be written."""
    from qclog.errors import RefusedError

    if path is None:
        yield None
        return
    try:
        file = path.open("x", encoding="ascii", newline="\n")
    except OSError as error:
        raise RefusedError(
            f"{path} cannot be written: {error.strerror or error}.", "Name a new file with --record."
        ) from error
    with file:
        yield file


def _keep(file: IO[str] | None, arrival: "Arrival") -> None:
    from instruments.recordings import recorded

    if file is not None:
        file.write(recorded(arrival) + "\n")
        file.flush()
