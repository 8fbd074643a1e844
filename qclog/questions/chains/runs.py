"""The clampings of a chain: what was turned to which angle, and what was read, by distance."""

import dataclasses
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.figures import Series, read_figures, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned
from qclog.logbook.trials import same_bodies
from qclog.notation import parse_clocking
from qclog.questions.codes import LOCKING
from qclog.questions.judging.alike import is_as_now, size_class
from qclog.records import SWINGS
from qclog.statistics.samples import rounding_sd

FEWEST_POOL_DF: Final = 8


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Clampings at one distance, in the order of time: arrays (n,), angles (n, k) of the bodies of their chain.

    ``vector`` NaN where a clamping has no high spot; ``within_rad``: how well one seen by eye is known.
    """

    series: Series
    clamping: npt.NDArray[np.int64]
    sitting: npt.NDArray[np.int64]
    angles_deg: npt.NDArray[np.float64]
    swing_um: npt.NDArray[np.float64]
    vector: npt.NDArray[np.complex128]
    within_rad: npt.NDArray[np.float64]
    step_um: npt.NDArray[np.float64]
    in_doubt: bool

    def chosen(self, which: npt.NDArray[np.bool_]) -> "Runs":
        return dataclasses.replace(
            self,
            clamping=self.clamping[which],
            sitting=self.sitting[which],
            angles_deg=self.angles_deg[which],
            swing_um=self.swing_um[which],
            vector=self.vector[which],
            within_rad=self.within_rad[which],
            step_um=self.step_um[which],
        )

    @property
    def directed(self) -> "Runs":
        """Those with a high spot."""
        return self.chosen(np.isfinite(self.vector.real))

    @property
    def floor_um(self) -> float:
        """The least scatter per axis of a vector: what the step of the readings, and the eye, alone leave."""
        by_eye = np.abs(self.vector) * self.within_rad / 3**0.5
        rounding = np.array([rounding_sd(float(step)) for step in self.step_um])
        return float(np.sqrt(np.mean((rounding**2 + by_eye**2) / 2)))


@dataclass(frozen=True, slots=True)
class Measured:
    """One item in one setup and position with the same bodies clocked: ``distances`` from the nearest out.

    ``bodies``: codes as last written, of these ``kinds``; ``pins``: the numbers of those that are test pins;
    ``unturned``: what the chain has beside them, from the spindle out; ``locked``: something in it is out of service.
    """

    item: Owned
    series: Series
    bodies: tuple[str, ...]
    kinds: tuple[str, ...]
    pins: frozenset[int]
    unturned: tuple[str, ...]
    sense: str
    locked: bool
    distances: tuple[Runs, ...]


def read_chains(connection: sa.Connection, register: Register, code: str | None) -> list[Measured]:
    """Of an item or pin, clamped or one of the bodies, of a setup, or of all: as they are now, those with the most
    clampings first at each place.

    Raises NotFoundError for an unknown code.
    """
    revisions, of = None, ""
    if code is not None:
        found = register.find(code)
        if found is not None and found.kind == "setup":
            revisions = [register.revisions(found.id)[-1].id]
        elif found is not None and found.kind == "pin":
            of = found.text.casefold()
        else:
            of = register.need(code, "item").text.casefold()
    series = read_series(connection, revisions=revisions, clocked=True)
    owned = read_owned(connection, sorted({one.item_id for one in series}))
    newest = {one.setup_id: register.revisions(one.setup_id)[-1] for one in series if one.setup_id}
    places: dict[tuple[Any, ...], list[Series]] = defaultdict(list)
    for one in series:
        if is_as_now(one, owned) and one.setup_id and newest[one.setup_id].id == one.revision_id:
            place = (one.item_id, one.revision_id, one.position, one.diameter_tenths, one.characteristic)
            bodies = same_bodies(one.clocking)
            if not of or of in bodies or of == one.item.casefold():
                places[(*place, bodies)].append(one)
    chains = [
        _measured(connection, register, owned[here[0].item_id], here, newest[here[0].setup_id].sense)
        for here in places.values()
        if len({one.clocking for one in here}) > 1
    ]
    most = {id(chain): max(len(runs.clamping) for runs in chain.distances) for chain in chains if chain.distances}
    return sorted(
        (chain for chain in chains if chain.distances),
        key=lambda chain: (chain.item.code.casefold(), chain.series.setup.casefold(), -most[id(chain)]),
    )


def repeat_of_shop(
    connection: sa.Connection, item: Owned, revision_id: int, distance_tenths: int | None = None
) -> tuple[float, int] | None:
    """Scatter per axis of re-clamping within a sitting, and its degrees of freedom, of all of this kind and size class
    measured in this setup revision, at this distance or at any; None below eight."""
    series = [one for one in read_series(connection, revisions=[revision_id]) if one.characteristic in SWINGS]
    theirs = read_owned(connection, sorted({one.item_id for one in series}))
    alike = [
        one.id
        for one in series
        if distance_tenths in (None, one.distance_tenths)
        and is_as_now(one, theirs)
        and theirs[one.item_id].kind == item.kind
        and _class_of(theirs[one.item_id]) == _class_of(item)
    ]
    figures = read_figures(connection, alike)
    vector, within = figures.vector, figures.within_rad
    known = np.isfinite(vector.real) & (within == 0.0) & ~figures.in_doubt
    cell = np.unique(np.column_stack([figures.series, figures.sitting])[known], axis=0, return_inverse=True)[1]
    e = vector[known]
    if not e.size:
        return None
    cell = cell.reshape(-1)
    counts = np.bincount(cell)
    mean = (np.bincount(cell, e.real) + 1j * np.bincount(cell, e.imag)) / counts
    df = 2 * int(e.size - counts.size)
    if df < FEWEST_POOL_DF:
        return None
    return float(np.sqrt(np.sum(np.abs(e - mean[cell]) ** 2) / df)), df


def kind_of(register: Register, code: str) -> str:
    """What a body is: the kind of an item, "pin", or '' for what the logbook does not have."""
    found = register.find(code)
    if found is None or found.kind == "pin":
        return found.kind if found else ""
    card = register.item_card(found.id) if found.kind == "item" else None
    return str(card["kind"]) if card is not None else ""


def _class_of(item: Owned) -> int | None:
    return None if item.size_pm is None else size_class(item.size_pm / 1e9)


def _measured(
    connection: sa.Connection, register: Register, item: Owned, here: Sequence[Series], sense: str
) -> Measured:
    newest = max(here, key=lambda one: one.id)
    written = {body.casefold(): body for one in here for body, _ in parse_clocking(one.clocking)}
    order = from_the_spindle(register, newest.revision_id, item.code, written)
    bodies = tuple(written[folded] for folded in order)
    found = [register.find(body) for body in bodies]
    links = [link.text for link in register.links(newest.revision_id)]
    unturned = [code for code in (*links, item.code) if code.casefold() not in written]
    by_distance: dict[int, list[Series]] = defaultdict(list)
    for one in here:
        by_distance[one.distance_tenths].append(one)
    distances = [_runs(connection, by_distance[distance], order) for distance in sorted(by_distance)]
    return Measured(
        item=item,
        series=newest,
        bodies=bodies,
        kinds=tuple(kind_of(register, body) for body in bodies),
        pins=frozenset(i for i, one in enumerate(found) if one is not None and one.kind == "pin"),
        unturned=tuple(unturned),
        sense=sense,
        locked=_locked(connection, register, [item.code, *links, *bodies]),
        distances=tuple(runs for runs in distances if runs.clamping.size),
    )


def _locked(connection: sa.Connection, register: Register, codes: Iterable[str]) -> bool:
    """Whether one of these is cracked or heat-blued."""
    found = (register.find(code) for code in codes)
    items = read_owned(connection, sorted({one.id for one in found if one is not None and one.kind == "item"}))
    return any(LOCKING.intersection(one.findings) for one in items.values())


def from_the_spindle(register: Register, revision_id: int, item: str, codes: Iterable[str]) -> list[str]:
    """Bodies from the spindle outward: parts of the setup, the item, what sits in it."""
    rank = {link.text.casefold(): link.rank for link in register.links(revision_id)}
    last = max(rank.values(), default=0)
    rank.setdefault(item.casefold(), last + 1)
    return sorted(codes, key=lambda code: (rank.get(code.casefold(), last + 2), code.casefold()))


def _runs(connection: sa.Connection, here: Sequence[Series], order: Sequence[str]) -> Runs:
    angles = {}
    for one in here:
        turned = {body.casefold(): angle / 1000 for body, angle in parse_clocking(one.clocking)}
        angles[one.id] = [turned[folded] for folded in order]
    ids = list(angles)
    figures = read_figures(connection, ids)
    vector, within = figures.vector, figures.within_rad
    by_time = np.lexsort((figures.clamping, figures.order))
    return Runs(
        series=here[0],
        clamping=figures.clamping[by_time],
        sitting=figures.sitting[by_time],
        angles_deg=np.array([angles[int(series)] for series in figures.series[by_time]]).reshape(-1, len(order)),
        swing_um=figures.value_um[by_time],
        vector=vector[by_time],
        within_rad=within[by_time],
        step_um=figures.step_um[by_time],
        in_doubt=bool(figures.in_doubt.any()),
    )
