"""Is the process steady: do the points of a place scatter about one level, or did it move?

Swings are charted upwards only, each point judged by those before it, since only worsening asks for action; other
characteristics in both directions by the classical charts. Points are the means of sittings, as clampings of one
sitting are not independent witnesses; on a single day they are the clampings. What pins told has no points: nothing in
between was read.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.engine import Store
from qclog.logbook.figures import Figures, read_figures
from qclog.logbook.lookup import Register
from qclog.logbook.told_by_pins import read_value_ends
from qclog.questions.changing.histories import History, Measured, by_sitting, read_histories
from qclog.questions.charted import (
    BY_THOSE_BEFORE,
    FEWEST,
    SINGLE,
    Charted,
    Point,
    RunLength,
    Signal,
    Spreads,
    of_swings,
    of_values,
    of_vectors,
)
from qclog.questions.codes import Caveat
from qclog.questions.judging.alike import JAWS
from qclog.questions.judging.limits import governing, governing_values
from qclog.questions.judging.values import ValueGroup
from qclog.questions.known import Known
from qclog.questions.places import AtPlace, place_of
from qclog.records import SWINGS
from qclog.statistics.bounding.sittings import sitting_sums
from qclog.statistics.changing import running_chart
from qclog.statistics.charting import control_charts
from qclog.statistics.charting.capability import Capability, capability
from qclog.statistics.samples import power_scale

QUESTION: Final = "chart"
STEADY, NOT_STEADY, LEARNING, TOO_FEW = "steady", "not steady", "learning", "too few"
_ESTABLISHED: Final = running_chart.ESTABLISHED_FROM

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Performance:
    """The index P_U from percentiles, (limit - median)/(99.865 % point - median), with its 95 % interval, and the share
    of clampings beyond the limit with what it is at the most (95 %)."""

    index: float
    low: float
    high: float
    median_um: float
    high_percentile_um: float
    beyond: float
    beyond_at_most: float


@dataclass(frozen=True, slots=True)
class Answer(AtPlace):
    """One place, named as in the answers of ``assess``.

    ``points_are``: "sittings" or "clampings". ``method``: "swings by those before", or for other characteristics
    "single values", "means and ranges", "means and standard deviations"; ``two_sided``: looked at in both directions;
    ``from_vectors``: it is also looked at whether the mean vector moved. ``state``: "steady" from 20 points on without
    an alarm, "learning" before, "not steady", or "too few". ``signals``: what speaks against it, hints last.
    ``spreads``: what the values of each point scatter, None where they are not charted. ``sum_limit``: of the
    cumulative sum of the points (both ways where ``two_sided``, the larger shown). ``run_lengths``: of that sum;
    ``run_lengths_of_points``: until a single point lies beyond its limits. ``hint_every``: a hint or a point beyond the
    limits comes by chance once in so many points, None where no hints are looked for.
    ``limit_um``: the upper limit in force, ``lower_limit_um`` the lower one, None where there is none.
    ``performance``: against the upper limit, None unless it is the only one. ``points`` is empty for what pins told.
    ``resolution_um``: the step of the readings. ``for_its_job``: jaws, of whose boring other days say nothing.
    """

    modification: int
    clampings: int
    sittings: int
    points_are: str
    method: str
    two_sided: bool
    from_vectors: bool
    state: str
    signals: tuple[Signal, ...]
    points: tuple[Point, ...]
    spreads: Spreads | None
    sum_limit: float
    run_lengths: tuple[RunLength, ...]
    run_lengths_of_points: tuple[RunLength, ...]
    hint_every: int | None
    limit_um: float | None
    lower_limit_um: float | None
    performance: Performance | None
    resolution_um: float
    for_its_job: bool
    caveats: tuple[Caveat, ...]


def chart(store: Store, codes: Sequence[str]) -> list[Answer]:
    """One answer for each place of the items named, as they are now. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        return chart_in(Known(connection, [register.need(code, "item").id for code in dict.fromkeys(codes)]))


def chart_in(known: Known) -> list[Answer]:
    """As ``chart``, within a transaction."""
    return [answer for swings in (True, False) for answer in _answers(known, read_histories(known, swings=swings))]


def with_steadiness(store: Store, item: str, values: Sequence[ValueGroup]) -> tuple[ValueGroup, ...]:
    """The plain values that ``assess`` told of an item; those that are not steady by their chart with that caveat."""
    moved = {answer.place for answer in chart(store, [item]) if answer.state == NOT_STEADY}
    return tuple(
        dataclasses.replace(value, caveats=(*value.caveats, Caveat.NOT_STEADY))
        if value.place in moved and value.before_bonding is None
        else value
        for value in values
    )


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything is not steady, 8 if that cannot be told of something, else 0."""
    told = {answer.state for answer in answers}
    return 1 if NOT_STEADY in told else 0 if told == {STEADY} else 8


def _answers(known: Known, measured: Measured) -> list[Answer]:
    series = [history.series for history in measured.histories]
    uppers, _ = governing(series, measured.items, measured.setups)
    ids = [one.id for one in series]
    figures = read_figures(known.connection, ids)
    places, unsure = figures.places(), known.gauges.unsure(figures.gauging, figures.order)
    by_pins = {told for (told, _), (low, high) in read_value_ends(known.connection, ids).items() if low < high}
    found = []
    for history, upper in zip(measured.histories, uppers.tolist(), strict=True):
        one, limits = history.series, (-np.inf, np.inf if np.isnan(upper) else upper)
        if one.characteristic not in SWINGS:
            limits, _ = governing_values(one, measured.items, measured.setups)
        jaws = measured.items[one.item_id].kind == JAWS
        here = places[one.id]
        answer = _answer(history, limits, _vectors(figures.of(here)), by_pins=one.id in by_pins, jaws=jaws)
        if unsure[here].any():
            answer = dataclasses.replace(answer, caveats=(*answer.caveats, Caveat.CHECK_FAILED))
        found.append(answer)
    return found


def _answer(
    history: History,
    limits: tuple[float, float],
    vectors: npt.NDArray[np.complex128] | None,
    *,
    by_pins: bool,
    jaws: bool,
) -> Answer:
    swings = history.series.characteristic in SWINGS
    (sittings,) = by_sitting([history])
    several = sittings.swings.size > 1
    points = sittings if several else history
    sizes = _sizes(history, points)
    enough = points.swings.size >= FEWEST and not history.in_doubt and not by_pins
    if not enough:
        found, vectors = _bare(points, sizes, swings=swings), None
    else:
        found = of_swings(points, sizes) if swings else of_values(history, points, sizes)
    signals = list(found.signals)
    if vectors is not None:
        signals += of_vectors(history, points, vectors)
    order = {point.at: i for i, point in enumerate(found.points)}
    alarmed = any(not signal.hint and not signal.past for signal in signals)
    state = NOT_STEADY if alarmed else STEADY if points.swings.size >= _ESTABLISHED else LEARNING
    lower_um, limit_um = (float(end) if np.isfinite(end) else None for end in limits)
    answer = Answer(
        **place_of(history.series)._asdict(),
        modification=history.series.modification,
        clampings=history.swings.size,
        sittings=sittings.swings.size,
        points_are="sittings" if several else "clampings",
        method=found.method,
        two_sided=not swings,
        from_vectors=vectors is not None,
        state=state if enough else TOO_FEW,
        signals=tuple(sorted(signals, key=lambda signal: (signal.hint, signal.past, order[signal.at]))),
        points=() if by_pins else found.points,
        spreads=found.spreads,
        sum_limit=found.sum_limit,
        run_lengths=found.run_lengths,
        run_lengths_of_points=found.run_lengths_of_points,
        hint_every=found.hint_every,
        limit_um=limit_um,
        lower_limit_um=lower_um,
        performance=_performance(history, points, limit_um, swings=swings) if enough and lower_um is None else None,
        resolution_um=history.step_um,
        for_its_job=jaws and swings,
        caveats=(),
    )
    return dataclasses.replace(answer, caveats=_caveats(answer, in_doubt=history.in_doubt, by_pins=by_pins))


def _caveats(answer: Answer, *, in_doubt: bool, by_pins: bool) -> tuple[Caveat, ...]:
    having = {
        Caveat.ONE_SITTING: answer.points_are == "clampings",
        Caveat.IN_DOUBT: in_doubt,
        Caveat.BY_PINS: by_pins,
        Caveat.LEARNING: answer.state == LEARNING,
        Caveat.WITHIN_ONLY: answer.spreads is not None,
    }
    return tuple(code for code, is_so in having.items() if is_so)


def _bare(points: History, sizes: list[int], *, swings: bool) -> Charted:
    """Points that are too few to be judged."""
    told = tuple(
        Point(at, n, float(value), None, None, None, None, beyond=False)
        for at, n, value in zip(points.dates, sizes, points.swings, strict=True)
    )
    limit = running_chart.CUSUM_LIMIT if swings else control_charts.SUM_LIMIT
    return Charted(BY_THOSE_BEFORE if swings else SINGLE, told, (), None, limit, (), (), None)


def _performance(history: History, points: History, limit_um: float | None, *, swings: bool) -> Performance | None:
    if limit_um is None or points.swings.size < FEWEST:
        return None
    values = history.swings
    if swings:
        values, _ = power_scale(values, history.step_um)
    label = history.sitting if points is not history else np.arange(values.size)
    own = sitting_sums(values, label)
    if own.between + own.within == 0.0:
        return None
    found: Capability = capability(own, limit_um, swings=swings)
    return Performance(
        index=found.index,
        low=found.low,
        high=found.high,
        median_um=found.median,
        high_percentile_um=found.high_percentile,
        beyond=found.beyond,
        beyond_at_most=found.beyond_at_most,
    )


def _vectors(figures: Figures) -> npt.NDArray[np.complex128] | None:
    """The vector of each clamping of a history, in its order, where all have one that was measured."""
    measured = np.isfinite(figures.vector.real) & (figures.within_rad == 0.0)
    return figures.vector if measured.all() else None


def _sizes(history: History, points: History) -> list[int]:
    return (
        [1] * history.swings.size if points is history else [int(np.sum(history.sitting == s)) for s in points.sitting]
    )
