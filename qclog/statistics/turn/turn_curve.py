"""The curves behind the figures of one turn, for a picture: the whole fitted one, and its once-per-turn part alone."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qclog.statistics.turn.harmonics import Floats, checked_turns, waves
from qclog.statistics.turn.turns import harmonics_of, richest_design


@dataclass(frozen=True, slots=True, eq=False)
class TurnCurve:
    """What ``fit_turns`` fits to one turn of N readings, lengths in µm.

    ``at_deg`` (361,): every degree from 0 to 360; there ``full_um`` the curve with all harmonics, whose highest less
    lowest is the full swing, and ``once_um`` the once-per-turn part about its mean. ``left_um`` (N,): what the
    once-per-turn part leaves of each reading, lobes and noise; ``lobes_um`` (361,): what it leaves of the whole curve.
    """

    at_deg: Floats
    full_um: Floats
    once_um: Floats
    lobes_um: Floats
    left_um: Floats


def turn_curve(readings_um: ArrayLike, angles_deg: ArrayLike) -> TurnCurve:
    """The curves of one turn: readings (N,) in µm at angles (N,) in degrees.

    The same least squares as ``fit_turns``. Raises NotAnswerableError as that does.
    """
    (readings,), angles = checked_turns(np.atleast_2d(readings_um), angles_deg)
    wanted = harmonics_of(len(angles))
    full = richest_design(angles, wanted)
    first = richest_design(angles, min(wanted, 2))
    of_full, of_first = full.solve @ readings, first.solve @ readings
    once = of_first[[0, 1, 1 + first.harmonics]]
    at = np.linspace(0.0, 360.0, 361)
    full_um, once_um = of_full[0] + of_full[1:] @ waves(at, full.harmonics), once[0] + once[1:] @ waves(at, 1)
    return TurnCurve(
        at_deg=at,
        full_um=full_um,
        once_um=once_um,
        lobes_um=full_um - once_um,
        left_um=readings - once[0] - once[1:] @ waves(angles, 1),
    )
