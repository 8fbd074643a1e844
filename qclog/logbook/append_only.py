"""The triggers that make tables of facts append-only, enforced by the database whoever asks."""

import contextlib
from collections.abc import Iterable, Iterator
from typing import Final

from sqlalchemy import Connection, Table, UniqueConstraint, text

_FUNCTION_BODY: Final = " BEGIN RAISE EXCEPTION 'facts are only added: %', TG_TABLE_NAME; END "


def statements(dialect: str, tables: Iterable[Table]) -> list[str]:
    """The statements that guard the tables of a new logbook."""
    function = f"CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $${_FUNCTION_BODY}$$"
    return [*([] if dialect == "sqlite" else [function]), *triggers(dialect, tables).values()]


def triggers(dialect: str, tables: Iterable[Table]) -> dict[str, str]:
    """The triggers that some tables have, by name: the statements that create them.

    On SQLite an insert that would replace a row (``INSERT OR REPLACE``) is refused as well: replacing
    deletes without firing the delete trigger.
    """
    of_one = _on_sqlite if dialect == "sqlite" else _on_postgresql
    return {
        f"{table.name}_keeps_{kind}": f"CREATE TRIGGER {table.name}_keeps_{kind} BEFORE {rest}"
        for table in tables
        for kind, rest in of_one(table).items()
    }


def found(connection: Connection) -> dict[str, str]:
    """The triggers there are, as ``triggers`` gives them; one that is switched off or does not refuse is ''."""
    if connection.dialect.name == "sqlite":
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        return {row.name: row.sql for row in connection.execute(text(query))}
    query = (
        "SELECT tgname, pg_get_triggerdef(t.oid, true) AS statement, tgenabled = 'O' AND prosrc = :body AS refuses "
        "FROM pg_trigger t JOIN pg_proc p ON p.oid = tgfoid JOIN pg_class c ON c.oid = tgrelid "
        "WHERE NOT tgisinternal AND c.relnamespace = current_schema()::regnamespace"
    )
    rows = connection.execute(text(query), {"body": _FUNCTION_BODY})
    return {row.tgname: row.statement if row.refuses else "" for row in rows}


@contextlib.contextmanager
def inserting_many(connection: Connection, tables: Iterable[Table]) -> Iterator[None]:
    """A block of plain inserts, without SQLite's guards against inserts that replace: these cost more than the inserts.

    A plain insert replaces nothing, and nobody else can write meanwhile. The guards are back, as they were, before the
    transaction ends; one that breaks off, or is killed, never took them away.
    """
    guards: dict[str, str] = {}
    if connection.dialect.name == "sqlite":
        names = {f"{table.name}_keeps_replace" for table in tables}
        guards = {name: statement for name, statement in found(connection).items() if name in names}
    for name in guards:
        connection.exec_driver_sql(f"DROP TRIGGER {name}")
    yield
    for statement in guards.values():
        connection.exec_driver_sql(statement)


def _on_sqlite(table: Table) -> dict[str, str]:
    refuse = f"BEGIN SELECT RAISE(ABORT, 'facts are only added: {table.name}'); END"
    keys = [["id"]] + [
        [column.name for column in constraint.columns]
        for constraint in table.constraints
        if isinstance(constraint, UniqueConstraint)
    ]
    present = " OR ".join(
        f"EXISTS (SELECT 1 FROM {table.name} WHERE " + " AND ".join(f"{c} = NEW.{c}" for c in key) + ")"
        for key in sorted(keys)
    )
    return {
        "update": f"UPDATE ON {table.name} {refuse}",
        "delete": f"DELETE ON {table.name} {refuse}",
        "replace": f"INSERT ON {table.name} WHEN {present} {refuse}",
    }


def _on_postgresql(table: Table) -> dict[str, str]:
    """Written as PostgreSQL itself writes them."""
    return {
        "row": f"DELETE OR UPDATE ON {table.name} FOR EACH ROW EXECUTE FUNCTION refuse_change()",
        "truncate": f"TRUNCATE ON {table.name} FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
    }
