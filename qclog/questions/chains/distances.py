"""What the parts of a chain do at each distance, measured or told from two others."""

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import sqlalchemy as sa

from qclog.errors import RefusedError
from qclog.logbook.owned import OwnedSetup
from qclog.questions.chains.runs import Measured, Runs, repeat_of_shop
from qclog.questions.comparing.directions import degrees
from qclog.questions.judging.limits import governing
from qclog.statistics.chains.bodies import STAYS, Chain, circle, fit_chain
from qclog.statistics.chains.overhang import at_overhang, correlation, tilt_per_100, weights

FEWEST_RUNS = 2
_EXACT_UM = 1e-6


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a chain as the TIR it causes; ``bodies`` never turned against each other, named together.

    ``stays``: the spindle with all that was never turned. ``high_spot_deg`` with the marks of turned bodies at 0.
    ``tir_um`` None where the clampings do not tell it; ``low_um`` to ``high_um`` with 95 %, ``circle_um`` the radius of
    the circle in which its vector lies, as TIR, None where no repeat is known. ``without_um``: what would be left of
    the chain as clocked now, were this part perfect. ``tilt_um``: how much its vector changes per 100 mm farther out,
    as TIR, towards ``tilt_deg``; None with one distance. ``now_deg``, ``then_deg``: where its high spot stands as
    clocked now, and as advised if anything is.
    """

    bodies: tuple[str, ...]
    stays: bool
    tir_um: float | None
    low_um: float | None
    high_um: float | None
    high_spot_deg: float | None
    circle_um: float | None
    without_um: float | None
    tilt_um: float | None = None
    tilt_deg: float | None = None
    now_deg: float | None = None
    then_deg: float | None = None


@dataclass(frozen=True, slots=True)
class Distance:
    """What the chain does at one distance; ``extrapolated`` from two others if so.

    ``repeat_um``: of re-clamping, as TIR, from ``repeat_df`` degrees of freedom, ``repeat_from`` the "clampings" or the
    "shop"; None where not known. ``now_um``: the systematic TIR of the chain clocked as it was last, test pin included.
    ``owner``: the part that is larger than every other one at 95 %, None where that is not shown.
    """

    distance_mm: float
    extrapolated: bool
    clampings: int
    sittings: int
    parts: tuple[Part, ...]
    repeat_um: float | None
    repeat_df: int
    repeat_from: str | None
    now_um: float | None
    owner: tuple[str, ...] | None
    limit_um: float | None
    limit_from: str | None


def fit_of(connection: sa.Connection, measured: Measured, runs: Runs) -> Chain:
    found = fit_chain(runs.vector, runs.angles_deg, runs.sitting, floor_um=runs.floor_um)
    if found.df:
        return found
    repeat = repeat_of_shop(connection, measured.item, runs.series.revision_id, runs.series.distance_tenths)
    return fit_chain(runs.vector, runs.angles_deg, runs.sitting, floor_um=runs.floor_um, repeat=repeat)


def asked(measured: Measured, known: Sequence[Runs], at_mm: float | None) -> Runs | None:
    """The runs as they would read at a distance that was not measured. Raises RefusedError where they cannot tell."""
    if at_mm is None or any(mm(one) == at_mm for one in known):
        return None
    if len(known) < FEWEST_RUNS:
        raise RefusedError(
            f"{measured.item.code} was read at one distance in this chain, which tells nothing of {at_mm:g} mm.",
            "Read the same clampings at two distances, then ask again.",
        )
    near, far = _common(known[0], known[-1])
    if near.clamping.size < FEWEST_RUNS:
        raise RefusedError(
            f"No two clampings of {measured.item.code} were read at both distances.", "Read both in each clamping."
        )
    first, second = weights(mm(near), mm(far), at_mm)
    return dataclasses.replace(
        far,
        series=dataclasses.replace(far.series, distance_tenths=round(10 * at_mm)),
        vector=at_overhang(near.vector, far.vector, mm(near), mm(far), at_mm),
        step_um=np.hypot(first * near.step_um, second * far.step_um),
        within_rad=np.maximum(near.within_rad, far.within_rad),
    )


def _common(near: Runs, far: Runs) -> tuple[Runs, Runs]:
    """The clampings that were read at both distances."""
    return (near.chosen(np.isin(near.clamping, far.clamping)), far.chosen(np.isin(far.clamping, near.clamping)))


def both(near: Runs, far: Runs) -> tuple[Runs, Runs] | None:
    found = _common(near, far)
    return found if found[0].clamping.size >= FEWEST_RUNS else None


def tilts_of(near: Runs, far: Runs) -> Chain:
    """The chain of the changes per 100 mm."""
    changes = tilt_per_100(near.vector, far.vector, mm(near), mm(far))
    return fit_chain(changes, far.angles_deg, far.sitting, floor_um=_EXACT_UM)


def correlation_of(near: Runs, far: Runs) -> float | None:
    """Of the scatter at both distances."""
    left = [fit_chain(one.vector, one.angles_deg, one.sitting, floor_um=_EXACT_UM).residuals for one in (near, far)]
    return correlation(*left)


def with_tilts(told: Distance, fit: Chain, tilts: Chain) -> Distance:
    if tilts.bodies != fit.bodies:
        return told
    parts = [
        part
        if not np.isfinite(tilts.vectors[number])
        else dataclasses.replace(
            part,
            tilt_um=2 * abs(complex(tilts.vectors[number])),
            tilt_deg=degrees(complex(tilts.vectors[number])),
        )
        for number, part in enumerate(told.parts)
    ]
    return dataclasses.replace(told, parts=tuple(parts))


def mm(runs: Runs) -> float:
    return runs.series.distance_tenths / 10


def _limit(measured: Measured, runs: Runs, setups: Mapping[int, OwnedSetup]) -> tuple[float | None, str | None]:
    values, sources = governing([runs.series], {measured.item.id: measured.item}, setups)
    return (None if np.isnan(values[0]) else float(values[0])), sources[0]


def undirected(measured: Measured, runs: Runs, setups: Mapping[int, OwnedSetup]) -> Distance:
    limit = _limit(measured, runs, setups)
    sittings = len(np.unique(runs.sitting))
    return Distance(mm(runs), False, runs.clamping.size, sittings, (), None, 0, None, None, None, *limit)


def distance_of(
    measured: Measured, runs: Runs, fit: Chain, setups: Mapping[int, OwnedSetup], *, extrapolated: bool
) -> Distance:
    from qclog.statistics.length_interval import length_interval

    row = fit.row(runs.angles_deg[-1])
    parts = []
    for number, bodies in enumerate(fit.bodies):
        codes = tuple(measured.bodies[i] for i in bodies)
        vector = complex(fit.vectors[number])
        if not np.isfinite(vector):
            parts.append(Part(codes, number == STAYS, None, None, None, None, None, None))
            continue
        found = fit.part(number)
        low, high = None, None
        if found.error_df:
            low, high = (2 * float(end) for end in length_interval(abs(vector), found.error_um, found.error_df))
        rest = row.copy()
        rest[number] = 0.0
        without = 2 * abs(fit.forecast_row(rest).vector) if np.isfinite(fit.vectors).all() else None
        radius = 2 * circle(found) if found.error_df else None
        size, stands = 2 * abs(vector), degrees(vector * row[number])
        told = Part(codes, number == STAYS, size, low, high, degrees(vector), radius, without, now_deg=stands)
        parts.append(told)
    owner = fit.largest()
    limit = _limit(measured, runs, setups)
    now = fit.forecast_row(row).tir_um
    return Distance(
        distance_mm=mm(runs),
        extrapolated=extrapolated,
        clampings=runs.clamping.size,
        sittings=len(np.unique(runs.sitting)),
        parts=tuple(parts),
        repeat_um=2 * fit.sd_um if fit.df else None,
        repeat_df=fit.df,
        repeat_from=("shop" if fit.from_shop else "clampings") if fit.df else None,
        now_um=now if np.isfinite(now) else None,
        owner=None if owner is None else parts[owner].bodies,
        limit_um=limit[0],
        limit_from=limit[1],
    )
