"""Bores told by pins that were named by their codes: what the pins' own certificates add, in place of a default."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import isfinite, sqrt

import sqlalchemy as sa

from qclog import times
from qclog.characteristics import known
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import CalibrationCard, read_calibrations
from qclog.logbook.told_by_pins import PinsNamed, read_pins_named
from qclog.questions.codes import Caveat
from qclog.questions.judging.gauging import half_width_um


@dataclass(frozen=True, slots=True)
class OwnPins:
    """What pins add that tell the ends of a bore: the larger standard uncertainty of both, µm; ``overdue``: the
    calibration of one was overdue when they were used."""

    u_um: float
    overdue: bool

    @property
    def caveats(self) -> list[Caveat]:
        return [Caveat.CALIBRATION_OVERDUE] if self.overdue else []


def read_own_pins(connection: sa.Connection, series: Sequence[Series]) -> dict[tuple[int, int], OwnPins]:
    """By series and clamping, of bores told by a go and a no-go pin that both had a calibration then."""
    named = read_pins_named(connection, [one.id for one in series if not known(one.characteristic).joined])
    if not named:
        return {}
    register, calibrations = Register(connection), read_calibrations(connection)
    found = {key: together(_own(register, calibrations, one) for one in pins) for key, pins in named.items()}
    return {key: own for key, own in found.items() if own is not None}


def together(pins: Iterable[OwnPins | None]) -> OwnPins | None:
    """What several of them add; None where one adds nothing of its own, and without any."""
    all_of_them = list(pins)
    own = [one for one in all_of_them if one is not None]
    if not own or len(own) < len(all_of_them):
        return None
    return OwnPins(max(one.u_um for one in own), any(one.overdue for one in own))


def _own(register: Register, calibrations: dict[int, CalibrationCard], named: PinsNamed) -> OwnPins | None:
    """What a pair of pins adds; None where one of them was not named, or has no calibration that says how far off."""
    return together(_of_pin(register, calibrations, code, named.taken_at) for code in (named.go, named.no_go))


def _of_pin(register: Register, calibrations: dict[int, CalibrationCard], code: str, taken_at: str) -> OwnPins | None:
    pin = register.find(code) if code else None
    row = register.calibration_at(pin.id, taken_at) if pin is not None else None
    half_width = half_width_um(None if row is None else calibrations[row["id"]])
    if row is None or not isfinite(half_width):
        return None
    return OwnPins(half_width / sqrt(3.0), bool(row["due_on"]) and times.day(taken_at) > times.day(row["due_on"]))
