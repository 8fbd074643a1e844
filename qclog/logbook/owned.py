"""What is owned, many things at once: items with their newest cards, limits and findings; setups; gauges."""

import datetime
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qclog import times
from qclog.logbook import schema
from qclog.logbook.findings import CRASH, read_standing
from qclog.logbook.gauges import is_good, read_checks
from qclog.logbook.lookup import Limit
from qclog.logbook.noting import read_noted, read_work
from qclog.logbook.recalls import read_recalls
from qclog.particulars import BONDED, CHECK_EVERY, WHAT, is_bond


@dataclass(frozen=True, slots=True)
class Owned:
    """An item as it is now. Worked on in place, it is married to that setup and position.

    ``nominal_pm``: the size it was bought as; ``worked_to_pm``: the one it was worked to since, None where it was not.
    ``price``: what a new one costs, as typed; ``restricted_pm``: the run-out it is restricted to. ``closes_to_pm``,
    ``opens_to_pm``: the smallest and the largest diameter it may take, ``grip_pm``: how long it grips, as on its card.
    ``crashed_at``: when it had its last crash, '' if it had none since it was found sound. ``bonded``: the modification
    that it is bonded by, 0 where it is not, or was taken out since (bonded=no); of several the newest.
    """

    id: int
    code: str
    kind: str
    system: str
    size_pm: int | None
    nominal_pm: int | None
    worked_to_pm: int | None
    material: str
    place: str
    price: str
    modification: int
    modified_at: str
    what: str
    married_setup: str
    married_position: str
    state: str
    restricted_pm: int | None
    findings: tuple[str, ...]
    limits: tuple[Limit, ...]
    closes_to_pm: int | None = None
    opens_to_pm: int | None = None
    grip_pm: int | None = None
    crashed_at: str = ""
    bonded: int = 0


@dataclass(frozen=True, slots=True)
class OwnedSetup:
    """A setup as it is now: its newest revision, in force ``since`` then ('': always), and its own limits."""

    id: int
    code: str
    revision: int
    revision_id: int
    since: str
    reason: str
    limits: tuple[Limit, ...]


@dataclass(frozen=True, slots=True)
class KeptGauge:
    """An indicator or a pin, and its newest calibration: when it was done and is due again, '' where not known.

    ``size_pm``: the diameter of a pin, None for an indicator. ``wrong_since``: when it was found wrong, '' if it never
    was or was calibrated since. ``what``: a gauge that reads no lengths, '' for indicators and pins.
    ``checked_at``: its last quick check, '' where there was none; ``check_failed``: what it read then and for what, ''
    where it was within or there was a calibration since; ``check_due``: the day of the next one, '' where none is
    planned.
    """

    id: int
    code: str
    kind: str
    size_pm: int | None
    calibrated_on: str
    due_on: str
    wrong_since: str
    what: str = ""
    checked_at: str = ""
    check_failed: str = ""
    check_due: str = ""


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
    work = _only(sa.select(modification), modification.c.item_id, items).order_by(modification.c.number)
    changes, worked_to, how = {}, {}, read_work(connection, items)
    bonded: dict[int, int] = {}
    for row in connection.execute(work):
        changes[row.item_id] = row
        if row.number and row.size_pm is not None:
            worked_to[row.item_id] = row.size_pm
        noted = how.get(row.id, {})
        if row.number and is_bond(row.what, noted):
            bonded[row.item_id] = row.number
        elif noted.get(BONDED) == "no":
            bonded.pop(row.item_id, None)
    findings = read_standing(connection, items)
    limits = read_limits(connection, items)
    owned = {}
    for item_id, code in codes.items():
        card, state, change = cards.get(item_id), states.get(item_id), changes[item_id]
        size = (card.bore_pm or card.nominal_pm) if card else None
        owned[item_id] = Owned(
            id=item_id,
            code=code,
            kind=card.kind if card else "other",
            system=card.system if card else "",
            size_pm=size,
            nominal_pm=card.nominal_pm if card else None,
            worked_to_pm=worked_to.get(item_id),
            material=card.material if card else "",
            place=card.place if card else "",
            price=card.price if card else "",
            modification=change.number,
            modified_at=change.done_at,
            what=change.what,
            married_setup=change.holder,
            married_position=change.position,
            state=state.state if state else "in service",
            restricted_pm=state.limit_pm if state else None,
            findings=tuple(dict.fromkeys(one.finding for one in findings.get(item_id, ()))),
            limits=tuple(limits.get(item_id, ())),
            closes_to_pm=card.range_low_pm if card else None,
            opens_to_pm=card.range_high_pm if card else None,
            grip_pm=card.grip_length_pm if card else None,
            crashed_at=max((one.seen_on for one in findings.get(item_id, ()) if one.finding == CRASH), default=""),
            bonded=bonded.get(item_id, 0),
        )
    return owned


def read_setups(connection: sa.Connection) -> dict[int, OwnedSetup]:
    """Setups by id, in the order of their codes."""
    name, revision = schema.name, schema.setup_revision
    rows = connection.execute(
        sa.select(
            name.c.id,
            name.c.text,
            revision.c.number,
            revision.c.id.label("revision_id"),
            revision.c.since,
            revision.c.reason,
        )
        .join(revision, revision.c.setup_id == name.c.id)
        .order_by(name.c.folded, revision.c.number)
    )
    newest = {row.id: row for row in rows}
    limits = read_limits(connection, list(newest))
    return {
        row.id: OwnedSetup(
            id=row.id,
            code=row.text,
            revision=row.number,
            revision_id=row.revision_id,
            since=row.since,
            reason=row.reason,
            limits=tuple(limits.get(row.id, ())),
        )
        for row in newest.values()
    }


def read_kept_gauges(connection: sa.Connection) -> dict[int, KeptGauge]:
    """Indicators and pins by id, in the order of their codes."""
    name, calibration = schema.name, schema.calibration
    sizes = {i: card.diameter_pm for i, card in _newest(connection, schema.pin_card, "pin_id", None).items()}
    calibrated = {
        row.gauge_id: row
        for row in connection.execute(sa.select(calibration).order_by(calibration.c.done_on, calibration.c.id))
    }
    wrong = {recall.gauge_id: recall.found_at for recall in read_recalls(connection) if recall.still_wrong}
    rows = connection.execute(
        sa.select(name.c.id, name.c.text, name.c.kind)
        .where(name.c.kind.in_(("instrument", "pin")))
        .order_by(name.c.folded)
    )
    noted, checks = read_noted(connection), read_checks(connection)
    reading = set(connection.scalars(sa.select(schema.instrument_card.c.instrument_id)))
    kept = {}
    for row in rows:
        calibrated_on = calibrated[row.id].done_on if row.id in calibrated else ""
        kept[row.id] = KeptGauge(
            id=row.id,
            code=row.text,
            kind=row.kind,
            size_pm=sizes.get(row.id),
            calibrated_on=calibrated_on,
            due_on=calibrated[row.id].due_on if row.id in calibrated else "",
            wrong_since=wrong.get(row.id, ""),
            what="" if row.id in reading else noted.get(row.id, {}).get(WHAT, ""),
            **_checking(checks.get(row.id), calibrated_on, noted.get(row.id, {}).get(CHECK_EVERY, "")),
        )
    return kept


def _checking(check: sa.RowMapping | None, calibrated_on: str, every: str) -> dict[str, str]:
    """When a gauge was checked last, whether it failed then, and when it is due; a calibration counts as a check."""
    checked_at = check["done_at"] if check is not None else ""
    last = max(times.day(checked_at), times.day(calibrated_on))
    due = ""
    if every and last:
        due = (datetime.date.fromisoformat(last) + datetime.timedelta(days=int(every))).isoformat()
    failed = ""
    if check is not None and not is_good(check) and times.day(calibrated_on) < times.day(checked_at):
        failed = f"{check['read_pm'] / 1e6:g}um on {check['true_pm'] / 1e6:g}um"
    return {"checked_at": checked_at, "check_failed": failed, "check_due": due}


def read_parts(connection: sa.Connection) -> dict[int, tuple[str, ...]]:
    """The items that are parts of setups as they are now, by id, and the codes of those setups."""
    link, revision, name = schema.setup_link, schema.setup_revision, schema.name
    newest = sa.select(sa.func.max(revision.c.id)).group_by(revision.c.setup_id)
    query = (
        sa.select(link.c.item_id, name.c.text)
        .join(revision, revision.c.id == link.c.revision_id)
        .join(name, name.c.id == revision.c.setup_id)
        .where(revision.c.id.in_(newest))
        .order_by(name.c.folded)
    )
    found: dict[int, tuple[str, ...]] = {}
    for item_id, setup in connection.execute(query):
        found[item_id] = (*found.get(item_id, ()), setup)
    return found


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


def read_limits(
    connection: sa.Connection, bodies: Sequence[int] | None, *, before: int | None = None
) -> dict[int, list[Limit]]:
    """The limits of items and setups by their ids, the newest of each kind; ``before``: as they stood before an
    entry."""
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
    if before is not None:
        query = query.where(t.c.entry_id < before)
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
