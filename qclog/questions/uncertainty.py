"""What is the uncertainty behind a verdict made of, and what is the smallest limit this equipment can prove?

The budget is that of the guard band of ``assess``: what is common to all clampings of a place, and does not average
out over them. How the clampings scatter is in the bound already and is told beside it. Of a size, a gap or a
difference it is the gauge's, once or, of two readings kept together, twice.
"""

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.characteristics import known as known_characteristic
from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_kept_gauges
from qclog.questions.codes import Caveat, Source
from qclog.questions.judging.groups import Group
from qclog.questions.judging.judgement import Judgement, judgement_in
from qclog.questions.judging.plain_values import K, of_two, value_groups
from qclog.questions.judging.values import Limits, ValueGroup
from qclog.questions.known import Known
from qclog.questions.places import AtPlace
from qclog.statistics.bounding.bounds import Method
from qclog.statistics.uncertainty import Budget, Contribution, smallest_provable_limit

QUESTION: Final = "uncertainty"
DAYS: Final = (1, 3, 10, None)
"""Further days with one clamping each that are looked ahead to; None: any number."""
_OF_THE_GAUGES: Final[tuple[Caveat, ...]] = (
    *(Caveat.INSTRUMENT_UNKNOWN, Caveat.INSTRUMENT_UNCALIBRATED, Caveat.CALIBRATION_OVERDUE, Caveat.CHECK_FAILED),
    *(Caveat.LEVER_ANGLE_UNKNOWN, Caveat.INSTRUMENT_NOT_SUITED, Caveat.RESOLUTION_FLOOR),
    *(Caveat.IN_DOUBT, Caveat.IN_DOUBT_LEFT_OUT, Caveat.SETUP_CHANGED),
)
_UNITS: Final = {Source.LEVER_ANGLE: "°", Source.LEVER_ANGLE_UNKNOWN: "of the swing"}


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a budget.

    ``value`` in ``unit`` ("µm", "°" or "of the swing") is a half width, for a normal distribution an expanded
    uncertainty; over ``divisor`` and times ``sensitivity`` (µm a unit, its sign kept) it is ``u_um``. ``share``: of the
    sum of squares.
    """

    source: Source
    value: float
    unit: str
    distribution: str
    divisor: float
    sensitivity: float
    u_um: float
    share: float


@dataclass(frozen=True, slots=True)
class Scatter:
    """Standard deviations of the clampings, in µm TIR: within a sitting, and from one sitting to the next beyond that;
    None where nothing is known of them."""

    within_sitting_um: float | None
    between_sittings_um: float | None


@dataclass(frozen=True, slots=True)
class Provable:
    """The least limit the next clampings would be found to hold, with one more clamping on each of ``days`` further
    days that come out like those so far; ``days`` None: with any number."""

    days: int | None
    limit_um: float


@dataclass(frozen=True, slots=True)
class Place(AtPlace):
    """The budget at one place of an item, named as in the answers of ``assess``.

    ``instrument`` and ``pin``: codes, '' where not named; of several (``ways`` of reading) the one of the largest
    uncertainty, which counts. ``u_um``: the standard uncertainty that the verdict was given with, ``expanded_um`` that
    times ``coverage_factor``. ``widened``: how it counts against a claim, "linear" (1.645 u on top of the bound, where
    it is assumed) or "root sum of squares". ``suited_from_um``: below it the equipment serves for no limit, whatever is
    clamped. ``holds_from_um``: the least limit found to hold as the clampings stand, None where none. ``to_come``: the
    same with more, where that is less, and with any number; empty where it cannot be told.
    """

    clampings: int
    sittings: int
    mean_um: float
    instrument: str
    pin: str
    ways: int
    lines: tuple[Line, ...]
    u_um: float
    coverage_factor: float
    expanded_um: float
    widened: str
    scatter: Scatter
    limit_um: float | None
    limit_from: str | None
    suited_from_um: float
    holds_from_um: float | None
    to_come: tuple[Provable, ...]
    resolution_um: float
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class OfValue(AtPlace):
    """What counts against a size, a gap or a difference of an item.

    ``gauge_u_um``: the standard uncertainty of one reading, ``assumed`` where no certificate says it, or of pins
    (``by_pins``); ``readings``: how many kept together a value is told from, each with it; ``u_um``: of the value,
    ``expanded_um`` with ``coverage_factor``. ``narrowest_um``: between limits closer together than this hardly any
    value can be proven to lie; of one that is limited from zero up the least limit.
    """

    readings: int
    by_pins: bool
    assumed: bool
    gauge_u_um: float
    u_um: float
    coverage_factor: float
    expanded_um: float
    limits_um: Limits | None
    narrowest_um: float
    caveats: tuple[Caveat, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """One item as it is now, all its places and values."""

    item: str
    modification: int
    what: str
    places: tuple[Place, ...]
    values: tuple[OfValue, ...]


def uncertainty(
    store: Store, codes: Sequence[str], *, setup: str | None = None, position: str | None = None
) -> list[Answer]:
    """One answer for each item named, in their order. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in dict.fromkeys(codes)]
        if setup is not None:
            setup = register.need(setup, "setup").text
        known = Known(connection, items)
        owned = known.owned
        judgement = judgement_in(known, setup, position)
        plain = value_groups(known, known.current(setup, position))
        named = _codes(connection)
    places: dict[int, list[Place]] = {}
    to_come = judgement.judged.holds_from_with(DAYS)
    for one, group, i in judgement.groups:
        now = math.inf if group.holds_from_um is None else group.holds_from_um
        # several clampings a day tell more than one: what one a day would prove may still lie above that
        ahead = tuple(
            Provable(days, float(um))
            for days, um in zip(DAYS, to_come[i], strict=True)
            if np.isfinite(um) and (um < now or days is None)
        )
        places.setdefault(one.item_id, []).append(_place(judgement, group, i, ahead, named))
    values: dict[int, list[OfValue]] = {}
    for one, value in plain:
        values.setdefault(one.item_id, []).append(_of_value(value))
    return [
        Answer(
            owned[item].code,
            owned[item].modification,
            owned[item].what,
            tuple(places.get(item, ())),
            tuple(values.get(item, ())),
        )
        for item in items
    ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _place(judgement: Judgement, group: Group, i: int, ahead: tuple[Provable, ...], named: dict[int, str]) -> Place:
    judged, swings = judgement.judged, judgement.judged.swings
    mean, step = float(swings.mean_um[i]), float(swings.resolution_um[i])
    ways = np.unique(judged.read_with.gauging[judged.read_with.series == i]).tolist()
    budgets = {way: judgement.gauges.budget(way, mean, step) for way in ways}
    worst = max(ways, key=lambda way: budgets[way].u_um)
    budget, read_with = budgets[worst], judgement.gauges.gaugings[worst]
    own = Method(judged.directed.next_bounds.method[i]) != Method.SHOP and Caveat.SETUP_CHANGED not in group.caveats
    caveats: list[Caveat] = [code for code in group.caveats if code in _OF_THE_GAUGES]
    if own and ahead and group.limit_um is not None and group.limit_um < ahead[-1].limit_um:
        caveats.append(Caveat.LIMIT_OUT_OF_REACH)
    factor = budget.coverage_factor
    return Place(
        **group.place._asdict(),
        clampings=group.clampings,
        sittings=group.sittings,
        mean_um=mean,
        instrument=named.get(read_with.instrument_id, ""),
        pin=named.get(read_with.pin_id, ""),
        ways=len(ways),
        lines=_lines(budget, assumed=judgement.gauges.assumes(worst)),
        u_um=budget.u_um,
        coverage_factor=factor,
        expanded_um=budget.expanded_um,
        widened="linear" if judged.gauge.assumed[i] else "root sum of squares",
        scatter=_scatter(judgement, i),
        limit_um=group.limit_um,
        limit_from=group.limit_from,
        suited_from_um=float(smallest_provable_limit(budget.u_um)),
        holds_from_um=group.holds_from_um,
        to_come=ahead if own else (),
        resolution_um=group.resolution_um,
        caveats=tuple(caveats),
    )


def _of_value(group: ValueGroup) -> OfValue:
    u, factor = group.uncertainty_um / K, of_two(group.characteristic)
    ends = group.limits_um
    from_zero = known_characteristic(group.characteristic).alone == "upper" and (ends is None or ends.lower is None)
    return OfValue(
        **group.place._asdict(),
        readings=2 if known_characteristic(group.characteristic).joined else 1,
        by_pins=group.by_pins,
        assumed=not {Caveat.INSTRUMENT_UNKNOWN, Caveat.INSTRUMENT_UNCALIBRATED}.isdisjoint(group.caveats),
        gauge_u_um=u / factor,
        u_um=u,
        coverage_factor=K,
        expanded_um=group.uncertainty_um,
        limits_um=ends,
        narrowest_um=(1 if from_zero else 2) * float(smallest_provable_limit(u)),
        caveats=tuple(code for code in group.caveats if code in _OF_THE_GAUGES),
    )


def _lines(budget: Budget, *, assumed: bool) -> tuple[Line, ...]:
    """The lines that count, the largest first."""
    sources = {
        "lever angle": Source.LEVER_ANGLE,
        "unknown lever angle": Source.LEVER_ANGLE_UNKNOWN,
        "roundness": Source.PIN_ROUNDNESS,
    }
    found = []
    for line in budget.contributions:
        source = sources.get(line.name) or _of_indicator(line, assumed=assumed)
        if line.u > 0:
            found.append(
                Line(
                    source=source,
                    value=line.value,
                    unit=_UNITS.get(source, "µm"),
                    distribution=line.distribution,
                    divisor=line.divisor,
                    sensitivity=line.sensitivity,
                    u_um=line.u,
                    share=(line.u / budget.u_um) ** 2,
                )
            )
    return tuple(sorted(found, key=lambda line: -line.u_um))


def _of_indicator(line: Contribution, *, assumed: bool) -> Source:
    if assumed:
        return Source.INDICATOR_ASSUMED
    return Source.INDICATOR_CERTIFICATE if line.distribution == "normal" else Source.INDICATOR_ERROR_LIMIT


def _scatter(judgement: Judgement, i: int) -> Scatter:
    swings = judgement.judged.swings
    within = float(swings.linear_within[i]) if swings.df_within[i] else None
    between = None
    if swings.df_between[i] and within is not None:
        between = math.sqrt(max(float(swings.linear_between[i]) - within / float(swings.harmonic_size[i]), 0.0))
    return Scatter(None if within is None else math.sqrt(within), between)


def _codes(connection: sa.Connection) -> dict[int, str]:
    return {i: gauge.code for i, gauge in read_kept_gauges(connection).items()}
