"""Every past schema, kept as a small dump of a logbook, moves to the newest one, on both databases."""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command

from qclog import config
from qclog.errors import DamagedError, RefusedError
from qclog.logbook import append_only, schema
from qclog.logbook.engine import Store, open_as_it_is, open_store
from qclog.logbook.exchange import ImportRefusedError, export_folder, import_folder
from qclog.logbook.safekeeping.verifying import verify
from qclog.logbook.upgrading import upgrade
from qclog.questions.assess import assess
from qclog.records import Clamping, Reading, Turn

SCHEMAS = Path(__file__).parent / "schemas"
Rows = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(params=schema.OLDER)
def old_file(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Path of a logbook of an older schema, once for each."""
    return make_file(tmp_path / "old.sqlite", request.param)


def make_file(path: Path, revision: str) -> str:
    file = sqlite3.connect(path)
    file.executescript((SCHEMAS / f"{revision}.sqlite.sql").read_text(encoding="utf-8"))
    file.close()
    return str(path)


@pytest.fixture(params=[(old, where) for old in schema.OLDER for where in ("sqlite", "postgresql")], ids="-".join)
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Path or URL of a logbook of an older schema, once for each on each database."""
    revision, where = request.param
    if where == "sqlite":
        yield make_file(tmp_path / "old.sqlite", revision)
        return
    dump = (SCHEMAS / f"{revision}.{where}.sql").read_text(encoding="utf-8")
    server = request.getfixturevalue("postgresql")
    url = server.new_database("template0")
    engine = sa.create_engine(sa.engine.make_url(url).set(drivername="postgresql+psycopg"))
    with engine.begin() as connection:
        connection.exec_driver_sql(dump, execution_options={"no_parameters": True})
    engine.dispose()
    yield url
    server.drop_database(url)


def rows(target: str) -> Rows:
    """All rows of the tables that the logbook has."""
    store = open_as_it_is(target)
    with store.reading() as connection:
        found = sa.MetaData()
        found.reflect(connection)
        content = {
            table.name: sorted(tuple(row) for row in connection.execute(sa.select(table)))
            for table in found.tables.values()
            if table.name != "schema_revision"
        }
    store.close()
    return content


def backup_of(store: Store) -> Path:
    assert store.moved is not None
    assert store.moved.revision in store.moved.backup.name
    return store.moved.backup


def shape(store: Store) -> dict[str, Any]:
    """Everything the database itself says about tables, apart from the order of constraints."""
    with store.reading() as connection:
        inspector = sa.inspect(connection)
        return {
            name: (
                [(c["name"], str(c["type"]), c["nullable"]) for c in inspector.get_columns(name)],
                inspector.get_pk_constraint(name),
                sorted(str(one) for one in inspector.get_unique_constraints(name)),
                sorted(str(one) for one in inspector.get_check_constraints(name)),
                sorted(str(one) for one in inspector.get_foreign_keys(name)),
                sorted(str(one) for one in inspector.get_indexes(name)),
            )
            for name in inspector.get_table_names()
        }


def test_an_older_logbook_is_moved_with_every_row_and_gives_its_answers(
    old: str, log: Callable[..., list[int]]
) -> None:
    before = rows(old)
    store = open_store(old)
    after = rows(old)
    assert {name: after[name] for name in before} == before
    assert verify(store).sound
    (answer,) = assess(store, "C-046")
    (group,) = answer.groups
    assert (answer.modification, group.clampings, group.sittings, group.limit_um) == (1, 15, 8, 9.0)
    figures = (group.tir_um.mean, group.tir_um.sd, group.tir_um.max)
    assert figures == pytest.approx((4.298755452100658, 1.0817215608304116, 6.174634126388862), rel=1e-12)  # by 0001
    assert (group.as_read, group.next_clampings) == ("holds", "cannot tell")
    swing = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
    log(store, Clamping("C-046", "LATHE", "2026-04-01", (swing,), position="A"))
    assert verify(store).sound
    store.close()
    again = open_store(old)
    assert again.moved is None
    again.close()


def test_the_backup_made_before_moving_has_every_row(old: str) -> None:
    before = rows(old)
    store = open_store(old)
    backup = backup_of(store)
    kept = rows(str(backup))
    assert {name: kept[name] for name in before} == before
    assert backup.parent == (Path(old).parent if store.dialect == "sqlite" else config.backups())
    store.close()


def test_a_moved_logbook_has_the_tables_and_triggers_of_a_new_one(old: str, tmp_path: Path, postgresql: Any) -> None:
    moved = open_store(old)
    fresh = str(tmp_path / "new.sqlite") if moved.dialect == "sqlite" else postgresql.new_database()
    new = open_store(fresh, create=True)
    assert shape(moved) == shape(new)
    with moved.reading() as connection:
        assert append_only.found(connection) == append_only.triggers(moved.dialect, schema.FACTS)
    moved.close()
    new.close()
    if fresh.startswith("postgresql"):
        postgresql.drop_database(fresh)


def test_of_two_programs_that_open_it_at_once_one_moves_it(old_file: str) -> None:
    """The second one finds it moved once it has waited for the first."""
    open_store(old_file).close()
    store = open_store(old_file)
    with store.writing() as connection:
        assert upgrade(connection, old_file) is None
    store.close()
    assert len(list(Path(old_file).parent.glob("*revision*"))) == 1


def test_a_step_that_fails_leaves_the_logbook_as_it_was(old: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = rows(old)

    steps = command.upgrade

    def fail(*given: Any) -> None:
        steps(*given)
        raise DamagedError("broken off on purpose", "none")

    with monkeypatch.context() as patch:
        patch.setattr(command, "upgrade", fail)
        with pytest.raises(DamagedError, match="on purpose"):
            open_store(old)
    assert rows(old) == before
    store = open_store(old)
    assert verify(store).sound
    store.close()


def test_a_logbook_whose_triggers_were_dropped_is_not_moved(old_file: str) -> None:
    file = sqlite3.connect(old_file)
    file.execute("DROP TRIGGER reading_keeps_update")
    file.close()
    before = rows(old_file)
    with pytest.raises(DamagedError, match="triggers"):
        open_store(old_file)
    assert rows(old_file) == before


def test_a_damaged_old_file_is_not_moved(old_file: str, tmp_path: Path) -> None:
    path = Path(old_file)
    connection = sqlite3.connect(path)
    (root,) = connection.execute("SELECT rootpage FROM sqlite_master WHERE name = 'reading'").fetchone()
    connection.close()
    content = bytearray(path.read_bytes())
    page = int.from_bytes(content[16:18])
    content[(root - 1) * page : root * page] = b"\xff" * page
    path.write_bytes(content)
    with pytest.raises(DamagedError, match="damaged"):
        open_store(str(path))
    assert [one.name for one in tmp_path.iterdir() if one.suffix == ".sqlite"] == ["old.sqlite"]


def test_without_room_for_the_backup_nothing_is_moved(old_file: str, monkeypatch: pytest.MonkeyPatch) -> None:
    before = rows(old_file)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("qclog.logbook.safekeeping.files._sync", full)
    with pytest.raises(RefusedError, match="No space left"):
        open_store(old_file)
    assert rows(old_file) == before


def test_a_newer_logbook_is_refused_for_writing_and_exported_as_far_as_it_is_known(target: str, tmp_path: Path) -> None:
    store = open_store(target)
    with store.writing() as connection:
        connection.execute(schema.schema_revision.update().values(version_num="9998"))
        connection.exec_driver_sql("ALTER TABLE reading ADD COLUMN colour text")
        connection.exec_driver_sql("CREATE TABLE novelty (id integer)")
    store.close()
    with pytest.raises(DamagedError, match=r"'9998'.*export"):
        open_store(target)
    newer = open_store(target, newer=True)
    assert newer.newer
    assert "reading" in export_folder(newer, tmp_path / "folder")
    newer.close()
    empty = open_store(str(tmp_path / "empty.sqlite"), create=True)
    with pytest.raises(ImportRefusedError) as refused:
        import_folder(empty, tmp_path / "folder")
    assert "revision '9998'" in refused.value.faults[0].what
    empty.close()


def test_a_folder_of_an_older_schema_is_taken_in_and_sealed(old_file: str, tmp_path: Path) -> None:
    revision = next(iter(schema.OLDER))
    moved = open_store(old_file)
    export_folder(moved, tmp_path / "folder")
    moved.close()
    for table in schema.OLDER[revision]:
        (tmp_path / "folder" / f"{table}.csv").unlink()
    (tmp_path / "folder" / "schema_revision.csv").write_text(f"version_num\n{revision}\n")
    store = open_store(str(tmp_path / "new.sqlite"), create=True)
    import_folder(store, tmp_path / "folder")
    verified = verify(store)
    store.close()
    assert verified.sound
    assert verified.heads[0].sequence == 22
