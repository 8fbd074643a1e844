"""What limits an answer."""

from typing import Final

from qclog.questions.codes import Caveat

CAVEATS: Final = {
    Caveat.FEW_CLAMPINGS: "Fewer than three clampings: only what was read can be judged.",
    Caveat.INDICATIVE: "With three clampings of one of them this is a hint, no verdict.",
    Caveat.DIFFERENT_DAYS: "They were not all measured on the same days; part of the difference may be the days'.",
    Caveat.ONE_SITTING: "All clampings are of one sitting, which says nothing yet about other days.",
    Caveat.ROUGH_BOUND: "So few sittings or clampings give a rough bound, several times too wide; more narrow it.",
    Caveat.SHOP_REPEAT: "How much it changes from day to day was taken from other items of its kind in this setup.",
    Caveat.CHUCK_REPEAT: (
        "From so few clampings: how much one moves was taken from other jaws bored in this chuck, "
        "and from these as they were before."
    ),
    Caveat.FOR_ITS_JOB: (
        "Jaws are bored for a job, so this sitting counts. No other jaws in this chuck are leaned on: that takes two "
        "or three clampings here, and about a dozen of other jobs at this place that move alike."
    ),
    Caveat.LOOKED_AGAIN: (
        "Looking again after every clamping is paid for: the verdict asks for more than 95 %, so a higher bound "
        "than the one shown."
    ),
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
    Caveat.NOT_STEADY: (
        "It is not steady: what is read has moved over these days, so that figures of all of them together say little "
        "of the next (qclog chart)."
    ),
    Caveat.CALIBRATION_OVERDUE: "The calibration of the indicator was overdue when some of this was read.",
    Caveat.CHECK_FAILED: (
        "The last quick check of what it was read with was out, and some of this was read since its last good one. "
        "Check it again; if it stays out, recall it (qclog due says which one, and what to type)."
    ),
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
CHANGING: Final = (
    "Its run-out changes with time, so that figures of all its clampings together say little of the next ones; "
    "what it runs now and how it goes on is told by wear, which decides."
)
