"""What changes at a place: its level, its repeat, and its ratio far to near, each with a cure of its own.

All tests look for worsening only, each with a risk of 5 %, on the means of sittings; the repeat on what the clampings
scatter within them.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from qclog.questions.codes import Sign, Worth
from qclog.questions.histories import History
from qclog.statistics.running_chart import FALSE_ALARM_EVERY, running_chart
from qclog.statistics.running_chart import FEWEST_CLAMPINGS as CHART_FROM
from qclog.statistics.step import FEWEST_CLAMPINGS as STEP_FROM
from qclog.statistics.step import Step, find_step
from qclog.statistics.trend import (
    FEWEST_POINTS,
    RISK,
    RISK_DEPENDENT,
    Line,
    Trend,
    least_squares,
    line_through_sittings,
    trend,
)

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


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """How a place changed over time; ``points`` are the means of its sittings. Of what is in doubt nothing is told.

    ``trend`` of the points and ``line`` through them, for bands of single clampings: None below five sittings or on
    one day. ``step``: the likeliest, None below eight sittings. ``signal``: the date since which the running chart
    sees a change.
    """

    history: History
    points: History
    trend: Trend | None
    line: Line | None
    step: Step | None
    signal: str | None
    tests: tuple[Tested, ...]

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
        return max(FEWEST_POINTS - self.points.swings.size, 0)


def changes_of(histories: Iterable[History]) -> list[Changes]:
    """The changes of histories; those at two distances of the same place are held against each other."""
    found = [_changes(history) for history in histories]
    places: dict[tuple[Any, ...], list[int]] = {}
    for i, changes in enumerate(found):
        one = changes.history.series
        key = (one.item_id, one.setup_id, one.position, one.clocking, one.diameter_tenths, one.characteristic)
        places.setdefault(key, []).append(i)
    for alike in places.values():
        near, far = (choose(alike, key=lambda i: found[i].history.series.distance_tenths) for choose in (min, max))
        doubtful = found[near].history.in_doubt or found[far].history.in_doubt
        test = None if near == far or doubtful else _far_to_near(found[near].points, found[far].points)
        if test is not None:
            found[far] = replace(found[far], tests=(*found[far].tests, test))
    return found


def _changes(history: History) -> Changes:
    points = history.by_sitting()
    if history.in_doubt:
        return Changes(history, points, trend=None, line=None, step=None, signal=None, tests=())
    enough = points.swings.size >= FEWEST_POINTS and np.unique(points.x).size > 1
    trended = trend(points.x, points.swings, resolution_um=points.step_um) if enough else None
    step = find_step(points.swings, resolution_um=points.step_um) if points.swings.size >= STEP_FROM else None
    tests = [] if trended is None else [_rises(trended)]
    if step is not None:
        stepped = _test(Sign.STEPPED, step.p_value, worse=step.change_um > 0.0)
        tests.append(replace(stepped, by_chance=RISK / 2))  # of steps by chance half go down
    signal, alarm = _alarm(points)
    tests += [test for test in (alarm, _repeat(history)) if test is not None]
    return Changes(
        history=history,
        points=points,
        trend=trended,
        line=line_through_sittings(history.x, history.swings, history.sitting, resolution_um=history.step_um)
        if enough
        else None,
        step=step,
        signal=signal,
        tests=tuple(tests),
    )


def _test(sign: Sign, p_value: float, *, worse: bool = True) -> Tested:
    """A test at 5 %; what is no worsening, or none that matters, is not found whatever its p."""
    return Tested(sign, bool(worse and p_value <= RISK), float(p_value) if worse else 1.0, by_chance=RISK)


def _rises(trended: Trend) -> Tested:
    """A rising level. Where days resemble each other the test asks for 1 %; its p is then told on the scale of 5 %."""
    stricter = RISK / RISK_DEPENDENT if trended.dependent else 1.0
    return _test(Sign.LEVEL_RISES, min(trended.p_worse * stricter, 1.0))


def _alarm(points: History) -> tuple[str | None, Tested | None]:
    """The running chart: the date from which it sees a change for the worse that still lasts, and its test.

    A chart that alarms is as unlikely as its length makes it, one false alarm in 370 points.
    """
    n = points.swings.size
    if n < CHART_FROM:
        return None, None
    chart = running_chart(points.swings, resolution_um=points.step_um)
    lasts = chart.alarm_at is not None and bool(chart.cusum[-1] > 0.0)
    by_chance = min(n / FALSE_ALARM_EVERY, 1.0)
    since = points.dates[chart.changed_after] if lasts and chart.changed_after is not None else None
    return since, Tested(Sign.CHART_SIGNAL, lasts, by_chance if lasts else 1.0, by_chance)


def _repeat(history: History) -> Tested | None:
    """Whether the later half scatters at least twice as much as the earlier one (F test); from ten clampings on."""
    from scipy.special import fdtrc

    n = history.swings.size
    if n < _REPEAT_FROM:
        return None
    early, late = _scatter(history, slice(None, n // 2)), _scatter(history, slice(n // 2, None))
    if early is None or late is None:
        return None
    ratio = late[0] / early[0]
    return _test(Sign.REPEAT_GROWN, float(fdtrc(late[1], early[1], ratio)), worse=ratio >= _REPEAT_DOUBLED**2)


def _scatter(history: History, part: slice) -> tuple[float, int] | None:
    """Mean square of the swings within sittings, and its degrees of freedom; too few there, about their own line."""
    x, swings = history.x[part], history.swings[part]
    _, cell = np.unique(history.sitting[part], return_inverse=True)
    mean = np.bincount(cell, swings) / np.bincount(cell)
    df = swings.size - mean.size
    if df >= _FEWEST_DF:
        return float(max(np.sum((swings - mean[cell]) ** 2) / df, history.step_um**2 / 12)), df
    if np.unique(x).size < 2:
        return None
    line = least_squares(x, swings, resolution_um=history.step_um)
    return line.sd**2, line.df


def _far_to_near(near: History, far: History) -> Tested | None:
    """Whether the ratio far to near rises, and at least doubled along its line; from five common sittings on."""
    common, at_near, at_far = np.intersect1d(near.sitting, far.sitting, return_indices=True)
    if common.size < FEWEST_POINTS or np.unique(far.x[at_far]).size < 2:
        return None
    in_time = np.argsort(at_far)
    floor = np.log(max(near.step_um, far.step_um) / 4.0)
    below, above = (
        np.maximum(np.log(np.maximum(points.swings[at[in_time]], np.finfo(float).tiny)), floor)
        for points, at in ((near, at_near), (far, at_far))
    )
    x = far.x[at_far][in_time]
    found = trend(x, above - below, resolution_um=far.step_um / float(far.swings.mean() or far.step_um))
    doubled = found.line.slope * float(np.ptp(x)) >= np.log(_RATIO_DOUBLED)
    return _test(Sign.FAR_TO_NEAR_GROWN, _rises(found).p_value, worse=doubled)
