"""Ports as records, and finding the same indicator again wherever it is plugged in."""

from types import SimpleNamespace

import pytest

from instruments import ports
from instruments.errors import PortAmbiguousError, PortNotFoundError
from instruments.ports import Port, find_device, list_ports

PORTS = [
    Port("/dev/ttyUSB0", "adapter", 0x1234, 0x5678, "A1", "1-1"),
    Port("/dev/ttyUSB1", "adapter", 0x1234, 0x5678, "B2", "1-2"),
    Port("/dev/ttyUSB2", "board", 0x1234, 0x00AB, "", "1-3"),
    Port("/dev/ttyS0", "on board"),
]


@pytest.mark.parametrize(
    ("address", "device"),
    [
        ("usb:1234:5678:A1", "/dev/ttyUSB0"),
        ("usb:1234:5678:b2", "/dev/ttyUSB1"),
        ("USB:1234:5678@1-2", "/dev/ttyUSB1"),
        ("usb:1234:00ab", "/dev/ttyUSB2"),
        ("/dev/ttyS0", "/dev/ttyS0"),
        ("COM3", "COM3"),
        ("socket://127.0.0.1:5000", "socket://127.0.0.1:5000"),
    ],
)
def test_an_address_leads_to_its_port(address: str, device: str) -> None:
    assert find_device(address, PORTS) == device


@pytest.mark.parametrize("port", PORTS)
def test_the_address_of_a_port_leads_back_to_it(port: Port) -> None:
    assert find_device(port.address, PORTS) == port.device
    assert (
        port.address
        == {
            "/dev/ttyUSB0": "usb:1234:5678:A1",
            "/dev/ttyUSB1": "usb:1234:5678:B2",
            "/dev/ttyUSB2": "usb:1234:00ab@1-3",
            "/dev/ttyS0": "/dev/ttyS0",
        }[port.device]
    )


@pytest.mark.parametrize(
    ("address", "kind", "told"),
    [
        (
            "usb:1234:5678",
            PortAmbiguousError,
            r"ttyUSB0 \(usb:1234:5678:A1\), .*ttyUSB1 .* all answer to usb:1234:5678",
        ),
        (
            "usb:1234:5678:C3",
            PortNotFoundError,
            "No port answers to usb:1234:5678:C3. .*ttyUSB0.* is another of the kind",
        ),
        ("usb:9999:0001", PortNotFoundError, "No port answers to usb:9999:0001. Plug the indicator in"),
        ("usb:12", PortNotFoundError, '"usb:12" is no USB address. Write usb: with vendor'),
    ],
)
def test_an_address_that_leads_nowhere_or_to_several_is_told(address: str, kind: type[Exception], told: str) -> None:
    with pytest.raises(kind, match=told):
        find_device(address, PORTS)


def test_ports_are_listed_as_records_those_of_adapters_first(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [
        SimpleNamespace(device="COM1", description="n/a", vid=None, pid=None, serial_number=None, location=None),
        SimpleNamespace(device="COM7", description="adapter", vid=1, pid=2, serial_number="S", location="1-1"),
    ]
    monkeypatch.setattr(ports, "listed_ports", lambda: found)
    assert list_ports() == [Port("COM7", "adapter", 1, 2, "S", "1-1"), Port("COM1", "n/a")]


def test_the_ports_of_this_computer_can_be_listed() -> None:
    assert all(port.device for port in list_ports())
