"""Complete frames, way three: registers of a Modbus RTU device, read with the pymodbus library (extra "modbus").

The library keeps the port, the timing and the check sum; it is loaded only here, and only when a profile asks for it.
A reply that comes damaged is dropped by it and shows as GARBLED with the bytes that did come.
"""

import contextlib
import importlib
import logging
import struct
import time
from collections import deque
from collections.abc import Sequence
from typing import Any, Final, Self

from instruments.errors import ExtraMissingError, InstrumentsError, PortLostError, PortRefusedError
from instruments.listening import Heard, State
from instruments.meaning import interpret
from instruments.ports import find_device, list_ports
from instruments.profile import Profile, Registers, RegisterType
from instruments.records import Bytes, Change, Frame, Outcome, Refused, Sent, Why
from instruments.serial_line import PARITY, open_line

RETRY_SECONDS: Final = 1.0

FORMATS: Final[dict[RegisterType, str]] = {
    "int16": ">h",
    "uint16": ">H",
    "int32": ">i",
    "uint32": ">I",
    "float32": ">f",
}
"""Each type as the standard library's struct writes it, high register first."""


def number_of(registers: Sequence[int], place: Registers, decimals: int) -> str:
    """The number in ``registers`` (each 0 to 65535, in the order they were sent); ``decimals`` counts for a float."""
    ordered = registers if place.words == "high first" else registers[::-1]
    (number,) = struct.unpack(FORMATS[place.type], struct.pack(f">{len(ordered)}H", *ordered))
    return f"{number:.{decimals}f}" if place.type == "float32" else str(number)


class RegisterIndicator:
    """An indicator whose value is read from registers, one request at a time."""

    def __init__(self, profile: Profile, address: str) -> None:
        """Opens the port. Raises ExtraMissingError, PortNotFoundError, PortAmbiguousError or PortRefusedError."""
        assert profile.registers is not None
        self.profile = profile
        self._place = profile.registers
        self._address = address
        self._make_client, self._client_error = _library()
        self._client: Any = None
        self._received = b""
        self._sent = b""
        self._asked = False
        self._unanswered = False
        self._tried_at = time.monotonic()
        self._steps: deque[Heard] = deque()
        self._connect()

    @property
    def state(self) -> State:
        """Connected, silent (a request without an answer), or lost."""
        if self._client is None:
            return "lost"
        return "silent" if self._unanswered else "connected"

    @property
    def ended(self) -> bool:
        """Never: a device can always be asked."""
        return False

    def ask(self) -> bool:
        """Asks for one reading at the next ``poll``: False while one is asked for. Raises PortLostError."""
        if self._client is None:
            raise PortLostError(f"{self._address} is not connected.", "Plug it in again; it goes on by itself.")
        asked, self._asked = self._asked, True
        return not asked

    def poll(self, timeout: float) -> Heard:
        """The next step. Waits ``timeout`` seconds, or while a request is answered (``answer_seconds`` at most)."""
        if not self._steps:
            if self._client is None and time.monotonic() - self._tried_at > RETRY_SECONDS:
                self._tried_at = time.monotonic()
                with contextlib.suppress(InstrumentsError):
                    self._connect()
            elif self._client is not None and self._asked:
                self._request()
        if self._steps:
            return self._steps.popleft()
        time.sleep(timeout)
        return Heard(None, ())

    def close(self) -> tuple[Outcome, ...]:
        """Gives the port back; nothing is ever pending."""
        if self._client is not None:
            self._client.close()
            self._client = None
        return ()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _connect(self) -> None:
        """Opens the port. The library does not tell why it could not: opened here once more, it is told."""
        usb = self._address.lower().startswith("usb:")
        device = find_device(self._address, list_ports() if usb else ())
        settings = self.profile.settings
        client = self._make_client(
            device,
            baudrate=settings.baud,
            bytesize=settings.bytesize,
            parity=PARITY[settings.parity],
            stopbits=settings.stopbits,
            timeout=float(self.profile.answer_seconds),
            retries=0,
            trace_packet=self._trace,
        )
        if not client.connect():
            open_line(device, settings).close()
            raise PortRefusedError(f"Port {device} cannot be opened.", "Unplug it, plug it in again and try once more.")
        self._client = client
        self._steps.append(Heard(Change("connected", time.monotonic(), device), ()))

    def _trace(self, sending: bool, data: bytes) -> bytes:
        """Sees every packet. The library hands over the whole reply so far; bytes it skipped before do not show."""
        if sending:
            self._sent = data
        else:
            self._received = data
        return data

    def _request(self) -> None:
        self._asked = False
        self._sent = self._received = b""
        began = time.monotonic()
        count = struct.calcsize(FORMATS[self._place.type]) // 2
        holding = self._place.kind == "holding"
        read = self._client.read_holding_registers if holding else self._client.read_input_registers
        try:
            reply = read(self._place.address, count=count, device_id=self._place.device)
        except OSError as error:
            self._lose(str(error))
            return
        except self._client_error:
            why = Why.GARBLED if self._received else Why.NO_ANSWER
            outcome: Outcome = Refused(self._received, time.monotonic(), why)
        else:
            outcome = self._outcome(reply, time.monotonic())
        self._unanswered = isinstance(outcome, Refused) and outcome.why is Why.NO_ANSWER
        self._steps.append(Heard(Sent(self._sent, began), ()))
        self._steps.append(Heard(Bytes(self._received, time.monotonic()) if self._received else None, (outcome,)))

    def _outcome(self, reply: Any, at: float) -> Outcome:
        if reply.isError():
            return Refused(self._received, at, Why.DEVICE_ERROR, str(getattr(reply, "exception_code", "")))
        decimals = self.profile.decimals.get(self.profile.unit or "", 0)
        try:
            number = number_of(reply.registers, self._place, decimals)
        except struct.error:
            return Refused(self._received, at, Why.GARBLED, str(reply.registers))
        return interpret(Frame(self._received, number, at), self.profile)

    def _lose(self, why: str) -> None:
        with contextlib.suppress(OSError):
            self._client.close()
        self._client = None
        self._tried_at = now = time.monotonic()
        outcome = Refused(self._received, now, Why.PARTIAL if self._received else Why.NO_ANSWER)
        self._steps.append(Heard(Change("lost", now, why), (outcome,)))


def _library() -> tuple[Any, type[Exception]]:
    """The client of pymodbus (3.10 or newer) and its error."""
    logging.getLogger("pymodbus").addHandler(logging.NullHandler())  # what goes wrong is told as an outcome
    try:
        client = importlib.import_module("pymodbus.client").ModbusSerialClient
        return client, importlib.import_module("pymodbus.exceptions").ModbusException
    except ImportError:
        raise ExtraMissingError(
            "Reading Modbus registers needs the library pymodbus, which is not installed.",
            'Install it with: pip install "qclog[modbus]"',
        ) from None
