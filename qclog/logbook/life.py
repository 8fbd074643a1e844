"""Reading one item's life, and the lists of what else is registered: setups, pins, indicators."""

import dataclasses
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.custody import Out, read_out
from qclog.logbook.findings import read_findings
from qclog.logbook.gauges import newest_check
from qclog.logbook.lookup import Limit, Link, Register
from qclog.logbook.noting import read_noted, read_work
from qclog.logbook.recalls import all_in_doubt, read_recalls
from qclog.logbook.statements import Issued, read_of_item
from qclog.logbook.told_by_pins import read_turn_ends


@dataclass(frozen=True, slots=True)
class LoggedTurn:
    """A turn as typed: its readings' texts, those struck out marked by their place (from 1).

    ``value_um`` the full swing; ``once_per_turn_um`` and ``high_spot_deg`` (clockwise facing the nose) of its
    eccentricity, None where it has none. ``ends_um``: between what go and no-go pins told
    it, and ``value_um`` is no reading then.
    """

    distance_pm: int
    characteristic: str
    kind: str
    value_um: float | None
    once_per_turn_um: float | None
    high_spot_deg: float | None
    texts: tuple[str, ...]
    struck: str
    struck_readings: tuple[int, ...]
    ends_um: tuple[float, float] | None = None

    @property
    def by_pins(self) -> bool:
        return self.ends_um is not None


@dataclass(frozen=True, slots=True)
class LoggedClamping:
    """A clamping as logged; ``struck`` is the reason it was struck out for, '' if it counts. ``sense``: how angles
    are counted in its setup. ``diameter_pm``: of the pin, or of the circle a face was read on. ``in_doubt``: read with
    a gauge found wrong, and not cleared."""

    number: int
    taken_at: str
    modification: int
    setup: str
    revision: int
    sense: str
    position: str
    clocking: str
    sitting: str
    label: str
    pin: str
    diameter_pm: int | None
    instrument: str
    operator: str
    torque: str
    conditions: str
    recalled: bool
    note: str
    struck: str
    in_doubt: bool
    turns: tuple[LoggedTurn, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """A modification: what was done, when and by whom; the sizes before and after, and the wall left, None where they
    were not noted; where and how it was held. ``how``: what it was done with, by the names it is noted under."""

    number: int
    done_at: str
    what: str
    who: str
    size_before_pm: int | None
    size_pm: int | None
    wall_pm: int | None
    held_by: str
    holder: str
    position: str
    clocking: str
    torque: str
    note: str
    how: dict[str, str]


@dataclass(frozen=True, slots=True)
class Life:
    """Everything kept about one item. ``out``: who has it and where, None while it is in the drawer; ``statements``:
    those handed over about it; ``noted``: what is noted of it beside its card."""

    code: str
    card: dict[str, Any]
    state: str
    state_reason: str
    state_since: str
    modifications: tuple[Done, ...]
    limits: tuple[Limit, ...]
    findings: tuple[tuple[str, str, str], ...]
    uses: tuple[tuple[str, int | None, float | None, str], ...]
    clampings: tuple[LoggedClamping, ...]
    out: Out | None
    statements: tuple[Issued, ...]
    noted: dict[str, str]


@dataclass(frozen=True, slots=True)
class Chain:
    """A setup as it is now. ``noted``: what is noted of it, by the names it is noted under."""

    code: str
    revision: int
    reason: str
    since: str
    sense: str
    parts: tuple[Link, ...]
    positions: tuple[str, ...]
    limits: tuple[Limit, ...]
    noted: dict[str, str]


@dataclass(frozen=True, slots=True)
class Gauge:
    """A pin or an indicator: its newest card and its newest calibration, if it has any. ``found_wrong``: when, '' if it
    never was or was calibrated since. ``noted``: what is noted of it; ``check``: its newest quick check. What reads no
    lengths, as a torque wrench, has no card."""

    code: str
    card: dict[str, Any]
    calibration: dict[str, Any] | None
    found_wrong: str
    noted: dict[str, str]
    check: dict[str, Any] | None


def read_life(connection: sa.Connection, code: str) -> Life:
    """Raises NotFoundError."""
    register = Register(connection)
    item = register.need(code, "item")
    card, state = register.item_card(item.id), register.item_state(item.id)
    use = schema.use_record
    uses = sa.select(use.c.used_on, use.c.clampings, use.c.hours, use.c.note).where(use.c.item_id == item.id)
    return Life(
        code=item.text,
        card=_facts(card),
        state=state["state"] if state else "in service",
        state_reason=state["reason"] if state else "",
        state_since=state["since"] if state else "",
        modifications=tuple(_done(connection, item.id)),
        limits=tuple(register.limits(item.id)),
        findings=tuple((one.seen_on, one.finding, one.note) for one in read_findings(connection, [item.id])),
        uses=tuple((row[0], row[1], row[2], row[3]) for row in connection.execute(uses.order_by(use.c.id))),
        clampings=tuple(read_clampings(connection, item.id)),
        out=read_out(connection, [item.id]).get(item.id),
        statements=tuple(read_of_item(connection, item.id)),
        noted=read_noted(connection, [item.id]).get(item.id, {}),
    )


def _done(connection: sa.Connection, item_id: int) -> Iterator[Done]:
    m, e, how = schema.modification, schema.entry, read_work(connection, [item_id])
    query = sa.select(m, e.c.who).join(e, e.c.id == m.c.entry_id).where(m.c.item_id == item_id).order_by(m.c.number)
    columns = [field.name for field in dataclasses.fields(Done) if field.name != "how"]
    for row in connection.execute(query).mappings():
        yield Done(**{name: row[name] for name in columns}, how=how.get(row["id"], {}))


def read_chains(connection: sa.Connection) -> list[Chain]:
    """All setups as they are now, in the order of their codes."""
    register = Register(connection)
    chains, noted = [], read_noted(connection)
    for setup in register.names("setup"):
        revision = register.revisions(setup.id)[-1]
        chains.append(
            Chain(
                code=setup.text,
                revision=revision.number,
                reason=revision.reason,
                since=revision.since,
                sense=revision.sense,
                parts=tuple(register.links(revision.id)),
                positions=tuple(register.positions(setup.id)),
                limits=tuple(register.limits(setup.id)),
                noted=noted.get(setup.id, {}),
            )
        )
    return chains


def read_pins(connection: sa.Connection) -> list[Gauge]:
    register = Register(connection)
    return [_gauge(register, pin.id, pin.text, register.pin_card(pin.id)) for pin in register.names("pin")]


def read_instruments(connection: sa.Connection) -> list[Gauge]:
    register = Register(connection)
    return [
        _gauge(register, one.id, one.text, register.instrument_card(one.id)) for one in register.names("instrument")
    ]


def _gauge(register: Register, gauge_id: int, code: str, card: Mapping[str, Any] | None) -> Gauge:
    calibration = register.calibration_at(gauge_id, "9999")
    wrong = [one.found_at for one in read_recalls(register.connection, gauge_id) if one.still_wrong]
    check = newest_check(register.connection, gauge_id)
    return Gauge(
        code=code,
        card=_facts(card),
        calibration=_facts(calibration) if calibration else None,
        found_wrong=wrong[-1] if wrong else "",
        noted=read_noted(register.connection, [gauge_id]).get(gauge_id, {}),
        check=_facts(check) if check else None,
    )


def _facts(row: Mapping[str, Any] | sa.RowMapping | None) -> dict[str, Any]:
    """A row without the columns that only the database needs."""
    return {key: row[key] for key in row if key != "id" and not key.endswith("_id")} if row else {}


def read_clampings(connection: sa.Connection, item_id: int) -> list[LoggedClamping]:
    """All clampings of an item, in the order of time."""
    c, n = schema.clamping, schema.name
    setup, pin, instrument = n.alias("setup"), n.alias("pin"), n.alias("instrument")
    revision, modification = schema.setup_revision, schema.modification
    rows = connection.execute(
        sa.select(
            c,
            modification.c.number.label("modification"),
            setup.c.text.label("setup"),
            revision.c.number.label("revision"),
            revision.c.sense,
            schema.sitting.c.label.label("sitting"),
            pin.c.text.label("pin"),
            instrument.c.text.label("instrument"),
        )
        .join(modification, modification.c.id == c.c.modification_id)
        .join(schema.sitting, schema.sitting.c.id == c.c.sitting_id)
        .outerjoin(revision, revision.c.id == c.c.setup_revision_id)
        .outerjoin(setup, setup.c.id == revision.c.setup_id)
        .outerjoin(pin, pin.c.id == c.c.pin_id)
        .outerjoin(instrument, instrument.c.id == c.c.instrument_id)
        .where(c.c.item_id == item_id)
        .order_by(c.c.taken_at, c.c.id)
    ).all()
    struck = {
        (column, row[0]): row[1]
        for column in ("clamping_id", "turn_id", "reading_id")
        for row in connection.execute(
            sa.select(schema.strike.c[column], schema.strike.c.reason).where(schema.strike.c[column].is_not(None))
        )
    }
    turns, doubtful = (
        _turns(connection, item_id, struck),
        set(all_in_doubt(connection, [row.id for row in rows]).tolist()),
    )
    return [
        LoggedClamping(
            number=row.id,
            taken_at=row.taken_at,
            modification=row.modification,
            setup=row.setup or "",
            revision=row.revision or 0,
            sense=row.sense or "",
            position=row.position,
            clocking=row.clocking,
            sitting=row.sitting,
            label=row.label,
            pin=row.pin or "",
            diameter_pm=row.diameter_pm,
            instrument=row.instrument or "",
            operator=row.operator,
            torque=row.torque,
            conditions=row.conditions,
            recalled=bool(row.recalled),
            note=row.note,
            struck=struck.get(("clamping_id", row.id), ""),
            in_doubt=row.id in doubtful,
            turns=tuple(turns.get(row.id, ())),
        )
        for row in rows
    ]


def _turns(connection: sa.Connection, item_id: int, struck: dict[tuple[str, int], str]) -> dict[int, list[LoggedTurn]]:
    t, r, c, f = schema.turn, schema.reading, schema.clamping, schema.figure
    of_item = sa.select(t.c.id).join(c, c.c.id == t.c.clamping_id).where(c.c.item_id == item_id)
    texts: dict[int, list[tuple[int, str]]] = defaultdict(list)
    for row in connection.execute(
        sa.select(r.c.turn_id, r.c.id, r.c.text).where(r.c.turn_id.in_(of_item)).order_by(r.c.turn_id, r.c.rank)
    ):
        texts[row.turn_id].append((row.id, row.text))
    ends = read_turn_ends(connection, t.c.id.in_(of_item))
    found: dict[int, list[LoggedTurn]] = defaultdict(list)
    for row in connection.execute(
        sa.select(t, f.c.value_um, f.c.eccentricity_x_um, f.c.eccentricity_y_um)
        .outerjoin(f, f.c.turn_id == t.c.id)
        .where(t.c.id.in_(of_item))
        .order_by(t.c.id)
    ):
        x, y = row.eccentricity_x_um, row.eccentricity_y_um
        readings = texts[row.id]
        found[row.clamping_id].append(
            LoggedTurn(
                distance_pm=row.distance_pm,
                characteristic=row.characteristic,
                kind=row.kind,
                value_um=row.value_um,
                once_per_turn_um=None if x is None else 2 * math.hypot(x, y),
                high_spot_deg=None if x is None else math.degrees(math.atan2(y, x)) % 360,
                texts=tuple(text for _, text in readings),
                struck=struck.get(("turn_id", row.id), ""),
                struck_readings=tuple(
                    place for place, (key, _) in enumerate(readings, start=1) if ("reading_id", key) in struck
                ),
                ends_um=ends.get(row.id),
            )
        )
    return found
