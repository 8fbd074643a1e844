"""What is owned, many things at once: items with their newest cards, limits and findings; setups; gauges."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.lookup import Limit


@dataclass(frozen=True, slots=True)
class Owned:
    """An item as it is now. Worked on in place, it is married to that setup and position."""

    id: int
    code: str
    kind: str
    size_pm: int | None
    modification: int
    modified_at: str
    what: str
    married_setup: str
    married_position: str
    state: str
    findings: tuple[str, ...]
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class OwnedSetup:
    """A setup as it is now: its newest revision and its own limits."""

    id: int
    code: str
    revision: int
    revision_id: int
    reason: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class GaugeCard:
    """What is known of an indicator's errors. Lengths in µm; ``calibrated`` by calibration id."""

    code: str
    kind: str
    division_um: float


@dataclass(frozen=True, slots=True)
class CalibrationCard:
    error_limit_um: float | None
    uncertainty_um: float | None
    coverage_factor: float | None
    due_on: str


def read_owned(connection: sa.Connection, items: Sequence[int] | None = None) -> dict[int, Owned]:
    """Items by id, in the order of their codes."""
    name, modification = schema.name, schema.modification
    query = sa.select(name.c.id, name.c.text).where(name.c.kind == "item").order_by(name.c.folded)
    codes = {row.id: row.text for row in connection.execute(_only(query, name.c.id, items))}
    cards = _newest(connection, schema.item_card, "item_id", items)
    states = _newest(connection, schema.item_state, "item_id", items)
    changes = {
        row.item_id: row
        for row in connection.execute(
            _only(sa.select(modification), modification.c.item_id, items).order_by(modification.c.number)
        )
    }
    findings = _findings(connection, items)
    limits = _limits(connection, items)
    owned = {}
    for item_id, code in codes.items():
        card, state, change = cards.get(item_id), states.get(item_id), changes[item_id]
        size = (card.bore_pm or card.nominal_pm) if card else None
        owned[item_id] = Owned(
            id=item_id,
            code=code,
            kind=card.kind if card else "other",
            size_pm=size,
            modification=change.number,
            modified_at=change.done_at,
            what=change.what,
            married_setup=change.holder,
            married_position=change.position,
            state=state.state if state else "in service",
            findings=tuple(findings.get(item_id, ())),
            limits=tuple(limits.get(item_id, ())),
        )
    return owned


def read_setups(connection: sa.Connection) -> dict[int, OwnedSetup]:
    """Setups by id, in the order of their codes."""
    name, revision = schema.name, schema.setup_revision
    rows = connection.execute(
        sa.select(name.c.id, name.c.text, revision.c.number, revision.c.id.label("revision_id"), revision.c.reason)
        .join(revision, revision.c.setup_id == name.c.id)
        .order_by(name.c.folded, revision.c.number)
    )
    newest = {row.id: row for row in rows}
    limits = _limits(connection, list(newest))
    return {
        row.id: OwnedSetup(row.id, row.text, row.number, row.revision_id, row.reason, tuple(limits.get(row.id, ())))
        for row in newest.values()
    }


def read_gauges(connection: sa.Connection) -> dict[int, GaugeCard]:
    """Indicators by id."""
    cards = _newest(connection, schema.instrument_card, "instrument_id", None)
    codes = {row.id: row.text for row in connection.execute(sa.select(schema.name.c.id, schema.name.c.text))}
    return {i: GaugeCard(codes[i], card.kind, card.division_pm / 1e6) for i, card in cards.items()}


def read_calibrations(connection: sa.Connection) -> dict[int, CalibrationCard]:
    """Calibrations by their own id."""
    return {
        row.id: CalibrationCard(
            error_limit_um=None if row.error_limit_pm is None else row.error_limit_pm / 1e6,
            uncertainty_um=None if row.uncertainty_pm is None else row.uncertainty_pm / 1e6,
            coverage_factor=row.coverage_factor,
            due_on=row.due_on,
        )
        for row in connection.execute(sa.select(schema.calibration))
    }


def read_roundness(connection: sa.Connection) -> dict[int, float]:
    """Out-of-roundness of the pins in µm, by id; only where it is known."""
    cards = _newest(connection, schema.pin_card, "pin_id", None)
    return {i: card.roundness_pm / 1e6 for i, card in cards.items() if card.roundness_pm is not None}


def _findings(connection: sa.Connection, items: Sequence[int] | None) -> dict[int, list[str]]:
    """Findings that stand: those since the item was last found sound."""
    table = schema.inspection
    standing: dict[int, list[str]] = defaultdict(list)
    query = _only(sa.select(table), table.c.item_id, items).order_by(table.c.seen_on, table.c.id)
    for row in connection.execute(query):
        if row.finding == "sound":
            standing[row.item_id].clear()
        elif row.finding not in standing[row.item_id]:
            standing[row.item_id].append(row.finding)
    return standing


def _limits(connection: sa.Connection, bodies: Sequence[int] | None) -> dict[int, list[Limit]]:
    t = schema.made_to
    query: sa.Select[Any] = sa.select(
        t.c.body_id,
        t.c.modification_number,
        t.c.characteristic,
        t.c.distance_pm,
        t.c.setup_id,
        t.c.position,
        t.c.upper_pm,
        t.c.lower_pm,
        t.c.text,
    )
    newest: dict[int, dict[tuple[Any, ...], Limit]] = defaultdict(dict)
    for row in connection.execute(_only(query, t.c.body_id, bodies).order_by(t.c.id)):
        limit = Limit(*row[1:])
        newest[row[0]][limit[:5]] = limit
    return {body: list(limits.values()) for body, limits in newest.items()}


def _newest(
    connection: sa.Connection, table: sa.Table, owner: str, owners: Sequence[int] | None
) -> dict[int, sa.Row[Any]]:
    """The newest row of each owner."""
    last = _only(sa.select(sa.func.max(table.c.id)), table.c[owner], owners).group_by(table.c[owner])
    rows = connection.execute(sa.select(table).where(table.c.id.in_(last)))
    return {getattr(row, owner): row for row in rows}


def _only(query: sa.Select[Any], column: sa.Column[Any], wanted: Sequence[int] | None) -> sa.Select[Any]:
    return query if wanted is None else query.where(column.in_(wanted))
