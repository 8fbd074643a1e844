"""Does a plain value look like a slip: a size, a gap, a difference, a lift? Asked as the doubts of swings are."""

import statistics
from collections.abc import Sequence
from typing import Final

from qclog.characteristics import SIZE_FROM_PM, combined
from qclog.logbook import schema
from qclog.logbook.lookup import Name, Register
from qclog.questions.doubts import HISTORY_FROM, SUSPICIOUS, Doubt, Doubtful, slip_by, too_fine, values_before
from qclog.records import Turn

_SIZE_OFF: Final = 1.5
"""A size so many times what it was, or that part of it, looks like a slip."""


def value_doubts(
    register: Register, item: Name, modification: int, turns: Sequence[Turn], *, division_pm: int | None = None
) -> list[Doubtful]:
    """Everything that looks like a slip in plain values about to be logged, in their order."""
    return [
        one
        for turn in turns
        if turn.kind == "value"
        for one in _of_the_value(register, item, modification, turn, division_pm)
    ]


def _of_the_value(
    register: Register, item: Name, modification: int, turn: Turn, division_pm: int | None
) -> list[Doubtful]:
    """Whether it is far from those before, else from its limits: a size by half, a difference several times; or less
    than anybody reads, unless it is the difference of two sizes, which may be as small as it likes."""
    value = combined(turn.characteristic, [reading.value_pm for reading in turn.readings]) / 1e6
    typed = " / ".join(reading.text for reading in turn.readings)
    if len(turn.readings) == 1 and too_fine(value, division_pm):
        return [Doubtful(Doubt.TOO_FINE, typed, value)]
    s, m = schema.series.c, schema.modification.c
    history = values_before(
        register, (s.item_id == item.id) & (s.characteristic == turn.characteristic), m.number == modification
    )
    against, reference = "history", abs(statistics.median(history)) if len(history) >= HISTORY_FROM else 0.0
    if not reference:
        limits = [limit for limit in register.limits(item.id) if limit.characteristic == turn.characteristic]
        ends = [abs(end) / 1e6 for limit in limits for end in (limit.lower_pm, limit.upper_pm) if end is not None]
        against, reference = "limit", max(ends, default=0.0)
    if not reference or not value:
        return []
    ratio = abs(value) / reference
    size = reference >= SIZE_FROM_PM / 1e6
    if not (ratio > (_SIZE_OFF if size else SUSPICIOUS) or (size and ratio < 1 / _SIZE_OFF)):
        return []
    return [Doubtful(slip_by(ratio), typed, value, against, reference)]
