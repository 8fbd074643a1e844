"""Opening a logbook, and transactions that wait for a busy one.

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
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine.interfaces import DBAPIConnection, DBAPICursor

from qclog.addresses import is_plain, is_url, shown
from qclog.errors import BusyError, DamagedError, NotFoundError, QclogError, RefusedError
from qclog.logbook import schema

WAIT_SECONDS: Final = 30.0
_PAUSE_SECONDS: Final = (0.0005, 0.004)
_READERS_WAIT_MS: Final = 5_000
"""Readers wait by SQLite's own means, only for the moments in which the file is opened first or closed last."""
_PATIENCE: Final = {"connect_timeout": 5, "tcp_user_timeout": 10_000}
"""How long a server that is away is waited for, s and ms, unless the URL says otherwise."""
_WRITER_LOCK: Final = 7_110_764  # any constant: the key of the advisory lock that writers queue at
_WRITING: Final = {"qclog_writing": True}


class Store:
    """One open logbook: the engine and how to read and write in transactions."""

    def __init__(self, engine: sa.Engine, target: str) -> None:
        self.engine = engine
        self.target = target

    @property
    def dialect(self) -> str:
        return self.engine.dialect.name

    @contextlib.contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A consistent view for reading. Raises BusyError, DamagedError."""
        with explained(self.target), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """One transaction that is kept whole or not at all. Raises BusyError, DamagedError, RefusedError."""
        with (
            explained(self.target),
            self.engine.connect().execution_options(**_WRITING) as connection,
            connection.begin(),
        ):
            yield connection

    def close(self) -> None:
        self.engine.dispose()


def open_store(target: str, *, create: bool = False) -> Store:
    """Open the logbook at a path or URL.

    Raises NotFoundError where there is none (unless ``create``), DamagedError for a file that is no logbook,
    is damaged, or was written by another version of the program.
    """
    if is_url(target):
        store = Store(_postgresql_engine(target), target)
    else:
        try:
            path = Path(target).expanduser()
            there = path.exists()
        except (OSError, RuntimeError) as error:
            why = getattr(error, "strerror", "") or str(error).rstrip(".")
            raise NotFoundError(f"No logbook can be at {target}: {why}.", "Name another place.") from error
        if not there:
            if not create:
                raise NotFoundError(
                    f"There is no logbook at {path}.",
                    "Log or add something first, or name another one with --logbook or QCLOG_LOGBOOK.",
                )
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise RefusedError(
                    f"No logbook can be made at {path}: {error.strerror}.",
                    "Name another place with --logbook.",
                ) from error
        elif path.is_dir():
            raise NotFoundError(f"{path} is a folder, not a logbook.", "Name the file inside it.")
        store = Store(_sqlite_engine(path), str(path))
    try:
        _check_revision(store, create=create)
    except BaseException:
        store.close()
        raise
    return store


def _check_revision(store: Store, *, create: bool) -> None:
    with store.reading() as connection:
        found = _revision(connection)
    if found is None and create:
        with store.writing() as connection:
            found = _revision(connection)
            if found is None:
                if sa.inspect(connection).get_table_names():
                    raise DamagedError(
                        f"{shown(store.target)} holds something else than a logbook.",
                        "Name another file with --logbook.",
                    )
                schema.create(connection)
                found = schema.REVISION
    if found is None:
        raise DamagedError(f"{shown(store.target)} is not a logbook.", "Name the right one with --logbook.")
    if found != schema.REVISION:
        raise DamagedError(
            f"{shown(store.target)} has tables of revision {found!r}, this program {schema.REVISION!r}.",
            "Install the newer qclog that wrote it.",
        )


def _revision(connection: sa.Connection) -> str | None:
    if not sa.inspect(connection).has_table(schema.schema_revision.name):
        return None
    return connection.scalar(sa.select(schema.schema_revision.c.version_num))


def _sqlite_engine(path: Path) -> sa.Engine:
    engine = sa.create_engine(
        sa.URL.create("sqlite", database=str(path)),
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
        ):
            cursor.execute(f"PRAGMA {setting}")
        cursor.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        tables = {row[0] for row in cursor.fetchall()}
        if not tables or schema.schema_revision.name in tables:  # the file of another program is left as it is
            _until_free(functools.partial(_write_ahead, cursor))
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _begin(connection: sa.Connection) -> None:
        execute = connection.connection.cursor().execute
        if not connection.get_execution_options().get("qclog_writing"):
            execute("BEGIN")
            return
        execute("PRAGMA busy_timeout=0")
        _until_free(functools.partial(execute, "BEGIN IMMEDIATE"))
        execute(f"PRAGMA busy_timeout={_READERS_WAIT_MS}")

    return engine


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


def _postgresql_engine(target: str) -> sa.Engine:
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
    except (sa.exc.ArgumentError, ValueError) as error:
        raise NotFoundError(f"{shown(target)} is not a database URL.", "postgresql://user@host/name") from error
    except ModuleNotFoundError as error:
        raise NotFoundError(
            "The PostgreSQL driver is not installed.", "Install it with: pip install 'qclog[postgresql]'"
        ) from error

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
    except UnicodeError as error:
        raise RefusedError(f"The logbook {shown(target)} cannot take this text.", "Type it again.") from error


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
            f"The logbook {place} could not be written ({message}); nothing was logged.",
            "Make room on the disk and log it again.",
        )
    if "readonly" in message or "unable to open" in message:
        return RefusedError(
            f"The logbook {place} cannot be opened for writing ({message}).",
            "Check the rights on the file and its folder, or name another one with --logbook.",
        )
    if "not a database" in message or "malformed" in message:
        return DamagedError(
            f"{place} is damaged or no logbook ({message}).",
            "Leave it as it is and go back to your last backup.",
        )
    if "permission denied" in message:
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
