"""A writer killed at any moment loses nothing that was acknowledged and leaves nothing half done."""

import functools
import os
import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.logbook import append_only, schema
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.verifying import verify
from qclog.records import Clamping, Reading, Turn

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked and killed with POSIX signals"),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),
]

Say = Callable[[str], None]
Killed = Callable[[Callable[[Say], None], float], list[str]]

LOGGING_KILLS = 30
IMPORT_KILLS = 12
FILES = 2
ROWS_A_FILE = 1_200  # several of the batches an import is written in, and enough for guards to be taken off
MM = 1_000_000_000
UM = 1_000_000


def log_one_by_one(path: Path, say: Say) -> None:
    """Clampings without end, each in a transaction of its own, each said when it is kept."""
    store = open_store(str(path))
    say("open")
    readings = tuple(Reading(value * UM, str(value), UM) for value in (4, 1, -3, 0))
    turns = (Turn("point", readings, 16 * MM), Turn("tir", (Reading(5 * UM, "5", UM),), 40 * MM))
    record = Clamping("C-046", "LATHE", "2026-03-04", turns, position="A")
    while True:
        with new_entry(store, "log") as entry:
            resolved = Resolver(Register(entry.connection)).resolve(record)
            write_clampings(entry, [resolved])
        say(resolved.uuid)


def import_files(path: Path, say: Say, files: list[Path]) -> None:
    store = open_store(str(path))
    say("open")
    for file in files:
        import_readings(store, file)
        say(file.stem)


def assert_sound(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()


def clampings(store: Store) -> dict[str, int]:
    """How often each clamping is there."""
    column = schema.clamping.c.uuid
    with store.reading() as connection:
        rows = connection.execute(sa.select(column, sa.func.count()).group_by(column))
        return {row[0]: row[1] for row in rows}


def assert_whole(store: Store) -> None:
    """Every clamping has its turns and readings, every turn its figure, every entry its facts, without gaps."""
    turns = sa.select(schema.turn.c.id, schema.turn.c.clamping_id).subquery()
    with store.reading() as connection:
        without_turn = sa.select(schema.clamping.c.id).where(
            schema.clamping.c.id.not_in(sa.select(schema.turn.c.clamping_id))
        )
        assert list(connection.scalars(without_turn)) == []
        without_figure = sa.select(turns.c.id).where(turns.c.id.not_in(sa.select(schema.figure.c.turn_id)))
        assert list(connection.scalars(without_figure)) == []
        without_turn_again = sa.select(schema.figure.c.turn_id).where(
            schema.figure.c.turn_id.not_in(sa.select(schema.turn.c.id))
        )
        assert list(connection.scalars(without_turn_again)) == []
        counts = sa.select(sa.func.count(schema.reading.c.id)).group_by(schema.reading.c.turn_id)
        assert set(connection.scalars(counts)) <= {1, 4}
        sequences = list(connection.scalars(sa.select(schema.entry.c.sequence).order_by(schema.entry.c.sequence)))
    assert sequences == list(range(1, len(sequences) + 1))


@pytest.fixture
def logbook(sqlite_workshop: Path, tmp_path: Path) -> Path:
    path = tmp_path / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    return path


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    """Files in the exchange form, each with clampings of a sitting of its own."""
    made = []
    for number in range(FILES):
        path = tmp_path / f"file{number}.csv"
        lines = ["taken_at,sitting,item,setup,position,clamping,distance,kind,value,unit"]
        lines += [f"2026-03-04,file{number},C-047,LATHE,B,{row},16,tir,{2 + row % 7},um" for row in range(ROWS_A_FILE)]
        path.write_text("\n".join(lines) + "\n")
        made.append(path)
    return made


def test_what_was_acknowledged_before_a_kill_is_there_once(logbook: Path, killed: Killed) -> None:
    def work(say: Say) -> None:
        log_one_by_one(logbook, say)

    moment = random.Random(70)
    acknowledged: list[str] = []
    begun = time.monotonic()
    acknowledged += killed(work, -1.0)
    one_clamping = time.monotonic() - begun  # with the start of its child, so that later ones get somewhere
    silent = 0
    for _ in range(LOGGING_KILLS):
        said = killed(work, moment.uniform(0.0, 2 * one_clamping))
        acknowledged += said
        silent += not said
        assert_sound(logbook)
    store = open_store(str(logbook))
    there = clampings(store)
    assert set(there.values()) == {1}
    assert len(acknowledged) == len(set(acknowledged))
    assert set(acknowledged) <= there.keys()
    assert len(there) <= len(acknowledged) + LOGGING_KILLS + 1  # kept, but killed before it could say so
    assert_whole(store)
    assert verify(store).sound
    store.close()
    assert silent < LOGGING_KILLS, "no child lived long enough to log anything"


def test_an_import_that_is_killed_is_there_whole_or_not_at_all(
    sqlite_workshop: Path, tmp_path: Path, files: list[Path], killed: Killed
) -> None:
    moment = random.Random(30)
    outcomes = set()
    one_import = seconds_of_an_import(sqlite_workshop, tmp_path, files[0])
    for number in range(IMPORT_KILLS):
        path = tmp_path / f"book{number}.sqlite"
        shutil.copyfile(sqlite_workshop, path)
        after = moment.uniform(0.0, FILES * one_import * 1.2)
        said = killed(functools.partial(import_files, path, files=files), after)
        assert_sound(path)
        store = open_store(str(path))
        count = len(clampings(store))
        assert count % ROWS_A_FILE == 0
        assert len(said) <= count // ROWS_A_FILE <= len(said) + 1
        assert_whole(store)
        with store.reading() as connection:
            assert append_only.found(connection) == append_only.triggers("sqlite", schema.FACTS)
        if count // ROWS_A_FILE not in outcomes:
            again = [import_readings(store, file) for file in files]
            assert sum(one.skipped for one in again) == count
            assert sum(one.clampings for one in again) == FILES * ROWS_A_FILE - count
        outcomes.add(count // ROWS_A_FILE)
        store.close()
        path.unlink()
    assert len(outcomes) > 1, "every kill came at the same place"


def seconds_of_an_import(workshop: Path, folder: Path, file: Path) -> float:
    path = folder / "timed.sqlite"
    shutil.copyfile(workshop, path)
    store = open_store(str(path))
    import_readings(store, file)  # the first one also loads modules
    store.close()
    shutil.copyfile(workshop, path)
    store = open_store(str(path))
    began = time.monotonic()
    import_readings(store, file)
    store.close()
    return time.monotonic() - began
