"""Moves the tables of an older logbook to the newest schema, by Alembic, a file in ``versions`` a revision.

Steps only add: tables, columns that allow NULL, indexes. All steps and the row with the revision are one transaction,
the caller's.
"""

from importlib.resources import as_file, files

import sqlalchemy as sa

from qclog.errors import DamagedError
from qclog.logbook import append_only, schema
from qclog.logbook.safekeeping.digests import seal_all

_FIRST_WITH_DIGESTS = "0002"


def migrate(connection: sa.Connection, found: str) -> None:
    """Move the logbook of an open writing transaction from revision ``found`` to ``schema.REVISION``, if it is another.

    Entries from before there were digests are sealed as they stand. Raises DamagedError where the triggers are not
    those they should be afterwards.
    """
    if found == schema.REVISION:
        return
    from alembic import command
    from alembic.config import Config

    with as_file(files(__name__)) as folder:
        config = Config()
        config.set_main_option("script_location", str(folder).replace("%", "%%"))
        config.attributes["connection"] = connection
        command.upgrade(config, schema.REVISION)
    if found < _FIRST_WITH_DIGESTS:
        seal_all(connection)
    if append_only.found(connection) != append_only.triggers(connection.dialect.name, schema.FACTS):
        raise DamagedError(
            "The triggers that keep facts from being changed are not those of a logbook.",
            "Nothing was changed. Go back to a backup, or open it with the qclog that wrote it and export it.",
        )
