"""Short codes for what has to be said beside a figure. ``reports.wording`` has a sentence for every one."""

from enum import StrEnum


class Caveat(StrEnum):
    """What limits an answer."""

    FEW_CLAMPINGS = "few_clampings"
    INDICATIVE = "indicative"
    DIFFERENT_DAYS = "different_days"
    ONE_SITTING = "one_sitting"
    ROUGH_BOUND = "rough_bound"
    SHOP_REPEAT = "shop_repeat"
    CHUCK_REPEAT = "chuck_repeat"
    FOR_ITS_JOB = "for_its_job"
    LOOKED_AGAIN = "looked_again"
    MORE_WILL_NOT_TELL = "more_will_not_tell"
    NOT_STEADY = "not_steady"
    ANGLES_MISSING = "angles_missing"
    FOUR_READINGS = "four_readings"
    SENSE_WRONG = "sense_wrong"
    RESOLUTION_FLOOR = "resolution_floor"
    TWO_GROUPS = "two_groups"
    INSTRUMENT_UNKNOWN = "instrument_unknown"
    INSTRUMENT_UNCALIBRATED = "instrument_uncalibrated"
    INSTRUMENT_NOT_SUITED = "instrument_not_suited"
    LIMIT_OUT_OF_REACH = "limit_out_of_reach"
    FEW_LEVELS = "few_levels"
    LEARNING = "learning"
    WITHIN_ONLY = "within_only"
    CALIBRATION_OVERDUE = "calibration_overdue"
    CHECK_FAILED = "check_failed"
    LEVER_ANGLE_UNKNOWN = "lever_angle_unknown"
    RECALLED_LEFT_OUT = "recalled_left_out"
    STEEP_LEVER_LEFT_OUT = "steep_lever_left_out"
    SETUP_CHANGED = "setup_changed"
    MARRIED_ELSEWHERE = "married_elsewhere"
    LIMIT_ELSEWHERE = "limit_elsewhere"
    HIGH_SPOTS_MISSING = "high_spots_missing"
    HIGH_SPOTS_BY_EYE = "high_spots_by_eye"
    DIAMETER_MATTERS = "diameter_matters"
    BORED_IN_PLACE = "bored_in_place"
    FEW_DAYS = "few_days"
    NOT_INDEPENDENT = "not_independent"
    BY_PINS = "by_pins"
    KEPT_TOGETHER = "kept_together"
    IN_DOUBT = "in_doubt"
    IN_DOUBT_LEFT_OUT = "in_doubt_left_out"
    IN_DOUBT_CONTRADICTS = "in_doubt_contradicts"
    AT_WORST = "at_worst"
    LEAN_ALLOWED = "lean_allowed"
    DIRECTIONS_UNKNOWN = "directions_unknown"
    ITEM_CHANGES = "item_changes"
    PIN_COUNTS = "pin_counts"
    NO_HIGH_SPOT_LEFT_OUT = "no_high_spot_left_out"
    FEW_RUNS = "few_runs"
    ONE_CLOCKING_A_DAY = "one_clocking_a_day"
    FAR_OUT = "far_out"


class Ground(StrEnum):
    """What stands behind a choice for a part: read just so, or a forecast."""

    MEASURED = "measured"
    TWO_DISTANCES = "two distances"
    ONE_DISTANCE = "one distance"
    CLOCKING = "another clocking"
    OTHER_PLACE = "another place"


class Unfit(StrEnum):
    """Why something that takes the diameter is left out."""

    LOCKED = "locked"
    SCRAP = "scrap"
    PUT_AWAY = "put_away"
    LENT = "lent"
    RESTRICTED = "restricted"
    GRIP_TOO_LONG = "grip_too_long"
    BORE_TOO_SMALL = "bore_too_small"
    BORE_TOO_LARGE = "bore_too_large"
    MODIFIED = "modified"
    NEVER_MEASURED = "never_measured"
    SETUP_CHANGED = "setup_changed"
    IN_DOUBT = "in_doubt"
    OTHER_DIAMETER = "other_diameter"
    OTHER_DISTANCE = "other_distance"
    PIN_CLOCKED = "pin_clocked"
    CHANGES = "changes"
    NEEDS_CHANGE = "needs_change"


class Source(StrEnum):
    """What a standard uncertainty of a swing comes from. ``reports.wording`` has words for every one."""

    INDICATOR_CERTIFICATE = "indicator_certificate"
    INDICATOR_ERROR_LIMIT = "indicator_error_limit"
    INDICATOR_ASSUMED = "indicator_assumed"
    LEVER_ANGLE = "lever_angle"
    LEVER_ANGLE_UNKNOWN = "lever_angle_unknown"
    PIN_ROUNDNESS = "pin_roundness"


class Flag(StrEnum):
    """Why something is flagged."""

    NEXT_CLAMPINGS = "next_clampings_do_not_hold"
    THIS_SITTING = "this_sitting_does_not_hold"
    AS_READ = "read_over_the_limit"
    CRACK = "found_crack"
    BLUE = "found_blue"
    BELL_MOUTH = "found_bell_mouth"
    LOST_SPRING = "found_lost_spring"
    SLIP = "found_slip"
    CRASH = "found_crash"
    BURR = "found_burr"
    FRETTING = "found_fretting"
    COLLAPSED = "found_collapsed"
    IN_DOUBT = "in_doubt"


class Sign(StrEnum):
    """Why an item is kept, watched or retired. ``reports.wording`` has a sentence for every one."""

    HOLDS = "holds"
    NO_LIMIT = "no_limit"
    CANNOT_TELL = "cannot_tell"
    DOES_NOT_HOLD = "does_not_hold"
    SETUP_LIMIT = "setup_limit"
    LEVEL_RISES = "level_rises"
    STEPPED = "stepped"
    CHART_SIGNAL = "chart_signal"
    REPEAT_GROWN = "repeat_grown"
    FAR_TO_NEAR_GROWN = "far_to_near_grown"
    CRACK = "crack"
    BLUE = "blue"
    BELL_MOUTH = "bell_mouth"
    LOST_SPRING = "lost_spring"
    SLIPPED = "slipped"
    SLIPPED_AGAIN = "slipped_again"
    CRASHED = "crashed"
    BURR = "burr"
    FRETTING = "fretting"
    COLLAPSED = "collapsed"
    IN_DOUBT = "in_doubt"


class Worth(StrEnum):
    """What a difference or a sign of a change is worth among all that were looked for together."""

    LIKELY_REAL = "likely real"
    SINGLE_HINT = "single hint"


class KeyStatement(StrEnum):
    """What may be said of two key positions for all that is held there."""

    NO_EFFECT = "no_effect_shown"
    ONE_POSITION = "one_position"
    PER_ITEM = "per_item"
    NO_WINNER = "no_winner_shown"
    COUNTED = "counted_only"


class ByCost(StrEnum):
    """What the costs advise. Outranked: by a finding, or by a limit that is not held."""

    KEEP = "keep"
    REPLACE = "replace"
    CANNOT_TELL = "cannot tell"
    OUTRANKED = "outranked"


class SenseState(StrEnum):
    """Whether clocking and reading angles of a setup are counted the same way round."""

    NOT_TRIED = "not tried"
    PROVEN = "proven"
    OTHER_WAY = "other way round"
    CANNOT_TELL = "cannot tell"


class Clocking(StrEnum):
    """What a chain's clampings advise on its clocking, or why they advise nothing."""

    TURN = "turn"
    NOTHING_BETTER = "nothing_better"
    NOTHING_TO_TURN = "nothing_to_turn"
    NO_HIGH_SPOTS = "no_high_spots"
    LOCKED = "locked"
    IN_DOUBT = "in_doubt"
    SENSE_WRONG = "sense_wrong"
    SENSE_NOT_PROVEN = "sense_not_proven"
    NOT_PARTED = "not_parted"
    REPEAT_NOT_KNOWN = "repeat_not_known"
    BY_EYE = "by_eye"


class NextStep(StrEnum):
    """What to do about a verdict that rests on a gauge found wrong."""

    MEASURE_FIRST = "measure_first"
    MEASURE_AGAIN = "measure_again"
    TELL = "tell"
    NONE = "none"
    NONE_WORKED_ON = "none_worked_on"


class NotForIssue(StrEnum):
    """Why a statement of conformity may not be issued."""

    LOCKED_OUT = "locked_out"
    SCRAP = "scrap"
    NO_LIMIT = "no_limit"
    SETUP_CHANGED = "setup_changed"
    IN_DOUBT = "in_doubt"
    CHECK_FAILED = "check_failed"
    NO_INDICATOR = "no_indicator"
    NOT_CALIBRATED = "not_calibrated"
    OVERDUE = "overdue"
    NOT_SUITED = "not_suited"
    PIN_UNKNOWN = "pin_unknown"
    ONE_SITTING = "one_sitting"
    OTHERS_REPEAT = "others_repeat"
    CANNOT_TELL = "cannot_tell"


class Differs(StrEnum):
    """What is not as it was when a statement was issued. ``reports.statement_check`` has a sentence for every one."""

    NOT_ISSUED = "not_issued"
    CONTENT_ALTERED = "content_altered"
    READINGS_ALTERED = "readings_altered"
    FILE_ALTERED = "file_altered"
    REPLACED = "replaced"
    LOCKED_OUT = "locked_out"
    STRUCK = "struck"
    IN_DOUBT = "in_doubt"
    WORKED_ON = "worked_on"
    SETUP_CHANGED = "setup_changed"
    ADDED = "added"
    LIMIT = "limit"
    VERDICT = "verdict"
    STILL = "still"
    PARTS = "parts"
    FIGURES = "figures"


FINDINGS = {
    "crack": Flag.CRACK,
    "blue": Flag.BLUE,
    "bell-mouth": Flag.BELL_MOUTH,
    "lost spring": Flag.LOST_SPRING,
    "slip": Flag.SLIP,
    "crash": Flag.CRASH,
    "burr": Flag.BURR,
    "fretting": Flag.FRETTING,
    "collapsed": Flag.COLLAPSED,
}
"""The flag of each finding of an inspection."""
LOCKING = frozenset({"crack", "blue"})
"""Findings that put an item out of service whatever its run-out."""
PUT_AWAY = ("out", "scrap")
"""States of what a person decided not to use any more."""


class Wanted(StrEnum):
    """Why something is to be ordered."""

    SCRAP = "scrap"
    OUT_OF_SERVICE = "out of service"
    WORN = "worn"
    MISSING = "missing"


class Due(StrEnum):
    """Why something is due, the most urgent first."""

    IN_DOUBT = "in_doubt"
    MODIFIED = "modified"
    CRASHED = "crashed"
    SETUP_CHANGED = "setup_changed"
    NEVER_MEASURED = "never_measured"
    BEYOND = "beyond"
    PAST_LIMIT = "past_limit"
    MEETS_LIMIT = "meets_limit"
    UNDECIDED = "undecided"
    OVERDUE = "overdue"
    GAUGE_WRONG = "gauge_wrong"
    CHECK_FAILED = "check_failed"
    GAUGE_OVERDUE = "gauge_overdue"
    CHECK_DUE = "check_due"
    GAUGE_NEVER = "gauge_never_calibrated"
    GAUGE_SOON = "gauge_soon"


class Cause(StrEnum):
    """What makes readings of one place differ. ``reports.wording`` has words for every one."""

    READING = "reading"
    CLAMPING = "clamping"
    SITTING = "sitting"
    PIN = "pin"
    PERSON = "person"
    INDICATOR = "indicator"
    PIN_AT_PLACE = "pin_at_place"
    PERSON_AT_PLACE = "person_at_place"
    INDICATOR_AT_PLACE = "indicator_at_place"
    SITTING_AT_PLACE = "sitting_at_place"


class NotTold(StrEnum):
    """Why a cause was not told apart."""

    NOT_NAMED = "not_named"
    ONE_ONLY = "one_only"
    WITH_ANOTHER = "with_another"
    OF_THE_PLACE = "of_the_place"
    NOT_REPEATED = "not_repeated"


class ChartSign(StrEnum):
    """What on a chart speaks against its process being steady; hints come by chance more often.

    ``reports.wording`` has a sentence for every one.
    """

    SUM = "cumulative_sum"
    BEYOND = "beyond_the_limits"
    WEIGHTED = "weighted_mean"
    SPREAD = "spread_beyond_its_limits"
    VECTOR = "vector_moved"
    TWO_OF_THREE = "two_of_three"
    FOUR_OF_FIVE = "four_of_five"
    IN_A_ROW = "nine_in_a_row"
