"""Why something is offered for a part, or left out."""

from typing import Final

from qclog.questions.codes import Ground, Unfit

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
    Unfit.BORE_TOO_SMALL: "its bore was read as {bore}: the part does not go in.",
    Unfit.BORE_TOO_LARGE: "its bore was read as {bore}: it does not close so far on the part and hold true.",
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
