"""Importing a file in the exchange form: all of it as one entry, or nothing."""

import gc
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from qclog import texts
from qclog.errors import QclogError, RefusedError
from qclog.logbook import append_only, schema
from qclog.logbook.bonding import refuse_once_bonded
from qclog.logbook.clampings import Resolved, Resolver, write_clampings
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.exchange.content import KnownClampings
from qclog.logbook.exchange.faults import Faults
from qclog.logbook.exchange.file import COLUMNS, ExchangeFile
from qclog.logbook.exchange.gathering import Gathered, Gatherer, Survey, named_in
from qclog.logbook.exchange.names import Names
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.records import RUNOUT, Limit

Look = Callable[[Register, Sequence[tuple[int, Resolved]]], None]
"""What is shown clampings about to be written, with their lines."""

_TABLES: Final = (schema.sitting, schema.clamping, schema.clamping_body, schema.turn, schema.reading)
"""What clampings are written into."""
_MANY_ROWS: Final = 1_000
_BATCH_CLAMPINGS: Final = 2_000
_BATCH_READINGS: Final = 20_000


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
    file = ExchangeFile(path)
    survey = Survey(file)
    faults = Faults(path.name)
    with new_entry(store, f"import {texts.shown(path.name)}", who) as entry:
        register = Register(entry.connection)
        names = Names(entry, register, faults, create, file.delimiter)
        names.settle(survey.named)
        gatherer = Gatherer(file, survey, faults)
        writer = _Writer(entry, register, faults, look)
        many = _TABLES if survey.rows >= _MANY_ROWS else ()
        with append_only.inserting_many(entry.connection, many), _no_search_for_garbage():
            known = (one for one in gatherer.clampings() if not names.unknown or names.known(named_in(one.head)))
            for batch in _batches(known):
                writer.write(batch)
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
        self._faults = faults
        self._look = look

    def write(self, batch: Sequence[Gathered]) -> None:
        resolved = [(one, found) for one in batch if (found := self._resolve(one))]
        known = KnownClampings(self._entry.connection, [found.uuid for _, found in resolved])
        new: list[Resolved] = []
        others: list[tuple[Gathered, Resolved]] = []
        for one, found in resolved:
            if found.uuid not in known:
                new.append(found)
                if any(turn.characteristic != RUNOUT for turn in found.turns):
                    others.append((one, found))
            elif other := known.difference(found):
                column, remark = other
                self._add_fault(one, column, f"This clamping is in the logbook already with other {remark}.")
            else:
                self.skipped += 1
        if others:
            self._look_at(others)
        if new and not self._faults.total:
            write_clampings(self._entry, new)
            self.clampings += len(new)
            self.readings += sum(len(turn.readings) for found in new for turn in found.turns)

    def _look_at(self, others: Sequence[tuple[Gathered, Resolved]]) -> None:
        """Refuses what cannot have been read any more; what is doubtful is shown to who asked for it."""
        seen: dict[tuple[int, int, str], RefusedError | None] = {}
        for one, found in others:
            for characteristic in dict.fromkeys(turn.characteristic for turn in found.turns):
                key = (found.place.item.id, found.place.modification_number, characteristic)
                if key not in seen:
                    seen[key] = self._too_late(found, characteristic)
                if (error := seen[key]) is not None:
                    self._faults.add_refusal(one.line, "characteristic", characteristic, error)
        if self._look is not None and not self._faults.total:
            self._look(self._register, [(one.line, found) for one, found in others])

    def _too_late(self, found: Resolved, characteristic: str) -> RefusedError | None:
        try:
            refuse_once_bonded(self._register, found.place.item, found.place.modification_number, characteristic)
        except RefusedError as error:
            return error
        return None

    def _resolve(self, one: Gathered) -> Resolved | None:
        try:
            return self._resolver.resolve_shared(one.shared, one.taken_at, one.label, one.recalled, one.turns)
        except QclogError as error:
            column = self._column_at_fault(one)
            self._faults.add_refusal(one.line, column, one.head[COLUMNS.index(column)], error)
            return None

    def _column_at_fault(self, one: Gathered) -> str:
        """Which cell a clamping could not be resolved for: its modification, its time, else its item."""
        record, taken_at, register = one.shared.record, one.taken_at, self._register
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

    def _add_fault(self, one: Gathered, column: str, what: str) -> None:
        remedy = "Strike it out there and import it with another label, or leave it out here."
        self._faults.add(one.line, column, one.head[COLUMNS.index(column)], what, remedy)


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


def _batches(gathered: Iterable[Gathered]) -> Iterator[list[Gathered]]:
    batch: list[Gathered] = []
    readings = 0
    for one in gathered:
        batch.append(one)
        readings += sum([len(turn.readings) for turn in one.turns])
        if len(batch) >= _BATCH_CLAMPINGS or readings >= _BATCH_READINGS:
            yield batch
            batch, readings = [], 0
    if batch:
        yield batch


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
