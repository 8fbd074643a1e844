"""Reading the rows of the exchange form: what each says of its clamping, its turn and its reading."""

import operator
from collections.abc import Callable
from typing import Final, NamedTuple, TypeVar

from qclog.characteristics import known, named
from qclog.errors import RefusedError
from qclog.lengths import parse_unit, quoted
from qclog.logbook.clampings import Shared
from qclog.logbook.exchange import cells as cells_of
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, HEAD, Block, ExchangeFile, Row
from qclog.notation import parse_clocking
from qclog.records import RUNOUT, SWINGS, Clamping, Reading
from qclog.value_notation import parse_limits

PLACE: Final = {name: place for place, name in enumerate(COLUMNS)}
_KINDS: Final = ("tir", "point", "value")
_MOST_REMEMBERED: Final = 50_000
_OF_TURN: Final = ("turn", "distance", "characteristic", "kind")
_OF_READING: Final = ("kind", "value", "unit", "angle_deg")
_OF_LIMIT: Final = ("item", *_OF_TURN, "limit")
_pick_shared: Final = operator.itemgetter(*(PLACE[name] for name in HEAD if name not in ("taken_at", "clamping")))
_ITEM: Final = PLACE["item"]
_CLAMPING: Final = PLACE["clamping"]
_TAKEN_AT: Final = PLACE["taken_at"]
_KIND: Final = PLACE["kind"]
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


class Read(NamedTuple):
    """What the rows of a block say, row by row: the turn it belongs to and its reading, None where there is a fault.

    ``recalled``: the rows whose values are written as recalled.
    """

    turns: list[TurnKey | None]
    readings: list[Reading | None]
    recalled: set[int]


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
        self._turns: dict[Row, TurnKey] = {}
        self._readings: dict[Row, Reading] = {}
        self._recalled: dict[Row, Reading] = {}
        self._limited: dict[Row, TurnKey] = {}
        self._dates: dict[str, tuple[str, bool]] = {}
        self._shared: dict[Row, Shared] = {}

    def read(self, block: Block) -> Read:
        """The turns and readings of the rows of a block; the limits in them are added to ``limits``."""
        of_turns = list(self._file.cells(block, _OF_TURN))
        of_readings = list(self._file.cells(block, _OF_READING))
        of_limits = list(self._file.cells(block, _OF_LIMIT)) if "limit" in self._file.names else []
        read = Read(list(map(self._turns.get, of_turns)), list(map(self._readings.get, of_readings)), set())
        new = {i for i, reading in enumerate(read.readings) if reading is None}
        new.update(i for i, turn in enumerate(read.turns) if turn is None)
        new.update(i for i, cells in enumerate(of_limits) if cells[-1] and cells not in self._limited)
        for i in sorted(new):
            line, row = block.lines[i], self._file.row(block, i)
            turn = read.turns[i] = self._turns.get(of_turns[i]) or self._read_turn(line, row, of_turns[i])
            known = self._readings.get(of_readings[i]) or self._recalled.get(of_readings[i])
            reading = read.readings[i] = known or self._read_reading(line, row, of_readings[i])
            if of_readings[i] in self._recalled:
                read.recalled.add(i)
            if of_limits and turn and reading and self._add_limit(line, row, turn):
                _remember(self._limited, of_limits[i], turn)
        return read

    def head(self, line: int, head: Row) -> Head:
        """The fields of a clamping but for its turns. Those that many clampings of a file share are remembered."""

        def try_(column: str, read: Callable[[str], T], default: T) -> T:
            if not head[PLACE[column]]:
                return default
            found = self._try(line, head, column, read)
            return default if found is None else found

        before = self.faults.total
        date = self._dates.get(head[_TAKEN_AT]) or self._try(line, head, "taken_at", cells_of.read_date)
        if date:
            _remember(self._dates, head[_TAKEN_AT], date)
        label = try_("clamping", cells_of.read_label, "")
        if not label and not head[_CLAMPING].strip():
            what = "The clamping has no label."
            self.faults.add(line, "clamping", "", what, "Number the clampings of a sitting: 1, 2, 3.")
        shared = self._shared.get(_pick_shared(head))
        if shared is None:
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
                _remember(self._shared, _pick_shared(head), shared)
        return Head(shared, *(date or ("", False)), label)

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

    def _read_turn(self, line: int, row: Row, cells: Row) -> TurnKey | None:
        """The turn a row belongs to; remembered under ``cells``."""
        label = self._try(line, row, "turn", cells_of.read_label)
        distance = self._try(line, row, "distance", lambda cell: cells_of.read_length(cell, "mm", self._sign))
        characteristic = self._try(line, row, "characteristic", _characteristic)
        kind = self._try(line, row, "kind", _kind)
        if label is None or distance is None or characteristic is None or kind is None:
            return None
        if (kind == "value") is (characteristic in SWINGS):
            what, wanted = f"{characteristic} cannot be of kind {kind}.", "tir or point" if kind == "value" else "value"
            self.faults.add(line, "kind", row[_KIND], what, f"Its kind is {wanted}.")
            return None
        turn = TurnKey(label, distance, characteristic, kind)
        _remember(self._turns, cells, turn)
        return turn

    def _read_reading(self, line: int, row: Row, cells: Row) -> Reading | None:
        """The reading of a row; remembered under ``cells``, unless it depends on others."""
        value_cell, unit_cell = row[PLACE["value"]], row[PLACE["unit"]]
        kind = row[_KIND].strip().casefold()
        if not value_cell.strip():
            self.faults.add(line, "value", value_cell, "The value is missing.", "Leave the row out or fill it in.")
            return None
        if self._try(line, row, "unit", parse_unit) is None:
            return None
        value = self._try(line, row, "value", lambda cell: self._read_value(cell, unit_cell, kind))
        angle = self._try(line, row, "angle_deg", lambda cell: cells_of.read_angle(cell, kind, self._sign))
        if value is None or angle is None:
            return None
        text = f"{value_cell.strip()} {unit_cell.strip()}"
        reading = Reading(value.picometres, text, value.step_pm, *angle, value.low_pm, value.high_pm)
        if kind == "value" and ".." in value_cell:
            name = row[PLACE["characteristic"]]
            told = self._try(line, row, "value", lambda cell: _check_pins(cell, name))
            return None if told is None else reading
        _remember(self._recalled if value.recalled else self._readings, cells, reading)
        return reading

    def _read_value(self, cell: str, unit_cell: str, kind: str) -> cells_of.Value:
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
        key = LimitKey(row[_ITEM].strip().casefold(), turn.characteristic, turn.distance_pm)
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
    return named(cells_of.read_label(cell)) or RUNOUT


def _check_pins(cell: str, name: str) -> str:
    if not known(_characteristic(name)).by_pins:
        raise RefusedError(f"{quoted(cell)} is a range, no value that was read.", "Write the value alone.")
    return cell


def _kind(cell: str) -> str:
    kind = cell.strip().casefold()
    if kind not in _KINDS:
        raise RefusedError("This is no kind of reading.", "tir for a swing, point for a reading on a turn, or value.")
    return kind
