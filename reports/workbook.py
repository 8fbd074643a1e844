"""The logbook as a spreadsheet workbook: readings, clampings, items and verdicts, typed, the unit in the heading; and
what the words of the verdicts mean.

Dates are dates, numbers numbers, and all that was typed is text: a cell that begins as a formula does is marked as
text, so that it stays text also where it is edited.
"""

import datetime
import io
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from qclog.errors import RefusedError
from qclog.logbook.engine import Store
from qclog.logbook.life import LoggedTurn, read_clampings
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned
from qclog.logbook.readings import count_rows, select_readings
from qclog.questions.drawer import Entry, entries_in
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.questions.wear import RETIRE
from qclog.records import FACE_RUNOUT, SWINGS
from reports import values
from reports.cards import made_to
from reports.drawer import is_mere_part
from reports.explanations import SOURCE, WORTH, pages
from reports.files import write
from reports.numbers import METRIC, micrometres
from reports.pages.stamps import badge, is_retired
from reports.wording.caveats import CAVEATS
from reports.wording.steps import shown_step
from reports.wording.verdicts import in_short, is_useful

MOST_ROWS: Final = 1_048_575
"""Of a sheet, below its heading: what the file format holds."""
_AT_ONCE: Final = 2_000
"""Rows of the logbook in memory together."""
_LONGEST_TEXT: Final = 32_767
_BEGINS_A_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n")
_PARAGRAPH, _WIDEST = 60, 40
_FIRST_YEAR: Final = 1901
"""Spreadsheets count days from 1900, and not all of them that year alike."""

TEXT, PROSE, WHOLE, FIGURE, MEASURED, TIME = "text", "prose", "whole", "figure", "measured", "time"
_A4: Final = 9
_LINE, _UPWARD, _MOST_LINES = 15, 120, 27
"""Heights in points, of a line and of headings written upward; how many lines a row may have at the most."""
_MARGINS: Final = (0.4, 0.4, 0.4, 0.6)
"""In inches: left, right, top, bottom."""
_FORMATS: Final = {WHOLE: "0", FIGURE: "0.00", MEASURED: "General"}


@dataclass(frozen=True, slots=True)
class Column:
    """``kind``: text, text of any length that goes on below, whole number, computed figure, length as measured, or a
    time as the logbook writes it. ``width`` in characters."""

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
    Column("circle on the face (mm)", MEASURED),
    Column("angle (° clockwise)", MEASURED),
    Column("value (µm)", MEASURED),
    Column("as typed"),
    Column("pin"),
    Column("indicator"),
    Column("read by"),
    Column("recalled"),
    Column("note", PROSE, _WIDEST),
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
    Column("readings as typed (struck out)", PROSE, 20),
    Column("pin"),
    Column("indicator"),
    Column("read by"),
    Column("recalled"),
    Column("struck out because", PROSE, 20),
    Column("note", PROSE, _WIDEST),
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
    Column("as it is now", PROSE, 20),
    Column("since", TIME, 19),
    Column("married to setup", width=14),
    Column("at position"),
    Column("made to", PROSE, 24),
    Column("state"),
    Column("state because", PROSE, 20),
    Column("found", PROSE),
    Column("note", PROSE, _WIDEST),
)
_PLACE: Final = (
    Column("item", width=9),
    Column("verdict", PROSE, 16),
    Column("modification", WHOLE, 5),
    Column("setup", PROSE, 11),
    Column("setup revision", WHOLE, 5),
    Column("position", PROSE, 7),
    Column("clocking (°)", PROSE, 11),
    Column("distance (mm)", MEASURED, 6),
)
VERDICTS: Final = (
    *_PLACE,
    Column("pin diameter (mm)", MEASURED, 7),
    Column("circle on the face (mm)", MEASURED, 6),
    Column("characteristic", PROSE, 11),
    Column("clampings", WHOLE, 6),
    Column("sittings", WHOLE, 6),
    Column("mean TIR (µm)", FIGURE, 7),
    Column("sd (µm)", FIGURE, 7),
    Column("least (µm)", FIGURE, 7),
    Column("most (µm)", FIGURE, 7),
    Column("last (µm)", FIGURE, 7),
    Column("19 in 20 stay under (µm)", FIGURE, 7),
    Column("uncertainty of indicator, k = 2 (µm)", FIGURE, 7),
    Column("limit (µm)", MEASURED, 7),
    Column("limit of", width=8),
    Column("as read", PROSE, 9),
    Column("this sitting", PROSE, 9),
    Column("next clampings", PROSE, 9),
    Column("more days", WHOLE, 6),
    Column("to be known", PROSE, _PARAGRAPH),
)
SIZES: Final = (
    *_PLACE,
    Column("characteristic", PROSE, 11),
    Column("readings", WHOLE, 6),
    Column("sittings", WHOLE, 6),
    Column("told by pins", PROSE, 8),
    Column("unit of sizes and limits", width=7),
    Column("least", MEASURED, 9),
    Column("most", MEASURED, 9),
    Column("mean", MEASURED, 9),
    Column("last", MEASURED, 9),
    Column("19 in 20 from", MEASURED, 9),
    Column("to", MEASURED, 9),
    Column("lower limit", MEASURED, 8),
    Column("upper limit", MEASURED, 8),
    Column("limit of", width=8),
    Column("sd (µm)", FIGURE, 7),
    Column("uncertainty, k = 2 (µm)", FIGURE, 7),
    Column("as read", PROSE, 9),
    Column("this sitting", PROSE, 9),
    Column("next readings", PROSE, 9),
    Column("more days", WHOLE, 6),
    Column("to be known", PROSE, _PARAGRAPH),
)

WORDS: Final = (
    Column("word", PROSE, 20),
    Column("what it means", PROSE, _PARAGRAPH),
    Column("where it comes from", PROSE, _WIDEST),
    Column("how good it is", PROSE, _WIDEST),
)
_HEADINGS: Final = (
    *("TIR", "clampings", "sittings", "mean", "sd", "least", "19 in 20 under", "uncertainty", "limit"),
    *("as read", "this sitting", "next clampings", "more days", "modification", "clocking", "high spot"),
)
"""Of the sheets, those that have a page."""


@dataclass(frozen=True, slots=True)
class Written:
    """How many readings a workbook has; ``left_out``: the sheets that would have more rows than one holds, by name, and
    how many."""

    readings: int
    left_out: dict[str, int]


def write_workbook(store: Store, path: Path, codes: Sequence[str] = ()) -> Written:
    """Write what is known of the items named, or of all.

    Readings that are struck out are left out; clampings that are, are marked. Raises NotFoundError for an unknown
    item, RefusedError where the file cannot be written.
    """
    with store.reading() as connection:
        register = Register(connection)
        wanted = list(dict.fromkeys(register.need(code, "item").id for code in codes))
        entries = sorted(entries_in(connection, wanted or None)[0], key=lambda entry: entry.item.code.casefold())
        content, written = _workbook(connection, entries, [entry.item.id for entry in entries] if wanted else [None])
    write(path, content)
    return written


def _workbook(connection: sa.Connection, entries: Sequence[Entry], of: Sequence[int | None]) -> tuple[bytes, Written]:
    """The file. ``of``: the items whose readings are wanted, in their order, or only None for all in the order of time.
    Rows are read as they are written, so that few are in memory."""
    owned = [entry.item for entry in entries]
    turns, readings = map(sum, zip((0, 0), *(count_rows(connection, item_id) for item_id in of), strict=True))
    rows = {"readings": readings, "clampings": turns}
    left_out = {name: count for name, count in rows.items() if count > MOST_ROWS}
    read = (row for item_id in of for row in connection.execute(_streamed(select_readings(item_id))))
    count = 0
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"constant_memory": True}) as book:
        if "readings" not in left_out:
            count = _sheet(book, "readings", READINGS, map(_reading, read))
        if "clampings" not in left_out:
            _sheet(book, "clampings", CLAMPINGS, (row for item in owned for row in _clampings(connection, item)))
        _sheet(book, "items", ITEMS, (_item(item, Register(connection)) for item in owned))
        _sheet(book, "verdicts", VERDICTS, (row for entry in entries for row in _verdicts(entry)))
        sizes = [_size(value, entry) for entry in entries for value in entry.assessed.values]
        if sizes:
            _sheet(book, "sizes", SIZES, sizes)
        _sheet(book, "words", WORDS, _words(entries))
    return made.getvalue(), Written(count, left_out)


def exported(written: Written, path: Path) -> str:
    """What was written, and what a sheet cannot hold."""
    if not written.left_out:
        return f"{written.readings} readings, with clampings, items and verdicts, written to {path}."
    names = " and ".join(written.left_out)
    many = " and ".join(f"{rows} {name}" for name, rows in written.left_out.items())
    return (
        f"Written to {path}, without the {names}: a sheet of a workbook holds {MOST_ROWS} rows, and there are {many}. "
        "Name some items, or export to a .csv file."
    )


def _streamed(query: sa.Select[Any]) -> sa.Select[Any]:
    return query.execution_options(yield_per=_AT_ONCE)


def _reading(row: sa.Row[Any]) -> Sequence[Any]:
    return (
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
        *_read_at(row.characteristic, row.distance_mm, row.diameter_mm),
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


def _clampings(connection: sa.Connection, item: Owned) -> Iterator[Sequence[Any]]:
    for clamping in read_clampings(connection, item.id):
        for turn in clamping.turns:
            swing = turn.characteristic in SWINGS
            yield (
                item.code,
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


def _item(item: Owned, register: Register) -> Sequence[Any]:
    card, state = register.item_card(item.id), register.item_state(item.id)

    def of_card(key: str) -> Any:
        return card[key] if card else None

    sizes = ("nominal_pm", "bore_pm", "range_low_pm", "range_high_pm", "grip_length_pm")
    newest = [limit for limit in item.limits if limit.modification_number == item.modification]
    return (
        item.code,
        item.kind,
        of_card("system"),
        *(_mm(of_card(size)) for size in sizes),
        of_card("slots"),
        *(of_card(key) for key in ("material", "place", "acquired", "price", "mark")),
        item.modification,
        item.what,
        item.modified_at,
        item.married_setup,
        item.married_position,
        ", ".join(made_to(limit) for limit in newest),
        item.state,
        state["reason"] if state else "",
        ", ".join(item.findings),
        of_card("note"),
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
    stamp = badge(entry.assessed, entry.part_of)
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
        *_read_at(group.characteristic, group.distance_mm, group.diameter_mm),
        group.characteristic,
        group.clampings,
        group.sittings,
        *(tir.mean, tir.sd, tir.min, tir.max, tir.last),
        _number(_bound(group)),
        group.uncertainty_um,
        group.limit_um,
        group.limit_from,
        group.as_read,
        group.this_sitting,
        group.next_clampings,
        group.more_clampings,
        " ".join(CAVEATS[code] for code in group.caveats),
    )


def _bound(group: Group) -> str:
    """As its page shows it: rounded up, and not at all where it says nothing of use."""
    if group.bound is None or not is_useful(group):
        return "-"
    return micrometres(group.bound.value_um, step_um=shown_step(group), round_up=True)


def _number(shown: str) -> float | None:
    """A figure as it is shown, without its unit; None for "-"."""
    return None if shown == "-" else float(shown.split()[0])


def _read_at(characteristic: Any, distance_mm: Any, diameter_mm: Any) -> tuple[Any, ...]:
    """Distance, diameter of the pin, and of the circle: a face is read on a circle, at no distance but its own."""
    if characteristic == FACE_RUNOUT:
        return distance_mm or None, None, diameter_mm
    return distance_mm, diameter_mm, None


def _size(value: ValueGroup, entry: Entry) -> Sequence[Any]:
    read, limits, told = value.read_um, value.limits_um, dict(zip(values.COLUMNS, values.row(value), strict=True))
    last = "-" if read.last is None else values.figure(value, read.last, METRIC)
    per_unit = 1000 if values.in_mm(value) else 1
    return (
        value.item,
        counts(entry, value),
        entry.item.modification,
        value.setup,
        value.setup_revision or None,
        value.position,
        value.clocking,
        value.distance_mm or None,
        value.characteristic,
        value.clampings,
        value.sittings,
        "by pins" if value.by_pins else None,
        told["unit"],
        *(_number(text) for text in (told["least"], told["most"], told["mean"], last)),
        *(_number(told[end]) for end in ("19 in 20 from", "to")),
        *(
            None if end is None else end / per_unit
            for end in ((limits.lower, limits.upper) if limits else (None, None))
        ),
        value.limit_from,
        read.sd,
        value.uncertainty_um,
        value.as_read,
        value.this_sitting,
        value.next_clampings,
        value.more_readings,
        " ".join(values.caveat_of(value, code) for code in value.caveats),
    )


def _words(entries: Sequence[Entry]) -> list[Sequence[Any]]:
    """What the headings, verdicts and caveats of the sheets before mean, each once, by its word."""
    judged: list[tuple[Entry, Group | ValueGroup]]
    judged = [(entry, group) for entry in entries for group in entry.assessed.groups]
    judged += [(entry, value) for entry in entries for value in entry.assessed.values]
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
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.set_paper(_A4)
    sheet.set_margins(*_MARGINS)
    sheet.set_footer("&L&A&Rpage &P of &N")
    sheet.fit_to_pages(1, 0)  # as wide as the paper, as many pages as it takes
    sheet.repeat_rows(0)
    _head(book, sheet, columns)
    count = 0
    for count, row in enumerate(rows, start=1):
        if count > MOST_ROWS:
            raise RefusedError(
                f"A sheet of a workbook holds {MOST_ROWS} rows, and there are more {name}.",
                "Name some items, or export to a .csv file.",
            )
        lines = max(
            (_lines(value, one) for value, one in zip(row, columns, strict=True) if one.kind == PROSE), default=1
        )
        if lines > 1:
            sheet.set_row(count, _LINE * min(lines, _MOST_LINES))
        for at, (column, value) in enumerate(zip(columns, row, strict=True)):
            if value is not None and value != "":
                cells.write(count, at, column.kind, value)
    sheet.autofilter(0, 0, count, len(columns) - 1)
    return count


def _head(book: Any, sheet: Worksheet, columns: Sequence[Column]) -> None:
    """The headings; one with a word wider than its column is written upward."""
    level = book.add_format({"bold": True, "text_wrap": True, "valign": "bottom", "bottom": 1, "indent": 1})
    upward = book.add_format({"bold": True, "text_wrap": True, "align": "left", "bottom": 1, "rotation": 90})
    turned = [max(map(len, column.heading.split())) > column.width for column in columns]
    sheet.set_row(0, _UPWARD if any(turned) else 2 * _LINE)
    for at, (column, turn) in enumerate(zip(columns, turned, strict=True)):
        sheet.set_column(at, at, column.width)
        sheet.write_string(0, at, column.heading, upward if turn else level)


def _lines(value: object, column: Column) -> int:
    """How many lines a text takes in its column."""
    return len(textwrap.wrap(str(value or ""), column.width)) or 1


class _Cells:
    """Writes cells of a sheet by their kind."""

    def __init__(self, book: Any, sheet: Worksheet) -> None:
        self._sheet = sheet

        def made(form: str, **more: object) -> Format:
            return book.add_format({"num_format": form, "valign": "top", **more})

        self._numbers = {kind: made(form, align="right", indent=1) for kind, form in _FORMATS.items()}
        self._date = made("yyyy-mm-dd", align="left", indent=1)
        self._time = made("yyyy-mm-dd hh:mm:ss", align="left", indent=1)
        self._texts = {
            (kind, marked): made("@", indent=1, text_wrap=kind == PROSE, quote_prefix=marked)
            for kind in (TEXT, PROSE, TIME)
            for marked in (False, True)
        }

    def write(self, row: int, column: int, kind: str, value: Any) -> None:
        moment = _moment(value) if kind == TIME else None
        if moment is not None:
            self._sheet.write_datetime(row, column, moment, self._time if "T" in value else self._date)
        elif kind in self._numbers:
            self._sheet.write_number(row, column, value, self._numbers[kind])
        else:
            text = str(value)[:_LONGEST_TEXT]
            self._sheet.write_string(row, column, text, self._texts[kind, text.startswith(_BEGINS_A_FORMULA)])


@lru_cache(maxsize=_AT_ONCE)
def _moment(written: str) -> datetime.datetime | None:
    """A time as written on the wall clock; None where it has no day, or lies before what a spreadsheet can date."""
    if len(written) < len("2026-03-04"):
        return None
    moment = datetime.datetime.fromisoformat(written).replace(tzinfo=None)
    return moment if moment.year >= _FIRST_YEAR else None


def _mm(picometres: int | None) -> float | None:
    return None if picometres is None else picometres / 1e9
