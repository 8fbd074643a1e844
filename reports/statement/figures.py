"""The figures of a statement in words: results, how it was decided, and the lists of clampings and of what was struck
out."""

import math
from typing import Final

from qclog.questions.judging.groups import Group, sitting_counts
from qclog.questions.judging.values import HOLDS, LINEAR
from qclog.questions.stating.statement import Statement, SwingStatement
from reports.numbers import NumberStyle, angle, date, percent, uncertainty
from reports.statement.written import exactly, joined, loud, um
from reports.wording.steps import read_step, shown_step

Listed = tuple[list[str], list[list[str]], str]
"""A list: its head, its rows, and L or R for each column."""
Column = tuple[str, list[str], str]
"""A column of one: its head, its cells, L or R."""

_METHODS: Final = {
    "one clamping a sitting": "one-sided tolerance limit with the exact factor (noncentral t, ISO 16269-6)",
    "sittings": "one-sided tolerance limit from the scatter within sittings and from one to the next "
    "(sum of two mean squares after Graybill and Wang 1980)",
    "one sitting": "one-sided tolerance limit of one sitting (noncentral t, ISO 16269-6)",
    "one sitting, with others' repeat": "one-sided tolerance limit of one sitting with the "
    "repeat of other items of its kind",
    "shop's repeat": "one-sided tolerance limit with the repeat of other items of its kind",
}
RULE: Final = (
    "ISO 14253-1:2017. The uncertainty of measuring counts against the statement: the limit is said to be held, or "
    "not, only with a conformance probability of at least 95 %"
)
ROUNDED: Final = "bounds outward, never to the better; here a place finer than above"
_ONE_SITTING: Final = (
    "the bound above, with the uncertainty counted against it, held against the limit; the arithmetic is printed of a "
    "verdict on further days only, which is the one that can be issued"
)
_OF_VECTORS: Final = ", from vectors"


def results(statement: SwingStatement, style: NumberStyle) -> list[tuple[str, str]]:
    group, step = statement.result, shown_step(statement.result)
    tir, read, as_read = group.tir_um, group.resolution_um, read_step(group)
    rows = [
        ("Mean", um(tir.mean, step, style)),
        ("Standard deviation", um(tir.sd, step, style) if tir.sd is not None else "-"),
        (
            "Least and most",
            f"{um(tir.min, as_read, style)} and {um(tir.max, as_read, style)}; last {um(tir.last, as_read, style)}",
        ),
    ]
    if group.eccentricity is not None:
        high = angle(group.eccentricity.high_spot_deg)
        rows.append(("Once per turn", f"{um(group.eccentricity.tir_um, step, style)} on the mean, high spot at {high}"))
    if group.next is not None:
        half, most = um(group.next.median_um, step, style), um(group.next.p95_um, step, style, up=True)
        told = f"half stay under {half}, 95 % under {most}: a forecast for one clamping"
        other = "; the bound below is for all of them" if group.bound is not None else ""
        rows.append(("Next clamping", f"{told}{other}"))
    if group.bound is not None:
        rows.append(("Bound", f"{um(group.bound.value_um, step, style, up=True)}: {_bound(group)}"))
    if group.uncertainty_um is not None:
        from_ = f"of a swing, the part common to all clampings: {_sources(statement)}"
        expanded = uncertainty(group.uncertainty_um, style=style)
        rows.append(("Uncertainty U", f"{expanded} (k = {statement.coverage_factor:g}) {from_}"))
    rows.append(("Read to", um(read, read, style)))
    return rows


def _sources(statement: SwingStatement) -> str:
    """What the uncertainty comes from: a face has no pin, and only a lever, or what may be one, an angle."""
    levers = any(one.kind in ("lever", "") for one in statement.indicators)
    return joined("indicator", levers and "lever angle", bool(statement.pins) and "pin")


def _bound(group: Group) -> str:
    assert group.bound is not None
    method_, vectors = group.bound.method.removesuffix(_OF_VECTORS), group.bound.method.endswith(_OF_VECTORS)
    scale = (
        "from the once-per-turn vectors"
        if vectors
        else "on the scale of T to the power 2/3, on which swings are close to normal"
    )
    content, confidence = percent(group.bound.content), percent(group.bound.confidence)
    share = f"with {confidence} confidence {content} of all clampings stay under it"
    return f"{share}, as the indicator reads; {_METHODS[method_]}, {scale}"


def decision(statement: SwingStatement, style: NumberStyle) -> list[tuple[str, str]]:
    group, how = statement.result, statement.result.decision
    if how is None or group.limit_um is None:
        told = [("Of one sitting", _ONE_SITTING)] if sitting_counts(group) else []
        return [("Decision rule", RULE), *told]
    step = shown_step(group)
    finer = step / 10
    holds = group.next_clampings == HOLDS
    bound, guard = (um(value, finer, style, up=True) for value in (how.bound_um, how.guard_um))
    if not holds:
        bound = um(how.bound_um, finer, style, down=True)
    side = "stay under" if holds else "do not stay under"
    sure = confidence(how.confidence)
    looked = f"B = {bound}: with {sure} confidence 19 clampings in 20 {side} it, as the indicator reads"
    paid = "; more than 95 %, since it may have been looked at after every clamping"
    sign = "+" if holds else "-"
    if how.added == LINEAR:
        sum_ = f"B {sign} g"
    else:
        inside, outside = ("(B - M)²", "M +") if holds else ("(B - M)²", "M -")
        sum_ = f"{outside} √({inside} + g²)"
        if not holds:
            sum_ = "B - g" if how.bound_um >= how.centre_um else sum_
    result = um(how.decides_um, finer, style, up=holds, down=not holds)
    against = "is not above" if holds else "is above"
    return [
        ("Decision rule", RULE),
        ("Bound", f"{looked}{paid}"),
        ("Guard band", f"g = 1.645 U/2 = {guard}"),
        ("Middle value", f"M = {um(how.centre_um, finer, style)}"),
        (
            "Held against limit",
            f"{sum_} = {result} {against} {exactly(group.limit_um, style)}: {loud(group.next_clampings)}",
        ),
        ("Rounded", ROUNDED),
    ]


def clampings(statement: SwingStatement, style: NumberStyle) -> Listed:
    """All clampings; a column only for what is not the same for all of them."""
    read, step = statement.clampings, _step_read(statement)
    columns: list[Column] = [
        ("no.", [str(one.number) for one in read], "R"),
        ("taken", [one.taken_at.replace("T", " ")[:16] for one in read], "L"),
        ("full swing", [um(one.swing_um, step, style) for one in read], "R"),
    ]
    if any(one.high_spot_deg is not None for one in read):
        fine = shown_step(statement.result)
        once = ["-" if x.once_per_turn_um is None else um(x.once_per_turn_um, fine, style) for x in read]
        spots = ["-" if one.high_spot_deg is None else angle(one.high_spot_deg) for one in read]
        columns += [("once per turn", once, "R"), ("high spot", spots, "R")]
    columns += where_others(
        statement,
        ("pin", [one.pin or "-" for one in read]),
        ("indicator", [statement.indicators[one.indicator].code or "-" for one in read]),
        ("read by", [one.operator or "-" for one in read]),
    )
    return as_list(columns)


def where_others(statement: Statement, *told: tuple[str, list[str]]) -> list[Column]:
    """The sitting where that is not the day, and each column that is not the same for all."""
    sittings = [one.sitting for one in statement.clampings]
    days = [date(one.taken_at) for one in statement.clampings]
    shown = [("sitting", sittings)] if sittings != days else []
    return [(head, cells, "L") for head, cells in (*shown, *(one for one in told if len(set(one[1])) > 1))]


def as_list(columns: list[Column]) -> Listed:
    heads, cells, sides = zip(*columns, strict=True)
    return list(heads), [list(row) for row in zip(*cells, strict=True)], "".join(sides)


def _step_read(statement: SwingStatement) -> float:
    """The step of the indicator where all swings are whole steps, else a finer one."""
    step = statement.result.resolution_um
    whole = all(math.isclose(one.swing_um, step * round(one.swing_um / step)) for one in statement.clampings)
    return step if whole else shown_step(statement.result)


def struck(statement: Statement) -> Listed:
    body = [
        [
            str(one.clamping),
            date(one.taken_at),
            f"{'a ' if one.part != 'clamping' else 'the '}{one.part}",
            one.reason,
            one.by,
        ]
        for one in statement.struck
    ]
    return ["no.", "taken", "struck out", "because", "by"], body, "RLLLL"


def confidence(share: float) -> str:
    """ "99.3 %"."""
    return f"{100 * share:.2f}".rstrip("0").rstrip(".") + " %"
