"""Digests of entries, who has what, and gauges found wrong."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, UniqueConstraint

from qclog.logbook.columns import integer, one_of, text
from qclog.logbook.migrations.adding import add_facts

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    add_facts("entry_digest", text("previous"), text("digest"), UniqueConstraint("entry_id"))
    add_facts(
        "custody",
        integer("item_id", ForeignKey("name.id")),
        text("direction"),
        text("who"),
        integer("setup_id", ForeignKey("name.id"), null=True),
        text("place"),
        text("done_at"),
        one_of("direction", ("took", "back"), "direction"),
        Index(None, "item_id"),
    )
    add_facts(
        "gauge_recall",
        integer("gauge_id", ForeignKey("name.id")),
        text("found_at"),
        text("found"),
        text("since"),
        integer("read_pm", null=True),
        integer("true_pm", null=True),
        text("note"),
        CheckConstraint("found <> ''", name="found"),
        CheckConstraint("(read_pm IS NULL) = (true_pm IS NULL)", name="both"),
        CheckConstraint("read_pm IS NULL OR (read_pm > 0 AND true_pm > 0)", name="above_zero"),
        Index(None, "gauge_id"),
    )
    add_facts(
        "recall_clearing",
        integer("recall_id", ForeignKey("gauge_recall.id")),
        integer("clamping_id", ForeignKey("clamping.id"), null=True),
        text("reason"),
        CheckConstraint("reason <> ''", name="reason"),
        Index(None, "recall_id"),
    )
