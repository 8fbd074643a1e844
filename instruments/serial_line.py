"""The one place that touches the serial library, which carries no types: opening, reading, listing.

Whatever the library opens by URL works: ``socket://host:port``, ``rfc2217://host:port``, ``loop://``.
"""

import errno
import importlib
import os
from collections.abc import Callable, Iterable
from typing import Any, Final, Protocol

from instruments.errors import PortNotFoundError, PortRefusedError
from instruments.profile import LineSettings

READ_SECONDS: Final = 0.1
"""A read blocks no longer than this."""

WRITE_SECONDS: Final = 1.0

_FAILURES: Final[tuple[type[Exception], ...]] = (
    OSError,
    ValueError,
    *((importlib.import_module("termios").error,) if os.name == "posix" else ()),
)
PARITY: Final = {"none": "N", "even": "E", "odd": "O"}


class SerialLine(Protocol):
    """What is used of an open port. Reading and writing raise OSError when the port is gone."""

    dtr: bool
    rts: bool

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting (at least one of them, on a network port)."""

    def read(self, size: int) -> bytes:
        """Up to ``size`` bytes, after READ_SECONDS at the latest."""

    def write(self, data: bytes) -> int | None:
        """Sends ``data``, or raises OSError after WRITE_SECONDS."""

    def close(self) -> None:
        """Gives the port back."""


def open_line(address: str, settings: LineSettings) -> SerialLine:
    """The port or URL ``address``, opened for this program alone; what came before is forgotten.

    Raises PortNotFoundError or PortRefusedError.
    """
    serial: Any = importlib.import_module("serial")
    line: SerialLine | None = None
    try:
        line = serial.serial_for_url(
            address,
            baudrate=settings.baud,
            bytesize=settings.bytesize,
            parity=PARITY[settings.parity],
            stopbits=settings.stopbits,
            timeout=READ_SECONDS,
            write_timeout=WRITE_SECONDS,
            exclusive=True,
        )
        assert line is not None
        if settings.dtr is not None:
            line.dtr = settings.dtr
        if settings.rts is not None:
            line.rts = settings.rts
    except _FAILURES as error:
        if line is not None:
            line.close()
        raise _refusal(address, settings, error) from None
    return line


def listed_ports() -> Iterable[Any]:
    """The ports of this computer, as the library's records."""
    comports: Callable[[], Iterable[Any]] = importlib.import_module("serial.tools.list_ports").comports
    return comports()


def _refusal(address: str, settings: LineSettings, error: Exception) -> PortNotFoundError | PortRefusedError:
    text = str(error)
    code = getattr(error, "errno", None) or (error.args[0] if error.args else None)  # termios.error has no errno
    if code in (errno.ENOENT, errno.ENODEV, errno.ENXIO) or "FileNotFoundError" in text:
        return PortNotFoundError(f"There is no port {address}.", "Plug the indicator in, and list the ports.")
    if code in (errno.EACCES, errno.EPERM) or "PermissionError" in text:
        return PortRefusedError(
            f"Port {address} may not be opened.",
            "Close the other program that uses it; on Linux your user must be in the group of serial ports.",
        )
    if code in (errno.EAGAIN, errno.EBUSY) or "lock port" in text:
        return PortRefusedError(f"Port {address} is used by another program.", "Close that one, then try again.")
    if code == errno.EINVAL or (isinstance(error, ValueError) and "://" not in address):
        return PortRefusedError(
            f"Port {address} does not take {_told(settings)}.",
            "Write what the indicator and its adapter have: baud, bytesize, parity and stopbits in the profile.",
        )
    if "://" in address:
        return PortRefusedError(
            f"{address} cannot be opened: {text}.", "Check the address and that the other end is on."
        )
    why = error.strerror if isinstance(error, OSError) and error.strerror else text
    return PortRefusedError(f"Port {address} cannot be opened: {why}.", "Check its name, and list the ports.")


def _told(settings: LineSettings) -> str:
    return (
        f"{settings.baud} baud with {settings.bytesize} data bits, parity {settings.parity} and "
        f"{settings.stopbits} stop bit{'s' if settings.stopbits > 1 else ''}"
    )
