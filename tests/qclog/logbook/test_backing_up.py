"""Backups are made while others write; going back to one keeps what is there, and loses nothing unasked."""

import contextlib
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog import config
from qclog.errors import BusyError, DamagedError, NotFoundError, RefusedError
from qclog.logbook import items, schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping import backing_up, files
from qclog.logbook.safekeeping.backing_up import backup, restore
from qclog.logbook.safekeeping.verifying import Check, verify
from qclog.questions.assess import assess, document
from qclog.records import Clamping, Reading, Turn

Log = Callable[..., list[int]]
SWING = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)


def one_more(store: Store) -> None:
    with new_entry(store, "unit") as entry:
        items.change_setting(entry, Register(entry.connection), "unit", "um")


def entries(target: str | Path) -> int:
    store = open_store(str(target))
    with store.reading() as connection:
        count = connection.scalar(sa.select(sa.func.count()).select_from(schema.entry))
    assert verify(store).sound
    store.close()
    return count or 0


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@pytest.fixture
def live(sqlite_book: Store, log: Log) -> Store:
    log(sqlite_book, *(Clamping("C-046", "LATHE", f"2026-03-0{day}", (SWING,), position="A") for day in (1, 2, 3)))
    return sqlite_book


@pytest.fixture
def kept(live: Store, tmp_path: Path) -> Path:
    """A backup of two entries, after which a third was written."""
    path, _ = backup(live, tmp_path / "kept.sqlite")
    one_more(live)
    return path


def test_a_backup_is_a_logbook_of_one_file_that_gives_the_same_answers(book: Store, log: Log, tmp_path: Path) -> None:
    log(book, *(Clamping("C-046", "LATHE", f"2026-03-0{day}", (SWING,), position="A") for day in (1, 2, 3)))
    path, found = backup(book, tmp_path / "shelf" / "kept.sqlite")
    assert found.sound
    assert Check.FIGURES not in {check.check for check in found.checks}
    assert names(tmp_path / "shelf") == ["kept.sqlite"]
    assert path.read_bytes()[18:20] == b"\1\1", (
        "with a write-ahead log it could not be read where nothing may be written"
    )
    copy = open_store(str(path))
    assert document(assess(copy)) == document(assess(book))
    assert verify(copy).heads == verify(book).heads
    copy.close()


def test_without_a_name_a_backup_lies_beside_the_logbook_with_the_date(live: Store) -> None:
    first, _ = backup(live)
    second, _ = backup(live)
    beside = Path(live.target)
    assert first.parent == second.parent == beside.parent
    assert first.name.startswith(f"{beside.stem}-20")
    assert first != second


def test_without_a_name_the_backup_of_a_server_lies_in_the_data_folder(postgresql: Any) -> None:
    url = postgresql.new_database()
    store = open_store(url)
    path, _ = backup(store)
    store.close()
    postgresql.drop_database(url)
    assert path.parent == config.backups()
    assert path.name.startswith(str(sa.engine.make_url(url).database))


def test_a_backup_never_overwrites(live: Store, tmp_path: Path) -> None:
    path = tmp_path / "mine.sqlite"
    path.write_text("mine")
    with pytest.raises(RefusedError, match="there already"):
        backup(live, path)
    assert path.read_text() == "mine"
    assert [name for name in names(tmp_path) if "part" in name] == []


def test_what_is_put_there_meanwhile_is_not_overwritten_either(tmp_path: Path) -> None:
    path = tmp_path / "mine.sqlite"

    def write() -> None:
        with files.whole_file(path) as part:
            assert not path.exists()
            part.touch()
            path.write_text("mine")

    with pytest.raises(RefusedError, match="there already"):
        write()
    with pytest.raises(RefusedError, match="there already"), files.whole_file(path):
        pytest.fail("what is refused in the end is not begun")
    assert path.read_text() == "mine"
    assert names(tmp_path) == ["mine.sqlite"]


def test_a_backup_where_nothing_can_be_written_is_refused(live: Store, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RefusedError, match="could not be written"):
        backup(live, tmp_path / "file" / "kept.sqlite")


def test_a_backup_of_a_damaged_logbook_is_made_and_told(live: Store, tmp_path: Path) -> None:
    with live.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER reading_keeps_update")
        connection.exec_driver_sql("UPDATE reading SET value_pm = 1")
    path, found = backup(live, tmp_path / "kept.sqlite")
    assert path.exists()
    assert not found.sound


@contextlib.contextmanager
def writing_on(target: str) -> Iterator[list[int]]:
    """Another thread that logs without end; how many entries it was told are kept."""
    acknowledged: list[int] = []
    begun, stop = threading.Event(), threading.Event()

    def work() -> None:
        store = open_store(target)
        while not stop.is_set():
            one_more(store)
            acknowledged.append(1)
            begun.set()
        store.close()

    thread = threading.Thread(target=work)
    thread.start()
    try:
        assert begun.wait(60)
        yield acknowledged
    finally:
        stop.set()
        thread.join()


def test_a_backup_made_while_others_write_is_sound_and_has_what_was_there(target: str, tmp_path: Path) -> None:
    store = open_store(target)
    with writing_on(target) as acknowledged:
        for number in range(2):
            before = len(acknowledged)
            path, found = backup(store, tmp_path / f"kept{number}.sqlite")
            assert found.sound
            assert before <= entries(path) <= len(acknowledged) + 1
    store.close()


def test_going_back_brings_the_backup_and_keeps_what_was_there(live: Store, kept: Path) -> None:
    done = restore(live.target, kept, lose=True)
    assert (done.lost, entries(live.target)) == (1, 2)
    assert done.kept is not None
    assert entries(done.kept) == 3
    assert entries(kept) == 2


def test_going_back_is_refused_where_entries_would_be_lost(live: Store, kept: Path) -> None:
    with pytest.raises(RefusedError, match=r"has entries that the backup has not: 1\..*--yes"):
        restore(live.target, kept)
    assert entries(live.target) == 3


def test_going_back_to_what_is_there_loses_nothing_and_need_not_be_confirmed(live: Store, tmp_path: Path) -> None:
    path, _ = backup(live, tmp_path / "kept.sqlite")
    done = restore(live.target, path)
    assert done.lost == 0
    one_more(live)  # a program that had it open goes on
    assert entries(live.target) == 3


def test_the_backup_is_left_as_it_is_to_the_byte(live: Store, kept: Path) -> None:
    before = kept.read_bytes()
    restore(live.target, kept, lose=True)
    assert kept.read_bytes() == before


def test_going_back_where_there_is_no_logbook_makes_one(kept: Path, tmp_path: Path) -> None:
    done = restore(str(tmp_path / "year" / "new.sqlite"), kept)
    assert done.kept is None
    assert names(tmp_path / "year") == ["new.sqlite"]
    assert entries(tmp_path / "year" / "new.sqlite") == 2


def test_a_backup_of_an_older_schema_is_moved_on_the_way_and_left_as_it_is(tmp_path: Path) -> None:
    old = tmp_path / "old.sqlite"
    file = sqlite3.connect(old)
    file.executescript((Path(__file__).parent / "schemas" / "0001.sqlite.sql").read_text(encoding="utf-8"))
    file.close()
    before = old.read_bytes()
    restore(str(tmp_path / "new.sqlite"), old)
    assert entries(tmp_path / "new.sqlite") == 22
    assert old.read_bytes() == before


@pytest.mark.parametrize("damage", ["header", "catalogue", "empty"])
def test_a_logbook_that_cannot_be_read_is_replaced_if_so_told_and_kept_as_it_is(
    live: Store, kept: Path, damage: str
) -> None:
    live.close()
    path = Path(live.target)
    content = bytearray(path.read_bytes())
    at = {"header": slice(0, 90), "catalogue": slice(100, 4_000), "empty": slice(0, None)}[damage]
    content[at] = b"" if damage == "empty" else b"\xa5" * len(content[at])
    path.write_bytes(content)
    log_beside = path.with_name(f"{path.name}-wal")
    if damage == "header":
        log_beside.write_bytes(b"what was written last")
    with pytest.raises(RefusedError, match="cannot be counted"):
        restore(live.target, kept)
    assert path.read_bytes() == content
    done = restore(live.target, kept, lose=True)
    assert done.lost is None
    assert done.kept is not None
    assert done.kept.read_bytes() == content
    if damage == "header":
        assert done.kept.with_name(f"{done.kept.name}-wal").read_bytes() == b"what was written last"
    assert entries(path) == 2


def test_a_backup_that_is_not_sound_is_not_gone_back_to(live: Store, kept: Path, tmp_path: Path) -> None:
    file = sqlite3.connect(kept)
    file.execute("DROP TRIGGER reading_keeps_update")
    file.execute("UPDATE reading SET value_pm = 1 WHERE id = 1")
    file.commit()
    file.close()
    cut = tmp_path / "cut.sqlite"
    cut.write_bytes(kept.read_bytes()[:9_000])
    for path in (kept, cut):
        with pytest.raises(DamagedError):
            restore(live.target, path, lose=True)
    assert entries(live.target) == 3
    assert [name for name in names(tmp_path) if "part" in name or "before" in name] == []


def test_what_is_no_backup_is_told_apart(live: Store, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no backup"):
        restore(live.target, tmp_path / "none.sqlite")
    with pytest.raises(RefusedError, match="the logbook itself"):
        restore(live.target, Path(live.target))
    (tmp_path / "note.txt").write_text("C-046 runs 5 um" * 99)
    with pytest.raises(DamagedError):
        restore(live.target, tmp_path / "note.txt")


def test_a_logbook_on_a_server_is_not_replaced(kept: Path) -> None:
    with pytest.raises(RefusedError, match=r"qclog copy .*kept\.sqlite postgresql://"):
        restore("postgresql://host/book", kept)


def test_what_is_logged_while_going_back_is_in_one_of_the_two(live: Store, kept: Path) -> None:
    """Whoever logs without end is told of no entry that is neither in the logbook nor in what was kept of it."""
    with writing_on(live.target) as acknowledged:
        done = restore(live.target, kept, lose=True)
    assert done.kept is not None
    assert done.lost == entries(done.kept) - 2
    assert len(acknowledged) == (entries(done.kept) - 3) + (entries(live.target) - 2)


def test_going_back_waits_for_a_writer_and_gives_up_in_the_end(
    live: Store, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backing_up, "WAIT_SECONDS", 0.2)
    with live.writing(), pytest.raises(BusyError, match="stayed locked"):
        restore(live.target, kept, lose=True)
    assert entries(live.target) == 3
    assert [name for name in names(kept.parent) if "before" in name] == []


def test_others_never_see_half_of_what_is_brought_back(live: Store, kept: Path) -> None:
    """A reader that keeps asking while it is gone back and forth sees one logbook or the other."""
    full, _ = backup(live)
    seen = set()
    stop = threading.Event()

    def ask() -> None:
        while not stop.is_set():
            with live.reading() as connection:
                counts = [connection.scalar(sa.select(sa.func.count()).select_from(t)) for t in schema.FACTS]
                seen.add((counts[0], counts[schema.FACTS.index(schema.entry_digest)]))

    thread = threading.Thread(target=ask)
    thread.start()
    for path in (kept, full):
        restore(live.target, path, lose=True)
    stop.set()
    thread.join()
    assert seen <= {(2, 2), (3, 3)}


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path) -> None:
    first = files.dated(tmp_path / "book.sqlite", "x")
    first.touch()
    again = files.dated(tmp_path / "book.sqlite", "x")
    assert again != first
    assert again.suffix == ".sqlite"


@pytest.mark.skipif(os.name != "posix", reason="a folder is synced on POSIX only")
def test_a_file_gets_its_name_only_once_it_is_on_the_disk(
    live: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced = []

    def sync(path: Path) -> None:
        synced.append((path.name, (tmp_path / "kept.sqlite").exists()))

    monkeypatch.setattr(files, "_sync", sync)
    backup(live, tmp_path / "kept.sqlite")
    assert [exists for _, exists in synced] == [False, True]
