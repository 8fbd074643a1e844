"""Plain records: what is handed to the logbook to be kept. Lengths in whole picometres, angles in thousandths
of a degree, times as written (ISO 8601)."""

from dataclasses import dataclass, field
from typing import Final, Literal

RUNOUT: Final = "runout"
FACE_RUNOUT: Final = "face runout"
SWINGS: Final = (RUNOUT, FACE_RUNOUT)
"""The characteristics that are a full swing, from zero upward; all others are plain values."""
EVERY_DISTANCE: Final = -1
"""Stands in a limit for "at all distances"."""
UNKNOWN_DIAMETER: Final = -1

TurnKind = Literal["tir", "point", "value"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One number of a turn: its value, the text as typed, and the finest place typed (``step_pm``).

    ``angle_mdeg`` is the angle it was read at; of a swing, where the high spot stood, said to within
    ``angle_within_mdeg``. ``low_pm`` and ``high_pm`` are the ends of a value known only as an interval.
    """

    value_pm: int
    text: str
    step_pm: int
    angle_mdeg: int | None = None
    angle_within_mdeg: int = 0
    low_pm: int | None = None
    high_pm: int | None = None


@dataclass(frozen=True, slots=True)
class Turn:
    """The readings of one revolution at one distance: ``tir`` one swing, ``point`` readings on the turn,
    ``value`` a reading of another characteristic. ``closure_pm`` is the return to zero, if it was read."""

    kind: TurnKind
    readings: tuple[Reading, ...]
    distance_pm: int
    characteristic: str = RUNOUT
    label: str = ""
    closure_pm: int | None = None


@dataclass(frozen=True, slots=True)
class Clamping:
    """One closing of an item on a pin, and what was read on it.

    Codes as the user writes them; '' where there is none. ``sitting`` '' means the day of ``taken_at``;
    ``label`` '' is numbered by the logbook; ``modification`` None means the newest not later than
    ``taken_at``.
    """

    item: str
    setup: str
    taken_at: str
    turns: tuple[Turn, ...]
    position: str = ""
    clocking: tuple[tuple[str, int], ...] = ()
    modification: int | None = None
    sitting: str = ""
    label: str = ""
    pin: str = ""
    diameter_pm: int | None = None
    instrument: str = ""
    lever_mdeg: int | None = None
    pin_out: Literal["yes", "no", ""] = ""
    torque: str = ""
    conditions: str = ""
    operator: str = ""
    recalled: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """What an item or a setup is made to: an upper limit, for some characteristics a lower one too."""

    upper_pm: int | None
    distance_pm: int = EVERY_DISTANCE
    characteristic: str = RUNOUT
    setup: str = ""
    position: str = ""
    lower_pm: int | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Card:
    """What is known of an item. Fields left None keep what the newest card says."""

    kind: str | None = None
    system: str | None = None
    nominal_pm: int | None = None
    bore_pm: int | None = None
    range_low_pm: int | None = None
    range_high_pm: int | None = None
    grip_length_pm: int | None = None
    slots: int | None = None
    material: str | None = None
    place: str | None = None
    acquired: str | None = None
    price: str | None = None
    mark: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """A modification: what was done, the sizes, and the place the item was held in while it was done."""

    what: str
    done_at: str
    size_before_pm: int | None = None
    size_pm: int | None = None
    wall_pm: int | None = None
    held_by: str = ""
    holder: str = ""
    position: str = ""
    clocking: tuple[tuple[str, int], ...] = ()
    torque: str = ""
    note: str = ""
    limits: tuple[Limit, ...] = field(default=())
