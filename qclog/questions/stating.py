"""Gathering what there is to state of an item at a place, and what speaks against issuing it.

The verdict is ``assess``'s own. What it rests on is read from the logbook, so that the statement stands without it.
"""

import cmath
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import sqlalchemy as sa

from qclog import times
from qclog.errors import NotFoundError, RefusedError, UsageError
from qclog.logbook import evidence
from qclog.logbook.evidence import Read
from qclog.logbook.exchange.export import readings_of_series
from qclog.logbook.figures import LaidOut, Series, read_figures, read_laid_out, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned, read_setups
from qclog.questions.assess import answers_in
from qclog.questions.codes import LOCKING, Caveat, NotForIssue
from qclog.questions.groups import Group
from qclog.questions.known import Known
from qclog.questions.labelled import SCRAP
from qclog.questions.limits import governing_limit
from qclog.questions.statement import (
    COVERAGE_FACTOR,
    FORM,
    UNSIGNED,
    Calibration,
    ClampingRead,
    Indicator,
    Item,
    LeftOut,
    Link,
    MadeTo,
    Pin,
    Place,
    Statement,
    Struck,
    Turns,
    digest,
)
from qclog.questions.values import CANNOT_TELL, NO_LIMIT
from qclog.records import EVERY_DISTANCE, SWINGS

_UM: Final = 1e6
_MM: Final = 1e9
_FOR_WANT_OF_READINGS: Final = (NotForIssue.ONE_SITTING, NotForIssue.OTHERS_REPEAT, NotForIssue.CANNOT_TELL)
"""Where these are so and readings were left out as in doubt, that is a reason too."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which place of an item a statement is wanted of; None: whichever it was measured at, if that is one only.

    ``diameter_mm`` is that of the pin.
    """

    item: str
    setup: str | None = None
    position: str | None = None
    distance_mm: float | None = None
    diameter_mm: float | None = None
    clocking: str | None = None
    characteristic: str | None = None


@dataclass(frozen=True, slots=True)
class Prepared:
    """A statement before it is signed, and all that speaks against issuing it. ``readings``: the exchange form."""

    statement: Statement
    readings: str
    against: tuple[NotForIssue, ...]
    about: Series
    modification_id: int


def prepare(connection: sa.Connection, wanted: Wanted) -> Prepared:
    """What there is to state of the place wanted.

    Raises NotFoundError where nothing was measured there, UsageError where it could be several places, RefusedError
    where the readings cannot be written down for others, and for what is no swing: statements are of run-out.
    """
    register = Register(connection)
    name = register.need(wanted.item, "item")
    group = _chosen(connection, name.id, wanted, register)
    item = read_owned(connection, [name.id])[name.id]
    one = _series_of(connection, item, group)
    return _prepared(connection, register, item, one, group)


def prepare_series(connection: sa.Connection, one: Series) -> Prepared | None:
    """The same for a series; None where it has no clampings that count, or the item was worked on since."""
    (item,) = read_owned(connection, [one.item_id]).values()
    answers = [answer for answer in answers_in(Known(connection, [one.item_id])) if answer.item]
    groups = [group for answer in answers for group in answer.groups if _is(one, group)]
    if one.modification != item.modification or not groups:
        return None
    return _prepared(connection, Register(connection), item, one, groups[0])


def _chosen(connection: sa.Connection, item_id: int, wanted: Wanted, register: Register) -> Group:
    setup = None if wanted.setup is None else register.need(wanted.setup, "setup").text
    answers = [answer for answer in answers_in(Known(connection, [item_id])) if answer.item]
    only_values = any(answer.values for answer in answers) and not any(answer.groups for answer in answers)
    if only_values or wanted.characteristic not in (None, *SWINGS):
        text = register.need(wanted.item, "item").text
        raise RefusedError(
            "A statement is of run-out; none is issued of a size, a gap or a difference.",
            f"What can be shown of those: qclog report {text}",
        )
    groups = [
        group
        for answer in answers
        for group in answer.groups
        if setup in (None, group.setup)
        and wanted.position in (None, group.position)
        and wanted.distance_mm in (None, group.distance_mm)
        and wanted.diameter_mm in (None, group.diameter_mm)
        and wanted.clocking in (None, group.clocking)
        and wanted.characteristic in (None, group.characteristic)
    ]
    groups = [group for group in groups if Caveat.SETUP_CHANGED not in group.caveats] or groups
    if not groups:
        text = register.need(wanted.item, "item").text
        raise NotFoundError(f"{text} was not measured there as it is now.", f"See where it was: qclog assess {text}")
    if len(groups) > 1:
        raise UsageError(f"{groups[0].item} was measured at several places.", f"Say which: {_telling_apart(groups)}.")
    return groups[0]


def _telling_apart(groups: Sequence[Group]) -> str:
    """The options that tell places apart: "--position A or B, --distance 16 or 25"."""
    said = []
    for field, option in (
        ("setup", "--setup"),
        ("position", "--position"),
        ("distance_mm", "--distance"),
        ("diameter_mm", "--diameter"),
        ("clocking", "--clocking"),
        ("characteristic", "--characteristic"),
    ):
        values = dict.fromkeys(getattr(group, field) for group in groups)
        if len(values) > 1:
            shown = [f"{value:g}" if isinstance(value, float) else repr(value or "") for value in values]
            said.append(f"{option} {' or '.join(shown)}")
    return ", ".join(said)


def _series_of(connection: sa.Connection, item: Owned, group: Group) -> Series:
    return next(
        one
        for one in read_series(connection, items=[item.id])
        if one.modification == item.modification and _is(one, group)
    )


def _is(one: Series, group: Group) -> bool:
    diameter = None if one.diameter_tenths < 0 else one.diameter_tenths / 10
    there = (one.setup, one.revision, one.position, one.clocking, one.distance_tenths / 10, diameter)
    group_there = (group.setup, group.setup_revision, group.position, group.clocking, group.distance_mm)
    return (*there, one.characteristic) == (*group_there, group.diameter_mm, group.characteristic)


def _prepared(connection: sa.Connection, register: Register, item: Owned, one: Series, group: Group) -> Prepared:
    laid_out = {point.clamping: point for point in read_laid_out(connection, [one.id])}
    counting = [clamping for clamping, point in laid_out.items() if point.counts]
    reads = evidence.read_clampings_of(connection, counting, one)
    readings = readings_of_series(connection, one, set(counting))
    indicators = _indicators(connection, register, reads)
    left_out = read_figures(connection, [one.id]).set_aside.get(one.id, (0, 0))
    work = evidence.read_work(connection, item.id, item.modification)
    setup = read_setups(connection).get(one.setup_id)
    found = governing_limit(one, item, setup)
    limit = None
    if found is not None:
        by, at = evidence.read_who_limited(connection, item.id if found[1] == "item" else one.setup_id, found[0])
        distance = None if found[0].distance_pm == EVERY_DISTANCE else found[0].distance_pm / _MM
        limit = MadeTo((found[0].upper_pm or 0) / _UM, found[1], found[0].text, distance, by, at)
    statement = Statement(
        form=FORM,
        signed=UNSIGNED,
        item=_item(register, item, work),
        limit=limit,
        place=_place(register, one),
        pins=tuple(_pins(connection, register, reads)),
        indicators=tuple(indicators.values()),
        method=_method(reads),
        result=group,
        coverage_factor=COVERAGE_FACTOR,
        clampings=tuple(_read(register, read, laid_out[read.id], list(indicators)) for read in reads),
        struck=tuple(
            Struck(s.clamping, s.part, s.taken_at, s.reason, s.who) for s in evidence.read_struck_of(connection, one)
        ),
        left_out=LeftOut(*left_out, in_doubt=sum(point.in_doubt and not point.counts for point in laid_out.values())),
        readings_sha256=digest(readings.encode()),
    )
    return Prepared(statement, readings, tuple(_against(statement, item)), one, int(work["id"]))


def _against(statement: Statement, item: Owned) -> list[NotForIssue]:
    """Why a statement may not be issued, the gravest first."""
    group, caveats = statement.result, statement.result.caveats
    why = {
        NotForIssue.LOCKED_OUT: bool(LOCKING.intersection(item.findings)),
        NotForIssue.SCRAP: item.state == SCRAP,
        NotForIssue.NO_LIMIT: group.next_clampings == NO_LIMIT,
        NotForIssue.SETUP_CHANGED: Caveat.SETUP_CHANGED in caveats,
        NotForIssue.IN_DOUBT: bool({Caveat.IN_DOUBT, Caveat.IN_DOUBT_CONTRADICTS}.intersection(caveats)),
        NotForIssue.NO_INDICATOR: any(not one.code for one in statement.indicators),
        NotForIssue.NOT_CALIBRATED: any(one.code and not _calibrated(one) for one in statement.indicators),
        NotForIssue.OVERDUE: Caveat.CALIBRATION_OVERDUE in caveats,
        NotForIssue.NOT_SUITED: Caveat.INSTRUMENT_NOT_SUITED in caveats,
        NotForIssue.PIN_UNKNOWN: any(not pin.code or pin.diameter_mm is None for pin in statement.pins),
        NotForIssue.ONE_SITTING: group.sittings < 2,
        NotForIssue.OTHERS_REPEAT: Caveat.SHOP_REPEAT in caveats,
        NotForIssue.CANNOT_TELL: group.next_clampings == CANNOT_TELL,
    }
    if Caveat.IN_DOUBT_LEFT_OUT in caveats:
        why[NotForIssue.IN_DOUBT] |= any(why[code] for code in _FOR_WANT_OF_READINGS)
    return [code for code, so in why.items() if so]


def _calibrated(indicator: Indicator) -> bool:
    """Whether its calibration says how far off it may be."""
    known = indicator.calibration
    return known is not None and (known.error_limit_um is not None or known.uncertainty_um is not None)


def _item(register: Register, item: Owned, work: dict[str, Any]) -> Item:
    card: Any = register.item_card(item.id) or {}
    return Item(
        code=item.code,
        kind=item.kind,
        system=item.system,
        nominal_mm=_scaled(item.nominal_pm, _MM),
        bore_mm=_scaled(card.get("bore_pm"), _MM),
        material=item.material,
        mark=card.get("mark") or "",
        modification=item.modification,
        what=item.what,
        done_at=work["done_at"],
        done_by=work["who"],
        worked_to_mm=_scaled(work["size_pm"], _MM) if item.modification else None,
        held_in=work["holder"],
        held_at=work["position"],
        note=work["note"],
    )


def _place(register: Register, one: Series) -> Place:
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


def _kind(card: sa.RowMapping | None) -> str:
    return "" if card is None else str(card["kind"])


def _pins(connection: sa.Connection, register: Register, reads: Sequence[Read]) -> list[Pin]:
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


def _indicators(
    connection: sa.Connection, register: Register, reads: Sequence[Read]
) -> dict[tuple[int, int], Indicator]:
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


def _method(reads: Sequence[Read]) -> tuple[Turns, ...]:
    ways = Counter((turn.kind, turn.angles_mdeg if turn.kind == "point" else ()) for r in reads for turn in r.turns)
    return tuple(
        Turns(kind, len(angles) or 1, tuple(_scaled(angle, 1000) for angle in angles), count)
        for (kind, angles), count in ways.items()
    )


def _read(register: Register, read: Read, point: LaidOut, indicators: Sequence[tuple[int, int]]) -> ClampingRead:
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


def _scaled(value: float | None, unit: float) -> float | None:
    return None if value is None else value / unit
