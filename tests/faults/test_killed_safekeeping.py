"""Killed while modifying, backing up, going back or changing the schema: nothing acknowledged is lost, nothing half
done is seen, and verify finds nothing.

QCLOG_TEST_KILLS=300 kills that many children, over logging and importing too, instead of a few.
"""

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

from qclog.logbook import items, schema
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import open_as_it_is, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.backing_up import backup, restore
from qclog.logbook.safekeeping.verifying import verify
from qclog.records import Clamping, Reading, Turn, Work

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked and killed with POSIX signals"),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),
]

Say = Callable[[str], None]
Killed = Callable[[Callable[[Say], None], float], list[str]]
KINDS = 6
KILLS = max(3, int(os.environ.get("QCLOG_TEST_KILLS", "0")) // KINDS)
LONG = KILLS > 3
SCHEMA = Path(__file__).parents[1] / "qclog" / "logbook" / "schemas" / "0001.sqlite.sql"
UM = 1_000_000


@pytest.fixture
def logbook(sqlite_workshop: Path, tmp_path: Path) -> Path:
    path = tmp_path / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    return path


def entries(path: Path) -> int:
    """How many there are in a logbook that is sound."""
    store = open_store(str(path))
    assert verify(store).sound, path
    with store.reading() as connection:
        count = connection.scalar(sa.select(sa.func.count()).select_from(schema.entry)) or 0
    store.close()
    return count


def others(path: Path) -> list[Path]:
    """The files beside the logbook that are seen; what was being written when the child was killed is no such file."""
    return [one for one in path.parent.glob("*.sqlite") if one != path]


def seconds(work: Callable[[Say], None], says: int) -> float:
    """How long it takes to say so much, in this process, after its beginning."""
    begun: list[float] = []

    def say(_: str) -> None:
        begun.append(time.monotonic())
        if len(begun) > says:
            raise StopIteration

    with pytest.raises(StopIteration):
        work(say)
    return begun[-1] - begun[0]


def log(path: Path, say: Say) -> None:
    store = open_store(str(path))
    turn = Turn("tir", (Reading(5 * UM, "5", UM),), 16_000 * UM)
    say("open")
    while True:
        with new_entry(store, "log") as entry:
            record = Clamping("C-046", "LATHE", "2026-03-04", (turn,), position="A")
            write_clampings(entry, [Resolver(Register(entry.connection)).resolve(record)])
        say("logged")


def modify(path: Path, say: Say) -> None:
    store = open_store(str(path))
    say("open")
    while True:
        with new_entry(store, "modify") as entry:
            register = Register(entry.connection)
            items.modify(entry, register, register.need("K-1", "item"), Work("ground", "2026-03-04"))
        say("modified")


@pytest.mark.parametrize("work", [log, modify])
def test_killed_while_writing(logbook: Path, killed: Killed, work: Callable[[Path, Say], None]) -> None:
    chance = random.Random(work.__name__)
    doing = functools.partial(work, logbook)
    usual = seconds(doing, 20)
    acknowledged = entries(logbook)
    for number in range(KILLS):
        acknowledged += len(killed(doing, chance.uniform(0, usual)))
        assert acknowledged <= entries(logbook) <= acknowledged + number + 1


@pytest.mark.skipif(not LONG, reason="test_killed_writers.py has it")
def test_killed_while_importing(logbook: Path, tmp_path: Path, killed: Killed) -> None:
    chance = random.Random("import")
    file = tmp_path / "readings.csv"
    header = "taken_at,sitting,item,setup,position,clamping,distance,kind,value,unit\n"
    file.write_text(
        header + "".join(f"2026-03-04,s,C-047,LATHE,B,{row},16,tir,{2 + row % 7},um\n" for row in range(2_400))
    )

    def work(path: Path, say: Say) -> None:
        store = open_store(str(path))
        say("open")
        import_readings(store, file)
        say("imported")

    timed = tmp_path / "timed.sqlite"
    shutil.copyfile(logbook, timed)
    usual = seconds(functools.partial(work, timed), 1)
    before = entries(logbook)
    seen = set()
    for number in range(KILLS):
        path = tmp_path / f"book{number}.sqlite"
        shutil.copyfile(logbook, path)
        said = killed(functools.partial(work, path), chance.uniform(0, 1.2 * usual))
        found = entries(path)
        assert before + len(said) <= found <= before + 1
        seen.add(found)
    assert seen == {before, before + 1}


def test_killed_while_backing_up(logbook: Path, killed: Killed) -> None:
    chance = random.Random("backup")

    def work(say: Say) -> None:
        store = open_store(str(logbook))
        say("open")
        while True:
            path, _ = backup(store)
            say(path.name)

    usual = seconds(work, 2)
    acknowledged = {path.name for path in others(logbook)}
    for _ in range(KILLS):
        acknowledged |= set(killed(work, chance.uniform(0, usual)))
    assert acknowledged <= {path.name for path in others(logbook)}
    assert {entries(path) for path in others(logbook)} == {entries(logbook)}


def test_killed_while_going_back(logbook: Path, killed: Killed) -> None:
    chance = random.Random("restore")
    short = logbook.with_name("short.kept")
    store = open_store(str(logbook))
    backup(store, short)
    for key in range(3):
        with new_entry(store, "setting") as entry:
            entry.add(schema.setting, key=str(key), value="x" * 20_000)
    full = logbook.with_name("full.kept")
    backup(store, full)
    store.close()
    counts = {entries(short), entries(full)}

    def work(say: Say) -> None:
        say("begun")
        while True:
            for path in (short, full):
                restore(str(logbook), path, lose=True)
                say(path.name)

    usual = seconds(work, 2)
    seen = set()
    for _ in range(KILLS):
        killed(work, chance.uniform(0, usual))
        seen.add(entries(logbook))
        for kept in others(logbook):
            assert entries(kept) in counts
            kept.unlink()
    assert seen <= counts
    assert seen == counts or not LONG


def test_killed_while_the_schema_changes(tmp_path: Path, killed: Killed) -> None:
    chance = random.Random("schema")
    old = tmp_path / "old.kept"
    file = sqlite3.connect(old)
    file.executescript(SCHEMA.read_text(encoding="utf-8"))
    file.close()

    def work(path: Path, say: Say) -> None:
        say("begun")
        store = open_store(str(path))
        say("moved")
        store.close()

    loading, timed = tmp_path / "loading.sqlite", tmp_path / "timed.sqlite"
    shutil.copyfile(old, loading)
    shutil.copyfile(old, timed)
    seconds(functools.partial(work, loading), 1)  # loads what a change needs, before children are forked
    began = time.monotonic()
    killed(functools.partial(work, timed), -1.0)
    usual = time.monotonic() - began
    seen = set()
    for number in range(KILLS):
        path = tmp_path / str(number) / "book.sqlite"
        path.parent.mkdir()
        shutil.copyfile(old, path)
        said = killed(functools.partial(work, path), chance.uniform(0, 2 * usual))
        asked = sqlite3.connect(path)
        (revision,) = asked.execute("SELECT version_num FROM schema_revision").fetchone()
        tables = asked.execute("SELECT count(*) FROM sqlite_master WHERE name LIKE '%entry_digest%'").fetchone()[0]
        asked.close()
        assert (revision == schema.REVISION) is (tables > 0)
        assert revision == schema.REVISION or not said
        seen.add(revision)
        for kept in others(path):
            open_as_it_is(str(kept)).close()
        assert len(others(path)) >= (revision == schema.REVISION)
        assert entries(path) == 22
    assert seen == {"0001", schema.REVISION} or not LONG
