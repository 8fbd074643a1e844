"""What two distances tell of a third: an axis that is offset and tilted runs out linearly along its length.

e(z) = w1 e1 + w2 e2, w2 = (z - z1)/(z2 - z1), w1 = 1 - w2, for every clamping by itself: the scatter at z then carries
the correlation of the scatter at both, variance w1² s1² + w2² s2² + 2 w1 w2 rho s1 s2. Distances in mm, vectors in µm.
"""

import numpy as np
import numpy.typing as npt

Vectors = npt.NDArray[np.complex128]

FARTHEST_WEIGHT = 2.0
"""Beyond this weight of the nearer distance small errors of tilt grow large."""


def weights(near_mm: float, far_mm: float, at_mm: float) -> tuple[float, float]:
    """Of the vectors at both distances."""
    second = (at_mm - near_mm) / (far_mm - near_mm)
    return 1.0 - second, second


def at_overhang(near: npt.ArrayLike, far: npt.ArrayLike, near_mm: float, far_mm: float, at_mm: float) -> Vectors:
    """Vectors (n,), complex, of clampings at a distance, from those at two others."""
    first, second = weights(near_mm, far_mm, at_mm)
    return np.asarray(first * np.asarray(near) + second * np.asarray(far), dtype=np.complex128)


def tilt_per_100(near: npt.ArrayLike, far: npt.ArrayLike, near_mm: float, far_mm: float) -> Vectors:
    """How much vectors (n,) change every 100 mm farther out."""
    return np.asarray(100.0 * (np.asarray(far) - np.asarray(near)) / (far_mm - near_mm), dtype=np.complex128)


def correlation(near_left: Vectors, far_left: Vectors) -> float | None:
    """Of the scatter at two distances, Re sum r1 conj(r2) / sqrt(sum |r1|² sum |r2|²), from what fits leave; None where
    one of them leaves nothing."""
    size = float(np.linalg.norm(near_left) * np.linalg.norm(far_left))
    return float(np.real(np.vdot(near_left, far_left))) / size if size > 1e-9 else None
