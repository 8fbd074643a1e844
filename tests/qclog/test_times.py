"""Dates as written: taken as they stand, or refused with what to write instead."""

import pytest

from qclog.errors import RefusedError
from qclog.times import order, taken_at


@pytest.mark.parametrize("text", ["2026-03-04", "2026-03-04T10:30", "2026-03-04T10:30:15+02:00"])
def test_a_date_is_kept_as_it_was_written(text: str) -> None:
    assert taken_at(text) == text


@pytest.mark.parametrize(
    "text", ["04.03.2026", "3/4/2026", "2026-13-04", "2026-02-30", "2026-3-4", "２０２６-03-04", "2026-03"]
)
def test_what_is_no_date_or_has_two_readings_is_refused(text: str) -> None:
    with pytest.raises(RefusedError):
        taken_at(text)


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("02.03.2026", "2026-03-02 or 2026-02-03."),
        ("3/4/2026", "2026-04-03 or 2026-03-04."),
        ("25.03.2026", "2026-03-25."),
        ("3/25/2026", "2026-03-25."),
        ("05.05.2026", "2026-05-05."),
        ("2026/3/2", "2026-03-02."),
        ("45.45.2026", "2026-03-04."),
        ("02.03", "2026-03-04."),
        ("2.3.26", "2026-03-04."),
    ],
)
def test_a_date_with_two_readings_is_offered_in_both_the_day_first(text: str, offered: str) -> None:
    with pytest.raises(RefusedError) as refused:
        taken_at(text)
    assert f"year-month-day: {offered}" in str(refused.value)


def test_only_what_is_recalled_may_leave_out_the_day() -> None:
    assert taken_at("2019-05", recalled=True) == "2019-05"


def test_times_of_one_day_are_ordered_by_the_wall_clock_whatever_their_offset() -> None:
    assert order("2026-03-04") < order("2026-03-04T10:30+02:00") < order("2026-03-04T10:31Z")
