"""Digests of entries."""

from sqlalchemy import UniqueConstraint

from qclog.logbook.columns import text
from qclog.logbook.migrations.adding import add_facts

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    add_facts("entry_digest", text("previous"), text("digest"), UniqueConstraint("entry_id"))
