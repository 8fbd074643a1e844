"""Backups of a logbook, made while others write, and going back to one."""

import contextlib
import shutil
import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from qclog import config
from qclog.addresses import is_url
from qclog.errors import BusyError, DamagedError, NotFoundError, RefusedError
from qclog.logbook.databases import WAIT_SECONDS, explained, revision
from qclog.logbook.engine import Store, connect, open_as_it_is
from qclog.logbook.migrations import migrate
from qclog.logbook.safekeeping import files, rows
from qclog.logbook.safekeeping.verifying import Check, Verified, verified

_PAUSE_SECONDS: Final = 0.001
_LOOKED_AT: Final = frozenset(Check) - {Check.FIGURES}
"""What is derived can be derived again: it need not be looked at to know that a backup is good."""


@dataclass(frozen=True, slots=True)
class Restored:
    """``kept``: what was there before, None where there was nothing; ``lost``: how many of its entries the backup has
    not, None where it could not be read."""

    verified: Verified
    kept: Path | None
    lost: int | None


def backup(store: Store, path: Path | None = None) -> tuple[Path, Verified]:
    """Keep a logbook as it is at this moment in a new SQLite file; says what was found looking that through.

    Without a name: beside the file, or for a server's database in the user's data folder, with date and time.
    Raises RefusedError for a file that is there already or cannot be written; then nothing is left.
    """
    if path is None:
        of_server = config.backups() / str(store.engine.url.database)
        path = files.dated(of_server if is_url(store.target) else Path(store.target))
    with store.reading() as connection, files.whole_file(path) as part:
        if store.dialect == "sqlite":
            files.copy_file(Path(store.target), part)
        else:
            rows.copy_to_file(connection, part)
        return path, _looked_through(part, path)


def restore(target: str, path: Path, *, lose: bool = False) -> Restored:
    """Put a backup in the place of the logbook at ``target``, after keeping what is there in a file beside it.

    The backup itself is left as it is. Raises NotFoundError where there is none, DamagedError for one that is not
    sound; RefusedError for a logbook on a server and, without ``lose``, where entries would be lost; BusyError.
    """
    if is_url(target):
        raise RefusedError(
            "A logbook on a server is not replaced.", f"Copy into a new database: qclog copy {path} postgresql://..."
        )
    live = Path(target).expanduser()
    if not path.is_file():
        raise NotFoundError(f"There is no backup {path}.", "Check the name.")
    if live.exists() and live.samefile(path):
        raise RefusedError(f"{path} is the logbook itself.", "Name one of its backups.")
    with files.beside(live) as part, explained(target):
        found = _newest_copy(path, part)
        if not live.exists():
            files.put(part, live)
            return Restored(found, None, 0)
        kept = files.dated(live, "before-restore")
        return Restored(found, kept, _replace(live, part, kept, lose=lose))


def _looked_through(path: Path, name: Path) -> Verified:
    store = open_as_it_is(str(path))
    try:
        with store.reading() as connection:
            return verified(connection, str(name), only=_LOOKED_AT)
    finally:
        store.close()


def _newest_copy(backup: Path, part: Path) -> Verified:
    """Copy a backup and move the copy to the newest schema."""
    open_as_it_is(str(backup)).close()
    files.copy_file(backup, part)
    store = connect(str(part))
    try:
        with store.writing() as connection:
            migrate(connection, revision(connection) or "")
    finally:
        store.close()
    files.as_one_file(part)
    found = _looked_through(part, backup)
    if not found.sound:
        raise DamagedError(
            f"The backup {backup} is not sound, and nothing was changed.",
            f"See what is wrong with it: qclog --logbook {backup} verify",
        )
    return found


def _replace(live: Path, part: Path, kept: Path, *, lose: bool) -> int | None:
    """Returns how many entries were lost, None where that could not be counted."""
    lost = 0

    def keep_what_is_there() -> None:
        nonlocal lost
        lost = _beyond(live, part)
        if lost and not lose:
            raise _would_be_lost(f"The logbook {live} has entries that the backup has not: {lost}.")
        with files.whole_file(kept) as safe:
            files.copy_file(live, safe)

    try:
        _beyond(live, part)  # reading only: what is damaged is left as it is
    except sqlite3.DatabaseError as error:
        if isinstance(error, sqlite3.OperationalError) and "no such table" not in str(error):
            raise
        if not lose:
            raise _would_be_lost(
                f"The logbook {live} is damaged: what it has and the backup has not cannot be counted."
            ) from error
        _replace_damaged(live, part, kept)
        return None
    try:
        _write_into(live, part, keep_what_is_there)
    except BaseException:
        files.remove(kept)
        raise
    return lost


def _replace_damaged(live: Path, part: Path, kept: Path) -> None:
    """Into the damaged file where SQLite takes it for a database, as others may have it open; else in its stead."""
    _keep_damaged(live, kept)
    try:
        _write_into(live, part, lambda: None)
    except sqlite3.DatabaseError as error:
        if isinstance(error, sqlite3.OperationalError):
            raise
        files.put(part, live)


def _would_be_lost(what: str) -> RefusedError:
    return RefusedError(
        what, "Nothing was changed. To go back all the same add --yes; what is there is kept in a file beside it first."
    )


def _beyond(live: Path, part: Path) -> int:
    """How many entries of the logbook the copy of the backup has not."""
    with files.reading(live) as connection:
        connection.execute("ATTACH ? AS kept", (str(part),))
        query = "SELECT count(*) FROM main.entry WHERE uuid NOT IN (SELECT uuid FROM kept.entry)"
        return int(connection.execute(query).fetchone()[0])


def _keep_damaged(live: Path, kept: Path) -> None:
    """Copy a damaged file as it is, with what stands beside it, which gets its name first."""
    endings = [ending for ending in ("-wal", "") if live.with_name(live.name + ending).exists()]
    with files.beside(kept) as part:
        for ending in endings:
            shutil.copyfile(live.with_name(live.name + ending), part.with_name(part.name + ending))
        for ending in endings:
            part.with_name(part.name + ending).rename(kept.with_name(kept.name + ending))


def _write_into(live: Path, part: Path, once_locked: Callable[[], None]) -> None:
    """SQLite's own copying into a file that others may have open: they see it all at once, after the last page.

    From its first step on no one else can write: then ``once_locked`` is called, and what it raises ends it, with
    nothing changed. A step is one page, so that the first is never the last.
    """
    deadline = time.monotonic() + WAIT_SECONDS
    locked = False

    def after_step(status: int, _remaining: int, _total: int) -> None:
        nonlocal locked
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            if time.monotonic() > deadline:
                raise BusyError(f"The logbook {live} stayed locked.", "Nothing was changed; try again.")
        elif not locked:
            locked = True
            once_locked()

    with (
        contextlib.closing(sqlite3.connect(part)) as source,
        contextlib.closing(sqlite3.connect(live, timeout=0)) as destination,
    ):
        destination.execute("PRAGMA synchronous=FULL")
        source.backup(destination, pages=1, progress=after_step, sleep=_PAUSE_SECONDS)
