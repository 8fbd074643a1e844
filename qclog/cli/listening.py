"""Hearing what an indicator says, before anything is measured with it."""

import contextlib
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from qclog.cli.common import recorder, say, seconds_typed, tell

if TYPE_CHECKING:
    from instruments.listening import Listening
    from instruments.recordings import Recorder
    from instruments.records import Outcome, Why
    from instruments.sources import Source

_WAIT: Final = 0.2


def add_to(app: typer.Typer) -> None:
    app.command("listen")(listen)


def listen(
    port: Annotated[
        str | None,
        typer.Argument(
            metavar="PORT",
            help="usb:1234:5678, COM3, /dev/ttyUSB0, a URL, keyboard, a recording (FILE.jsonl); "
            "without it, the port of the profile, or the ports here.",
        ),
    ] = None,
    profile: Annotated[
        str, typer.Option(metavar="NAME-OR-FILE", help="How it talks; without it, one is proposed from what comes.")
    ] = "",
    seconds: Annotated[
        float,
        typer.Option(metavar="SECONDS", callback=seconds_typed, help="How long to listen; Ctrl-C ends it sooner."),
    ] = 10.0,
    record: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Keep what comes, byte for byte (FILE.jsonl), to replay it.")
    ] = None,
    request: Annotated[
        str, typer.Option(metavar="TEXT", help='What asks it for a reading, if it waits to be asked: "R\\r".')
    ] = "",
    baud: Annotated[
        int | None,
        typer.Option(
            metavar="NUMBER", min=50, max=4_000_000, help="Speed, where no profile says it; 9600 unless told."
        ),
    ] = None,
    unit: Annotated[
        str | None, typer.Option(metavar="UNIT", help="What it shows, where it sends no unit: mm, in, um.")
    ] = None,
) -> None:
    """Hear what an indicator says.

    Bytes, frames and what they mean, or why not. Without a profile it proposes one: qclog listen PORT > mine.toml
    """
    from qclog.errors import UsageError

    if profile:
        given = {"--request": request, "--baud": baud, "--unit": unit}
        for name in (name for name, value in given.items() if value):
            raise UsageError(f"{name} is not used with --profile.", f"Write it in the profile, or leave {name} out.")
        _hear(profile, port, seconds, record)
    elif port is None:
        from instruments.ports import list_ports
        from reports import indicators

        for line in indicators.ports(list_ports()):
            tell(line)
    else:
        _propose(port, seconds, record, request=_sent(request), baud=baud or 9600, unit=_unit(unit))


def _hear(profile: str, port: str | None, seconds: float, record: Path | None) -> None:
    """Bytes, meaning and refusals, a line each, and a count at the end."""
    from instruments.opening import is_recording, open_indicator
    from instruments.profile_files import load_profile
    from instruments.records import Change, Reading
    from instruments.watching import is_frozen
    from reports import indicators

    told = _Told()
    with open_indicator(load_profile(profile), port) as indicator, recorder(record) as kept:
        with contextlib.suppress(KeyboardInterrupt):
            _follow(indicator, seconds, kept, told)
        end = Change("lost", time.monotonic(), indicators.LISTENING_ENDED)
        told.add(indicator.close())
        if kept is not None and not is_recording(port):
            kept.keep(end)
    readings = [one for one in told.outcomes if isinstance(one, Reading)]
    for line in indicators.heard(told.outcomes, frozen=is_frozen(readings)):
        say(line)


def _follow(indicator: "Listening", seconds: float, kept: "Recorder | None", told: "_Told") -> None:
    """What comes, to the end of the time or of the recording; an indicator that waits to be asked is asked whenever
    it is quiet."""
    from instruments.errors import PortLostError
    from reports import indicators

    end, quiet = time.monotonic() + seconds, False
    while time.monotonic() < end and not indicator.ended:
        if quiet:
            with contextlib.suppress(PortLostError):
                indicator.ask()
        step = indicator.poll(_WAIT)
        quiet = step.arrival is None
        if step.arrival is not None:
            if kept is not None:
                kept.keep(step.arrival)
            tell(indicators.arrival(step.arrival))
        told.add(step.outcomes)


class _Told:
    """What was told so far: what to do about a refusal is said once for each reason."""

    def __init__(self) -> None:
        self.outcomes: list[Outcome] = []
        self._whys: set[Why] = set()

    def add(self, outcomes: "tuple[Outcome, ...]") -> None:
        from instruments.records import Blank, Refused
        from reports import indicators

        for outcome in outcomes:
            if isinstance(outcome, Refused):
                tell(indicators.outcome(outcome, told=outcome.why in self._whys))
                self._whys.add(outcome.why)
            elif not isinstance(outcome, Blank):
                tell(indicators.outcome(outcome))
            self.outcomes.append(outcome)


def _propose(port: str, seconds: float, record: Path | None, *, request: bytes, baud: int, unit: str | None) -> None:
    """Some seconds of bytes, and the profile they speak of."""
    from instruments.errors import PortLostError
    from instruments.opening import is_recording
    from instruments.proposing import mode_of, propose
    from instruments.records import Bytes, Sent
    from reports import indicators

    source = _source(port, baud)
    data, times, end, quiet = b"", [], time.monotonic() + seconds, False
    with contextlib.closing(source), recorder(record) as kept, contextlib.suppress(KeyboardInterrupt):
        if not is_recording(port):
            say(
                f"Listening to {port} for {seconds:g} s. Move the plunger both ways; press the data button a few times."
            )
        while time.monotonic() < end and not source.ended:
            if request and quiet:
                with contextlib.suppress(PortLostError):
                    source.write(request)
            arrival = source.read(_WAIT)
            quiet = arrival is None
            if arrival is not None:
                if kept is not None:
                    kept.keep(arrival)
                say(indicators.arrival(arrival))
            if isinstance(arrival, Bytes):
                data += arrival.data
                times.append(arrival.time)
            elif isinstance(arrival, Sent) and arrival.data.isascii():
                request = arrival.data
    mode = "request" if request else mode_of(times)
    found = propose(data, mode=mode, request=request.decode("ascii"), unit=unit)
    for line in indicators.proposal(found, mode):
        say(line)
    if found.toml:
        tell(found.toml)


def _source(port: str, baud: int) -> "Source":
    import sys

    from instruments.opening import is_recording
    from instruments.port import PortSource
    from instruments.profile import LineSettings
    from instruments.recordings import Replay, read_recording
    from instruments.sources import TypedLines

    if is_recording(port):
        return Replay(read_recording(Path(port)))
    if port != "keyboard":
        return PortSource(port, LineSettings(baud=baud))
    typed = TypedLines()
    typed.follow(sys.stdin)
    return typed


def _sent(request: str) -> bytes:
    """The bytes of a request as it is typed, with its escapes. Raises UsageError."""
    from qclog.errors import UsageError

    try:
        return request.encode("ascii").decode("unicode_escape").encode("ascii")
    except UnicodeError:
        raise UsageError(
            f"--request {request!r} cannot be sent.", r'Write ASCII, its end as \r or \n: --request "R\r".'
        ) from None


def _unit(unit: str | None) -> str | None:
    from instruments.units import UNITS
    from qclog.errors import UsageError

    if unit is not None and unit not in UNITS:
        raise UsageError(f"--unit {unit!r} is none.", f"Take one of {', '.join(UNITS)}.")
    return unit
