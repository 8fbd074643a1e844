"""What is to be measured, ordered, or done about a gauge found wrong."""

from typing import Final

from qclog.questions.codes import Due, NextStep, Wanted

DUE: Final = {
    Due.IN_DOUBT: "In doubt, read with a gauge found wrong: measure again before relying on it",
    Due.MODIFIED: "Worked on, and not measured since",
    Due.CRASHED: "Had a crash, and not measured since",
    Due.SETUP_CHANGED: "Measured, but the setup was changed since",
    Due.NEVER_MEASURED: "Never measured",
    Due.BEYOND: "Not what it was made to: to be worked again",
    Due.PAST_LIMIT: "Rising, and past its limit: clean it and measure it again, or retire it",
    Due.MEETS_LIMIT: "Rising, and over the limit before the next check",
    Due.UNDECIDED: "Not yet decided",
    Due.OVERDUE: "Not read for long, after it was read again and again",
    Due.GAUGE_WRONG: "Gauges found wrong, and not calibrated since",
    Due.CHECK_FAILED: "Gauges whose last quick check was out",
    Due.GAUGE_OVERDUE: "Gauges overdue",
    Due.CHECK_DUE: "Quick checks due",
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
NEXT_STEPS: Final = {
    NextStep.MEASURE_FIRST: "Measure first: do not rely on it before it is measured again, or cleared with a reason.",
    NextStep.MEASURE_AGAIN: "Measure again, or clear with a reason.",
    NextStep.TELL: "Tell: item or setup was changed since and cannot be measured as it was; tell whoever relied on it.",
    NextStep.NONE: "Nothing to do: told without what is in doubt.",
    NextStep.NONE_WORKED_ON: "Nothing to do: item or setup was changed since.",
}
