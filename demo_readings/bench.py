"""How the invented workshop's clampings read: a fixed run-out, moved a little by every day and every clamping.

Each item's dice are thrown from its own code, so that a story may be changed without changing the others. Only
``random()`` is used, the one generator whose numbers Python promises to keep.
"""

import cmath
import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, NamedTuple

from qclog.lengths import parse_length

UM: Final = parse_length("1um", bare=None).picometres
MM: Final = parse_length("1mm", bare=None).picometres


class Gauge(NamedTuple):
    """An indicator as it is read: the step it is read to, in µm, and how a reading is typed."""

    code: str
    step_um: float
    typed: str
    lever_mdeg: int | None = None


LEVER: Final = Gauge("L-1", 1.0, "{um:.0f}", 12_000)
SLANTED: Final = Gauge("L-1", 1.0, "{um:.0f}", 25_000)
STEEP: Final = Gauge("L-1", 1.0, "{um:.0f}", 40_000)
ELECTRONIC: Final = Gauge("E-1", 0.2, "{um:.1f}")
FINE: Final = Gauge("E-2", 0.2, "{um:.1f}")
DIAL: Final = Gauge("D-1", 2.0, "{um:.0f}um")
INCH: Final = Gauge("I-1", 2.54, ".{tenths:04.0f}in")
NOT_NAMED: Final = Gauge("", 1.0, "{um:.0f}")


@dataclass(frozen=True, slots=True)
class Runs:
    """How an item runs at a place: its run-out as full swing (µm) with the angle of the high spot, and what a day
    and a clamping move it by (standard deviation per axis, as full swing in µm)."""

    um: float
    high_deg: float = 40.0
    day_um: float = 0.4
    clamping_um: float = 0.6


class Bench:
    """Reads what an item shows, always the same for the same name."""

    def __init__(self, name: str) -> None:
        self._random = random.Random(name)

    def clampings(self, runs: Runs, count: int) -> list[complex]:
        """The run-outs of one sitting: full swing, and where the high spot stands."""
        centre = cmath.rect(runs.um, math.radians(runs.high_deg)) + self._moved(runs.day_um)
        return [centre + self._moved(runs.clamping_um) for _ in range(count)]

    def swings(self, runs: Runs, count: int, gauge: Gauge) -> tuple[str, ...]:
        """The swings of one sitting as typed."""
        return tuple(_typed(max(abs(one) + self._noise(0.3), 0.0), gauge) for one in self.clampings(runs, count))

    def turns(
        self, runs: Runs, count: int, angles: Sequence[int], gauge: Gauge, lobes_um: float = 0.0
    ) -> tuple[str, ...]:
        """Whole turns of one sitting, zeroed at their first reading. ``lobes_um``: swing of a three-lobed pin."""
        turns = []
        for one in self.clampings(runs, count):
            lobes_at = self._random.random() * math.tau
            values = [
                abs(one) / 2 * math.cos(math.radians(angle) - cmath.phase(one))
                + lobes_um / 2 * math.cos(3 * math.radians(angle) + lobes_at)
                + self._noise(0.15)
                for angle in angles
            ]
            turns.append(" ".join(_typed(value - values[0], gauge) for value in values))
        return tuple(turns)

    def _moved(self, sd: float) -> complex:
        return complex(self._noise(sd), self._noise(sd))

    def _noise(self, sd: float) -> float:
        return NormalDist().inv_cdf(self._random.random()) * sd


def dice(name: str) -> Callable[[float, float], float]:
    """Normal throws, always the same for the same name: middle and standard deviation."""
    thrown = random.Random(name)
    return lambda middle, sd: middle + sd * NormalDist().inv_cdf(thrown.random())


def _typed(um: float, gauge: Gauge) -> str:
    steps = round(um / gauge.step_um)
    return gauge.typed.format(um=steps * gauge.step_um, tenths=steps)
