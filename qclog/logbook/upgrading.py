"""Moving an older logbook to the newest schema, after a backup, while no one else can write."""

from dataclasses import dataclass
from pathlib import Path

import sqlalchemy as sa

from qclog import config
from qclog.addresses import shown
from qclog.errors import DamagedError
from qclog.logbook import schema
from qclog.logbook.databases import revision
from qclog.logbook.migrations import migrate
from qclog.logbook.safekeeping import files, rows


@dataclass(frozen=True, slots=True)
class Moved:
    """What was done to an older logbook when it was opened: the revision it had, and its backup from before."""

    revision: str
    backup: Path


def upgrade(connection: sa.Connection, target: str) -> Moved | None:
    """Back up and move the logbook of an open writing transaction; None where another program just did.

    The backup of a file lies beside it. That of a server's database is a SQLite logbook of the newest schema in the
    user's data folder. Raises DamagedError, RefusedError; then nothing was changed.
    """
    found = revision(connection)
    if found is None or found == schema.REVISION:
        return None
    of_file = connection.dialect.name == "sqlite"
    place = Path(target) if of_file else config.backups() / str(connection.engine.url.database)
    backup = files.dated(place, f"revision-{found}")
    with files.whole_file(backup) as part:
        if of_file:
            files.copy_file(place, part)
            if what := files.damage(part):
                raise DamagedError(
                    f"{shown(target)} is damaged ({what}) and was not moved to the newest schema.",
                    "Leave it as it is and go back to your last backup.",
                )
        else:
            rows.copy_to_file(connection, part)
    migrate(connection, found)
    return Moved(found, backup)
