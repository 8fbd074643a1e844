"""What changes at a place: its level, its repeat, and its ratio far to near, each with a cure of its own.

All tests look for worsening only, each with a risk of 5 %, on the means of sittings; the repeat on what the clampings
scatter within them.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from qclog import times
from qclog.logbook.figures import Series
from qclog.questions.changing.histories import Floats, History, Ints, by_sitting
from qclog.questions.changing.rhythm import Rhythm, rhythms
from qclog.questions.codes import Sign, Worth
from qclog.statistics.changing.retirement import DriftLimits, drift_limits
from qclog.statistics.changing.running_chart import FALSE_ALARM_EVERY, beginning, running_chart
from qclog.statistics.changing.running_chart import FEWEST_CLAMPINGS as CHART_FROM
from qclog.statistics.changing.step import FEWEST_CLAMPINGS as STEP_FROM
from qclog.statistics.changing.step import Step, find_step
from qclog.statistics.changing.trend import (
    FEWEST_POINTS,
    RISK,
    RISK_DEPENDENT,
    Line,
    Trend,
    least_squares,
    line_through_sittings,
    trend,
)
from qclog.statistics.grouping import Grouping
from qclog.statistics.many import each, together

Bools = npt.NDArray[np.bool_]

_CLAMPINGS_AT_ONCE: Final = 100_000
_REPEAT_FROM: Final = 10
_REPEAT_DOUBLED: Final = 2.0
_RATIO_DOUBLED: Final = 2.0
_FEWEST_DF: Final = 3


@dataclass(frozen=True, slots=True)
class Tested:
    """One test for a change: the sign it looks for, whether it was found, its p, and how worthy of belief it is.

    ``by_chance``: how many such signs would appear with nothing wrong. ``mark``: None where nothing was found, or
    before it is known how many tests were made.
    """

    sign: Sign
    found: bool
    p_value: float
    by_chance: float
    mark: Worth | None = None

    def marked(self, mark: Worth | None) -> "Tested":
        """The same with its mark."""
        return Tested(self.sign, self.found, self.p_value, self.by_chance, mark)


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """What the record of a place comes to, and how the place changed over time. Of what is in doubt no change is told.

    ``clampings``, their ``mean_um``, and ``sittings``, whose means are the points that changes are sought in. On the
    axis the record ``begins`` and ``ends`` in the order of time, its points ``span`` so much. ``worked``, ``axis``: see
    ``History``.

    ``trend`` of the points and ``line`` through them, for bands of single clampings: None below five sittings or on
    one day. ``step``: the likeliest, None below eight sittings; ``stepped_on``: the day of the first point after it;
    ``since_step_um``: the mean of the clampings since, of a step that was found. ``signal``: the date since which the
    running chart sees a change. ``next_check``: where on the axis the next check will be, as far on as those so far lie
    apart; ``limits_ahead``: of the 95 % point there, where a rise is shown.
    """

    series: Series
    axis: str
    worked: int | None
    in_doubt: bool
    clampings: int
    sittings: int
    mean_um: float
    begins: float
    ends: float
    span: float
    trend: Trend | None
    line: Line | None
    step: Step | None
    stepped_on: str
    since_step_um: float | None
    signal: str | None
    tests: tuple[Tested, ...]
    next_check: float
    rhythm: Rhythm | None
    limits_ahead: DriftLimits | None = None

    @property
    def signs(self) -> list[Sign]:
        return [test.sign for test in self.tests if test.found]

    @property
    def drift(self) -> Line | None:
        """The line, if its rise is shown."""
        return self.line if Sign.LEVEL_RISES in self.signs else None

    @property
    def more_days(self) -> int:
        """How many sittings are missing before anything can be said of a trend."""
        return max(FEWEST_POINTS - self.sittings, 0)


def changes_of(histories: Iterable[History]) -> list[Changes]:
    """The changes of histories, in their order; two distances of the same place are held against each other."""
    found: list[Changes] = []
    points: list[History] = []
    for some in _at_once(histories):
        means = by_sitting(some)
        found += _changes(some, means)
        points += means
    pairs = []
    places: dict[tuple[Any, ...], list[int]] = {}
    for i, changes in enumerate(found):
        one = changes.series
        key = (one.item_id, one.setup_id, one.position, one.clocking, one.diameter_tenths, one.characteristic)
        places.setdefault(key, []).append(i)
    for alike in places.values():
        near, far = (choose(alike, key=lambda i: found[i].series.distance_tenths) for choose in (min, max))
        if near != far and not found[near].in_doubt and not found[far].in_doubt:
            pairs.append((near, far))
    tests = _far_to_near([(points[near], points[far]) for near, far in pairs])
    for (_, far), test in zip(pairs, tests, strict=True):
        if test is not None:
            found[far] = replace(found[far], tests=(*found[far].tests, test))
    rising = [(i, drift) for i, changes in enumerate(found) if (drift := changes.drift) is not None]
    if rising:
        lines, checks = together([drift for _, drift in rising]), [found[i].next_check for i, _ in rising]
        for (i, _), limits in zip(rising, each(drift_limits(lines, checks)), strict=True):
            found[i] = replace(found[i], limits_ahead=limits)
    return found


def _at_once(histories: Iterable[History]) -> Iterator[list[History]]:
    """Histories, so many together that what is computed of them stays small."""
    some: list[History] = []
    clampings = 0
    for history in histories:
        some.append(history)
        clampings += history.swings.size
        if clampings >= _CLAMPINGS_AT_ONCE:
            yield some
            some, clampings = [], 0
    if some:
        yield some


def _of_one_length(values: Sequence[Floats]) -> Iterator[tuple[int, Ints]]:
    """The places of arrays of the same length, and that length."""
    sizes = np.array([one.size for one in values], dtype=np.int64)
    for size in np.unique(sizes):
        yield int(size), np.flatnonzero(sizes == size)


def _changes(histories: Sequence[History], points: Sequence[History]) -> list[Changes]:
    checks = np.empty(len(points))
    trends: list[Trend | None] = [None] * len(points)
    lines: list[Line | None] = [None] * len(points)
    steps: list[Step | None] = [None] * len(points)
    signals: list[str | None] = [None] * len(points)
    tests: list[list[Tested]] = [[] for _ in points]
    for n, alike in _of_one_length([one.swings for one in points]):
        checks[alike] = _next_checks(np.stack([points[i].x for i in alike]))
        which = np.array([i for i in alike if not points[i].in_doubt], dtype=np.int64)
        if not which.size:
            continue
        x, swings = np.stack([points[i].x for i in which]), np.stack([points[i].swings for i in which])
        step_um = np.array([points[i].step_um for i in which])
        enough = (n >= FEWEST_POINTS) & (x.min(axis=-1) < x.max(axis=-1))
        if enough.any():
            trended = trend(x[enough], swings[enough], resolution_um=step_um[enough])
            for i, one, test in zip(which[enough], each(trended), _rises(trended), strict=True):
                trends[i] = one
                tests[i].append(test)
        if n >= STEP_FROM:
            stepped = find_step(swings, resolution_um=step_um)
            found = _tests(Sign.STEPPED, stepped.p_value, stepped.change_um > 0.0)
            for i, one_step, test in zip(which, each(stepped), found, strict=True):
                steps[i] = one_step
                tests[i].append(replace(test, by_chance=RISK / 2))  # of steps by chance half go down
        if n >= CHART_FROM:
            chart = running_chart(swings, resolution_um=step_um)
            lasts = (chart.alarm_at > 0) & (chart.cusum[:, -1] > 0.0)
            alarms = zip(lasts.tolist(), chart.changed_after.tolist(), chart.alarm_at.tolist(), strict=True)
            for i, (alarmed, since, at) in zip(which, alarms, strict=True):
                before = beginning(since, at, steps[i])
                signals[i] = times.day_of(int(points[i].order[before])) if alarmed else None
                tests[i].append(_alarm(n, lasts=alarmed))
    for _, alike in _of_one_length([history.swings for history in histories]):
        which = np.array([i for i in alike if trends[i] is not None], dtype=np.int64)
        if which.size:
            x, swings, sitting = (
                np.stack([getattr(histories[i], k) for i in which]) for k in ("x", "swings", "sitting")
            )
            step_um = np.array([histories[i].step_um for i in which])
            through = line_through_sittings(x, swings, sitting, resolution_um=step_um)
            for i, line in zip(which, each(through), strict=True):
                lines[i] = line
    for i, test in _repeats(histories):
        tests[i].append(test)
    return [
        Changes(
            series=history.series,
            axis=history.axis,
            worked=history.worked,
            in_doubt=history.in_doubt,
            clampings=history.swings.size,
            sittings=points[i].swings.size,
            mean_um=float(history.swings.mean()),
            begins=float(history.x[0]),
            ends=float(history.x[-1]),
            span=float(np.ptp(points[i].x)),
            trend=trends[i],
            line=lines[i],
            step=(step := steps[i]),
            stepped_on="" if step is None else times.day_of(int(points[i].order[step.before])),
            since_step_um=_since_step(history, points[i], step, tests[i]),
            signal=signals[i],
            tests=tuple(tests[i]),
            next_check=float(checks[i]),
            rhythm=rhythm,
        )
        for i, (history, rhythm) in enumerate(zip(histories, rhythms(points), strict=True))
    ]


def _since_step(history: History, points: History, step: Step | None, tests: Sequence[Tested]) -> float | None:
    """The mean of the clampings since a step that was found; else None."""
    if step is None or not any(test.found and test.sign == Sign.STEPPED for test in tests):
        return None
    return float(history.swings[np.isin(history.sitting, points.sitting[int(step.before) :])].mean())


def _next_checks(x: Floats) -> Floats:
    """Where on the axis (K,) the next checks will be: as far on as those at x (K, n) so far lie apart."""
    places = np.sort(x, axis=-1)
    apart = np.count_nonzero(np.diff(places, axis=-1), axis=-1)
    return np.asarray(places[:, -1] + (places[:, -1] - places[:, 0]) / np.maximum(apart, 1))


def _tests(sign: Sign, p_value: npt.NDArray[Any], worse: Bools) -> list[Tested]:
    """Tests at 5 %; what is no worsening, or none that matters, is not found whatever its p."""
    found = (worse & (p_value <= RISK)).tolist()
    told = np.where(worse, p_value, 1.0).tolist()
    return [Tested(sign, is_so, p, by_chance=RISK) for is_so, p in zip(found, told, strict=True)]


def _rises(trended: Trend) -> list[Tested]:
    """Rising levels. Where days resemble each other the test asks for 1 %; its p is then told on the scale of 5 %."""
    stricter = np.where(trended.dependent, RISK / RISK_DEPENDENT, 1.0)
    p_value = np.minimum(trended.p_worse * stricter, 1.0)
    return _tests(Sign.LEVEL_RISES, p_value, np.ones(p_value.shape, dtype=np.bool_))


def _alarm(points: int, *, lasts: bool) -> Tested:
    """The test of the running chart, whether an alarm for the worse still lasts.

    A chart that alarms is as unlikely as its length makes it, one false alarm in 370 points.
    """
    by_chance = min(points / FALSE_ALARM_EVERY, 1.0)
    return Tested(Sign.CHART_SIGNAL, lasts, by_chance if lasts else 1.0, by_chance)


def _repeats(histories: Sequence[History]) -> Iterator[tuple[int, Tested]]:
    """Whether the later half scatters at least twice as much as the earlier one (F test); from ten clampings on."""
    from scipy.special import fdtrc

    for n, alike in _of_one_length([history.swings for history in histories]):
        which = np.array([i for i in alike if not histories[i].in_doubt], dtype=np.int64)
        if n < _REPEAT_FROM or not which.size:
            continue
        (early, df_early), (late, df_late) = (
            _scatter([histories[i] for i in which], part) for part in (slice(None, n // 2), slice(n // 2, None))
        )
        known = (df_early > 0) & (df_late > 0)
        ratio = late[known] / early[known]
        p_value = np.asarray(fdtrc(df_late[known], df_early[known], ratio))
        yield from zip(
            which[known].tolist(), _tests(Sign.REPEAT_GROWN, p_value, ratio >= _REPEAT_DOUBLED**2), strict=True
        )


def _scatter(histories: Sequence[History], part: slice) -> tuple[Floats, Ints]:
    """Mean squares (K,) of the swings within the sittings of a part of histories of one length, and their degrees of
    freedom; with too few there, about their own line; 0 where neither can be had."""
    x, swings, sitting = (np.stack([getattr(one, k)[part] for one in histories]) for k in ("x", "swings", "sitting"))
    step_um = np.array([one.step_um for one in histories])
    cells = Grouping(np.repeat(np.arange(len(x)), x.shape[1]), sitting.reshape(-1), len(x))
    mean = cells.sitting_means(swings.reshape(-1))[cells.cell].reshape(x.shape)
    df = cells.clampings - cells.sittings
    square = np.maximum(np.sum((swings - mean) ** 2, axis=-1) / np.maximum(df, 1), step_um**2 / 12)
    few = df < _FEWEST_DF
    drawn = few & (x.min(axis=-1) < x.max(axis=-1))
    square, df = np.where(few, 0.0, square), np.where(few, 0, df)
    if drawn.any():
        line = least_squares(x[drawn], swings[drawn], resolution_um=step_um[drawn])
        square[drawn], df[drawn] = line.sd**2, line.df
    return square, df


def _far_to_near(pairs: Sequence[tuple[History, History]]) -> list[Tested | None]:
    """Whether the ratio far to near rises, and at least doubled along its line; from five common sittings on."""
    found: list[Tested | None] = [None] * len(pairs)
    x: list[Floats] = []
    ratio: list[Floats] = []
    for near, far in pairs:
        _, at_near, at_far = np.intersect1d(near.sitting, far.sitting, return_indices=True)
        in_time = np.argsort(at_far)
        floor = np.log(max(near.step_um, far.step_um) / 4.0)
        below, above = (
            np.maximum(np.log(np.maximum(points.swings[at[in_time]], np.finfo(float).tiny)), floor)
            for points, at in ((near, at_near), (far, at_far))
        )
        x.append(far.x[at_far][in_time])
        ratio.append(above - below)
    for n, alike in _of_one_length(x):
        which = np.array([i for i in alike if n >= FEWEST_POINTS and np.ptp(x[i]) > 0.0], dtype=np.int64)
        if which.size:
            at = np.stack([x[i] for i in which])
            resolution = [far.step_um / float(far.swings.mean() or far.step_um) for far in (pairs[i][1] for i in which)]
            trended = trend(at, np.stack([ratio[i] for i in which]), resolution_um=resolution)
            doubled = trended.line.slope * np.ptp(at, axis=-1) >= np.log(_RATIO_DOUBLED)
            p_value = np.array([test.p_value for test in _rises(trended)])
            for i, test in zip(which, _tests(Sign.FAR_TO_NEAR_GROWN, p_value, doubled), strict=True):
                found[i] = test
    return found
