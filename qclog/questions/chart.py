"""Is the process steady: do the points of a place scatter about one level, or did it move?

Swings are charted upwards only, each point judged by those before it, since only worsening asks for action; other
characteristics in both directions by the classical charts. Points are the means of sittings, as clampings of one
sitting are not independent witnesses; on a single day they are the clampings.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.figures import Eccentricities, key_of, read_eccentricities
from qclog.logbook.lookup import Register
from qclog.questions.codes import Caveat, ChartSign
from qclog.questions.histories import History, Measured, place_of, read_histories
from qclog.questions.limits import governing
from qclog.records import SWINGS
from qclog.statistics import control_charts, run_lengths, running_chart
from qclog.statistics.capability import Capability, capability
from qclog.statistics.samples import power_scale, rounding_sd
from qclog.statistics.sittings import sitting_sums

QUESTION: Final = "chart"
STEADY, NOT_STEADY, LEARNING, TOO_FEW = "steady", "not steady", "learning", "too few"
RULES: Final = {
    run_lengths.TWO_OF_THREE: ChartSign.TWO_OF_THREE,
    run_lengths.FOUR_OF_FIVE: ChartSign.FOUR_OF_FIVE,
    run_lengths.NINE_IN_A_ROW: ChartSign.IN_A_ROW,
}
_RULES_EVERY: Final = 109
"""A hint or a point beyond the limits comes by chance once in so many points (``run_lengths.with_rules``)."""
_ESTABLISHED: Final = running_chart.ESTABLISHED_FROM
_FEWEST: Final = 3

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Point:
    """One point: when, of how many clampings, its value, and the limits that it is judged by, None where none is."""

    at: str
    clampings: int
    value_um: float
    centre_um: float | None
    lower_um: float | None
    upper_um: float | None
    sum: float | None
    beyond: bool


@dataclass(frozen=True, slots=True)
class Signal:
    """What speaks against it, at which point (a date) it shows, and since when, where that can be told. ``hint``: weak,
    chance alone gives it now and then."""

    sign: ChartSign
    at: str
    since: str | None
    hint: bool


@dataclass(frozen=True, slots=True)
class Spreads:
    """What the values of each point scatter, as "range" or "sd", with the limits for it."""

    by: str
    centre_um: float
    lower_um: float
    upper_um: float
    values_um: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class RunLength:
    """How many points the main chart runs on average until it alarms, after a shift by so many standard deviations of a
    point; 0: until a false alarm."""

    shift_sd: float
    points: float


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
class Answer:
    """One place. ``points_are``: "sittings" or "clampings". ``method``: "swings by those before", or for other
    characteristics "single values", "means and ranges", "means and standard deviations". ``state``: "steady" from 20
    points on without an alarm, "learning" before, "not steady", or "too few". ``sum_limit``: of the cumulative sum of
    the points (both ways where ``two_sided``, the larger shown). ``hint_every``: a hint comes by chance once in so many
    points, None where none are looked for."""

    item: str
    modification: int
    setup: str
    setup_revision: int
    position: str
    clocking: str
    distance_mm: float
    diameter_mm: float | None
    characteristic: str
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
    hint_every: int | None
    limit_um: float | None
    performance: Performance | None
    resolution_um: float
    caveats: tuple[Caveat, ...]


def chart(store: Store, codes: Sequence[str]) -> list[Answer]:
    """One answer for each place of the items named, as they are now. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in dict.fromkeys(codes)]
        return [
            answer
            for swings in (True, False)
            for answer in _answers(connection, read_histories(connection, items, swings=swings))
        ]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def gate(answers: Iterable[Answer]) -> int:
    """The exit code for a script: 1 if anything is not steady, 8 if that cannot be told of something, else 0."""
    told = {answer.state for answer in answers}
    return 1 if NOT_STEADY in told else 0 if told == {STEADY} else 8


def _answers(connection: sa.Connection, measured: Measured) -> list[Answer]:
    series = [history.series for history in measured.histories]
    limits, _ = governing(series, measured.items, measured.setups)
    eccentricities = read_eccentricities(connection, [one.id for one in series])
    return [
        _answer(history, float(limit), _vectors(history, eccentricities))
        for history, limit in zip(measured.histories, limits, strict=True)
    ]


def _answer(history: History, limit: float, vectors: npt.NDArray[np.complex128] | None) -> Answer:
    swings = history.series.characteristic in SWINGS
    sittings = history.by_sitting()
    several = sittings.swings.size > 1
    points = sittings if several else history
    caveats = [] if several else [Caveat.ONE_SITTING]
    sizes = _sizes(history, points)
    limit_um = None if np.isnan(limit) else limit
    common: dict[str, Any] = {
        **place_of(history.series),
        "clampings": history.swings.size,
        "sittings": sittings.swings.size,
        "points_are": "sittings" if several else "clampings",
        "limit_um": limit_um,
        "resolution_um": history.step_um,
    }
    if history.in_doubt or points.swings.size < _FEWEST:
        caveats += [Caveat.IN_DOUBT] if history.in_doubt else []
        return _too_few(common, points, sizes, swings, caveats)
    found = _of_swings(points, sizes) if swings else _of_values(history, points, sizes)
    if vectors is not None:
        found["signals"] += _of_vectors(history, points, vectors)
    alarms = [signal for signal in found["signals"] if not signal.hint]
    state = NOT_STEADY if alarms else STEADY if points.swings.size >= _ESTABLISHED else LEARNING
    if state == LEARNING:
        caveats.append(Caveat.LEARNING)
    if not swings and found["method"] != "single values":
        caveats.append(Caveat.WITHIN_ONLY)
    order = {point.at: i for i, point in enumerate(found["points"])}
    found["signals"] = tuple(sorted(found["signals"], key=lambda signal: (signal.hint, order[signal.at])))
    return Answer(
        **common,
        **found,
        two_sided=not swings,
        from_vectors=vectors is not None,
        state=state,
        performance=_performance(history, points, limit_um, swings=swings),
        caveats=tuple(caveats),
    )


def _too_few(common: dict[str, Any], points: History, sizes: list[int], swings: bool, caveats: list[Caveat]) -> Answer:
    bare = [
        Point(at, n, float(value), None, None, None, None, beyond=False)
        for at, n, value in zip(points.dates, sizes, points.swings, strict=True)
    ]
    return Answer(
        **common,
        method="swings by those before" if swings else "single values",
        two_sided=not swings,
        from_vectors=False,
        state=TOO_FEW,
        signals=(),
        points=tuple(bare),
        spreads=None,
        sum_limit=running_chart.CUSUM_LIMIT if swings else control_charts.SUM_LIMIT,
        run_lengths=(),
        hint_every=None,
        performance=None,
        caveats=tuple(caveats),
    )


def _of_swings(points: History, sizes: list[int]) -> dict[str, Any]:
    """Each point judged by those before it, upwards; the alarm is that of the running chart of ``wear``."""
    ran = running_chart.running_chart(points.swings, resolution_um=points.step_um)
    centre, upper = control_charts.swing_limits(points.swings, resolution_um=points.step_um, kept=ran.changed_after)
    told = []
    for i, (at, n, value) in enumerate(zip(points.dates, sizes, points.swings.tolist(), strict=True)):
        judged = i >= _FEWEST - 1
        told.append(
            Point(
                at=at,
                clampings=n,
                value_um=value,
                centre_um=float(centre[i]) if judged else None,
                lower_um=None,
                upper_um=float(upper[i]) if judged else None,
                sum=float(ran.cusum[i - 2]) if judged else None,
                beyond=bool(judged and value > upper[i]),
            )
        )
    signals = []
    if ran.alarm_at is not None and ran.changed_after is not None:
        since = points.dates[min(ran.changed_after, len(told) - 1)]
        signals.append(Signal(ChartSign.SUM, points.dates[ran.alarm_at - 1], since, hint=False))
    beyond = [point for point in told if point.beyond]
    if beyond:
        signals.append(Signal(ChartSign.BEYOND, beyond[0].at, None, hint=False))
    lengths = [
        RunLength(shift, run_lengths.cumulative_sum(shift, running_chart.ALLOWANCE, running_chart.CUSUM_LIMIT))
        for shift in (0.0, 1.0, 2.0)
    ]
    return {
        "method": "swings by those before",
        "signals": signals,
        "points": tuple(told),
        "spreads": None,
        "sum_limit": running_chart.CUSUM_LIMIT,
        "run_lengths": tuple(lengths),
        "hint_every": None,
    }


def _of_values(history: History, points: History, sizes: list[int]) -> dict[str, Any]:
    """Classical charts, both ways: means of equal groups, or single values; weighted mean and cumulative sum beside."""
    least = rounding_sd(history.step_um)
    alike = len(set(sizes)) == 1 and 1 < sizes[0] <= 100
    grouped = None
    if alike:
        values = np.array([history.swings[history.sitting == s] for s in points.sitting])
        grouped = control_charts.groups_of(values, least_sd=least)
        limits = grouped.means
        spread = np.ptp(values, axis=1) if grouped.by == "range" else values.std(axis=1, ddof=1)
    else:
        limits = control_charts.single_values(points.swings, least_sd=least)
    z = (points.swings - limits.centre) / limits.sd
    up, down = control_charts.sums(z)
    larger = np.maximum(up, down)
    dates = points.dates
    beyond = np.abs(z) > run_lengths.BEYOND.beyond
    signals = []
    over = np.flatnonzero(larger > control_charts.SUM_LIMIT)
    if over.size:
        side = up if up[over[0]] > down[over[0]] else down
        zeros = np.flatnonzero(side[: over[0]] == 0.0)
        signals.append(
            Signal(ChartSign.SUM, dates[over[0]], dates[int(zeros[-1]) + 1 if zeros.size else 0], hint=False)
        )
    far = np.flatnonzero(np.abs(control_charts.weighted(z)) > control_charts.limit_of_weighted())
    for sign, where in ((ChartSign.BEYOND, np.flatnonzero(beyond)), (ChartSign.WEIGHTED, far)):
        signals += [Signal(sign, dates[where[0]], None, hint=False)] if where.size else []
    spreads = None
    if grouped is not None:
        by = grouped.spreads
        out = np.flatnonzero((spread > by.upper) | (spread < by.lower))
        signals += [Signal(ChartSign.SPREAD, dates[out[0]], None, hint=False)] if out.size else []
        spreads = Spreads(grouped.by, by.centre, by.lower, by.upper, tuple(spread.tolist()))
    signals += [Signal(RULES[rule], dates[i], None, hint=True) for i, rule in control_charts.hints(z, list(RULES))]
    told = [
        Point(at, n, value, limits.centre, limits.lower, limits.upper, total, beyond=out)
        for at, n, value, total, out in zip(
            dates, sizes, points.swings.tolist(), larger.tolist(), beyond.tolist(), strict=True
        )
    ]
    lengths = [
        RunLength(shift, run_lengths.two_sided_sums(shift, control_charts.ALLOWANCE, control_charts.SUM_LIMIT))
        for shift in (0.0, 1.0, 2.0)
    ]
    methods = {"range": "means and ranges", "sd": "means and standard deviations"}
    return {
        "method": "single values" if grouped is None else methods[grouped.by],
        "signals": signals,
        "points": tuple(told),
        "spreads": spreads,
        "sum_limit": control_charts.SUM_LIMIT,
        "run_lengths": tuple(lengths),
        "hint_every": _RULES_EVERY,
    }


def _of_vectors(history: History, points: History, vectors: npt.NDArray[np.complex128]) -> list[Signal]:
    """Whether the mean vectors of the points moved, in any direction, even where the swing stays."""
    means = np.array([vectors[history.sitting == s].mean() for s in points.sitting])
    if points is history:
        means = vectors
    scores = control_charts.vector_scores(means, least_sd=rounding_sd(history.step_um) / 2.0)
    total = running_chart.cusum(scores)
    over = np.flatnonzero(total > running_chart.CUSUM_LIMIT)
    if not over.size:
        return []
    zeros = np.flatnonzero(total[: over[0]] == 0.0)
    since = points.dates[(int(zeros[-1]) + 1 if zeros.size else 0) + 2]
    return [Signal(ChartSign.VECTOR, points.dates[int(over[0]) + 2], since, hint=False)]


def _performance(history: History, points: History, limit_um: float | None, *, swings: bool) -> Performance | None:
    if limit_um is None or points.swings.size < _FEWEST:
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


def _vectors(history: History, eccentricities: Eccentricities) -> npt.NDArray[np.complex128] | None:
    """The vector of each clamping, in the order of the history, where all have one that was measured."""
    if not eccentricities.key.size:
        return None
    key = key_of(np.full(history.clamping.size, history.series.id), history.clamping)
    at = np.minimum(np.searchsorted(eccentricities.key, key), eccentricities.key.size - 1)
    if (eccentricities.key[at] != key).any() or (eccentricities.within_rad[at] > 0).any():
        return None
    return np.asarray(eccentricities.vector[at])


def _sizes(history: History, points: History) -> list[int]:
    return (
        [1] * history.swings.size if points is history else [int(np.sum(history.sitting == s)) for s in points.sitting]
    )
