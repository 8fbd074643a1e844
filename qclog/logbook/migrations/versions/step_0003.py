"""Statements handed over, and the clampings they rest on."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint

from qclog.logbook.columns import integer, one_of, text
from qclog.logbook.migrations.adding import add_facts

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    add_facts(
        "statement",
        integer("number"),
        integer("revision"),
        text("issued_at"),
        text("receiver"),
        text("issuer"),
        integer("item_id", ForeignKey("name.id")),
        integer("modification_id", ForeignKey("modification.id")),
        integer("setup_revision_id", ForeignKey("setup_revision.id"), null=True),
        text("position"),
        text("clocking"),
        integer("diameter_tenths"),
        integer("distance_tenths"),
        text("characteristic"),
        text("verdict"),
        integer("limit_pm"),
        text("digest"),
        text("file_digest"),
        UniqueConstraint("number", "revision"),
        CheckConstraint("number >= 1 AND revision >= 1", name="number"),
        one_of("verdict", ("holds", "does not hold"), "verdict"),
        Index(None, "item_id"),
    )
    add_facts(
        "statement_clamping",
        integer("statement_id", ForeignKey("statement.id")),
        integer("clamping_id", ForeignKey("clamping.id")),
        UniqueConstraint("statement_id", "clamping_id"),
        Index(None, "clamping_id"),
    )
