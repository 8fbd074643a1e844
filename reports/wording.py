"""Sentences about answers: the only place that makes them. Written for a toolmaker, not for a statistician."""

from collections.abc import Sequence
from typing import Final, Protocol

from qclog.capture import Prepared
from qclog.questions.assess import (
    CANNOT_TELL,
    DOES_NOT_HOLD,
    HOLDS,
    ONE_SITTING,
    Answer,
    Group,
    Reason,
    waits_for_doubt,
)
from qclog.questions.codes import (
    FINDINGS,
    LOCKING,
    PUT_AWAY,
    ByCost,
    Cause,
    Caveat,
    ChartSign,
    Clocking,
    Due,
    Flag,
    Ground,
    KeyStatement,
    NextStep,
    NotTold,
    SenseState,
    Sign,
    Source,
    Unfit,
    Wanted,
    Worth,
)
from qclog.questions.doubts import Doubt, Doubtful
from qclog.records import FACE_RUNOUT, RUNOUT, SWINGS
from reports.numbers import METRIC, UM_PER_MM, NumberStyle, count, length, micrometres, uncertainty

CAVEATS: Final = {
    Caveat.FEW_CLAMPINGS: "Fewer than three clampings: only what was read can be judged.",
    Caveat.INDICATIVE: "With three clampings of one of them this is a hint, no verdict.",
    Caveat.DIFFERENT_DAYS: "They were not measured on the same days; part of the difference may be the days'.",
    Caveat.ONE_SITTING: "All clampings are of one sitting, which says nothing yet about other days.",
    Caveat.ROUGH_BOUND: "So few sittings or clampings give a rough bound, several times too wide; more narrow it.",
    Caveat.SHOP_REPEAT: "How much it changes from day to day was taken from other items of its kind in this setup.",
    Caveat.CHUCK_REPEAT: (
        "From so few clampings: how much one moves was taken from other jaws bored in this chuck, "
        "and from these as they were before."
    ),
    Caveat.LOOKED_AGAIN: "Looking again after every clamping is paid for: the verdict asks for more than 95 %.",
    Caveat.MORE_WILL_NOT_TELL: (
        "More clampings will not settle it: the run-out lies too near the limit, changes too much "
        "from day to day, or the indicator is too uncertain."
    ),
    Caveat.ANGLES_MISSING: (
        "Only some clampings have the high spot, so all are judged by their swing alone; "
        "with it for all of them far fewer clampings would do (--quarters)."
    ),
    Caveat.FOUR_READINGS: (
        "Read at quarter turns: a three-lobed pin or bore would read as run-out; "
        "eight or twelve readings tell them apart (--around)."
    ),
    Caveat.SENSE_WRONG: (
        "Readings and clocking of this setup are counted in opposite directions: "
        "do not clock by its high spots (qclog sense)."
    ),
    Caveat.RESOLUTION_FLOOR: (
        "The readings agree better than the indicator can tell; its step is counted as scatter. Read finer if you can."
    ),
    Caveat.TWO_GROUPS: "The readings fall into two groups, as if it seats in two ways. Dirt, a burr, the key?",
    Caveat.INSTRUMENT_UNKNOWN: (
        "No indicator was named, so a cautious uncertainty was assumed. "
        "Naming a calibrated one narrows it (qclog instrument add)."
    ),
    Caveat.INSTRUMENT_UNCALIBRATED: (
        "The indicator has no calibration in the logbook, so a cautious uncertainty was assumed. "
        "Enter one to narrow it (qclog instrument calibrate)."
    ),
    Caveat.INSTRUMENT_NOT_SUITED: (
        "The indicator is not suited for this limit: below three times its uncertainty (qclog uncertainty)."
    ),
    Caveat.FEW_LEVELS: (
        "Of fewer than five of a kind little can be said of all of them: mind how wide the intervals are."
    ),
    Caveat.LEARNING: (
        "Fewer than twenty points: the chart is still learning what is usual here, and finds a small change late."
    ),
    Caveat.WITHIN_ONLY: (
        "The limits come from what values scatter within a day: if days differ by more, points lie beyond them."
    ),
    Caveat.LIMIT_OUT_OF_REACH: (
        "The limit lies below what any number of further clampings would prove, if they come out like those so far."
    ),
    Caveat.CALIBRATION_OVERDUE: "The calibration of the indicator was overdue when some of this was read.",
    Caveat.LEVER_ANGLE_UNKNOWN: "The angle of the lever was not noted; up to 20° was allowed for (--lever-angle).",
    Caveat.RECALLED_LEFT_OUT: "Readings recalled from an old notebook are kept, but they do not count for the verdict.",
    Caveat.STEEP_LEVER_LEFT_OUT: "Readings with the lever beyond 30° are kept, but they do not count for the verdict.",
    Caveat.SETUP_CHANGED: "The setup was changed since (refit): measure again before relying on it.",
    Caveat.MARRIED_ELSEWHERE: (
        "It was worked on in another place and is married to that; here it shows this place's own run-out as well."
    ),
    Caveat.LIMIT_ELSEWHERE: "It has a limit, but not at this place and distance; a limit is never carried over.",
    Caveat.HIGH_SPOTS_MISSING: "Directions are compared only where every clamping has its high spot (--quarters).",
    Caveat.HIGH_SPOTS_BY_EYE: (
        "High spots read by eye are too rough to compare directions; read four quarter turns (--quarters)."
    ),
    Caveat.DIAMETER_MATTERS: (
        "The winner may change with the diameter: on the pins used it is not the same, or not settled on all."
    ),
    Caveat.BORED_IN_PLACE: (
        "Some were worked on in this setup at one of these positions, and favour it; what was not, may not."
    ),
    Caveat.FEW_DAYS: "Whether it gets worse takes clampings on five days to tell.",
    Caveat.NOT_INDEPENDENT: "Days close together resemble each other, so that its trend was judged more strictly.",
    Caveat.BY_PINS: (
        "Pins tell a bore only to between what goes and what does not: judged by these ends, never by their middle. "
        "Finer steps of pins narrow it."
    ),
    Caveat.KEPT_TOGETHER: (
        "It is told from readings kept together; the uncertainty of each of them counts against the claim."
    ),
    Caveat.IN_DOUBT: (
        "Everything read here is in doubt: what it was read with was found wrong (qclog recall). Nothing is claimed "
        "until it is measured again or cleared with a reason."
    ),
    Caveat.IN_DOUBT_LEFT_OUT: (
        "Some of what was read here is in doubt and was left out: what it was read with was found wrong (qclog recall)."
    ),
    Caveat.IN_DOUBT_CONTRADICTS: (
        "What was read last is in doubt and speaks against the rest, so that nothing is claimed until it is measured "
        "again."
    ),
    Caveat.AT_WORST: (
        "Read at two distances without the high spots: they are added up as if they lay the worst way to each other."
    ),
    Caveat.LEAN_ALLOWED: (
        "Read at one distance only: a lean is allowed for as a film of 5 µm under one side of a 30 mm seat gives it "
        "(common practice). Read it at the distance wanted to know."
    ),
    Caveat.DIRECTIONS_UNKNOWN: (
        "Never read together: what the item showed elsewhere and what the place shows with others are added up in "
        "directions nobody knows, with the band that goes with it."
    ),
    Caveat.ITEM_CHANGES: "Its run-out changes with time: see how it goes on with qclog wear.",
    Caveat.PIN_COUNTS: (
        "The test pin was not turned by itself, so its own run-out stands with what it was never turned against; "
        "turn it too to tell it apart."
    ),
    Caveat.NO_HIGH_SPOT_LEFT_OUT: "Clampings without their high spot tell nothing of who owns it and are left out.",
    Caveat.FEW_RUNS: "Hardly more clampings than vectors: circles and bounds are wide; one more round narrows them.",
    Caveat.ONE_CLOCKING_A_DAY: (
        "Every clocking was clamped on a day of its own, so what changes from day to day counts as scatter; "
        "in one sitting it would not."
    ),
    Caveat.FAR_OUT: "That far beyond where it was read small errors of tilt grow large: read farther out.",
}

GROUNDS: Final = {
    Ground.MEASURED: "read there, on this diameter, at this distance",
    Ground.TWO_DISTANCES: "read there at two other distances",
    Ground.ONE_DISTANCE: "read there at another distance",
    Ground.CLOCKING: "worked out of other clockings read there (qclog chain); mark it, and confirm it",
    Ground.OTHER_PLACE: "read in another place only",
}
"""What stands behind a choice for a part."""
FOUND: Final = {"crack": "it is cracked", "blue": "it is heat-blued"}
UNFITS: Final = {
    Unfit.LOCKED: "{because}: out of service whatever its run-out; mark it and scrap it.",
    Unfit.SCRAP: "it is scrap.",
    Unfit.PUT_AWAY: 'it was put away as not needed (back with: qclog state CODE "in service" --reason WHY).',
    Unfit.LENT: "it is out, {out}. Once it is in the drawer again: qclog back {item}",
    Unfit.RESTRICTED: "it is restricted to coarser work.",
    Unfit.GRIP_TOO_LONG: "it grips longer than there is to grip: short work opens its front, and was never measured.",
    Unfit.MODIFIED: "it was {because} and not measured since. Measure it first.",
    Unfit.NEVER_MEASURED: "it was never measured. Measure it first.",
    Unfit.SETUP_CHANGED: "the setup was changed since it was measured there ({because}). Measure it again.",
    Unfit.IN_DOUBT: "what it was read with was found wrong. Measure it again.",
    Unfit.OTHER_DIAMETER: "it would close on it, but was read on {diameter} only, and may run otherwise on another.",
    Unfit.OTHER_DISTANCE: "it was read {distance} out only, too far from where it is wanted. Read it there.",
    Unfit.PIN_CLOCKED: "it was read there only with its pin turned on purpose, which says nothing of a part.",
    Unfit.CHANGES: "it was read {distance} out only, and its run-out changes with time. Read it where it is wanted.",
    Unfit.NEEDS_CHANGE: "the setup does not stand ready (qclog took ITEM --in SETUP says which one does).",
}
"""Why something that takes the part is left out, and what to do about it."""

CAUSES: Final = {
    Cause.READING: "reading",
    Cause.CLAMPING: "re-clamping",
    Cause.SITTING: "day",
    Cause.PIN: "pin",
    Cause.PERSON: "person",
    Cause.INDICATOR: "indicator",
    Cause.PIN_AT_PLACE: "pin (differs by place)",
    Cause.PERSON_AT_PLACE: "person (differs by place)",
    Cause.INDICATOR_AT_PLACE: "indicator (differs by place)",
    Cause.SITTING_AT_PLACE: "day (differs by place)",
}
"""What makes readings of one place differ."""
MEND: Final = {
    Cause.READING: "Read finer, or more angles of a turn (--around); the mean of several readings of a clamping helps.",
    Cause.CLAMPING: (
        "Clamp more often and take the mean: reading a clamping again gains little. Wipe pin, bore and cone each time, "
        "and close it the same way."
    ),
    Cause.SITTING: (
        "Measure on more days rather than more often on one; warm up alike, look at stand and zero. What wears or "
        "drifts shows as the day too (qclog wear)."
    ),
    Cause.PIN: "Keep to one pin, or to rounder ones; measure the pins' roundness.",
    Cause.PERSON: "Agree on how to close it and how to turn and read, then try again.",
    Cause.INDICATOR: "Hold the indicators against each other on one clamping, and calibrate the one that differs.",
    Cause.PIN_AT_PLACE: "Keep to one pin at every place, or to rounder ones.",
    Cause.PERSON_AT_PLACE: "Agree on how to close it at each key position, then try again.",
    Cause.INDICATOR_AT_PLACE: "Keep to one indicator at every place, and look at how each is set there.",
    Cause.SITTING_AT_PLACE: (
        "Measure on more days rather than more often on one. What wears or drifts shows here too (qclog wear)."
    ),
}
"""What to do first about a cause."""
CHART_SIGNS: Final = {
    ChartSign.SUM: "what points lie off those before them adds up beyond its limit",
    ChartSign.BEYOND: "a point lies beyond the limits",
    ChartSign.WEIGHTED: "the mean that weighs the newest points most lies beyond its limits",
    ChartSign.SPREAD: "what the values of a day scatter lies beyond its limits",
    ChartSign.VECTOR: "its high spot or its eccentricity has moved",
    ChartSign.TWO_OF_THREE: "two of three points in a row lie beyond two standard deviations on one side",
    ChartSign.FOUR_OF_FIVE: "four of five points in a row lie beyond one standard deviation on one side",
    ChartSign.IN_A_ROW: "nine points in a row lie on one side",
}
"""What on a chart speaks against its process being steady."""
NOT_TOLD: Final = {
    NotTold.NOT_NAMED: "was never named",
    NotTold.ONE_ONLY: "was the same all the time",
    NotTold.WITH_ANOTHER: "was always changed together with {other}",
    NotTold.OF_THE_PLACE: "was another at every place: what it adds is in the means of the places",
    NotTold.NOT_REPEATED: "was not repeated, so that it stands together with {other}",
}
"""Why a cause was not told apart."""

SOURCES: Final = {
    Source.INDICATOR_CERTIFICATE: "indicator, by its certificate",
    Source.INDICATOR_ERROR_LIMIT: "indicator, by its error limit",
    Source.INDICATOR_ASSUMED: "indicator, assumed",
    Source.LEVER_ANGLE: "lever angle as noted",
    Source.LEVER_ANGLE_UNKNOWN: "lever angle not known, to 20°",
    Source.PIN_ROUNDNESS: "roundness of the pin",
}
"""The lines of a budget."""

WORTHS: Final = {
    Worth.LIKELY_REAL: "That they differ is likely real.",
    Worth.SINGLE_HINT: "That they differ is a single hint among so many: repeat it.",
}

KEY_STATEMENTS: Final = {
    KeyStatement.NO_EFFECT: "no effect of the key position is shown",
    KeyStatement.ONE_POSITION: "use position {better} for this chuck, it is right for about {share} {kinds} ({span})",
    KeyStatement.PER_ITEM: "no chuck-wide winner: choose per {kind} ({first} is right for about {share})",
    KeyStatement.NO_WINNER: (
        "no chuck-wide winner shown; {first} is expected to be right for about {share} {kinds} ({span})"
    ),
    KeyStatement.COUNTED: (
        "swings alone name no winner for the chuck; {first} may be right for about {share} {kinds} ({span})"
    ),
}

DUE: Final = {
    Due.IN_DOUBT: "In doubt, read with a gauge found wrong: measure again before relying on it",
    Due.MODIFIED: "Worked on, and not measured since",
    Due.SETUP_CHANGED: "Measured, but the setup was changed since",
    Due.NEVER_MEASURED: "Never measured",
    Due.MEETS_LIMIT: "Rising, and over the limit before the next check",
    Due.UNDECIDED: "Not yet decided",
    Due.GAUGE_WRONG: "Gauges found wrong, and not calibrated since",
    Due.GAUGE_OVERDUE: "Gauges overdue",
    Due.GAUGE_NEVER: "Indicators never calibrated",
    Due.GAUGE_SOON: "Gauges due soon",
}
"""What is due, as headings."""
WANTED: Final = {
    Wanted.SCRAP: "scrap",
    Wanted.OUT_OF_SERVICE: "out of service",
    Wanted.WORN: "does not hold any more",
    Wanted.MISSING: "missing in its set",
}

FLAGS: Final = {
    Flag.NEXT_CLAMPINGS: "its next clampings will not hold {limit}",
    Flag.THIS_SITTING: "in its last sitting it did not hold {limit}",
    Flag.AS_READ: "it was read beyond {limit}",
    Flag.CRACK: "it is cracked: out of service whatever its run-out; scrap it",
    Flag.BLUE: "its nose is heat-blued, the temper is gone: out of service whatever its run-out; scrap it",
    Flag.BELL_MOUTH: "it is bell-mouthed: short work is not held",
    Flag.LOST_SPRING: "it has lost its spring",
    Flag.SLIP: "work has slipped in it",
    Flag.IN_DOUBT: "what it was read with was found wrong: in doubt until it is measured again or cleared",
}

DOUBTS: Final = {
    Doubt.TEN_TIMES: "{typed} is {value}, {times} {against} ({reference}). A slipped decimal point?",
    Doubt.INCH_FOR_MM: "{typed} is {value}, {times} {against} ({reference}). Inch read for millimetre?",
    Doubt.FIVE_EQUAL: "{value} five times running. Is the indicator frozen, on hold, or touching at all?",
    Doubt.NOT_MOVED: "It reads {value} all round. Is the indicator frozen, on hold, or touching at all?",
    Doubt.PIN_TOO_LARGE: "The pin ({value}) is larger than the bore ({reference}). A collet must never be forced.",
    Doubt.NOT_CLOSED: "The turn came back to zero {value} off. Drift, a slip or a loose stand? Better read it again.",
    Doubt.STEEP_LEVER: "With the lever at {degrees} it reads far too much; kept, but never used for a verdict.",
}
_WHOSE_LIMIT: Final = {"item": "what it was made to", "setup": "what the setup must hold"}
_MOST_DAYS: Final = 20
_NO_USE: Final = 3.0
"""A rough bound so many times the largest swing read says nothing a toolmaker could use."""

SIGNS: Final = {
    Sign.HOLDS: "it holds what it was made to",
    Sign.NO_LIMIT: "no limit is set, and nothing shows that it gets worse",
    Sign.CANNOT_TELL: "whether it still holds what it was made to cannot be told yet",
    Sign.DOES_NOT_HOLD: "it does not hold what it was made to",
    Sign.SETUP_LIMIT: "here it does not hold what the setup must hold",
    Sign.LEVEL_RISES: "its run-out rises",
    Sign.STEPPED: "its run-out went up in a step",
    Sign.CHART_SIGNAL: "its last clampings are higher than those before",
    Sign.REPEAT_GROWN: "it repeats worse than it did",
    Sign.FAR_TO_NEAR_GROWN: "far out it runs worse against near than it did",
    Sign.CRACK: "it is cracked: mark it and scrap it",
    Sign.BLUE: "its nose is heat-blued, the temper is gone: mark it and scrap it",
    Sign.BELL_MOUTH: "it is bell-mouthed: short work is not held",
    Sign.LOST_SPRING: "it has lost its spring",
    Sign.SLIPPED: "work slipped in it",
    Sign.SLIPPED_AGAIN: "work slipped in it twice",
    Sign.IN_DOUBT: "what it was read with was found wrong: in doubt",
}
NEVER_TOLD: Final = (
    "whether it still holds what it was made to cannot be told, nor will more clampings tell: it lies too near the "
    "limit, or changes too much from day to day"
)
CURES: Final = {
    Sign.SETUP_LIMIT: "Look at the setup.",
    Sign.LEVEL_RISES: "Clean it, stone off any burr and measure again.",
    Sign.STEPPED: "Look for what happened then: a crash, a chip, another pin.",
    Sign.CHART_SIGNAL: "Clean it, stone off any burr and measure again.",
    Sign.REPEAT_GROWN: "Clean it and measure its free bore: dirt, or lost spring.",
    Sign.FAR_TO_NEAR_GROWN: "Look for a bell-mouth, or for what makes it lean.",
    Sign.LOST_SPRING: "Measure its free bore against the card.",
    Sign.SLIPPED: "Inspect it.",
    Sign.IN_DOUBT: "Measure it again with another indicator, or once this one is calibrated.",
}
"""What to do first about a sign, where there is something to do."""
MARKS: Final = {Worth.LIKELY_REAL: "likely real", Worth.SINGLE_HINT: "a single hint, measure it again"}
BEFORE_EVERY_JOB: Final = "Check it before every job."
ON_A_HINT: Final = "Measure it again first: with so many tests a hint or two come up by chance."
BY_COST: Final = {
    ByCost.KEEP: "keep it",
    ByCost.REPLACE: "replace it",
    ByCost.CANNOT_TELL: "By cost: cannot be told without a limit and clampings on three days.",
    ByCost.OUTRANKED: "Cost does not come into it: what is wrong outranks it.",
}

CAUTIONS: Final = (
    "Isolate the machine and turn the spindle by hand. Key out. Keep clear of the cutter, cables and phone away from "
    "the chuck. At the end: pin out, indicator away, key out, then power.",
    "A bored, annealed or soft item is no longer rated by its maker: inspect it, guard it, keep to the lowest speed "
    "limit in the chain. A cracked or heat-blued item is scrap whatever its run-out.",
    "Local rules and licensed practice come first. Nothing here advises a clamping force or a speed.",
)

SENSES: Final = {
    SenseState.NOT_TRIED: "not tried. Nothing shows yet whether readings and clocking are counted the same way round.",
    SenseState.PROVEN: (
        "proven. Readings and clocking are counted the same way round "
        "({body}, {clampings}; with one of the two reversed they would agree {times} worse)."
    ),
    SenseState.OTHER_WAY: (
        "OTHER WAY ROUND. Readings and clocking are counted in opposite directions "
        "({body}, {clampings}; with one of the two reversed they agree {times} better). "
        "Whatever is worked out for the chain from them is wrong, and seems to fit."
    ),
    SenseState.CANNOT_TELL: (
        "cannot tell. Either way round, {clampings} of {body} agree about as well: it runs too true for how they "
        "repeat, or they were not all counted alike. Turn a pin with a larger run-out, or log each clocking again."
    ),
}

CLOCKINGS: Final = {
    Clocking.TURN: (
        "Turn {turn}: expect {expected} in place of {now}{pin}; the next clamping then stays "
        "under {bound}, 19 times in 20."
    ),
    Clocking.NOTHING_BETTER: "No clocking is shown to be better than it stands now, at {now}.",
    Clocking.NOTHING_TO_TURN: "Nothing to clock: only the test pin was turned, and that is not there in the work.",
    Clocking.NO_HIGH_SPOTS: (
        "Who owns it takes the high spots: read clampings clocked differently at quarter turns (--quarters)."
    ),
    Clocking.LOCKED: "No clocking is advised: a cracked or heat-blued part in it is scrap whatever its run-out.",
    Clocking.IN_DOUBT: "No clocking is advised: some was read with a gauge found wrong. Clear it or read it again.",
    Clocking.SENSE_WRONG: (
        "DO NOT CLOCK by this: readings and clocking are counted in opposite directions, so that all of it is wrong, "
        "and seems to fit. What to do: qclog sense {setup}"
    ),
    Clocking.SENSE_NOT_PROVEN: (
        "No clocking is advised yet: nothing shows that readings and clocking are counted the same way round, and a "
        "wrong sense fits perfectly. A body that runs out, clamped at three clockings, proves it: qclog sense {setup}"
    ),
    Clocking.NOT_PARTED: "No clocking is advised yet: not all bodies can be told apart by how they were turned.",
    Clocking.REPEAT_NOT_KNOWN: (
        "No clocking is advised yet: as many vectors as clampings, so nothing tells how well they repeat."
    ),
    Clocking.BY_EYE: (
        "No clocking is advised: high spots seen by eye are too rough for it; read four quarter turns (--quarters)."
    ),
}

FINDING_ADVICE: Final = {
    "crack": "Out of service whatever its run-out: mark it and scrap it.",
    "blue": "The temper is gone: out of service whatever its run-out; mark it and scrap it.",
    "bell-mouth": "Short work is not held; compare the run-out near and far.",
    "lost spring": "It no longer opens by itself; measure its free bore against the card.",
    "slip": "Inspect it; after a second slip retire it.",
    "sound": "Back in use on the word of the one who looked.",
}
_AGAINST: Final = {"history": "what it has read so far", "limit": "its limit", "usual": "what is usual for its kind"}


def doubt(found: Doubtful, style: NumberStyle = METRIC) -> str:
    """The question a doubt asks."""
    sized = found.reference_um >= UM_PER_MM and found.against != "bore"

    def say(value_um: float) -> str:
        if sized:
            return length(round(value_um * 1e6), style=style)
        return micrometres(value_um, step_um=exact_step(value_um), style=style)

    return DOUBTS[found.doubt].format(
        typed=repr(found.typed),
        value=say(found.value_um),
        against=_AGAINST.get(found.against, ""),
        reference=say(found.reference_um),
        degrees=f"{found.value_um:g}°",
        times=_times(found.value_um, found.reference_um),
    )


def _times(value: float, reference: float) -> str:
    """How many times a value is the other, or which part of it."""
    if not value or not reference:
        return "far off"
    return f"{value / reference:.0f} times" if value > reference else f"1/{reference / value:.0f} of"


NEXT_STEPS: Final = {
    NextStep.MEASURE_FIRST: "Measure first: do not rely on it before it is measured again, or cleared with a reason.",
    NextStep.MEASURE_AGAIN: "Measure again, or clear with a reason.",
    NextStep.TELL: "Tell: item or setup was changed since and cannot be measured as it was; tell whoever relied on it.",
    NextStep.NONE: "Nothing to do: told without what is in doubt.",
    NextStep.NONE_WORKED_ON: "Nothing to do: item or setup was changed since.",
}

CHANGING: Final = (
    "Its run-out changes with time, so that figures of all its clampings together say little of the next ones; "
    "what it runs now and how it goes on is told by wear."
)


class Located(Protocol):
    """Whatever an answer says of one place."""

    @property
    def setup(self) -> str: ...
    @property
    def position(self) -> str: ...
    @property
    def clocking(self) -> str: ...
    @property
    def distance_mm(self) -> float: ...
    @property
    def diameter_mm(self) -> float | None: ...
    @property
    def characteristic(self) -> str: ...


def place(group: Located, among: Sequence[Located] = ()) -> str:
    """Where a group was measured, in words: "L2, position A, 16 mm out"; with the pin's diameter where another group
    ``among`` these was measured at the same place with another pin."""
    name = _place(group)
    if group.characteristic == FACE_RUNOUT:
        return name
    if any(other.diameter_mm != group.diameter_mm and _place(other) == name for other in among):
        return f"{name}, on {group.diameter_mm:g} mm" if group.diameter_mm is not None else f"{name}, pin not named"
    return name


def _place(group: Located) -> str:
    parts = [group.setup]
    if group.position:
        parts.append(f"position {group.position}")
    if group.clocking:
        parts.append(f"clocked {group.clocking}")
    parts.append(f"{group.distance_mm:g} mm out")
    if group.characteristic != "runout":
        circle = f" on {group.diameter_mm:g} mm" if group.characteristic == FACE_RUNOUT and group.diameter_mm else ""
        parts.append(group.characteristic + circle)
    return ", ".join(parts)


def verdict(group: Group, style: NumberStyle = METRIC) -> str:
    """The answer about one group, in a sentence or two."""
    if group.limit_um is None:
        return f"no limit is set. {_stays_under(group, style)}".strip()
    limit = micrometres(group.limit_um, step_um=exact_step(group.limit_um), style=style)
    words = {
        HOLDS: f"HOLDS {limit}. {_stays_under(group, style)}",
        DOES_NOT_HOLD: f"DOES NOT HOLD {limit}. {_stays_under(group, style)}",
        CANNOT_TELL: f"cannot tell yet whether it holds {limit}. {_until_told(group, limit, style)}",
    }
    return words[group.next_clampings].strip()


def stamp(group: Group, style: NumberStyle = METRIC) -> str:
    """The verdict in as few words as it can be said: "HOLDS 9 µm"."""
    if group.limit_um is None:
        return "NO LIMIT"
    limit = micrometres(group.limit_um, step_um=exact_step(group.limit_um), style=style)
    words = {HOLDS: "HOLDS", DOES_NOT_HOLD: "DOES NOT HOLD", CANNOT_TELL: "CANNOT TELL YET:"}
    if waits_for_doubt(group):
        return f"IN DOUBT: {limit}"
    return f"{words[group.next_clampings]} {limit}"


def grounds(group: Group, style: NumberStyle = METRIC) -> str:
    """What the verdict rests on, or what is missing for one."""
    if group.limit_um is not None and group.next_clampings == CANNOT_TELL:
        limit = micrometres(group.limit_um, step_um=exact_step(group.limit_um), style=style)
        return _until_told(group, limit, style)
    return _stays_under(group, style)


def _until_told(group: Group, limit: str, style: NumberStyle) -> str:
    if Caveat.IN_DOUBT in group.caveats:
        return "Everything read here is in doubt: measure it again."
    if Caveat.IN_DOUBT_CONTRADICTS in group.caveats:
        return "What was read last is in doubt and speaks against the rest: measure it again."
    here = {
        HOLDS: f"In this sitting it holds {limit}.",
        DOES_NOT_HOLD: f"In this sitting it does not hold {limit}.",
    }.get(group.this_sitting, "")
    if group.as_read == DOES_NOT_HOLD and not here:
        here = f"A clamping was read over {limit}."
    more = ""
    if group.more_clampings is not None:
        more = f"{log_on(group.more_clampings)} to learn it, if they come out like those so far."
    return " ".join(part for part in (here, _stays_under(group, style), more) if part)


def _stays_under(group: Group, style: NumberStyle) -> str:
    if group.bound is None:
        return ""
    if not is_useful(group):
        return "There is no useful bound yet from so few sittings."
    figure = micrometres(group.bound.value_um, step_um=shown_step(group), style=style, round_up=True)
    when = "in this sitting " if group.bound.method.startswith(ONE_SITTING) else ""
    return f"19 clampings in 20 stay under {figure} {when}as this indicator reads."


def is_useful(group: Group) -> bool:
    """Whether the bound is worth showing: a rough one may be many times what was read."""
    if group.bound is None:
        return False
    return Caveat.ROUGH_BOUND not in group.caveats or group.bound.value_um <= _NO_USE * group.tir_um.max


def more_days(group: Group) -> str:
    """How many more days are missing, "more than 20" where it is many; "-" where none would help."""
    return "-" if group.more_clampings is None else many_days(group.more_clampings)


def log_on(days: int) -> str:
    """ "Log one clamping on another day", "Log one clamping on each of 3 more days"."""
    return f"Log one clamping on {'another day' if days == 1 else f'each of {many_days(days)} more days'}"


def many_days(days: int) -> str:
    """So many days, "more than 20" where it is many."""
    return str(days) if days <= _MOST_DAYS else f"more than {_MOST_DAYS}"


def reasons(found: Sequence[Reason], *, items: bool = False) -> list[str]:
    """Why something is flagged, a line each, with the place where there is one; ``items``: with the item's code."""
    lines = []
    for reason in found:
        parts = (reason.item if items else "", reason.setup, reason.position and f"position {reason.position}")
        where = ", ".join(part for part in parts if part)
        swing = reason.characteristic in SWINGS
        where += f", {reason.distance_mm:g} mm out" if reason.distance_mm or (swing and reason.distance_mm == 0) else ""
        if reason.characteristic != RUNOUT:
            where = ", ".join(part for part in (reason.characteristic, where.removeprefix(", ")) if part)
        flag = FLAGS[reason.code].format(limit=_WHOSE_LIMIT.get(reason.limit_from, ""))
        lines.append(f"{flag}{f' ({where})' if where else ''}")
    return lines


def locked(answer: Answer) -> bool:
    """Whether a finding has put the item out of service whatever its run-out."""
    return any(reason.code in {FINDINGS[finding] for finding in LOCKING} for reason in answer.reasons)


def is_put_away(answer: Answer) -> bool:
    """Whether a person decided that it is not used any more."""
    return answer.state in PUT_AWAY


def headline(answer: Answer) -> str:
    """One line about an item or a setup; a flag is unmistakable without colour."""
    name = f"setup {answer.setup}" if answer.setup else answer.item
    state = f"{answer.what}, modification {answer.modification}" if answer.item and answer.modification else answer.what
    if answer.setup:
        state = f"revision {answer.modification}"
    elif is_put_away(answer):
        state += f", {answer.state.upper()} by decision"
    if answer.reasons:
        return f"*** FLAGGED *** {name} ({state}): {'; '.join(reasons(answer.reasons, items=bool(answer.setup)))}."
    return f"{name} ({state}): not flagged."


def shown_step(group: Group) -> float:
    """No figure is shown finer than a tenth of what was read, nor finer than the reading where it is fine."""
    return max(group.resolution_um / 10, 0.1) if group.resolution_um >= 1 else group.resolution_um


def exact_step(value_um: float) -> float:
    return 1.0 if float(value_um).is_integer() else 0.01


GAUGES: Final = "The uncertainty of the indicators counts against the claim."


def gauge_line(groups: Sequence[Group], style: NumberStyle = METRIC) -> str:
    """What the indicator adds, the most there is: "The indicator's ± 2.3 µm counts against the claim."."""
    largest = max((group.uncertainty_um or 0.0 for group in groups), default=0.0)
    return f"The indicator's {uncertainty(largest, style=style)} (k = 2) counts against the claim."


def counted(group: Group) -> str:
    """ "6 clampings in 2 sittings"."""
    return f"{count(group.clampings, 'clamping')} in {count(group.sittings, 'sitting')}"


NOT_MEASURED: Final = {
    False: "{code} has no clampings yet. Log one: qclog log {code} ...",
    True: "{code} has not been measured since it was {what} (modification {number}). Log it: qclog log {code} ...",
}


def not_measured(answer: Answer) -> str:
    """What to say of an item without clampings as it is now."""
    return NOT_MEASURED[answer.modification > 0].format(code=answer.item, what=answer.what, number=answer.modification)


def logged(prepared: Prepared, numbers: Sequence[int], style: NumberStyle = METRIC) -> str:
    """What was logged and with which particulars, those kept from the line before named."""
    first = prepared.clampings[0]
    characteristic = first.turns[0].characteristic
    swing = characteristic in SWINGS
    distances = sorted({turn.distance_pm for turn in first.turns if swing or turn.distance_pm})
    parts = [
        "" if characteristic == RUNOUT else characteristic,
        f"on {length(first.diameter_pm, style=style)}" if characteristic == FACE_RUNOUT and first.diameter_pm else "",
        first.setup,
        first.position and f"position {first.position}",
        " and ".join(length(distance, style=style) for distance in distances) + " out" if distances else "",
        first.pin and f"pin {first.pin}",
        first.instrument and f"indicator {first.instrument}",
        first.operator and f"read by {first.operator}",
    ]
    span = f"no. {numbers[0]}" + (f" to {numbers[-1]}" if len(numbers) > 1 else "")
    how = f"{count(len(numbers), 'clamping' if swing else 'reading')} ({span}{', recalled' if first.recalled else ''})"
    line = f"{prepared.item.text}: {how} logged; {', '.join(part for part in parts if part)}."
    if prepared.as_before:
        line += f" Taken over: {', '.join(prepared.as_before)}."
    if len(numbers) > 1 and not first.pin_out and not first.recalled and swing:
        line += " Each number counts as a clamping of its own (--same-clamping if the pin stayed in)."
    return line
