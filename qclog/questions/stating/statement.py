"""What a statement of conformity says of one item at one place: enough to understand it, and to compute its figures
again, without the logbook, from this and the readings that go with it."""

import dataclasses
import hashlib
import json
from dataclasses import dataclass
from typing import Final

from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup

FORM: Final = "qclog statement 1"
VALUE_FORM: Final = "qclog statement of values 1"
"""Each names what the attached document says, for who reads it with another program: of run-out, or of a size, a gap or
a difference."""
COVERAGE_FACTOR: Final = 2.0


@dataclass(frozen=True, slots=True)
class Signed:
    """What a statement is issued with. ``number`` and ``revision`` 0: not issued. ``replaces``: the revision that the
    receiver has, 0 for none."""

    number: int
    revision: int
    replaces: int
    issued_at: str
    issuer: str
    signed_by: str
    receiver: str


@dataclass(frozen=True, slots=True)
class Item:
    """The item as it is now: sizes in mm, None where not known; ``what`` was last done to it, when; '': not noted."""

    code: str
    kind: str
    system: str
    nominal_mm: float | None
    bore_mm: float | None
    material: str
    mark: str
    modification: int
    what: str
    done_at: str
    done_by: str
    worked_to_mm: float | None
    held_in: str
    held_at: str
    note: str


@dataclass(frozen=True, slots=True)
class MadeTo:
    """The limit: of the "item" or of the "setup", as typed, at a distance (None: at all), who set it and when (UTC)."""

    upper_um: float
    of: str
    text: str
    distance_mm: float | None
    set_by: str
    set_at_utc: str


@dataclass(frozen=True, slots=True)
class SetLimit:
    """One limit as it was set: of the "item" or of the "setup", of which characteristic, as typed, at a distance (None:
    at all), in µm; who set it and when (UTC)."""

    of: str
    characteristic: str
    text: str
    lower_um: float | None
    upper_um: float | None
    distance_mm: float | None
    set_by: str
    set_at_utc: str


@dataclass(frozen=True, slots=True)
class MadeBetween:
    """The limits of a plain value, the strictest ends of all that are ``set``; None where there is no such end."""

    lower_um: float | None
    upper_um: float | None
    set: tuple[SetLimit, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """A part of the setup, from the spindle outward, and how it is clocked, degrees."""

    code: str
    kind: str
    clocking_deg: float | None


@dataclass(frozen=True, slots=True)
class Place:
    """Where it was measured. ``since`` and ``reason``: of the setup's revision. ``sense``: which way round angles are
    written there; all angles here are clockwise facing the nose."""

    setup: str
    revision: int
    since: str
    reason: str
    sense: str
    links: tuple[Link, ...]
    position: str
    clocking: str
    distance_mm: float
    characteristic: str


@dataclass(frozen=True, slots=True)
class Calibration:
    """A calibration as entered, in µm. ``uncertainty_um`` is expanded, with ``coverage_factor``."""

    done_on: str
    due_on: str
    as_found: str
    as_left: str
    error_limit_um: float | None
    uncertainty_um: float | None
    coverage_factor: float | None
    certificate: str
    note: str


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin that was clamped; ``code`` '' where none was named."""

    code: str
    kind: str
    grade: str
    diameter_mm: float | None
    roundness_um: float | None
    calibration: Calibration | None
    clampings: int


@dataclass(frozen=True, slots=True)
class Indicator:
    """An indicator that was read; with another calibration it stands here once more. ``reads_right_at_deg``: the angle
    at which a lever shows true movement."""

    code: str
    kind: str
    serial: str
    division_um: float | None
    reads_right_at_deg: float
    calibration: Calibration | None
    clampings: int


@dataclass(frozen=True, slots=True)
class Turns:
    """How so many turns were read: "tir" a swing seen on the dial, "point" readings at these angles, degrees; "value"
    so many readings kept together."""

    kind: str
    readings: int
    angles_deg: tuple[float | None, ...]
    turns: int


@dataclass(frozen=True, slots=True)
class ClampingRead:
    """One clamping: full swing in µm; its once-per-turn part, as the TIR it causes, and high spot where known.

    ``number`` and ``uuid`` are those of the logbook; ``indicator`` is the place in the list of indicators, from 0.
    """

    number: int
    uuid: str
    taken_at: str
    sitting: str
    swing_um: float
    once_per_turn_um: float | None
    high_spot_deg: float | None
    pin: str
    indicator: int
    lever_deg: float | None
    pin_out: str
    operator: str
    torque: str
    conditions: str


@dataclass(frozen=True, slots=True)
class ValueRead:
    """One reading of a plain value, µm; ``low_um`` and ``high_um`` are apart where pins told it. ``as_typed``: a text
    for each place read at once, readings kept together in it. The rest as for ``ClampingRead``."""

    number: int
    uuid: str
    taken_at: str
    sitting: str
    low_um: float
    high_um: float
    as_typed: tuple[str, ...]
    indicator: int
    operator: str
    torque: str
    conditions: str


@dataclass(frozen=True, slots=True)
class Struck:
    """A clamping, or a turn or reading of it, that was struck out and counts for nothing."""

    clamping: int
    part: str
    taken_at: str
    reason: str
    by: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Turns at this place that are kept but that no figure rests on: recalled from a notebook, read with a steep lever;
    and clampings read with a gauge found wrong."""

    recalled: int
    steep_lever: int
    in_doubt: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """What every statement says; with ``document`` these are the keys of the attached JSON, with those of its kind.

    ``readings_sha256``: of the readings that go with it.
    """

    form: str
    signed: Signed
    item: Item
    place: Place
    pins: tuple[Pin, ...]
    indicators: tuple[Indicator, ...]
    method: tuple[Turns, ...]
    coverage_factor: float
    struck: tuple[Struck, ...]
    left_out: LeftOut
    readings_sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingStatement(Stated):
    """Of run-out. ``result`` is ``assess``'s group; its ``uncertainty_um`` is expanded with ``coverage_factor``."""

    limit: MadeTo | None
    result: Group
    clampings: tuple[ClampingRead, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ValueStatement(Stated):
    """Of a size, a gap or a difference; as ``SwingStatement``."""

    limit: MadeBetween | None
    result: ValueGroup
    clampings: tuple[ValueRead, ...]


Statement = SwingStatement | ValueStatement
UNSIGNED: Final = Signed(0, 0, 0, "", "", "", "")


def document(statement: Statement) -> bytes:
    """What a statement says as one JSON document: compact, keys sorted, UTF-8."""
    plain = dataclasses.asdict(statement)
    return json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def digest(content: bytes) -> str:
    """SHA-256, hexadecimal."""
    return hashlib.sha256(content).hexdigest()
