"""What is registered, as text and as plain values for JSON: items, setups, pins, indicators, an item's life."""

import dataclasses
import itertools
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from qclog.lengths import parse_length
from qclog.logbook.custody import Out
from qclog.logbook.gauges import is_good
from qclog.logbook.life import Chain, Done, Gauge, Life, LoggedClamping, LoggedTurn
from qclog.logbook.lookup import Limit
from qclog.logbook.owned import Owned
from qclog.logbook.statements import Issued
from qclog.particulars import CHECK_EVERY, EVERY, PARTICULARS, WHAT, WITHIN
from qclog.records import EVERY_DISTANCE, FACE_RUNOUT, RUNOUT, SWINGS
from qclog.records import Limit as Stated
from reports.issued import verdict
from reports.numbers import METRIC, NumberStyle, angle, count, date, length, limits, micrometres, moment
from reports.numbers import limit as limit_text
from reports.tables import TERMINAL, WIDTH, down_the_page_of, widest
from reports.turns import unit_left_out, without_unit
from reports.wording import places

_CARD_WORDS = {
    "kind": "",
    "system": "system",
    "nominal_pm": "nominal",
    "bore_pm": "bore",
    "range_low_pm": "closes to",
    "range_high_pm": "opens to",
    "grip_length_pm": "grip",
    "slots": "slots",
    "material": "material",
    "place": "kept at",
    "acquired": "from",
    "price": "price",
    "mark": "marked",
    "note": "note:",
}
_HEAD = ("no.", "taken", "pos.", "readings", "")
_POSITION = 2
"""The column of key positions, left out where there are none."""
_TOGETHER = "\u00a0"
"""Stands where a line may not be broken."""
_FOLDED = ("as it is now", "made to", "out")
"""The columns of a list of items that go on below where there is no room."""
_NARROWEST = 12
_COUNTED = {EVERY: "months", CHECK_EVERY: "days"}
_CALIBRATION_WIDTH = 30
_LEAST_ROOM = 30
_SAME = 0.1
"""A full swing within a tenth of its once-per-turn part is shown without it."""


def columns(rows: Sequence[Sequence[str]], most: Mapping[int, int] | None = None) -> str:
    """Rows as lines with aligned columns; ``most``: how wide some columns may get, what is longer goes on below."""
    if not rows:
        return ""
    most = most or {}
    lines: list[Sequence[str]] = []
    for row in rows:
        cells = [_folded(cell, most.get(i)) for i, cell in enumerate(row)]
        lines += itertools.zip_longest(*cells, fillvalue="")
    widths = [max(len(line[i]) for line in lines) for i in range(len(rows[0]))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines
    )


def _folded(text: str, most: int | None) -> list[str]:
    lines = [text] if most is None else textwrap.wrap(text, most, break_on_hyphens=False)
    return [line.replace(_TOGETHER, " ") for line in lines] or [""]


def _together(text: str) -> str:
    """What stays on one line."""
    return text.replace(" ", _TOGETHER)


def items_text(items: Sequence[Owned], out: Mapping[int, Out]) -> str:
    """The items a line each; ``out``: what is not in the drawer, by the id of the item."""
    if not items:
        return "No items yet. Enter one: qclog item add C-046 --kind collet --size 6"
    header = ("code", "kind", "size", "as it is now", "made to", "state", "found", "out")
    rows = [_item_row(item, out.get(item.id)) for item in items]
    table = dict(zip(header, zip(*rows, strict=True), strict=True))
    wide = {title: widest(title, cells) for title, cells in table.items()}
    room = TERMINAL - 2 * (len(header) - 1) - sum(wide[title] for title in header if title not in _FOLDED)
    if sum(wide[title] for title in _FOLDED) <= room:
        return columns([header, *rows])
    if room < _NARROWEST * len(_FOLDED):
        return "\n".join(part for line in down_the_page_of(table) for part in _wrapped(line))
    return columns([header, *rows], {header.index(title): room // len(_FOLDED) for title in _FOLDED})


def _item_row(item: Owned, out: Out | None) -> tuple[str, ...]:
    now = f"{item.what} (modification {item.modification})" if item.modification else item.what
    current = [x for x in item.limits if x.modification_number == max(y.modification_number for y in item.limits)]
    return (
        item.code,
        item.kind,
        length(item.size_pm) if item.size_pm else "-",
        now,
        ", ".join(made_to(limit, METRIC) for limit in current) or "-",
        item.state,
        ", ".join(item.findings) or "-",
        "-" if out is None else whereabouts(out),
    )


def items_document(items: Sequence[Owned], out: Mapping[int, Out]) -> dict[str, Any]:
    return {
        "items": [
            {
                **dataclasses.asdict(item),
                "limits": _limits_document(item.limits),
                "out": dataclasses.asdict(out[item.id]) if item.id in out else None,
            }
            for item in items
        ]
    }


def whereabouts(out: Out) -> str:
    """Who has an item and where: "with RT, in LATHE-A, since 2026-03-02"."""
    where = (f"in {out.setup}" if out.setup else "", out.place)
    return ", ".join(part for part in (f"with {out.who}", *where, f"since {date(out.since)}") if part)


def issued(one: Issued, style: NumberStyle = METRIC) -> str:
    """A statement handed over: "statement no. 12, revision 2, of 2026-05-04 for X: HOLDS 11 µm in L2, position A"."""
    where = ", ".join(
        part
        for part in (
            one.setup,
            one.position and f"position {one.position}",
            one.clocking and f"clocked {one.clocking}",
            places.out(one.distance_mm, one.characteristic),
            places.what(one.characteristic),
        )
        if part
    )
    name = f"statement no. {one.number}, revision {one.revision}, of {date(one.issued_at)} for {one.receiver}"
    replaced = "" if one.newest else " (replaced since)"
    in_ = " in " if one.setup else ", "
    return f"{name}{replaced}: {verdict(one, style)}{in_}{where}"


def life_text(life: Life, style: NumberStyle = METRIC) -> str:
    """An item's card, what was done to it, and its clampings with the numbers they are struck out by."""
    lines = [f"{life.code}: {card_text(life.card, style)}"]
    state = f"  {life.state}" + (f" ({life.state_reason})" if life.state_reason else "")
    lines.append(state)
    if life.out is not None:
        lines.append(f"  out: {whereabouts(life.out)}")
    if life.noted:
        lines.append(f"  {noted_text(life.noted, style)}")
    for change in life.modifications:
        when = f" {moment(change.done_at)}" if change.done_at else ""
        sized = f", {length(change.size_pm, style=style)}" if change.size_pm and change.number else ""
        where = ", ".join(p for p in (change.holder, change.position and f"position {change.position}") if p)
        by = f", by {change.who}" if change.number else ""
        lines.append(
            f"  modification {change.number}:{when} {change.what}{sized}"
            + (f", in {where} (married to it)" if where else "")
            + by
        )
        lines += [f"    {told}" for told in done_how(change, style, where=False)]
        limits_then = [x for x in life.limits if x.modification_number == change.number]
        lines += [f"    made to {made_to(x, style)}" for x in limits_then]
        if several := which_where(limits_then, {x.characteristic: None for x in limits_then}):
            lines.append(f"    {several}")
    lines += [
        f"  seen {moment(when)}: {finding}{f' ({note})' if note else ''}" for when, finding, note in life.findings
    ]
    for when, clampings, hours, note in life.uses:
        lines.append(f"  used {moment(when)}: {used_text(clampings, hours)}{f' ({note})' if note else ''}")
    lines += [f"  {issued(one, style)}" for one in life.statements]
    lines = [part for line in lines for part in _wrapped(line)]
    lines.append("")
    if not life.clampings:
        lines.append("  No clampings yet.")
        return "\n".join(lines)
    what = {change.number: change.what for change in life.modifications}
    parts = itertools.groupby(life.clampings, key=lambda one: (one.modification, one.setup, one.revision))
    for i, (place, together) in enumerate(parts):
        rows = [_HEAD, *_rows(list(together), style)]
        if not any(row[_POSITION] for row in rows[1:]):
            rows = [(*row[:_POSITION], *row[_POSITION + 1 :]) for row in rows]
        lines += [""] if i else []
        table = columns(rows, _room(rows)).splitlines() if _has_room(rows) else _one_by_one(rows[1:])
        lines += [*_wrapped(f"  {_heading(what, *place)}:"), *(f"    {line}" for line in table)]
    return "\n".join(lines)


def done_how(change: Done, style: NumberStyle = METRIC, *, where: bool = True) -> list[str]:
    """How work was done, a line each for how it was held and what it was done with; ``where``: with the place."""
    facts = dataclasses.asdict(change)
    held = worked_how(facts if where else facts | {"holder": "", "position": ""}, style)
    before = change.size_before_pm
    sized = [f"from {length(before, style=style)}"] if before and not where else []
    return [line for line in ("; ".join([*sized, *held]), noted_text(change.how, style)) if line]


def used_text(clampings: int | None, hours: float | None) -> str:
    """How much it worked: "310 clampings, 2.5 h"."""
    amount = (count(clampings, "clamping") if clampings else "", f"{hours:g} h" if hours else "")
    return ", ".join(part for part in amount if part)


def work_text(facts: Mapping[str, Any], style: NumberStyle = METRIC) -> str:
    """What was done, and from which size to which: "bored from 7 mm to 7.35 mm"."""
    before, after = facts["size_before_pm"], facts["size_pm"]
    sized = "".join(f" {word} {length(pm, style=style)}" for word, pm in (("from", before), ("to", after)) if pm)
    return f"{facts['what']}{sized}"


def worked_how(facts: Mapping[str, Any], style: NumberStyle = METRIC) -> list[str]:
    """Where and how an item was held while it was worked on, the wall left, and what was noted with it."""
    place = (facts["holder"] and f"in {facts['holder']}", facts["position"] and f"position {facts['position']}")
    closed = (facts["clocking"] and f"clocked {facts['clocking']}", facts["torque"] and f"torque {facts['torque']}")
    wall = f"wall left {length(facts['wall_pm'], style=style)}" if facts["wall_pm"] else ""
    told = (", ".join(part for part in (*place, facts["held_by"]) if part), ", ".join(part for part in closed if part))
    return [part for part in (*told, wall, facts["note"]) if part]


def noted_text(noted: Mapping[str, str], style: NumberStyle = METRIC) -> str:
    """What is noted beside a card, in a line: "compound R-60; batch 4711"."""
    return "; ".join(f"{name} {noted_as(name, text, style)}" for name, text in noted.items())


def noted_as(name: str, text: str, style: NumberStyle = METRIC) -> str:
    """One of them as it is shown: a bare length is in mm."""
    form = next((one.form for one in PARTICULARS if one.name == name), "")
    if form == "length":
        picometres = parse_length(text, bare="mm").picometres
        return limit_text(picometres, style=style) if name == WITHIN else length(picometres, style=style)
    return f"{text} {_COUNTED[name]}" if name in _COUNTED else text


def check_text(check: Mapping[str, Any], style: NumberStyle = METRIC) -> str:
    """A quick check: "checked: read 100 µm on 100 µm, within 1 µm (block 0.1)"."""
    read, true, within = (limit_text(check[key], style=style) for key in ("read_pm", "true_pm", "within_pm"))
    off = check["read_pm"] - check["true_pm"]
    verdict = f"within {within}" if is_good(check) else f"OUT by {limit_text(abs(off), style=style)}, {within} allowed"
    against = f" ({check['against']})" if check["against"] else ""
    return f"quick check: read {read} on {true}, {verdict}{against}"


def _wrapped(line: str) -> list[str]:
    indent = line[: len(line) - len(line.lstrip())]
    return textwrap.wrap(line, WIDTH, subsequent_indent=f"{indent}    ", break_on_hyphens=False)


def _heading(what: Mapping[int, str], modification: int, setup: str, revision: int) -> str:
    """What clampings that stand together have in common."""
    worked = f"{what[modification]}, modification {modification}" if modification else what[modification]
    return f"{worked}, in {setup} revision {revision}" if setup else worked


def _room(rows: Sequence[Sequence[str]]) -> dict[int, int]:
    """How wide readings and remarks may be for a table to fit the terminal; remarks take half of it at most."""
    last = len(rows[0]) - 1
    *before, readings, remarks = (max(len(row[i]) for row in rows) for i in range(last + 1))
    room = WIDTH - sum(before) - 2 * last - 4
    if readings + remarks <= room:
        return {}
    if not remarks:
        return {last - 1: room}
    remarks = min(remarks, max(room // 2, room - readings))
    return {last - 1: room - remarks, last: remarks}


def _has_room(rows: Sequence[Sequence[str]]) -> bool:
    """Whether what is read stands beside its number and day, in a column that can be read."""
    before = (max(len(row[i]) for row in rows) for i in range(len(rows[0]) - 2))
    return WIDTH - sum(before) - 2 * (len(rows[0]) - 1) - 4 >= _LEAST_ROOM


def _one_by_one(rows: Sequence[Sequence[str]]) -> list[str]:
    """Each row as a text of its own, which goes on below."""
    texts = ("  ".join(cell for cell in row if cell) for row in rows)
    return [
        line.replace(_TOGETHER, " ")
        for text in texts
        for line in textwrap.wrap(text, WIDTH - 4, subsequent_indent="  ", break_on_hyphens=False)
    ]


def life_document(life: Life) -> dict[str, Any]:
    document = dataclasses.asdict(life)
    document["limits"] = _limits_document(life.limits)
    document["statements"] = [one.plain() for one in life.statements]
    return document


def _rows(clampings: Sequence[LoggedClamping], style: NumberStyle) -> list[tuple[str, ...]]:
    return [
        row
        for before, clamping in zip((None, *clampings), clampings, strict=False)
        for row in _clamping_rows(clamping, before, style)
    ]


def circumstances(clamping: LoggedClamping, before: LoggedClamping | None) -> list[str]:
    """How it was tightened and what it was like, where that was not so with the clamping before."""
    now, was = (("", "") if one is None else (one.torque, one.conditions) for one in (clamping, before))
    torque, conditions = (text if text != old else "" for text, old in zip(now, was, strict=True))
    return [text for text in (f"torque {torque}" if torque else "", conditions) if text]


def _clamping_rows(
    clamping: LoggedClamping, before: LoggedClamping | None, style: NumberStyle
) -> list[tuple[str, ...]]:
    remarks = [f"STRUCK OUT: {clamping.struck}"] if clamping.struck else []
    remarks += ["recalled"] if clamping.recalled else []
    remarks += ["IN DOUBT"] if clamping.in_doubt else []
    remarks += [f"sitting {clamping.sitting}"] if clamping.sitting not in ("", clamping.taken_at[:10]) else []
    remarks += [part for part in (clamping.pin, clamping.instrument, clamping.operator) if part]
    remarks += circumstances(clamping, before)
    remarks += [clamping.note] if clamping.note else []
    rows: list[tuple[str, ...]] = []
    for index, turn in enumerate(clamping.turns):
        first = index == 0
        rows.append(
            (
                str(clamping.number) if first else "",
                moment(clamping.taken_at) if first else "",
                clamping.position if first else "",
                _turn_text(turn, clamping, style),
                "; ".join(remarks) if first else "",
            )
        )
    return rows


def _turn_text(turn: LoggedTurn, clamping: LoggedClamping, style: NumberStyle) -> str:
    typed, unit = without_unit(turn.texts) if turn.kind != "value" else (turn.texts, unit_left_out(turn))
    texts = [f"({t} struck out)" if i in turn.struck_readings else t for i, t in enumerate(typed, start=1)]
    text = f"{(' / ' if turn.kind == 'value' else ' ').join(texts)} {unit}".strip()
    if turn.distance_pm or turn.characteristic == RUNOUT:
        text += f" at {length(turn.distance_pm, style=style)}"
    if turn.characteristic == FACE_RUNOUT and clamping.diameter_pm:
        text += f" on {length(clamping.diameter_pm, style=style)}"
    text = f"{places.what(turn.characteristic)} {text}".lstrip()
    if turn.kind == "value" and len(texts) > 1 and turn.value_um is not None and not turn.by_pins:
        text += f" = {limit_text(round(turn.value_um * 1e6), style=style)}"
    if turn.kind == "point" and turn.value_um is not None:
        text += f" {_swing_text(turn, clamping.sense, style)}"
    return f"{text} STRUCK OUT: {turn.struck}" if turn.struck else text


def _swing_text(turn: LoggedTurn, sense: str, style: NumberStyle) -> str:
    """The full swing, and the once-per-turn part where it is another, with its high spot as this setup counts."""
    swing = f"= {micrometres(turn.value_um or 0.0, step_um=0.1, style=style)} TIR"
    if turn.once_per_turn_um is None or turn.high_spot_deg is None:
        return _together(swing)
    high = angle(-turn.high_spot_deg if sense == "counterclockwise" else turn.high_spot_deg)
    if abs(turn.once_per_turn_um - (turn.value_um or 0.0)) < _SAME * turn.once_per_turn_um:
        return _together(f"{swing} @ {high}")
    once = f"{micrometres(turn.once_per_turn_um, step_um=0.1, style=style)} @ {high}"
    return f"{_together(swing)}, once per turn {_together(once)}"


def setup_text(chain: Chain) -> str:
    """One setup: what it is, its parts, key positions and limits, and what was changed last."""
    since = f" since {date(chain.since)}" if chain.since else ""
    parts = ", ".join(
        link.text if link.clocking_mdeg is None else f"{link.text} at {link.clocking_mdeg / 1000:g}°"
        for link in chain.parts
    )
    told = [
        ("parts from the spindle outward", parts),
        ("key positions", ", ".join(chain.positions)),
        ("made to", ", ".join(made_to(limit, METRIC) for limit in chain.limits)),
        *((name, noted_as(name, text)) for name, text in chain.noted.items()),
        ("angles are counted", f"{chain.sense} facing the nose"),
    ]
    head = f"{chain.code}: revision {chain.revision}{since} ({chain.reason})"
    return "\n".join([head, *(f"  {name}: {text}" for name, text in told if text)])


def setups_text(chains: Sequence[Chain]) -> str:
    if not chains:
        return "No setups yet. Enter one: qclog setup add L1 --positions A,B"
    header = ("setup", "rev", "since", "parts from the spindle outward", "key positions", "made to", "why")
    rows = [
        (
            chain.code,
            str(chain.revision),
            moment(chain.since) or "-",
            ", ".join(link.text for link in chain.parts) or "-",
            ", ".join(chain.positions) or "-",
            ", ".join(made_to(limit, METRIC) for limit in chain.limits) or "-",
            chain.reason,
        )
        for chain in chains
    ]
    return columns([header, *rows])


def setups_document(chains: Sequence[Chain]) -> dict[str, Any]:
    return {
        "setups": [
            {
                **dataclasses.asdict(chain),
                "parts": [link._asdict() for link in chain.parts],
                "limits": _limits_document(chain.limits),
            }
            for chain in chains
        ]
    }


def pins_text(pins: Sequence[Gauge]) -> str:
    if not pins:
        return "No pins yet. Enter one: qclog pin add P-6 --diameter 5.998"
    rows = [
        (
            pin.code,
            pin.card["kind"],
            length(pin.card["diameter_pm"]),
            "-" if pin.card["roundness_pm"] is None else limit_text(pin.card["roundness_pm"]),
            pin.card["grade"] or pin.noted.get("class") or "-",
            (pin.calibration or {}).get("done_on") or "-",
            (pin.calibration or {}).get("due_on") or "-",
            date(pin.found_wrong) if pin.found_wrong else "-",
        )
        for pin in pins
    ]
    header = ("code", "kind", "diameter", "out of round", "class", "calibrated", "due", "found wrong")
    return columns([header, *rows])


def pins_document(pins: Sequence[Gauge]) -> dict[str, Any]:
    return {"pins": [dataclasses.asdict(pin) for pin in pins]}


def instruments_text(instruments: Sequence[Gauge]) -> str:
    if not instruments:
        return "No indicators yet. Enter one: qclog instrument add I-1 --division 1um"
    rows = [
        (
            one.code,
            one.noted.get(WHAT) or one.card.get("kind", ""),
            limit_text(one.card["division_pm"]) if one.card else "-",
            length(one.card["range_pm"]) if one.card.get("range_pm") else one.noted.get("range", "-"),
            _calibration(one.calibration),
            (one.calibration or {}).get("due_on") or "-",
            _checked(one.check),
            date(one.found_wrong) if one.found_wrong else "-",
        )
        for one in instruments
    ]
    header = ("code", "kind", "division", "range", "calibration", "due", "checked", "found wrong")
    return columns([header, *rows], {4: _CALIBRATION_WIDTH})


def _checked(check: Mapping[str, Any] | None) -> str:
    if check is None:
        return "-"
    return date(check["done_at"]) if is_good(check) else f"{date(check['done_at'])} OUT"


def instruments_document(instruments: Sequence[Gauge]) -> dict[str, Any]:
    return {"instruments": [dataclasses.asdict(one) for one in instruments]}


def _calibration(calibration: dict[str, Any] | None) -> str:
    if calibration is None:
        return "none"
    certificate = [f"no. {calibration['certificate']}"] if calibration["certificate"] else []
    return ", ".join(map(_together, [calibration["done_on"], *calibration_figures(calibration), *certificate]))


def calibration_figures(calibration: Mapping[str, Any]) -> list[str]:
    """What a calibration says of a gauge's errors."""
    parts = []
    if calibration["uncertainty_pm"] is not None:
        parts.append(f"U {limit_text(calibration['uncertainty_pm'])} (k {calibration['coverage_factor']:g})")
    if calibration["error_limit_pm"] is not None:
        parts.append(f"error to {limit_text(calibration['error_limit_pm'])}")
    return parts


def card_text(card: Mapping[str, Any], style: NumberStyle) -> str:
    """A card in a line, what is not known left out."""
    parts = []
    for key, word in _CARD_WORDS.items():
        value = card.get(key)
        if value not in (None, ""):
            shown = length(value, style=style) if key.endswith("_pm") else str(value)
            parts.append(f"{word} {shown}".strip())
    return ", ".join(parts)


def changed_card(before: Mapping[str, Any], after: Mapping[str, Any], style: NumberStyle = METRIC) -> str:
    """What a newer card says otherwise: "nominal 8 mm, was 7 mm; kept at drawer 2, was not noted"; '' where nothing."""
    told = []
    for key in _CARD_WORDS:
        if before.get(key) != after.get(key):
            old = {key: before.get(key)}
            was = card_text(old, style).removeprefix(_CARD_WORDS[key]).strip() or "not noted"
            told.append(f"{card_text({key: after.get(key)}, style)}, was {was}")
    return "; ".join(told)


def made_to(limit: Limit | Stated, style: NumberStyle = METRIC) -> str:
    """A limit in words: "9 µm at 25 mm", "depth 12 to 12.05 mm"."""
    upper = limits(limit.lower_pm, limit.upper_pm, swing=limit.characteristic in SWINGS, style=style)
    where = "" if limit.distance_pm == EVERY_DISTANCE else f" at {length(limit.distance_pm, style=style)}"
    what = f"{places.what(limit.characteristic)} ".lstrip()
    only = f" at position {limit.position}" if limit.position else ""
    return f"{what}{upper}{where}{only}"


def which_where(standing: Sequence[Limit], of: Iterable[str]) -> str:
    """Which of several limits of one characteristic ``of`` those named counts where, '' where there is no question."""
    told = []
    for name in of:
        same = [one for one in standing if one.characteristic == name]
        everywhere = [one for one in same if _is_everywhere(one)]
        own = [one for one in same if not _is_everywhere(one)]
        if everywhere and own:
            told.append(
                f"{', '.join(map(made_to, everywhere))} counts everywhere; {', '.join(map(made_to, own))} there beside "
                "it. Where two count, the stricter one does."
            )
    return " ".join(told)


def _is_everywhere(one: Limit) -> bool:
    return one.distance_pm == EVERY_DISTANCE and one.setup_id is None and not one.position


def _limits_document(limits: Sequence[Limit]) -> list[dict[str, Any]]:
    return [limit._asdict() for limit in limits]
