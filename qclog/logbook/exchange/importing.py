"""Importing a file in the exchange form: all of it as one entry, or nothing."""

import gc
import itertools
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from qclog import texts
from qclog.errors import QclogError, RefusedError
from qclog.logbook import append_only, schema
from qclog.logbook.bonding import refuse_once_bonded
from qclog.logbook.clampings import Resolved, ResolvedColumns, Resolver, write_columns
from qclog.logbook.deriving import Ids
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.exchange.content import KnownClampings
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, ExchangeFile
from qclog.logbook.exchange.gathering import Gathered, Gatherer, Survey, named_in
from qclog.logbook.exchange.names import Names
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.records import RUNOUT, Clamping, Limit, Turn

Look = Callable[[Register, Sequence[tuple[int, Resolved]]], None]
"""What is shown clampings about to be written, with their lines."""

_TABLES: Final = (schema.sitting, schema.clamping, schema.clamping_body, schema.turn, schema.reading)
"""What clampings are written into."""
_MANY_ROWS: Final = 1_000
_BATCH_CLAMPINGS: Final = 5_000
_BATCH_READINGS: Final = 20_000
_MOST_REMEMBERED: Final = 50_000
C = TypeVar("C", Gathered, ResolvedColumns)


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import wrote, what it found there already (``skipped`` clampings), and what it made anew.

    ``created_positions`` are written as setup and position; ``limits`` counts limits of created items.
    """

    clampings: int
    skipped: int
    readings: int
    created_items: tuple[str, ...] = ()
    created_setups: tuple[str, ...] = ()
    created_positions: tuple[str, ...] = ()
    created_pins: tuple[str, ...] = ()
    limits: int = 0

    @property
    def created(self) -> tuple[str, ...]:
        """The codes that are new."""
        return self.created_items + self.created_setups + self.created_pins


def import_readings(
    store: Store, path: Path, *, create: bool = False, who: str = "", look: Look | None = None
) -> Imported:
    """Import a file in the exchange form as one entry.

    ``create``: unknown items (of kind other, with the limits the file gives), setups with their positions and
    pins with a diameter are made. A clamping that is there already, struck out or not, is skipped. ``look`` is
    shown what else than run-out is about to be written, with the line each clamping begins in. Raises
    ImportRefusedError with every fault, and then nothing was written; NotFoundError where there is no file.
    """
    with _no_search_for_garbage():
        return _import(store, ExchangeFile(path), create, who, look)


def _import(store: Store, file: ExchangeFile, create: bool, who: str, look: Look | None) -> Imported:
    survey = Survey(file)
    name = file.path.name
    faults = Faults(name)
    with new_entry(store, f"import {texts.shown(name)}", who) as entry:
        register = Register(entry.connection)
        names = Names(entry, register, faults, create, file.delimiter)
        names.settle(survey.named)
        gatherer = Gatherer(file, survey, faults)
        writer = _Writer(entry, register, faults, look)
        many = _TABLES if survey.rows >= _MANY_ROWS else ()
        with append_only.inserting_many(entry.connection, many):
            for batch in _batches(gatherer.clampings()):
                known = batch
                if names.unknown:
                    known = _chosen(batch, [names.known(named_in(head)) for head in batch.heads])
                writer.write(known)
        limits = _set_limits(entry, register, gatherer, names.items)
        faults.refuse_if_any()
    return Imported(
        writer.clampings,
        writer.skipped,
        writer.readings,
        tuple(names.items),
        tuple(names.setups),
        tuple(names.positions),
        tuple(names.pins),
        limits,
    )


class _Writer:
    """Writes clampings batch by batch; once there is a fault it only looks for more."""

    def __init__(self, entry: Entry, register: Register, faults: Faults, look: Look | None) -> None:
        self.clampings = self.skipped = self.readings = 0
        self._entry = entry
        self._register = register
        self._resolver = Resolver(register)
        self._ids: Ids = {}
        self._faults = faults
        self._look = look

    def write(self, batch: Gathered) -> None:
        batch, resolved = self._resolve(batch)
        known = KnownClampings(self._entry.connection, resolved.uuids)
        new = [uuid not in known for uuid in resolved.uuids]
        for at in [at for at, is_new in enumerate(new) if not is_new]:
            if other := known.difference(Resolved._make(column[at] for column in resolved)):
                column, remark = other
                self._add_fault(batch, at, column, f"This clamping is in the logbook already with other {remark}.")
            else:
                self.skipped += 1
        found = _chosen(resolved, new)
        others = [at for at, turns in enumerate(found.turns) if any(one.characteristic != RUNOUT for one in turns)]
        if others:
            lines = _chosen(batch, new).lines
            self._look_at([(lines[at], Resolved._make(column[at] for column in found)) for at in others])
        if found.uuids and not self._faults.total:
            if len(self._ids) >= _MOST_REMEMBERED:
                self._ids.clear()
            write_columns(self._entry, found, self._ids)
            self.clampings += len(found.uuids)
            self.readings += _count(found.turns)

    def _look_at(self, others: Sequence[tuple[int, Resolved]]) -> None:
        """Refuses what cannot have been read any more; what is doubtful is shown to who asked for it."""
        seen: dict[tuple[int, int, str], RefusedError | None] = {}
        for line, found in others:
            for characteristic in dict.fromkeys(turn.characteristic for turn in found.turns):
                key = (found.place.item.id, found.place.modification_number, characteristic)
                if key not in seen:
                    seen[key] = self._too_late(found, characteristic)
                if (error := seen[key]) is not None:
                    self._faults.add_refusal(line, "characteristic", characteristic, error)
        if self._look is not None and not self._faults.total:
            self._look(self._register, others)

    def _too_late(self, found: Resolved, characteristic: str) -> RefusedError | None:
        try:
            refuse_once_bonded(self._register, found.place.item, found.place.modification_number, characteristic)
        except RefusedError as error:
            return error
        return None

    def _resolve(self, batch: Gathered) -> tuple[Gathered, ResolvedColumns]:
        """Those that can be resolved; only where not all can, one after the other, to say which and why."""
        with suppress(QclogError):
            return batch, self._resolver.resolve_all(*batch[2:])
        sound = [self._resolves(_part(batch, at)) for at in range(len(batch.lines))]
        batch = _chosen(batch, sound)
        return batch, self._resolver.resolve_all(*batch[2:])

    def _resolves(self, one: Gathered) -> bool:
        try:
            self._resolver.resolve_all(*one[2:])
        except QclogError as error:
            column = self._column_at_fault(one.shared[0].record, one.taken_at[0])
            self._faults.add_refusal(one.lines[0], column, one.heads[0][COLUMNS.index(column)], error)
            return False
        return True

    def _column_at_fault(self, record: Clamping, taken_at: str) -> str:
        """Which cell a clamping could not be resolved for: its modification, its time, else its item."""
        register = self._register
        item = register.need(record.item, "item")
        checks: list[tuple[str, Callable[[], object]]] = [
            (
                "modification",
                lambda: (
                    register.modification_at(item, taken_at)
                    if record.modification is None
                    else register.modification(item, record.modification)
                ),
            )
        ]
        if record.setup:
            setup = register.need(record.setup, "setup")
            checks.append(("taken_at", lambda: register.revision_at(setup, taken_at)))
        for column, check in checks:
            try:
                check()
            except QclogError:
                return column
        return "item"

    def _add_fault(self, batch: Gathered, at: int, column: str, what: str) -> None:
        remedy = "Strike it out there and import it with another label, or leave it out here."
        self._faults.add(batch.lines[at], column, batch.heads[at][COLUMNS.index(column)], what, remedy)


@contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """What an import makes is let go of without being searched for; searching takes a quarter of its time."""
    searching = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if searching:
            gc.enable()


def _batches(gathered: Iterable[Gathered]) -> Iterator[Gathered]:
    batch: list[list[Any]] = [[] for _ in Gathered._fields]
    readings = 0
    for some in gathered:
        for column, more in zip(batch, some, strict=True):
            column.extend(more)
        readings += _count(some.turns)
        if len(batch[0]) >= _BATCH_CLAMPINGS or readings >= _BATCH_READINGS:
            yield Gathered(*batch)
            batch, readings = [[] for _ in Gathered._fields], 0
    if batch[0]:
        yield Gathered(*batch)


def _count(turns: Iterable[tuple[Turn, ...]]) -> int:
    """How many readings there are in the turns of some clampings."""
    return sum([len(turn.readings) for together in turns for turn in together])


def _part(columns: C, at: int) -> C:
    """One of them, column by column."""
    return type(columns)._make(column[at : at + 1] for column in columns)


def _chosen(columns: C, which: Sequence[bool]) -> C:
    """Some of them, column by column."""
    if all(which):
        return columns
    return type(columns)._make(list(itertools.compress(column, which)) for column in columns)


def _set_limits(entry: Entry, register: Register, gatherer: Gatherer, created: Sequence[str]) -> int:
    """Give the created items their limits; those of known items are left as they are."""
    items = {code.casefold(): code for code in created}
    count = 0
    for key, ((lower_pm, upper_pm), text, _) in gatherer.limits.items():
        if key.item in items:
            item = register.need(items[key.item], "item")
            limit = Limit(upper_pm, key.distance_pm, key.characteristic, lower_pm=lower_pm, text=text)
            set_limit(entry, register, item, 0, limit)
            count += 1
    return count
