"""A whole logbook into another place, SQLite or PostgreSQL either way."""

from pathlib import Path

import sqlalchemy as sa

from qclog.addresses import is_url, shown
from qclog.errors import DamagedError, RefusedError
from qclog.logbook import schema
from qclog.logbook.engine import connect, create_where_empty, open_as_it_is
from qclog.logbook.migrations import migrate
from qclog.logbook.safekeeping import files, rows
from qclog.logbook.safekeeping.verifying import Verified, verified


def copy(source: str, destination: str) -> Verified:
    """Copy the logbook at one path or URL into a new file or an empty database, and look the copy through.

    Raises RefusedError where there is a logbook with entries; DamagedError for a copy that is not sound, which the
    source then is not either. On any error nothing is left at the destination.
    """
    store = open_as_it_is(source)
    try:
        with store.reading() as reading:
            if is_url(destination) or Path(destination).exists():
                return _into_empty(reading, source, destination)
            with files.whole_file(Path(destination)) as part:
                rows.copy_to_file(reading, part)
                copied = open_as_it_is(str(part))
                try:
                    with copied.reading() as connection:
                        return _sound(connection, source, destination)
                finally:
                    copied.close()
    finally:
        store.close()


def _into_empty(reading: sa.Connection, source: str, destination: str) -> Verified:
    store = connect(destination)
    try:
        with store.writing() as writing:
            found = create_where_empty(writing, destination)
            if writing.scalar(sa.select(sa.func.count()).select_from(schema.entry)):
                raise RefusedError(
                    f"The logbook {shown(destination)} is not empty.", "Copy into a new file or an empty database."
                )
            migrate(writing, found)
            rows.copy_rows(reading, writing)
            return _sound(writing, source, destination)
    finally:
        store.close()


def _sound(connection: sa.Connection, source: str, destination: str) -> Verified:
    found = verified(connection, destination)
    if not found.sound:
        raise DamagedError(
            f"The logbook {shown(source)} is not sound, and was not copied.",
            f"See what is wrong: qclog --logbook {shown(source)} verify",
        )
    return found
