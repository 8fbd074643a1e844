"""The swing of a spindle turned slowly by hand, read at a steady rate without angles.

The raw highest less lowest reads high by the noise. So the high and low spots are found where the smoothed record
turns, each is given the level of a parabola through the readings about it, and the swing is the mean step from one
to the next: drift cancels between neighbours. Smoothing by a running quadratic: Savitzky and Golay 1964, Analytical
Chemistry 36 (from memory); the rules for turning points and for a full turn are own work. Lengths in µm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qclog.errors import NotAnswerableError
from qclog.statistics.samples import checked, rounding_sd
from qclog.statistics.turn.harmonics import Floats, Indices, read_only

FEWEST_READINGS = 40
FEWEST_TURNING_POINTS = 2
UNEVEN = 1.5
"""Longest half turn over shortest, from which on a hand is called uneven."""

_NARROWEST, _WINDOWS = 7, 25  # the smoothing window is a 25th of the record, at least 7 readings
_BACK_OF_RANGE, _BACK_OF_NOISE = 0.25, 6.0  # how far the record has to come back from a turning point
_OFF_THE_START = 4.0  # sd of the smoothed record between the start and the first turning point
_ZONE = 0.4  # of half the width at mid level: some 36 degrees either side of a turning point
_LEVELS_APART = 0.15  # of the swing


@dataclass(frozen=True, slots=True, eq=False)
class SlowTurn:
    """What n readings of a slow turn show; arrays (P,) hold one value a turning point and are read-only.

    ``swing_um``: mean step from one of ``level_um`` to the next, ``half_turns`` = P - 1 of them. ``turning_at``:
    the readings, from 0, at which the smoothed record turns; ``is_high``: which are high spots. Below 40
    readings or two turning points the swing is the raw one, ``u_swing_um`` infinite and the arrays empty.
    ``read_swing_um``: highest less lowest reading. ``noise_sd_um``: of one reading, from second differences,
    not below that of rounding to the resolution.
    ``complete``: three turning points, or two and then on past the level of the start.
    ``caveats``: "less_than_a_turn" (no full turn made out, the swing is a lower limit; from two turning points on
    only lobes can be missing), "unverified" (the raw swing), "no_movement" (all readings equal), "uneven_hand"
    (the longest half turn took over 1.5 times the shortest: the hand, or lobes), "levels_differ" (the high or
    the low spots differ by over 0.15 of the swing: the stand drifts or was moved, or, and then the swing reads
    low, the hand turned back or the pin is an oval with four turning points a turn).

    Own simulation, 120 readings a turn, 1.5 to 3 turns, swing 20 to 60 times the noise, lobes to an eighth of |e|.
    Even hand: no bias, 2 u covers 0.94 or more. Speed varying by a fifth of its mean to either side: 0.91 or more;
    by half: the swing reads 1 % low at most and 2 u covers 0.74 to 0.96. At six times the noise the swing reads a
    tenth high (2 u covers 0.68). An oval of half |e| does not disturb it; of one as large as |e| it reads a
    fifth low. "Complete" is said of at most 0.02 of records of 0.9 of a turn or less (0.06 of an oval of half |e|),
    of 0.7 to 1.0 of those of 1.3 turns, of 0.96 or more of those of 1.5.

    A hand that turns back makes a high or low spot where the pin has none. On a true spot that does no harm; elsewhere
    the swing reads low, by a sixth on average in 1.5 turns, and only 2 in 10 such records show it: turn one way.
    """

    n: int
    swing_um: float
    u_swing_um: float
    noise_sd_um: float
    read_swing_um: float
    turning_at: Indices
    level_um: Floats
    is_high: NDArray[np.bool_]
    half_turns: int
    complete: bool
    caveats: tuple[str, ...]


def read_slow_turn(readings_um: ArrayLike, *, resolution_um: float) -> SlowTurn:
    """The swing of readings (n,), taken at a steady rate while the spindle was turned one way by hand.

    Raises NotAnswerableError for a reading that is not finite, naming its position, for none at all, and for a
    resolution that is not above 0.
    """
    readings = checked(readings_um, 1, "reading")
    if not 0 < resolution_um < np.inf:
        raise NotAnswerableError(f"A resolution of {resolution_um:g} µm is none.", "Give the step that was read.")
    noise = _noise_sd(readings, resolution_um)
    if readings.size < FEWEST_READINGS:
        return _unverified(readings, noise)
    window = max(_NARROWEST, readings.size // _WINDOWS) // 2 * 2 + 1
    smooth, lost = _running_quadratic(readings, window), window // 2
    smooth_sd = 1.5 * noise / np.sqrt(window)  # the middle of a quadratic over w readings: s sqrt(9/4w)
    start = float(np.median(readings[:window]))
    spread = float(np.subtract(*np.quantile(smooth, [0.99, 0.01])))
    turning = _turning_points(smooth, max(_BACK_OF_RANGE * spread, _BACK_OF_NOISE * smooth_sd))
    if turning.size and (turning[0] == 0 or abs(smooth[turning[0]] - start) < _OFF_THE_START * smooth_sd):
        turning = turning[1:]  # no more than where the record began
    if turning.size < FEWEST_TURNING_POINTS:
        return _unverified(readings, noise)

    sign = np.where(np.arange(turning.size) % 2, -1, 1) * (1 if smooth[turning[0]] > smooth[turning[1]] else -1)
    zones = [readings[zone] for zone in _zones(smooth, turning, sign, lost)]
    level = np.array([_level(zone, int(which)) for zone, which in zip(zones, sign, strict=True)])
    steps = np.abs(np.diff(level))
    swing = float(steps.mean())
    u_swing = _u_mean_step(steps, noise * float(np.sqrt(2.25 / np.mean([zone.size for zone in zones]))))
    after = sign[0] * (smooth[turning[-1] :] - start)
    complete = turning.size > FEWEST_TURNING_POINTS or bool((after > smooth_sd).any())
    lengths = np.diff(turning)
    apart = max(np.ptp(level[sign > 0]), np.ptp(level[sign < 0]))
    holds = {
        "less_than_a_turn": not complete,
        "uneven_hand": lengths.max() > UNEVEN * lengths.min(),
        "levels_differ": apart > _LEVELS_APART * swing,
    }
    return SlowTurn(
        n=readings.size,
        swing_um=swing,
        u_swing_um=u_swing,
        noise_sd_um=noise,
        read_swing_um=float(np.ptp(readings)),
        turning_at=read_only(turning + lost),
        level_um=read_only(level),
        is_high=read_only(sign > 0),
        half_turns=lengths.size,
        complete=complete,
        caveats=tuple(code for code, applies in holds.items() if applies),
    )


def _unverified(readings: Floats, noise: float) -> SlowTurn:
    """The raw highest less lowest."""
    swing = float(np.ptp(readings))
    return SlowTurn(
        n=readings.size,
        swing_um=swing,
        u_swing_um=np.inf,
        noise_sd_um=noise,
        read_swing_um=swing,
        turning_at=read_only(np.empty(0, dtype=np.intp)),
        level_um=read_only(np.empty(0)),
        is_high=read_only(np.empty(0, dtype=np.bool_)),
        half_turns=0,
        complete=False,
        caveats=("less_than_a_turn", "unverified") + (("no_movement",) if swing == 0 else ()),
    )


def _noise_sd(readings: Floats, resolution_um: float) -> float:
    """From second differences (sd sqrt(6) s): by their median, or where most are equal by their mean square."""
    floor = float(rounding_sd(resolution_um))
    if readings.size < 3:
        return floor
    second = np.diff(readings, 2)
    sd = 1.4826 * float(np.median(np.abs(second - np.median(second)))) / np.sqrt(6)
    return max(float(sd or np.sqrt(np.mean(second**2) / 6)), floor)


def _running_quadratic(readings: Floats, window: int) -> Floats:
    """The middle of a least-squares quadratic over each window; what the ends lack of one is left out."""
    at = np.arange(window) - window // 2
    weights = np.linalg.pinv(np.vander(at / window, 3))[2]
    return np.convolve(readings, weights, mode="valid")


def _turning_points(smooth: Floats, back: float) -> Indices:
    """Where the record turns, highs and lows in alternation; each counts once it has come back by ``back``."""
    found: list[int] = []
    high = low = 0
    rising = falling = True  # which way the record may be going: not known at first
    values = smooth.tolist()
    for at, value in enumerate(values):
        if value > values[high]:
            high = at
        if value < values[low]:
            low = at
        if rising and values[high] - value >= back:
            found.append(high)
            rising, falling, low = False, True, at
        elif falling and value - values[low] >= back:
            found.append(low)
            rising, falling, high = True, False, at
    return np.array(found, dtype=np.intp)


def _zones(smooth: Floats, turning: Indices, sign: Indices, lost: int) -> list[slice]:
    """The readings about each turning point: 0.4 half widths to either side of the middle at mid level.

    The width at mid level is that between the crossings on either side. Where there is one only, at an end of the
    record, or the hand rested on one side for so long that the zone would miss the turning point, that is the middle
    and the nearer crossing gives the half width.
    """
    mid = (smooth[turning[sign > 0]].mean() + smooth[turning[sign < 0]].mean()) / 2
    above = smooth > mid
    before = np.flatnonzero(above[1:] != above[:-1])
    crossing = before + (mid - smooth[before]) / (smooth[before + 1] - smooth[before])
    zones = []
    for at, place in zip(turning.tolist(), np.searchsorted(crossing, turning).tolist(), strict=True):
        to_left = at - crossing[place - 1] if place else np.inf
        to_right = crossing[place] - at if place < crossing.size else np.inf
        near, far = min(to_left, to_right), max(to_left, to_right)
        if near * (1 + _ZONE) < far * (1 - _ZONE):  # the turning point would lie outside
            middle, half = float(at), near
        else:
            middle, half = at + (to_right - to_left) / 2, (near + far) / 2
        reach = max(_ZONE * half, 1.5)  # three readings at least
        zones.append(slice(max(0, int(np.ceil(middle - reach)) + lost), int(np.floor(middle + reach)) + lost + 1))
    return zones


def _level(zone: Floats, sign: int) -> float:
    """Value at the vertex of a parabola; where that lies outside, the mean of the half farthest out."""
    at = np.arange(zone.size) - (zone.size - 1) / 2
    curve, slope, middle = np.polyfit(at, sign * zone, 2)
    if curve < 0 and abs(slope) <= -2 * curve * at[-1]:
        return float(sign * (middle - slope**2 / (4 * curve)))
    return float(sign * np.sort(sign * zone)[zone.size // 2 :].mean())


def _u_mean_step(steps: Floats, level_sd: float) -> float:
    """Standard uncertainty of the mean of m steps, from the noise of a level or, if larger, from their scatter.

    Two neighbouring steps share a level, so that with independent levels of variance v the mean has the variance
    v(4m - 2)/m², and the sample variance of the steps is 2v(1 - 1/m) on average.
    """
    m = steps.size
    by_noise = level_sd * np.sqrt(4 * m - 2) / m
    by_scatter = steps.std(ddof=1) * np.sqrt((2 * m - 1) / (m * (m - 1))) if m > 2 else 0.0
    return float(max(by_noise, by_scatter))
