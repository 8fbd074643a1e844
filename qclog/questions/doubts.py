"""Does what was typed look like a slip? Asked before it is logged; what was answered is kept beside it.

Usual run-outs are common practice. A real crash looks like a slip, so a doubt never forbids.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.deriving import tenths_of_mm
from qclog.logbook.figures import STEEP_LEVER_MDEG
from qclog.logbook.lookup import Name, Register
from qclog.records import FACE_RUNOUT, SWINGS, Turn

USUAL_UM: Final = {
    "collet": 20.0,
    "sleeve": 10.0,
    "chuck": 75.0,
    "jaws": 20.0,
    "arbor": 10.0,
    "spindle": 10.0,
    "dividing head": 20.0,
    "insert": 20.0,
}
"""The upper end of the usual run-out of each kind of item, µm (common practice)."""
SUSPICIOUS: Final = 6.0
_INCH_RATHER_THAN_TEN: Final = 16.0
"""A ratio nearer to 25.4 than to 10, as ratios go (their geometric mean is 15.9)."""
_UM_RATHER_THAN_INCH: Final = 160.0
"""A ratio nearer to 1000 than to 25.4, as ratios go (their geometric mean is 159)."""
HISTORY_FROM: Final = 3
_RUNNING: Final = 5
_CLOSES_WITHIN: Final = 0.1
_CLOSES_WITHIN_PM: Final = 500_000
"""A turn closes that comes back within a step, half a micrometre or a tenth of its swing (common practice)."""
_FINE_STEP_PM: Final = 1_000_000
"""With steps so fine a turn that reads the same all round is a rare one."""
_FARTHEST_UM: Final = 500_000.0
_TIMES_THE_LIMITS: Final = 10
"""Nothing is held half a metre out, nor read ten times as far out as it has a limit (common practice)."""
_SMALLEST_CIRCLE_UM: Final = 10_000.0
_LARGEST_CIRCLE_UM: Final = 500_000.0
"""Hardly a face is read on a smaller circle, or on a larger one (common practice)."""
_UM_IN_A_TENTH: Final = 100.0
"""Series know the circle to a tenth of a millimetre."""
_FINEST_PART: Final = 10
_FINEST_PM: Final = 50_000
"""What is less than a tenth of a division, or 0.05 µm, nobody reads on a machine (common practice)."""


class Doubt(StrEnum):
    """What is doubted. ``reports.wording`` asks the question."""

    TEN_TIMES = "ten_times"
    INCH_FOR_MM = "inch_for_mm"
    UM_FOR_MM = "um_for_mm"
    FIVE_EQUAL = "five_equal"
    NOT_MOVED = "not_moved"
    NOT_CLOSED = "not_closed"
    PIN_TOO_LARGE = "pin_too_large"
    STEEP_LEVER = "steep_lever"
    IN_FUTURE = "in_future"
    TOO_FINE = "too_fine"
    FAR_FROM_FACE = "far_from_face"
    OTHER_CIRCLE = "other_circle"
    GOES_DOWN = "goes_down"
    FAR_APART = "far_apart"
    CONTRADICTS = "contradicts"


@dataclass(frozen=True, slots=True)
class Doubtful:
    """One doubt: the text typed, the value in µm, and what it was held against ("history", "limit", "usual",
    "card", "bore", "limit's distance", "farthest"; of pins "room", "step", "did not go", "went"; of a face "circle",
    "smallest circle", "largest circle"), in µm."""

    doubt: Doubt
    typed: str
    value_um: float
    against: str = ""
    reference_um: float = 0.0


def doubts(
    register: Register,
    item: Name,
    modification: int,
    turns: Sequence[Turn],
    *,
    position: str = "",
    division_pm: int | None = None,
    diameter_pm: int | None = None,
    lever_mdeg: int | None = None,
) -> list[Doubtful]:
    """Everything that looks like a slip in turns about to be logged, in their order; of plain values see
    ``value_doubts``. ``diameter_pm``: of what was clamped, of a face the circle it was read on."""
    found = []
    swings = [(turn, *_swing(turn)) for turn in turns if turn.characteristic in SWINGS]
    for turn, typed, value in swings:
        if too_fine(value, division_pm):
            found.append(Doubtful(Doubt.TOO_FINE, typed, value))
            continue
        against, reference = _reference(register, item, modification, position, turn.distance_pm)
        ratio = value / reference if reference > 0 else 1.0
        too_small = against == "history" and 0 < ratio < 1 / SUSPICIOUS
        if ratio > SUSPICIOUS or too_small:
            found.append(Doubtful(slip_by(ratio), typed, value, against, reference))
    before = _clampings_before(register, item, modification) if swings else []
    if run := _equal_run(_once_each([(turn, value) for turn, _, value in swings]), before):
        found.append(Doubtful(Doubt.FIVE_EQUAL, run[0], run[1]))
    for turn, typed, value in swings:
        step = max(division_pm or 0, turn.readings[0].step_pm)
        if turn.kind == "point" and value == 0.0 and step <= _FINE_STEP_PM:
            found.append(Doubtful(Doubt.NOT_MOVED, typed, turn.readings[0].value_pm / 1e6))
    for turn in turns:
        step = max(division_pm or 0, *(reading.step_pm for reading in turn.readings))
        allowed = max(step, _CLOSES_WITHIN_PM, _CLOSES_WITHIN * _swing(turn)[1] * 1e6)
        if turn.closure_pm is not None and abs(turn.closure_pm) > allowed:
            found.append(Doubtful(Doubt.NOT_CLOSED, "", abs(turn.closure_pm) / 1e6))
    found += far_from_face(register, item, [turn.distance_pm for turn in turns])
    if diameter_pm is not None and any(turn.characteristic == FACE_RUNOUT for turn in turns):
        found += other_circle(register, item, diameter_pm)
    elif diameter_pm is not None:
        card = register.item_card(item.id)
        bore = (card["bore_pm"] or card["nominal_pm"]) if card and card["kind"] == "collet" else None
        if bore is not None and diameter_pm > bore:
            found.append(Doubtful(Doubt.PIN_TOO_LARGE, "", diameter_pm / 1e6, "bore", bore / 1e6))
    if lever_mdeg is not None and lever_mdeg > STEEP_LEVER_MDEG:
        found.append(Doubtful(Doubt.STEEP_LEVER, "", lever_mdeg / 1000))
    return found


def far_from_face(register: Register, item: Name, distances_pm: Sequence[int]) -> list[Doubtful]:
    """Distances farther out than anything is held, or far beyond those of the item's limits; none read at before."""
    stated = max((limit.distance_pm for limit in register.limits(item.id)), default=0) / 1e6
    against = "limit's distance" if 0 < stated * _TIMES_THE_LIMITS < _FARTHEST_UM else "farthest"
    most = stated * _TIMES_THE_LIMITS if against != "farthest" else _FARTHEST_UM
    s = schema.series.c
    return [
        Doubtful(Doubt.FAR_FROM_FACE, "", distance / 1e6, against, stated if against != "farthest" else most)
        for distance in dict.fromkeys(distances_pm)
        if distance / 1e6 > most
        and not values_before(register, s.item_id == item.id, s.distance_tenths == tenths_of_mm(distance))
    ]


def slip_by(ratio: float) -> Doubt:
    """What slip makes something so many times what it was expected to be, or that part of it."""
    times = max(ratio, 1 / ratio)
    if times > _UM_RATHER_THAN_INCH:
        return Doubt.UM_FOR_MM
    return Doubt.INCH_FOR_MM if times > _INCH_RATHER_THAN_TEN else Doubt.TEN_TIMES


def too_fine(value_um: float, division_pm: int | None) -> bool:
    """Whether something is less than anybody reads, and is not nought."""
    return 0 < abs(value_um) * 1e6 < max((division_pm or 0) / _FINEST_PART, _FINEST_PM)


def other_circle(register: Register, item: Name, diameter_pm: int) -> list[Doubtful]:
    """A circle on which the face was not read so far, though on others; of the first one no face is likely to have."""
    s, value = schema.series.c, diameter_pm / 1e6
    query = sa.select(s.diameter_tenths).where(s.item_id == item.id, s.characteristic == FACE_RUNOUT).distinct()
    circles = [tenths * _UM_IN_A_TENTH for tenths in register.connection.scalars(query) if tenths > 0]
    if tenths_of_mm(diameter_pm) * _UM_IN_A_TENTH in circles:
        return []
    if circles:
        nearest = min(circles, key=lambda circle: abs(circle - value))
        return [Doubtful(Doubt.OTHER_CIRCLE, "", value, "circle", nearest)]
    if value < _SMALLEST_CIRCLE_UM:
        return [Doubtful(Doubt.OTHER_CIRCLE, "", value, "smallest circle", _SMALLEST_CIRCLE_UM)]
    if value > _LARGEST_CIRCLE_UM:
        return [Doubtful(Doubt.OTHER_CIRCLE, "", value, "largest circle", _LARGEST_CIRCLE_UM)]
    return []


def _swing(turn: Turn) -> tuple[str, float]:
    values = [reading.value_pm for reading in turn.readings]
    typed = " ".join(reading.text for reading in turn.readings)
    return typed, (values[0] if turn.kind == "tir" else max(values) - min(values)) / 1e6


def _reference(register: Register, item: Name, modification: int, position: str, distance_pm: int) -> tuple[str, float]:
    """What a swing is held against, in µm: the item's history at that place, else its limit, else what is usual.

    Another key position may well run several times as far out; its swings say nothing of a slip here.
    """
    there = schema.series.c
    place = sa.and_(there.position == position, there.distance_tenths == tenths_of_mm(distance_pm))
    history = _swings_before(register, item, modification, place)
    if len(history) >= HISTORY_FROM:
        return "history", statistics.median(history)
    limits = [
        limit.upper_pm / 1e6
        for limit in register.limits(item.id)
        if limit.upper_pm is not None and limit.characteristic in SWINGS
    ]
    if limits:
        return "limit", max(limits)
    card = register.item_card(item.id)
    return "usual", USUAL_UM.get(card["kind"] if card else "other", 0.0)


def _swings_before(register: Register, item: Name, modification: int, place: sa.ColumnElement[bool]) -> list[float]:
    """The last swings logged of the item as it is, the newest first, in µm."""
    s, m = schema.series.c, schema.modification.c
    of_item = (s.item_id == item.id) & s.characteristic.in_(SWINGS)
    return values_before(register, of_item, m.number == modification, place)


def _clampings_before(register: Register, item: Name, modification: int) -> list[float]:
    """The same of the last clampings; what was read again before one was opened, and read alike, once."""
    f, s, m = schema.figure, schema.series, schema.modification
    query = (
        sa.select(f.c.clamping_id, f.c.value_um)
        .join(s, s.c.id == f.c.series_id)
        .join(m, m.c.id == s.c.modification_id)
        .where(s.c.item_id == item.id, s.c.characteristic.in_(SWINGS), m.c.number == modification, f.c.recalled == 0)
        .order_by(f.c.turn_id.desc())
        .limit(50)
    )
    rows = [(clamping, float(value)) for clamping, value in register.connection.execute(query)]
    return [value for _, value in dict.fromkeys(rows)]


def _once_each(swings: Sequence[tuple[Turn, float]]) -> list[float]:
    """The swings about to be logged; of a clamping read again and read alike once."""
    values: list[float] = []
    before: dict[int, float] = {}
    for turn, value in swings:
        if turn.label in ("", "1") or before.get(turn.distance_pm) != value:
            values.append(value)
        before[turn.distance_pm] = value
    return values


def values_before(register: Register, *which: sa.ColumnElement[bool]) -> list[float]:
    """The last values logged in some series, the newest first, in µm."""
    f, s, m = schema.figure, schema.series, schema.modification
    query = (
        sa.select(f.c.value_um)
        .join(s, s.c.id == f.c.series_id)
        .join(m, m.c.id == s.c.modification_id)
        .where(*which, f.c.recalled == 0)
        .order_by(f.c.turn_id.desc())
        .limit(50)
    )
    return [float(value) for value in register.connection.scalars(query)]


def _equal_run(new: list[float], history: list[float]) -> tuple[str, float] | None:
    """The value that ends a run of five equal swings, counting the last ones logged before."""
    running = [*history[: _RUNNING - 1][::-1], *new]
    for end in range(len(running) - len(new), len(running)):
        run = running[max(end - _RUNNING + 1, 0) : end + 1]
        if len(run) == _RUNNING and len(set(run)) == 1:
            return f"{run[-1]:g}", run[-1]
    return None
