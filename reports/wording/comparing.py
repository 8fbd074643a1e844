"""What is said of key positions, and of differences among many."""

from typing import Final

from qclog.questions.codes import KeyStatement, Worth

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
