"""Does a plain value look like a slip: a size, a gap, a difference, a lift? Asked as the doubts of swings are."""

import functools
import statistics
from collections.abc import Sequence
from math import inf, log
from typing import Any, Final

import sqlalchemy as sa

from qclog.characteristics import JAW_LIFT, SIZE_FROM_PM, combined, known
from qclog.logbook import schema
from qclog.logbook.deriving import tenths_of_mm
from qclog.logbook.lookup import Limit, Name, Register
from qclog.questions.doubts import HISTORY_FROM, SUSPICIOUS, Doubt, Doubtful, slip_by, too_fine, values_before
from qclog.records import Turn

_SIZE_OFF: Final = 1.5
"""A size so many times what it was, or that part of it, looks like a slip."""
_BEFORE: Final = 50


def value_doubts(
    register: Register, item: Name, modification: int, turns: Sequence[Turn], *, division_pm: int | None = None
) -> list[Doubtful]:
    """Everything that looks like a slip in plain values about to be logged, in their order."""
    by_turn = doubts_by_turn(register, item, modification, turns, division_pm=division_pm)
    return [found for doubted in by_turn for found in doubted]


def doubts_by_turn(
    register: Register, item: Name, modification: int, turns: Sequence[Turn], *, division_pm: int | None = None
) -> list[list[Doubtful]]:
    """The same for each turn; of what is no plain value none."""
    before = _Before(register, item, modification)
    found: list[list[Doubtful]] = []
    for i, turn in enumerate(turns):
        doubted: list[Doubtful] = []
        if turn.kind == "value":
            if turn.readings[0].low_pm is not None:
                doubted += _of_the_pins(before, turn, turns[:i])
            doubted += _of_the_sizes(before, turn) or _of_the_value(before, turn, division_pm)
        found.append(doubted)
    return found


class _Before:
    """What was read of an item as it is, asked of the logbook once."""

    def __init__(self, register: Register, item: Name, modification: int) -> None:
        self.register, self.item, self._modification = register, item, modification
        self.values = functools.cache(self._values)
        self.sizes = functools.cache(self._sizes)
        self.pins = functools.cache(self._pins)

    def _values(self, characteristic: str) -> list[float]:
        """The last values of a characteristic, the newest first, in µm."""
        s, m = schema.series.c, schema.modification.c
        of_item = (s.item_id == self.item.id) & (s.characteristic == characteristic)
        return values_before(self.register, of_item, m.number == self._modification)

    def _sizes(self, characteristic: str) -> list[float]:
        """The last sizes that pairs of a characteristic were told from, the newest first, in µm."""
        r = schema.reading.c
        query = _before(self.item, self._modification, characteristic, r.value_pm).where(r.value_pm >= SIZE_FROM_PM)
        return [pm / 1e6 for pm in self.register.connection.scalars(query)]

    def _pins(self, characteristic: str, distance_tenths: int) -> list[tuple[tuple[int, int], int]]:
        """The pins that told the same of the item there, the newest first: what went and what did not, in picometres,
        and the id of the sitting."""
        s, r, sitting = schema.series, schema.reading, schema.figure.c.sitting_id
        query = _before(self.item, self._modification, characteristic, r.c.low_pm, r.c.high_pm, sitting).where(
            s.c.distance_tenths == distance_tenths, r.c.low_pm.is_not(None)
        )
        return [((low, high), sitting_id) for low, high, sitting_id in self.register.connection.execute(query)]


def _of_the_value(before: _Before, turn: Turn, division_pm: int | None) -> list[Doubtful]:
    """Whether it is far from those before, else from its limits: a size by half, a difference several times; or less
    than anybody reads, unless it is the difference of two sizes, which may be as small as it likes; or a lift that goes
    down by more than a step, unless it always did."""
    value = combined(turn.characteristic, [reading.value_pm for reading in turn.readings]) / 1e6
    typed = _typed(turn)
    if len(turn.readings) == 1 and too_fine(value, division_pm):
        return [Doubtful(Doubt.TOO_FINE, typed, value)]
    history = before.values(turn.characteristic)
    middle = statistics.median(history) if len(history) >= HISTORY_FROM else 0.0
    if turn.characteristic == JAW_LIFT and middle >= 0 > value + max(division_pm or 0, turn.readings[0].step_pm) / 1e6:
        return [Doubtful(Doubt.GOES_DOWN, typed, value)]
    against, reference = "history", abs(middle)
    if not reference:
        limits = _limits(before, turn)
        ends = [abs(end) / 1e6 for limit in limits for end in (limit.lower_pm, limit.upper_pm) if end is not None]
        against, reference = "limit", max(ends, default=0.0)
    if not reference or not value:
        return []
    ratio = abs(value) / reference
    size = reference >= SIZE_FROM_PM / 1e6
    if not (ratio > (_SIZE_OFF if size else SUSPICIOUS) or (size and ratio < 1 / _SIZE_OFF)):
        return []
    doubt = slip_by(ratio) if len(turn.readings) == 1 else Doubt.TEN_TIMES
    return [Doubtful(doubt, typed, value, against, reference)]


def _of_the_sizes(before: _Before, turn: Turn) -> list[Doubtful]:
    """Whether one of the sizes of a pair is far from those read before; else several times off from whatever size the
    item is known by, of which a pair may have another."""
    if len(turn.readings) < 2:
        return []
    sizes = before.sizes(turn.characteristic)
    most, expected = _SIZE_OFF, [("history", statistics.median(sizes))] if len(sizes) >= HISTORY_FROM else []
    if not expected and known(turn.characteristic).joined != "spread":
        most, expected = SUSPICIOUS, _sizes_known(before.register, before.item)
    if not expected:
        return []
    for reading in turn.readings:
        value = reading.value_pm / 1e6
        against, reference = min(expected, key=lambda one: abs(log(value / one[1])))
        ratio = value / reference
        if max(ratio, 1 / ratio) > most:
            return [Doubtful(slip_by(ratio), _typed(turn), value, against, reference)]
    return []


def _of_the_pins(told: _Before, turn: Turn, on_this_line: Sequence[Turn]) -> list[Doubtful]:
    """Whether two pins leave far more open than pins did so far, or than the limits are apart; or contradict any of
    those that told the same bore on this line or in its last sitting: what goes is smaller than what does not."""
    (goes, does_not), typed = _ends(turn), turn.readings[0].text
    if goes is None or does_not is None:
        return []
    now = [_ends(one) for one in reversed(on_this_line) if one.distance_pm == turn.distance_pm]
    here = [(low, high) for low, high in now if low and high]
    earlier = told.pins(turn.characteristic, tenths_of_mm(turn.distance_pm))
    before = here + [ends for ends, _ in earlier]
    held_against = here + [ends for ends, sitting in earlier if sitting == earlier[0][1]]
    rooms = [
        one.upper_pm - one.lower_pm
        for one in _limits(told, turn)
        if one.upper_pm is not None and one.lower_pm is not None
    ]
    steps = [statistics.median(high - low for low, high in before)] if before else []
    references = [("room", float(room)) for room in rooms] + [("step", float(step)) for step in steps]
    against, widest = max(references, key=lambda one: one[1], default=("", inf))
    found = []
    if does_not - goes > SUSPICIOUS * widest:
        found.append(Doubtful(Doubt.FAR_APART, typed, (does_not - goes) / 1e6, against, widest / 1e6))
    most_that_went, least_that_did_not = _agreed(held_against)
    if goes >= least_that_did_not:
        found.append(Doubtful(Doubt.CONTRADICTS, typed, goes / 1e6, "did not go", least_that_did_not / 1e6))
    elif does_not <= most_that_went:
        found.append(Doubtful(Doubt.CONTRADICTS, typed, does_not / 1e6, "went", most_that_went / 1e6))
    return found


def _agreed(told: Sequence[tuple[int, int]]) -> tuple[float, float]:
    """What the newest pins that agree with each other say together, the newest first: the largest that went, the
    smallest that did not. What was asked about already, and is right, is not held against the next."""
    went, did_not = -inf, inf
    for low, high in told:
        if low >= did_not or high <= went:
            break
        went, did_not = max(went, low), min(did_not, high)
    return went, did_not


def _ends(turn: Turn) -> tuple[int | None, int | None]:
    return turn.readings[0].low_pm, turn.readings[0].high_pm


def _limits(before: _Before, turn: Turn) -> list[Limit]:
    return [one for one in before.register.limits(before.item.id) if one.characteristic == turn.characteristic]


def _sizes_known(register: Register, item: Name) -> list[tuple[str, float]]:
    """The sizes on the item's card and those of its limits, µm, with what they are."""
    card = register.item_card(item.id)
    on_card = [card["nominal_pm"], card["bore_pm"]] if card else []
    limits = [limit for limit in register.limits(item.id) if known(limit.characteristic).size]
    ends = [end for limit in limits for end in (limit.lower_pm, limit.upper_pm)]
    both = (("card", on_card), ("limit", ends))
    return [(against, pm / 1e6) for against, lengths in both for pm in lengths if pm]


def _before(
    item: Name, modification: int, characteristic: str, *columns: sa.ColumnElement[Any]
) -> sa.Select[tuple[Any, ...]]:
    """Columns of the last readings of a characteristic that count, the newest first."""
    f, s, m, r = schema.figure, schema.series, schema.modification, schema.reading
    return (
        sa.select(*columns)
        .join(f, f.c.turn_id == r.c.turn_id)
        .join(s, s.c.id == f.c.series_id)
        .join(m, m.c.id == s.c.modification_id)
        .where(s.c.item_id == item.id, s.c.characteristic == characteristic, m.c.number == modification)
        .where(f.c.recalled == 0)
        .order_by(r.c.id.desc())
        .limit(_BEFORE)
    )


def _typed(turn: Turn) -> str:
    return " / ".join(reading.text for reading in turn.readings)
