"""Gathering the rows of a file into clampings.

The rows of a clamping mostly stand together. A first run through the file (``Survey``) finds the clampings
whose rows do not, and every code the file names; the second run (``Gatherer``) hands on each clamping as soon
as its last row has passed, so that only the scattered ones are held until the end.
"""

import itertools
import operator
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any, Final, NamedTuple, cast

import numpy as np
import numpy.typing as npt

from qclog import texts, times
from qclog.characteristics import FLUSHNESS, known
from qclog.errors import RefusedError
from qclog.logbook.clampings import Shared, tell_apart
from qclog.logbook.deriving import tenths_of_mm
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import HEAD, Block, ExchangeFile, Row
from qclog.logbook.exchange.rows import PLACE, Head, Heads, Read, RowReader, TurnKey, turn_of
from qclog.notation import format_clocking, parse_clocking
from qclog.records import Reading, Turn

LEAST_READINGS: Final = 3
_BETWEEN: Final = "\x1f"
_MOST_REMEMBERED: Final = 50_000
_SETUP: Final = PLACE["setup"]
_CLAMPING: Final = PLACE["clamping"]
_OF_PLACE: Final = ("item", "setup", "position", "clocking")
_OF_SITTING: Final = ("sitting", "taken_at")
_pick_place: Final = operator.itemgetter(*(PLACE[name] for name in _OF_PLACE))
_pick_sitting: Final = operator.itemgetter(*(PLACE[name] for name in _OF_SITTING))

_Identity = tuple[str, str, str]
"""Place, sitting and label: what rows of one clamping share."""


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
    """Clampings of the file that follow each other, column by column: the line of the first row of each and its cells
    there; what it may share with others; its own label, time and turns."""

    lines: Sequence[int]
    heads: Sequence[Row]
    shared: Sequence[Shared]
    labels: Sequence[str]
    taken_at: Sequence[str]
    recalled: Sequence[bool]
    turns: Sequence[tuple[Turn, ...]]


class _Draft:
    """The rows of a clamping that have passed: each different head with its line, each turn with the lines and readings
    of its rows."""

    __slots__ = ("heads", "recalled", "sound", "turns")

    def __init__(self) -> None:
        self.heads: dict[Row, int] = {}
        self.turns: dict[TurnKey, tuple[list[int], list[Reading]]] = {}
        self.sound = True
        self.recalled = False

    def add(self, lines: Sequence[int], turns: Sequence[TurnKey | None], readings: Sequence[Reading | None]) -> None:
        """Some rows that follow each other."""
        turn = turns[0]
        if turn and turns.count(turn) == len(turns) and all(readings):
            self._add(turn, lines, cast("Sequence[Reading]", readings))
            return
        for line, turn, reading in zip(lines, turns, readings, strict=True):
            if turn and reading:
                self._add(turn, (line,), (reading,))
            else:
                self.sound = False

    def _add(self, turn: TurnKey, lines: Iterable[int], readings: Iterable[Reading]) -> None:
        if turn in self.turns:
            self.turns[turn][0].extend(lines)
            self.turns[turn][1].extend(readings)
        else:
            self.turns[turn] = list(lines), list(readings)


class _Identities:
    """What tells the clampings of a file apart, for the cells of each; parts of it are remembered by these cells."""

    def __init__(self) -> None:
        self._places: dict[tuple[str, ...], str] = {}
        self._sittings: dict[tuple[str, ...], str] = {}

    def of(self, file: ExchangeFile, heads: Block) -> list[_Identity]:
        places = _all_of(self._places, list(file.cells(heads, _OF_PLACE)), _same_place)
        sittings = _all_of(self._sittings, list(file.cells(heads, _OF_SITTING)), _same_sitting)
        return list(zip(places, sittings, map(str.strip, file.column(heads, "clamping")), strict=True))

    def one(self, head: Row) -> _Identity:
        """The same of one clamping, for its cells in the order of ``HEAD``."""
        (place,) = _all_of(self._places, [_pick_place(head)], _same_place)
        (sitting,) = _all_of(self._sittings, [_pick_sitting(head)], _same_sitting)
        return place, sitting, head[_CLAMPING].strip()


class Survey:
    """What one run through the file tells: ``named`` with the first line of each, how many rows, who is scattered."""

    def __init__(self, file: ExchangeFile) -> None:
        """Raises ImportRefusedError for a file without rows."""
        self.named: dict[Named, int] = {}
        self.rows = 0
        ignored = Faults(file.path.name)
        identities = _Identities()
        keys: list[npt.NDArray[np.int64]] = []
        for block in file.blocks(ignored):
            self.rows += len(block.lines)
            _, heads = file.heads(block)
            named = list(file.cells(heads, Named._fields))
            if not self.named.keys() >= set(named):
                for one, line in zip(named, heads.lines, strict=True):
                    self.named.setdefault(Named(*one), line)
            keys.append(np.fromiter(map(hash, identities.of(file, heads)), np.int64, len(named)))
        if not self.rows and not ignored.total:
            ignored.add(1, "", "", "There is a header but no row under it.", "Export the readings again.")
            ignored.refuse_if_any()
        self._tell_apart(np.concatenate(keys) if keys else np.empty(0, np.int64))

    def _tell_apart(self, keys: npt.NDArray[np.int64]) -> None:
        """From a number for each head of the file, which stands for whose it is."""
        again = keys[1:] == keys[:-1]
        firsts = np.sort(keys[np.append(True, ~again)[: len(keys)]])
        self._scattered = set(firsts[1:][firsts[1:] == firsts[:-1]].tolist())
        apart = np.isin(keys, np.fromiter(self._scattered, np.int64, len(self._scattered)))
        self._plain = ~(apart | np.append(again, False)[: len(keys)] | np.append(False, again)[: len(keys)])

    def scattered(self, identity: _Identity) -> bool:
        """Whether the rows of this clamping do not stand together (rarely also said of one whose rows do)."""
        return hash(identity) in self._scattered

    def plain(self, first: int, last: int) -> npt.NDArray[np.bool_]:
        """Which of some heads, counted through the file, are the only ones of their clampings."""
        found: npt.NDArray[np.bool_] = self._plain[first:last]
        return found


class Gatherer:
    """The clampings of a file, and the limits it gives. Faults of cells and clampings go to ``faults``."""

    def __init__(self, file: ExchangeFile, survey: Survey, faults: Faults) -> None:
        self._file = file
        self._survey = survey
        self._faults = faults
        self._rows = RowReader(file, faults)
        self.limits = self._rows.limits

    def clampings(self) -> Iterator[Gathered]:
        """Each clamping without fault once, as soon as its rows are complete.

        Those whose rows stand together within a block and are plain are handed on many at once. The rows of all others
        are gathered one clamping after the other, and their faults named.
        """
        scattered: dict[_Identity, _Draft] = {}
        identities = _Identities()
        draft = _Draft()
        last: _Identity | None = None
        passed = 0
        for block in self._file.blocks(self._faults):
            lines, (starts, first) = block.lines, self._file.heads(block)
            read, told = self._rows.read(block), self._rows.heads(first)
            ends = [*starts[1:], len(lines)]
            turns = _whole_turns(starts, ends, read)
            careful = _careful(self._survey.plain(passed, passed + len(starts)), told, turns)
            passed += len(starts)
            heads = list(self._file.cells(first, HEAD))
            plain = _columns(first.lines, heads, told, turns, _any_of(read.recalled, starts, ends))
            begin = 0
            for k in careful:
                if begin < k:
                    if last not in scattered:
                        yield from self._finished(draft)
                    last, draft = None, _Draft()
                    yield Gathered._make(column[begin:k] for column in plain)
                begin = k + 1
                start, end, head = starts[k], ends[k], heads[k]
                identity = identities.one(head)
                if identity != last:
                    if last not in scattered:
                        yield from self._finished(draft)
                    last, draft = identity, _Draft()
                    if self._survey.scattered(identity):
                        draft = scattered.setdefault(identity, draft)
                draft.heads.setdefault(head, lines[start])
                draft.add(lines[start:end], read.turns[start:end], read.readings[start:end])
                if any(read.recalled[start:end]):
                    draft.recalled = True
        left = scattered.values() if last in scattered else (*scattered.values(), draft)
        yield from itertools.chain.from_iterable(map(self._finished, left))

    def _finished(self, draft: _Draft) -> Sequence[Gathered]:
        """The clamping of its rows, and the points that stand apart from it, if there is no fault in them."""
        if not draft.heads:
            return []
        before = self._faults.total
        head, line = next(iter(draft.heads.items()))
        own = self._rows.head(line, head) if len(draft.heads) == 1 else self._joint(draft)
        turns = tuple([self._turn(key, *rows, whole=draft.sound) for key, rows in draft.turns.items()])
        if not head[_SETUP].strip() and any(turn.kind != "value" for turn in turns):
            what = "A swing or a turn needs the setup it was read in."
            self._faults.add(line, "setup", "", what, "Name it; only the kind value goes without.")
        if not draft.sound or self._faults.total > before:
            return []
        recalled = own.recalled or draft.recalled
        return [
            Gathered([line], [head], [own.shared], [f"{own.label}{point}"], [own.taken_at], [recalled], [together])
            for point, together in _points_apart(turns)
        ]

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
            any(one.recalled for _, _, one in read),
            read[0][2].label,
        )

    def _turn(self, key: TurnKey, lines: list[int], readings: list[Reading], *, whole: bool) -> Turn:
        """A turn of its rows; faults of the turn are noted. ``whole``: no row was left out for a fault of its own."""
        if key.kind == "point":
            self._check_points(lines, readings, whole=whole)
        elif len(lines) > (most := known(key.characteristic).most if key.kind == "value" else 1):
            what = "Two swings in one turn." if key.kind == "tir" else "Two values in one turn."
            if most > 1:
                what = f"More than {most} values of a {key.characteristic} in one turn."
            for line, reading in zip(lines[most:], readings[most:], strict=True):
                self._faults.add(line, "value", reading.text, what, "Give each its own turn, or its own clamping.")
        return turn_of(key, readings)

    def _check_points(self, lines: list[int], readings: list[Reading], *, whole: bool) -> None:
        if _are_points(readings):
            return
        rows = list(zip(lines, readings, strict=True))
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


def _columns(
    lines: Sequence[int],
    heads: Sequence[Row],
    told: Heads,
    turns: Sequence[tuple[Turn, ...]],
    recalled: Sequence[bool],
) -> Gathered:
    """What the clampings of a block say, to be used of those that are plain."""
    taken_at, years = zip(*(date or ("", False) for date in told.dates), strict=True)
    if True in years:
        recalled = list(map(operator.or_, recalled, years))
    shared, labels = cast("Sequence[Shared]", told.shared), cast("Sequence[str]", told.labels)
    return Gathered(lines, heads, shared, labels, taken_at, recalled, turns)


def _whole_turns(starts: Sequence[int], ends: Sequence[int], read: Read) -> list[tuple[Turn, ...]]:
    """The turns of each clamping whose rows are those from its start to its end; none where they are not plainly one
    turn without fault."""
    return [
        read.alone[start] if end - start == 1 else _one_turn(read.turns[start:end], read.readings[start:end])
        for start, end in zip(starts, ends, strict=True)
    ]


def _one_turn(keys: Sequence[TurnKey | None], readings: Sequence[Reading | None]) -> tuple[Turn, ...]:
    key = keys[0]
    if not key or key.kind != "point" or keys.count(key) < len(keys) or None in readings:
        return ()
    sound = cast("Sequence[Reading]", readings)
    return (turn_of(key, sound),) if _are_points(sound) else ()


def _are_points(readings: Sequence[Reading]) -> bool:
    return len(readings) >= LEAST_READINGS and tell_apart(tuple([reading.angle_mdeg for reading in readings]))


def _any_of(flags: Sequence[bool], starts: Sequence[int], ends: Sequence[int]) -> list[bool]:
    """Whether any from a start to its end is set."""
    if True not in flags:
        return [False] * len(starts)
    return [any(flags[start:end]) for start, end in zip(starts, ends, strict=True)]


def _careful(alone: npt.NDArray[np.bool_], told: Heads, turns: Sequence[tuple[Turn, ...]]) -> list[int]:
    """Which clampings of a block are not plain: the first and the last, whose rows may go on in other blocks, those
    that have not ``alone`` their head, and those of which something may be missing or wrong."""
    count = len(turns)
    found = {0, count - 1, *np.flatnonzero(~alone).tolist(), *range(len(alone), count)}
    for column, asks in ((turns, ()), *((column, None) for column in told)):
        if asks in column:
            found.update(k for k, one in enumerate(column) if one == asks)
    if any(one and not one.record.setup for one in set(told.shared)):
        found.update(k for k, one in enumerate(told.shared) if one and not one.record.setup)
    return sorted(found)


def _points_apart(turns: tuple[Turn, ...]) -> Iterable[tuple[str, tuple[Turn, ...]]]:
    """The turns of a clamping, and behind them each further point of a flushness read at the same distance, with what
    its label ends with: it is a clamping of its own, as one mean of all would hide a point that stands proud."""
    if len(turns) == 1 or all(turn.characteristic != FLUSHNESS for turn in turns):
        return (("", turns),)
    together: list[Turn] = []
    points: dict[int, list[Turn]] = {}
    for turn in turns:
        there = points.setdefault(tenths_of_mm(turn.distance_pm), []) if turn.characteristic == FLUSHNESS else together
        there.append(turn)
    further = [turn for there in points.values() for turn in there[1:]]
    return [
        ("", (*together, *(there[0] for there in points.values()))),
        *((f" point {number}", (turn,)) for number, turn in enumerate(further, start=2)),
    ]


def _all_of(known: dict[Row, str], keys: Sequence[Row], make: Callable[..., str]) -> Sequence[str]:
    """What is made of some cells, each different ones once; ``known`` remembers it."""
    found = list(map(known.get, keys))
    if None in found:
        if len(known) >= _MOST_REMEMBERED:
            known.clear()
        known.update((key, make(*key)) for key in set(keys) if key not in known)
        return list(map(known.__getitem__, keys))
    return cast("list[str]", found)


def _same_place(item: str, setup: str, position: str, clocking: str) -> str:
    with suppress(RefusedError):
        clocking = format_clocking(parse_clocking(clocking)).casefold()
    return _BETWEEN.join((item.strip().casefold(), setup.strip().casefold(), position.strip().casefold(), clocking))


def _same_sitting(sitting: str, taken_at: str) -> str:
    return sitting.strip() or times.day(taken_at.strip())


def _folded(value: object) -> object:
    return value.casefold() if isinstance(value, str) else value
