"""Sizes, gaps, flushness and differences as text: a sentence each, a table, what limits the answer.

From 1 mm on a characteristic is shown in mm, below in µm: by the largest of its readings and limits, all alike.
"""

import textwrap
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Final

from qclog.characteristics import SIZE_FROM_PM
from qclog.questions.codes import Caveat
from qclog.questions.judging.groups import goes_by, sitting_counts, to_work_again, waits_for_doubt
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, ONE_SITTING, ValueGroup
from reports import numbers
from reports.numbers import METRIC, NumberStyle, count, uncertainty
from reports.tables import fitted
from reports.wording import verdicts
from reports.wording.caveats import CAVEATS
from reports.wording.commands import typed
from reports.wording.verdicts import in_table, many_days

if TYPE_CHECKING:
    from qclog.questions.chart import Answer as Charted
    from qclog.questions.uncertainty import OfValue

COLUMNS: Final = (
    "what",
    "unit",
    "n",
    "sittings",
    "least",
    "most",
    "mean",
    "19 in 20 from",
    "to",
    "limits",
    "more days",
    "verdict",
)
_FIRST_LEFT_OUT: Final = ("mean", "sittings", "more days", ("19 in 20 from", "to"), "n", "least", "most", "unit")
_RIGHT: Final = ("n", "sittings", "least", "most", "mean", "19 in 20 from", "to", "more days")
_OWN: Final = {
    Caveat.FEW_CLAMPINGS: "Fewer than three readings: only what was read can be judged.",
    Caveat.ONE_SITTING: "All readings are of one sitting, which says nothing yet about other days.",
    Caveat.ROUGH_BOUND: "So few sittings or readings give rough bounds, several times too wide; more narrow them.",
    Caveat.LOOKED_AGAIN: (
        "Looking again after every reading is paid for: the verdict asks for more than 95 %, so wider bounds than "
        "those shown."
    ),
    Caveat.MORE_WILL_NOT_TELL: "More readings will not settle it.",
    Caveat.INSTRUMENT_NOT_SUITED: (
        "What it was read with is not suited for limits this close: it takes up too much of the room they leave."
    ),
    Caveat.INSTRUMENT_UNKNOWN: (
        "No gauge was named, so a cautious uncertainty was assumed. Naming a calibrated one narrows it "
        "(--instrument; qclog instrument add)."
    ),
}
"""What is said of values in other words than of clampings."""
PINS_ASSUMED: Final = (
    "The pins count with the tolerance of the widest class of gauge pins, whatever their cards say. What narrows it: "
    "pins that are each calibrated and named by their codes (qclog instrument calibrate PIN; --go PIN --no-go PIN), or "
    "a calibrated set (qclog instrument add; --instrument)."
)
_BEYOND_BY_PINS: Final = "Pins tell a bore only to between what goes and what does not; all of it lies beyond a limit."
_TOO_WIDE: Final = 3.0
_ROUGH_FOR_GOOD: Final = "So few sittings or readings give rough bounds, several times too wide."
_GAUGE: Final = "What it is read with is too uncertain for limits this close: read it with a better gauge."
_STEPS: Final = "It is read in too coarse steps for these limits: read it in finer ones."
_BETWEEN_PINS: Final = "Pins leave open where between them it lies: read it with a gauge, or with pins in finer steps."
_NEAR: Final = "It lies too near a limit, or past it: read it with a better gauge, or work it away from that limit."
_CHANGES: Final = "It changes too much for the room its limits leave: look for a burr, dirt, or how it is read."
"""Why more readings will not settle it, and what to do instead."""


def in_mm(group: ValueGroup) -> bool:
    """Whether a group is shown in mm, as sizes are, rather than in µm."""
    limits = group.limits_um
    ends = (group.read_um.low, group.read_um.high, *((limits.lower, limits.upper) if limits else ()))
    return any(end is not None and abs(end) * 1e6 >= SIZE_FROM_PM for end in ends)


def place(group: "ValueGroup | Charted | OfValue") -> str:
    """What was read and where: "depth", "jaw lift, LATHE-A, position N, 16 mm out"."""
    parts = [
        group.characteristic,
        group.setup,
        group.position and f"position {group.position}",
        group.clocking and f"clocked {group.clocking}",
        f"{group.distance_mm:g} mm out" if group.distance_mm else "",
    ]
    return ", ".join(part for part in parts if part)


def limits(group: ValueGroup, style: NumberStyle = METRIC) -> str:
    """Its limits in words, '' where there are none."""
    found = group.limits_um
    if found is None:
        return ""
    lower, upper = (None if end is None else round(end * 1e6) for end in (found.lower, found.upper))
    return numbers.limits(lower, upper, style=style)


def verdict(group: ValueGroup, style: NumberStyle = METRIC) -> str:
    """The answer about one characteristic, in a sentence or two."""
    limit = limits(group, style)
    if not limit:
        return f"no limit is set. {_lies(group, style)}".strip()
    if sitting_counts(group):
        told = "HOLDS" if group.this_sitting == HOLDS else "DOES NOT HOLD"
        if group.before_bonding is not None:
            return f"{told} {limit}, as read in one sitting before it was bonded. {_lies(group, style)}".strip()
        return f"{told} {limit} in this sitting, which is what counts until it is bonded. {_lies(group, style)}".strip()
    before, yet = ("", " yet") if group.before_bonding is None else (", as read before it was bonded", "")
    words = {
        HOLDS: f"HOLDS {limit}{before}. {_lies(group, style)}",
        DOES_NOT_HOLD: f"DOES NOT HOLD {limit}{before}. {_lies(group, style)}",
        CANNOT_TELL: f"cannot tell{yet} whether it holds {limit}{before}. {_until_told(group, style)}",
    }
    return words[group.next_clampings].strip()


def to_do(group: ValueGroup, style: NumberStyle = METRIC) -> str:
    """What to do about a value that is not what it was made to, with what to type; '' where there is nothing."""
    if not to_work_again(group):
        return ""
    code = typed(group.item)
    return (
        f"Look for a slip first (qclog item show {code}) and strike it out: qclog strike {code} NUMBER --reason "
        f"misread. Else work it to {limits(group, style)} again, and note it: qclog modify {code} WORK"
    )


def stamp(group: ValueGroup, style: NumberStyle = METRIC) -> str:
    """The verdict in as few words as it can be said, "DEPTH HOLDS 12.00 to 12.05 mm"; its limits are not broken."""
    name, limit = group.characteristic.upper(), limits(group, style).replace(" ", "\u00a0")
    if not limit:
        return f"{name}: NO LIMIT"
    if waits_for_doubt(group):
        return f"IN DOUBT: {name} {limit}"
    if goes_by(group) == CANNOT_TELL:
        return f"CANNOT TELL YET: {name} {limit}"
    here = " IN THIS SITTING" if sitting_counts(group) and group.before_bonding is None else ""
    here += " BEFORE BONDING" if group.before_bonding is not None else ""
    return f"{name} {'HOLDS' if goes_by(group) == HOLDS else 'DOES NOT HOLD'} {limit}{here}"


def in_short(group: ValueGroup) -> str:
    """The verdict and of what, for a narrow list: "DOES NOT HOLD: flushness"."""
    told = verdicts.in_short(group)
    yet = " YET" if told == CANNOT_TELL.upper() else ""
    return f"{told}{yet}: {group.characteristic}"


def grounds(group: ValueGroup, style: NumberStyle = METRIC) -> str:
    """What the verdict rests on, or what is missing for one."""
    if group.limits_um is not None and goes_by(group) == CANNOT_TELL:
        return _until_told(group, style)
    return _lies(group, style)


def exactly(group: ValueGroup, end_um: float, style: NumberStyle = METRIC) -> str:
    """One of its limits, or of the pins it was told by, as it was given, in the unit of all its figures."""
    return (numbers.length if in_mm(group) else numbers.limit)(round(end_um * 1e6), style=style)


def counted(group: ValueGroup) -> str:
    """ "6 readings in 2 sittings"."""
    return f"{count(group.clampings, 'reading')} in {count(group.sittings, 'sitting')}"


def table(
    groups: Sequence[ValueGroup],
    width: int,
    *,
    items: bool = False,
    marked: Collection[tuple[object, ...]] = (),
    out: frozenset[str] = frozenset(),
) -> list[str]:
    """The figures of groups, a line each under a header; ``items``: with the item's code; ``marked`` places (item,
    setup, position, distance, characteristic) are flagged."""
    rows = []
    for group in groups:
        place_of = (group.item, group.setup, group.position, group.distance_mm, group.characteristic)
        rows.append(row(group, items=items, marked=place_of in marked, out=group.item in out))
    columns = dict(zip(COLUMNS, zip(*rows, strict=True), strict=True))
    return fitted(columns, width, _FIRST_LEFT_OUT, right=_RIGHT, down_the_page=True)


def row(group: ValueGroup, *, items: bool = False, marked: bool = False, out: bool = False) -> tuple[str, ...]:
    """The cells of a group, in the order of ``COLUMNS``; ``marked``: it is flagged."""
    read, bounds, finer = group.read_um, group.bounds_um, shown_step(group)
    limit = limits(group)
    flagged = marked or goes_by(group) == DOES_NOT_HOLD
    return (
        f"{group.item} {place(group)}" if items else place(group),
        "mm" if in_mm(group) else "µm",
        str(group.clampings),
        str(group.sittings),
        *(_end(group, end) for end in (read.low, read.high)),
        _bare(group, read.mean, finer),
        _bare(group, bounds.low if bounds and is_useful(group) else None, finer, down=True),
        _bare(group, bounds.high if bounds and is_useful(group) else None, finer, up=True),
        limit or "-",
        "-" if group.more_readings is None else many_days(group.more_readings),
        ("OUT OF SERVICE" if out else in_table(group)) + (" ***" if flagged or out else ""),
    )


def notes(
    groups: Sequence[ValueGroup], style: NumberStyle = METRIC, *, said: Sequence[str] = (), items: bool = False
) -> list[str]:
    """What the gauges add, and each caveat once with whose it is; none that is ``said`` already. ``items``: by code."""
    parts: dict[str, list[str]] = {}
    for group in groups:
        parts.setdefault(uncertainty(group.uncertainty_um, style=style), []).append(place(group))
    told = next(iter(parts)) if len(parts) == 1 else "; ".join(f"{', '.join(of)} {u}" for u, of in parts.items())
    lines = ["What they were read with counts against the claim."]
    if not items:
        lines = [f"What it was read with counts against the claim (k = 2): {told}."]
    for code in CAVEATS:
        having: dict[str, list[ValueGroup]] = {}
        for group in groups:
            if code in group.caveats:
                having.setdefault(caveat_of(group, code), []).append(group)
        for sentence, those in having.items():
            whose = "; ".join(dict.fromkeys(group.item if items else place(group) for group in those))
            if sentence not in said:
                lines.append(sentence if len(those) == len(groups) else f"{sentence} ({whose})")
    return lines


def caveat_of(group: ValueGroup, code: Caveat) -> str:
    """What a caveat says of one group: where more readings will not settle it why, and none asks for more of them."""
    if Caveat.MORE_WILL_NOT_TELL in group.caveats and code == Caveat.ROUGH_BOUND:
        return _ROUGH_FOR_GOOD
    if group.by_pins and code == Caveat.INSTRUMENT_UNKNOWN:
        return PINS_ASSUMED
    if code == Caveat.BY_PINS and _beyond(group):
        return _BEYOND_BY_PINS
    return f"{caveat(code)} {_hindrance(group)}" if code == Caveat.MORE_WILL_NOT_TELL else caveat(code)


def _hindrance(group: ValueGroup) -> str:
    """Why more readings will not settle it: the uncertainty, the steps or the place against the room its limits leave,
    else what it changes."""
    read, found = group.read_um, group.limits_um
    if Caveat.INSTRUMENT_NOT_SUITED in group.caveats or _gauge_alone(group):
        return _GAUGE
    if group.by_pins:
        return _BETWEEN_PINS
    lower, upper = (found.lower, found.upper) if found else (None, None)
    near = max(group.uncertainty_um, group.resolution_um)
    if (lower is not None and read.low < lower + near) or (upper is not None and read.high > upper - near):
        return _NEAR
    return _STEPS if Caveat.RESOLUTION_FLOOR in group.caveats else _CHANGES


def caveat(code: Caveat) -> str:
    """What a caveat says of a value."""
    return _OWN.get(code, CAVEATS[code])


def shown_step(group: ValueGroup) -> float:
    """No figure is shown finer than a tenth of what was read."""
    return max(group.resolution_um / 10, 0.1) if group.resolution_um >= 1 else group.resolution_um


def is_useful(group: ValueGroup) -> bool:
    """Whether the bounds are worth showing: rough ones may lie far outside of all that was read and allowed."""
    bounds, found = group.bounds_um, group.limits_um
    if bounds is None or Caveat.ROUGH_BOUND not in group.caveats or found is None:
        return bounds is not None
    ends = [end for end in (group.read_um.low, group.read_um.high, found.lower, found.upper) if end is not None]
    width = max(ends) - min(ends)
    reach = [end for end in (bounds.low, bounds.high) if end is not None]
    return max(*reach, max(ends)) - min(*reach, min(ends)) <= _TOO_WIDE * width


def wrapped(lines: Sequence[str], width: int) -> list[str]:
    return [
        line
        for text in lines
        for line in textwrap.wrap(text, width, initial_indent="  - ", subsequent_indent="    ", break_on_hyphens=False)
    ]


def _until_told(group: ValueGroup, style: NumberStyle) -> str:
    if Caveat.IN_DOUBT in group.caveats:
        return "Everything read here is in doubt: measure it again."
    if Caveat.IN_DOUBT_CONTRADICTS in group.caveats:
        return "What was read last is in doubt and speaks against the rest: measure it again."
    parts = {
        HOLDS: ["In this sitting it holds."],
        DOES_NOT_HOLD: ["In this sitting it does not hold."],
    }.get(group.this_sitting, [])
    if not parts and group.as_read == DOES_NOT_HOLD:
        parts = ["It was read beyond."]
    elif not parts and group.as_read == HOLDS:
        parts = ["What was read lies inside."]
    parts.append(_lies(group, style))
    if group.more_readings is not None:
        many = many_days(group.more_readings)
        days = "another day" if group.more_readings == 1 else f"each of {many} more days"
        if _beyond(group):
            parts.append(f"As it is, readings on {days} would settle that it does not hold.")
        elif group.by_pins:
            parts.append(f"{_narrows(group, style)} As it is, readings on {days} would tell.")
        else:
            parts.append(f"Read it on {days} to learn it, if it comes out like so far.")
    elif group.more_in_sitting is not None:
        parts.append(_once_more(group))
    elif _gauge_alone(group):
        each = "; it counts for each of the readings kept together" if Caveat.KEPT_TOGETHER in group.caveats else ""
        gauge = uncertainty(group.uncertainty_um, style=style)
        parts.append(f"The {gauge} of what it was read with may still take that beyond a limit{each}.")
    return " ".join(part for part in parts if part)


def _gauge_alone(group: ValueGroup) -> bool:
    """Whether the next readings would lie inside, and only the uncertainty of what it was read with leaves it open."""
    bounds, found = group.bounds_um, group.limits_um
    if bounds is None or found is None or group.by_pins or Caveat.MORE_WILL_NOT_TELL not in group.caveats:
        return False
    rooms = [
        *([] if found.lower is None or bounds.low is None else [bounds.low - found.lower]),
        *([] if found.upper is None or bounds.high is None else [found.upper - bounds.high]),
    ]
    return bool(rooms) and 0.0 <= min(rooms) < group.uncertainty_um


def _beyond(group: ValueGroup) -> bool:
    """Whether all of it was read beyond a limit, so that what is missing are readings, and nothing finer."""
    return group.as_read == DOES_NOT_HOLD and group.more_readings is not None


def _narrows(group: ValueGroup, style: NumberStyle) -> str:
    """What narrows a size that pins told, which more days do not."""
    apart = numbers.limit(round((group.read_um.high - group.read_um.low) * 1e6), style=style)
    assumed = Caveat.INSTRUMENT_UNKNOWN in group.caveats
    counts = f"the {uncertainty(group.uncertainty_um, style=style)} they count with at each end"
    better = f"; a calibrated set, named with --instrument, {counts}" if assumed else ""
    return f"A finer step of pins narrows the {apart} they leave open{better}."


def _once_more(group: ValueGroup) -> str:
    """How many more readings in this sitting would tell, of a gap."""
    if group.bounds_um is None:
        times = count(group.more_in_sitting or 0, "more time")
        return f"Three readings or more tell it for this sitting: read it {times} at least before it is bonded."
    times = count(group.more_in_sitting or 0, "more reading")
    return f"{times[0].upper()}{times[1:]} in this sitting would show it, if like those so far: before it is bonded."


def _lies(group: ValueGroup, style: NumberStyle) -> str:
    read, bounds = group.read_um, group.bounds_um
    pins = (
        f"Pins tell {exactly(group, read.low, style)} to {exactly(group, read.high, style)}." if group.by_pins else ""
    )
    if bounds is None:
        return pins
    if not is_useful(group):
        if goes_by(group) in (HOLDS, DOES_NOT_HOLD):
            read_from, read_to = (exactly(group, end, style) for end in (read.low, read.high))
            return pins or f"It was read from {read_from} to {read_to}."
        return f"{pins} There are no useful bounds yet from so few.".strip()
    step = shown_step(group)
    which = "this" if group.before_bonding is None else "that"
    when = f" in {which} sitting" if bounds.method.startswith(ONE_SITTING) else ""
    low = "" if bounds.low is None else figure(group, bounds.low, style, step, down=True)
    high = "" if bounds.high is None else figure(group, bounds.high, style, step, up=True)
    lie = f"lie from {low} to {high}" if low and high else f"stay under {high}" if high else f"stay over {low}"
    as_read = "as they tell" if group.by_pins else "as this gauge reads"
    return f"{pins} 19 readings in 20 {lie}{when} {as_read}.".strip()


def figure(
    group: ValueGroup,
    value_um: float,
    style: NumberStyle,
    step_um: float = 0.0,
    *,
    up: bool = False,
    down: bool = False,
) -> str:
    """A figure of a group in the unit of all of them, no finer than ``step_um``, else than it was read."""
    say = numbers.size if in_mm(group) else numbers.micrometres
    return say(value_um, step_um=step_um or group.resolution_um, style=style, round_up=up, round_down=down)


def _end(group: ValueGroup, value_um: float) -> str:
    """The least or the most that was read; of pins, as they are."""
    if group.by_pins:
        return exactly(group, value_um).rpartition(" ")[0]
    return _bare(group, value_um, group.resolution_um)


def _bare(group: ValueGroup, value_um: float | None, step_um: float, *, up: bool = False, down: bool = False) -> str:
    if value_um is None:
        return "-"
    return figure(group, value_um, METRIC, step_um, up=up, down=down).rpartition(" ")[0]
