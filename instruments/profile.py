"""A profile: how one kind of indicator talks, and what it means. Its keys are told in ``profiles/README.md``."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, Literal

from instruments.lines import Terminator

STATUS: Final = ("live", "low battery", "hold", "max", "min", "preset", "over range", "error")
"""What a status text may mean. Only "live" and "low battery" leave the value a reading."""

INDEX: Final = ("mark", "no mark")
"""What the text of an index may mean: the mark of the spindle passes, or it does not."""

Frames = Literal["lines", "bcd", "registers"]
Mode = Literal["stream", "request", "button"]
RegisterType = Literal["int16", "uint16", "int32", "uint32", "float32"]


@dataclass(frozen=True, slots=True)
class LineSettings:
    """How the port is set. ``dtr``, ``rts``: None leaves the line as the system sets it."""

    baud: int = 9600
    bytesize: int = 8
    parity: str = "none"
    stopbits: int = 1
    dtr: bool | None = None
    rts: bool | None = None


@dataclass(frozen=True, slots=True)
class Registers:
    """Where a Modbus RTU device keeps its value. ``address`` counts from 0; ``words``: which half comes first."""

    device: int
    address: int
    kind: Literal["holding", "input"]
    type: RegisterType
    words: Literal["high first", "low first"]


@dataclass(frozen=True, slots=True)
class Profile:
    """One way of talking, checked. The fields are the keys of the file; texts to send are bytes."""

    name: str
    about: str
    frames: Frames
    mode: Mode
    port: str | None
    settings: LineSettings
    terminator: Terminator
    request: bytes
    identify: bytes
    error_query: bytes
    answer_seconds: Decimal
    pattern: re.Pattern[str] | None
    example: str
    decimal: Literal["point", "comma", "either"]
    decimals: Mapping[str, int]
    unit: str | None
    units: Mapping[str, str]
    signs: Mapping[str, str]
    reversed: bool
    scale: Decimal
    status: Mapping[str, str]
    counts_per_turn: int | None
    index: Mapping[str, str]
    range: tuple[Decimal, Decimal, str] | None
    registers: Registers | None
