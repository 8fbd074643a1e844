"""Gathering the rows of a file into clampings.

The rows of a clamping mostly stand together. A first run through the file (``Survey``) finds the clampings
whose rows do not, and every code the file names; the second run (``Gatherer``) hands on each clamping as soon
as its last row has passed, so that only the scattered ones are held until the end.
"""

import operator
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import Any, Final, NamedTuple, cast

from qclog import texts, times
from qclog.characteristics import FLUSHNESS, known
from qclog.errors import RefusedError
from qclog.logbook.clampings import Shared, tell_apart
from qclog.logbook.deriving import tenths_of_mm
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import ExchangeFile, Row
from qclog.logbook.exchange.rows import PLACE, Head, RowReader, TurnKey
from qclog.notation import format_clocking, parse_clocking
from qclog.records import Reading, Turn, TurnKind

LEAST_READINGS: Final = 3
_TAKEN_AT, _SITTING, _ITEM, _SETUP, _POSITION, _CLOCKING, _CLAMPING = (
    PLACE[name] for name in ("taken_at", "sitting", "item", "setup", "position", "clocking", "clamping")
)


_Identity = tuple[tuple[str, str, str, str], str, str]


class Named(NamedTuple):
    """The codes of a row as they stand in it."""

    item: str
    setup: str
    position: str
    clocking: str
    pin: str
    diameter: str
    instrument: str


_pick_named: Final = operator.itemgetter(*(PLACE[name] for name in Named._fields))


def named_in(head: Row) -> Named:
    """The codes that the cells of a clamping name."""
    return Named(*_pick_named(head))


class Gathered(NamedTuple):
    """A clamping of the file, the line of its first row and its cells there.

    ``shared``: what it may share with others; its own time, label and turns stand beside it.
    """

    line: int
    head: Row
    shared: Shared
    taken_at: str
    label: str
    recalled: bool
    turns: tuple[Turn, ...]


@dataclass(slots=True)
class _Draft:
    """The rows of a clamping that have passed: each different head with its line, each turn with its readings."""

    heads: dict[Row, int]
    turns: dict[TurnKey, list[tuple[int, Reading]]] = field(default_factory=dict)
    sound: bool = True
    recalled: bool = False


class Survey:
    """What one run through the file tells: ``named`` with the first line of each, how many rows, who is scattered."""

    def __init__(self, file: ExchangeFile) -> None:
        """Raises ImportRefusedError for a file without rows."""
        self.named: dict[Named, int] = {}
        self._scattered: set[int] = set()
        seen: set[int] = set()
        ignored = Faults(file.path.name)
        own_head, last, last_key = file.own_head, None, 0
        self.rows = 0
        for first, rows in file.blocks(ignored):
            self.rows += len(rows)
            for line, cells in enumerate(rows, start=first):
                own = own_head(cells)
                if own == last:
                    continue
                last = own
                head = file.head(cells)
                named = named_in(head)
                if named not in self.named:
                    self.named[named] = line
                key = hash(_identity(head))
                if key != last_key:
                    (self._scattered if key in seen else seen).add(key)
                    last_key = key
        if not self.rows and not ignored.total:
            ignored.add(1, "", "", "There is a header but no row under it.", "Export the readings again.")
            ignored.refuse_if_any()

    def scattered(self, identity: _Identity) -> bool:
        """Whether the rows of this clamping do not stand together (rarely also said of one whose rows do)."""
        return hash(identity) in self._scattered


class Gatherer:
    """The clampings of a file, and the limits it gives. Faults of cells and clampings go to ``faults``."""

    def __init__(self, file: ExchangeFile, survey: Survey, faults: Faults) -> None:
        self._file = file
        self._survey = survey
        self._faults = faults
        self._rows = RowReader(file, faults)
        self.limits = self._rows.limits

    def clampings(self) -> Iterator[Gathered]:
        """Each clamping without fault once, as soon as its rows are complete."""
        drafts: dict[_Identity, _Draft] = {}
        own_head, last, draft = self._file.own_head, None, _Draft({})
        identity: _Identity | None = None
        rows_of = self._rows
        turns, own_turn, readings, own_reading = rows_of.turns, rows_of.own_turn, rows_of.readings, rows_of.own_reading
        for first, rows in self._file.blocks(self._faults):
            for line, cells in enumerate(rows, start=first):
                own = own_head(cells)
                if own != last:
                    last, before = own, identity
                    head = self._file.head(cells)
                    identity = _identity(head)
                    if before and before != identity and before in drafts and not self._survey.scattered(before):
                        yield from self._finished(drafts.pop(before))
                    draft = drafts.get(identity) or drafts.setdefault(identity, _Draft({}))
                    draft.heads.setdefault(head, line)
                turn = turns.get(own_turn(cells)) or rows_of.read_turn(line, cells)
                found = readings.get(own_reading(cells)) or rows_of.read_reading(line, cells)
                if turn is None or found is None:
                    draft.sound = False
                    continue
                reading, recalled = found
                if recalled:
                    draft.recalled = True
                if turn in draft.turns:
                    draft.turns[turn].append((line, reading))
                else:
                    draft.turns[turn] = [(line, reading)]
                if rows_of.gives_limits:
                    rows_of.add_limit(line, cells, turn)
        for draft in drafts.values():
            yield from self._finished(draft)

    def _finished(self, draft: _Draft) -> Iterator[Gathered]:
        before = self._faults.total
        head, line = next(iter(draft.heads.items()))
        own = self._rows.head(line, head) if len(draft.heads) == 1 else self._joint(draft)
        turns = tuple([self._turn(key, rows, whole=draft.sound) for key, rows in draft.turns.items()])
        if not head[_SETUP].strip() and any(turn.kind != "value" for turn in turns):
            what = "A swing or a turn needs the setup it was read in."
            self._faults.add(line, "setup", "", what, "Name it; only the kind value goes without.")
        if draft.sound and self._faults.total == before:
            for point, together in _points_apart(turns):
                label, recalled = f"{own.label}{point}", own.recalled or draft.recalled
                yield Gathered(line, head, own.shared, own.taken_at, label, recalled, together)

    def _joint(self, draft: _Draft) -> Head:
        """What several heads of one clamping say: of differing times the earliest, of notes and operators all, else
        one."""
        read = [(line, head, self._rows.head(line, head)) for head, line in draft.heads.items()]
        records = [one.shared.record for _, _, one in read]
        first: dict[str, Any] = {}
        for column, name in (
            ("modification", "modification"),
            ("pin", "pin"),
            ("diameter", "diameter_pm"),
            ("instrument", "instrument"),
        ):
            for (line, head, _), record in zip(read, records, strict=True):
                value, known = getattr(record, name), first.get(name)
                if known in (None, ""):
                    first[name] = value
                elif value not in (None, "") and _folded(value) != _folded(known):
                    what = f"Another {column} than in line {read[0][0]}, for the same clamping."
                    remedy = "One clamping has one; give another clamping label otherwise."
                    self._faults.add(line, column, head[PLACE[column]], what, remedy)
        for name, joint, longest in (("operator", ", ", texts.LONGEST_NAME), ("note", "; ", texts.LONGEST_NOTE)):
            all_of_them = dict.fromkeys(getattr(record, name) for record in records)
            first[name] = joint.join(one for one in all_of_them if one)
            if len(first[name]) > longest:
                line, head, _ = read[0]
                what = f"The {name}s of this clamping are too long together."
                self._faults.add(line, name, head[PLACE[name]], what, f"{longest} characters at most.")
        return Head(
            Shared(replace(records[0], **first)),
            min((one.taken_at for _, _, one in read), key=lambda at: (times.order(at), at)),
            read[0][2].label,
            any(one.recalled for _, _, one in read),
        )

    def _turn(self, key: TurnKey, rows: list[tuple[int, Reading]], *, whole: bool) -> Turn:
        """A turn of its rows; faults of the turn are noted. ``whole``: no row was left out for a fault of its own."""
        if key.kind == "point":
            self._check_points(rows, whole=whole)
        elif len(rows) > (most := known(key.characteristic).most if key.kind == "value" else 1):
            what = "Two swings in one turn." if key.kind == "tir" else "Two values in one turn."
            if most > 1:
                what = f"More than {most} values of a {key.characteristic} in one turn."
            for line, reading in rows[most:]:
                self._faults.add(line, "value", reading.text, what, "Give each its own turn, or its own clamping.")
        return Turn(
            cast("TurnKind", key.kind),
            tuple(reading for _, reading in rows),
            key.distance_pm,
            key.characteristic,
            key.label,
        )

    def _check_points(self, rows: list[tuple[int, Reading]], *, whole: bool) -> None:
        if len(rows) >= LEAST_READINGS and tell_apart(tuple([reading.angle_mdeg for _, reading in rows])):
            return
        if whole and len(rows) < LEAST_READINGS:
            line, reading = rows[0]
            what = f"A turn needs at least {LEAST_READINGS} readings, this one has {len(rows)}."
            self._faults.add(line, "value", reading.text, what, "Read at quarter turns: four readings.")
        seen: dict[int, int] = {}
        empty = [line for line, reading in rows if reading.angle_mdeg is None]
        if 0 < len(empty) < len(rows):
            for line in empty:
                what = "Some readings of this turn have an angle and some have none."
                self._faults.add(line, "angle_deg", "", what, "Give all or none.")
        for line, reading in rows:
            if reading.angle_mdeg is None:
                continue
            if reading.angle_mdeg in seen:
                what = f"The same angle as in line {seen[reading.angle_mdeg]}, in the same turn."
                shown = f"{reading.angle_mdeg / 1000:g}"
                self._faults.add(line, "angle_deg", shown, what, "Give each angle once; 360 is 0.")
            seen.setdefault(reading.angle_mdeg, line)


def _points_apart(turns: tuple[Turn, ...]) -> Iterator[tuple[str, tuple[Turn, ...]]]:
    """The turns of a clamping, and behind them each further point of a flushness read at the same distance, with what
    its label ends with: it is a clamping of its own, as one mean of all would hide a point that stands proud."""
    if len(turns) == 1 or all(turn.characteristic != FLUSHNESS for turn in turns):
        yield "", turns
        return
    together: list[Turn] = []
    points: dict[int, list[Turn]] = {}
    for turn in turns:
        there = points.setdefault(tenths_of_mm(turn.distance_pm), []) if turn.characteristic == FLUSHNESS else together
        there.append(turn)
    yield "", (*together, *(there[0] for there in points.values()))
    further = [turn for there in points.values() for turn in there[1:]]
    yield from ((f" point {number}", (turn,)) for number, turn in enumerate(further, start=2))


def _identity(head: Row) -> _Identity:
    """What rows of one clamping share."""
    return (
        _same_place(head[_ITEM], head[_SETUP], head[_POSITION], head[_CLOCKING]),
        head[_SITTING].strip() or times.day(head[_TAKEN_AT].strip()),
        head[_CLAMPING].strip(),
    )


@lru_cache(maxsize=16_384)
def _same_place(item: str, setup: str, position: str, clocking: str) -> tuple[str, str, str, str]:
    with suppress(RefusedError):
        clocking = format_clocking(parse_clocking(clocking)).casefold()
    return item.strip().casefold(), setup.strip().casefold(), position.strip().casefold(), clocking


def _folded(value: object) -> object:
    return value.casefold() if isinstance(value, str) else value
