"""Simulated indicators: a turning spindle with a known swing, read by an indicator that talks in any profile.

For practice and for tests. Everything follows from the settings and the seed: the same indicator says the same again.
``instruments.serving`` puts one on a line that any program can open.
"""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final, Literal, get_args

from instruments.errors import SimulationError
from instruments.meaning import interpret
from instruments.profile import Profile
from instruments.records import Frame, Reading
from instruments.speaking import answered, said, status_line
from instruments.units import EXACT, UNITS, picometres

FaultKind = Literal[
    "cut",  # the end of the line is missing, terminator and all
    "noise",  # foreign bytes somewhere in it
    "freeze",  # the value stays what it was at the first of them
    "unit",  # somebody switched the indicator to its other unit
    "hold",
    "max",
    "low battery",
    "over range",  # the words of the profile, in place of a value
    "burst",  # kept back, then all at once
    "double",  # said twice, as by a double press
    "silence",  # nothing is said
    "disconnect",  # the cable is out
]
_WORDS: Final = ("hold", "max", "low battery", "over range")
_REGRIPS: Final = 1.37  # how often a turn the hand slows down and goes on


@dataclass(frozen=True, slots=True)
class Spindle:
    """What turns under the plunger. ``lobes``: (number a turn, amplitude in um, angle of one of their tops).

    ``noise_um``: standard deviation of a reading; ``unevenness``: the speed of the hand goes from (1 - u) to (1 + u)
    times its mean.
    """

    eccentricity_um: float = 3.0
    high_spot_deg: float = 120.0
    lobes: tuple[tuple[int, float, float], ...] = ()
    noise_um: float = 0.2
    drift_um_per_minute: float = 0.0
    seconds_per_turn: float = 20.0
    unevenness: float = 0.3

    def __post_init__(self) -> None:
        if not self.seconds_per_turn > 0 or not 0 <= self.unevenness < 1 or self.noise_um < 0:
            raise SimulationError(
                "The spindle cannot turn like this.", "Take seconds a turn above 0, unevenness from 0 to under 1."
            )

    def angle_deg(self, seconds: float) -> float:
        """Where it stands after ``seconds``, in degrees from the beginning, without going back to 0."""
        turns = seconds / self.seconds_per_turn
        wave = 2 * math.pi * _REGRIPS
        return 360 * (turns + self.unevenness / wave * math.sin(wave * turns))

    def form_um(self, angle_deg: float) -> float:
        """What a perfect indicator reads at ``angle_deg``."""
        form = self.eccentricity_um * math.cos(math.radians(angle_deg - self.high_spot_deg))
        return form + sum(size * math.cos(math.radians(n * (angle_deg - top))) for n, size, top in self.lobes)

    @property
    def swing_um(self) -> float:
        """The full swing over a turn, on a grid of a tenth of a degree."""
        form = [self.form_um(tenth / 10) for tenth in range(3600)]
        return max(form) - min(form)


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that goes wrong with ``count`` readings from number ``first`` on (the first of all is 0)."""

    kind: FaultKind
    first: int
    count: int = 1


@dataclass(frozen=True, slots=True)
class Saying:
    """One reading as it is said: ``data`` at ``seconds`` from the beginning, and ``value`` in ``unit`` as truly shown;
    the spindle at ``angle_deg`` (without going back to 0), ``index`` as its mark passes.

    With a ``fault`` the data may say something else, or nothing.
    """

    number: int
    seconds: float
    angle_deg: float
    index: bool
    value: Decimal
    unit: str
    data: bytes
    fault: FaultKind | None


class SimulatedIndicator:
    """An indicator on ``spindle`` that talks in ``profile``.

    ``unit`` and ``resolution`` (in that unit) are those of the profile's example unless told, and not finer than
    0.1 um or 0.00001 in. Raises SimulationError where the profile has no words for what is asked.
    """

    def __init__(
        self,
        profile: Profile,
        spindle: Spindle | None = None,
        *,
        unit: str | None = None,
        resolution: Decimal | None = None,
        per_second: float = 10.0,
        faults: tuple[Fault, ...] = (),
        seed: int = 0,
    ) -> None:
        if not 0 < per_second <= 100_000:
            raise SimulationError(f"{per_second} readings a second cannot be said.", "Take more than 0, to 100000.")
        self.profile = profile
        self.spindle = spindle or Spindle()
        self.per_second = per_second
        self.unit, self.resolution = _usual(profile, unit, resolution)
        self._faults = {number: fault for fault in faults for number in range(fault.first, fault.first + fault.count)}
        self._frozen: dict[Fault, Decimal] = {}
        self._seed = seed
        said(profile, self.resolution, self.unit)
        for fault in faults:
            if fault.kind not in get_args(FaultKind):
                raise SimulationError(f'"{fault.kind}" is no fault.', f"Take one of {', '.join(get_args(FaultKind))}.")
            if fault.kind == "disconnect" and profile.mode == "request":
                raise SimulationError(
                    "A disconnected indicator hears no request, so no reading ends the fault.", "Pull it out by hand."
                )
            self.saying(fault.first)
        self.saying(0)
        self._frozen.clear()

    def stream(self) -> Iterator[Saying]:
        """The readings of a stream, without end."""
        number = 0
        while True:
            yield self.saying(number)
            number += 1

    def saying(self, number: int, *, seconds: float | None = None, angle_deg: float | None = None) -> Saying:
        """Reading ``number``: taken at its time in the stream, or after ``seconds``, or with the spindle at
        ``angle_deg``."""
        at = number / self.per_second if seconds is None else seconds
        fault = self._faults.get(number)
        kind = fault.kind if fault else None
        if fault and kind == "burst" and seconds is None:
            at = (fault.first + fault.count - 1) / self.per_second
        taken = number / self.per_second if seconds is None else seconds
        if angle_deg is None:
            before = (number - 1) / self.per_second if seconds is None else seconds - 1 / self.per_second
            angle = self.spindle.angle_deg(taken)
            index = angle // 360 > self.spindle.angle_deg(before) // 360
        else:
            angle, index = angle_deg, angle_deg % 360 == 0
        unit = self._other_unit() if kind == "unit" else self.unit
        value = self._value(number, taken, angle, unit)
        if fault and kind == "freeze":
            if number > fault.first and fault not in self._frozen and seconds is None:
                self.saying(fault.first)
            value = self._frozen.setdefault(fault, value)
        said_so = Saying(number, at, angle, index, value, unit, b"", kind)
        return replace(said_so, data=self._data(said_so))

    def answer(self, request: bytes, number: int, seconds: float) -> bytes | None:
        """The answer to ``request``, counted as reading ``number``; None for a request that is not the profile's."""
        saying = self.saying(number, seconds=seconds)
        if request == self.profile.request:
            return saying.data
        whole = answered(self.profile, request, saying.value, saying.unit)
        if whole is None or saying.fault is None or self.profile.registers is None:
            return whole
        return self._spoilt(number, whole, saying.fault)

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        noise = random.Random(self._seed * 1_000_003 + number).gauss(0.0, self.spindle.noise_um)
        um = self.spindle.form_um(angle_deg) + noise + self.spindle.drift_um_per_minute * seconds / 60
        step = self.resolution if unit == self.unit else _finest(unit, self.resolution, self.unit)
        return EXACT.multiply(round(um * 1e6 / float(picometres(step, unit))), step)

    def _other_unit(self) -> str:
        others = [unit for unit in self.profile.units.values() if unit != self.unit]
        if not others:
            raise SimulationError(f"The profile {self.profile.name} has one unit only.", "Take another fault.")
        return others[0]

    def _data(self, saying: Saying) -> bytes:
        if saying.fault in _WORDS:
            return status_line(self.profile, saying.fault, saying.value, saying.unit, angle_deg=saying.angle_deg)
        whole = said(self.profile, saying.value, saying.unit, angle_deg=saying.angle_deg, index=saying.index)
        return whole if saying.fault is None else self._spoilt(saying.number, whole, saying.fault)

    def _spoilt(self, number: int, whole: bytes, kind: FaultKind) -> bytes:
        """What is left of ``whole`` with a fault of the line."""
        chance = random.Random(self._seed * 7_919 + number)
        match kind:
            case "cut":
                return whole[: chance.randrange(1, len(whole))]
            case "noise":
                foreign = bytes(chance.choices([0, *range(0x80, 0x100)], k=chance.randrange(1, 9)))
                at = chance.randrange(len(whole))
                return whole[:at] + foreign + whole[at:]
            case "double":
                return whole + whole
            case "silence" | "disconnect":
                return b""
            case _:
                return whole


def _usual(profile: Profile, unit: str | None, resolution: Decimal | None) -> tuple[str, Decimal]:
    if profile.registers is not None:
        example = Reading(profile.scale, profile.unit or "", 0.0, b"")
        if profile.registers.type == "float32":
            example = Reading(Decimal(1).scaleb(-profile.decimals[example.unit]), example.unit, 0.0, b"")
        last_place = example.value
    else:
        meant = interpret(Frame(b"", profile.example, 0.0), profile)
        assert isinstance(meant, Reading)
        example = meant
        last_place = Decimal(1).scaleb(int(meant.value.as_tuple().exponent))
    taken = unit or example.unit
    if taken not in UNITS:
        raise SimulationError(f'"{taken}" is no unit.', f"Take one of {', '.join(UNITS)}.")
    if resolution is None:
        resolution = _finest(taken, last_place, example.unit)
    if not resolution > 0:
        raise SimulationError(f"A resolution of {resolution} cannot be shown.", 'Take more than 0, as "0.001".')
    return taken, resolution


def _finest(unit: str, resolution: Decimal, of_unit: str) -> Decimal:
    """The power of ten of ``unit`` that is not finer than ``resolution``, nor than 0.1 um or 0.00001 in."""
    least = max(
        picometres(resolution, of_unit), Decimal(254_000 if unit in ("in", "thou", "tenths", "uin") else 100_000)
    )
    step = Decimal(1).scaleb(-12)
    while picometres(step, unit) < least:
        step = step.scaleb(1)
    return step
