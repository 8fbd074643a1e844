"""What there is to compare: the clampings of every current series, and which series were measured alike."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.figures import Series, read_figures, read_pin_sizes, read_series
from qclog.logbook.owned import Owned, read_setups
from qclog.questions.codes import LOCKING, Caveat
from qclog.questions.judging.alike import is_current
from qclog.questions.judging.gauging import read_gauges_of
from qclog.statistics.comparing.swings import FEWEST_EACH

By = Literal["position", "setup", "item"]


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """The clampings of one series, arrays (n,): full swings and vectors in µm, NaN where a clamping has no vector.

    ``by_eye``: some of the high spots were read by eye. ``in_doubt``: all of it is; ``left_out``: some was, and was
    left out. ``pins_mm``: the diameters of the pins it was clamped on, those that are known, the smallest first.
    ``check_failed``: some of it was read since the last good quick check of an indicator whose newest one was out.
    """

    series: Series
    swings: npt.NDArray[np.float64]
    vectors: npt.NDArray[np.complex128]
    by_eye: bool
    sittings: frozenset[int]
    step_um: float
    in_doubt: bool
    left_out: bool
    pins_mm: tuple[float, ...]
    check_failed: bool

    @property
    def has_directions(self) -> bool:
        """Whether every clamping has its high spot, and none read by eye: those are too rough to compare."""
        return bool(np.isfinite(self.vectors).all()) and not self.by_eye


def read_measured(
    connection: sa.Connection, owned: Mapping[int, Owned], items: Sequence[int] | None, setup: str | None
) -> list[Measured]:
    """What was measured of items as they are now, in setups as they are now, in the order of item, setup and place.

    Of the items named or of all, in the setup named or in all. Items that are cracked or blued are left out.
    """
    setups = read_setups(connection)
    series = [
        one
        for one in read_series(connection, items=items)
        if is_current(one, owned)
        and not LOCKING.intersection(owned[one.item_id].findings)
        and (not one.setup_id or one.revision == setups[one.setup_id].revision)
        and (setup is None or one.setup == setup)
    ]
    ids = [one.id for one in series]
    figures = read_figures(connection, ids)
    pins, unsure = read_pin_sizes(connection, ids), read_gauges_of(connection).unsure(figures.gauging, figures.order)
    vectors, within = figures.vector, figures.within_rad
    found = []
    for one in series:
        start, end = np.searchsorted(figures.series, [one.id, one.id + 1])
        if start < end:
            here = slice(start, end)
            sittings = frozenset(int(sitting) for sitting in figures.sitting[here])
            step = float(figures.step_um[here].min())
            by_eye = bool(np.any(within[here] > 0.0))
            found.append(
                Measured(
                    series=one,
                    swings=figures.value_um[here],
                    vectors=vectors[here],
                    by_eye=by_eye,
                    sittings=sittings,
                    step_um=step,
                    in_doubt=bool(figures.in_doubt[here].any()),
                    left_out=one.id in figures.left_out,
                    pins_mm=pins.get(one.id, ()),
                    check_failed=bool(unsure[here].any()),
                )
            )
    return found


def sets_alike(measured: Iterable[Measured], by: By) -> list[list[Measured]]:
    """Sets of at least two that differ in nothing but what is compared.

    Those with clampings enough, if at least two have; else all, so that what is missing can be said.
    """
    sets: dict[tuple[Any, ...], dict[str, Measured]] = {}
    for one in measured:
        members = sets.setdefault(_alike_but_for(one.series, by), {})
        name = name_of(one.series, by)
        # an item measured with several pins takes part with the one it was clamped on most
        if name not in members or members[name].swings.size < one.swings.size:
            members[name] = one
    found = []
    for members in sets.values():
        enough = [one for one in members.values() if one.swings.size >= FEWEST_EACH]
        if len(members) > 1:
            found.append(enough if len(enough) > 1 else list(members.values()))
    return found


def name_of(one: Series, by: By) -> str:
    """What a member of a comparison is called."""
    if by == "setup":
        return " ".join(part for part in (one.setup, one.position) if part)
    return one.position if by == "position" else one.item


def diameter_mm(one: Series) -> float | None:
    """The diameter of the pin, None where it is not known."""
    return None if one.diameter_tenths < 0 else one.diameter_tenths / 10


def high_spots_missing(measured: Iterable[Measured]) -> list[Caveat]:
    """Why vectors are not compared although some clampings have them."""
    measured = list(measured)
    known = [np.isfinite(one.vectors) for one in measured]
    if not any(one.any() for one in known):
        return []
    missing = [] if all(one.all() for one in known) else [Caveat.HIGH_SPOTS_MISSING]
    return missing + ([Caveat.HIGH_SPOTS_BY_EYE] if any(one.by_eye for one in measured) else [])


def _alike_but_for(one: Series, by: By) -> tuple[Any, ...]:
    """What the members of a comparison share."""
    common = (one.diameter_tenths, one.distance_tenths, one.clocking, one.characteristic)
    if by == "position":
        return (one.item_id, one.setup_id, *common)
    if by == "setup":
        return (one.item_id, *common)
    return (one.setup_id, one.position, *common[1:])
