"""Gathering what there is to state of an item at a place, and what speaks against issuing it.

The verdict is ``assess``'s own. What it rests on is read from the logbook, so that the statement stands without it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import sqlalchemy as sa

from qclog.errors import NotFoundError, UsageError
from qclog.logbook import evidence
from qclog.logbook.exchange.export import readings_of_series
from qclog.logbook.figures import Series, read_figures, read_laid_out, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned, read_setups
from qclog.logbook.told_by_pins import read_value_ends
from qclog.questions.assess import answers_in
from qclog.questions.chart import NOT_STEADY, chart_in
from qclog.questions.codes import LOCKING, Caveat, NotForIssue
from qclog.questions.judging.groups import Group, sitting_counts
from qclog.questions.judging.limits import governing_limit, stated_limits
from qclog.questions.judging.values import CANNOT_TELL, NO_LIMIT, ValueGroup
from qclog.questions.known import Known
from qclog.questions.owned.labelled import SCRAP
from qclog.questions.places import place_of
from qclog.questions.stating import stated
from qclog.questions.stating.statement import (
    COVERAGE_FACTOR,
    FORM,
    UNSIGNED,
    VALUE_FORM,
    Indicator,
    LeftOut,
    Statement,
    Struck,
    SwingStatement,
    ValueStatement,
    digest,
)
from qclog.records import RUNOUT

AnyGroup = Group | ValueGroup
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
    where the readings cannot be written down for others.
    """
    register = Register(connection)
    name = register.need(wanted.item, "item")
    group = _chosen(connection, name.id, wanted, register)
    item = read_owned(connection, [name.id])[name.id]
    one = _series_of(connection, item, group)
    return _prepared(connection, register, item, one, group)


def prepare_series(connection: sa.Connection, one: Series) -> Prepared | None:
    """The same for a series; None where it has no clampings that count, or the item was worked on since, but for a gap
    that was bonded since."""
    (item,) = read_owned(connection, [one.item_id]).values()
    groups = [group for group in _groups(connection, one.item_id) if place_of(one) == group.place]
    if not groups or one.modification != _read_at(item, groups[0]):
        return None
    return _prepared(connection, Register(connection), item, one, groups[0])


def _groups(connection: sa.Connection, item_id: int) -> list[AnyGroup]:
    """All that was measured of an item as it is now, its swings first."""
    answers = [answer for answer in answers_in(Known(connection, [item_id])) if answer.item]
    found: list[AnyGroup] = []
    for answer in answers:
        found += [*answer.groups, *answer.values]
    return found


def _chosen(connection: sa.Connection, item_id: int, wanted: Wanted, register: Register) -> AnyGroup:
    setup = register.need(wanted.setup, "setup").text if wanted.setup else wanted.setup
    groups = [
        group
        for group in _groups(connection, item_id)
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


def _telling_apart(groups: Sequence[AnyGroup]) -> str:
    """The options that tell places apart: "--position A or B, --distance 16 or 25"; of several characteristics which
    it is comes first."""
    said = []
    for field, option in (
        ("characteristic", "--characteristic"),
        ("setup", "--setup"),
        ("position", "--position"),
        ("distance_mm", "--distance"),
        ("diameter_mm", "--diameter"),
        ("clocking", "--clocking"),
    ):
        values = dict.fromkeys(getattr(group, field) for group in groups)
        if len(values) > 1:
            shown = [f"{value:g}" if isinstance(value, float) else repr(value or "") for value in values]
            said.append(f"{option} {' or '.join(shown)}")
            if field == "characteristic":
                break
    return ", ".join(said)


def _series_of(connection: sa.Connection, item: Owned, group: AnyGroup) -> Series:
    return next(
        one
        for one in read_series(connection, items=[item.id])
        if one.modification == _read_at(item, group) and place_of(one) == group.place
    )


def _read_at(item: Owned, group: AnyGroup) -> int:
    """The modification of an item that a group was read at: the newest, but of a gap that was bonded since."""
    before = group.before_bonding if isinstance(group, ValueGroup) else None
    return item.modification if before is None else before


def _prepared(connection: sa.Connection, register: Register, item: Owned, one: Series, group: AnyGroup) -> Prepared:
    charted = next((answer for answer in chart_in(Known(connection, [item.id])) if answer.place == group.place), None)
    if charted is not None and charted.state == NOT_STEADY:
        group = replace(group, caveats=(*group.caveats, Caveat.NOT_STEADY))
    laid_out = {point.clamping: point for point in read_laid_out(connection, [one.id])}
    counting = [clamping for clamping, point in laid_out.items() if point.counts]
    reads = evidence.read_clampings_of(connection, counting, one)
    readings = readings_of_series(connection, one, set(counting))
    indicators = stated.indicators(connection, register, reads)
    left_out = read_figures(connection, [one.id]).set_aside.get(one.id, (0, 0))
    work = evidence.read_work(connection, item.id, one.modification)
    setup = read_setups(connection).get(one.setup_id)
    bodies = {"item": item.id, "setup": one.setup_id}
    pins = stated.pins(connection, register, reads)
    common: dict[str, Any] = {
        "signed": UNSIGNED,
        "item": stated.item(register, item, work),
        "place": stated.place(register, one),
        "pins": tuple(pin for pin in pins if pin.code or one.characteristic == RUNOUT),
        "indicators": tuple(indicators.values()),
        "method": stated.method(reads),
        "coverage_factor": COVERAGE_FACTOR,
        "struck": tuple(
            Struck(s.clamping, s.part, s.taken_at, s.reason, s.who) for s in evidence.read_struck_of(connection, one)
        ),
        "left_out": LeftOut(
            *left_out, in_doubt=sum(point.in_doubt and not point.counts for point in laid_out.values())
        ),
        "readings_sha256": digest(readings.encode()),
    }
    gaugings = list(indicators)
    statement: Statement
    if isinstance(group, Group):
        statement = SwingStatement(
            form=FORM,
            limit=stated.made_to(connection, governing_limit(one, item, setup), bodies),
            result=group,
            clampings=tuple(stated.clamping_read(register, read, laid_out[read.id], gaugings) for read in reads),
            **common,
        )
    else:
        ends = read_value_ends(connection, [one.id])
        statement = ValueStatement(
            form=VALUE_FORM,
            limit=stated.made_between(connection, one.characteristic, stated_limits(one, item, setup), bodies),
            result=replace(group, before_bonding=None),  # what is stated stays the same once it is bonded
            clampings=tuple(
                stated.value_read(read, ends.get((one.id, read.id), (laid_out[read.id].value_um,) * 2), gaugings)
                for read in reads
            ),
            **common,
        )
    return Prepared(statement, readings, tuple(_against(statement, item)), one, int(work["id"]))


def _against(statement: Statement, item: Owned) -> list[NotForIssue]:
    """Why a statement may not be issued, the gravest first."""
    group, caveats = statement.result, statement.result.caveats
    of_its_sitting = isinstance(group, ValueGroup) and sitting_counts(group)
    why = {
        NotForIssue.LOCKED_OUT: bool(LOCKING.intersection(item.findings)),
        NotForIssue.SCRAP: item.state == SCRAP,
        NotForIssue.NO_LIMIT: group.next_clampings == NO_LIMIT,
        NotForIssue.SETUP_CHANGED: Caveat.SETUP_CHANGED in caveats,
        NotForIssue.IN_DOUBT: bool({Caveat.IN_DOUBT, Caveat.IN_DOUBT_CONTRADICTS}.intersection(caveats)),
        NotForIssue.CHECK_FAILED: Caveat.CHECK_FAILED in caveats,
        NotForIssue.NO_INDICATOR: any(not one.code for one in statement.indicators),
        NotForIssue.NOT_CALIBRATED: any(one.code and not _calibrated(one) for one in statement.indicators),
        NotForIssue.OVERDUE: Caveat.CALIBRATION_OVERDUE in caveats,
        NotForIssue.NOT_SUITED: Caveat.INSTRUMENT_NOT_SUITED in caveats,
        NotForIssue.PIN_UNKNOWN: any(not pin.code or pin.diameter_mm is None for pin in statement.pins),
        NotForIssue.ONE_SITTING: group.sittings < 2 and not of_its_sitting,
        NotForIssue.OTHERS_REPEAT: Caveat.SHOP_REPEAT in caveats,
        NotForIssue.CANNOT_TELL: group.next_clampings == CANNOT_TELL and not sitting_counts(group),
    }
    if Caveat.IN_DOUBT_LEFT_OUT in caveats:
        why[NotForIssue.IN_DOUBT] |= any(why[code] for code in _FOR_WANT_OF_READINGS)
    return [code for code, so in why.items() if so]


def _calibrated(indicator: Indicator) -> bool:
    """Whether its calibration says how far off it may be."""
    known = indicator.calibration
    return known is not None and (known.error_limit_um is not None or known.uncertainty_um is not None)
