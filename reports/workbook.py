"""The logbook as a spreadsheet workbook: readings, clampings, items and verdicts, typed, the unit in the heading; and
what the words of the verdicts mean.

Dates are dates, numbers numbers, and all that was typed is text: a cell that begins as a formula does is marked as
text, so that it stays text also where it is edited.
"""

import datetime
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from qclog.errors import RefusedError
from qclog.frames import readings
from qclog.logbook.engine import Store
from qclog.logbook.life import Life, LoggedTurn, read_life
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned
from qclog.questions.drawer import Entry, entries_in
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.questions.wear import RETIRE
from qclog.records import SWINGS
from reports.cards import made_to
from reports.drawer import entry_stamp, is_mere_part
from reports.explanations import SOURCE, WORTH, pages
from reports.files import write
from reports.pages.stamps import is_retired
from reports.values import caveat as value_words
from reports.wording.caveats import CAVEATS
from reports.wording.verdicts import in_short

MOST_ROWS: Final = 1_048_575
"""Of a sheet, below its heading: what the file format holds."""
_LONGEST_TEXT: Final = 32_767
_BEGINS_A_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n")
_WIDEST, _NARROWEST = 40, 8
_FIRST_YEAR: Final = 1901
"""Spreadsheets count days from 1900, and not all of them that year alike."""

TEXT, WHOLE, FIGURE, MEASURED, TIME = "text", "whole", "figure", "measured", "time"
_A4: Final = 9
_TWO_LINES: Final = 30
_FORMATS: Final = {WHOLE: "0", FIGURE: "0.00", MEASURED: "General"}


@dataclass(frozen=True, slots=True)
class Column:
    """``kind``: text, whole number, computed figure, length as measured, or a time as the logbook writes it."""

    heading: str
    kind: str = TEXT
    width: int = 12


READINGS: Final = (
    Column("item", width=14),
    Column("modification", WHOLE),
    Column("taken", TIME, 19),
    Column("taken, as written", width=19),
    Column("sitting"),
    Column("setup", width=14),
    Column("setup revision", WHOLE),
    Column("position"),
    Column("clocking (°)"),
    Column("clamping", WHOLE),
    Column("turn", WHOLE),
    Column("kind"),
    Column("characteristic", width=14),
    Column("distance (mm)", MEASURED),
    Column("pin diameter (mm)", MEASURED),
    Column("angle (° clockwise)", MEASURED),
    Column("value (µm)", MEASURED),
    Column("as typed"),
    Column("pin"),
    Column("indicator"),
    Column("read by"),
    Column("recalled"),
    Column("note", width=_WIDEST),
    Column("goes (µm)", MEASURED),
    Column("does not go (µm)", MEASURED),
)
CLAMPINGS: Final = (
    Column("item", width=14),
    Column("modification", WHOLE),
    Column("clamping", WHOLE),
    Column("taken", TIME, 19),
    Column("taken, as written", width=19),
    Column("sitting"),
    Column("setup", width=14),
    Column("setup revision", WHOLE),
    Column("position"),
    Column("clocking (°)"),
    Column("characteristic", width=14),
    Column("distance (mm)", MEASURED),
    Column("TIR (µm)", FIGURE),
    Column("value (µm)", FIGURE),
    Column("once per turn, TIR (µm)", FIGURE),
    Column("high spot (° clockwise)", FIGURE),
    Column("readings as typed (struck out)", width=20),
    Column("pin"),
    Column("indicator"),
    Column("read by"),
    Column("recalled"),
    Column("struck out because", width=20),
    Column("note", width=_WIDEST),
)
ITEMS: Final = (
    Column("item", width=14),
    Column("kind"),
    Column("system"),
    Column("nominal size (mm)", MEASURED),
    Column("bore (mm)", MEASURED),
    Column("closes to (mm)", MEASURED),
    Column("opens to (mm)", MEASURED),
    Column("grip (mm)", MEASURED),
    Column("slots", WHOLE),
    Column("material"),
    Column("kept at"),
    Column("acquired", width=16),
    Column("price"),
    Column("marked"),
    Column("modification", WHOLE),
    Column("as it is now", width=20),
    Column("since", TIME, 19),
    Column("married to setup", width=14),
    Column("at position"),
    Column("made to", width=24),
    Column("state"),
    Column("state because", width=20),
    Column("found"),
    Column("note", width=_WIDEST),
)
VERDICTS: Final = (
    Column("item", width=14),
    Column("verdict", width=18),
    Column("modification", WHOLE),
    Column("setup", width=14),
    Column("setup revision", WHOLE),
    Column("position"),
    Column("clocking (°)"),
    Column("distance (mm)", MEASURED),
    Column("pin diameter (mm)", MEASURED),
    Column("characteristic", width=14),
    Column("clampings", WHOLE),
    Column("sittings", WHOLE),
    Column("mean TIR (µm)", FIGURE),
    Column("sd (µm)", FIGURE),
    Column("least (µm)", FIGURE),
    Column("most (µm)", FIGURE),
    Column("last (µm)", FIGURE),
    Column("19 in 20 stay under (µm)", FIGURE),
    Column("uncertainty of indicator, k = 2 (µm)", FIGURE),
    Column("limit (µm)", MEASURED),
    Column("limit of"),
    Column("as read", width=14),
    Column("this sitting", width=14),
    Column("next clampings", width=14),
    Column("more clampings", WHOLE),
    Column("to be known", width=_WIDEST),
)
SIZES: Final = (
    *VERDICTS[:10],
    Column("readings", WHOLE),
    Column("sittings", WHOLE),
    Column("told by pins"),
    Column("least (µm)", FIGURE),
    Column("most (µm)", FIGURE),
    Column("mean (µm)", FIGURE),
    Column("sd (µm)", FIGURE),
    Column("last (µm)", FIGURE),
    Column("19 in 20 from (µm)", FIGURE),
    Column("to (µm)", FIGURE),
    Column("uncertainty, k = 2 (µm)", FIGURE),
    Column("lower limit (µm)", MEASURED),
    Column("upper limit (µm)", MEASURED),
    Column("limit of"),
    Column("as read", width=14),
    Column("this sitting", width=14),
    Column("next readings", width=14),
    Column("more days", WHOLE),
    Column("to be known", width=_WIDEST),
)

WORDS: Final = (
    Column("word", width=20),
    Column("what it means", width=_WIDEST),
    Column("where it comes from", width=_WIDEST),
    Column("how good it is", width=_WIDEST),
)
_HEADINGS: Final = (
    *("TIR", "clampings", "sittings", "mean", "sd", "least", "19 in 20 under", "uncertainty", "limit"),
    *("as read", "this sitting", "next clampings", "more clampings", "modification", "clocking", "high spot"),
)
"""Of the sheets, those that have a page."""


def write_workbook(store: Store, path: Path, codes: Sequence[str] = ()) -> int:
    """Write what is known of the items named, or of all, and return how many readings there are.

    Readings that are struck out are left out; clampings that are, are marked. Raises NotFoundError for an unknown
    item, RefusedError where a sheet cannot hold so much or the file cannot be written.
    """
    with store.reading() as connection:
        register = Register(connection)
        wanted = list(dict.fromkeys(register.need(code, "item").id for code in codes))
        entries = sorted(entries_in(connection, wanted or None)[0], key=lambda entry: entry.item.code.casefold())
        owned = [entry.item for entry in entries]
        lives = [read_life(connection, item.code) for item in owned]
    frames = [readings(store, item.code) for item in owned] if wanted else [readings(store)]
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"constant_memory": True}) as book:
        count = _sheet(book, "readings", READINGS, (row for frame in frames for row in _readings(frame)))
        _sheet(book, "clampings", CLAMPINGS, (row for life in lives for row in _clampings(life)))
        _sheet(book, "items", ITEMS, (_item(item, life) for item, life in zip(owned, lives, strict=True)))
        _sheet(book, "verdicts", VERDICTS, (row for entry in entries for row in _verdicts(entry)))
        sizes = [_size(value, entry) for entry in entries for value in entry.assessed.values]
        if sizes:
            _sheet(book, "sizes", SIZES, sizes)
        _sheet(book, "words", WORDS, _words(entries))
    write(path, made.getvalue())
    return count


def _readings(frame: pd.DataFrame) -> Iterator[Sequence[Any]]:
    for row in frame.astype(object).where(frame.notna(), None).itertuples(index=False):
        yield (
            row.item,
            row.modification,
            row.taken_at,
            row.taken_at,
            row.sitting,
            row.setup,
            row.setup_revision,
            row.position,
            row.clocking,
            row.clamping,
            row.turn,
            row.kind,
            row.characteristic,
            row.distance_mm,
            row.diameter_mm,
            row.angle_deg,
            row.value_um,
            row.as_typed,
            row.pin,
            row.instrument,
            row.operator,
            "recalled" if row.recalled else None,
            row.note,
            *((row.low_um, row.high_um) if row.kind == "value" else (None, None)),
        )


def _clampings(life: Life) -> Iterator[Sequence[Any]]:
    for clamping in life.clampings:
        for turn in clamping.turns:
            swing = turn.characteristic in SWINGS
            yield (
                life.code,
                clamping.modification,
                clamping.number,
                clamping.taken_at,
                clamping.taken_at,
                clamping.sitting,
                clamping.setup,
                clamping.revision or None,
                clamping.position,
                clamping.clocking,
                turn.characteristic,
                _mm(turn.distance_pm),
                turn.value_um if swing else None,
                None if swing or turn.by_pins else turn.value_um,
                turn.once_per_turn_um,
                turn.high_spot_deg,
                _as_typed(turn),
                clamping.pin,
                clamping.instrument,
                clamping.operator,
                "recalled" if clamping.recalled else None,
                clamping.struck or turn.struck,
                clamping.note,
            )


def _as_typed(turn: LoggedTurn) -> str:
    """Its readings, those that are struck out in brackets."""
    return " ".join(
        f"({text})" if place in turn.struck_readings else text for place, text in enumerate(turn.texts, start=1)
    )


def _item(item: Owned, life: Life) -> Sequence[Any]:
    card = life.card
    sizes = ("nominal_pm", "bore_pm", "range_low_pm", "range_high_pm", "grip_length_pm")
    newest = [limit for limit in item.limits if limit.modification_number == item.modification]
    return (
        item.code,
        item.kind,
        card.get("system"),
        *(_mm(card.get(size)) for size in sizes),
        card.get("slots"),
        *(card.get(key) for key in ("material", "place", "acquired", "price", "mark")),
        item.modification,
        item.what,
        item.modified_at,
        item.married_setup,
        item.married_position,
        ", ".join(made_to(limit) for limit in newest),
        item.state,
        life.state_reason,
        ", ".join(item.findings),
        card.get("note"),
    )


def _verdicts(entry: Entry) -> Iterator[Sequence[Any]]:
    """A row for each place; one of an item that was not measured as it is now, unless others measure it."""
    if not entry.assessed.measured and not is_mere_part(entry):
        told = (entry.item.code, counts(entry), entry.item.modification)
        yield (*told, *[None] * (len(VERDICTS) - len(told)))
    for group in entry.assessed.groups:
        yield _verdict(group, entry)


def counts(entry: Entry, one: Group | ValueGroup | None = None) -> str:
    """The verdict that counts, as the pages say it: of the whole item where it is out of service, put away or was not
    measured, else of one place."""
    stamp = entry_stamp(entry)
    if stamp is not None or one is None:
        return stamp[0] if stamp else ""
    if isinstance(one, Group) and is_retired(entry.worn, one):
        return RETIRE.upper()
    return in_short(one)


def _verdict(group: Group, entry: Entry) -> Sequence[Any]:
    tir = group.tir_um
    return (
        group.item,
        counts(entry, group),
        entry.item.modification,
        group.setup,
        group.setup_revision,
        group.position,
        group.clocking,
        group.distance_mm,
        group.diameter_mm,
        group.characteristic,
        group.clampings,
        group.sittings,
        *(tir.mean, tir.sd, tir.min, tir.max, tir.last),
        group.bound.value_um if group.bound else None,
        group.uncertainty_um,
        group.limit_um,
        group.limit_from,
        group.as_read,
        group.this_sitting,
        group.next_clampings,
        group.more_clampings,
        " ".join(CAVEATS[code] for code in group.caveats),
    )


def _size(value: ValueGroup, entry: Entry) -> Sequence[Any]:
    read, bounds, limits = value.read_um, value.bounds_um, value.limits_um
    return (
        value.item,
        counts(entry, value),
        entry.item.modification,
        value.setup,
        value.setup_revision or None,
        value.position,
        value.clocking,
        value.distance_mm,
        value.diameter_mm,
        value.characteristic,
        value.clampings,
        value.sittings,
        "by pins" if value.by_pins else None,
        *(read.low, read.high, read.mean, read.sd, read.last),
        *((bounds.low, bounds.high) if bounds else (None, None)),
        value.uncertainty_um,
        *((limits.lower, limits.upper) if limits else (None, None)),
        value.limit_from,
        value.as_read,
        value.this_sitting,
        value.next_clampings,
        value.more_readings,
        " ".join(value_words(code) for code in value.caveats),
    )


def _words(entries: Sequence[Entry]) -> list[Sequence[Any]]:
    """What the headings, verdicts and caveats of the sheets before mean, each once, by its word."""
    judged = [(entry, one) for entry in entries for one in (*entry.assessed.groups, *entry.assessed.values)]
    verdicts = {told for _, one in judged for told in (one.as_read, one.this_sitting, one.next_clampings)}
    verdicts |= {counts(entry, one) for entry, one in judged} | {counts(entry) for entry in entries}
    codes = [*_HEADINGS, *verdicts, *(code for _, one in judged for code in one.caveats)]
    found = {page.title: page.text.splitlines() for code in codes for page in pages(code)[:1]}
    return [
        (word, " ".join(meaning), source.removeprefix(SOURCE), worth.removeprefix(WORTH))
        for word, (*meaning, source, worth) in sorted(found.items(), key=lambda one: one[0].casefold())
    ]


def _sheet(book: Any, name: str, columns: Sequence[Column], rows: Iterable[Sequence[Any]]) -> int:
    """Fill a sheet and return how many rows it has below its heading."""
    sheet: Worksheet = book.add_worksheet(name)
    cells = _Cells(book, sheet)
    heading = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "indent": 1})
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.set_paper(_A4)
    sheet.fit_to_pages(1, 0)  # as wide as the paper, as many pages as it takes
    sheet.repeat_rows(0)
    sheet.set_row(0, _TWO_LINES)
    for at, column in enumerate(columns):
        sheet.set_column(at, at, max(column.width, _NARROWEST))
        sheet.write_string(0, at, column.heading, heading)
    count = 0
    for count, row in enumerate(rows, start=1):
        if count > MOST_ROWS:
            raise RefusedError(
                f"A sheet of a workbook holds {MOST_ROWS} rows, and there are more {name}.",
                "Name some items, or export to a .csv file.",
            )
        for at, (column, value) in enumerate(zip(columns, row, strict=True)):
            if value is not None and value != "":
                cells.write(count, at, column.kind, value)
    sheet.autofilter(0, 0, count, len(columns) - 1)
    return count


class _Cells:
    """Writes cells of a sheet by their kind."""

    def __init__(self, book: Any, sheet: Worksheet) -> None:
        self._sheet = sheet
        self._numbers: dict[str, Format] = {kind: book.add_format({"num_format": f}) for kind, f in _FORMATS.items()}
        self._date = book.add_format({"num_format": "yyyy-mm-dd", "align": "left", "indent": 1})
        self._time = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss", "align": "left", "indent": 1})
        self._text = book.add_format({"num_format": "@", "indent": 1})
        self._marked = book.add_format({"num_format": "@", "indent": 1, "quote_prefix": True})

    def write(self, row: int, column: int, kind: str, value: Any) -> None:
        moment = _moment(value) if kind == TIME else None
        if moment is not None:
            self._sheet.write_datetime(row, column, moment, self._time if "T" in value else self._date)
        elif kind in self._numbers:
            self._sheet.write_number(row, column, value, self._numbers[kind])
        else:
            text = str(value)[:_LONGEST_TEXT]
            form = self._marked if text.startswith(_BEGINS_A_FORMULA) else self._text
            self._sheet.write_string(row, column, text, form)


def _moment(written: str) -> datetime.datetime | None:
    """A time as written on the wall clock; None where it has no day, or lies before what a spreadsheet can date."""
    if len(written) < len("2026-03-04"):
        return None
    moment = datetime.datetime.fromisoformat(written).replace(tzinfo=None)
    return moment if moment.year >= _FIRST_YEAR else None


def _mm(picometres: int | None) -> float | None:
    return None if picometres is None else picometres / 1e9
