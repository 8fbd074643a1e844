"""Forecasts for what was never read just so: another distance, or an item at a place where only others were read.

A forecast is never "holds". At another distance every clamping read at two is carried on along its own line; from one
distance alone it is said only nearby, allowing for a lean. At another place the item brings what it showed elsewhere,
the place what it shows with others, and an item worked on in place also what it took out there: vectors whose
directions are not known, added up by their squares with the band that goes with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.questions.codes import Caveat, Ground
from qclog.questions.picking.read_places import Level, Read
from qclog.statistics.grips import NextGrips, grips_of_sum, grips_of_swings, grips_of_vectors
from qclog.statistics.samples import rounding_sd

LEAN_UM_PER_MM: Final = 0.136
"""Standard deviation per axis of a lean nobody measured, as swing: 95 % lean no more than a film of 5 µm on one side of
a 30 mm seat does, 0.33 µm on every mm (common practice)."""
NEARBY_TENTHS: Final = 100
"""From one distance nothing is said farther off than 10 mm."""
FAR_WEIGHT: Final = 2.0
"""Beyond this weight of the nearer distance a line through two of them is carried too far to be trusted blindly."""
_FEWEST_IN_COMMON: Final = 2


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A forecast and what it rests on: the series read, the levels of others, and what limits it."""

    ground: Ground
    grips: NextGrips
    reads: tuple[Read, ...]
    others: tuple[Level, ...]
    caveats: tuple[Caveat, ...]


def at_distance(reads: Sequence[Read], distance_tenths: int) -> Foreseen | None:
    """From what was read of one item at one place, on one diameter, at other distances; None where nothing is said."""
    pairs = [
        (near, far)
        for i, near in enumerate(reads)
        for far in reads[i + 1 :]
        if np.intersect1d(near.clamping, far.clamping).size >= _FEWEST_IN_COMMON
    ]
    if pairs:
        near, far = min(pairs, key=lambda pair: sum(abs(weight) for weight in _weights(pair, distance_tenths)))
        return _along_the_line(near, far, distance_tenths)
    if not reads:
        return None
    nearest = min(reads, key=lambda read: abs(read.series.distance_tenths - distance_tenths))
    apart = abs(nearest.series.distance_tenths - distance_tenths)
    return _leaning(nearest, apart / 10) if apart <= NEARBY_TENTHS else None


def at_other_place(own: Read, there: Sequence[Level], where_married: Sequence[Level] | None) -> Foreseen | None:
    """From the item elsewhere and from others at the place wanted, at one distance.

    ``where_married``: others where it was read, if it was worked on in place there, which shows what it took out;
    None if it was not. None where one of these is not known.
    """
    if not there or where_married == []:
        return None
    others = [*there, *(where_married or ())]
    sizes = [[level.mean_um for level in some] for some in (there, where_married or ()) if some]
    try:
        grips = grips_of_sum([own.mean_um, *sizes], own.swings, own.sitting, step_um=own.step_um)
    except NotAnswerableError:
        return None
    caveats = (Caveat.DIRECTIONS_UNKNOWN, *_of_one_sitting(own))
    return Foreseen(Ground.OTHER_PLACE, grips, (own,), tuple(others), caveats)


def _weights(pair: tuple[Read, Read], distance_tenths: int) -> tuple[float, float]:
    """w1 and w2 of e(z) = w1 e1 + w2 e2."""
    near, far = (read.series.distance_tenths for read in pair)
    second = (distance_tenths - near) / (far - near)
    return 1.0 - second, second


def _along_the_line(near: Read, far: Read, distance_tenths: int) -> Foreseen | None:
    """Each clamping read at both carried on by itself, so that it keeps what its two readings have in common.

    Without directions the two may lie any way to each other: their swings are added up, which is never too little.
    """
    first, second = _weights((near, far), distance_tenths)
    _, at_near, at_far = np.intersect1d(near.clamping, far.clamping, return_indices=True)
    step = float(np.hypot(first * near.step_um, second * far.step_um))
    sitting = near.sitting[at_near]
    caveats = list(_of_one_sitting(near))
    if max(abs(first), abs(second)) > FAR_WEIGHT:
        caveats.append(Caveat.FAR_OUT)
    e: npt.NDArray[np.complex128] = first * near.vectors[at_near] + second * far.vectors[at_far]
    try:
        if np.isfinite(e.real).all():
            grips = grips_of_vectors(e, sitting, floor_um=rounding_sd(step / 2.0))
        else:
            swings = abs(first) * near.swings[at_near] + abs(second) * far.swings[at_far]
            grips = grips_of_swings(swings, sitting, step_um=step)
            caveats.append(Caveat.AT_WORST)
    except NotAnswerableError:
        return None
    return Foreseen(Ground.TWO_DISTANCES, grips, (near, far), (), tuple(caveats))


def _leaning(read: Read, apart_mm: float) -> Foreseen | None:
    lean = LEAN_UM_PER_MM * apart_mm
    try:
        if read.directed:
            grips = grips_of_vectors(read.vectors, read.sitting, floor_um=read.floor_um, lean_um=lean / 2.0)
        else:
            grips = grips_of_sum([read.mean_um], read.swings, read.sitting, step_um=read.step_um, lean_um=lean)
    except NotAnswerableError:
        return None
    return Foreseen(Ground.ONE_DISTANCE, grips, (read,), (), (Caveat.LEAN_ALLOWED, *_of_one_sitting(read)))


def _of_one_sitting(read: Read) -> tuple[Caveat, ...]:
    return (Caveat.ONE_SITTING,) if np.unique(read.sitting).size == 1 else ()
