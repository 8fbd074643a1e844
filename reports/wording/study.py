"""How good the measuring is, and what uncertainty is made of."""

from typing import Final

from qclog.questions.codes import Cause, NotTold, Source

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
UNSEEN: Final = {
    Cause.PIN_AT_PLACE: "the pins differ by the same amount {where}",
    Cause.PERSON_AT_PLACE: "the people differ by the same amount {where}",
    Cause.INDICATOR_AT_PLACE: "the indicators differ by the same amount {where}",
    Cause.SITTING_AT_PLACE: "the days differ by the same amount {where}",
}
"""What it means that nothing shows of a cause that might act otherwise at each of the places studied."""
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
BOTH: Final = (
    "Which of the two it is shows where each clamping is read twice before it is opened: qclog study {item} --plan"
)
"""What to do where reading and re-clamping were not told apart."""
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
