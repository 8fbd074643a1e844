"""Many stations writing at once, and one that keeps the logbook to itself.

QCLOG_TEST_WRITERS_SECONDS says for how long 8 writers on SQLite and 16 on PostgreSQL are kept at it (4 for 3 s unless
told); what each committed and the longest wait are printed, and seen with ``pytest -s``.
"""

import multiprocessing
import os
import sqlite3
import time
from collections import Counter
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import BusyError
from qclog.logbook import databases, schema
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.records import Clamping, Reading, Turn

LONG = "QCLOG_TEST_WRITERS_SECONDS" in os.environ
WRITERS = {"sqlite": 8, "postgresql": 16} if LONG else {"sqlite": 4, "postgresql": 4}
SECONDS = float(os.environ.get("QCLOG_TEST_WRITERS_SECONDS", "3"))
TURN = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)


def keep_logging(target: str, writer: int, barrier: Any, said: Any) -> None:
    """One station: logs clampings until the time is up; says the uuids it was told are kept, and its longest wait."""
    os.environ["QCLOG_STATION"] = f"station-{writer}"
    store = open_store(target)
    record = Clamping("C-046", "LATHE", "2026-03-04", (TURN,), position="A", sitting=f"at {writer}")
    kept, longest = [], 0.0
    barrier.wait()
    end = time.monotonic() + SECONDS
    try:
        while (began := time.monotonic()) < end:
            with new_entry(store, "log") as entry:
                one = Resolver(Register(entry.connection)).resolve(record)
                write_clampings(entry, [one])
            kept.append(one.uuid)
            longest = max(longest, time.monotonic() - began)
    finally:
        store.close()
        said.put((writer, kept, longest))


def test_many_writers_at_once_lose_and_double_nothing(book: Store) -> None:
    writers = WRITERS[book.dialect]
    context = multiprocessing.get_context("spawn")
    barrier, said = context.Barrier(writers), context.Queue()
    children = [
        context.Process(target=keep_logging, args=(book.target, writer, barrier, said)) for writer in range(writers)
    ]
    for child in children:
        child.start()
    try:
        answers = sorted(said.get(timeout=SECONDS + 90) for _ in children)
    finally:
        for child in children:
            child.join(timeout=30)
            child.terminate()
    assert [child.exitcode for child in children] == [0] * writers
    acknowledged = [uuid for _, kept, _ in answers for uuid in kept]
    longest = max(wait for _, _, wait in answers)
    print(f"\n{book.dialect}, {SECONDS:g} s: commits {[len(kept) for _, kept, _ in answers]}, longest {longest:.2f} s")

    with book.reading() as connection:
        there = Counter(connection.scalars(sa.select(schema.clamping.c.uuid)))
        figures = connection.scalar(sa.select(sa.func.count()).select_from(schema.figure))
        entries: dict[str, list[int]] = {}
        for row in connection.execute(sa.select(schema.entry.c.station, schema.entry.c.sequence)):
            entries.setdefault(row.station, []).append(row.sequence)
    assert set(there.values()) == {1}
    assert sorted(there) == sorted(acknowledged)
    assert figures == len(acknowledged)
    for writer, kept, _ in answers:
        assert sorted(entries[f"station-{writer}"]) == list(range(1, len(kept) + 1))
        assert kept, f"writer {writer} never got through"
    assert longest < databases.WAIT_SECONDS


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(databases, "WAIT_SECONDS", 0.3)


def write(store: Store) -> None:
    with new_entry(store, "unit") as entry:
        entry.add(schema.setting, key="unit", value="um")


@pytest.mark.usefixtures("impatient")
def test_a_logbook_locked_for_long_is_busy_and_nothing_is_written(sqlite_book: Store) -> None:
    other = sqlite3.connect(sqlite_book.target, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    with pytest.raises(BusyError, match="Nothing was written; try again") as busy:
        write(sqlite_book)
    assert 0.3 <= time.monotonic() - began < 5
    assert busy.value.exit_code == 5
    assert "\n" not in str(busy.value)
    with sqlite_book.reading() as connection:  # a writer does not keep readers out
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.setting)) == 0
    other.execute("ROLLBACK")
    other.close()
    write(sqlite_book)


@pytest.mark.usefixtures("impatient")
def test_a_logbook_taken_over_by_another_program_is_busy_when_opened(sqlite_book: Store) -> None:
    sqlite_book.close()
    other = sqlite3.connect(sqlite_book.target, isolation_level=None)
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(BusyError) as busy:
        open_store(sqlite_book.target)
    assert busy.value.exit_code == 5
    other.close()
    open_store(sqlite_book.target).close()


def test_a_lock_that_is_given_up_in_time_is_waited_for(sqlite_book: Store) -> None:
    context = multiprocessing.get_context("spawn")
    locked = context.Event()
    child = context.Process(target=hold_for_a_while, args=(sqlite_book.target, locked))
    child.start()
    assert locked.wait(30)
    write(sqlite_book)
    child.join()
    assert child.exitcode == 0


def hold_for_a_while(path: str, locked: Any) -> None:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("BEGIN IMMEDIATE")
    locked.set()
    time.sleep(0.5)
    connection.execute("ROLLBACK")
    connection.close()


def test_a_reader_sees_one_state_while_others_write(store: Store) -> None:
    """On PostgreSQL two statements of one transaction may see different states unless it is told otherwise."""
    write(store)
    count = sa.select(sa.func.count()).select_from(schema.setting)
    with store.reading() as connection:
        first = connection.scalar(count)
        write(store)
        assert connection.scalar(count) == first == 1
    with store.reading() as connection:
        assert connection.scalar(count) == 2
