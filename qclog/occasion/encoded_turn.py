"""A turn by hand whose stream tells where the spindle stands: enough after once round, with the high spot."""

from typing import Final

import numpy as np

from qclog.errors import NotAnswerableError
from qclog.occasion.slow_turn import MOST_READINGS, Captured, swing_text
from qclog.statistics.turn.encoded_turn import SECTORS, read_encoded_turn

_LEAST_WITHIN_DEG: Final = 2.0
"""No mark on a spindle is set truer than this by hand."""


class EncodedTurnCapture:
    """The readings of a turn with their angles; ``resolution_um``: the step they are shown in."""

    marks: Final = 0

    def __init__(self, resolution_um: float) -> None:
        self._resolution_um = resolution_um
        self._readings: list[float] = []
        self._angles: list[float] = []
        self._seen = np.zeros(SECTORS, dtype=np.bool_)

    @property
    def readings(self) -> int:
        return len(self._readings)

    @property
    def quarters(self) -> int:
        """What was seen of the turn, in quarters."""
        return int(4 * self._seen.mean())

    def add(self, reading_um: float, angle_deg: float) -> None:
        if len(self._readings) < MOST_READINGS:
            self._readings.append(reading_um)
            self._angles.append(angle_deg)
            self._seen[int(angle_deg % 360 * SECTORS / 360)] = True

    def enough(self) -> bool:
        """Whether there are readings all round."""
        return bool(self._seen.all())

    def captured(self) -> Captured:
        """The full swing and the high spot. Raises NotAnswerableError where a part of the turn was not seen."""
        fit = read_encoded_turn(self._readings, self._angles)
        swing, u = float(fit.full_swing_um[0]), float(fit.u_full_swing_um[0])
        if swing <= 0:
            raise NotAnswerableError("Nothing moved.", "Is the indicator on hold, or does it not touch?")
        within = max(_LEAST_WITHIN_DEG, 2 * float(fit.u_high_spot_deg[0]))
        text = swing_text(swing, self._resolution_um, float(fit.high_spot_deg[0]), within)
        return Captured(text or f"{swing:.1f}um", u, () if text else ("high_spot_not_known",))
