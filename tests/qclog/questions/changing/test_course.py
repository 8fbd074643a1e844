"""The course of a place holds what a picture of it needs, and agrees with what wear says of it."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from qclog.questions.changing.course import Course, courses
from qclog.questions.wear import wear
from qclog.statistics.changing.crossing import tolerance_band
from qclog.statistics.changing.trend import line_through_sittings

_KEYS = ("item", "setup", "position", "clocking", "distance_mm", "diameter_mm", "characteristic")
DAYS = tuple(f"2026-0{month}-10" for month in range(1, 8))


def _place(one: object) -> tuple[Any, ...]:
    return tuple(getattr(one, key) for key in _KEYS)


@pytest.fixture
def rising(shop: Any) -> Callable[[], list[Course]]:
    def logged() -> list[Course]:
        for i, day in enumerate(DAYS):
            shop.log((4.0 + 0.5 * i, 4.4 + 0.5 * i), days=(day,))
        return courses(shop.store, ["C-046"])

    return logged


def test_a_course_stands_for_every_answer_of_wear(shop: Any, rising: Callable[[], list[Course]]) -> None:
    rising()
    shop.log((9.0,), "C-047", days=DAYS[:1])
    assert [_place(one) for one in courses(shop.store)] == [_place(one) for one in wear(shop.store)]


def test_the_band_is_that_of_the_line_through_the_sittings_as_far_as_the_next_check(
    rising: Callable[[], list[Course]],
) -> None:
    (course,) = rising()
    x, swings = np.array(course.swings).T
    assert len(course.sittings) == len(DAYS)
    line = line_through_sittings(x, swings, x, resolution_um=0.1)
    at, level, upper = np.array(course.band).T
    assert at[0] == x.min()
    assert at[-1] == pytest.approx(x.max() + np.ptp(x) / (len(DAYS) - 1))
    assert level == pytest.approx(line.at(at))
    assert upper == pytest.approx(tolerance_band(line, at, 0.95), rel=1e-3)


def test_below_five_sittings_there_is_no_band(shop: Any) -> None:
    shop.log((4.0, 4.2), days=DAYS[:4])
    (course,) = courses(shop.store, ["C-046"])
    assert course.band == ()
    assert course.step is None


def test_a_step_says_where_it_lies_and_what_the_level_was(shop: Any) -> None:
    days = tuple(f"2026-{month:02d}-10" for month in range(1, 13))
    for i, day in enumerate(days):
        shop.log((4.0 + 0.1 * (i % 3) + 6.0 * (i >= 6),), days=(day,))
    (course,) = courses(shop.store, ["C-046"])
    assert course.step is not None
    assert (course.step.after_x, course.step.before_x) == (course.sittings[5][0], course.sittings[6][0])
    assert course.step.before_um == pytest.approx(4.1)
    assert course.step.after_um == pytest.approx(10.1)
