"""How the run-out at a place went over time, for a picture of it: clampings, sittings, the line and its band."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qclog.logbook.engine import Store
from qclog.logbook.lookup import Register
from qclog.questions.changing.changes import Changes, changes_of
from qclog.questions.changing.histories import History, by_sitting, read_histories
from qclog.questions.known import Known
from qclog.questions.places import AtPlace, place_of
from qclog.statistics.changing.crossing import CONFIDENCE, tolerance_band
from qclog.statistics.changing.step import Step as Likeliest

_BAND_POINTS = 41


@dataclass(frozen=True, slots=True)
class Step:
    """Between which places on the axis a step lies, and the level before and after it."""

    after_x: float
    before_x: float
    before_um: float
    after_um: float


@dataclass(frozen=True, slots=True)
class Course(AtPlace):
    """One place, named as in wear's answers. Places on the axis are days (proleptic Gregorian ordinals) where
    ``axis`` is "date", else clampings in work since the last modification; swings in µm.

    ``swings``: (x, swing) of each clamping, ``clampings`` their ids; ``sittings``: (x, mean) of each sitting; ``band``:
    (x, level, upper) of the line through the sittings and what 95 % of the clampings stay below with 95 % confidence,
    as far as the next check, which is as far on as those so far lie apart; empty below five sittings or on one day.
    """

    modification: int
    axis: str
    swings: tuple[tuple[float, float], ...]
    clampings: tuple[int, ...]
    sittings: tuple[tuple[float, float], ...]
    band: tuple[tuple[float, float, float], ...]
    step: Step | None


def courses(store: Store, codes: Sequence[str] = ()) -> list[Course]:
    """The courses of the items named, or of all, as they are now. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        histories = read_histories(Known(connection, items)).histories
        together = zip(histories, by_sitting(histories), changes_of(histories), strict=True)
        return [_course(history, points, changes) for history, points, changes in together]


def _course(history: History, points: History, changes: Changes) -> Course:
    return Course(
        **place_of(history.series)._asdict(),
        modification=history.series.modification,
        axis=history.axis,
        swings=tuple(zip(history.x.tolist(), history.swings.tolist(), strict=True)),
        clampings=tuple(history.clamping.tolist()),
        sittings=tuple(zip(points.x.tolist(), points.swings.tolist(), strict=True)),
        band=_band(points, changes),
        step=_step(points, changes.step),
    )


def _band(points: History, changes: Changes) -> tuple[tuple[float, float, float], ...]:
    if changes.line is None:
        return ()
    x = np.linspace(float(points.x.min()), changes.next_check, _BAND_POINTS)
    level, upper = np.maximum(changes.line.at(x), 0.0), tolerance_band(changes.line, x, CONFIDENCE)
    return tuple(zip(x.tolist(), level.tolist(), upper.tolist(), strict=True))


def _step(points: History, step: Likeliest | None) -> Step | None:
    if step is None or not step.proven:
        return None
    before, after = points.swings[: step.before], points.swings[step.before :]
    return Step(
        after_x=float(points.x[step.before - 1]),
        before_x=float(points.x[step.before]),
        before_um=float(before.mean()),
        after_um=float(after.mean()),
    )
