"""Reading the rows of the exchange form: what each says of its clamping, its turn and its reading."""

import operator
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final, NamedTuple, TypeVar, cast

from qclog import texts
from qclog.characteristics import known, meant
from qclog.errors import RefusedError
from qclog.lengths import parse_unit, quoted
from qclog.logbook.clampings import Shared
from qclog.logbook.exchange import cells as cells_of
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, HEAD, Block, ExchangeFile, Row
from qclog.notation import parse_clocking
from qclog.records import EVERY_DISTANCE, RUNOUT, SWINGS, Clamping, Reading, Turn, TurnKind
from qclog.value_notation import parse_limits

PLACE: Final = {name: place for place, name in enumerate(COLUMNS)}
_KINDS: Final = ("tir", "point", "value")
_MOST_REMEMBERED: Final = 50_000
_OF_TURN: Final = ("turn", "distance", "characteristic", "kind")
_OF_ROW: Final = (*_OF_TURN, "value", "unit", "angle_deg")
_pick_turn: Final = operator.itemgetter(*(PLACE[name] for name in _OF_TURN))
_pick_value: Final = operator.itemgetter(*(PLACE[name] for name in ("kind", "value", "unit")))
_pick_angle: Final = operator.itemgetter(PLACE["kind"], PLACE["angle_deg"])
_OF_LIMIT: Final = ("item", *_OF_TURN, "limit")
_SHARED: Final = [name for name in HEAD if name not in ("taken_at", "clamping")]
_ITEM: Final = PLACE["item"]
_CLAMPING: Final = PLACE["clamping"]
_TAKEN_AT: Final = PLACE["taken_at"]
_KIND: Final = PLACE["kind"]
_VALUE: Final = PLACE["value"]
_UNIT: Final = PLACE["unit"]
_LIMIT: Final = PLACE["limit"]
_NO_CLOCKING: Final[tuple[tuple[str, int], ...]] = ()
K = TypeVar("K")
T = TypeVar("T")


class TurnKey(NamedTuple):
    """What tells the turns of a clamping apart."""

    label: str
    distance_pm: int
    characteristic: str
    kind: str


class LimitKey(NamedTuple):
    item: str
    characteristic: str
    distance_pm: int


class Head(NamedTuple):
    """What the cells of a clamping say, but for its turns."""

    shared: Shared
    taken_at: str
    recalled: bool
    label: str


class Heads(NamedTuple):
    """The same of many, column by column. None stands where what is shared, or the time, was not read yet or cannot be,
    and where the label may be none."""

    shared: Sequence[Shared | None]
    dates: Sequence[tuple[str, bool] | None]
    labels: Sequence[str | None]


_Row = tuple[TurnKey | None, Reading | None, bool, tuple[Turn, ...]]


class Read(NamedTuple):
    """What the rows of a block say: the turn each belongs to and its reading, None where there is a fault; whether the
    value is written as recalled; and the turns of a clamping with this row only, none where it needs others."""

    turns: Sequence[TurnKey | None]
    readings: Sequence[Reading | None]
    recalled: Sequence[bool]
    alone: Sequence[tuple[Turn, ...]]


def turn_of(key: TurnKey, readings: Sequence[Reading]) -> Turn:
    """The turn of its readings."""
    return Turn(cast("TurnKind", key.kind), tuple(readings), key.distance_pm, key.characteristic, key.label)


class RowReader:
    """Reads rows cell by cell and notes the faults.

    What was read is remembered by the cells it was read from: the same few come again and again. ``limits``: the limits
    so far, in picometres, as text, with the line they stood in first.
    """

    def __init__(self, file: ExchangeFile, faults: Faults) -> None:
        self.faults = faults
        self.limits: dict[LimitKey, tuple[tuple[int | None, int | None], str, int]] = {}
        self._file = file
        self._sign = cells_of.DecimalSign(file.delimiter)
        self._rows: dict[Row, _Row] = {}
        self._turns: dict[Row, TurnKey] = {}
        self._values: dict[Row, cells_of.Value] = {}
        self._angles: dict[Row, tuple[int | None, int]] = {}
        self._limited: dict[Row, TurnKey] = {}
        self._dates: dict[str, tuple[str, bool]] = {}
        self._shared: dict[Row, Shared] = {}
        self._sharing = [name for name in _SHARED if name in file.names]
        self._saying = [name for name in _OF_ROW if name in file.names]

    def read(self, block: Block) -> Read:
        """The turns and readings of the rows of a block; the limits in them are added to ``limits``."""
        cells = list(self._file.cells(block, self._saying))
        limits = list(self._file.cells(block, _OF_LIMIT)) if "limit" in self._file.names else []
        found = list(map(self._rows.get, cells))
        new = {i for i, known in enumerate(found) if known is None} if None in found else set()
        new.update(i for i, limit in enumerate(limits) if limit[-1] and limit not in self._limited)
        for i in sorted(new):
            limit = limits[i] if limits and limits[i][-1] and limits[i] not in self._limited else None
            if (known := self._rows.get(cells[i])) is None or limit:
                known = self._read_row(block.lines[i], self._file.row(block, i), cells[i], limit)
            found[i] = known
        return Read(*zip(*filter(None, found), strict=True))

    def _read_row(self, line: int, row: Row, cells: Row, limit: Row | None) -> _Row:
        """One row; remembered under ``cells``, and its limit under ``limit``, if there is no fault in them."""
        turn = self._read_turn(line, row)
        reading, recalled = self._read_reading(line, row)
        if not turn or not reading:
            return turn, reading, recalled, ()
        found = (turn, reading, recalled, (turn_of(turn, [reading]),) if turn.kind != "point" else ())
        _remember(self._rows, cells, found)
        if limit and self._add_limit(line, row, turn):
            _remember(self._limited, limit, turn)
        return found

    def heads(self, heads: Block) -> Heads:
        """What the first rows of clampings say of these, as far as that is known or found without fault."""
        shared = list(map(self._shared.get, self._file.cells(heads, self._sharing)))
        cells = self._file.column(heads, "taken_at")
        dates = list(map(self._dates.get, cells))
        if None in dates:
            dates = [date or self._date(cell) for date, cell in zip(dates, cells, strict=True)]
        labels = list(map(str.strip, self._file.column(heads, "clamping")))
        sound = all(labels) and texts.are_names(labels)
        return Heads(shared, dates, labels if sound else [None] * len(labels))

    def _date(self, cell: str) -> tuple[str, bool] | None:
        date = self._dates.get(cell)
        if date is None:
            with suppress(RefusedError):
                date = cells_of.read_date(cell)
                _remember(self._dates, cell, date)
        return date

    def head(self, line: int, head: Row) -> Head:
        """The fields of a clamping but for its turns. Those that many clampings of a file share are remembered."""
        date = self._date(head[_TAKEN_AT]) or self._try(line, head, "taken_at", cells_of.read_date)
        label = self._try(line, head, "clamping", cells_of.read_label)
        if label == "":
            what = "The clamping has no label."
            self.faults.add(line, "clamping", "", what, "Number the clampings of a sitting: 1, 2, 3.")
        shared = self._shared.get(self._shared_cells(head)) or self._read_shared(line, head)
        return Head(shared, *(date or ("", False)), label or "")

    def _read_shared(self, line: int, head: Row) -> Shared:
        def try_(column: str, read: Callable[[str], T], default: T) -> T:
            if not head[PLACE[column]]:
                return default
            found = self._try(line, head, column, read)
            return default if found is None else found

        before = self.faults.total
        if not head[_ITEM].strip():
            self.faults.add(line, "item", "", "The item is missing.", "Give its code.")
        shared = Shared(
            Clamping(
                item=head[_ITEM].strip(),
                setup=head[PLACE["setup"]].strip(),
                taken_at="",
                turns=(),
                position=try_("position", cells_of.read_label, ""),
                clocking=try_("clocking", parse_clocking, _NO_CLOCKING),
                modification=try_("modification", cells_of.read_modification, None),
                sitting=try_("sitting", cells_of.read_label, ""),
                pin=head[PLACE["pin"]].strip(),
                diameter_pm=try_("diameter", self._diameter, None),
                instrument=head[PLACE["instrument"]].strip(),
                operator=try_("operator", cells_of.read_label, ""),
                note=try_("note", cells_of.read_note, ""),
            )
        )
        if self.faults.total == before:
            _remember(self._shared, self._shared_cells(head), shared)
        return shared

    def _shared_cells(self, head: Row) -> Row:
        return tuple([head[PLACE[name]] for name in self._sharing])

    def _diameter(self, cell: str) -> int | None:
        diameter = cells_of.read_length(cell, "mm", self._sign) if cell.strip() else None
        if diameter == 0:
            raise RefusedError("A diameter is above zero.", "Give the pin's actual diameter, as 6.479.")
        return diameter

    def _try(self, line: int, row: Row, column: str, read: Callable[[str], T]) -> T | None:
        """A cell read; None with a fault noted where it will not do."""
        try:
            return read(row[PLACE[column]])
        except RefusedError as error:
            self.faults.add_refusal(line, column, row[PLACE[column]], error)
            return None

    def _read_turn(self, line: int, row: Row) -> TurnKey | None:
        """The turn a row belongs to."""
        if known := self._turns.get(_pick_turn(row)):
            return known
        label = self._try(line, row, "turn", cells_of.read_label)
        kind = self._try(line, row, "kind", _kind)
        if kind == "value" and not row[PLACE["distance"]].strip():
            distance: int | None = 0
        else:
            distance = self._try(line, row, "distance", lambda cell: cells_of.read_length(cell, "mm", self._sign))
        characteristic = self._try(line, row, "characteristic", _characteristic)
        if label is None or distance is None or characteristic is None or kind is None:
            return None
        if (kind == "value") is (characteristic in SWINGS):
            what, wanted = f"{characteristic} cannot be of kind {kind}.", "tir or point" if kind == "value" else "value"
            self.faults.add(line, "kind", row[_KIND], what, f"Its kind is {wanted}.")
            return None
        turn = TurnKey(label, distance, characteristic, kind)
        _remember(self._turns, _pick_turn(row), turn)
        return turn

    def _read_reading(self, line: int, row: Row) -> tuple[Reading | None, bool]:
        """The reading of a row, and whether its value is written as recalled; values and angles that were read are
        remembered apart."""
        nothing, kind = (None, False), row[_KIND].strip().casefold()
        if not row[_VALUE].strip():
            self.faults.add(line, "value", row[_VALUE], "The value is missing.", "Leave the row out or fill it in.")
            return nothing
        if self._try(line, row, "unit", parse_unit) is None:
            return nothing
        value, angle = self._values.get(_pick_value(row)), self._angles.get(_pick_angle(row))
        if value is None and (value := self._try(line, row, "value", lambda cell: self._value(cell, row[_UNIT], kind))):
            _remember(self._values, _pick_value(row), value)
        if angle is None and (
            angle := self._try(line, row, "angle_deg", lambda cell: cells_of.read_angle(cell, kind, self._sign))
        ):
            _remember(self._angles, _pick_angle(row), angle)
        if value is None or angle is None:
            return nothing
        if kind == "value" and ".." in row[_VALUE]:
            name = row[PLACE["characteristic"]]
            if self._try(line, row, "value", lambda cell: _check_pins(cell, name)) is None:
                return nothing
        text = f"{row[_VALUE].strip()} {row[_UNIT].strip()}"
        return Reading(value.picometres, text, value.step_pm, *angle, value.low_pm, value.high_pm), value.recalled

    def _value(self, cell: str, unit_cell: str, kind: str) -> cells_of.Value:
        if kind == "value" and ".." in cell:
            for end in cell.split(".."):
                self._sign.check(end)
            return cells_of.read_pins(cell, unit_cell)
        self._sign.check(cell)
        value = cells_of.read_value(cell, unit_cell)
        if kind == "tir" and value.picometres < 0:
            raise RefusedError("A swing cannot be negative.", "Give the full swing, or the readings as kind point.")
        if kind == "point" and value.low_pm is not None:
            raise RefusedError("A reading of a turn is one number.", "Write one number, as 4.5.")
        return value

    def _read_limit(self, cell: str, turn: TurnKey) -> tuple[int | None, int | None]:
        """Lower and upper limit: of a swing the one length it has, of a value either or both."""
        if turn.kind == "value":
            for end in cell.split(".."):
                self._sign.check(end)
            return parse_limits(cell.partition("@")[0], turn.characteristic, bare=None)[:2]
        limit = cells_of.read_length(cell, None, self._sign)
        if limit == 0:
            raise RefusedError("A limit is above zero.", "Write it as 8um.")
        return None, limit

    def _add_limit(self, line: int, row: Row, turn: TurnKey) -> bool:
        """Whether the limit of a row is one, and the same as in other rows."""
        cell = row[_LIMIT].strip()
        if not cell:
            return False
        limit = self._try(line, row, "limit", lambda text: self._read_limit(text, turn))
        if limit is None:
            return False
        distance = EVERY_DISTANCE if turn.kind == "value" and not turn.distance_pm else turn.distance_pm
        key = LimitKey(row[_ITEM].strip().casefold(), turn.characteristic, distance)
        known, text, first = self.limits.setdefault(key, (limit, cell, line))
        if known != limit:
            what = f"Line {first} gives {text} for the same item, characteristic and distance."
            self.faults.add(line, "limit", cell, what, "Give one limit.")
        return known == limit


def _remember(known: dict[K, T], key: K, value: T) -> None:
    if len(known) >= _MOST_REMEMBERED:
        known.clear()
    known[key] = value


def _characteristic(cell: str) -> str:
    return meant(cells_of.read_label(cell)) or RUNOUT


def _check_pins(cell: str, name: str) -> str:
    if not known(_characteristic(name)).by_pins:
        raise RefusedError(f"{quoted(cell)} is a range, no value that was read.", "Write the value alone.")
    return cell


def _kind(cell: str) -> str:
    kind = cell.strip().casefold()
    if kind not in _KINDS:
        raise RefusedError("This is no kind of reading.", "tir for a swing, point for a reading on a turn, or value.")
    return kind
