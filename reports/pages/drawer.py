"""The drawer's page: every item with its verdict, the worst first, each leading to its own page; then what is due,
sizes, married items, what is out, what to order."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from qclog.logbook.figures import Newest
from qclog.questions.codes import Flag
from qclog.questions.drawer import Drawer, Entry
from qclog.questions.due import Due
from qclog.questions.judging.groups import Group, goes_by
from qclog.questions.judging.values import CANNOT_TELL, DOES_NOT_HOLD, HOLDS, NO_LIMIT, ValueGroup
from qclog.questions.wear import KEEP, RETIRE, WATCH
from reports import due
from reports.cards import whereabouts
from reports.drawer import Told, above, restricted, sections, setups_flagged
from reports.numbers import METRIC, NumberStyle, length, micrometres
from reports.pages.readings import anchor_of
from reports.pages.render import rendered
from reports.pages.stamps import badge, stamp_of, value_stamp
from reports.values import place
from reports.wording import places
from reports.wording.cautions import CAUTIONS
from reports.wording.steps import shown_step
from reports.wording.verdicts import GAUGES, is_useful

_KEPT_FREE = re.compile("index|con|prn|aux|nul|(com|lpt)[0-9¹²³]", re.IGNORECASE)
"""The index beside the pages, and the names of devices that Windows knows in every folder."""


@dataclass(frozen=True, slots=True)
class Row:
    code: str
    file: str
    readings: str
    flagged: bool
    size: str
    what: str
    where: str
    clampings: str
    counted: str
    last: str
    bound: str
    stamp: str
    look: str
    wear: str


@dataclass(frozen=True, slots=True)
class Page:
    what: str
    flags: tuple[str, ...]
    rows: tuple[Row, ...]
    due: tuple[Told, ...]
    sections: tuple[Told, ...]
    words: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def drawer_page(found: Drawer, is_due: Sequence[Due] = (), style: NumberStyle = METRIC) -> str:
    """The whole page as HTML; item pages are expected beside it, named by ``file_name``."""
    rows = [row for entry in found.entries for row in _rows(entry, style)]
    page = Page(
        what=above(found),
        flags=tuple(setups_flagged(found)),
        rows=tuple(rows),
        due=tuple(due.sections(is_due, style)),
        sections=tuple(sections(found, style)),
        words=(*_words(found, rows), "TIR", "uncertainty"),
        notes=("Figures are the full swing over a turn (TIR).", GAUGES),
        cautions=CAUTIONS,
    )
    return rendered("drawer.html", page=page)


def _words(found: Drawer, rows: Sequence[Row]) -> list[str]:
    """What the rows say: flags, verdicts, what was decided, what wear advises; each once."""
    verdicts = {goes_by(group) for entry in found.entries for group in entry.assessed.groups}
    verdicts |= {goes_by(value) for entry in found.entries for value in entry.assessed.values}
    told = {word for row in rows for word in row.wear.split(", ") if word}
    stamps = {row.stamp for row in rows}
    having = {
        "flagged": any(row.flagged for row in rows),
        **{word: word in verdicts for word in (HOLDS, DOES_NOT_HOLD, CANNOT_TELL, NO_LIMIT)},
        **{word: word in told or any(word.upper() in stamp for stamp in stamps) for word in (RETIRE, WATCH, KEEP)},
        Flag.IN_DOUBT: any("IN DOUBT" in stamp for stamp in stamps),
        **{
            word: any(stamp.startswith(word.upper()) for stamp in stamps)
            for word in ("not measured", "part of", "out of service", "scrap")
        },
        "out": any(entry.put_away for entry in found.entries),
    }
    return [word for word, is_so in having.items() if is_so]


def file_name(code: str) -> str:
    """The name of an item's page."""
    return f"{file_stem(code)}.html"


def file_stem(code: str) -> str:
    """What the files of an item are called: its code, what a file system could take amiss spelt out. No two codes
    share one."""
    first = f"~{ord(code[0]):x}" if _KEPT_FREE.fullmatch(code) else _spelt(code[:1])
    return f"{first}{''.join(map(_spelt, code[1:]))}"


def _spelt(character: str) -> str:
    return character if character.isalnum() or character in "-_" else f"~{ord(character):x}"


def _rows(entry: Entry, style: NumberStyle) -> list[Row]:
    if not entry.assessed.measured:
        return [_row(entry, None, None, style)]
    groups, values = entry.assessed.groups, entry.assessed.values
    rows = [_row(entry, group, newest, style) for group, newest in zip(groups, entry.newest, strict=True)]
    told = zip(values, entry.newest_values, strict=True)
    return rows + [_value_row(entry, value, newest, style) for value, newest in told]


def _value_row(entry: Entry, value: ValueGroup, newest: Newest, style: NumberStyle) -> Row:
    """A size, a gap or a difference: its bounds stand on its own page."""
    stamp, look = badge(entry.assessed, entry.part_of) or value_stamp(value, style)
    mine = (value.setup, value.position, value.distance_mm, value.characteristic)
    whys = [(why.setup, why.position, why.distance_mm, why.characteristic) for why in entry.assessed.reasons]
    return replace(
        _row(entry, None, newest, style),
        readings=f"{file_name(entry.item.code)}#{anchor_of(entry.item.modification, value)}",
        flagged=mine in whys or any(why.distance_mm is None for why in entry.assessed.reasons),
        where=place(value),
        clampings=str(value.clampings),
        counted="reading" if value.clampings == 1 else "readings",
        stamp=stamp,
        look=look,
    )


def _row(entry: Entry, group: Group | None, newest: Newest | None, style: NumberStyle) -> Row:
    item = entry.item
    what = [
        item.kind,
        item.what,
        item.place,
        restricted(entry, style),
        "" if entry.out is None else f"out: {whereabouts(entry.out)}",
    ]
    stamp, look = badge(entry.assessed, entry.part_of) or ("", "")
    if not stamp and group is not None:
        stamp, look = stamp_of(entry.worn, group, style)
    bound = None if group is None or group.bound is None or not is_useful(group) else group.bound.value_um
    step = 0.1 if group is None else shown_step(group)
    return Row(
        code=item.code,
        file=file_name(item.code),
        readings="" if group is None else f"{file_name(item.code)}#{anchor_of(item.modification, group)}",
        flagged=_is_flagged(entry, group),
        size=length(item.size_pm, style=style) if item.size_pm else "",
        what=", ".join(part for part in what if part),
        where="" if group is None else places.place(group),
        clampings=str(group.clampings) if group else "0",
        counted="clampings",
        last="–" if newest is None else newest.day,
        bound="–" if bound is None else micrometres(bound, step_um=step, style=style, round_up=True),
        stamp=stamp,
        look=look,
        wear="" if group is None else _wear(entry, group),
    )


def _is_flagged(entry: Entry, group: Group | None) -> bool:
    """Whether the item is flagged for what was seen on it, or for what was measured here."""
    here = None if group is None else (group.setup, group.position, group.distance_mm, group.characteristic)
    return any(
        why.distance_mm is None or (why.setup, why.position, why.distance_mm, why.characteristic) == here
        for why in entry.assessed.reasons
    )


def _wear(entry: Entry, group: Group) -> str:
    """What wear advises here, '' where nothing is advised."""
    here = [one for one in entry.worn if one.place == group.place]
    told = {one.decision for one in here}
    return ", ".join(sorted(told - {KEEP})) or ("keep" if told else "")
