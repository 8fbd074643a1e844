"""Statements as the driver takes them, with ? for each value: those that every entry needs.

On SQLite they go to the driver itself, which spares most of the time that SQLAlchemy takes for one. A server is
asked through SQLAlchemy, since the way there takes longer than either.
"""

import contextlib
import functools
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa


def run(connection: sa.Connection, statement: str, values: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
    """Run one statement and return its rows, if it has any."""
    own: Any = connection.connection.dbapi_connection
    if isinstance(own, sqlite3.Connection):
        return own.execute(statement, values).fetchall()
    result = connection.exec_driver_sql(statement.replace("?", "%s"), tuple(values))
    return [tuple(row) for row in result] if result.returns_rows else []


def run_for_each(connection: sa.Connection, statement: str, rows: Sequence[Sequence[Any]]) -> None:
    """Run one statement for each row of values."""
    own: Any = connection.connection.dbapi_connection
    if isinstance(own, sqlite3.Connection):
        own.executemany(statement, rows)
    else:
        connection.exec_driver_sql(statement.replace("?", "%s"), [tuple(row) for row in rows])


def not_waiting(connection: sa.Connection) -> contextlib.AbstractContextManager[None]:
    """A block of ``run_for_each`` only: a server is sent all of it before its answers are waited for."""
    own: Any = connection.connection.dbapi_connection
    return contextlib.nullcontext() if isinstance(own, sqlite3.Connection) else _sent_together(connection, own)


@contextlib.contextmanager
def _sent_together(connection: sa.Connection, own: Any) -> Iterator[None]:
    wrong: Any = connection.dialect.loaded_dbapi.Error
    try:
        with own.pipeline():
            yield
    except wrong as error:
        raise sa.exc.DBAPIError.instance(None, None, error, wrong) from error


@functools.cache
def marks(count: int) -> str:
    """What stands for so many values in a statement."""
    return ", ".join("?" * count)
