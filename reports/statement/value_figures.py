"""The figures of a statement of a size, a gap or a difference in words: results, how it was decided, every reading."""

from typing import Final

from qclog.characteristics import known
from qclog.questions.judging.groups import goes_by
from qclog.questions.judging.values import HOLDS, LINEAR, DecisionBetween, Ends, ValueGroup
from qclog.questions.stating.statement import ValueRead, ValueStatement
from reports.numbers import NumberStyle, micrometres, percent, uncertainty
from reports.statement.figures import ROUNDED, RULE, Column, Listed, as_list, confidence, where_others
from reports.statement.value_texts import beyond_limits, lie
from reports.statement.written import loud
from reports.values import exactly, figure, shown_step

_METHODS: Final = {
    "one clamping a sitting": "with the exact factor (ISO 16269-6)",
    "sittings": "from the scatter within sittings and from one to the next (sum of two mean squares after Graybill and "
    "Wang 1980)",
    "one sitting": "of one sitting (ISO 16269-6)",
}
_BY_PINS: Final = (
    "as far as any likely mean and scatter reach, since pins tell no middle (likelihood ratio, Wilks 1938)"
)


def results(statement: ValueStatement, style: NumberStyle) -> list[tuple[str, str]]:
    group, step = statement.result, shown_step(statement.result)
    read = group.read_um
    if read.mean is None or read.last is None:
        told = f"{exactly(group, read.low, style)} to {exactly(group, read.high, style)}"
        rows = [("Pins tell", f"{told}{_pins_tell(group)}")]
    else:
        spread = "-" if read.sd is None else micrometres(read.sd, step_um=step, style=style)
        least, most, last = (figure(group, value, style) for value in (read.low, read.high, read.last))
        rows = [
            ("Mean", figure(group, read.mean, style, step)),
            ("Standard deviation", spread),
            ("Least and most", f"{least} and {most}; last {last}"),
        ]
    if group.bounds_um is not None:
        rows.append(("Bounds", _bounds(group, style)))
    of = ", of what two readings together tell" if known(group.characteristic).joined else ", common to all readings"
    expanded = uncertainty(group.uncertainty_um, style=style)
    rows.append(("Uncertainty U", f"{expanded} (k = {statement.coverage_factor:g}){of}"))
    rows.append(("Read to", micrometres(group.resolution_um, step_um=group.resolution_um, style=style)))
    return rows


def _pins_tell(group: ValueGroup) -> str:
    if known(group.characteristic).joined:
        return ""
    outermost = "" if group.clampings == 1 else "; of several readings the outermost of each"
    return f": the largest that goes, the smallest that does not{outermost}"


def _bounds(group: ValueGroup, style: NumberStyle) -> str:
    assert group.bounds_um is not None
    between, step = group.bounds_um, shown_step(group)
    ends = Ends(between.low, between.high)
    how = _BY_PINS if group.by_pins else _METHODS[between.method]
    sides = "two-sided tolerance limits" if None not in (ends.lower, ends.upper) else "one-sided tolerance limit"
    share = f"with {percent(between.confidence)} confidence {percent(between.content)} of all readings"
    return f"{share} {lie(group, ends, step, style)}, as the gauge reads; {sides} {how}"


def decision(statement: ValueStatement, style: NumberStyle) -> list[tuple[str, str]]:
    group, how = statement.result, statement.result.decision
    if how is None or group.limits_um is None:
        return [("Decision rule", RULE)]
    finer = shown_step(group) / 10
    if goes_by(group) == HOLDS:
        told = f"19 readings in 20 {lie(group, how.bounds_um, finer, style)}"
        held = _inside(group, how, finer, style)
    else:
        passed = [one.upper for one in beyond_limits(group)]
        told = " and ".join(
            f"more than 1 in 20 readings lie {'above' if upper else 'below'} {_bound(group, how, upper, finer, style)}"
            for upper in passed
        )
        held = "; ".join(_outside(group, how, upper, finer, style) for upper in passed)
    sure, paid = confidence(how.confidence), "more than 95 %, since it may have been looked at after every reading"
    return [
        ("Decision rule", RULE),
        ("Bounds", f"with {sure} confidence {told}, as the gauge reads; {paid}"),
        ("Guard band", f"g = 1.645 U/2 = {micrometres(how.guard_um, step_um=finer, style=style, round_up=True)}"),
        (
            "Middle of the ends" if group.by_pins else "Middle value",
            f"M = {figure(group, how.centre_um, style, finer)}",
        ),
        ("Held against limits", f"{held}: {loud(goes_by(group))}"),
        ("Rounded", ROUNDED),
    ]


def _inside(group: ValueGroup, how: DecisionBetween, finer: float, style: NumberStyle) -> str:
    """The arithmetic at each limit: the bounds B moved outward by the guard band."""
    limits, said = group.limits_um, []
    assert limits is not None
    linear = how.added == LINEAR
    if how.decides_um.lower is not None and limits.lower is not None:
        sum_ = "B\u00a0-\u00a0g" if linear else "M\u00a0-\u00a0√((M\u00a0-\u00a0B)²\u00a0+\u00a0g²)"
        low = figure(group, how.decides_um.lower, style, finer, down=True)
        said.append(f"below, {sum_} = {low} is not under {exactly(group, limits.lower, style)}")
    if how.decides_um.upper is not None and limits.upper is not None:
        sum_ = "B\u00a0+\u00a0g" if linear else "M\u00a0+\u00a0√((B\u00a0-\u00a0M)²\u00a0+\u00a0g²)"
        high = figure(group, how.decides_um.upper, style, finer, up=True)
        said.append(f"above, {sum_} = {high} is not over {exactly(group, limits.upper, style)}")
    return "; ".join(said)


def _outside(group: ValueGroup, how: DecisionBetween, upper: bool, finer: float, style: NumberStyle) -> str:
    """The arithmetic at a limit that is passed: the bound B moved inward by the guard band."""
    limits, ends = group.limits_um, how.decides_um
    assert limits is not None
    limit, moved = (limits.upper, ends.upper) if upper else (limits.lower, ends.lower)
    bound = how.bounds_um.upper if upper else how.bounds_um.lower
    assert limit is not None
    assert moved is not None
    assert bound is not None
    sign, side = ("-", "over") if upper else ("+", "under")
    from_bound = how.added == LINEAR or (bound >= how.centre_um if upper else bound <= how.centre_um)
    sum_ = f"B\u00a0{sign}\u00a0g" if from_bound else f"M\u00a0{sign}\u00a0√((B\u00a0-\u00a0M)²\u00a0+\u00a0g²)"
    result = figure(group, moved, style, finer, up=not upper, down=upper)
    return f"{sum_} = {result} is {side} {exactly(group, limit, style)}"


def _bound(group: ValueGroup, how: DecisionBetween, upper: bool, finer: float, style: NumberStyle) -> str:
    value = how.bounds_um.upper if upper else how.bounds_um.lower
    assert value is not None
    return f"B = {figure(group, value, style, finer, up=not upper, down=upper)}"


def readings(statement: ValueStatement, style: NumberStyle) -> Listed:
    """All readings; a column only for what is not the same for all of them."""
    read, group = statement.clampings, statement.result
    columns: list[Column] = [
        ("no.", [str(one.number) for one in read], "R"),
        ("taken", [one.taken_at.replace("T", " ")[:16] for one in read], "L"),
        (group.characteristic, [_value(group, one, style) for one in read], "R"),
    ]
    if known(group.characteristic).joined or any(len(one.as_typed) > 1 for one in read):
        columns.insert(2, ("as read", ["; ".join(one.as_typed) for one in read], "L"))
    columns += where_others(
        statement,
        ("gauge", [statement.indicators[one.indicator].code or "-" for one in read]),
        ("read by", [one.operator or "-" for one in read]),
    )
    return as_list(columns)


def _value(group: ValueGroup, one: ValueRead, style: NumberStyle) -> str:
    if one.low_um == one.high_um:
        return figure(group, one.low_um, style)
    return f"{exactly(group, one.low_um, style)} to {exactly(group, one.high_um, style)}"
