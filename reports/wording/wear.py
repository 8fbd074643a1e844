"""Signs of wear, and what to do about them."""

from typing import Final

from qclog.questions.codes import ByCost, Sign, Worth

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
    Sign.CRASHED: "it had a crash",
    Sign.BURR: "it has a burr",
    Sign.FRETTING: "it shows fretting",
    Sign.COLLAPSED: "its leaves are bent inward",
    Sign.IN_DOUBT: "what it was read with was found wrong: in doubt",
}
NEVER_TOLD: Final = (
    "whether it still holds what it was made to cannot be told, nor will more clampings tell: it lies too near the "
    "limit, or changes too much from day to day"
)
CURES: Final = {
    Sign.SETUP_LIMIT: "Look at the setup.",
    Sign.LEVEL_RISES: "Clean it, stone off any burr and measure again.",
    Sign.STEPPED: "Look for what happened just before {at}: a crash, a chip, another pin.",
    Sign.CHART_SIGNAL: "Clean it, stone off any burr and measure again.",
    Sign.REPEAT_GROWN: "Clean it and measure its free bore: dirt, or lost spring.",
    Sign.FAR_TO_NEAR_GROWN: "Look for a bell-mouth, or for what makes it lean.",
    Sign.LOST_SPRING: "Measure its free bore against the card.",
    Sign.SLIPPED: "Inspect it.",
    Sign.CRASHED: "Look for cracks, then measure it again; the mark stays until it is found sound (qclog inspect).",
    Sign.BURR: "Stone the burr off flat, then measure it again.",
    Sign.FRETTING: "Clean cone and bore; if the rings come back, retire it.",
    Sign.IN_DOUBT: "Measure it again with another indicator, or once this one is calibrated.",
}
"""What to do first about a sign, where there is something to do."""
MARKS: Final = {Worth.LIKELY_REAL: "likely real", Worth.SINGLE_HINT: "a single hint, measure it again"}
MEASURED_SINCE_CRASH: Final = "It was measured since its crash. Look for cracks; where there are none, say so."
BEFORE_EVERY_JOB: Final = "Check it before every job."
ON_A_HINT: Final = "Measure it again first: with so many tests a hint or two come up by chance."
BY_COST: Final = {
    ByCost.KEEP: "keep it",
    ByCost.REPLACE: "replace it",
    ByCost.CANNOT_TELL: "By cost: cannot be told without a limit and clampings on three days.",
    ByCost.OUTRANKED: "Cost does not come into it: what is wrong outranks it.",
}
