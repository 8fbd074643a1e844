"""What a study can tell apart: the causes that were changed, and what was always changed together with what."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.read_turns import ReadTurn
from qclog.questions.codes import Cause, NotTold
from qclog.statistics.studying.components import degrees_of_freedom

_MAINS: Final = (Cause.PERSON, Cause.INDICATOR, Cause.PIN, Cause.SITTING)
_AT_PLACE: Final = {
    Cause.PIN: Cause.PIN_AT_PLACE,
    Cause.PERSON: Cause.PERSON_AT_PLACE,
    Cause.INDICATOR: Cause.INDICATOR_AT_PLACE,
    Cause.SITTING: Cause.SITTING_AT_PLACE,
}

Labels = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Missing:
    """A cause that was not told apart, why, and with which other it goes."""

    cause: Cause
    why: NotTold
    other: Cause | None


def model_of(
    turns: Sequence[ReadTurn], place: Labels, clamping: Labels
) -> tuple[dict[Cause, Labels], dict[Cause, list[Cause]], list[Missing]]:
    """The causes that can be told apart, with what was always changed together, and those that cannot."""
    changed: dict[Cause, list[Any]] = {
        Cause.PERSON: [turn.operator.casefold() for turn in turns],
        Cause.INDICATOR: [turn.instrument_id for turn in turns],
        Cause.PIN: [turn.pin_id for turn in turns],
        Cause.SITTING: [turn.sitting for turn in turns],
    }
    factors: dict[Cause, Labels] = {}
    together: dict[Cause, list[Cause]] = {}
    missing = []
    for cause in _MAINS:
        label = labels(changed[cause])
        if int(label.max()) == 0:
            why = NotTold.ONE_ONLY if changed[cause][0] else NotTold.NOT_NAMED
            missing.append(Missing(cause, why, None))
        elif alike := [other for other, known in factors.items() if _same(known, label)]:
            together.setdefault(alike[0], []).append(cause)
            missing.append(Missing(cause, NotTold.WITH_ANOTHER, alike[0]))
        elif _same(clamping, label):
            together.setdefault(Cause.CLAMPING, []).append(cause)
            missing.append(Missing(cause, NotTold.WITH_ANOTHER, Cause.CLAMPING))
        elif _same(_both(place, label), place):
            missing.append(Missing(cause, NotTold.OF_THE_PLACE, None))
        else:
            factors[cause] = label
    for cause, at_place in _AT_PLACE.items():
        if cause in factors and int(place.max()):
            label = _both(place, factors[cause])
            if not any(_same(label, known) for known in [*factors.values(), clamping]):
                factors[at_place] = label
    while factors:
        known = degrees_of_freedom(named(factors, clamping), fixed=place)
        lost = [cause for cause in factors if known[cause] == 0]
        if not lost:
            break
        if lost[-1] in _MAINS:
            missing.append(Missing(lost[-1], NotTold.WITH_ANOTHER, None))
        del factors[lost[-1]]
    return factors, together, missing


def named(factors: dict[Cause, Labels], clamping: Labels | None = None) -> dict[str, npt.ArrayLike]:
    """The factors by their names, the clampings behind them."""
    found: dict[str, npt.ArrayLike] = {cause.value: label for cause, label in factors.items()}
    return found if clamping is None else found | {Cause.CLAMPING.value: clamping}


def labels(values: Sequence[Any]) -> Labels:
    number = {value: i for i, value in enumerate(sorted(set(values)))}
    return np.array([number[value] for value in values], dtype=np.int64)


def _both(one: Labels, other: Labels) -> Labels:
    pair = one * (int(other.max()) + 1) + other
    return np.asarray(np.unique(pair, return_inverse=True)[1].reshape(-1), dtype=np.int64)


def _same(one: Labels, other: Labels) -> bool:
    """Whether two labels part the readings alike."""
    return int(_both(one, other).max()) == int(one.max()) == int(other.max())
