"""What the measuring itself adds to a swing: the budget of one TIR, and the part common to all clampings.

Names and propagation after JCGM 100:2008. A lever indicator inclined by an angle to the surface shows
too much: true movement = indicated x cos(angle) (common practice). Lengths in µm, angles in degrees.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, inf, radians, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from qclog.errors import NotAnswerableError

Floats = NDArray[np.float64]
Distribution = Literal["rectangular", "triangular", "normal", "arcsine"]

# half width over standard deviation (JCGM 100, 4.3.7, 4.3.9 and H.1.3.4); a normal one brings its own divisor
RECTANGULAR, TRIANGULAR, ARCSINE = sqrt(3.0), sqrt(6.0), sqrt(2.0)

UNKNOWN_LEVER_SHARE = 0.035
"""Standard uncertainty of a swing from a lever angle nobody noted, up to 20 degrees: 6 %, rectangular."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of a budget: a half width or a standard deviation, and how it acts on the result.

    ``value`` over ``divisor`` is the standard uncertainty of the input, ``sensitivity`` its effect in µm
    a unit of the input, ``df`` its degrees of freedom.
    """

    name: str
    value: float
    distribution: Distribution
    divisor: float
    sensitivity: float = 1.0
    df: float = inf

    @property
    def u(self) -> float:
        """Standard uncertainty it brings to the result, in µm."""
        return abs(self.sensitivity) * self.value / self.divisor


@dataclass(frozen=True, slots=True)
class Budget:
    """Contributions and their sum: combined standard and expanded uncertainty (95 %), degrees of freedom."""

    contributions: tuple[Contribution, ...]
    u_um: float
    df: float
    coverage_factor: float
    expanded_um: float


def combine(contributions: Sequence[Contribution]) -> Budget:
    """Root sum of squares, degrees of freedom after Welch and Satterthwaite (JCGM 100, G.4.1).

    Raises NotAnswerableError, naming the line, for a figure that is not finite or below zero.
    """
    for line in contributions:
        if not (0 <= line.value < inf and 0 < line.divisor < inf and abs(line.sensitivity) < inf and line.df > 0):
            raise NotAnswerableError(
                f"The budget line '{line.name}' has a figure that is negative or not finite.",
                "Give 0 for what does not apply.",
            )
    variance = sum(line.u**2 for line in contributions)
    uncertain = sum(line.u**4 / line.df for line in contributions)
    df = variance**2 / uncertain if uncertain > 0 else inf
    factor = coverage_factor(df)
    return Budget(tuple(contributions), sqrt(variance), df, factor, factor * sqrt(variance))


def coverage_factor(df: float) -> float:
    """Factor of the expanded uncertainty: the 0.975 point of t (JCGM 100, table G.2), but never below 2."""
    if df > 61:  # where the point of t falls below 2
        return 2.0
    from scipy.special import stdtrit

    return max(2.0, float(stdtrit(df, 0.975)))


def corrected_tir(indicated_um: float, lever_angle_deg: float) -> float:
    """The swing behind an indicated one, for a lever inclined by the angle to the surface."""
    return indicated_um * cos(radians(lever_angle_deg))


def tir_budget(
    indicated_um: float,
    *,
    step_um: float,
    error_limit_um: float | None = None,
    calibration_expanded_um: float | None = None,
    calibration_factor: float = 2.0,
    lever_angle_deg: float = 0.0,
    lever_angle_within_deg: float = 0.0,
    repeat_sd_um: float = 0.0,
    repeat_df: float = inf,
    repeats: int = 1,
    roundness_um: float = 0.0,
    axial_within_mm: float = 0.0,
    swing_per_mm_um: float = 0.0,
    drift_um: float = 0.0,
    spindle_um: float = 0.0,
) -> Budget:
    """Budget of one swing corrected for the lever angle; corrected_tir gives the swing itself.

    The indicator by its error limit over the range used (rectangular) or by its calibration (expanded
    uncertainty and factor, JCGM 100, 4.3.3), one of the two. ``step_um``: resolution, of two readings.
    ``repeat_sd_um``: of a reading of the same clamping, of which ``repeats`` are averaged.
    ``roundness_um``: RONt of the test pin. ``axial_within_mm``, ``swing_per_mm_um``: where along the pin, and
    how the swing changes there. ``drift_um``: half width over a turn. ``spindle_um``: standard deviation
    of the spindle's own error motion, where the clamping alone is meant.
    Raises NotAnswerableError for figures that are negative or not finite, and for an indicator without error.
    """
    cosine = cos(radians(lever_angle_deg))
    lever = float(_lever_slope(indicated_um, lever_angle_deg, lever_angle_within_deg))
    error, divisor = _indicator(error_limit_um, calibration_expanded_um, calibration_factor)
    kind: Distribution = "normal" if error_limit_um is None else "rectangular"
    return combine(
        (
            Contribution("indicator", float(error), kind, float(divisor), cosine),
            Contribution("resolution", step_um, "triangular", TRIANGULAR, cosine),
            Contribution("lever angle", radians(lever_angle_within_deg), "rectangular", RECTANGULAR, -lever),
            Contribution("repeatability", repeat_sd_um, "normal", sqrt(repeats), cosine, repeat_df),
            Contribution("roundness", roundness_um, "rectangular", RECTANGULAR),
            Contribution("axial position", axial_within_mm, "rectangular", RECTANGULAR, swing_per_mm_um),
            Contribution("drift", drift_um, "rectangular", RECTANGULAR),
            Contribution("spindle", spindle_um, "normal", 1.0),
        )
    )


def common_budget(
    *,
    mean_tir_um: float,
    error_limit_um: float | None = None,
    calibration_expanded_um: float | None = None,
    calibration_factor: float = 2.0,
    lever_angle_deg: float = 0.0,
    lever_angle_within_deg: float = 0.0,
    unknown_lever: bool = False,
    roundness_um: float = 0.0,
) -> Budget:
    """The lines behind ``common_u`` for one instrument, or behind ``default_indicator_u`` and a pin.

    Lines: "indicator", "lever angle" (in degrees; or "unknown lever angle", as a share of the swing, where
    ``unknown_lever``), "roundness". Arguments and what is refused as in ``tir_budget``.
    """
    cosine = cos(radians(lever_angle_deg))
    error, divisor = _indicator(error_limit_um, calibration_expanded_um, calibration_factor)
    kind: Distribution = "normal" if error_limit_um is None else "rectangular"
    slope = float(_lever_slope(mean_tir_um, lever_angle_deg, lever_angle_within_deg)) * radians(1.0)
    lever = Contribution("lever angle", lever_angle_within_deg, "rectangular", RECTANGULAR, -slope)
    if unknown_lever:
        half_width = UNKNOWN_LEVER_SHARE * RECTANGULAR
        lever = Contribution("unknown lever angle", half_width, "rectangular", RECTANGULAR, mean_tir_um)
    return combine(
        (
            Contribution("indicator", float(error), kind, float(divisor), cosine),
            lever,
            Contribution("roundness", roundness_um, "rectangular", RECTANGULAR),
        )
    )


def common_u(
    *,
    mean_tir_um: ArrayLike,
    error_limit_um: ArrayLike | None = None,
    calibration_expanded_um: ArrayLike | None = None,
    calibration_factor: ArrayLike = 2.0,
    lever_angle_deg: ArrayLike = 0.0,
    lever_angle_within_deg: ArrayLike = 0.0,
    roundness_um: ArrayLike = 0.0,
) -> Floats:
    """Standard uncertainty common to all clampings read with a known instrument; arrays broadcast.

    Indicator error, lever angle and test pin do not average out over clampings; the noise of a reading is
    already in their scatter. ``mean_tir_um`` is the mean indicated swing; the rest and what is
    refused as in tir_budget.
    """
    error, divisor = _indicator(error_limit_um, calibration_expanded_um, calibration_factor)
    cosine = np.cos(np.radians(_figures("lever angle", lever_angle_deg)))
    within = np.radians(_figures("lever angle tolerance", lever_angle_within_deg))
    lever = within * _lever_slope(mean_tir_um, lever_angle_deg, lever_angle_within_deg)
    roundness = _figures("roundness", roundness_um)
    return np.asarray(np.sqrt((error / divisor * cosine) ** 2 + (lever**2 + roundness**2) / 3))


def default_indicator_u(step_um: ArrayLike, mean_tir_um: ArrayLike, two_micron_lever: ArrayLike = False) -> Floats:
    """Standard uncertainty to assume for an indicator nobody named, from the step logged; arrays broadcast.

    sqrt(a^2/3 + (0.035 T)^2). The half width a of the indicator's error, hysteresis included, is 0.5 µm for
    a step to 0.2 µm (electronic), 2 µm to 1 µm (lever), 8 µm to 10 µm (a dial of 10 µm read between the
    marks), above that 0.8 of the step; 4 µm where ``two_micron_lever`` says it was named as one. T is the
    mean swing, of which 6 % are for an unknown lever angle up to 20 degrees. Orders of size after DIN 878
    and DIN 2270 (from memory), rectangular by default after JCGM 100, 4.3.7.
    Raises NotAnswerableError for a step that is not above zero and a swing that is negative or not finite.
    """
    half_width = default_half_width(step_um, two_micron_lever)
    return np.asarray(np.sqrt(half_width**2 / 3 + (UNKNOWN_LEVER_SHARE * _figures("mean swing", mean_tir_um)) ** 2))


def default_half_width(step_um: ArrayLike, two_micron_lever: ArrayLike = False) -> Floats:
    """The half width in µm that ``default_indicator_u`` assumes for the indicator's own error; arrays broadcast."""
    step = _above_zero("step of the readings", step_um)
    half_width = np.select([step <= 0.2, step <= 1, step <= 10], [0.5, 2.0, 8.0], 0.8 * step)
    return np.where(two_micron_lever, 4.0, half_width)


def default_size_u(step_um: ArrayLike) -> Floats:
    """Standard uncertainty to assume for a size read with what nobody named, from the step logged; broadcasts.

    Rectangular (JCGM 100, 4.3.7) with a half width of 5 µm for a step to 1 µm (a micrometer), above that of 30 µm or
    one step, whichever is more (a calliper: by its step alone it may be one). Orders of size after DIN 863 and DIN 862
    (from memory). Raises NotAnswerableError for a step that is not above zero.
    """
    step = _above_zero("step of the readings", step_um)
    return np.asarray(np.where(step <= 1, 5.0, np.maximum(step, 30.0)) / RECTANGULAR)


def default_pins_u() -> float:
    """Standard uncertainty to assume for a size told by pins nobody named: rectangular with half width 5.08 µm, the
    tolerance of the widest class of gauge pins up to 20.96 mm (ASME B89.1.5 class ZZ, common practice)."""
    return 5.08 / RECTANGULAR


def smallest_provable_limit(u_um: ArrayLike) -> Floats:
    """The smallest limit an indicator is suited for, 3 u; below it hardly any swing can be proven to hold."""
    return 3 * _figures("standard uncertainty", u_um)


def _indicator(
    error_limit_um: ArrayLike | None, calibration_expanded_um: ArrayLike | None, calibration_factor: ArrayLike
) -> tuple[Floats, Floats]:
    """Error and divisor, whichever of the two ways it is given in. No indicator is without error."""
    if calibration_expanded_um is None and error_limit_um is not None:
        return _above_zero("indicator's error limit", error_limit_um), np.asarray(RECTANGULAR)
    if error_limit_um is None and calibration_expanded_um is not None:
        factor = _above_zero("calibration's coverage factor", calibration_factor)
        return _above_zero("calibration's uncertainty", calibration_expanded_um), factor
    raise NotAnswerableError(
        "The indicator's error is given twice or not at all.",
        "Give either its error limit or its calibration's uncertainty.",
    )


def _lever_slope(indicated_um: ArrayLike, angle_deg: ArrayLike, within_deg: ArrayLike) -> Floats:
    """Effect of a radian of lever angle in µm: I sin(angle), or near 0 degrees the second-order I within/2."""
    slope = np.sin(np.radians(_figures("lever angle", angle_deg)))
    curved = np.radians(_figures("lever angle tolerance", within_deg)) / 2
    return np.asarray(_figures("indicated swing", indicated_um) * np.maximum(slope, curved))


def _figures(name: str, values: ArrayLike) -> Floats:
    figures = np.asarray(values, dtype=np.float64)
    if not (np.isfinite(figures) & (figures >= 0)).all():
        raise NotAnswerableError(f"The {name} is negative or not finite.", "Give a figure of 0 or more.")
    return figures


def _above_zero(name: str, values: ArrayLike) -> Floats:
    figures = _figures(name, values)
    if (figures == 0).any():
        raise NotAnswerableError(f"The {name} is zero.", "Give the figure that is known of it.")
    return figures
