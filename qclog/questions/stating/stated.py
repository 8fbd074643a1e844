"""The parts of a statement as the logbook has them: item, place, pins, indicators, limits, and what was read."""

import cmath
import math
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.logbook import evidence
from qclog.logbook.evidence import Read
from qclog.logbook.figures import LaidOut, Series
from qclog.logbook.in_force import ends_um
from qclog.logbook.lookup import Limit, Register
from qclog.logbook.owned import Owned
from qclog.questions.stating.statement import (
    Calibration,
    ClampingRead,
    Indicator,
    Item,
    Link,
    MadeBetween,
    MadeTo,
    Pin,
    Place,
    SetLimit,
    Turns,
    ValueRead,
)
from qclog.records import EVERY_DISTANCE

_UM: Final = 1e6
_MM: Final = 1e9
Gauging = tuple[int, int]
"""Ids of an indicator and of its calibration."""


def item(register: Register, owned: Owned, work: dict[str, Any]) -> Item:
    card: Any = register.item_card(owned.id) or {}
    return Item(
        code=owned.code,
        kind=owned.kind,
        system=owned.system,
        nominal_mm=_scaled(owned.nominal_pm, _MM),
        bore_mm=_scaled(card.get("bore_pm"), _MM),
        material=owned.material,
        mark=card.get("mark") or "",
        modification=work["number"],
        what=work["what"],
        done_at=work["done_at"],
        done_by=work["who"],
        worked_to_mm=_scaled(work["size_pm"], _MM) if work["number"] else None,
        held_in=work["holder"],
        held_at=work["position"],
        note=work["note"],
    )


def place(register: Register, one: Series) -> Place:
    revision = next((r for r in register.revisions(one.setup_id) if r.number == one.revision), None)
    links = register.links(one.revision_id) if revision else []
    cards = {link.item_id: register.item_card(link.item_id) for link in links}
    return Place(
        setup=one.setup,
        revision=one.revision,
        since=revision.since if revision else "",
        reason=revision.reason if revision else "",
        sense=revision.sense if revision else "",
        links=tuple(Link(link.text, _kind(cards[link.item_id]), _scaled(link.clocking_mdeg, 1000)) for link in links),
        position=one.position,
        clocking=one.clocking,
        distance_mm=one.distance_tenths / 10,
        characteristic=one.characteristic,
    )


def _kind(card: Mapping[str, Any] | None) -> str:
    return "" if card is None else str(card["kind"])


def pins(connection: sa.Connection, register: Register, reads: Sequence[Read]) -> list[Pin]:
    pins = []
    for (pin_id, diameter_pm), count in Counter((read.pin_id, read.diameter_pm) for read in reads).items():
        card: Any = (register.pin_card(pin_id) if pin_id else None) or {}
        newest = max((read.taken_at for read in reads if read.pin_id == pin_id), key=times.order)
        calibration = evidence.calibration_in_force(register, pin_id, newest) if pin_id else 0
        pins.append(
            Pin(
                code=register.text(pin_id) if pin_id else "",
                kind=card.get("kind", ""),
                grade=card.get("grade", ""),
                diameter_mm=_scaled(diameter_pm, _MM),
                roundness_um=_scaled(card.get("roundness_pm"), _UM),
                calibration=_calibration(connection, calibration),
                clampings=count,
            )
        )
    return pins


def indicators(connection: sa.Connection, register: Register, reads: Sequence[Read]) -> dict[Gauging, Indicator]:
    """Each indicator with each of its calibrations that something was read with."""
    found = {}
    for (instrument_id, calibration_id), count in Counter((r.instrument_id, r.calibration_id) for r in reads).items():
        card: Any = (register.instrument_card(instrument_id) if instrument_id else None) or {}
        found[instrument_id, calibration_id] = Indicator(
            code=register.text(instrument_id) if instrument_id else "",
            kind=card.get("kind", ""),
            serial=card.get("serial", ""),
            division_um=_scaled(card.get("division_pm"), _UM),
            reads_right_at_deg=card.get("correct_at_mdeg", 0) / 1000,
            calibration=_calibration(connection, calibration_id),
            clampings=count,
        )
    return found


def _calibration(connection: sa.Connection, calibration_id: int) -> Calibration | None:
    row = evidence.read_calibration(connection, calibration_id)
    if row is None:
        return None
    return Calibration(
        done_on=row["done_on"],
        due_on=row["due_on"],
        as_found=row["as_found"],
        as_left=row["as_left"],
        error_limit_um=_scaled(row["error_limit_pm"], _UM),
        uncertainty_um=_scaled(row["uncertainty_pm"], _UM),
        coverage_factor=row["coverage_factor"],
        certificate=row["certificate"],
        note=row["note"],
    )


def method(reads: Sequence[Read]) -> tuple[Turns, ...]:
    ways = Counter(
        (turn.kind, 1 if turn.kind == "tir" else len(turn.texts), turn.angles_mdeg if turn.kind == "point" else ())
        for read in reads
        for turn in read.turns
    )
    return tuple(
        Turns(kind, readings, tuple(_scaled(angle, 1000) for angle in angles), count)
        for (kind, readings, angles), count in ways.items()
    )


def clamping_read(register: Register, read: Read, point: LaidOut, indicators: Sequence[Gauging]) -> ClampingRead:
    """``indicators``: as ``indicators`` gave them."""
    vector = point.vector
    return ClampingRead(
        number=read.id,
        uuid=read.uuid,
        taken_at=read.taken_at,
        sitting=read.sitting,
        swing_um=point.value_um,
        once_per_turn_um=None if vector is None else 2 * abs(vector),
        high_spot_deg=None if vector is None else math.degrees(cmath.phase(vector)) % 360,
        pin=register.text(read.pin_id) if read.pin_id else "",
        indicator=indicators.index((read.instrument_id, read.calibration_id)),
        lever_deg=_scaled(read.lever_mdeg, 1000),
        pin_out=read.pin_out,
        operator=read.operator,
        torque=read.torque,
        conditions=read.conditions,
    )


def value_read(read: Read, ends: tuple[float, float], indicators: Sequence[Gauging]) -> ValueRead:
    """``ends``, µm: between which it lies, equal ones where a number was read."""
    return ValueRead(
        number=read.id,
        uuid=read.uuid,
        taken_at=read.taken_at,
        sitting=read.sitting,
        low_um=ends[0],
        high_um=ends[1],
        as_typed=tuple(" / ".join(turn.texts) for turn in read.turns),
        indicator=indicators.index((read.instrument_id, read.calibration_id)),
        operator=read.operator,
        torque=read.torque,
        conditions=read.conditions,
    )


def made_to(connection: sa.Connection, found: tuple[Limit, str] | None, bodies: Mapping[str, int]) -> MadeTo | None:
    """The limit of a swing. ``bodies``: the ids of "item" and "setup"."""
    if found is None:
        return None
    limit, of = found
    by, at = evidence.read_who_limited(connection, bodies[of], limit)
    return MadeTo((limit.upper_pm or 0) / _UM, of, limit.text, _distance_mm(limit), by, at)


def made_between(
    connection: sa.Connection, characteristic: str, stated: Sequence[tuple[Limit, str]], bodies: Mapping[str, int]
) -> MadeBetween | None:
    """The limits of a plain value, with all that were set."""
    if not stated:
        return None
    ends = ends_um(characteristic, (limit for limit, _ in stated))
    lower, upper = (end if math.isfinite(end) else None for end in ends)
    return MadeBetween(lower, upper, tuple(_set(connection, limit, of, bodies[of]) for limit, of in stated))


def _set(connection: sa.Connection, limit: Limit, of: str, body_id: int) -> SetLimit:
    by, at = evidence.read_who_limited(connection, body_id, limit)
    return SetLimit(
        of=of,
        characteristic=limit.characteristic,
        text=limit.text,
        lower_um=_scaled(limit.lower_pm, _UM),
        upper_um=_scaled(limit.upper_pm, _UM),
        distance_mm=_distance_mm(limit),
        set_by=by,
        set_at_utc=at,
    )


def _distance_mm(limit: Limit) -> float | None:
    return None if limit.distance_pm == EVERY_DISTANCE else limit.distance_pm / _MM


def _scaled(value: float | None, unit: float) -> float | None:
    return None if value is None else value / unit
