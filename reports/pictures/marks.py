"""Clampings as the dots of a picture, each leading to its readings."""

from collections.abc import Callable, Sequence

from qclog.questions.changing.course import Course
from qclog.questions.dossier import Place, Point
from reports.anchors import row_of
from reports.numbers import micrometres
from reports.pictures.canvas import Dot


def _um(swing_um: float) -> str:
    return micrometres(swing_um, step_um=0.1)


def of_points(
    place: Place,
    points: Sequence[Point],
    xs: Sequence[float],
    ys: Sequence[float],
    say: Callable[[float], str] = _um,
) -> list[Dot]:
    """Clampings at a place, where they stand in a picture; ``say``: how what was read is said."""
    return [
        Dot(x, y, row_of(point.clamping, place.distance_mm, place.characteristic), _told(point, say))
        for point, x, y in zip(points, xs, ys, strict=True)
    ]


def of_course(course: Course) -> list[Dot]:
    """The clampings of a course, on its axis."""
    return [
        Dot(x, swing, row_of(clamping, course.distance_mm, course.characteristic), f"clamping {clamping}, {_um(swing)}")
        for clamping, (x, swing) in zip(course.clampings, course.swings, strict=True)
    ]


def _told(point: Point, say: Callable[[float], str]) -> str:
    return f"clamping {point.clamping}, {point.taken_at[:10]}, {say(point.value_um)}"
