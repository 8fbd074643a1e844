"""The drawer as text: a line an item, the worst first; then sizes, married items, what is out, what to order."""

import itertools
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from qclog.lengths import PICOMETRES
from qclog.questions.codes import Unfit, Wanted
from qclog.questions.drawer import Drawer, Entry
from qclog.questions.judging.groups import Group, goes_by
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NO_LIMIT, ValueGroup
from qclog.questions.owned.reordering import Order
from qclog.questions.owned.sizes import Missing, Sizes
from reports import values
from reports.cards import columns, issued, whereabouts
from reports.numbers import METRIC, NumberStyle, count, length, limit
from reports.pages.stamps import badge, stamp_of
from reports.tables import TERMINAL, WIDTH, fitting, widest
from reports.wording.due import WANTED
from reports.wording.flags import reasons

_COLUMNS: Final = ("item", "size", "kept at", "measured in", "verdict", "last")
_CODES_NAMED: Final = 4
_VERDICT: Final = "verdict"
_FIRST_LEFT_OUT: Final = ("kept at", "size", "measured in", "last")
_NARROWEST: Final = 20
_LONGEST_PLACE: Final = 16
_TOGETHER: Final = "\u00a0"
"""Stands where a line may not be broken."""
_EMPTY: Final = "No items yet. Enter one: qclog item add C-046 --kind collet --size 6"


@dataclass(frozen=True, slots=True)
class Told:
    """A part of the answer: sentences under a title. ``words``: codes of what it says that have a page."""

    title: str
    lines: tuple[str, ...]
    words: tuple[str, ...] = ()


def drawer(found: Drawer, style: NumberStyle = METRIC) -> str:
    if not found.entries:
        return _EMPTY
    listed = [entry for entry in found.entries if not is_mere_part(entry)]
    rows = [_row(entry, style) for entry in listed]
    parts = [f"{entry.item.code} ({', '.join(entry.part_of)})" for entry in found.entries if is_mere_part(entry)]
    lines = [*_wrapped(above(found), ""), *(line for told in setups_flagged(found) for line in _wrapped(told, ""))]
    lines += ["", *_table(rows)] if rows else []
    notes = ["The worst place of each; + more places measured. All of it: qclog assess."] if _several(listed) else []
    notes += [f"Parts of setups, measured by what sits in them: {', '.join(parts)}."] if parts else []
    lines += ["", *(line for note in notes for line in _wrapped(note, "  - ", "    "))] if notes else []
    for told in sections(found, style):
        lines += [
            "",
            *_wrapped(f"{told.title}:", ""),
            *(line for text in told.lines for line in _wrapped(text, "  ", "    ")),
        ]
    return "\n".join(lines)


def _table(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """Long verdicts go on below, so that the day still stands on the line."""
    table = dict(zip(_COLUMNS, zip(*rows, strict=True), strict=True))
    least = min(widest(_VERDICT, table[_VERDICT]), _NARROWEST)
    kept, told = fitting(table, TERMINAL, _FIRST_LEFT_OUT, narrowed={_VERDICT: least})
    others = sum(widest(title, cells) + 2 for title, cells in kept.items() if title != _VERDICT)
    laid_out = columns(
        [tuple(kept), *zip(*kept.values(), strict=True)],
        {list(kept).index(_VERDICT): max(TERMINAL - others, _NARROWEST)},
    )
    return [*laid_out.splitlines(), *told]


def above(found: Drawer) -> str:
    """What stands above the list: how many there are, how many are flagged."""
    if not found.entries:
        return "No items yet."
    flagged = sum(bool(entry.assessed.reasons) for entry in found.entries)
    return f"{count(len(found.entries), 'item')}, {flagged or 'none'} flagged; the worst first."


def setups_flagged(found: Drawer) -> list[str]:
    """A sentence for each setup that does not hold its own limit."""
    return [
        f"*** FLAGGED *** setup {setup.setup}: {'; '.join(reasons(setup.reasons, items=True))}."
        for setup in found.setups
        if setup.reasons
    ]


def restricted(entry: Entry, style: NumberStyle = METRIC) -> str:
    """ "restricted to 15 µm" where a person decided so."""
    if entry.item.state != "restricted":
        return ""
    to = entry.item.restricted_pm
    return "restricted" if to is None else f"restricted to {limit(to, style=style)}"


def sections(found: Drawer, style: NumberStyle = METRIC) -> list[Told]:
    """What follows the list; only what there is something to say of."""
    out = [entry for entry in found.entries if entry.out is not None]
    told = [
        Told("Sizes", tuple(_sizes(one, style) for one in found.sizes)),
        Told("Married to where they were worked on, and good there only", tuple(_married(found)), ("married",)),
        Told(
            "To bore again",
            tuple(f"{one.item.code} (does not hold any more)." for one in found.entries if one.to_bore_again),
            (Wanted.WORN,),
        ),
        Told(
            "Out of the drawer",
            tuple(f"{e.item.code}: {whereabouts(e.out)}" for e in out if e.out is not None),
            (Unfit.LENT,),
        ),
        Told(
            "Statements handed over",
            tuple(f"{one.item}: {issued(one, style)}." for one in found.statements),
            ("statement",),
        ),
        Told(
            "To order",
            (*(_order(order, style) for order in found.reorder), *_sum(found)),
            tuple(why for order in found.reorder for why in order.why),
        ),
    ]
    return [one for one in told if one.lines]


def is_mere_part(entry: Entry) -> bool:
    """Whether an item is a part of a setup and nothing else: what sits in it measures it."""
    return bool(entry.part_of) and not entry.assessed.measured and not entry.put_away and not entry.out_of_service


def _several(entries: Iterable[Entry]) -> bool:
    return any(len(entry.assessed.groups) + len(entry.assessed.values) > 1 for entry in entries)


def _row(entry: Entry, style: NumberStyle) -> tuple[str, ...]:
    group, item = entry.worst, entry.item
    stamp = badge(entry.assessed, entry.part_of)
    value = entry.worst_value
    if stamp is None and value is not None and (group is None or _is_worse(value, group)):
        stamp, group = (values.in_short(value), ""), None
    elif stamp is None and group is not None:
        stamp = stamp_of(entry.worn, group, style)
    others = len(entry.assessed.groups) + len(entry.assessed.values) - 1
    one = group or value
    where = "-" if one is None else f"{one.setup} {one.position}".strip() or "by itself"
    where += f" +{others}" if others > 0 else ""
    verdict = "; ".join(part for part in (stamp[0] if stamp else "", restricted(entry)) if part)
    return (
        item.code,
        length(item.size_pm, style=style) if item.size_pm else "-",
        "out" if entry.out is not None else _short(item.place) or "-",
        where,
        verdict + (f"{_TOGETHER}***" if entry.assessed.reasons else ""),
        entry.last_measured or "-",
    )


def _is_worse(value: ValueGroup, group: Group) -> bool:
    """Whether the verdict on a size comes before that on a swing; a swing without a limit says less than any."""
    worst_first = (DOES_NOT_HOLD, CANNOT_TELL, HOLDS, NO_LIMIT)
    return worst_first.index(goes_by(value)) < worst_first.index(goes_by(group))


def _short(text: str) -> str:
    return text if len(text) <= _LONGEST_PLACE else f"{text[: _LONGEST_PLACE - 1]}…"


def _sizes(one: Sizes, style: NumberStyle) -> str:
    inch = one.step_mm is not None and _is_fraction(one.step_mm)
    name = ", ".join(part for part in (one.kind, one.system) if part)
    told = [f"{name}{'.' if one.step_mm is None else ':'}"]
    if one.step_mm is not None:
        all_of_them = sorted((*one.present_mm, *(missing.size_mm for missing in one.missing)))
        span = f"{_size(all_of_them[0], inch, style)} to {_size(all_of_them[-1], inch, style)}"
        step = _size(one.step_mm, inch, style)
        told.append(f"{len(one.present_mm)} of the {len(all_of_them)} from {span} in steps of {step}.")
        if one.missing:
            told.append(f"Missing: {', '.join(_missing(missing, inch, style) for missing in one.missing)}.")
    for title, worked in (("Worked to odd sizes", True), ("Between or beyond them", False)):
        beside = [f"{_size(b.size_mm, False, style)} ({b.item})" for b in one.beside if b.worked == worked]
        if beside:
            told.append(f"{title}: {', '.join(beside)}.")
    if one.doubles:
        doubles = [f"{_size(double.size_mm, inch, style)} ({_some_of(double.items)})" for double in one.doubles]
        told.append(f"More than once: {', '.join(doubles)}.")
    return " ".join(told)


def _some_of(codes: Sequence[str]) -> str:
    """Some codes, the first few of them where they are many."""
    if len(codes) <= _CODES_NAMED:
        return " and ".join(codes)
    return f"{', '.join(codes[:_CODES_NAMED])} and {len(codes) - _CODES_NAMED} more"


def _missing(missing: Missing, inch: bool, style: NumberStyle) -> str:
    why = []
    if missing.bored_out:
        why.append(f"worked to another size: {' and '.join(missing.bored_out)}")
    if missing.gone:
        why.append(f"out of use: {' and '.join(missing.gone)}")
    size = _size(missing.size_mm, inch, style)
    return f"{size} ({', '.join(why)})" if why else size


def _married(found: Drawer) -> Iterable[str]:
    for (setup, position), items in itertools.groupby(found.married, key=lambda one: (one.setup, one.position)):
        where = f"{setup}, position {position}" if position else setup
        together = list(items)
        yield f"{where}: {', '.join(one.item for one in together)}."
        for changed in together:
            if changed.changed:
                since = f"{setup} was changed on {changed.changed} ({changed.reason})"
                yield f"{changed.item} was not measured there since {since}."


def _order(order: Order, style: NumberStyle) -> str:
    what = [" ".join(part for part in (order.material, order.kind) if part), order.system]
    if order.size_mm is not None:
        what.append(_size(order.size_mm, _is_fraction(order.size_mm), style))
    if order.work_to_mm is not None:
        what.append(f"to work to {_size(order.work_to_mm, False, style)}")
    why = ", ".join(WANTED[reason] for reason in order.why)
    if order.instead_of:
        why = f"for {' and '.join(order.instead_of)} ({why})"
    return f"{', '.join(part for part in what if part)}: {why}; {order.price or 'no price noted'}."


def _sum(found: Drawer) -> Iterable[str]:
    if found.reorder:
        pieces = len(found.reorder)
        parts = [
            f"{total.amount} {total.currency}".strip()
            + (f" for {total.pieces} of them" if total.pieces < pieces else "")
            for total in found.totals
        ]
        if found.unpriced:
            parts.append(f"{found.unpriced} without a price that can be added up (qclog item add CODE --price)")
        yield f"Together {count(len(found.reorder), 'piece')}: {', '.join(parts)}."


def _size(size_mm: float, inch: bool, style: NumberStyle) -> str:
    """A size as the trade calls it: "6.5 mm"; of an inch set "15/64 in"."""
    text = length(_pm(size_mm), style=style)
    if inch and _pm(size_mm) % (PICOMETRES["in"] // 64) == 0:
        text = f"{Fraction(_pm(size_mm), PICOMETRES['in'])} in"
    return text.replace(" ", _TOGETHER)


def _is_fraction(size_mm: float) -> bool:
    """Whether a size is one in 64ths of an inch that no metric one is."""
    return _pm(size_mm) % (PICOMETRES["in"] // 64) == 0 and _pm(size_mm) % (PICOMETRES["mm"] // 10) != 0


def _pm(size_mm: float) -> int:
    return round(size_mm * PICOMETRES["mm"])


def _wrapped(text: str, first: str, then: str = "  ") -> Sequence[str]:
    lines = textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)
    return [line.replace(_TOGETHER, " ") for line in lines]
