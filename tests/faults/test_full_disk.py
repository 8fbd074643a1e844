"""A disk that is full: one clear line, nothing half done, and the logbook still opens.

A limit on the size of files (RLIMIT_FSIZE) stands for the full disk; it holds for a child process only.
"""

import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import open_store
from qclog.questions.assess import assess

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no limit on the size of files")

KB = 1024

LOG_UNTIL_IT_FAILS = """
import resource, signal, sys
from qclog.errors import QclogError
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.records import Clamping, Reading, Turn

path, limit, batch = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
turn = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
record = Clamping("C-046", "LATHE", "2026-03-04", (turn,), position="A", note="x" * 500)
try:
    store = open_store(path, create=True)
    while True:
        with new_entry(store, "log") as entry:
            resolver = Resolver(Register(entry.connection))
            resolved = [resolver.resolve(record) for _ in range(batch)]
            write_clampings(entry, resolved)
        print(*(one.uuid for one in resolved))
except QclogError as error:
    print(error, file=sys.stderr)
    sys.exit(error.exit_code)
"""


def log_until_it_fails(path: Path, limit: int, batch: int) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", LOG_UNTIL_IT_FAILS, str(path), str(limit), str(batch)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
        cwd=Path(__file__).parents[2],
    )


@pytest.mark.parametrize(("room_kb", "batch"), [(150, 1), (60, 40)])
def test_a_full_disk_is_said_in_one_line_and_nothing_is_half_done(
    sqlite_workshop: Path, tmp_path: Path, room_kb: int, batch: int
) -> None:
    path = tmp_path / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    child = log_until_it_fails(path, room_kb * KB, batch)
    assert child.returncode == 4, child.stderr
    assert child.stderr.count("\n") == 1
    assert "could not be written" in child.stderr
    assert "Make room on the disk" in child.stderr
    acknowledged = child.stdout.split()
    assert bool(acknowledged) is (batch == 1), "the room given does not fit the case any more"

    with sqlite3.connect(path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()
    store = open_store(str(path))
    with store.reading() as opened:
        assert sorted(opened.scalars(sa.select(schema.clamping.c.uuid))) == sorted(acknowledged)
        assert opened.scalar(sa.select(sa.func.count()).select_from(schema.figure)) == len(acknowledged)
    assess(store)
    with store.writing() as writing:
        writing.execute(schema.figure.delete())
    store.close()


def test_a_logbook_that_finds_no_room_at_all_can_be_made_later(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite"
    child = log_until_it_fails(path, 20 * KB, 1)
    assert child.returncode == 4, child.stderr
    assert child.stderr.count("\n") == 1
    assert child.stdout == ""
    store = open_store(str(path), create=True)
    with store.reading() as connection:
        assert connection.scalar(sa.select(schema.schema_revision.c.version_num)) == schema.REVISION
    store.close()
