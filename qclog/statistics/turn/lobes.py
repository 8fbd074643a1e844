"""Lobes of a turn: which are there, how large, and which would pass for run-out.

A form of k lobes is the k-th harmonic of the turn (roundness measurement, common practice). Angles in degrees,
lengths in µm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qclog.errors import NotAnswerableError
from qclog.statistics.turn.harmonics import Floats, design, fit_harmonics, read_only, waves

RISK = 0.05
"""How often lobes are called present where there are none, for each count of lobes."""
_NOTHING = 0.01  # of a lobe's amplitude: what is less of it in the readings is not seen


@dataclass(frozen=True, slots=True, eq=False)
class Lobes:
    """The lobes of M turns; arrays read-only. ``counts`` (L,): 2 to K.

    ``swing_um`` (L, M): the swing they cause by themselves, twice the amplitude; ``high_spot_deg`` (L, M): where the
    first of them is highest, from 0 to under 360/k; ``present`` (L, M): whether they stand out of the noise.
    """

    counts: tuple[int, ...]
    swing_um: Floats
    high_spot_deg: Floats
    present: NDArray[np.bool_]


def find_lobes(
    readings_um: ArrayLike, angles_deg: ArrayLike, harmonics: int, *, noise_um: ArrayLike, noise_df: ArrayLike
) -> Lobes:
    """Lobes of M turns read at the same N angles: readings (M, N) in µm, angles (N,) in degrees.

    Lobes k are present when F = h'V^-1 h / (2 s^2) exceeds F_0.95(2, df), h their two coefficients and V the
    covariance of these for a noise of 1 (linear hypothesis of least squares); for evenly spaced readings that is
    N h_k^2 / (4 s^2). ``noise_um`` s of one reading and its ``noise_df`` df, each one for all or (M,); with 0
    degrees of freedom nothing is known of the noise, and nothing is called present. Lobes beyond the harmonics fitted
    remain in the noise. Raises NotAnswerableError as fit_harmonics, and for a noise that is not above zero.
    """
    fit = fit_harmonics(readings_um, angles_deg, harmonics)
    turns = len(fit.mean_um)
    noise = np.broadcast_to(np.asarray(noise_um, dtype=np.float64), turns)
    df = np.broadcast_to(np.asarray(noise_df), turns)
    if not (noise[df > 0] > 0).all():
        raise NotAnswerableError("A noise of nothing cannot be.", "No reading is better than its step.")
    counts = tuple(range(2, harmonics + 1))
    swing, high = np.empty((2, len(counts), turns))
    present = np.zeros((len(counts), turns), dtype=np.bool_)
    for row, k in enumerate(counts):
        lobe = np.vstack([fit.cosine_um[k - 1], fit.sine_um[k - 1]])
        axes = [k, harmonics + k]
        squares = np.einsum("im,im->m", lobe, np.linalg.solve(fit.covariance[np.ix_(axes, axes)], lobe))
        present[row, df > 0] = squares[df > 0] / (2 * noise[df > 0] ** 2) > f_of_two(df[df > 0])
        swing[row] = 2 * np.hypot(*lobe)
        high[row] = np.degrees(np.arctan2(lobe[1], lobe[0])) % 360 / k
    return Lobes(counts, read_only(swing), read_only(high), read_only(present))


def f_of_two(df: ArrayLike, risk: float = RISK) -> Floats:
    """Upper quantile of F with 2 and df degrees of freedom, in closed form: df/2 (risk^(-2/df) - 1)."""
    degrees = np.asarray(df, dtype=np.float64)
    return np.asarray(degrees / 2 * (risk ** (-2 / degrees) - 1))


def aliases(angles_deg: ArrayLike, harmonics: int) -> tuple[int, ...]:
    """Counts of lobes, up to 2N + 1, that these N angles cannot tell from run-out, or not however they lie.

    Such lobes leave nothing in the residuals of the fit that gives the eccentricity, ``harmonics`` of it, and change
    the eccentricity. Of evenly spaced readings these are pN - 1 and pN + 1. Raises NotAnswerableError where the angles
    do not carry the harmonics.
    """
    angles = np.asarray(angles_deg, dtype=np.float64)
    fit = design(tuple(angles.tolist()), harmonics)
    if fit is None:
        raise NotAnswerableError("These angles show no run-out.", "Read at least 3 angles, spread over the turn.")
    most = 2 * len(angles) + 1
    wave = waves(angles, most)
    counts = []
    for k in range(2, most + 1):
        lobe = wave[[k - 1, most + k - 1]].T
        found = fit.solve @ lobe
        seen = np.linalg.svd((lobe - fit.curve @ found) / np.sqrt(len(angles)), full_matrices=False)
        unseen = seen.Vh[seen.S < _NOTHING]
        moved = found[[1, 1 + harmonics]] @ unseen.T
        if moved.size and np.abs(moved).max() > _NOTHING:
            counts.append(k)
    return tuple(counts)
