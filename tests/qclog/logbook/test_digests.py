"""Every entry is sealed by a digest over the entry before it at its station and every row of its own."""

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog import config
from qclog.logbook import items, schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry, take_ids
from qclog.logbook.lookup import Register
from qclog.logbook.safekeeping.digests import digest, read_between
from qclog.logbook.safekeeping.verifying import altered
from qclog.records import Clamping, Reading, Turn

Log = Callable[..., list[int]]
ROWS = 4_500  # more than are hashed, and than are read, at once


def kept(store: Store) -> list[tuple[Any, ...]]:
    """Entry, the digest before it, its own."""
    with store.reading() as connection:
        rows = connection.execute(sa.select(schema.entry_digest).order_by(schema.entry_digest.c.id))
        return [tuple(row[1:]) for row in rows]


def by_the_book(store: Store) -> list[tuple[Any, ...]]:
    """The same, made from the tables as the docs say, with nothing of the program."""
    with store.reading() as connection:
        tables = {
            table.name: [list(row) for row in connection.execute(sa.text(f"SELECT * FROM {table.name} ORDER BY id"))]
            for table in schema.FACTS
            if table.name != "entry_digest"
        }
    last: dict[str, str] = {}
    found = []
    for entry in tables["entry"]:
        document: list[Any] = [last.get(entry[2], "")]
        for name in sorted(tables):
            rows = [row for row in tables[name] if row[0 if name == "entry" else 1] == entry[0]]
            if rows:
                while any(row[-1] is None for row in rows):
                    rows = [row[:-1] if row[-1] is None else row for row in rows]
                document.append([name, rows])
        text = json.dumps(document, separators=(",", ":"))
        digest = hashlib.sha256(text.encode("ascii")).hexdigest()
        found.append((entry[0], last.get(entry[2], ""), digest))
        last[entry[2]] = digest
    return found


def test_digests_are_those_of_the_document_that_is_written_down(
    book: Store, log: Log, monkeypatch: pytest.MonkeyPatch
) -> None:
    swing = Turn("tir", (Reading(5_000_000, "ø5", 1_000_000),), 16_000_000_000)
    log(book, Clamping("C-046", "LATHE", "2026-03-04", (swing,), position="A", note='"7/8" \\ \U0001f529'))
    monkeypatch.setenv(config.STATION_VARIABLE, "Bohrwerk 2")
    with new_entry(book, "use") as entry:
        item = Register(entry.connection).need("C-046", "item")
        items.record_use(entry, item, used_on="2026-03-05", clampings=None, hours=0.1 + 0.2, note="")
        items.record_use(entry, item, used_on="2026-03-05", clampings=None, hours=3, note="")
    monkeypatch.setenv(config.STATION_VARIABLE, "bench")
    log(book, Clamping("C-046", "LATHE", "2026-03-06", (swing,), position="A"))
    assert len(kept(book)) == 4
    assert kept(book) == by_the_book(book)
    assert [row[1] == "" for row in kept(book)] == [True, False, True, False]


def test_every_body_that_was_turned_is_sealed_with_its_clamping(book: Store, log: Log) -> None:
    swing = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
    turned = (("C-046", 120_000), ("P-65", 240_000))
    for day in ("2026-03-04", "2026-03-05"):
        log(book, Clamping("C-046", "LATHE", day, (swing, swing), position="A", clocking=turned))
    with book.reading() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(schema.clamping_body)) == 4
        assert altered(connection) == []
    assert kept(book) == by_the_book(book)


def test_an_entry_of_many_rows_is_sealed_whole(store: Store) -> None:
    with new_entry(store, "many") as entry:
        ids = take_ids(entry.connection, schema.setting, ROWS)
        entry.add_many(schema.setting, [{"id": i, "key": f"k{i}", "value": "v"} for i in ids[:-1]])
        entry.add_many(schema.setting, [{"id": ids[-1], "key": "last", "value": "v"}])
    assert kept(store) == by_the_book(store)
    with store.reading() as connection:
        assert altered(connection) == []


def test_what_the_database_makes_of_a_value_is_what_is_sealed(store: Store) -> None:
    """A zero below zero, which SQLite does not keep, and a whole number in a column of real numbers."""
    with new_entry(store, "odd") as entry:
        item = entry.add(schema.name, folded="c", text="C", kind="item")
        entry.add(schema.use_record, item_id=item, used_on="", hours=-0.0)
        entry.add(schema.use_record, item_id=item, used_on="", hours=7)
    with store.reading() as connection:
        assert altered(connection) == []
    with store.reading() as connection:
        hours = connection.scalars(sa.select(schema.use_record.c.hours).order_by(schema.use_record.c.id)).all()
    document = json.dumps(hours)
    assert document.replace("-", "") == "[0.0, 7.0]"


def test_the_sign_of_a_zero_makes_no_difference() -> None:
    """PostgreSQL keeps it, SQLite does not: a copy must have the same digest."""
    one, other = ([(schema.use_record, [(1, 1, 1, "", None, zero, "")])] for zero in (0.0, -0.0))
    assert digest("", one) == digest("", other)


def test_rows_may_be_written_in_any_order_of_their_ids(store: Store) -> None:
    with new_entry(store, "later ones first") as entry:
        for ids in ((11, 12), (5, 6), (8,)):
            entry.add_many(schema.setting, [{"id": i, "key": f"k{i}", "value": "v"} for i in ids])
    assert kept(store) == by_the_book(store)


def test_only_rows_of_the_entry_itself_are_sealed(sqlite_book: Store) -> None:
    with sqlite_book.writing() as connection:
        for number, entry_id in enumerate((1, 1, 1), start=50):
            connection.execute(schema.setting.insert().values(id=number, entry_id=entry_id, key="k", value="v"))
        assert [row[0] for row in read_between(connection, schema.setting, 1, 50, 52)] == [50, 51, 52]
        assert list(read_between(connection, schema.setting, 2, 50, 52)) == []


def test_an_entry_that_fails_leaves_no_digest_and_the_chain_goes_on(store: Store) -> None:
    def fail() -> None:
        with new_entry(store, "broken off") as entry:
            entry.add(schema.setting, key="k", value="v")
            raise ZeroDivisionError

    for number in range(2):
        with new_entry(store, "kept") as entry:
            entry.add(schema.setting, key="k", value=str(number))
        with pytest.raises(ZeroDivisionError):
            fail()
    assert kept(store) == by_the_book(store)
    assert len(kept(store)) == 2


@pytest.fixture
def everything(tmp_path: Path) -> Iterator[sa.Connection]:
    """A transaction in a logbook with rows in every table, whose triggers and rules are switched off."""
    path = tmp_path / "book.sqlite"
    file = sqlite3.connect(path)
    file.executescript((Path(__file__).parent / "schemas" / "0001.sqlite.sql").read_text(encoding="utf-8"))
    file.close()
    store = open_store(str(path))
    with store.engine.connect() as connection:
        cursor = connection.connection.cursor()
        for statement in ("PRAGMA foreign_keys=OFF", "PRAGMA ignore_check_constraints=ON"):
            cursor.execute(statement)
        with connection.begin() as transaction:
            for name in connection.scalars(sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).all():
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
            yield connection
            transaction.rollback()
    store.close()


def test_a_change_of_any_cell_of_any_table_is_found(everything: sa.Connection) -> None:
    assert altered(everything) == []
    looked_at = 0
    for table in schema.FACTS:
        for column in table.columns:
            rows = everything.execute(sa.select(table).order_by(table.c.id)).mappings().all()
            if not rows:
                continue
            row = rows[len(rows) // 2]
            old = row[column.name]
            new = f"{old}'" if isinstance(column.type, sa.Text) else 1_000_003 if old is None else old + 1_000_003
            with everything.begin_nested() as savepoint:
                everything.execute(table.update().where(table.c.id == row["id"]).values({column.name: new}))
                assert altered(everything), f"{table.name}.{column.name} from {old!r} to {new!r}"
                savepoint.rollback()
            looked_at += 1
    assert looked_at > 150


def test_a_row_more_or_less_in_any_table_is_found(everything: sa.Connection) -> None:
    for table in schema.FACTS:
        rows = everything.execute(sa.select(table).order_by(table.c.id)).mappings().all()
        if not rows:
            continue
        row = dict(rows[len(rows) // 2])
        with everything.begin_nested() as savepoint:
            everything.execute(table.delete().where(table.c.id == row["id"]))
            assert altered(everything), f"one less in {table.name}"
            savepoint.rollback()
        unique = {c.name for u in table.constraints if isinstance(u, sa.UniqueConstraint) for c in u.columns}
        for name in {"id", *unique} - {"entry_id"}:
            row[name] = f"{row[name]}'" if isinstance(table.c[name].type, sa.Text) else row[name] + 1_000_003
        if table is schema.entry_digest:
            row["entry_id"] = 1_000_003
        with everything.begin_nested() as savepoint:
            everything.execute(table.insert().values(row))
            assert altered(everything), f"one more in {table.name}"
            savepoint.rollback()


def test_two_rows_that_change_places_are_found(everything: sa.Connection) -> None:
    first, second = everything.execute(sa.select(schema.reading).limit(2).order_by(schema.reading.c.id.desc())).all()
    for one, other in ((first, second), (second, first)):
        values = {"value_pm": other.value_pm, "text": other.text}
        everything.execute(schema.reading.update().where(schema.reading.c.id == one.id).values(values))
    assert altered(everything)


def test_a_row_moved_to_another_entry_is_found(everything: sa.Connection) -> None:
    everything.execute(schema.sitting.update().where(schema.sitting.c.id == 3).values(entry_id=3))
    assert altered(everything)
