"""What the words of a statement mean, for a receiver who keeps no such logbook."""

from typing import Final

from qclog.questions.stating.statement import Statement, SwingStatement
from qclog.records import FACE_RUNOUT

SWING, FACE, CLAMPING, SITTING = "Full swing (TIR)", "Face run-out", "Clamping", "Sitting"
ONCE, HIGH_SPOT, BOUND = "Once per turn", "High spot", "Bound"
CONFIDENCE, UNCERTAINTY, GUARD, PRICE = "Confidence", "Uncertainty U, k = 2", "Guard band", "Looking again"
MODIFICATION, REVISION, KEY, DIGEST = "Modification", "Revision", "Key position", "Digest (SHA-256)"
_MEANINGS: Final = {
    SWING: "the highest reading of the indicator over one turn less the lowest; twice what the axis is off",
    FACE: "the full swing of a face, read along the axis; it grows with the circle it is read on",
    CLAMPING: "one closing of the item, from fully open to tight",
    SITTING: "one occasion of measuring, as a rule a day; readings of one are more alike than those of different days",
    ONCE: "the part of the swing that comes of being off the axis, without lobes",
    HIGH_SPOT: "where on the turn that part is highest, in degrees clockwise from the spindle's mark, facing the nose",
    BOUND: (
        "a figure worked out from what was read, so that 19 in 20 of all there will be stay inside it; the fewer were "
        "read, the wider it is"
    ),
    CONFIDENCE: "how often what is worked out so is right: at 95 % in 95 cases of 100",
    UNCERTAINTY: "so far what is read may lie off the truth, 19 times in 20",
    GUARD: "what is kept clear of the limit because of that uncertainty, at the cost of whoever makes the statement",
    PRICE: "who looks after every reading finds what he hopes for too often; so more than 95 % confidence is asked",
    MODIFICATION: "work done to the item, counted from 0, as received",
    REVISION: "of a setup: counted anew when one of its parts is changed, re-seated or has crashed",
    KEY: "at which of the chuck's keyholes it is tightened",
    DIGEST: "a figure made from all that is stated; any change, however small, makes another",
}


def words(statement: Statement) -> list[tuple[str, str]]:
    """Those that stand on this statement, each with what it means."""
    swing, at, result = isinstance(statement, SwingStatement), statement.place, statement.result
    if isinstance(statement, SwingStatement):
        vectors, bound = statement.result.eccentricity is not None, statement.result.bound is not None
    else:
        vectors, bound = False, statement.result.bounds_um is not None
    said = {
        SWING: swing,
        FACE: at.characteristic == FACE_RUNOUT,
        CLAMPING: swing,
        SITTING: True,
        ONCE: vectors,
        HIGH_SPOT: vectors,
        BOUND: bound,
        CONFIDENCE: bound,
        UNCERTAINTY: True,
        GUARD: result.decision is not None,
        PRICE: result.decision is not None,
        MODIFICATION: True,
        REVISION: bool(at.setup),
        KEY: bool(at.position),
        DIGEST: True,
    }
    return [(word, meaning) for word, meaning in _MEANINGS.items() if said[word]]
