"""Opening an indicator by its profile and the address of its port."""

import sys
from pathlib import Path
from typing import Final

from instruments.errors import PortNotFoundError, RecordingError
from instruments.indicator import Indicator
from instruments.listening import Listening
from instruments.port import PortSource
from instruments.profile import Profile
from instruments.recordings import Replay, read_recording
from instruments.sources import TypedLines

RECORDING: Final = ".jsonl"


def open_indicator(profile: Profile, address: str | None = None) -> Listening:
    """Listens to ``address``, or to the port of the profile; "keyboard" is the standard input, a name that ends with
    RECORDING a recording.

    Raises PortNotFoundError if neither names a port, and what the port raises; ExtraMissingError for registers
    without the library that reads them; RecordingError for a recording that cannot be replayed.
    """
    at = address or profile.port
    if not at:
        raise PortNotFoundError(
            f"The profile {profile.name} names no port.", 'Name one, or write it there, as port = "usb:1234:5678".'
        )
    if is_recording(at):
        if profile.frames == "registers":
            raise RecordingError(f"{at} cannot be replayed with registers.", "Take the profile it was recorded with.")
        return Indicator(profile, Replay(read_recording(Path(at))))
    if profile.frames == "registers":
        from instruments.registers import RegisterIndicator

        return RegisterIndicator(profile, at)
    if at == "keyboard":
        typed = TypedLines()
        typed.follow(sys.stdin)
        return Indicator(profile, typed)
    return Indicator(profile, PortSource(at, profile.settings))


def is_recording(address: str | None) -> bool:
    """Whether this is the name of a recording rather than of a port."""
    return address is not None and address.endswith(RECORDING)
