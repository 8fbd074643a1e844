"""Signs that an item changes: its level, its repeat, and its ratio far to near, each with a cure of its own."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from qclog.logbook.figures import Series
from qclog.questions.histories import History
from qclog.statistics.running_chart import FEWEST_CLAMPINGS as CHART_FROM
from qclog.statistics.running_chart import running_chart
from qclog.statistics.trend import FEWEST_POINTS, RISK, Trend, trend

_REPEAT_FROM: Final = 10
_REPEAT_DOUBLED: Final = 2.0
_RATIO_DOUBLED: Final = 2.0


def trend_of(history: History) -> Trend | None:
    """The trend of a history, None while it has too few points."""
    if history.swings.size < FEWEST_POINTS or np.unique(history.x).size < 2:
        return None
    return trend(history.x, history.swings, resolution_um=history.step_um)


def signal_of(history: History) -> str | None:
    """The date of the clamping from which the running chart sees a change for the worse."""
    if history.swings.size < CHART_FROM:
        return None
    chart = running_chart(history.swings, resolution_um=history.step_um)
    return None if chart.alarm_at is None or chart.changed_after is None else history.dates[chart.changed_after]


def repeat_grown(history: History) -> bool:
    """Whether the later half scatters at least twice as much as the earlier one, about its own line, at 5 %."""
    from scipy.special import fdtrc

    n = history.swings.size
    if n < _REPEAT_FROM:
        return False
    early, late = _scatter(history, slice(None, n // 2)), _scatter(history, slice(n // 2, None))
    ratio = late[0] / early[0]
    return bool(ratio >= _REPEAT_DOUBLED**2 and fdtrc(late[1], early[1], ratio) <= RISK)


def _scatter(history: History, part: slice) -> tuple[float, int]:
    """Mean square of the swings within each place of the axis, and its degrees of freedom."""
    x, swings = history.x[part], history.swings[part]
    _, cell = np.unique(x, return_inverse=True)
    mean = np.bincount(cell, swings) / np.bincount(cell)
    df = max(swings.size - mean.size, 0)
    floor = history.step_um**2 / 12
    if df < 3:
        return float(max(swings.var(ddof=1), floor)), swings.size - 1
    return float(max(np.sum((swings - mean[cell]) ** 2) / df, floor)), df


def far_to_near_grown(series: Sequence[Series], histories: Mapping[int, History | None]) -> dict[int, bool]:
    """For the farther of two distances of the same place: whether the ratio far to near doubled since the first."""
    found: dict[int, bool] = {}
    places: dict[tuple[Any, ...], list[Series]] = {}
    for one in series:
        key = (one.item_id, one.setup_id, one.position, one.clocking, one.diameter_tenths, one.characteristic)
        places.setdefault(key, []).append(one)
    for alike in places.values():
        near, far = min(alike, key=lambda s: s.distance_tenths), max(alike, key=lambda s: s.distance_tenths)
        first, last = (histories[near.id], histories[far.id])
        if near.id == far.id or first is None or last is None:
            continue
        days = sorted(set(first.dates) & set(last.dates))
        if len(days) > 1:
            ratios = [_mean_on(last, day) / max(_mean_on(first, day), first.step_um / 4) for day in (days[0], days[-1])]
            found[far.id] = ratios[1] >= _RATIO_DOUBLED * ratios[0]
    return found


def _mean_on(history: History, day: str) -> float:
    return float(np.mean([swing for swing, date in zip(history.swings, history.dates, strict=True) if date == day]))
