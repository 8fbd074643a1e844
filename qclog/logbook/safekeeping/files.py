"""Files that are there whole or not at all: copies of a SQLite logbook, made while others write."""

import contextlib
import datetime
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from qclog.errors import RefusedError
from qclog.logbook.databases import file_uri

_BESIDE: Final = ("", "-wal", "-shm", "-journal")
"""What SQLite keeps of a database: the file itself and those beside it."""


def dated(path: Path, what: str = "") -> Path:
    """A name beside ``path`` with the date and time of now, and ``what`` it is, that is not taken yet."""
    now = datetime.datetime.now().strftime("%Y-%m-%d-%H%M%S")
    name = f"{path.stem}-{now}{what and f'-{what}'}"
    free = path.with_name(f"{name}.sqlite")
    number = 2
    while free.exists():
        free = path.with_name(f"{name}-{number}.sqlite")
        number += 1
    return free


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A name beside ``path`` for a SQLite file that gets its name once it is whole and on the disk.

    Raises RefusedError where there is a file already, or it cannot be written; then nothing is left.
    """
    with beside(path) as part:
        _refuse_existing(path)
        yield part
        as_one_file(part)
        _refuse_existing(path)
        put(part, path)


@contextlib.contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A name for a SQLite file beside ``path`` that is gone at the end. Raises RefusedError if it cannot be written."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield part
    except (OSError, sqlite3.OperationalError, sa.exc.OperationalError) as error:
        cause = error.orig if isinstance(error, sa.exc.OperationalError) else error
        if not isinstance(cause, OSError | sqlite3.OperationalError):
            raise  # a server's
        reason = cause.strerror if isinstance(cause, OSError) else str(cause)
        raise RefusedError(f"{path} could not be written: {reason}.", "Make room, or name another place.") from error
    finally:
        remove(part)


def put(part: Path, path: Path) -> None:
    """Let a closed SQLite file take its place, in the stead of a damaged one too."""
    _sync(part)
    for left_over in _BESIDE[1:]:
        path.with_name(path.name + left_over).unlink(missing_ok=True)
    part.replace(path)
    if os.name == "posix":
        _sync(path.parent)


def copy_file(source: Path, destination: Path) -> None:
    """Copy a SQLite file by SQLite's own means: as it stands at one moment, while others go on writing."""
    with reading(source) as from_there, contextlib.closing(sqlite3.connect(destination)) as writing:
        from_there.backup(writing)


def reading(path: Path) -> contextlib.closing[sqlite3.Connection]:
    """A connection to a SQLite file that changes nothing about it, nor takes in what stands beside it."""
    return contextlib.closing(sqlite3.connect(f"{file_uri(path.resolve().as_posix())}?mode=ro", uri=True))


def as_one_file(path: Path) -> None:
    """Take in what stands beside a SQLite file that nobody else has open."""
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE")


def damage(path: Path) -> str:
    """The first thing that SQLite finds wrong with a file's structure, '' for none."""
    try:
        with contextlib.closing(sqlite3.connect(path)) as connection:
            (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.DatabaseError as error:
        return str(error)
    return "" if found == "ok" else str(found)


def remove(path: Path) -> None:
    for beside in _BESIDE:
        with contextlib.suppress(OSError):
            path.with_name(path.name + beside).unlink()


def _refuse_existing(path: Path) -> None:
    if path.exists():
        raise RefusedError(f"{path} is there already.", "Name a new file.")


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
