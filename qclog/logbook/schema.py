"""The tables of a logbook, the same on SQLite and PostgreSQL.

Facts are inserted, never changed: triggers in the database itself refuse every update and delete.
The newest card of a thing wins. Every fact belongs to one ``entry``, which says who wrote it, when
and at which station. What is computed lives in the derived tables, may be rebuilt at any time, and
carries the version of the method that made it.

Conventions
    lengths       whole picometres (``_pm``), exact for metric and inch
    angles        whole thousandths of a degree (``_mdeg``)
    times         text as written, ISO 8601; ``at_utc`` is the program's own stamp
    keys          contain no NULL: '' or -1 stands for "none"
    new columns   come last in their table and allow NULL: the digests of entries written before stay as they are
"""

from typing import Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Connection,
    ForeignKey,
    Index,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)
from sqlalchemy.schema import SchemaItem

from qclog.logbook import append_only
from qclog.logbook.columns import Int as _Int
from qclog.logbook.columns import integer as _integer
from qclog.logbook.columns import one_of as _one_of
from qclog.logbook.columns import real as _real
from qclog.logbook.columns import text as _text

REVISION: Final = "0004"
"""Names this set of tables. A logbook of an older one is moved to it when it is opened, a newer one not written to."""

_SINCE_0003: Final = frozenset({"particular", "gauge_check", "sighting"})
_SINCE_0002: Final = _SINCE_0003 | {"statement", "statement_clamping"}
OLDER: Final = {
    "0001": _SINCE_0002 | {"entry_digest", "custody", "gauge_recall", "recall_clearing"},
    "0002": _SINCE_0002,
    "0003": _SINCE_0003,
}
"""The revisions a logbook is moved from (``qclog.logbook.migrations``), and the tables of facts that each has not."""

ITEM_KINDS: Final = (
    "collet",
    "sleeve",
    "chuck",
    "jaws",
    "arbor",
    "spindle",
    "dividing head",
    "insert",
    "other",
)
FINDINGS: Final = ("crack", "blue", "bell-mouth", "lost spring", "slip", "sound")
STATES: Final = ("in service", "restricted", "out", "scrap")
TURN_KINDS: Final = ("tir", "point", "value")
INSTRUMENT_KINDS: Final = ("lever", "plunger", "electronic", "other")
NAME_KINDS: Final = ("item", "setup", "pin", "instrument")
SENSES: Final = ("clockwise", "counterclockwise")
CUSTODY: Final = ("took", "back")
STATED: Final = ("holds", "does not hold")

metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    }
)


def _table(name: str, *parts: SchemaItem) -> Table:
    return Table(name, metadata, *parts, sqlite_strict=True)


def _fact(name: str, *parts: SchemaItem) -> Table:
    """A table of facts: a row of it belongs to an entry and is never changed."""
    table = _table(name, _integer("id", primary=True), _integer("entry_id", ForeignKey("entry.id")), *parts)
    FACTS.append(table)
    return table


FACTS: list[Table] = []
"""The append-only tables, in an order in which every foreign key points to an earlier one."""

schema_revision = _table("schema_revision", Column("version_num", Text, primary_key=True))

entry = _table(
    "entry",
    _integer("id", primary=True),
    _text("uuid"),
    _text("station"),
    _integer("sequence"),
    _text("at_utc"),
    _text("who"),
    _text("what"),
    UniqueConstraint("uuid"),
    UniqueConstraint("station", "sequence"),
)
FACTS.append(entry)

setting = _fact("setting", _text("key"), _text("value"))

# --- names: items, setups, pins and instruments share one namespace, compared without case ---

name = _fact(
    "name",
    _text("folded"),
    _text("text"),
    _text("kind"),
    UniqueConstraint("folded"),
    CheckConstraint("text <> ''", name="not_empty"),
    _one_of("kind", NAME_KINDS, "kind"),
)

item_card = _fact(
    "item_card",
    _integer("item_id", ForeignKey("name.id")),
    _text("kind"),
    _text("system"),
    _integer("nominal_pm", null=True),
    _integer("bore_pm", null=True),
    _integer("range_low_pm", null=True),
    _integer("range_high_pm", null=True),
    _integer("grip_length_pm", null=True),
    _integer("slots", null=True),
    _text("material"),
    _text("place"),
    _text("acquired"),
    _text("price"),
    _text("mark"),
    _text("note"),
    _one_of("kind", ITEM_KINDS, "kind"),
    Index(None, "item_id"),
)

item_state = _fact(
    "item_state",
    _integer("item_id", ForeignKey("name.id")),
    _text("state"),
    _integer("limit_pm", null=True),
    _text("since"),
    _text("reason"),
    _one_of("state", STATES, "state"),
    Index(None, "item_id"),
)

modification = _fact(
    "modification",
    _integer("item_id", ForeignKey("name.id")),
    _integer("number"),
    _text("done_at"),
    _text("what"),
    _integer("size_before_pm", null=True),
    _integer("size_pm", null=True),
    _integer("wall_pm", null=True),
    _text("held_by"),
    _text("holder"),
    _text("position"),
    _text("clocking"),
    _text("torque"),
    _text("note"),
    UniqueConstraint("item_id", "number"),
    CheckConstraint("number >= 0", name="number"),
)

pin_card = _fact(
    "pin_card",
    _integer("pin_id", ForeignKey("name.id")),
    _integer("diameter_pm"),
    _integer("roundness_pm", null=True),
    _text("kind"),
    _text("grade"),
    _text("note"),
    CheckConstraint("diameter_pm > 0", name="diameter"),
    Index(None, "pin_id"),
)

instrument_card = _fact(
    "instrument_card",
    _integer("instrument_id", ForeignKey("name.id")),
    _text("kind"),
    _text("unit"),
    _integer("division_pm"),
    _integer("range_pm", null=True),
    _integer("correct_at_mdeg"),
    _text("serial"),
    _text("note"),
    CheckConstraint("division_pm > 0", name="division"),
    _one_of("kind", INSTRUMENT_KINDS, "kind"),
    Index(None, "instrument_id"),
)

calibration = _fact(
    "calibration",
    _integer("gauge_id", ForeignKey("name.id")),
    _text("done_on"),
    _text("due_on"),
    _text("as_found"),
    _text("as_left"),
    _integer("error_limit_pm", null=True),
    _integer("uncertainty_pm", null=True),
    _real("coverage_factor", null=True),
    _text("certificate"),
    _text("note"),
    Index(None, "gauge_id"),
)

# --- setups: named chains with revisions ---

setup_position = _fact(
    "setup_position",
    _integer("setup_id", ForeignKey("name.id")),
    _text("position"),
    UniqueConstraint("setup_id", "position"),
)

setup_revision = _fact(
    "setup_revision",
    _integer("setup_id", ForeignKey("name.id")),
    _integer("number"),
    _text("since"),
    _text("reason"),
    _text("sense"),
    UniqueConstraint("setup_id", "number"),
    CheckConstraint("number >= 1", name="number"),
    _one_of("sense", SENSES, "sense"),
)

setup_link = _fact(
    "setup_link",
    _integer("revision_id", ForeignKey("setup_revision.id")),
    _integer("rank"),
    _integer("item_id", ForeignKey("name.id")),
    _integer("modification_id", ForeignKey("modification.id")),
    _integer("clocking_mdeg", null=True),
    UniqueConstraint("revision_id", "rank"),
)

# --- what an item must hold, what was done with it, what was seen on it ---

made_to = _fact(
    "made_to",
    _integer("body_id", ForeignKey("name.id")),
    _integer("modification_number"),
    _text("characteristic"),
    _integer("distance_pm"),
    _integer("setup_id", ForeignKey("name.id"), null=True),
    _text("position"),
    _integer("upper_pm", null=True),
    _integer("lower_pm", null=True),
    _text("text"),
    Index(None, "body_id"),
    CheckConstraint("upper_pm IS NOT NULL OR lower_pm IS NOT NULL", name="some_limit"),
)

use_record = _fact(
    "use_record",
    _integer("item_id", ForeignKey("name.id")),
    _text("used_on"),
    _integer("clampings", null=True),
    _real("hours", null=True),
    _text("note"),
    Index(None, "item_id"),
)

inspection = _fact(
    "inspection",
    _integer("item_id", ForeignKey("name.id")),
    _text("seen_on"),
    _text("finding"),
    _text("note"),
    _one_of("finding", FINDINGS, "finding"),
    Index(None, "item_id"),
)

# --- measuring ---

sitting = _fact("sitting", _text("label"), UniqueConstraint("label"))

clamping = _fact(
    "clamping",
    _text("uuid"),
    _integer("item_id", ForeignKey("name.id")),
    _integer("modification_id", ForeignKey("modification.id")),
    _integer("setup_revision_id", ForeignKey("setup_revision.id"), null=True),
    _text("position"),
    _text("clocking"),
    _integer("sitting_id", ForeignKey("sitting.id")),
    _text("label"),
    _text("taken_at"),
    _integer("pin_id", ForeignKey("name.id"), null=True),
    _integer("diameter_pm", null=True),
    _integer("instrument_id", ForeignKey("name.id"), null=True),
    _integer("calibration_id", ForeignKey("calibration.id"), null=True),
    _integer("lever_mdeg", null=True),
    _text("pin_out"),
    _text("torque"),
    _text("conditions"),
    _text("operator"),
    _integer("recalled"),
    _text("note"),
    UniqueConstraint("uuid"),
    CheckConstraint("recalled IN (0, 1)", name="recalled"),
    _one_of("pin_out", ("yes", "no", ""), "pin_out"),
    Index(None, "item_id"),
)

clamping_body = _fact(
    "clamping_body",
    _integer("clamping_id", ForeignKey("clamping.id")),
    _integer("body_id", ForeignKey("name.id")),
    _integer("angle_mdeg"),
    UniqueConstraint("clamping_id", "body_id"),
)

turn = _fact(
    "turn",
    _integer("clamping_id", ForeignKey("clamping.id")),
    _text("label"),
    _integer("distance_pm"),
    _text("characteristic"),
    _text("kind"),
    _integer("closure_pm", null=True),
    _one_of("kind", TURN_KINDS, "kind"),
    Index(None, "clamping_id"),
)

reading = _fact(
    "reading",
    _integer("turn_id", ForeignKey("turn.id")),
    _integer("rank"),
    _integer("angle_mdeg", null=True),
    _integer("angle_within_mdeg"),
    _integer("value_pm"),
    _integer("low_pm", null=True),
    _integer("high_pm", null=True),
    _integer("step_pm"),
    _text("text"),
    UniqueConstraint("turn_id", "rank"),
)

strike = _fact(
    "strike",
    _integer("clamping_id", ForeignKey("clamping.id"), null=True),
    _integer("turn_id", ForeignKey("turn.id"), null=True),
    _integer("reading_id", ForeignKey("reading.id"), null=True),
    _text("reason"),
    CheckConstraint(
        "(CASE WHEN clamping_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN turn_id IS NULL THEN 0 ELSE 1 END)"
        " + (CASE WHEN reading_id IS NULL THEN 0 ELSE 1 END) = 1",
        name="one_thing",
    ),
    CheckConstraint("reason <> ''", name="reason"),
    Index(None, "clamping_id"),
    Index(None, "turn_id"),
    Index(None, "reading_id"),
)

doubt = _fact(
    "doubt",
    _integer("item_id", ForeignKey("name.id")),
    _integer("clamping_id", ForeignKey("clamping.id"), null=True),
    _text("why"),
    _text("typed"),
    _text("answer"),
    _one_of("answer", ("kept", "withdrawn"), "answer"),
)

# --- safekeeping: every entry with what was written under it, chained by digest at each station ---

entry_digest = _fact("entry_digest", _text("previous"), _text("digest"), UniqueConstraint("entry_id"))
"""The id of a row is that of its entry. What the digest is made from: ``qclog.logbook.safekeeping.digests``."""

# --- who has what: an item taken out of the drawer, and brought back ---

custody = _fact(
    "custody",
    _integer("item_id", ForeignKey("name.id")),
    _text("direction"),
    _text("who"),
    _integer("setup_id", ForeignKey("name.id"), null=True),
    _text("place"),
    _text("done_at"),
    _one_of("direction", CUSTODY, "direction"),
    Index(None, "item_id"),
)

# --- a gauge found wrong: what was read with it since its last good check is in doubt ---

gauge_recall = _fact(
    "gauge_recall",
    _integer("gauge_id", ForeignKey("name.id")),
    _text("found_at"),
    _text("found"),
    _text("since"),
    _integer("read_pm", null=True),
    _integer("true_pm", null=True),
    _text("note"),
    CheckConstraint("found <> ''", name="found"),
    CheckConstraint("(read_pm IS NULL) = (true_pm IS NULL)", name="both"),
    CheckConstraint("read_pm IS NULL OR (read_pm > 0 AND true_pm > 0)", name="above_zero"),
    Index(None, "gauge_id"),
)

recall_clearing = _fact(
    "recall_clearing",
    _integer("recall_id", ForeignKey("gauge_recall.id")),
    _integer("clamping_id", ForeignKey("clamping.id"), null=True),
    _text("reason"),
    CheckConstraint("reason <> ''", name="reason"),
    Index(None, "recall_id"),
)

# --- statements handed over: what was stated of a place, to whom, and the clampings it rests on ---

statement = _fact(
    "statement",
    _integer("number"),
    _integer("revision"),
    _text("issued_at"),
    _text("receiver"),
    _text("issuer"),
    _integer("item_id", ForeignKey("name.id")),
    _integer("modification_id", ForeignKey("modification.id")),
    _integer("setup_revision_id", ForeignKey("setup_revision.id"), null=True),
    _text("position"),
    _text("clocking"),
    _integer("diameter_tenths"),
    _integer("distance_tenths"),
    _text("characteristic"),
    _text("verdict"),
    _integer("limit_pm"),
    _text("digest"),
    _text("file_digest"),
    UniqueConstraint("number", "revision"),
    CheckConstraint("number >= 1 AND revision >= 1", name="number"),
    _one_of("verdict", STATED, "verdict"),
    Index(None, "item_id"),
)
"""``digest``: SHA-256 of what it says, the attached statement.json; ``file_digest``: that of the whole file."""

statement_clamping = _fact(
    "statement_clamping",
    _integer("statement_id", ForeignKey("statement.id")),
    _integer("clamping_id", ForeignKey("clamping.id")),
    UniqueConstraint("statement_id", "clamping_id"),
    Index(None, "clamping_id"),
)

# --- what else a card says, how work was done, quick checks of gauges, and further findings ---

particular = _fact(
    "particular",
    _integer("body_id", ForeignKey("name.id")),
    _integer("modification_id", ForeignKey("modification.id"), null=True),
    _text("name"),
    _text("text"),
    Index(None, "body_id"),
)
"""What is known of a thing under one of the names that the trade has for it; of an item's work with the modification.
The newest of a name wins; an empty text takes it back."""

gauge_check = _fact(
    "gauge_check",
    _integer("gauge_id", ForeignKey("name.id")),
    _text("done_at"),
    _integer("read_pm"),
    _integer("true_pm"),
    _integer("within_pm"),
    _text("against"),
    _text("note"),
    CheckConstraint("within_pm > 0", name="within"),
    Index(None, "gauge_id"),
)

sighting = _fact(
    "sighting",
    _integer("item_id", ForeignKey("name.id")),
    _text("seen_on"),
    _text("finding"),
    _text("note"),
    CheckConstraint("finding <> ''", name="finding"),
    Index(None, "item_id"),
)
"""As ``inspection``, of findings whose words came later."""

# --- derived: computed from the facts, rebuilt at will ---

series = _table(
    "series",
    _integer("id", primary=True),
    _integer("item_id"),
    _integer("modification_id"),
    _integer("setup_revision_id"),
    _text("position"),
    _text("clocking"),
    _integer("diameter_tenths"),
    _integer("distance_tenths"),
    _text("characteristic"),
    UniqueConstraint(
        "item_id",
        "modification_id",
        "setup_revision_id",
        "position",
        "clocking",
        "diameter_tenths",
        "distance_tenths",
        "characteristic",
        name="uq_series_key",
    ),
)

gauging = _table(
    "gauging",
    _integer("id", primary=True),
    _integer("instrument_id"),
    _integer("calibration_id"),
    _integer("pin_id"),
    _integer("lever_mdeg"),
    UniqueConstraint("instrument_id", "calibration_id", "pin_id", "lever_mdeg"),
)

figure = _table(
    "figure",
    Column("turn_id", _Int, primary_key=True, autoincrement=False),
    _integer("series_id"),
    _integer("clamping_id"),
    _integer("sitting_id"),
    _integer("gauging_id"),
    _integer("taken_order"),
    _integer("recalled"),
    _integer("step_pm"),
    _real("value_um"),
    _real("eccentricity_x_um", null=True),
    _real("eccentricity_y_um", null=True),
    _integer("angle_within_mdeg"),
    _real("residual_sd_um", null=True),
    _integer("residual_df"),
    _integer("method"),
    Index(None, "series_id"),
    Index(None, "clamping_id"),
)

DERIVED: Final = (series, gauging, figure)


def create(connection: Connection) -> None:
    """Make all tables, the append-only triggers and the revision row, in the caller's transaction."""
    metadata.create_all(connection)
    for statement in append_only.statements(connection.dialect.name, FACTS):
        connection.execute(text(statement))
    connection.execute(schema_revision.insert().values(version_num=REVISION))
