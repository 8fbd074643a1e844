"""The points of one place on their chart: swings by those before them, the rest by the classical charts."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from qclog.questions.changing.histories import History
from qclog.questions.codes import ChartSign
from qclog.statistics.changing import running_chart
from qclog.statistics.changing.step import FEWEST_CLAMPINGS as STEP_FROM
from qclog.statistics.changing.step import find_step
from qclog.statistics.charting import control_charts, run_lengths
from qclog.statistics.samples import rounding_sd

FEWEST: Final = 3
PAST_AFTER: Final = running_chart.PAST_AFTER
"""What so many points followed without another is history."""
BY_THOSE_BEFORE, SINGLE = "swings by those before", "single values"
RULES: Final = {
    run_lengths.TWO_OF_THREE: ChartSign.TWO_OF_THREE,
    run_lengths.FOUR_OF_FIVE: ChartSign.FOUR_OF_FIVE,
    run_lengths.NINE_IN_A_ROW: ChartSign.IN_A_ROW,
}
SHIFTS: Final = (0.0, 1.0, 2.0)
"""For which changes run lengths are told, in standard deviations of a point."""
HINT_EVERY: Final = 109
"""A hint or a point beyond the limits comes by chance once in so many points (``run_lengths.with_rules``)."""


@dataclass(frozen=True, slots=True)
class Point:
    """One point: its day ``at``, of how many ``clampings``, its value, and the centre and limits it is judged by, None
    where by none. ``sum``: the cumulative sum up to it, in standard deviations of a point; ``beyond``: it lies outside
    its limits."""

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
    chance alone gives it now and then. ``past``: so many points followed it without another that it is history."""

    sign: ChartSign
    at: str
    since: str | None
    hint: bool
    past: bool = False


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
    """How many points a chart runs on average until it alarms, after a shift by so many standard deviations of a point;
    0: until a false alarm."""

    shift_sd: float
    points: float


@dataclass(frozen=True, slots=True)
class Charted:
    """The points of a place with what they are judged by, and what speaks against its being steady.

    As in ``qclog.questions.chart.Answer``.
    """

    method: str
    points: tuple[Point, ...]
    signals: tuple[Signal, ...]
    spreads: Spreads | None
    sum_limit: float
    run_lengths: tuple[RunLength, ...]
    run_lengths_of_points: tuple[RunLength, ...]
    hint_every: int | None


def of_swings(points: History, sizes: list[int]) -> Charted:
    """Each point judged by those before it, upwards; the alarm is that of the running chart of ``wear``."""
    ran, size = running_chart.runs(points.swings, resolution_um=points.step_um), points.swings.size
    centre, upper, total = (np.full(size, np.nan) for _ in range(3))
    seen = 0
    for run in ran:
        limits = control_charts.swing_limits(
            points.swings[run.start :], resolution_um=points.step_um, kept=int(run.chart.changed_after) or None
        )
        judged = np.arange(max(seen, run.start + FEWEST - 1), size)
        centre[judged], upper[judged] = (ends[judged - run.start] for ends in limits)
        total[judged] = run.chart.cusum[judged - run.start - (FEWEST - 1)]
        seen = run.alarm_at
    told = [
        Point(
            at=at,
            clampings=n,
            value_um=value,
            centre_um=_known(centre[i]),
            lower_um=None,
            upper_um=_known(upper[i]),
            sum=_known(total[i]),
            beyond=bool(value > upper[i]),
        )
        for i, (at, n, value) in enumerate(zip(points.dates, sizes, points.swings.tolist(), strict=True))
    ]
    step = find_step(points.swings, resolution_um=points.step_um) if size >= STEP_FROM else None
    signals = [
        Signal(
            ChartSign.SUM,
            points.dates[run.alarm_at - 1],
            points.dates[running_chart.beginning(run.changed_after, run.alarm_at, step)],
            hint=False,
            past=run is not ran[-1],
        )
        for run in ran
        if run.alarm_at
    ]
    if newest := _newest(np.flatnonzero(points.swings > upper), size):
        signals.append(Signal(ChartSign.BEYOND, points.dates[newest.first], None, hint=False, past=newest.past))
    return Charted(
        method=BY_THOSE_BEFORE,
        points=tuple(told),
        signals=tuple(signals),
        spreads=None,
        sum_limit=running_chart.CUSUM_LIMIT,
        run_lengths=_lengths(_of_sum_upwards),
        run_lengths_of_points=_lengths(_of_points_upwards),
        hint_every=None,
    )


class _Newest(NamedTuple):
    """The first point of the newest event, and whether it is history."""

    first: int
    past: bool


def _newest(where: npt.NDArray[np.int64], size: int) -> _Newest | None:
    """Of points (from 0, ascending) that speak against a chart of ``size`` points: those that follow each other
    without so many between them that the earlier is history are one event."""
    if not where.size:
        return None
    apart = np.flatnonzero(np.diff(where) > PAST_AFTER)
    first = where[int(apart[-1]) + 1 if apart.size else 0]
    return _Newest(int(first), bool(size - 1 - where[-1] >= PAST_AFTER))


def _known(figure: float) -> float | None:
    return None if np.isnan(figure) else float(figure)


def of_values(history: History, points: History, sizes: list[int]) -> Charted:
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
    n = len(dates)
    if over := _newest(np.flatnonzero(larger > control_charts.SUM_LIMIT), n):
        side = up if up[over.first] > down[over.first] else down
        zeros = np.flatnonzero(side[: over.first] == 0.0)
        # the centre moves with what changed, so that points from before may lie off it too: then the step tells
        began = max(int(zeros[-1]) + 1 if zeros.size else 0, 0 if over.past else control_charts.changed_after(z))
        signals.append(Signal(ChartSign.SUM, dates[over.first], dates[began], hint=False, past=over.past))
    far = np.flatnonzero(np.abs(control_charts.weighted(z)) > control_charts.limit_of_weighted())
    for sign, where in ((ChartSign.BEYOND, np.flatnonzero(beyond)), (ChartSign.WEIGHTED, far)):
        if newest := _newest(where, n):
            signals.append(Signal(sign, dates[newest.first], None, hint=False, past=newest.past))
    spreads = None
    if grouped is not None:
        by = grouped.spreads
        out = np.flatnonzero((spread > by.upper) | (spread < by.lower))
        if newest := _newest(out, n):
            signals.append(Signal(ChartSign.SPREAD, dates[newest.first], None, hint=False, past=newest.past))
        spreads = Spreads(grouped.by, by.centre, by.lower, by.upper, tuple(spread.tolist()))
    signals += [Signal(RULES[rule], dates[i], None, hint=True) for i, rule in control_charts.hints(z, list(RULES))]
    told = [
        Point(at, many, value, limits.centre, limits.lower, limits.upper, total, beyond=out)
        for at, many, value, total, out in zip(
            dates, sizes, points.swings.tolist(), larger.tolist(), beyond.tolist(), strict=True
        )
    ]
    methods = {"range": "means and ranges", "sd": "means and standard deviations"}
    return Charted(
        method=SINGLE if grouped is None else methods[grouped.by],
        points=tuple(told),
        signals=tuple(signals),
        spreads=spreads,
        sum_limit=control_charts.SUM_LIMIT,
        run_lengths=_lengths(_of_sums),
        run_lengths_of_points=_lengths(run_lengths.single_points),
        hint_every=HINT_EVERY,
    )


def of_vectors(history: History, points: History, vectors: npt.NDArray[np.complex128]) -> list[Signal]:
    """Whether the mean vectors of the points moved, in any direction, even where the swing stays."""
    means = np.array([vectors[history.sitting == s].mean() for s in points.sitting])
    if points is history:
        means = vectors
    scores = control_charts.vector_scores(means, least_sd=rounding_sd(history.step_um) / 2.0)
    total = running_chart.cusum(scores)
    over = _newest(np.flatnonzero(total > running_chart.CUSUM_LIMIT), total.size)
    if over is None:
        return []
    zeros = np.flatnonzero(total[: over.first] == 0.0)
    since = points.dates[(int(zeros[-1]) + 1 if zeros.size else 0) + 2]
    return [Signal(ChartSign.VECTOR, points.dates[over.first + 2], since, hint=False, past=over.past)]


def _lengths(of: Callable[[float], float]) -> tuple[RunLength, ...]:
    return tuple(RunLength(shift, of(shift)) for shift in SHIFTS)


def _of_sum_upwards(shift: float) -> float:
    return run_lengths.cumulative_sum(shift, running_chart.ALLOWANCE, running_chart.CUSUM_LIMIT)


def _of_points_upwards(shift: float) -> float:
    return run_lengths.points_above(shift, running_chart.FALSE_ALARM_EVERY)


def _of_sums(shift: float) -> float:
    return run_lengths.two_sided_sums(shift, control_charts.ALLOWANCE, control_charts.SUM_LIMIT)
