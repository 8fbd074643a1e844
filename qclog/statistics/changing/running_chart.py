"""Is it still what it was? A chart that runs from the third clamping on, without a start-up set.

Each swing is scored against all those before it (Hawkins 1987, The Statistician 36; Quesenberry 1991, Journal
of Quality Technology 23), on the scale T^(2/3). The scores of an unchanged item are independent standard normal.
Two one-sided charts gather them, upwards, since only worsening asks for action: the cumulative sum (Page 1954,
Biometrika 41) that alarms, and the exponentially weighted mean (Roberts 1959, Technometrics 1) beside it. All
from memory. Their limits give one false alarm in 370 scores (integral equation, Gauss-Legendre).

Limits from a start-up set alarm falsely far too often (0.3-0.4 within 50 clampings after ten to learn from);
this chart in 0.08-0.13 within 50 and 0.16-0.25 within 100, with known ones 0.10 and 0.21 (own simulation). A slow drift
from the first clamping on is absorbed by any such chart: the trend test must run beside it.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.statistics.bounding.factors import Floats
from qclog.statistics.changing.step import FEWEST_ASIDE, Step
from qclog.statistics.many import OneOrMany
from qclog.statistics.samples import checked_swings, power_scale

FEWEST_CLAMPINGS = 3
ESTABLISHED_FROM = 20
ALLOWANCE = 0.5
CUSUM_LIMIT = 4.09545
WEIGHT = 0.2
EWMA_LIMIT = 0.92101
FALSE_ALARM_EVERY = 370
PAST_AFTER = 20
"""An event that so many points followed without another is history, and a chart is judged from it on (common
practice; as many as establish a chart)."""


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """Scores and charts of clampings 3, 4, …, of one record or of many of one length; arrays (..., n - 2), read-only.

    alarm_at (...): the clamping, counted from 1, at which the cumulative sum first exceeded its limit; changed_after
    (...): the last clamping before the change it points to. Both 0 without an alarm. After an alarm the scores stay
    against clampings 1 to changed_after. established (...): 20 clampings or more before the alarm, or in all.
    """

    scores: Floats
    cusum: Floats
    ewma: Floats
    alarm_at: OneOrMany
    changed_after: OneOrMany
    established: OneOrMany

    def __post_init__(self) -> None:
        for array in (self.scores, self.cusum, self.ewma):
            array.flags.writeable = False


def running_chart(swings: npt.ArrayLike, *, resolution_um: npt.ArrayLike) -> Chart:
    """Chart of swings (..., n), in the order they were taken, read to a step of resolution_um, one or (...).

    Raises NotAnswerableError for a swing that is negative or not finite, and below three clampings.
    """
    tir = checked_swings(swings, FEWEST_CLAMPINGS)
    y, floor = power_scale(tir, resolution_um)
    scores = self_starting_scores(y, floor)
    sums = cusum(scores)
    over = sums > CUSUM_LIMIT
    alarmed, score = over.any(axis=-1), np.arange(sums.shape[-1])
    alarm = over.argmax(axis=-1)[..., None]
    still = np.where((sums == 0.0) & (score < alarm), score, -1).max(axis=-1)
    changed_after = np.where(alarmed, still + FEWEST_CLAMPINGS, 0)
    for kept in np.unique(changed_after[alarmed]):
        rows = changed_after == kept
        after = np.where(score > alarm[rows], _scores_against(y[rows], int(kept), floor[rows]), scores[rows])
        scores[rows], sums[rows] = after, cusum(after)
    alarm_at = np.where(alarmed, alarm[..., 0] + FEWEST_CLAMPINGS, 0)
    seen = np.where(alarmed, alarm_at, tir.shape[-1])
    return Chart(scores, sums, ewma(scores), alarm_at, changed_after, seen >= ESTABLISHED_FROM)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """A stretch of a record charted by itself: from the clamping behind the first ``start`` to the end."""

    start: int
    chart: Chart

    @property
    def alarm_at(self) -> int:
        """As in the chart, counted in the whole record; 0 without an alarm."""
        return self.start + int(self.chart.alarm_at) if self.chart.alarm_at else 0

    @property
    def changed_after(self) -> int:
        return self.start + int(self.chart.changed_after)


def runs(swings: npt.ArrayLike, *, resolution_um: float) -> list[Run]:
    """The charts of swings (n,), the first of the whole record; the last is the one it is judged by.

    After an alarm that 20 or more points followed the chart begins anew with the change it points to. Raises as
    ``running_chart``.
    """
    tir = checked_swings(swings, FEWEST_CLAMPINGS)
    found = [Run(0, running_chart(tir, resolution_um=resolution_um))]
    while found[-1].alarm_at and tir.size - found[-1].alarm_at >= PAST_AFTER:
        start = found[-1].changed_after
        found.append(Run(start, running_chart(tir[start:], resolution_um=resolution_um)))
    return found


def beginning(changed_after: int, alarm_at: int, step: Step | None) -> int:
    """How many clampings lie before the change that an alarm points to: before the step, where one is proven upwards
    just there, since that is placed by all clampings; else before the sum began to rise."""
    if step is not None and bool(step.proven) and float(step.change_um) > 0.0:
        before = int(step.before)
        if changed_after - FEWEST_ASIDE <= before < alarm_at:
            return before
    return changed_after


def self_starting_scores(y: Floats, floor: npt.ArrayLike) -> Floats:
    """Scores (..., n - 2) of y (..., n) from the third value on, each against all those before it.

    sqrt(j/(j+1)) (y - mean)/s with j values before, s not below the floor (...), by way of its t distribution.
    """
    from scipy.special import ndtri, stdtr

    mean, squares = y[..., 0], np.zeros(y.shape[:-1])
    t = np.empty((*y.shape[:-1], y.shape[-1] - 2))
    for j in range(1, y.shape[-1]):
        away = y[..., j] - mean
        if j > 1:
            t[..., j - 2] = away / np.maximum(np.sqrt(squares / (j - 1)), floor) * np.sqrt(j / (j + 1.0))
        mean = mean + away / (j + 1)
        squares = squares + away**2 * j / (j + 1)
    df = np.arange(1.0, y.shape[-1] - 1)
    return np.asarray(-np.sign(t) * ndtri(stdtr(df, -np.abs(t))))


def cusum(scores: Floats) -> Floats:
    """C = max(0, C + z - 0.5) along the last axis of scores, from 0."""
    return _gathered(scores, 1.0, 1.0, -ALLOWANCE)


def ewma(scores: Floats) -> Floats:
    """E = max(0, 0.8 E + 0.2 z) along the last axis of scores, from 0."""
    return _gathered(scores, 1.0 - WEIGHT, WEIGHT, 0.0)


def _scores_against(y: Floats, kept: int, floor: Floats) -> Floats:
    """Scores (k, n - 2) of y (k, n) from the third value on, each against the first ``kept``, two or more, alone."""
    from scipy.special import ndtri, stdtr

    first = y[:, :kept]
    sd = np.maximum(first.std(axis=-1, ddof=1), floor)[:, None]
    t = (y[:, 2:] - first.mean(axis=-1)[:, None]) / sd * np.sqrt(kept / (kept + 1.0))
    return np.asarray(-np.sign(t) * ndtri(stdtr(kept - 1, -np.abs(t))))


def _gathered(scores: Floats, keep: float, weight: float, shift: float) -> Floats:
    gathered = np.empty_like(scores)
    state = np.zeros(scores.shape[:-1])
    for j in range(scores.shape[-1]):
        state = np.maximum(0.0, keep * state + weight * scores[..., j] + shift)
        gathered[..., j] = state
    return gathered
