"""A disk that fills up while importing, modifying, backing up, going back or changing the schema: one clear line,
nothing half done, and it all works once there is room.

A limit on the size of files (RLIMIT_FSIZE), in a forked child only, stands for the full disk.
"""

import os
import shutil
import signal
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.errors import QclogError, RefusedError
from qclog.logbook import items, schema
from qclog.logbook.engine import open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.backing_up import backup, restore
from qclog.logbook.safekeeping.copying import copy
from qclog.logbook.safekeeping.verifying import verify
from qclog.records import Work

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="there is no limit on the size of files"),
    pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning"),
]

KB = 1024
LIMITS_KB = (0, 100, 260, 300)
SCHEMA = Path(__file__).parents[1] / "qclog" / "logbook" / "schemas" / "0001.sqlite.sql"
Doing = Callable[[Path], object]


def with_room(kilobytes: int, doing: Doing, path: Path) -> tuple[int, str]:
    """The exit code and the words of a child that may write no file beyond a size."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        import resource

        code = 70
        try:
            os.close(reading)
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (kilobytes * KB, kilobytes * KB))
            try:
                doing(path)
                code = 0
            except QclogError as error:
                os.write(writing, str(error).encode())
                code = error.exit_code
            except BaseException as error:
                os.write(writing, repr(error).encode())
        finally:
            os._exit(code)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        said = pipe.read().decode()
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status), said


def import_many(path: Path) -> None:
    store = open_store(str(path))
    import_readings(store, path.with_name("readings.csv"))


def modify_with_a_long_story(path: Path) -> None:
    store = open_store(str(path))
    with new_entry(store, "modify") as entry:
        register = Register(entry.connection)
        for _ in range(400):
            work = Work("ground", "2026-03-04", note="n" * 500)
            items.modify(entry, register, register.need("K-1", "item"), work)


def back_up(path: Path) -> None:
    backup(open_store(str(path)), path.with_name("kept.sqlite"))


def go_back(path: Path) -> None:
    restore(str(path), path.with_name("earlier.kept"), lose=True)


def copy_all(path: Path) -> None:
    copy(str(path), str(path.with_name("copied.sqlite")))


def change_schema(path: Path) -> None:
    open_store(str(path)).close()


@pytest.fixture
def logbook(sqlite_workshop: Path, tmp_path: Path) -> Path:
    path = tmp_path / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    store = open_store(str(path))
    backup(store, tmp_path / "earlier.kept")
    with new_entry(store, "later") as entry:
        entry.add(schema.setting, key="unit", value="um")
    store.close()
    header = "taken_at,sitting,item,setup,position,clamping,distance,kind,value,unit\n"
    rows = (f"2026-03-04,s,C-047,LATHE,B,{row},16,tir,{2 + row % 7},um\n" for row in range(500))
    (tmp_path / "readings.csv").write_text(header + "".join(rows))
    return path


def state(path: Path) -> tuple[int, list[str]]:
    """How many entries there are in a logbook that is sound, and the logbooks seen beside it."""
    store = open_store(str(path))
    assert verify(store).sound
    with store.reading() as connection:
        count = connection.scalar(sa.select(sa.func.count()).select_from(schema.entry)) or 0
    store.close()
    return count, sorted(one.name for one in path.parent.iterdir() if one.name[0] != "." and one.suffix == ".sqlite")


@pytest.mark.parametrize("doing", [import_many, modify_with_a_long_story, back_up, go_back, copy_all])
def test_a_disk_that_fills_up_is_said_in_one_line_and_nothing_is_half_done(logbook: Path, doing: Doing) -> None:
    before = state(logbook)
    codes = []
    for room in LIMITS_KB:
        code, said = with_room(room, doing, logbook)
        codes.append(code)
        if code == 0:
            break
        assert code == RefusedError.exit_code, (room, said)
        assert "could not be written" in said or "cannot be opened for writing" in said, (room, said)
        assert "\n" not in said
        assert state(logbook) == before
    assert codes[0] != 0, "there was room from the beginning"
    if codes[-1] != 0:
        doing(logbook)
    assert state(logbook) != before


def test_a_disk_that_fills_up_while_the_schema_changes_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite"
    codes: list[int] = []
    for room in LIMITS_KB:
        file = sqlite3.connect(path)
        if not codes:
            file.executescript(SCHEMA.read_text(encoding="utf-8"))
        (revision,) = file.execute("SELECT version_num FROM schema_revision").fetchone()
        file.close()
        if revision == schema.REVISION:
            break
        code, said = with_room(room, change_schema, path)
        codes.append(code)
        assert code in (0, RefusedError.exit_code), (room, said)
        assert "\n" not in said
    assert codes[0] != 0
    assert codes[-1] == 0
    assert state(path)[0] == 22
