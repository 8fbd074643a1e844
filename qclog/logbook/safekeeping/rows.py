"""All rows of a logbook into an empty one, SQLite or PostgreSQL either way, ids kept."""

from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.databases import WRITING, sqlite_engine
from qclog.logbook.safekeeping.digests import ROWS_AT_ONCE, seal_all

_TABLES: Final = (*schema.FACTS, *schema.DERIVED)


def copy_rows(source: sa.Connection, destination: sa.Connection) -> None:
    """Copy what is derived too, to the last bit. A source of an older schema gets what it has not: digests."""
    inspector = sa.inspect(source)
    there = set(inspector.get_table_names())
    for table in _TABLES:
        if table.name in there:
            known = {column["name"] for column in inspector.get_columns(table.name)}
            columns = [column for column in table.columns if column.name in known]
            query: sa.Select[Any] = sa.select(*columns).order_by(*table.primary_key.columns)
            for batch in source.execute(query, execution_options={"yield_per": ROWS_AT_ONCE}).mappings().partitions():
                destination.execute(table.insert(), [dict(row) for row in batch])
    if schema.entry_digest.name not in there:
        seal_all(destination)
    go_on_numbering(destination)


def copy_to_file(source: sa.Connection, path: Path) -> None:
    """The whole logbook as a new SQLite file."""
    engine = sqlite_engine(path)
    try:
        with engine.connect().execution_options(**WRITING) as destination, destination.begin():
            schema.create(destination)
            copy_rows(source, destination)
    finally:
        engine.dispose()


def go_on_numbering(connection: sa.Connection) -> None:
    """Let PostgreSQL go on after ids that were written as they were elsewhere."""
    if connection.dialect.name == "postgresql":
        for table in _TABLES:
            if "id" in table.columns:
                own = f"pg_get_serial_sequence('{table.name}', 'id')"
                query = f"SELECT setval({own}, coalesce(max(id), 1), max(id) IS NOT NULL) FROM {table.name}"
                connection.execute(sa.text(query))
