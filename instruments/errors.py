"""What can go wrong between an indicator and its readings, one type each.

A message says what happened, to what, and what to do next, on one line. What the indicator says and this package
does not take as a reading is no error: it is a ``Refused`` with its text and the reason.
"""


class InstrumentsError(Exception):
    """Base of all errors of this package."""

    def __init__(self, what: str, remedy: str) -> None:
        """``what`` happened and to what; ``remedy``: what to do next."""
        super().__init__(what)
        self.what = what
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.what} {self.remedy}"


class PortNotFoundError(InstrumentsError):
    """No port answers to the name, URL or USB numbers given."""


class PortAmbiguousError(InstrumentsError):
    """More than one port answers to the USB numbers given."""


class PortRefusedError(InstrumentsError):
    """The port is there and cannot be opened: in use, not permitted, settings it does not know."""


class PortLostError(InstrumentsError):
    """The port is gone: nothing can be sent to it until it is back."""


class ProfileNotFoundError(InstrumentsError):
    """There is no profile of that name, or no such file."""


class ProfileError(InstrumentsError):
    """A profile that cannot be used as written; the message names file and key."""


class RecordingError(InstrumentsError):
    """A file that is no recording, or is damaged; the message names file and line."""


class ExtraMissingError(InstrumentsError):
    """This way of talking needs a library that is not installed."""


class SimulationError(InstrumentsError):
    """A simulated indicator that cannot be made as asked for, or cannot say what it should in its profile."""
