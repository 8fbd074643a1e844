"""The same tables on SQLite and PostgreSQL, as declared, and constraints that bite on both."""

from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import QclogError
from qclog.logbook import schema
from qclog.logbook.engine import Store
from qclog.logbook.entries import new_entry

TABLES = schema.metadata.sorted_tables


def declared(table: sa.Table) -> dict[str, Any]:
    def named(kind: type[sa.Constraint]) -> set[str]:
        return {str(constraint.name) for constraint in table.constraints if isinstance(constraint, kind)}

    return {
        "columns": {column.name: bool(column.nullable) for column in table.columns},
        "primary key": [column.name for column in table.primary_key],
        "unique": named(sa.UniqueConstraint),
        "check": named(sa.CheckConstraint),
        "foreign": named(sa.ForeignKeyConstraint),
        "indexes": {str(index.name) for index in table.indexes},
    }


def found(inspector: sa.Inspector, name: str) -> dict[str, Any]:
    unique = {str(one["name"]) for one in inspector.get_unique_constraints(name)}
    return {
        "columns": {column["name"]: column["nullable"] for column in inspector.get_columns(name)},
        "primary key": inspector.get_pk_constraint(name)["constrained_columns"],
        "unique": unique,
        "check": {str(one["name"]) for one in inspector.get_check_constraints(name)},
        "foreign": {str(one["name"]) for one in inspector.get_foreign_keys(name)},
        "indexes": {str(one["name"]) for one in inspector.get_indexes(name)} - unique,
    }


def test_the_tables_are_those_declared(store: Store) -> None:
    with store.reading() as connection:
        assert set(sa.inspect(connection).get_table_names()) == {table.name for table in TABLES}


def test_columns_nullness_keys_and_named_constraints_are_those_declared(store: Store) -> None:
    """Compared with one declaration on both databases, so they are the same as each other."""
    with store.reading() as connection:
        inspector = sa.inspect(connection)
        assert {t.name: found(inspector, t.name) for t in TABLES} == {t.name: declared(t) for t in TABLES}


def test_every_table_is_strict_on_sqlite(store: Store) -> None:
    if store.dialect != "sqlite":
        pytest.skip("PostgreSQL is always strict")
    with store.reading() as connection:
        strict = {row.name: row.strict for row in connection.execute(sa.text("PRAGMA table_list"))}
    assert {table.name for table in TABLES if not strict[table.name]} == set()


def test_text_in_a_number_column_is_refused(store: Store) -> None:
    """In every column for numbers of every table, all others filled with what fits them."""
    taken = []
    raw = store.engine.raw_connection()
    for table in TABLES:
        for column in table.columns:
            if not isinstance(column.type, sa.Text):
                row = ["'x'" if c is column else "'a'" if isinstance(c.type, sa.Text) else "1" for c in table.columns]
                try:
                    raw.cursor().execute(f"INSERT INTO {table.name} VALUES ({', '.join(row)})")
                except Exception as error:
                    refusals = ("cannot store TEXT", "datatype mismatch", "invalid input syntax for type")
                    if any(refusal in str(error) for refusal in refusals):
                        raw.rollback()
                        continue
                taken.append(str(column))
    raw.close()
    assert taken == []


def test_a_picometre_count_of_many_metres_is_kept_exactly(store: Store) -> None:
    exact = 9_007_199_254_740_993  # 2**53 + 1: a double cannot hold it
    with new_entry(store, "a pin") as entry:
        pin = entry.add(schema.name, folded="p", text="P", kind="pin")
        entry.add(schema.pin_card, pin_id=pin, diameter_pm=exact)
    with store.reading() as connection:
        assert connection.scalar(sa.select(schema.pin_card.c.diameter_pm)) == exact


def test_a_double_comes_back_to_the_last_bit(store: Store) -> None:
    value = 0.1 + 0.2
    with new_entry(store, "use") as entry:
        item = entry.add(schema.name, folded="c", text="C", kind="item")
        entry.add(schema.use_record, item_id=item, used_on="2026-03-04", hours=value)
    with store.reading() as connection:
        assert connection.scalar(sa.select(schema.use_record.c.hours)) == value


BAD_ROWS: list[tuple[str, str, dict[str, Any]]] = [
    ("name", "ck_name_kind", {"folded": "x", "text": "X", "kind": "thing"}),
    ("name", "ck_name_not_empty", {"folded": "", "text": "", "kind": "item"}),
    ("item_card", "ck_item_card_kind", {"item_id": 1, "kind": "vice"}),
    ("item_state", "ck_item_state_state", {"item_id": 1, "state": "lost"}),
    ("modification", "ck_modification_number", {"item_id": 1, "number": -1}),
    ("pin_card", "ck_pin_card_diameter", {"pin_id": 1, "diameter_pm": 0}),
    (
        "instrument_card",
        "ck_instrument_card_division",
        {"instrument_id": 1, "kind": "lever", "division_pm": 0, "correct_at_mdeg": 0},
    ),
    (
        "instrument_card",
        "ck_instrument_card_kind",
        {"instrument_id": 1, "kind": "eye", "division_pm": 1, "correct_at_mdeg": 0},
    ),
    ("setup_revision", "ck_setup_revision_number", {"setup_id": 1, "number": 0, "sense": "clockwise"}),
    ("setup_revision", "ck_setup_revision_sense", {"setup_id": 1, "number": 9, "sense": "left"}),
    ("made_to", "ck_made_to_some_limit", {"body_id": 1, "modification_number": 0, "distance_pm": -1}),
    ("inspection", "ck_inspection_finding", {"item_id": 1, "finding": "rust"}),
    ("strike", "ck_strike_reason", {"clamping_id": 1, "reason": ""}),
    ("strike", "ck_strike_one_thing", {"reason": "misread"}),
    ("strike", "ck_strike_one_thing", {"clamping_id": 1, "turn_id": 1, "reason": "misread"}),
    ("doubt", "ck_doubt_answer", {"item_id": 1, "answer": "perhaps"}),
]


def test_checks_bite_and_are_named_in_the_refusal(book: Store) -> None:
    refused = {}
    for table, constraint, values in BAD_ROWS:
        with pytest.raises(QclogError) as error, new_entry(book, "bad") as entry:
            entry.add(schema.metadata.tables[table], **values)
        refused[constraint, str(values)] = (constraint in str(error.value), error.value.exit_code)
    assert set(refused.values()) == {(True, 4)}


def test_a_fact_about_nothing_is_refused(book: Store) -> None:
    with pytest.raises(QclogError) as error, new_entry(book, "bad") as entry:
        entry.add(schema.inspection, item_id=10**6, finding="sound")
    assert error.value.exit_code == 4


def test_no_column_of_a_unique_key_may_be_null() -> None:
    """PostgreSQL lets two rows with NULL in a unique key stand beside each other."""
    holes = [
        f"{table.name}.{column.name}"
        for table in TABLES
        for constraint in table.constraints
        if isinstance(constraint, sa.UniqueConstraint | sa.PrimaryKeyConstraint)
        for column in constraint.columns
        if column.nullable
    ]
    assert holes == []


def test_every_constraint_has_a_name() -> None:
    assert [table.name for table in TABLES for constraint in table.constraints if constraint.name is None] == []


def test_facts_point_only_to_earlier_tables() -> None:
    order = {table.name: place for place, table in enumerate(schema.FACTS)}
    backwards = [
        f"{table.name} -> {key.column.table.name}"
        for table in schema.FACTS
        for key in table.foreign_keys
        if order[key.column.table.name] >= order[table.name]
    ]
    assert backwards == []
