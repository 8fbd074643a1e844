"""Opening an indicator by its profile and the address of its port."""

import sys

from instruments.errors import PortNotFoundError
from instruments.indicator import Indicator
from instruments.listening import Listening
from instruments.port import PortSource
from instruments.profile import Profile
from instruments.sources import TypedLines


def open_indicator(profile: Profile, address: str | None = None) -> Listening:
    """Listens to ``address``, or to the port of the profile; "keyboard" is the standard input.

    Raises PortNotFoundError if neither names a port, and what the port raises; ExtraMissingError for registers
    without the library that reads them.
    """
    at = address or profile.port
    if not at:
        raise PortNotFoundError(
            f"The profile {profile.name} names no port.", 'Name one, or write it there, as port = "usb:1234:5678".'
        )
    if profile.frames == "registers":
        from instruments.registers import RegisterIndicator

        return RegisterIndicator(profile, at)
    if at == "keyboard":
        typed = TypedLines()
        typed.follow(sys.stdin)
        return Indicator(profile, typed)
    return Indicator(profile, PortSource(at, profile.settings))
