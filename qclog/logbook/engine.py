"""Opening a logbook, and its transactions.

An older logbook is moved to the newest schema when it is opened, whatever for, after a backup.
"""

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from qclog.addresses import is_url, shown
from qclog.errors import DamagedError, NotFoundError, RefusedError
from qclog.logbook import schema
from qclog.logbook.databases import WRITING, explained, postgresql_engine, revision, sqlite_engine

if TYPE_CHECKING:
    from qclog.logbook.upgrading import Moved


class Store:
    """One open logbook: the engine and how to read and write in transactions.

    ``moved``: it was older and has been moved to the newest schema; ``newer``: it is of a newer program, and only
    what this one knows of it can be read.
    """

    def __init__(self, engine: sa.Engine, target: str) -> None:
        self.engine = engine
        self.target = target
        self.moved: Moved | None = None
        self.newer = False

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
            self.engine.connect().execution_options(**WRITING) as connection,
            connection.begin(),
        ):
            yield connection

    def close(self) -> None:
        self.engine.dispose()


def open_store(target: str, *, create: bool = False, newer: bool = False) -> Store:
    """Open the logbook at a path or URL; an older one is first moved to the newest schema, after a backup.

    ``newer``: one of a newer program too, to read what this program knows of it. Raises NotFoundError where there is
    none (unless ``create``), DamagedError for a file that is no logbook, is damaged, or was written by a newer program.
    """
    store = connect(target, create=create)
    try:
        found = _revision_of(store, create=create)
        if found in schema.OLDER:
            from qclog.logbook.upgrading import upgrade

            with store.writing() as connection:
                store.moved = upgrade(connection, store.target)
        elif found != schema.REVISION and not newer:
            raise newer_schema(store.target, found)
        store.newer = found not in (schema.REVISION, *schema.OLDER)
    except BaseException:
        store.close()
        raise
    return store


def open_as_it_is(target: str) -> Store:
    """Open a logbook for reading only, of this revision or an older one, and change nothing about it."""
    store = connect(target, read_only=True)
    try:
        found = _revision_of(store, create=False)
        if found not in (schema.REVISION, *schema.OLDER):
            raise newer_schema(store.target, found)
    except BaseException:
        store.close()
        raise
    return store


def connect(target: str, *, create: bool = False, read_only: bool = False) -> Store:
    """The database at a path or URL, whatever is in it. Raises NotFoundError, RefusedError."""
    if is_url(target):
        return Store(postgresql_engine(target), target)
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
    return Store(sqlite_engine(path, read_only=read_only), str(path))


def newer_schema(target: str, found: str) -> DamagedError:
    return DamagedError(
        f"{shown(target)} has tables of revision {found!r}, this program {schema.REVISION!r}.",
        "Install the newer qclog that wrote it; this one can only export it.",
    )


def _revision_of(store: Store, *, create: bool) -> str:
    with store.reading() as connection:
        found = revision(connection)
    if found is None and create:
        with store.writing() as connection:
            found = create_where_empty(connection, store.target)
    if found is None:
        raise DamagedError(f"{shown(store.target)} is not a logbook.", "Name the right one with --logbook.")
    return found


def create_where_empty(connection: sa.Connection, target: str) -> str:
    """Make a logbook in a database that holds nothing; returns its revision, or that of the one that is there.

    Raises DamagedError for a database that holds something else.
    """
    found = revision(connection)
    if found is None:
        if sa.inspect(connection).get_table_names():
            raise DamagedError(
                f"{shown(target)} holds something else than a logbook.", "Name another file with --logbook."
            )
        schema.create(connection)
        found = schema.REVISION
    return found
