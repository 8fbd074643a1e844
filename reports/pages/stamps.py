"""The stamp of a verdict on a page: its words, and how it looks."""

from collections.abc import Sequence

from qclog.questions.assess import Answer
from qclog.questions.codes import Sign
from qclog.questions.dossier import Dossier
from qclog.questions.judging.groups import Group, goes_by
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, ValueGroup
from qclog.questions.wear import RETIRE
from qclog.questions.wear import Answer as Worn
from reports import values
from reports.advice import told
from reports.numbers import METRIC, NumberStyle, exact
from reports.wording.flags import is_put_away, locked
from reports.wording.verdicts import stamp

LOOKS = {HOLDS: "yes", DOES_NOT_HOLD: "no", CANNOT_TELL: "open"}
_FEW_PLACES = 4
_CHANGING = {Sign.LEVEL_RISES, Sign.STEPPED}


def changing(worn: Sequence[Worn], group: Group) -> Worn | None:
    """What wear says of a group whose level rises or went up in a step; None where nothing is shown to change."""
    for answer in worn:
        place = (answer.setup, answer.position, answer.clocking, answer.distance_mm, answer.diameter_mm)
        here = (group.setup, group.position, group.clocking, group.distance_mm, group.diameter_mm)
        if place == here and answer.characteristic == group.characteristic and _CHANGING.intersection(answer.because):
            return answer
    return None


def is_retired(worn: Sequence[Worn], group: Group) -> bool:
    """Whether a group is stamped to be retired, because it changes."""
    advice = changing(worn, group)
    return advice is not None and advice.decision == RETIRE and group.limit_um is not None


def badge(answer: Answer, part_of: Sequence[str]) -> tuple[str, str] | None:
    """Words and look of what is true of an item wherever it is measured; None where its places tell."""
    if locked(answer):
        return "OUT OF SERVICE", "no"
    if is_put_away(answer):
        return answer.state.upper(), "none"
    if not answer.measured:
        return (f"PART OF {', '.join(part_of)}" if part_of else "NOT MEASURED"), "none"
    return None


def value_stamp(value: ValueGroup, style: NumberStyle = METRIC) -> tuple[str, str]:
    """Words and look of a size, a gap or a difference."""
    return values.stamp(value, style), LOOKS.get(goes_by(value), "none")


def retired_in_words(dossier: Dossier, style: NumberStyle = METRIC) -> str:
    """That an item is to be retired, and why, for the top of its page; '' where it is not, or where it takes so many
    places that their stamps say it better."""
    if len(dossier.worn) > _FEW_PLACES or all(one.decision != RETIRE for one in dossier.worn):
        return ""
    return told(dossier.worn, style, cures=False)[0]


def stamp_of(worn: Sequence[Worn], group: Group, style: NumberStyle = METRIC) -> tuple[str, str]:
    """Words and look. What wears and is to be retired is stamped so: its clampings together say little of it now."""
    if group.limit_um is not None and is_retired(worn, group):
        limit = exact(group.limit_um, style=style)
        return f"RETIRE FROM {limit} WORK".replace(" µm", "\u00a0µm"), "no"
    return stamp(group, style).replace(" µm", "\u00a0µm"), LOOKS.get(goes_by(group), "none")
