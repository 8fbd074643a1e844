"""A chart is judged from its last event on: how often that of a process that stays as it is ends with an alarm.

Own simulation with fixed seeds, Rice-distributed swings with the systematic part 1 or 5 times the scatter.
"""

import numpy as np
import pytest

from qclog.statistics.changing.running_chart import PAST_AFTER, beginning, running_chart, runs
from qclog.statistics.changing.step import find_step

STEP_UM = 0.1


def swings(systematic: float, records: int, points: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.hypot(rng.normal(systematic, 1.0, (records, points)), rng.normal(0.0, 1.0, (records, points)))


@pytest.mark.parametrize(("systematic", "ever"), [(1.0, 0.245), (5.0, 0.165)])
def test_an_alarm_by_chance_long_ago_does_not_speak_against_a_long_record(systematic: float, ever: float) -> None:
    """Of 1,000 records of 100 points each the sum alarmed falsely in 17 to 25 %, and 5 % end with an alarm."""
    records = swings(systematic, 500, 100, 41)
    alarmed = running_chart(records, resolution_um=np.full(500, STEP_UM)).alarm_at > 0
    at_the_end = sum(runs(one, resolution_um=STEP_UM)[-1].alarm_at > 0 for one in records[alarmed]) / 500
    assert alarmed.mean() == pytest.approx(ever, abs=0.06)
    assert 0.02 < at_the_end < 0.08


def test_a_change_is_told_for_twenty_points_and_then_the_chart_begins_anew_with_it() -> None:
    record = np.concatenate([swings(5.0, 1, 30, 3)[0], 6.0 + swings(5.0, 1, 40, 4)[0]])
    first = runs(record[:36], resolution_um=STEP_UM)
    assert len(first) == 1
    assert 31 <= first[0].alarm_at <= 33
    alarm_at = first[0].alarm_at
    assert len(runs(record[: alarm_at + PAST_AFTER - 1], resolution_um=STEP_UM)) == 1
    whole = runs(record, resolution_um=STEP_UM)
    assert [run.alarm_at for run in whole] == [alarm_at, 0]
    assert whole[1].start == whole[0].changed_after


def test_what_goes_on_rising_never_becomes_history() -> None:
    record = swings(5.0, 1, 120, 6)[0] + 0.12 * np.arange(120)
    assert runs(record, resolution_um=STEP_UM)[-1].alarm_at > 0


def test_the_chart_and_the_step_name_the_same_beginning_of_a_change() -> None:
    """Where a step is proven between the last nought of the sum and its alarm, all clampings place it; a record in ten
    alarms by chance before the step."""
    alike = 0
    for seed in range(20):
        record = np.concatenate([swings(5.0, 1, 15, seed)[0], 5.0 + swings(5.0, 1, 8, 100 + seed)[0]])
        step, run = find_step(record, resolution_um=STEP_UM), runs(record, resolution_um=STEP_UM)[0]
        alike += beginning(run.changed_after, run.alarm_at, step) == int(step.before) == 15
    assert alike >= 17
    assert beginning(7, 12, None) == 7
    improved = find_step(record[::-1], resolution_um=STEP_UM)
    assert beginning(7, 12, improved) == 7
