"""A whole logbook moves between SQLite and PostgreSQL either way, or not at all."""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import DamagedError, NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.safekeeping import rows as rows_module
from qclog.logbook.safekeeping.copying import copy
from qclog.logbook.safekeeping.verifying import verify
from qclog.questions.assess import assess, document
from qclog.records import Clamping, Reading, Turn

Log = Callable[..., list[int]]
SWING = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
TURN = Turn("point", tuple(Reading(v * 1_000_000, str(v), 1_000_000) for v in (4, 1, -3, 0)), 16_000_000_000)


def clamping(day: int) -> Clamping:
    return Clamping("C-046", "LATHE", f"2026-03-{day:02d}", (SWING, TURN), position="A", clocking=(("P-65", 90_000),))


def content(store: Store) -> dict[str, list[Any]]:
    with store.reading() as connection:
        return {
            table.name: sorted(tuple(row) for row in connection.execute(sa.select(table)))
            for table in schema.metadata.sorted_tables
        }


@pytest.fixture
def bare_database(postgresql: Any) -> Iterator[str]:
    url = postgresql.new_database("template0")
    yield url
    postgresql.drop_database(url)


def test_every_row_is_copied_to_a_server_and_back_and_both_copies_go_on_by_themselves(
    sqlite_book: Store, tmp_path: Path, log: Log, bare_database: str
) -> None:
    for day in range(1, 8):
        log(sqlite_book, clamping(day))
    file = str(tmp_path / "copy.sqlite")
    heads = verify(sqlite_book).heads
    for source, destination in ((sqlite_book.target, bare_database), (bare_database, file)):
        found = copy(source, destination)
        assert (found.sound, found.heads) == (True, heads)
    copies = [open_store(bare_database), open_store(file)]
    before, answers = content(sqlite_book), document(assess(sqlite_book))
    ids = log(sqlite_book, clamping(9))
    for copied in copies:
        assert content(copied) == before
        assert document(assess(copied)) == answers
        assert log(copied, clamping(9)) == ids
        assert verify(copied).sound
        copied.close()


def test_an_empty_logbook_may_be_filled_by_a_copy_once(sqlite_book: Store, tmp_path: Path) -> None:
    empty = str(tmp_path / "empty.sqlite")
    open_store(empty, create=True).close()
    assert copy(sqlite_book.target, empty).sound
    with pytest.raises(RefusedError, match="is not empty"):
        copy(sqlite_book.target, empty)


def test_a_source_that_is_not_sound_is_not_copied_and_nothing_is_left(
    sqlite_book: Store, tmp_path: Path, bare_database: str
) -> None:
    with sqlite_book.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER pin_card_keeps_update")
        connection.exec_driver_sql("UPDATE pin_card SET diameter_pm = 1")
    for destination in (str(tmp_path / "copy.sqlite"), bare_database):
        with pytest.raises(DamagedError, match=r"not sound.*verify"):
            copy(sqlite_book.target, destination)
    assert [path.name for path in tmp_path.iterdir() if "copy" in path.name] == []
    engine = sa.create_engine(sa.engine.make_url(bare_database).set(drivername="postgresql+psycopg"))
    assert sa.inspect(engine).get_table_names() == []
    engine.dispose()


def test_a_copy_that_breaks_off_leaves_nothing(
    sqlite_book: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken_off(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(rows_module, "go_on_numbering", broken_off)
    with pytest.raises(KeyboardInterrupt):
        copy(sqlite_book.target, str(tmp_path / "copy.sqlite"))
    assert [path.name for path in tmp_path.iterdir() if "copy" in path.name] == []


def test_a_copy_of_a_logbook_that_is_not_there_is_not_found(tmp_path: Path) -> None:
    with pytest.raises(NotFoundError):
        copy(str(tmp_path / "none.sqlite"), str(tmp_path / "copy.sqlite"))
    assert list(tmp_path.iterdir()) == []


def test_a_database_of_another_program_is_left_as_it_is(sqlite_book: Store, bare_database: str) -> None:
    engine = sa.create_engine(sa.engine.make_url(bare_database).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE parts (number text)")
    with pytest.raises(DamagedError, match="something else"):
        copy(sqlite_book.target, bare_database)
    assert sa.inspect(engine).get_table_names() == ["parts"]
    engine.dispose()


def test_a_logbook_is_copied_in_more_than_one_piece(
    sqlite_book: Store, log: Log, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log(sqlite_book, *(clamping(day) for day in range(1, 29)))
    monkeypatch.setattr(rows_module, "ROWS_AT_ONCE", 7)
    copy(sqlite_book.target, str(tmp_path / "copy.sqlite"))
    copied = open_store(str(tmp_path / "copy.sqlite"))
    assert content(copied) == content(sqlite_book)
    copied.close()


def test_a_logbook_of_an_older_schema_is_copied_into_the_newest_and_left_as_it_is(tmp_path: Path) -> None:
    old = tmp_path / "old.sqlite"
    file = sqlite3.connect(old)
    file.executescript((Path(__file__).parent / "schemas" / "0001.sqlite.sql").read_text(encoding="utf-8"))
    file.close()
    before = old.read_bytes()
    found = copy(str(old), str(tmp_path / "copy.sqlite"))
    assert [(head.station, head.sequence) for head in found.heads] == [("bench", 22)]
    assert old.read_bytes() == before
