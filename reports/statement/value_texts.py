"""What a statement says of a size, a gap or a difference, in words."""

from dataclasses import dataclass
from typing import Final

from qclog.characteristics import DIAMETRAL_GAP, FLUSHNESS, PAIR_DIFFERENCE, RADIAL_GAP, SLOT_DIFFERENCE, known
from qclog.questions.codes import NotForIssue
from qclog.questions.judging.groups import goes_by, sitting_counts
from qclog.questions.judging.values import HOLDS, Ends, ValueGroup
from qclog.questions.stating.statement import Turns, ValueStatement
from reports import values
from reports.numbers import NumberStyle, count, date
from reports.statement.written import sentence
from reports.values import exactly, figure, shown_step

_TOGETHER: Final = {
    "difference": "two sizes read together, the first less the second",
    "half difference": "two sizes read together, half of the first less the second",
    "spread": "sizes read together, the largest less the smallest",
}


_MEANT: Final = {
    FLUSHNESS: "flushness against the reference face; proud is plus, below is minus",
    PAIR_DIFFERENCE: "pair difference, the first of the two less the second",
    SLOT_DIFFERENCE: "slot difference, the widest slot less the narrowest",
    DIAMETRAL_GAP: "diametral gap, bore less pin",
    RADIAL_GAP: "radial gap, half of bore less pin",
}
_BY_PINS: Final = (
    "The pins are not named as a gauge. Enter their set with its certificate (qclog instrument add, calibrate) and "
    "name it with --instrument."
)
_NOT_FOR_ISSUE: Final = {
    NotForIssue.NO_INDICATOR: "No gauge is named for some of the readings. Read with one that is calibrated.",
    NotForIssue.NOT_CALIBRATED: (
        "A gauge has no calibration that says how far off it may be. Read with another, or enter it: qclog instrument "
        "calibrate"
    ),
    NotForIssue.OVERDUE: (
        "The calibration of a gauge was overdue when some of it was read. Have it calibrated and read again."
    ),
    NotForIssue.NOT_SUITED: "The limits are too close for this gauge. Read with one that is suited for them.",
    NotForIssue.ONE_SITTING: "All readings are of one sitting. Read it on another day too.",
    NotForIssue.CANNOT_TELL: "No verdict yet: it cannot be told. How many more readings: qclog assess {item}",
}


def not_for_issue(statement: ValueStatement) -> dict[NotForIssue, str]:
    """Why a statement is not issued, where that is said in other words than of run-out."""
    return _NOT_FOR_ISSUE | ({NotForIssue.NO_INDICATOR: _BY_PINS} if statement.result.by_pins else {})


def what(characteristic: str) -> str:
    """A characteristic with what its sign or its number means."""
    return _MEANT.get(characteristic, characteristic)


def says(statement: ValueStatement, style: NumberStyle) -> str:
    """What is stated, in a sentence or two."""
    group, how = statement.result, statement.result.decision
    if how is None:
        return sentence(values.verdict(group, style))
    step, limits = shown_step(group), values.limits(group, style)
    noun = "limits are" if None not in (how.decides_um.lower, how.decides_um.upper) else "limit is"
    here, further = sitting_counts(group), "further readings"
    if here:
        further += f" in the one sitting of {date(statement.clampings[-1].taken_at)}, before it was bonded,"
    if goes_by(group) == HOLDS:
        read = Ends(group.bounds_um.low, group.bounds_um.high) if group.bounds_um else Ends(None, None)
        return (
            f"Of {further}{'' if here else ', on other days too,'} 19 in 20 {lie(group, read, step, style)} as the "
            "gauge reads. With the price of looking again and the uncertainty of measuring counted against this "
            f"statement they {lie(group, how.decides_um, step, style)}, and the {noun} {limits}."
        )
    told = []
    for one in beyond_limits(group):
        beyond, under, above = ("exceed", "under", "above") if one.upper else ("fall below", "over", "below")
        end = figure(group, one.decides_um, style, step, up=not one.upper, down=one.upper)
        told.append(
            f"More than 1 in 20 of {further} {beyond} the limit of {exactly(group, one.limit_um, style)}: what "
            f"19 in 20 stay {under} is {above} {end}"
        )
    counted = "with the price of looking again and the uncertainty of measuring counted against this statement"
    return f"{'. '.join(told)}, {counted}."


@dataclass(frozen=True, slots=True)
class Beyond:
    """A limit that is passed, the ``upper`` or the lower one, and what is held against it, µm."""

    upper: bool
    limit_um: float
    decides_um: float


def beyond_limits(group: ValueGroup) -> list[Beyond]:
    """The limits that a group is found not to hold."""
    limits, how = group.limits_um, group.decision
    if limits is None or how is None:
        return []
    lower, upper = how.decides_um.lower, how.decides_um.upper
    found = []
    if upper is not None and limits.upper is not None and upper > limits.upper:
        found.append(Beyond(upper=True, limit_um=limits.upper, decides_um=upper))
    if lower is not None and limits.lower is not None and lower < limits.lower:
        found.append(Beyond(upper=False, limit_um=limits.lower, decides_um=lower))
    return found


def lie(group: ValueGroup, ends: Ends, step: float, style: NumberStyle) -> str:
    """ "lie from 12.02 mm to 12.03 mm", "stay under 14 µm"; rounded outward."""
    low = "" if ends.lower is None else figure(group, ends.lower, style, step, down=True)
    high = "" if ends.upper is None else figure(group, ends.upper, style, step, up=True)
    return f"lie from {low} to {high}" if low and high else f"stay under {high}" if high else f"stay over {low}"


def stamp(group: ValueGroup, style: NumberStyle) -> str:
    """The verdict in as few words as it can be said; of what it is stands above it."""
    return values.stamp(group, style).replace(f"{group.characteristic.upper()} ", "").replace(": ", " ", 1)


def method(statement: ValueStatement, span: str) -> list[tuple[str, str]]:
    group, several = statement.result, len(statement.method) > 1
    ways = dict.fromkeys(_read_as(statement, turns, several=several) for turns in statement.method)
    places = "; places read at once are averaged" if sum(x.turns for x in statement.method) > group.clampings else ""
    return [
        ("Readings", f"{values.counted(group)}, {span}"),
        ("Each read as", "; ".join(ways) + places),
    ]


def _read_as(statement: ValueStatement, turns: Turns, *, several: bool) -> str:
    times = f" ({count(turns.turns, 'time')})" if several else ""
    joined = known(statement.place.characteristic).joined
    if statement.result.by_pins:
        way = "by go and no-go pins: the largest that goes, the smallest that does not"
        return (f"{_TOGETHER[joined]}; pins tell the first" if joined else way) + times
    if joined and turns.readings > 1:
        way = _TOGETHER[joined]
        return (f"{turns.readings} {way}" if joined == "spread" else way) + times
    return f"the value read{times}"
