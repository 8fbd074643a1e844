"""Harmonics of a turn by least squares, and the highest point of the fitted curve.

Model: reading at angle t = c + sum over k of (a_k cos kt + b_k sin kt) + noise (least-squares theory; the
first harmonic of an evenly spaced turn is the limacon fit of roundness measurement, common practice).
Coefficients stand in the order c, a_1 ... a_K, b_1 ... b_K. Angles in degrees, lengths in µm.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qclog.errors import NotAnswerableError

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

GRID_POINTS = 720  # the swing of a fitted curve is the one seen on a grid of half degrees
_COARSE_STEP = 15  # grid points between two points of the first look for the highest
_REACH = _COARSE_STEP // 2 + 1
_SMALLEST_SINGULAR = 1e-8  # of the largest; below, the angles cannot tell the harmonics apart


@dataclass(frozen=True, slots=True, eq=False)
class HarmonicFit:
    """Least-squares harmonics of M turns read at the same N angles. Arrays are read-only.

    ``mean_um`` (M,); ``cosine_um`` and ``sine_um`` (K, M), row k - 1 for harmonic k; ``residual_sd_um``
    (M,) with ``residual_df`` = N - 2K - 1 degrees of freedom (0 µm where there are none);
    ``covariance`` (2K + 1, 2K + 1) of the coefficients for a residual sd of 1.
    """

    mean_um: Floats
    cosine_um: Floats
    sine_um: Floats
    residual_sd_um: Floats
    residual_df: int
    covariance: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """What a set of N angles makes of readings: ``curve`` (N, 2K + 1), ``solve`` (2K + 1, N).

    coefficients = solve @ readings, fitted curve at the angles = curve @ coefficients; ``covariance`` of the
    coefficients for a residual sd of 1.
    """

    harmonics: int
    curve: Floats
    solve: Floats
    covariance: Floats

    def eccentricity_inflation(self) -> float:
        """Worst-axis standard error of a_1 + i b_1 over sqrt(2/N), that of N evenly spaced readings."""
        axes = [1, 1 + self.harmonics]
        worst = float(np.linalg.eigvalsh(self.covariance[np.ix_(axes, axes)])[-1])
        return float(np.sqrt(worst * len(self.curve) / 2))


def fit_harmonics(readings_um: ArrayLike, angles_deg: ArrayLike, harmonics: int) -> HarmonicFit:
    """Fit so many harmonics to M turns: readings (M, N) in µm at angles (N,) in degrees.

    Raises NotAnswerableError as checked_turns does, and when the angles do not carry so many harmonics.
    """
    readings, angles = checked_turns(readings_um, angles_deg)
    found = design(tuple(angles.tolist()), harmonics) if harmonics >= 1 else None
    if found is None:
        raise NotAnswerableError(
            f"{len(angles)} readings at these angles do not carry {harmonics} harmonics.",
            f"At least {2 * harmonics + 1} well spread angles are needed.",
        )
    coefficients = found.solve @ readings.T
    residual = readings.T - found.curve @ coefficients
    df = len(angles) - 2 * harmonics - 1
    return HarmonicFit(
        mean_um=read_only(coefficients[0]),
        cosine_um=read_only(coefficients[1 : harmonics + 1]),
        sine_um=read_only(coefficients[harmonics + 1 :]),
        residual_sd_um=read_only(residual_sd(np.sum(residual**2, axis=0), df)),
        residual_df=df,
        covariance=found.covariance,
    )


def checked_turns(readings_um: ArrayLike, angles_deg: ArrayLike) -> tuple[Floats, Floats]:
    """Readings (M, N) and angles (N,) as arrays.

    Raises NotAnswerableError for shapes that do not match, fewer than three angles, an angle given twice
    (to a millionth of a degree, 0 and 360 being one), and, naming its position, what is not finite.
    """
    readings = np.asarray(readings_um, dtype=np.float64)
    angles = np.array(angles_deg, dtype=np.float64)
    if angles.ndim != 1 or readings.ndim != 2 or readings.shape[1] != len(angles):
        raise NotAnswerableError(
            f"Readings of shape {readings.shape} do not go with angles of shape {angles.shape}.",
            "Give one row a turn and one column an angle.",
        )
    if len(angles) < 3:
        raise NotAnswerableError(f"A turn needs readings at 3 angles, {len(angles)} given.", "Read more angles.")
    if not np.isfinite(angles).all():
        position = int(np.argmin(np.isfinite(angles)))
        raise NotAnswerableError(f"Angle {position + 1} of the turn is not finite.", "Give it in degrees.")
    round_once = (np.round(angles % 360, 6) % 360).tolist()
    first_at: dict[float, int] = {}
    for position, angle in enumerate(round_once):
        before = first_at.setdefault(angle, position)
        if before != position:
            raise NotAnswerableError(
                f"Readings {before + 1} and {position + 1} of the turn stand at the same angle, {angle:g} degrees.",
                "Leave one out, or take it as the value that closes the turn.",
            )
    if not np.isfinite(readings).all():
        turn, position = np.argwhere(~np.isfinite(readings))[0]
        raise NotAnswerableError(f"Reading {position + 1} of turn {turn + 1} is not finite.", "Leave the turn out.")
    return readings, angles


@lru_cache(maxsize=64)
def design(angles_deg: tuple[float, ...], harmonics: int) -> Design | None:
    """The least-squares design for these angles, or None where they do not carry the harmonics."""
    if len(angles_deg) < 2 * harmonics + 1:
        return None
    curve = np.column_stack([np.ones(len(angles_deg)), waves(np.asarray(angles_deg), harmonics).T])
    q, r = np.linalg.qr(curve)
    singular = np.linalg.svd(r, compute_uv=False)
    if singular[-1] < _SMALLEST_SINGULAR * singular[0]:
        return None
    inverse = np.linalg.inv(r)
    return Design(
        harmonics=harmonics,
        curve=read_only(curve),
        solve=read_only(inverse @ q.T),
        covariance=read_only(inverse @ inverse.T),
    )


def waves(angles_deg: Floats, harmonics: int) -> Floats:
    """cos t ... cos Kt, sin t ... sin Kt at the angles: (2K, N)."""
    phase = np.arange(1, harmonics + 1)[:, None] * np.radians(angles_deg)
    return np.vstack([np.cos(phase), np.sin(phase)])


@lru_cache(maxsize=8)
def grid_waves(harmonics: int) -> Floats:
    """cos t ... cos Kt, sin t ... sin Kt at the half degrees: (2K, 720)."""
    return read_only(waves(np.linspace(0.0, 360.0, GRID_POINTS, endpoint=False), harmonics))


@lru_cache(maxsize=8)
def _search_tables(harmonics: int) -> tuple[Floats, Floats]:
    """The waves at the coarse points (2K, coarse), and at the grid points about zero (2 reach + 1, 2K)."""
    grid = grid_waves(harmonics)
    return np.ascontiguousarray(grid[:, ::_COARSE_STEP]), grid[:, np.arange(-_REACH, _REACH + 1)].T.copy()


def highest(coefficients: Floats) -> tuple[Floats, Indices]:
    """Highest value of each curve without its mean on the grid, and its grid point; (2K, B) in, (B,) out.

    The grid's own maximum, without looking at all of it. Beside the highest grid point the curve has a peak,
    and the coarse point nearest to that peak lies below it by at most the largest curvature times half
    the square of half a coarse step. So only the surroundings of those coarse points are looked at that
    come as near as that to the highest of them.
    """
    harmonics, turns = len(coefficients) // 2, coefficients.shape[1]
    coarse_waves, waves_about_zero = _search_tables(harmonics)
    amplitude = np.sqrt(coefficients[:harmonics] ** 2 + coefficients[harmonics:] ** 2)
    curvature = np.arange(1, harmonics + 1) ** 2 @ amplitude
    slack = (1 + 1e-9) * curvature * np.radians(_COARSE_STEP * 180 / GRID_POINTS) ** 2 / 2
    coarse = coarse_waves.T @ coefficients
    point, turn = np.divmod(np.flatnonzero(coarse >= coarse.max(axis=0) - slack), turns)

    # shift each of these curves so that its coarse point stands at zero
    cosine, sine = np.split(coefficients.take(turn, axis=1), 2)
    cos_at, sin_at = np.split(coarse_waves.take(point, axis=1), 2)
    shifted = np.vstack([cosine * cos_at + sine * sin_at, sine * cos_at - cosine * sin_at])
    about = waves_about_zero @ shifted
    offset = about.argmax(axis=0)
    value = about[offset, np.arange(len(offset))]

    top = np.full(turns, -np.inf)
    np.maximum.at(top, turn, value)
    best = value == top[turn]
    place = np.empty(turns, dtype=np.intp)
    place[turn[best]] = (point[best] * _COARSE_STEP + offset[best] - _REACH) % GRID_POINTS
    return top, place


def residual_sd(squares: Floats, df: int) -> Floats:
    """Standard deviation from sums of squared residuals; 0 where there is no degree of freedom."""
    return np.sqrt(squares / df) if df else np.zeros_like(squares)


def read_only(array: NDArray[Any]) -> NDArray[Any]:
    """The same array, no longer to be written to."""
    array.setflags(write=False)
    return array
