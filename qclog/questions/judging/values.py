"""What is told of plain values: sizes, gaps, flushness, differences, lift; and the words of verdicts and methods."""

from dataclasses import dataclass
from typing import Final

from qclog.questions.codes import Caveat
from qclog.questions.places import AtPlace
from qclog.statistics.bounding.bounds import Method
from qclog.statistics.bounding.conformity import Verdict

WORDS: Final = {
    Verdict.HOLDS: "holds",
    Verdict.DOES_NOT_HOLD: "does not hold",
    Verdict.CANNOT_TELL: "cannot tell",
    Verdict.NO_LIMIT: "no limit",
}
HOLDS, DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT = (WORDS[v] for v in Verdict)
METHODS: Final = {
    Method.ONE_SITTING: "one sitting",
    Method.SITTINGS: "sittings",
    Method.ONE_EACH: "one clamping a sitting",
    Method.SHOP: "shop's repeat",
    Method.ONE_SITTING_POOLED: "one sitting, with others' repeat",
}
LINEAR, ROOT_SUM_OF_SQUARES = "linear", "root sum of squares"
"""How the uncertainty is added to a bound."""
ONE_SITTING: Final = METHODS[Method.ONE_SITTING]


@dataclass(frozen=True, slots=True)
class Read:
    """What was read. ``low``, ``high``: the least and the most; of what pins told the largest that goes, of several
    readings the least of them, and the smallest that does not, the most of them. ``mean``, ``sd``, ``last`` None where
    pins told some, for no middle is read then."""

    low: float
    high: float
    mean: float | None
    sd: float | None
    last: float | None


@dataclass(frozen=True, slots=True)
class Between:
    """With this confidence this share of further readings lies between the ends, as this gauge reads them; None where
    the limit has no such end."""

    low: float | None
    high: float | None
    content: float
    confidence: float
    method: str


@dataclass(frozen=True, slots=True)
class Limits:
    """The ends that are allowed, None where there is none."""

    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Ends:
    """The lower and the upper end of something, None where its limit has no such end."""

    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class DecisionBetween:
    """How the verdict to go by was reached (ISO 14253-1), in µm: of the next readings, or of a gap's sitting.

    ``bounds_um``: with ``confidence`` (the price of looking again in it) 19 readings in 20 lie between, as read; for
    "does not hold" with that confidence more than 1 in 20 lie below the lower, or above the upper. ``guard_um`` for the
    gauge moves them outward (inward for "does not hold") from ``centre_um``: as ``added`` says, "root sum of squares"
    or "linear". ``decides_um`` are held against the limits.
    """

    confidence: float
    bounds_um: Ends
    centre_um: float
    guard_um: float
    added: str
    decides_um: Ends


@dataclass(frozen=True, slots=True)
class ValueGroup(AtPlace):
    """One characteristic of an item at one place; all figures in µm. ``by_pins``: some were told by pins.

    ``more_readings``: on how many more days one reading each would show that it holds, or where all of it was read
    beyond a limit that it does not. ``decision``: None where the next readings have no verdict, nor their sitting where
    that is what counts. ``more_in_sitting``: how many more readings in its sitting would show the same, of what is read
    in one sitting only. ``before_bonding``: the modification a gap was read at, where it was bonded since. The rest as
    for a group of swings.
    """

    clampings: int
    sittings: int
    by_pins: bool
    read_um: Read
    bounds_um: Between | None
    uncertainty_um: float
    resolution_um: float
    limits_um: Limits | None
    limit_from: str | None
    as_read: str
    this_sitting: str
    next_clampings: str
    more_readings: int | None
    caveats: tuple[Caveat, ...]
    decision: DecisionBetween | None = None
    more_in_sitting: int | None = None
    before_bonding: int | None = None
