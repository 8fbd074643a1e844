"""Which words of an item's page lead to what they mean: codes in the order in which they are said, a list a block."""

from collections.abc import Iterable, Sequence

from qclog.logbook.life import Life
from qclog.questions.codes import PUT_AWAY, Sign
from qclog.questions.dossier import Dossier, Place
from qclog.questions.judging.groups import Group, goes_by, sitting_counts, waits_for_doubt
from qclog.questions.judging.values import CANNOT_TELL, HOLDS, NO_LIMIT, ValueGroup
from qclog.questions.turns import ReadTurn
from qclog.questions.wear import KEEP, RETIRE
from qclog.questions.wear import Answer as Worn
from reports import words_used
from reports.pages.stamps import changing, retired_in_words
from reports.wording.caveats import CAVEATS
from reports.wording.verdicts import is_useful


def of_flags(dossier: Dossier) -> list[str]:
    """What the lines above the verdicts say."""
    answer = dossier.assessed
    state = [answer.state] if answer.state in PUT_AWAY else []
    return [*state, *(reason.code for reason in answer.reasons), *([RETIRE] if retired_in_words(dossier) else [])]


def of_verdict(worn: Sequence[Worn], group: Group) -> list[str]:
    """What a stamp and the sentence beside it say."""
    advice = changing(worn, group)
    if advice is not None and advice.decision == RETIRE and group.limit_um is not None:
        return [RETIRE, *(sign for sign in advice.because if sign in (Sign.LEVEL_RISES, Sign.STEPPED))]
    if waits_for_doubt(group):
        return ["in doubt"]
    bound = ["19 in 20 under"] if group.bound is not None and is_useful(group) else []
    return [goes_by(group), *_of_this_sitting(group), *bound, *words_used.of_characteristic(group)]


def of_value_verdict(group: ValueGroup) -> list[str]:
    """The same of a size, a gap or a difference."""
    return [goes_by(group), *_of_this_sitting(group), *words_used.of_characteristic(group)]


def of_next_steps(dossier: Dossier) -> list[str]:
    told = [one for one in dossier.worn if one.decision != KEEP]
    signs = [sign for one in told for sign in one.because]
    return [*(one.decision for one in told), *signs, *(one.why for one in dossier.due)]


def of_caveats(groups: Iterable[Group | ValueGroup]) -> list[str]:
    """What limits figures, as the notes below them follow each other."""
    having = {code for group in groups for code in group.caveats}
    return ["uncertainty", *(code for code in CAVEATS if code in having)]


def of_place(place: Place, turns: Sequence[ReadTurn]) -> list[str]:
    """What the pictures of a place and their captions say; ``turns``: those drawn there."""
    groups, points = place.groups, [point for stretch in place.stretches for point in stretch.points]
    having = {
        "TIR": True,
        "made to": any(stretch.limit_um is not None for stretch in place.stretches),
        "19 in 20 under": any(group.bound is not None and is_useful(group) for group in groups),
        "recalled left out": any(not point.counts for point in points),
        "in doubt": any(point.in_doubt for point in points),
        "eccentricity": any(group.eccentricity is not None for group in groups),
        "high spot": any(group.eccentricity is not None for group in groups),
        "repeat": any(group.repeat_um is not None for group in groups),
        "difference": any(place.gained_of(group) is not None for group in groups),
        "once per turn": bool(turns),
        "lobes": bool(turns),
        "noise": any(turn.noise_um for turn in turns),
    }
    return [word for word, is_so in having.items() if is_so]


def of_history(life: Life) -> list[str]:
    """What the list of what was done and seen says."""
    found = [f"found {finding}" if finding != "sound" else finding for _, finding, _ in life.findings]
    worked = ["modification"] if any(change.number for change in life.modifications) else []
    made = ["made to"] if life.limits else []
    return [*worked, *made, *found, *(["statement"] if life.statements else []), life.state]


def _of_this_sitting(group: Group | ValueGroup) -> list[str]:
    told = group.next_clampings in (CANNOT_TELL, NO_LIMIT) and group.this_sitting == HOLDS
    return ["this sitting"] if told or sitting_counts(group) else []
