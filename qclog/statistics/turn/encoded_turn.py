"""A turn whose readings come with the angle of the spindle, in any order and at any speed: sectors, then a fit."""

import numpy as np
from numpy.typing import ArrayLike

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.turns import TurnFit, fit_turns

SECTORS = 36
"""Equal parts of a turn whose readings are averaged: a part where the hand was slow counts no more than another."""


def read_encoded_turn(readings_um: ArrayLike, angles_deg: ArrayLike) -> TurnFit:
    """The turn fitted to the mean reading of each sector at its mean angle; readings and angles (n,).

    A sector's mean flattens the once-per-turn part by 0.13 % (sin(x)/x at 5 degrees), three lobes by 1.1 %. The noise
    of the fit is that of the sector means. Raises NotAnswerableError where a sector has no reading, naming it, and for
    what is not finite.
    """
    readings, angles = np.broadcast_arrays(np.asarray(readings_um, np.float64), np.asarray(angles_deg, np.float64))
    if not (np.isfinite(readings).all() and np.isfinite(angles).all()):
        raise NotAnswerableError("A reading or an angle of the turn is not finite.", "Turn again.")
    within = angles % 360 % 360
    sector = (within * SECTORS / 360).astype(np.int64)
    count = np.bincount(sector, minlength=SECTORS)
    if not count.all():
        empty = int(np.argmin(count)) * 360 // SECTORS
        raise NotAnswerableError(
            f"There is no reading from {empty} to {empty + 360 // SECTORS} degrees.", "Turn once round, and slowly."
        )
    level = np.bincount(sector, readings) / count
    at = np.bincount(sector, within) / count
    return fit_turns([level], at)
