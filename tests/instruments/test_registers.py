"""Modbus RTU registers, against a simulated device on a pseudo-terminal.

The library is an extra. Where it is installed it is used; everywhere a stand-in with its documented names takes its
place, so that what is done around it is tested without it.
"""

import importlib.util
import struct
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.errors import ExtraMissingError, PortLostError, PortNotFoundError, PortRefusedError
from instruments.listening import Heard
from instruments.opening import open_indicator
from instruments.profile import Profile, Registers, RegisterType
from instruments.profile_files import load_profile, read_profile
from instruments.records import Bytes, Change, Outcome, Reading, Refused, Sent, Why
from instruments.registers import FORMATS, RegisterIndicator, number_of
from instruments.serial_line import open_line
from instruments.serving import Serving
from instruments.simulated import Fault, FaultKind, SimulatedIndicator, Spindle
from instruments.speaking import answered, check_sum, said

Serve = Callable[..., Serving]
Hear = Callable[..., list[Outcome]]
SPINDLE = Spindle(eccentricity_um=30.0, noise_um=0.0, seconds_per_turn=2.0, unevenness=0.0)


class LibraryError(Exception):
    """The stand-in for the library's error."""


class Reply:
    """The stand-in for the library's reply."""

    def __init__(self, registers: list[int], exception_code: int = 0) -> None:
        self.registers = registers
        self.exception_code = exception_code

    def isError(self) -> bool:  # noqa: N802 - the library's name
        return self.exception_code != 0


class Client:
    """The stand-in for the library's client: the documented names and keywords, and nothing else."""

    def __init__(
        self,
        port: str,
        *,
        baudrate: int,
        bytesize: int,
        parity: str,
        stopbits: int,
        timeout: float,
        retries: int,
        trace_packet: Callable[[bool, bytes], bytes],
    ) -> None:
        assert (baudrate, bytesize, stopbits, retries) == (19200, 8, 1, 0)
        assert parity in ("E", "N")
        self.port, self.timeout, self.trace = port, timeout, trace_packet
        self.line: Any = None

    def connect(self) -> bool:
        try:
            self.line = self.line or open_line(self.port, load_profile("modbus-rtu-registers").settings)
        except (PortRefusedError, PortNotFoundError):
            return False
        return True

    def close(self) -> None:
        if self.line is not None:
            self.line.close()
        self.line = None

    def read_holding_registers(self, address: int, *, count: int = 1, device_id: int = 1) -> Reply:
        return self._read(3, address, count, device_id)

    def read_input_registers(self, address: int, *, count: int = 1, device_id: int = 1) -> Reply:
        return self._read(4, address, count, device_id)

    def _read(self, code: int, address: int, count: int, device: int) -> Reply:
        request = struct.pack(">BBHH", device, code, address, count)
        self.line.write(self.trace(True, request + check_sum(request)))
        reply, end = b"", time.monotonic() + self.timeout
        while time.monotonic() < end:
            data = self.line.read(max(1, self.line.in_waiting))
            if not data:
                continue
            reply = self.trace(False, reply + data)
            whole = len(reply) >= 5 and reply[-2:] == check_sum(reply[:-2])
            if whole and reply[1] & 0x80:
                return Reply([], reply[2])
            if whole and len(reply) == 5 + 2 * count and reply[:3] == bytes((device, code, 2 * count)):
                return Reply(list(struct.unpack(f">{count}H", reply[3:-2])))
        raise LibraryError("no response")


def _stand_in() -> dict[str, ModuleType]:
    client, exceptions = ModuleType("pymodbus.client"), ModuleType("pymodbus.exceptions")
    client.ModbusSerialClient = Client  # type: ignore[attr-defined]
    exceptions.ModbusException = LibraryError  # type: ignore[attr-defined]
    package = ModuleType("pymodbus")
    return {"pymodbus": package, "pymodbus.client": client, "pymodbus.exceptions": exceptions}


@pytest.fixture(params=["stand-in", "pymodbus"])
def library(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    if request.param == "stand-in":
        for name, module in _stand_in().items():
            monkeypatch.setitem(sys.modules, name, module)
    elif importlib.util.find_spec("pymodbus") is None:
        pytest.skip("the library is not installed: pip install 'qclog[modbus]'")
    return str(request.param)


def served(serve: Serve, *faults: Fault) -> tuple[Profile, Serving]:
    """A device on a pseudo-terminal, which has no parity."""
    shipped = load_profile("modbus-rtu-registers")
    profile = replace(shipped, settings=replace(shipped.settings, parity="none"))
    return profile, serve(SimulatedIndicator(profile, SPINDLE, faults=faults))


@pytest.mark.usefixtures("library")
def test_a_value_is_read_from_its_registers_with_its_bytes(serve: Serve, hear: Hear) -> None:
    profile, device = served(serve)
    steps: list[Heard] = []
    with open_indicator(profile, device.address) as indicator:
        readings = [one for one in hear(indicator, 3, ask=True, each=steps.append) if isinstance(one, Reading)]
        assert indicator.state == "connected"
    assert all(abs(reading.value) <= Decimal("30.1") and reading.unit == "um" for reading in readings)
    sent = [step.arrival for step in steps if isinstance(step.arrival, Sent)]
    received = [step.arrival for step in steps if isinstance(step.arrival, Bytes)]
    assert sent[0].data == bytes.fromhex("010300000002") + check_sum(bytes.fromhex("010300000002"))
    assert [reading.raw for reading in readings] == [arrival.data for arrival in received]
    assert [type(step.arrival) for step in steps if step.arrival][:3] == [Change, Sent, Bytes]


@pytest.mark.usefixtures("library")
@pytest.mark.parametrize(
    ("kind", "expected"), [("silence", Why.NO_ANSWER), ("cut", Why.GARBLED), ("noise", Why.GARBLED)]
)
def test_a_damaged_or_missing_reply_is_told_and_the_next_one_is_read(
    serve: Serve, hear: Hear, kind: FaultKind, expected: Why
) -> None:
    profile, device = served(serve, Fault(kind, 1))
    with open_indicator(profile, device.address) as indicator:
        outcomes = hear(indicator, 3, ask=True)
    assert [one.why for one in outcomes if isinstance(one, Refused)] == [expected]


@pytest.mark.usefixtures("library")
def test_a_device_that_has_no_such_register_is_told_with_its_code(serve: Serve, hear: Hear) -> None:
    profile, device = served(serve)
    text = 'about = "x"\nframes = "registers"\nbaud = 19200\nparity = "none"\nunit = "um"\nanswer_seconds = "0.5"\n'
    other = read_profile(text + '[registers]\naddress = 77\ntype = "int16"\n', "other.toml")
    assert profile.registers != other.registers
    with open_indicator(other, device.address) as indicator:
        (refused,) = hear(indicator, 1, kind=Refused, ask=True)
    assert isinstance(refused, Refused)
    assert (refused.why, refused.detail) == (Why.DEVICE_ERROR, "2")


def test_a_device_that_is_pulled_out_is_lost_and_read_again_when_it_is_back(
    serve: Serve, hear: Hear, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, module in _stand_in().items():
        monkeypatch.setitem(sys.modules, name, module)
    monkeypatch.setattr("instruments.registers.RETRY_SECONDS", 0.05)
    profile, device = served(serve)
    with RegisterIndicator(profile, device.address) as indicator:
        hear(indicator, 1, ask=True)
        device.pull_out()
        deadline = time.monotonic() + 10.0
        while _state(indicator) != "lost":
            assert time.monotonic() < deadline
            indicator.ask()
            indicator.poll(0.01)
        with pytest.raises(PortLostError, match="is not connected"):
            indicator.ask()
        device.put_back()
        while _state(indicator) == "lost":
            assert time.monotonic() < deadline
            indicator.poll(0.01)
        assert hear(indicator, 1, ask=True)


def _state(indicator: RegisterIndicator) -> str:
    return indicator.state


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pymodbus.client", None)
    with pytest.raises(ExtraMissingError, match=r'Install it with: pip install "qclog\[modbus\]"'):
        open_indicator(load_profile("modbus-rtu-registers"), "COM3")


@pytest.mark.usefixtures("library")
def test_a_port_that_is_not_there_is_told() -> None:
    with pytest.raises(PortNotFoundError, match=r"There is no port /dev/none-such\. Plug the indicator in"):
        open_indicator(load_profile("modbus-rtu-registers"), "/dev/none-such")


@pytest.mark.usefixtures("library")
def test_a_port_that_another_program_uses_is_told(serve: Serve) -> None:
    profile, device = served(serve)
    line = open_line(device.address, profile.settings)
    with pytest.raises(PortRefusedError, match=r"is used by another program\. Close that one"):
        open_indicator(profile, device.address)
    line.close()


@pytest.mark.usefixtures("library")
def test_settings_that_the_port_does_not_take_are_told_and_not_taken_for_another_program(serve: Serve) -> None:
    """Pseudo-terminals of Linux know no parity."""
    profile, device = served(serve)
    even = replace(profile, settings=replace(profile.settings, parity="even"))
    open_line(device.address, profile.settings).close()
    try:
        open_indicator(even, device.address).close()
        pytest.skip("the pseudo-terminals of this system take a parity")
    except PortRefusedError as error:
        refusal = str(error)
    assert refusal == (
        f"Port {device.address} does not take 19200 baud with 8 data bits, parity even and 1 stop bit. "
        "Write what the indicator and its adapter have: baud, bytesize, parity and stopbits in the profile."
    )


@pytest.mark.usefixtures("library")
def test_a_device_with_parity_is_practised_with_as_it_ships(serve: Serve, hear: Hear) -> None:
    shipped = load_profile("modbus-rtu-registers")
    device = serve(SimulatedIndicator(shipped, SPINDLE))
    with open_indicator(shipped, device.address) as indicator:
        assert len(hear(indicator, 2, ask=True)) >= 2


@pytest.mark.parametrize(
    ("kind", "words", "registers", "number"),
    [
        ("int16", "high first", [0xFFFE], "-2"),
        ("uint16", "high first", [0xFFFE], "65534"),
        ("int32", "high first", [0x0001, 0x0002], "65538"),
        ("int32", "low first", [0x0002, 0x0001], "65538"),
        ("int32", "high first", [0xFFFF, 0xFFFE], "-2"),
        ("uint32", "low first", [0xFFFE, 0xFFFF], "4294967294"),
        ("float32", "high first", [0x3DFC, 0xD35B], "0.1235"),
        ("float32", "high first", [0x7FC0, 0x0000], "nan"),
        ("float32", "high first", [0x7F80, 0x0000], "inf"),
    ],
)
def test_numbers_are_made_of_registers_as_the_types_say(
    kind: RegisterType, words: Any, registers: list[int], number: str
) -> None:
    assert number_of(registers, Registers(1, 0, "holding", kind, words), 4) == number


FLOAT = """
about = "a float"
frames = "registers"
unit = "mm"
decimals = 4
[registers]
device = 7
address = 40
kind = "input"
type = "float32"
words = "low first"
"""


@given(ten_thousandths=st.integers(-99_999, 99_999))
def test_a_float_comes_back_with_the_decimals_that_count(ten_thousandths: int) -> None:
    profile = read_profile(FLOAT, "float.toml")
    assert profile.registers is not None
    value = Decimal(ten_thousandths).scaleb(-4)
    data = said(profile, value, "mm")
    words = struct.unpack(">2H", data)
    assert Decimal(number_of(words, profile.registers, 4)) == value


def test_a_request_with_a_wrong_check_sum_or_for_another_device_is_not_answered() -> None:
    profile = read_profile(FLOAT, "float.toml")
    request = struct.pack(">BBHH", 7, 4, 40, 2)
    assert answered(profile, request + check_sum(request), Decimal("0.5"), "mm") is not None
    assert answered(profile, request + b"\x00\x00", Decimal("0.5"), "mm") is None
    other = struct.pack(">BBHH", 8, 4, 40, 2)
    assert answered(profile, other + check_sum(other), Decimal("0.5"), "mm") is None
    holding = struct.pack(">BBHH", 7, 3, 40, 2)
    refused = answered(profile, holding + check_sum(holding), Decimal("0.5"), "mm")
    assert refused is not None
    assert refused[:3] == bytes([7, 0x83, 1])


def test_every_type_fills_whole_registers() -> None:
    assert {kind: struct.calcsize(code) for kind, code in FORMATS.items()} == {
        "int16": 2,
        "uint16": 2,
        "int32": 4,
        "uint32": 4,
        "float32": 4,
    }
