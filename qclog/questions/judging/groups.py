"""What is told of the clampings of one item at one place: figures, bound, verdicts and how they were reached."""

import cmath
import math
from dataclasses import dataclass
from typing import Final

from qclog.characteristics import known
from qclog.questions.codes import Caveat
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, ValueGroup
from qclog.questions.places import AtPlace

CONTENT: Final = 0.95
CONFIDENCE: Final = 0.95
VECTORS: Final = ", from vectors"


@dataclass(frozen=True, slots=True)
class Swing:
    mean: float
    sd: float | None
    min: float
    max: float
    last: float


@dataclass(frozen=True, slots=True)
class Eccentricity:
    """The mean once-per-turn vector: the TIR it causes, and where its high spot stands."""

    tir_um: float
    high_spot_deg: float


@dataclass(frozen=True, slots=True)
class Next:
    """Half, and 95 %, of the next clampings stay below."""

    median_um: float
    p95_um: float


@dataclass(frozen=True, slots=True)
class Bound:
    """With this confidence, this share of all clampings stays below the value, as this indicator reads them."""

    value_um: float
    content: float
    confidence: float
    method: str


@dataclass(frozen=True, slots=True)
class Decision:
    """How the verdict on the next clampings was reached (ISO 14253-1), in µm.

    ``bound_um``: with ``confidence`` (the price of looking again in it) 19 clampings in 20 stay under it, as read; for
    "does not hold" with that confidence they do not. ``guard_um`` for the indicator is added to it, or taken off,
    about ``centre_um``: as ``added`` says, "root sum of squares" or "linear". ``decides_um`` is held against the limit.
    """

    confidence: float
    bound_um: float
    centre_um: float
    guard_um: float
    added: str
    decides_um: float


@dataclass(frozen=True, slots=True)
class Group(AtPlace):
    """One item in one setup at one place. ``caveats`` are short codes.

    ``holds_from_um``: the least limit that its next clampings would be found to hold; None where none would.
    ``decision``: None where the next clampings have no verdict. ``more_in_sitting``: of jaws, how many more
    clampings in their sitting would show that it holds.
    """

    clampings: int
    sittings: int
    tir_um: Swing
    eccentricity: Eccentricity | None
    repeat_um: float | None
    next: Next | None
    bound: Bound | None
    uncertainty_um: float | None
    resolution_um: float
    limit_um: float | None
    limit_from: str | None
    as_read: str
    this_sitting: str
    next_clampings: str
    more_clampings: int | None
    caveats: tuple[Caveat, ...]
    holds_from_um: float | None = None
    decision: Decision | None = None
    more_in_sitting: int | None = None


def eccentricity_of(vector: complex) -> Eccentricity | None:
    """A once-per-turn vector in µm as the TIR it causes and the angle of its high spot; None for NaN."""
    if not math.isfinite(vector.real):
        return None
    return Eccentricity(2 * abs(vector), math.degrees(cmath.phase(vector)) % 360)


def waits_for_doubt(group: Group | ValueGroup) -> bool:
    """Whether nothing can be said of a group before what is in doubt is measured again or cleared."""
    left_out = Caveat.IN_DOUBT_LEFT_OUT in group.caveats and group.next_clampings == CANNOT_TELL
    return left_out or Caveat.IN_DOUBT in group.caveats


def for_its_sitting(group: Group | ValueGroup) -> bool:
    """Whether one sitting is all that is asked about: of a gap, read before it is bonded; of jaws, bored for a job."""
    if isinstance(group, ValueGroup):
        return known(group.characteristic).once
    return not {Caveat.CHUCK_REPEAT, Caveat.FOR_ITS_JOB}.isdisjoint(group.caveats)


def sitting_counts(group: Group | ValueGroup) -> bool:
    """Whether the verdict of its sitting is the one to go by."""
    told = group.next_clampings == CANNOT_TELL and group.this_sitting in (HOLDS, DOES_NOT_HOLD)
    return told and for_its_sitting(group) and not waits_for_doubt(group)


def goes_by(group: Group | ValueGroup) -> str:
    """The verdict to go by: that on the next clampings, or that of its sitting where this is what counts."""
    return group.this_sitting if sitting_counts(group) else group.next_clampings


def to_work_again(value: ValueGroup) -> bool:
    """Whether a size, a gap or a difference is not what it was made to, and more readings would not show otherwise; of
    a gap only until it is bonded."""
    more = value.more_readings is not None or value.more_in_sitting is not None
    fails = goes_by(value) == DOES_NOT_HOLD or (value.as_read == DOES_NOT_HOLD and not more)
    return fails and value.before_bonding is None and not waits_for_doubt(value)
