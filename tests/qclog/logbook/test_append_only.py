"""Facts are only added: the database itself refuses every change, whoever asks."""

import dataclasses
import sqlite3
from collections.abc import Callable, Iterator

import pytest
import sqlalchemy as sa

from qclog import particulars
from qclog.errors import RefusedError
from qclog.logbook import append_only, custody, deriving, gauges, items, noting, recalls, schema, statements, striking
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry
from qclog.logbook.figures import read_series
from qclog.logbook.lookup import Register
from qclog.logbook.statements import ToIssue
from qclog.records import Clamping, Limit, Reading, Turn, Work

FACT_NAMES = {table.name for table in schema.FACTS}


@pytest.fixture
def full(book: Store, log: Callable[..., list[int]]) -> Store:
    """The workshop with at least one row in every table of facts."""
    swing = Turn("tir", (Reading(5_000_000, "5", 1_000_000),), 16_000_000_000)
    clamping = Clamping(
        "C-046", "LATHE", "2026-03-04", (swing,), position="A", clocking=(("C-046", 0),), pin="P-65", instrument="D-1"
    )
    clamping_id, other_id = log(book, clamping, dataclasses.replace(clamping, item="C-047"))
    with new_entry(book, "everything else") as entry:
        register = Register(entry.connection)
        item = register.need("C-046", "item")
        items.change_setting(entry, register, "unit", "um")
        items.set_state(entry, register, item, state="restricted", limit_pm=None, since="2026-03-05", reason="x")
        items.inspect_item(entry, register, item, finding="sound", seen_on="2026-03-05", note="")
        items.record_use(entry, item, used_on="2026-03-05", clampings=3, hours=None, note="")
        items.modify(entry, register, item, Work("bored", "2026-03-06", limits=(Limit(5_000_000),)))
        striking.strike(entry, item, clamping_id, reason="wrong pin")
        entry.add(schema.doubt, item_id=item.id, clamping_id=clamping_id, why="far off", typed="50", answer="kept")
        custody.take(entry, [item], setup=None, place="", done_at="2026-03-07")
        gauge = register.need("D-1", "instrument")
        recalls.add_recall(
            entry, gauge, found_at="2026-03-08", found="23 on 20", read_pm=23_000_000, true_pm=20_000_000
        )
        recalls.clear(entry, gauge, "checked again")
        gauges.add_check(
            entry, gauge, done_at="2026-03-08", read_pm=10_000_000, true_pm=10_000_000, within_pm=1_000_000
        )
        items.inspect_item(entry, register, item, finding="burr", seen_on="2026-03-08", note="")
        noting.note(entry, register, item, [particulars.parse("picture=c046.jpg", ["item"])])
        facts = ToIssue(1, 1, "2026-03-09", "A customer", "A workshop", "holds", 8_000_000, "0" * 64, "1" * 64)
        (one, *_) = read_series(entry.connection, items=[register.need("C-047", "item").id])
        modification = register.modifications(one.item_id)[0]
        statements.add_statement(entry, one, modification.id, facts, [other_id])
    return book


def attempts(store: Store, statement: Callable[[sa.Table, list[object]], str]) -> Iterator[tuple[str, str]]:
    """What the database says to one statement on each table of facts, made from the table and its first row."""
    for table in schema.FACTS:
        raw = store.engine.raw_connection()
        try:
            cursor = raw.cursor()
            cursor.execute(f"SELECT {', '.join(c.name for c in table.columns)} FROM {table.name}")
            row = cursor.fetchone()
            assert row is not None, f"no row in {table.name} to try it on"
            try:
                cursor.execute(statement(table, list(row)))
            except Exception as error:
                yield table.name, str(error)
            else:
                yield table.name, "taken"
            finally:
                raw.rollback()
        finally:
            raw.close()


def literal(value: object) -> str:
    return "NULL" if value is None else repr(value) if not isinstance(value, str) else f"'{value}'"


def assert_refused_on_every_table(answers: Iterator[tuple[str, str]]) -> None:
    said = dict(answers)
    assert said.keys() == FACT_NAMES
    assert {name: text for name, text in said.items() if f"facts are only added: {name}" not in text} == {}


def test_no_fact_can_be_updated(full: Store) -> None:
    assert_refused_on_every_table(
        attempts(full, lambda table, row: f"UPDATE {table.name} SET id = id WHERE id = {row[0]}")
    )


def test_no_fact_can_be_deleted(full: Store) -> None:
    assert_refused_on_every_table(attempts(full, lambda table, row: f"DELETE FROM {table.name} WHERE id = {row[0]}"))


def test_no_table_of_facts_can_be_truncated(full: Store) -> None:
    """On SQLite, where there is no TRUNCATE, by the delete without condition that stands for it."""
    verb = "DELETE FROM {}" if full.dialect == "sqlite" else "TRUNCATE {} CASCADE"
    said = dict(attempts(full, lambda table, _: verb.format(table.name)))
    assert {name for name, text in said.items() if "facts are only added" not in text} == set()


@pytest.mark.parametrize("recursive_triggers", ["ON", "OFF"])
@pytest.mark.parametrize("verb", ["INSERT OR REPLACE", "REPLACE"])
def test_no_fact_can_be_replaced_on_sqlite(full: Store, verb: str, recursive_triggers: str) -> None:
    if full.dialect != "sqlite":
        pytest.skip("PostgreSQL has no INSERT OR REPLACE")

    @sa.event.listens_for(full.engine, "checkout")
    def _set(connection: sqlite3.Connection, *_: object) -> None:
        connection.execute(f"PRAGMA recursive_triggers = {recursive_triggers}")

    assert_refused_on_every_table(
        attempts(full, lambda table, row: f"{verb} INTO {table.name} VALUES ({', '.join(map(literal, row))})")
    )


@pytest.mark.parametrize("recursive_triggers", ["ON", "OFF"])
def test_no_fact_can_be_replaced_through_another_key_on_sqlite(full: Store, recursive_triggers: str) -> None:
    """A fresh id with the unique key of a row that is there would delete that row."""
    if full.dialect != "sqlite":
        pytest.skip("PostgreSQL has no INSERT OR REPLACE")

    @sa.event.listens_for(full.engine, "checkout")
    def _set(connection: sqlite3.Connection, *_: object) -> None:
        connection.execute(f"PRAGMA recursive_triggers = {recursive_triggers}")

    keyed = {t.name for t in schema.FACTS if any(isinstance(c, sa.UniqueConstraint) for c in t.constraints)}
    said = dict(
        attempts(
            full,
            lambda table, row: (
                f"INSERT OR REPLACE INTO {table.name} VALUES ({', '.join(map(literal, [10**9, *row[1:]]))})"
            ),
        )
    )
    assert {name for name, text in said.items() if "facts are only added" in text} == keyed


def test_an_upsert_changes_nothing(full: Store) -> None:
    """On PostgreSQL the update of an upsert meets the trigger; on SQLite the insert already does."""

    def upsert(table: sa.Table, row: list[object]) -> str:
        values = ", ".join(map(literal, row))
        return f"INSERT INTO {table.name} VALUES ({values}) ON CONFLICT (id) DO UPDATE SET id = excluded.id"

    assert_refused_on_every_table(attempts(full, upsert))


def test_the_program_explains_a_refused_change(full: Store) -> None:
    with (
        pytest.raises(RefusedError, match=r"facts are only added: reading.*Strike it out") as refused,
        full.writing() as connection,
    ):
        connection.execute(schema.reading.update().values(value_pm=0))
    assert "\n" not in str(refused.value)


def test_derived_tables_may_change(full: Store) -> None:
    with full.writing() as connection:
        deriving.rebuild(connection)
        for table in schema.DERIVED:
            connection.execute(table.delete())


def test_the_triggers_are_those_declared(store: Store) -> None:
    with store.reading() as connection:
        found = append_only.found(connection)
    assert found == append_only.triggers(store.dialect, schema.FACTS)
    assert {name.split("_keeps_")[0] for name in found} == FACT_NAMES


def test_only_derived_tables_and_the_revision_are_not_guarded() -> None:
    unguarded = {table.name for table in schema.metadata.sorted_tables} - FACT_NAMES
    assert unguarded == {"schema_revision", "series", "gauging", "figure"}


def test_while_many_rows_are_inserted_nothing_can_be_changed_or_deleted(full: Store) -> None:
    for statement in (schema.reading.update().values(value_pm=0), schema.turn.delete()):
        with (
            pytest.raises(RefusedError, match="facts are only added"),
            full.writing() as connection,
            append_only.inserting_many(connection, schema.FACTS),
        ):
            connection.execute(statement)
    with full.reading() as connection:
        assert append_only.found(connection) == append_only.triggers(full.dialect, schema.FACTS)


def test_a_transaction_that_inserts_many_rows_ends_with_all_guards(full: Store) -> None:
    with full.writing() as connection, append_only.inserting_many(connection, [schema.setting]):
        connection.execute(schema.setting.insert().values(entry_id=1, key="k", value="v"))
        without = {"setting_keeps_replace"} if full.dialect == "sqlite" else set()
        declared = append_only.triggers(full.dialect, schema.FACTS)
        assert append_only.found(connection).keys() == declared.keys() - without
        with full.reading() as other:
            assert append_only.found(other) == declared
    with full.reading() as connection:
        assert append_only.found(connection) == declared


def test_a_guard_that_was_missing_is_not_put_back_unseen(full: Store) -> None:
    if full.dialect != "sqlite":
        pytest.skip("PostgreSQL needs no such guard")
    with full.writing() as connection:
        connection.exec_driver_sql("DROP TRIGGER turn_keeps_replace")
    with full.writing() as connection, append_only.inserting_many(connection, schema.FACTS):
        pass
    with full.reading() as connection:
        missing = append_only.triggers(full.dialect, schema.FACTS).keys() - append_only.found(connection).keys()
    assert missing == {"turn_keeps_replace"}
