"""The databases a logbook can live in: engines, waiting for a busy one, and what their errors mean.

SQLite: the driver's own transaction handling is switched off. A writing transaction begins with
``BEGIN IMMEDIATE``, so that what it reads cannot change before it writes, and waits for other writers with
short random pauses (the built-in busy wait can starve a writer). Write-ahead log, every commit synced to
the disk. PostgreSQL: writers queue at one advisory lock.
"""

import contextlib
import functools
import random
import sqlite3
import time
import urllib.parse
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine.interfaces import DBAPIConnection, DBAPICursor

from qclog.addresses import is_plain, shown
from qclog.errors import BusyError, DamagedError, NotFoundError, QclogError, RefusedError
from qclog.logbook import schema

WAIT_SECONDS: Final = 30.0
_PAUSE_SECONDS: Final = (0.0005, 0.004)
_READERS_WAIT_MS: Final = 5_000
"""Readers wait by SQLite's own means, only for the moments in which the file is opened first or closed last."""
_CACHE_KIB: Final = 64_000
"""Pages kept in memory at most: in a large import the keys of all its clampings are written at random."""
_PATIENCE: Final = {"connect_timeout": 5, "tcp_user_timeout": 10_000}
"""How long a server that is away is waited for, s and ms, unless the URL says otherwise."""
_WRITER_LOCK: Final = 7_110_764  # any constant: the key of the advisory lock that writers queue at
WRITING: Final = {"qclog_writing": True}
"""The execution options of a connection whose transactions write."""


def revision(connection: sa.Connection) -> str | None:
    """The revision of a logbook's tables, None where there is no logbook."""
    if not sa.inspect(connection).has_table(schema.schema_revision.name):
        return None
    return connection.scalar(sa.select(schema.schema_revision.c.version_num))


def sqlite_engine(path: Path, *, read_only: bool = False) -> sa.Engine:
    """The engine for a file; reading only, the file is left as it is to the last byte."""
    database, query = str(path), {}
    if read_only:
        database, query = file_uri(path.resolve().as_posix()), {"mode": "ro", "uri": "true"}
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=database, query=query),
        poolclass=sa.pool.QueuePool,
        connect_args={"isolation_level": None, "timeout": 0, "check_same_thread": False},
    )

    @sa.event.listens_for(engine, "connect")
    def _prepare(connection: DBAPIConnection, _record: object) -> None:
        cursor = connection.cursor()
        for setting in (
            f"busy_timeout={_READERS_WAIT_MS}",
            "synchronous=FULL",
            "foreign_keys=ON",
            "recursive_triggers=ON",
            f"cache_size=-{_CACHE_KIB}",
        ):
            cursor.execute(f"PRAGMA {setting}")
        if not read_only:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
            tables = {row[0] for row in cursor.fetchall()}
            if not tables or schema.schema_revision.name in tables:  # the file of another program is left as it is
                _until_free(functools.partial(_write_ahead, cursor))
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        own = connection.connection
        execute = own.cursor().execute
        writing = connection.get_execution_options().get("qclog_writing")
        wait_ms = 0 if writing else _READERS_WAIT_MS
        if own.info.get("wait_ms") != wait_ms:
            execute(f"PRAGMA busy_timeout={wait_ms}")
            own.info["wait_ms"] = wait_ms
        if writing:
            execute("PRAGMA temp_store=MEMORY")  # for the transaction's copies of pages that a statement may take back
            _until_free(functools.partial(execute, "BEGIN IMMEDIATE"))
            execute("PRAGMA temp_store=DEFAULT")  # what is sorted in it goes to the disk
        else:
            execute("BEGIN")

    return engine


def file_uri(path: str) -> str:
    """An absolute path as SQLite takes a URI: without a host, so that a network folder is part of the path."""
    return f"file://{'' if path.startswith('/') else '/'}{urllib.parse.quote(path, safe='/:')}"


def _write_ahead(cursor: DBAPICursor) -> None:
    """Switch to the write-ahead log. While another program reads, SQLite may stay as it was without a word."""
    cursor.execute("PRAGMA journal_mode=WAL")
    if cursor.fetchone() != ("wal",):
        raise sqlite3.OperationalError("database is locked: it cannot be switched to the write-ahead log")


def _until_free(attempt: Any) -> None:
    """Try until the file is no longer locked, with short random pauses."""
    deadline = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            attempt()
            return
        except (sqlite3.OperationalError, sa.exc.OperationalError) as error:
            if not _is_busy(error) or time.monotonic() > deadline:
                raise
            time.sleep(random.uniform(*_PAUSE_SECONDS))


def _is_busy(error: BaseException) -> bool:
    message = str(error)
    return "database is locked" in message or "database table is locked" in message


def postgresql_engine(target: str) -> sa.Engine:
    """The engine for a URL. Raises NotFoundError for one that is none, or without the driver."""
    if not is_plain(target):
        raise NotFoundError(
            f"{shown(target)} is not a database URL.",
            "Write postgresql://user@host/name; in a password @ : / ? # are %40 %3A %2F %3F %23.",
        )
    try:
        url = sa.engine.make_url(target)
        if url.get_backend_name() != "postgresql":
            raise NotFoundError(
                f"A logbook cannot live in {url.get_backend_name()!r}.",
                "Use a file, or postgresql://user@host/name.",
            )
        patience = {key: value for key, value in _PATIENCE.items() if key not in url.query}
        engine = sa.create_engine(url.set(drivername="postgresql+psycopg"), pool_pre_ping=True, connect_args=patience)
    except ModuleNotFoundError as error:
        raise NotFoundError(
            "The PostgreSQL driver is not installed.", "Install it with: pip install 'qclog[postgresql]'"
        ) from error
    except (sa.exc.ArgumentError, ValueError) as error:
        raise NotFoundError(f"{shown(target)} is not a database URL.", "postgresql://user@host/name") from error

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        if connection.get_execution_options().get("qclog_writing"):
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITER_LOCK})")
        else:
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")

    return engine


@contextlib.contextmanager
def explained(target: str) -> Iterator[None]:
    """Turn the database's errors into the program's own, which say what to do."""
    try:
        yield
    except QclogError:
        raise
    except sa.exc.DBAPIError as error:
        raise _translated(error, target) from error
    except sqlite3.Error as error:
        raise _translated(error, target) from error
    except OverflowError as error:
        raise RefusedError("A number is too large for the logbook.", "Check it and try again.") from error
    except UnicodeDecodeError as error:  # SQLite quotes names of a damaged catalogue
        raise _damaged(target, "there is text that is no UTF-8") from error
    except UnicodeError as error:
        raise RefusedError(f"The logbook {shown(target)} cannot take this text.", "Type it again.") from error


def _damaged(target: str, message: str) -> DamagedError:
    return DamagedError(
        f"{shown(target)} is damaged or no logbook ({message}).",
        "Leave it as it is and go back to your last backup: qclog restore BACKUP",
    )


def _translated(error: sa.exc.DBAPIError | sqlite3.Error, target: str) -> QclogError:
    cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
    message = " ".join(str(cause).split())
    place = shown(target)
    if _is_busy(error):
        return BusyError(
            f"The logbook {place} stayed locked by another program for {WAIT_SECONDS:.0f} s.",
            "Nothing was written; try again.",
        )
    if "disk is full" in message or "disk I/O error" in message:
        return RefusedError(
            f"The logbook {place} could not be written ({message}); nothing was changed.",
            "Make room on the disk and do it again.",
        )
    if "readonly" in message or "unable to open" in message:
        return RefusedError(
            f"The logbook {place} cannot be opened for writing ({message}).",
            "Check the rights on the file and its folder, or name another one with --logbook.",
        )
    if "not a database" in message or "malformed" in message:
        return _damaged(target, message)
    if "permission denied" in message or "must be owner" in message:
        return RefusedError(
            f"You may not do this in the logbook {place} ({message}).",
            "Ask who keeps it for the right to log, or only ask.",
        )
    if "facts are only added" in message:
        return RefusedError(f"{message}: the logbook does not change what was logged.", "Strike it out instead.")
    if isinstance(error, sa.exc.DataError) or "index row" in message:
        return RefusedError(f"The logbook cannot take this: {message}", "Shorten or correct it.")
    if isinstance(error, sa.exc.IntegrityError | sqlite3.IntegrityError):
        return RefusedError(f"The logbook refused it: {message}", "Look at what is there and try again.")
    if isinstance(cause, sqlite3.Error):
        return DamagedError(f"The logbook {place} gave an error: {message}", "Check the file.")
    if message.endswith("does not exist") and "database" in message:
        return NotFoundError(f"There is no database at {place}.", "Make it on the server, or name another one.")
    if message.startswith("invalid "):
        return NotFoundError(f"The URL {place} cannot be used: {message}.", "Correct it.")
    return BusyError(f"The database at {place} does not answer: {message}", "Check the server and try again.")
