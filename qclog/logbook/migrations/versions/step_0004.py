"""What else a card says and how work was done; quick checks of gauges; further findings on items."""

from sqlalchemy import CheckConstraint, ForeignKey, Index

from qclog.logbook.columns import integer, text
from qclog.logbook.migrations.adding import add_facts

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    add_facts(
        "particular",
        integer("body_id", ForeignKey("name.id")),
        integer("modification_id", ForeignKey("modification.id"), null=True),
        text("name"),
        text("text"),
        Index(None, "body_id"),
    )
    add_facts(
        "gauge_check",
        integer("gauge_id", ForeignKey("name.id")),
        text("done_at"),
        integer("read_pm"),
        integer("true_pm"),
        integer("within_pm"),
        text("against"),
        text("note"),
        CheckConstraint("within_pm > 0", name="within"),
        Index(None, "gauge_id"),
    )
    add_facts(
        "sighting",
        integer("item_id", ForeignKey("name.id")),
        text("seen_on"),
        text("finding"),
        text("note"),
        CheckConstraint("finding <> ''", name="finding"),
        Index(None, "item_id"),
    )
