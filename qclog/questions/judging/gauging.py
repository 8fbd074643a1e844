"""What the indicator and the pin add to the swings of a group: the part common to all its clampings.

An indicator with a calibration counts with its own figures. Without one, or not named at all, it counts with
a cautious default that depends on the step read (``qclog.statistics.uncertainty.default_indicator_u``).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog import times
from qclog.logbook import owned
from qclog.logbook.figures import Gauging, read_gaugings
from qclog.logbook.recalls import read_failed_checks
from qclog.questions.codes import Caveat
from qclog.statistics.bounding.conformity import guard_band
from qclog.statistics.uncertainty import (
    UNKNOWN_LEVER_SHARE,
    Budget,
    common_budget,
    common_u,
    default_half_width,
    default_indicator_u,
)

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]

_LEVER_WITHIN_DEG: Final = 5.0
_PER_DAY: Final = 1_000_000
_NEVER: Final = 99_999_999
_AFTER_ALL: Final = _NEVER * _PER_DAY


@dataclass(frozen=True, slots=True, eq=False)
class ReadWith:
    """What S series were read with, arrays (P,): the place of the series among them, the id of the gauging, and when it
    was read with that last (``times.order``). A time at which it cannot be told whether the gauge had failed a check
    stands for itself."""

    series: Ints
    gauging: Ints
    order: Ints

    def chosen(self, which: Ints, count: int) -> "ReadWith":
        """Of the series at some places of ``count``, each at most once, in that order."""
        at = np.full(count, -1)
        at[which] = np.arange(which.size)
        kept = at[self.series] >= 0
        return ReadWith(at[self.series[kept]], self.gauging[kept], self.order[kept])


@dataclass(frozen=True, slots=True, eq=False)
class GaugeOfGroups:
    """By group: the common standard uncertainty, whether it is assumed, and caveat codes."""

    u_um: Floats
    assumed: Bools
    _codes: dict[Caveat, Bools]

    @property
    def guard_um(self) -> Floats:
        return guard_band(self.u_um)

    def caveats(self, group: int) -> list[Caveat]:
        return [code for code, where in self._codes.items() if where[group]]


class Gauges:
    """Everything the clampings of a logbook were read with."""

    def __init__(
        self,
        gaugings: dict[int, Gauging],
        cards: dict[int, owned.GaugeCard],
        calibrations: dict[int, owned.CalibrationCard],
        roundness_um: dict[int, float],
        failed_checks: Mapping[int, str],
    ) -> None:
        self._ids = np.array(sorted(gaugings), dtype=np.int64)
        self.gaugings, self._calibrations = gaugings, calibrations
        rows = [gaugings[int(i)] for i in self._ids]
        known = [calibrations.get(row.calibration_id) for row in rows]
        named = [cards.get(row.instrument_id) for row in rows]
        self._half_width = np.array([half_width_um(calibration) for calibration in known], dtype=np.float64)
        self._named = np.array([card is not None for card in named], dtype=np.bool_)
        self._division = np.array([card.division_um if card else np.nan for card in named], dtype=np.float64)
        self._lever = np.array([card is not None and card.kind == "lever" for card in named], dtype=np.bool_)
        self._digital = np.array([card is not None and card.kind == "electronic" for card in named], dtype=np.bool_)
        self._angle = np.array([row.lever_mdeg / 1000 if row.lever_mdeg >= 0 else np.nan for row in rows])
        self._roundness = np.array([roundness_um.get(row.pin_id, 0.0) for row in rows], dtype=np.float64)
        failed = [failed_checks.get(row.instrument_id) for row in rows]
        self._unsure_from = np.array([_AFTER_ALL if at is None else times.order(at) for at in failed], dtype=np.int64)
        self._unsure_on = np.array([_AFTER_ALL if at is None else times.order(times.day(at)) for at in failed])
        self._due = np.array([_due_day(calibration) for calibration in known], dtype=np.int64)

    def steps_um(self, gauging: Ints, typed_um: Floats) -> Floats:
        """The step of readings (N,): that typed, and of a digital indicator not below one of its digits."""
        place = np.searchsorted(self._ids, gauging)
        return np.where(self._digital[place], np.fmax(typed_um, self._division[place]), typed_um)

    def least_steps_um(self, gauging: Ints) -> Floats:
        """One digit of each digital indicator (N,), below which no step is read; 0 of others."""
        place = np.searchsorted(self._ids, gauging)
        return np.where(self._digital[place], self._division[place], 0.0)

    def check_failed(self, gauging: Ints) -> Bools:
        """Whether the indicator failed its last quick check (N,)."""
        return np.asarray(self._unsure_from[np.searchsorted(self._ids, gauging)] != _AFTER_ALL)

    def read_with(self, group: Ints, gauging: Ints, order: Ints) -> ReadWith:
        """What groups were read with, and when, from ``group``, ``gauging`` (ids) and ``order`` of clampings (N,)."""
        place = np.searchsorted(self._ids, gauging)
        pairs, pair = np.unique(group * max(len(self._ids), 1) + place, return_inverse=True)
        last = np.full(pairs.size, np.iinfo(np.int64).min)
        np.maximum.at(last, pair, order)
        g, p = np.divmod(pairs, max(len(self._ids), 1))
        untold = order == self._unsure_on[place]
        return ReadWith(np.r_[g, group[untold]], np.r_[self._ids[p], gauging[untold]], np.r_[last, order[untold]])

    def of_groups(
        self,
        read_with: ReadWith,
        mean_um: Floats,
        step_um: Floats,
        default: Callable[[Ints, Floats], Floats] | None = None,
    ) -> GaugeOfGroups:
        """From mean swing and finest step of the groups (G,).

        A group read with several indicators counts with the worst of them. ``default``: what to assume, from groups
        and steps, where it is not what an indicator reads a swing to.
        """
        count, group, order = len(mean_um), read_with.series, read_with.order
        place = np.searchsorted(self._ids, read_with.gauging)
        pairs, first = np.unique(group * max(len(self._ids), 1) + place, return_index=True)
        g, p = group[first], place[first]
        calibrated = np.isfinite(self._half_width[p])
        assumed = ~calibrated
        u = np.zeros(len(pairs))
        if calibrated.any():
            u[calibrated] = self._known_u(p[calibrated], mean_um[g[calibrated]])
        if assumed.any():
            if default is None:
                u[assumed] = self._default_u(p[assumed], mean_um[g[assumed]], step_um[g[assumed]])
            else:
                division = self._division[p[assumed]]
                u[assumed] = default(g[assumed], np.where(np.isnan(division), step_um[g[assumed]], division))
        overdue = order // _PER_DAY > self._due[place]
        unsure = self.unsure(read_with.gauging, order)

        def any_of(groups: Ints, where: Bools) -> Bools:
            return np.bincount(groups, where, count) > 0

        worst = np.zeros(count)
        np.maximum.at(worst, g, u)
        unnoted = self._lever & np.isnan(self._angle)
        return GaugeOfGroups(
            u_um=worst,
            assumed=any_of(g, assumed),
            _codes={
                Caveat.INSTRUMENT_UNKNOWN: any_of(g, ~self._named[p]),
                Caveat.INSTRUMENT_UNCALIBRATED: any_of(g, self._named[p] & assumed),
                Caveat.CALIBRATION_OVERDUE: any_of(group, overdue),
                Caveat.CHECK_FAILED: any_of(group, unsure),
                Caveat.LEVER_ANGLE_UNKNOWN: any_of(g, unnoted[p] & calibrated),
            },
        )

    def unsure(self, gauging: Ints, order: Ints) -> Bools:
        """Of clampings (N,): whether they were read since the last good quick check of what failed its newest one.

        Of a day without its time it cannot be told on which side of the good check it lies: it counts as since.
        """
        place = np.searchsorted(self._ids, gauging)
        return np.asarray((order >= self._unsure_from[place]) | (order == self._unsure_on[place]))

    def budget(self, gauging: int, mean_um: float, step_um: float) -> Budget:
        """The lines behind the uncertainty of swings of this mean, read with one ``gauging`` (its id) to a step."""
        place = int(np.searchsorted(self._ids, gauging))
        lever, angle, roundness = bool(self._lever[place]), float(self._angle[place]), float(self._roundness[place])
        card = self._calibrations.get(self.gaugings[gauging].calibration_id)
        if card is None or self.assumes(gauging):
            division = float(self._division[place])
            half_width = float(default_half_width(*self._default_step(division, lever, step_um)))
            return common_budget(
                mean_tir_um=mean_um, error_limit_um=half_width, unknown_lever=True, roundness_um=roundness
            )
        noted = lever and not np.isnan(angle)
        certificate = card.uncertainty_um if card.coverage_factor else None
        return common_budget(
            mean_tir_um=mean_um,
            error_limit_um=card.error_limit_um if certificate is None else None,
            calibration_expanded_um=certificate,
            calibration_factor=card.coverage_factor or 2.0,
            lever_angle_deg=angle if noted else 0.0,
            lever_angle_within_deg=_LEVER_WITHIN_DEG if noted else 0.0,
            unknown_lever=lever and not noted,
            roundness_um=roundness,
        )

    def assumes(self, gauging: int) -> bool:
        """Whether the indicator's error has to be assumed."""
        return bool(np.isnan(self._half_width[np.searchsorted(self._ids, gauging)]))

    def _known_u(self, place: Ints, mean_um: Floats) -> Floats:
        angle = np.where(self._lever[place], self._angle[place], 0.0)
        unnoted = np.isnan(angle)
        u = common_u(
            mean_tir_um=mean_um,
            error_limit_um=self._half_width[place],
            lever_angle_deg=np.where(unnoted, 0.0, angle),
            lever_angle_within_deg=np.where(self._lever[place] & ~unnoted, _LEVER_WITHIN_DEG, 0.0),
            roundness_um=self._roundness[place],
        )
        return np.hypot(u, np.where(unnoted, UNKNOWN_LEVER_SHARE * mean_um, 0.0))

    def _default_u(self, place: Ints, mean_um: Floats, step_um: Floats) -> Floats:
        step, two_micron_lever = self._default_step(self._division[place], self._lever[place], step_um)
        u = default_indicator_u(step, mean_um, two_micron_lever)
        return np.hypot(u, self._roundness[place] / sqrt(3.0))

    @staticmethod
    def _default_step(division: npt.ArrayLike, lever: npt.ArrayLike, step_um: npt.ArrayLike) -> tuple[Floats, Bools]:
        """The step a default goes by: the division where it is known, else the step read; and whether it is 2 µm of
        a lever."""
        known = np.asarray(division, dtype=np.float64)
        return np.where(np.isnan(known), step_um, known), np.asarray(lever) & (np.abs(known - 2.0) < 1e-9)


def read_gauges_of(connection: sa.Connection) -> Gauges:
    return Gauges(
        read_gaugings(connection),
        owned.read_gauges(connection),
        owned.read_calibrations(connection),
        owned.read_roundness(connection),
        read_failed_checks(connection),
    )


def half_width_um(calibration: owned.CalibrationCard | None) -> float:
    """Half width of a rectangular distribution with the uncertainty of a calibration; NaN where it says none."""
    if calibration is None:
        return np.nan
    if calibration.uncertainty_um is not None and calibration.coverage_factor:
        return calibration.uncertainty_um / calibration.coverage_factor * sqrt(3.0)
    return np.nan if calibration.error_limit_um is None else calibration.error_limit_um


def _due_day(calibration: owned.CalibrationCard | None) -> int:
    if calibration is None or not calibration.due_on:
        return _NEVER
    return times.order(calibration.due_on) // _PER_DAY
