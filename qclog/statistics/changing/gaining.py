"""What a modification gained: what was read before it against what was read since, which is of other days by nature.

Each side speaks through the means of its sittings where it has two or more, since what differs from day to day must
not be taken for a gain; with a single sitting through its clampings, which say nothing of other days (``one_sitting``).
Welch's t on both (JCGM 100:2008, G.4.1, for the degrees of freedom).

Simulated coverage of the 95 % interval (own simulation, sittings of five clampings, scattering 0 to 2 times as much as
the clampings within them, Rice-distributed swings): 0.96-0.98 with two sittings against two, 0.92-0.95 with two against
four, 0.95-0.97 with four against four. With ``one_sitting`` it covers as much only where sittings do not differ,
0.6-0.8 where they scatter as much as the clampings, down to 0.4 at twice as much: its words must say so.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qclog.errors import NotAnswerableError
from qclog.statistics.bounding.factors import Floats
from qclog.statistics.comparing.swings import CONFIDENCE, FEWEST_EACH, sums_of, welch
from qclog.statistics.samples import checked, checked_swings, rounding_sd


@dataclass(frozen=True, slots=True)
class Gain:
    """Means before and since, µm, of the means of sittings; ``gain_um`` is their difference, above 0 where it now runs
    truer, or a plain value is less. ``low_um`` to ``high_um``: its interval at this confidence, None where a side has
    neither two sittings nor three clampings. ``one_sitting``: a side has one sitting only, so that the interval knows
    nothing of other days."""

    before_um: float
    since_um: float
    gain_um: float
    low_um: float | None
    high_um: float | None
    confidence: float
    one_sitting: bool


def gain(
    before_um: npt.ArrayLike,
    before_sitting: npt.ArrayLike,
    since_um: npt.ArrayLike,
    since_sitting: npt.ArrayLike,
    *,
    resolution_um: float,
    swings: bool = True,
) -> Gain:
    """What was read before (n,) and since (m,) to a step of resolution_um, with a sitting label each; swings, or plain
    values.

    Raises NotAnswerableError for what is not finite, for a swing that is negative, for none at all, and for labels of
    another number.
    """
    means, witnesses, single = [], [], False
    for read, labels in ((before_um, before_sitting), (since_um, since_sitting)):
        values, sitting = checked_swings(read, 1) if swings else checked(read, 1), np.asarray(labels)
        if values.shape != sitting.shape:
            what = "swing" if swings else "value"
            raise NotAnswerableError(
                f"{values.size} {what}s do not go with {sitting.size} sittings.", f"Give one label a {what}."
            )
        of_sittings = _means(values, sitting)
        means.append(float(of_sittings.mean()))
        single |= of_sittings.size == 1
        witnesses.append(of_sittings if of_sittings.size > 1 else values if values.size >= FEWEST_EACH else None)
    low = high = None
    before, since = witnesses
    if before is not None and since is not None:
        floor = rounding_sd(resolution_um)
        ends = welch(sums_of(since, floor), sums_of(before, floor)).interval(CONFIDENCE)
        low, high = float(ends[0]), float(ends[1])
    return Gain(means[0], means[1], means[0] - means[1], low, high, CONFIDENCE, single)


def _means(values: Floats, sitting: npt.NDArray[np.generic]) -> Floats:
    _, cell = np.unique(sitting, return_inverse=True)
    return np.asarray(np.bincount(cell, values) / np.bincount(cell))
