"""The ports of this computer, and finding the same indicator again wherever it is plugged in.

The name of a port changes with the socket and with the order of plugging in; the numbers of a USB adapter do not.
An address is one of

    usb:1234:5678:SERIAL     vendor, product (hexadecimal) and serial number of the adapter
    usb:1234:5678@LOCATION   the same without a serial number: the socket it is plugged into
    usb:1234:5678            the only adapter of this kind
    COM3, /dev/ttyUSB0       the name of a port
    socket://host:port       anything the serial library opens by URL
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from instruments.errors import PortAmbiguousError, PortNotFoundError
from instruments.serial_line import listed_ports

_USB: Final = re.compile(
    r"usb:(?P<vendor>[0-9a-f]{4}):(?P<product>[0-9a-f]{4})(?::(?P<serial>[^@]+)|@(?P<location>.+))?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Port:
    """One port; what is not known is empty or None. ``device`` is its name today."""

    device: str
    description: str
    vendor: int | None = None
    product: int | None = None
    serial_number: str = ""
    location: str = ""

    @property
    def address(self) -> str:
        """The address that finds it again: by USB numbers where it has them."""
        if self.vendor is None or self.product is None:
            return self.device
        kind = f"usb:{self.vendor:04x}:{self.product:04x}"
        if self.serial_number:
            return f"{kind}:{self.serial_number}"
        return f"{kind}@{self.location}" if self.location else kind


def list_ports() -> list[Port]:
    """The ports of this computer, those of USB adapters first."""
    ports = [
        Port(
            device=str(found.device),
            description=str(found.description or ""),
            vendor=found.vid,
            product=found.pid,
            serial_number=str(found.serial_number or ""),
            location=str(found.location or ""),
        )
        for found in listed_ports()
    ]
    return sorted(ports, key=lambda port: (port.vendor is None, port.device))


def find_device(address: str, ports: Iterable[Port]) -> str:
    """The name or URL to open for ``address``, given the ports there are.

    Raises PortNotFoundError where no port answers to the USB numbers, or they are none; PortAmbiguousError where
    several do.
    """
    if not address.lower().startswith("usb:"):
        return address
    wanted = _USB.fullmatch(address)
    if wanted is None:
        raise PortNotFoundError(
            f'"{address}" is no USB address.',
            "Write usb: with vendor and product of four hexadecimal digits each, as usb:1234:5678:SERIAL.",
        )
    kind = [port for port in ports if (port.vendor, port.product) == (int(wanted[1], 16), int(wanted[2], 16))]
    found = [
        port
        for port in kind
        if (wanted["serial"] is None or port.serial_number.lower() == wanted["serial"].lower())
        and (wanted["location"] is None or port.location == wanted["location"])
    ]
    if not found:
        there = f" {_listed(kind)} is another of the kind." if kind else ""
        raise PortNotFoundError(f"No port answers to {address}.{there}", "Plug the indicator in, or list the ports.")
    if len(found) > 1:
        raise PortAmbiguousError(f"{_listed(found)} all answer to {address}.", "Name one of them in full.")
    return found[0].device


def _listed(ports: list[Port]) -> str:
    return ", ".join(f"{port.device} ({port.address})" for port in ports)
