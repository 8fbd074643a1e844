"""What steps are made of. A step writes its columns out, since those of ``schema`` go on changing."""

from alembic import op
from sqlalchemy import ForeignKey
from sqlalchemy.schema import SchemaItem

from qclog.logbook import append_only
from qclog.logbook.columns import integer


def add_facts(name: str, *parts: SchemaItem) -> None:
    """A new table of facts with its indexes and the triggers that make it append-only."""
    own = integer("id", primary=True), integer("entry_id", ForeignKey("entry.id"))
    table = op.create_table(name, *own, *parts, sqlite_strict=True)
    for trigger in append_only.triggers(op.get_bind().dialect.name, [table]).values():
        op.execute(trigger)
