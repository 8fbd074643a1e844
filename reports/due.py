"""What is due, as text: under each reason the items with the command that does it, the most urgent first."""

import itertools
import textwrap
from collections.abc import Sequence
from typing import Final

from qclog.questions.changing.histories import WORK
from qclog.questions.codes import Due as Why
from qclog.questions.due import SOON_DAYS, Due
from qclog.records import RUNOUT, SWINGS
from reports.cards import whereabouts
from reports.drawer import Told
from reports.numbers import METRIC, NumberStyle, count, exact, limits
from reports.tables import WIDTH
from reports.wording.commands import typed
from reports.wording.due import DUE
from reports.wording.places import what
from reports.wording.verdicts import MOST_DAYS

NOTHING: Final = "Nothing is due."
NOTHING_KNOWN: Final = (
    "Nothing is due: the logbook has no items yet. Enter one: qclog item add C-046 --kind collet --size 6"
)
_GAUGES: Final = {Why.GAUGE_WRONG, Why.GAUGE_OVERDUE, Why.GAUGE_NEVER, Why.GAUGE_SOON}
_MOST_TOLD: Final = 100
"""Of more that are due for one reason the rest is counted."""
_MORE: Final = "And {} more, less urgent: qclog due --json tells all."
_READS_LENGTHS: Final = ("instrument", "pin")


def due(found: Sequence[Due], style: NumberStyle = METRIC, *, items: bool = True) -> str:
    """``items``: whether there are any that something could be due of."""
    if not found:
        return NOTHING if items else "\n".join(textwrap.wrap(NOTHING_KNOWN, WIDTH, break_on_hyphens=False))
    lines = textwrap.wrap(f"{count(len(found), 'thing is', 'things are')} due; the most urgent first.", WIDTH)
    for why, alike in itertools.groupby(found, key=lambda one: one.why):
        lines += ["", *textwrap.wrap(f"{DUE[why]}:", WIDTH, break_on_hyphens=False)]
        some, more = _first(list(alike))
        for one in some:
            lines += textwrap.wrap(
                sentence(one, style), WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False
            )
            if not _takes_too_many(one):
                lines.append(f"      {command(one)}")
        lines += [f"  {_MORE.format(more)}"] if more else []
    return "\n".join(lines)


def sections(found: Sequence[Due], style: NumberStyle = METRIC) -> list[Told]:
    """The same for a page, without the commands; of what was never measured only the codes."""
    return [
        Told(DUE[why], _for_page(list(alike), style), (why,))
        for why, alike in itertools.groupby(found, key=lambda one: one.why)
    ]


def _for_page(alike: Sequence[Due], style: NumberStyle) -> tuple[str, ...]:
    if alike[0].why == Why.NEVER_MEASURED:
        return (f"{', '.join(one.code for one in alike)}.",)
    some, more = _first(alike)
    told = tuple(sentence(one, style) for one in some)
    return (*told, _MORE.format(more)) if more else told


def _first(alike: Sequence[Due]) -> tuple[Sequence[Due], int]:
    """The most urgent of what is due for one reason, and how many more there are."""
    return alike[:_MOST_TOLD], max(len(alike) - _MOST_TOLD, 0)


def sentence(one: Due, style: NumberStyle = METRIC) -> str:
    """One thing that is due, and what there is to know of it."""
    where = " ".join(part for part in (one.setup, " and ".join(one.positions)) if part)
    name = f"{one.code} in {where}" if where and one.why not in (Why.MODIFIED, Why.NEVER_MEASURED) else one.code
    face = what(one.characteristic) if one.characteristic in SWINGS else ""
    says = f"{name}{f' ({one.place})' if one.place else ''}: {f'{face}: ' if face else ''}{told(one, style)}."
    return says if one.out is None else f"{says} It is out: {whereabouts(one.out)}."


def command(one: Due) -> str:
    """What to type. Capitals stand for what only you know."""
    if one.why in _GAUGES:
        known = " --uncertainty LENGTH" if one.kind in _READS_LENGTHS else ""
        return f"qclog instrument calibrate {typed(one.code)} --on DATE --due DATE{known}"
    if one.why == Why.CHECK_FAILED:
        return f'qclog recall {typed(one.code)} --found "{one.because}"'
    if one.why == Why.CHECK_DUE:
        return f'qclog instrument check {typed(one.code)} "READ on STEP"'
    if one.why == Why.BEYOND:
        return _worked_again(one)
    if one.characteristic != RUNOUT:
        position = one.positions[0] if one.positions else ""
        where = one.setup, position, one.clocking, one.distance_mm, one.instrument
        return logging(one.code, one.characteristic, *where, diameter_mm=one.diameter_mm, by_pins=one.by_pins)
    line = measuring(one.code, one.setup, one.positions, one.clocking, one.distance_mm, one.pin, one.instrument)
    return f"{line} --clampings {one.more_in_sitting or 1}" if one.why == Why.UNDECIDED else line


def _worked_again(one: Due) -> str:
    """What to type once it was worked again; jaws where they were bored."""
    if one.characteristic not in SWINGS:
        return f"qclog modify {typed(one.code)} WORK"
    position = f" --position {typed(one.positions[0])}" if one.positions else ""
    return f'qclog modify {typed(one.code)} "bored for JOB" --in {typed(one.setup)}{position}'


def measuring(
    code: str,
    setup: str,
    positions: Sequence[str],
    clocking: str,
    distance_mm: float | None,
    pin: str = "",
    instrument: str = "",
) -> str:
    """What to type to measure an item; what is not known is left out."""
    parts = ["qclog measure", typed(code)]
    for option, value in (
        ("--setup", setup),
        ("--positions", ",".join(positions)),
        ("--clocking", clocking),
        ("--distance", "" if distance_mm is None else f"{distance_mm:g}"),
        ("--pin", pin),
        ("--instrument", instrument),
    ):
        if value:
            parts.append(f"{option} {typed(value)}")
    return " ".join(parts)


def logging(
    code: str,
    characteristic: str,
    setup: str,
    position: str,
    clocking: str,
    distance_mm: float | None,
    instrument: str = "",
    *,
    diameter_mm: float | None = None,
    by_pins: bool = False,
) -> str:
    """What to type to log something once; a face with the circle it is read on, what pins tell with pins."""
    value = "" if by_pins else " SWING" if characteristic in SWINGS else " VALUE"
    what_is_read = "" if characteristic == RUNOUT else f" --characteristic {typed(characteristic)}"
    parts = [f"qclog log {typed(code)}{value}{what_is_read}"]
    if by_pins:
        parts.append("--go PIN --no-go PIN")
    for option, text in (
        ("--setup", setup),
        ("--position", position),
        ("--clocking", clocking),
        ("--distance", f"{distance_mm:g}" if distance_mm else ""),
        ("--diameter", f"{diameter_mm:g}" if diameter_mm else ""),
        ("--instrument", "" if by_pins else instrument),
    ):
        if text:
            parts.append(f"{option} {typed(text)}")
    return " ".join(parts)


def told(one: Due, style: NumberStyle) -> str:
    """What there is to know of it, without its name."""
    limit = ""
    if one.limit_um is not None:
        limit = exact(one.limit_um, style=style)
    if one.characteristic not in SWINGS:
        return _value_told(one, style)
    if one.why == Why.MODIFIED:
        return f"{one.because} {one.since}" if one.since else one.because
    if one.why == Why.SETUP_CHANGED:
        return f"changed {one.since} ({one.because}), last measured {one.last_measured}"
    if one.why == Why.CRASHED:
        done = f", {one.because}" if one.because else ""
        return f"crash {one.since}{done}, {_last(one)}"
    if one.why == Why.PAST_LIMIT:
        return f"does not hold {limit} any more"
    if one.why == Why.MEETS_LIMIT:
        unit = "clamping " if one.axis == WORK else ""
        since = "even today" if one.now else f"from {unit}{one.until}{' in work' if unit else ''} on"
        return f"{since} more than one clamping in 20 may go over {limit}"
    if one.why == Why.BEYOND:
        return f"does not hold {limit}: bore it again"
    if one.why == Why.UNDECIDED and one.more_in_sitting is not None:
        return f"clamp it {count(one.more_in_sitting, 'more time')} in this sitting to tell whether it holds {limit}"
    if one.why == Why.UNDECIDED:
        if _takes_too_many(one):
            return f"so near to {limit} that more clampings do not settle it: {_so_many('clamping')}"
        days = count(one.more_clampings or 1, "more day")
        return f"one clamping on {'each of ' * (one.more_clampings != 1)}{days} would tell whether it holds {limit}"
    if one.why == Why.IN_DOUBT:
        return f"last measured {one.last_measured}"
    if one.why == Why.OVERDUE:
        return f"last measured {one.last_measured}, before that about every {one.every_days or 0:.0f} days"
    if one.why == Why.NEVER_MEASURED:
        return one.kind
    return _gauge_told(one)


def _takes_too_many(one: Due) -> bool:
    """Whether what is undecided would take more days than anybody measures on."""
    return one.why == Why.UNDECIDED and not one.by_pins and (one.more_clampings or 0) > MOST_DAYS


def _so_many(noun: str) -> str:
    return f"that would take one {noun} on each of more than {MOST_DAYS} more days"


def _last(one: Due) -> str:
    return f"last measured {one.last_measured}" if one.last_measured else "not measured since"


def _value_told(one: Due, style: NumberStyle) -> str:
    """What there is to know of a size, a gap or a difference that is due."""
    name, ends = one.characteristic, one.limits_um
    lower, upper = (None, None) if ends is None else (ends.lower, ends.upper)
    limit = limits(*(None if end is None else round(end * 1e6) for end in (lower, upper)), style=style)
    if one.why == Why.BEYOND:
        return f"{name}: look for a slip among its readings; else work it to {limit} again, or put it away"
    if one.why == Why.UNDECIDED and one.more_in_sitting is not None:
        return (
            f"{name}: {count(one.more_in_sitting, 'more reading')} in this sitting would tell whether it holds {limit}"
        )
    if one.why == Why.UNDECIDED:
        days = count(one.more_clampings or 1, "more day")
        if one.by_pins:
            return f"{name}: finer or calibrated pins tell sooner than {days} whether it holds {limit}"
        if _takes_too_many(one):
            return f"{name}: so near to {limit} that more readings do not settle it: {_so_many('reading')}"
        return (
            f"{name}: one reading on {'each of ' * (one.more_clampings != 1)}{days} would tell whether it holds {limit}"
        )
    if one.why == Why.SETUP_CHANGED:
        return f"{name}: changed {one.since} ({one.because}), last measured {one.last_measured}"
    if one.why == Why.CRASHED:
        return f"{name}: crash {one.since}, {_last(one)}"
    if one.why == Why.IN_DOUBT:
        return f"{name}: last measured {one.last_measured}"
    done = f"{one.because} {one.since}, " if one.since else ""
    return f"{name}: {done}made to {limit}"


def _gauge_told(one: Due) -> str:
    if one.why == Why.GAUGE_WRONG:
        return f"found wrong {one.since}"
    if one.why == Why.GAUGE_OVERDUE:
        return f"was due {one.until}"
    if one.why == Why.GAUGE_SOON:
        return f"due {one.until}, within {SOON_DAYS} days"
    if one.why == Why.CHECK_FAILED:
        return f"read {one.because} on {one.since}; if it does so again, recall it"
    if one.why == Why.CHECK_DUE:
        return f"since {one.until}"
    if one.kind not in _READS_LENGTHS:
        return one.kind
    return "until then a cautious uncertainty is assumed for what it reads"
