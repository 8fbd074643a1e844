"""Tables without keys and rules on the same kind of database as a logbook, and a driver without anything above it."""

import sqlite3
from pathlib import Path
from typing import Any, Final, NamedTuple

from qclog.logbook.engine import Store

WRITTEN: Final = ("entry", "sitting", "clamping", "turn", "reading", "series", "figure", "entry_digest")
Rows = dict[str, list[tuple[Any, ...]]]


class Bare(NamedTuple):
    """A connection that commits when it is told, and the driver's mark of a parameter."""

    connection: Any
    mark: str

    def write(self, table: str, rows: list[tuple[Any, ...]]) -> None:
        values = ", ".join([self.mark] * len(rows[0]))
        self.connection.cursor().executemany(f"INSERT INTO {table} VALUES ({values})", rows)


def rows_of(store: Store) -> Rows:
    with store.reading() as connection:
        return {t: [tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {t}")] for t in WRITTEN}


def bare_tables(book: str, folder: Path, rows: Rows) -> Bare:
    """Empty tables for these rows: in a file of their own, on a server in a schema of their own beside the logbook."""
    if "://" in book:
        import psycopg

        server: Any = psycopg.connect(book, autocommit=True)
        server.execute("DROP SCHEMA IF EXISTS bare CASCADE")
        server.execute("CREATE SCHEMA bare")
        for table in rows:
            server.execute(f"CREATE TABLE bare.{table} (LIKE public.{table})")
        server.execute("SET search_path TO bare")
        return Bare(server, "%s")
    for old in folder.glob("bare.sqlite*"):
        old.unlink()
    file = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    file.execute("PRAGMA journal_mode=WAL")
    file.execute("PRAGMA synchronous=FULL")
    for table, some in rows.items():
        file.execute(f"CREATE TABLE {table} ({', '.join(f'c{i}' for i in range(len(some[0])))})")
    return Bare(file, "?")


def emptied(book: str, folder: Path) -> None:
    """Take away the logbook and its bare tables."""
    if "://" in book:
        import psycopg

        with psycopg.connect(book, autocommit=True) as server:
            server.execute("DROP SCHEMA IF EXISTS bare, public CASCADE")
            server.execute("CREATE SCHEMA public")
    for old in folder.glob("book.sqlite*"):
        old.unlink()
