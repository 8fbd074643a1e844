"""The verdict on a group of clampings, and what it rests on."""

from collections.abc import Sequence
from typing import Final

from qclog.questions.codes import Caveat
from qclog.questions.judging.groups import Group, goes_by, sitting_counts, waits_for_doubt
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, ONE_SITTING, ValueGroup
from reports.numbers import METRIC, NumberStyle, count, exact, micrometres, uncertainty
from reports.wording import places
from reports.wording.steps import shown_step

MOST_DAYS: Final = 20
"""Nobody measures a place on more days than this only to learn whether it holds."""
_NO_USE: Final = 3.0
"""A rough bound so many times the largest swing read says nothing a toolmaker could use."""
GAUGES: Final = "The uncertainty of the indicators counts against the claim."


def verdict(group: Group, style: NumberStyle = METRIC) -> str:
    """The answer about one group, in a sentence or two."""
    if group.limit_um is None:
        return f"no limit is set. {_stays_under(group, style)}".strip()
    limit = exact(group.limit_um, style=style)
    if sitting_counts(group):
        told = "HOLDS" if group.this_sitting == HOLDS else "DOES NOT HOLD"
        leaning = "leaning on how much jaws bored in this chuck move"
        why = leaning if Caveat.CHUCK_REPEAT in group.caveats else "which is what counts for a job"
        return f"{told} {limit} in this sitting, {why}. {_stays_under(group, style)}".strip()
    words = {
        HOLDS: f"HOLDS {limit}. {_stays_under(group, style)}",
        DOES_NOT_HOLD: f"DOES NOT HOLD {limit}. {_stays_under(group, style)}",
        CANNOT_TELL: f"cannot tell yet whether it holds {limit}. {_until_told(group, limit, style)}",
    }
    return words[group.next_clampings].strip()


def in_table(group: Group | ValueGroup) -> str:
    """The verdict to go by for a column: "holds", "holds (sitting)"."""
    return f"{goes_by(group)}{' (sitting)' if sitting_counts(group) else ''}"


def in_short(group: Group | ValueGroup) -> str:
    """The verdict to go by in one word: "HOLDS (sitting)", "IN DOUBT"."""
    return "IN DOUBT" if waits_for_doubt(group) else f"{goes_by(group).upper()}{' (sitting)' * sitting_counts(group)}"


def stamp(group: Group, style: NumberStyle = METRIC) -> str:
    """The verdict in as few words as it can be said: "HOLDS 9 µm"; of what is no run-out with its name."""
    if group.limit_um is None:
        return ": ".join(part for part in (places.what(group.characteristic).upper(), "NO LIMIT") if part)
    limit = exact(group.limit_um, style=style)
    what = f"{places.what(group.characteristic).upper()} ".lstrip()
    if waits_for_doubt(group):
        return f"IN DOUBT: {what}{limit}"
    here = " IN THIS SITTING" if sitting_counts(group) else ""
    if goes_by(group) == CANNOT_TELL:
        return f"CANNOT TELL YET: {what}{limit}"
    return f"{what}{goes_by(group).upper()} {limit}{here}"


def grounds(group: Group, style: NumberStyle = METRIC) -> str:
    """What the verdict rests on, or what is missing for one."""
    if sitting_counts(group):
        return _stays_under(group, style)
    if group.limit_um is not None and group.next_clampings == CANNOT_TELL:
        limit = exact(group.limit_um, style=style)
        return _until_told(group, limit, style)
    return _stays_under(group, style)


def _until_told(group: Group, limit: str, style: NumberStyle) -> str:
    if Caveat.IN_DOUBT in group.caveats:
        return "Everything read here is in doubt: measure it again."
    if Caveat.IN_DOUBT_CONTRADICTS in group.caveats:
        return "What was read last is in doubt and speaks against the rest: measure it again."
    here = {
        HOLDS: f"In this sitting it holds {limit}.",
        DOES_NOT_HOLD: f"In this sitting it does not hold {limit}.",
    }.get(group.this_sitting, "")
    if group.as_read == DOES_NOT_HOLD and not here:
        here = f"A clamping was read over {limit}."
    more = ""
    if group.more_clampings is not None:
        more = f"{log_on(group.more_clampings)} to learn it, if they come out like those so far."
    elif group.more_in_sitting is not None:
        times = count(group.more_in_sitting, "more time")
        more = f"Bored for a job, this sitting counts: clamp it {times} to learn it, if like those so far."
    return " ".join(part for part in (here, _stays_under(group, style), more) if part)


def _stays_under(group: Group, style: NumberStyle) -> str:
    if group.bound is None:
        return ""
    if not is_useful(group):
        return "There is no useful bound yet from so few sittings."
    figure = micrometres(group.bound.value_um, step_um=shown_step(group), style=style, round_up=True)
    when = "in this sitting " if group.bound.method.startswith(ONE_SITTING) else ""
    return f"19 clampings in 20 stay under {figure} {when}as this indicator reads."


def is_useful(group: Group) -> bool:
    """Whether the bound is worth showing: a rough one may be many times what was read."""
    if group.bound is None:
        return False
    return Caveat.ROUGH_BOUND not in group.caveats or group.bound.value_um <= _NO_USE * group.tir_um.max


def more_days(group: Group) -> str:
    """How many more days are missing, "more than 20" where it is many; "-" where none would help."""
    return "-" if group.more_clampings is None else many_days(group.more_clampings)


def log_on(days: int) -> str:
    """ "Log one clamping on another day", "Log one clamping on each of 3 more days"."""
    return f"Log one clamping on {'another day' if days == 1 else f'each of {many_days(days)} more days'}"


def many_days(days: int) -> str:
    """So many days, "more than 20" where it is many."""
    return str(days) if days <= MOST_DAYS else f"more than {MOST_DAYS}"


def gauge_line(groups: Sequence[Group], style: NumberStyle = METRIC) -> str:
    """What the indicator adds, the most there is: "The indicator's ± 2.3 µm counts against the claim."."""
    largest = max((group.uncertainty_um or 0.0 for group in groups), default=0.0)
    return f"The indicator's {uncertainty(largest, style=style)} (k = 2) counts against the claim."


def counted(group: Group) -> str:
    """ "6 clampings in 2 sittings"."""
    return f"{count(group.clampings, 'clamping')} in {count(group.sittings, 'sitting')}"
