"""The sense of angles, and how to clock a chain."""

from typing import Final

from qclog.questions.codes import Clocking, SenseState

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
    Clocking.NOTHING_BETTER: "No clocking is shown to be better than it stands now, at {now}{pin}.",
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
