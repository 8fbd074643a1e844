"""Are clocking and reading angles of a setup counted the same way round?

If one of them is counted the other way round, everything said of a chain and its clocking is wrong and fits perfectly.
One body clamped at three or more clockings proves it, from clampings logged as usual.
"""

import dataclasses
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.figures import Series, read_figures, read_series
from qclog.logbook.last_given import last_in_setup
from qclog.logbook.lookup import Name, Register
from qclog.logbook.trials import same_bodies
from qclog.notation import parse_clocking
from qclog.questions.codes import SenseState
from qclog.records import SWINGS
from qclog.statistics.chains.bodies import chain_misfit
from qclog.statistics.chains.sense import FEWEST_ANGLES, RISK, Misfit, Sense, judge_sense, misfit
from qclog.statistics.samples import rounding_sd

QUESTION: Final = "sense"
_STATES: Final = {
    Sense.AS_SAID: SenseState.PROVEN,
    Sense.OTHER_WAY: SenseState.OTHER_WAY,
    Sense.CANNOT_TELL: SenseState.CANNOT_TELL,
}
_TELLING: Final = (SenseState.OTHER_WAY, SenseState.PROVEN, SenseState.CANNOT_TELL)
"""What is said of a setup in which several bodies were turned: the first of these that was found."""


@dataclass(frozen=True, slots=True)
class Logged:
    """Clampings of one item, by their numbers."""

    item: str
    clampings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Body:
    """A pin or item that was clamped at three or more clockings, or several that were turned in one plan.

    ``ratio``: the sum of squares that the clampings leave read the other way round, over that left as they are.
    """

    code: str
    state: SenseState
    clampings: int
    ratio: float
    logged: tuple[Logged, ...]


@dataclass(frozen=True, slots=True)
class LastUse:
    """What was measured in a setup last: what a command for it can name. '' and None where nothing was."""

    item: str
    position: str
    pin: str
    distance_mm: float | None


@dataclass(frozen=True, slots=True)
class Answer:
    """A setup as it is now. ``counted``: the way round its angles are said to be counted, facing the nose.

    ``bodies``: the one that decides first.
    """

    setup: str
    setup_revision: int
    counted: str
    state: SenseState
    bodies: tuple[Body, ...]
    last_use: LastUse


@dataclass(frozen=True, slots=True)
class _Place:
    """Series that differ in the angle of one body only."""

    revision_id: int
    body: str
    series: tuple[Series, ...]
    angles_deg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class _Clamping:
    """A clamping with its eccentricity. ``floor``: the variance in µm^2 an axis that the step and the eye alone give
    (of a turn read at quarter turns, or a direction seen); ``angle_deg``: of the body looked at."""

    id: int
    item: str
    sitting: int
    vector: complex
    floor: float
    angle_deg: float = 0.0


def sense(store: Store, code: str | None = None) -> list[Answer]:
    """One answer a setup, of all or of the one named. Raises NotFoundError."""
    with store.reading() as connection:
        register = Register(connection)
        setups = register.names("setup") if code is None else [register.need(code, "setup")]
        bodies = turned_bodies(connection, [register.revisions(setup.id)[-1].id for setup in setups])
        return [_answer(connection, register, setup, bodies) for setup in setups]


def sense_of(found: Sense) -> SenseState:
    """What a trial shows, as it is told."""
    return _STATES[found]


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _answer(connection: sa.Connection, register: Register, setup: Name, bodies: dict[int, tuple[Body, ...]]) -> Answer:
    revision = register.revisions(setup.id)[-1]
    turned = bodies.get(revision.id, ())
    last = last_in_setup(connection, revision.id)
    positions = register.positions(setup.id)
    return Answer(
        setup=setup.text,
        setup_revision=revision.number,
        counted=revision.sense,
        state=turned[0].state if turned else SenseState.NOT_TRIED,
        bodies=turned,
        last_use=LastUse(
            item=register.text(last.item_id) if last.item_id else "",
            position=last.position or (positions[0] if positions else ""),
            pin=last.pin,
            distance_mm=None if last.distance_pm is None else last.distance_pm / 1e9,
        ),
    )


def turned_bodies(connection: sa.Connection, revisions: Sequence[int]) -> dict[int, tuple[Body, ...]]:
    """By setup revision, the bodies that tell of its sense, the one that decides first; revisions with some only."""
    clocked = [
        one for one in read_series(connection, revisions=revisions, clocked=True) if one.characteristic in SWINGS
    ]
    places = _places(clocked)
    clampings = _clampings(connection, {one.id: one for one in clocked}) if clocked else {}
    by_body: dict[tuple[int, str], list[list[_Clamping]]] = defaultdict(list)
    for place in places:
        by_body[place.revision_id, place.body].append(
            [
                dataclasses.replace(clamping, angle_deg=angle)
                for one, angle in zip(place.series, place.angles_deg, strict=True)
                for clamping in clampings.get(one.id, ())
            ]
        )
    misfits = {key: told for key, found in by_body.items() if (told := _misfits(found))}
    tried: dict[int, list[Body]] = defaultdict(list)
    for (revision, body), (parts, used) in misfits.items():
        bodies = sum(other == revision for other, _ in misfits)
        test = judge_sense(parts, risk=RISK / bodies)
        tried[revision].append(Body(body, sense_of(test.sense), len(used), test.ratio, _logged(used)))
    decided = {revision for revision, told in tried.items() if any(one.state in _TELLING[:2] for one in told)}
    for revision, chain in _as_chains([one for one in clocked if one.revision_id not in decided], clampings):
        tried[revision].append(chain)
    return {
        revision: tuple(sorted(told, key=lambda one: (_TELLING.index(one.state), -one.clampings, one.code)))
        for revision, told in tried.items()
    }


def _places(clocked: Iterable[Series]) -> list[_Place]:
    """Where one body was turned to three or more angles and all else was the same; the farthest out first."""
    found: dict[tuple[Any, ...], dict[Series, float]] = defaultdict(dict)
    for one in clocked:
        clocking = parse_clocking(one.clocking)
        for body, angle in clocking:
            others = tuple(pair for pair in clocking if pair[0] != body)
            found[body, others, dataclasses.replace(one, id=0, clocking="", tried=False)][one] = angle / 1000
    places = [
        _Place(place.revision_id, body, tuple(angles), tuple(angles.values()))
        for (body, _, place), angles in found.items()
        if len(angles) >= FEWEST_ANGLES
    ]
    return sorted(places, key=lambda place: -place.series[0].distance_tenths)


def _as_chains(clocked: Iterable[Series], clampings: dict[int, list[_Clamping]]) -> Iterable[tuple[int, Body]]:
    """Where several bodies were turned, what all their clampings together tell, by setup revision. Half turns alone fit
    alike both ways round, and are no trial."""
    chains: dict[tuple[Series, frozenset[str]], list[Series]] = defaultdict(list)
    for one in clocked:
        place = dataclasses.replace(one, id=0, clocking="", tried=False, distance_tenths=0)
        chains[place, same_bodies(one.clocking)].append(one)
    for (place, bodies), series in chains.items():
        far = max((one.distance_tenths for one in series if one.id in clampings), default=0)
        turned = [
            ({body.casefold(): angle / 1000 for body, angle in parse_clocking(one.clocking)}, clamping)
            for one in series
            if one.distance_tenths == far
            for clamping in clampings.get(one.id, ())
        ]
        angles = [[at[body] for body in sorted(bodies)] for at, _ in turned]
        if len(bodies) < 2 or len(set(map(tuple, angles))) < FEWEST_ANGLES:
            continue
        used = [clamping for _, clamping in turned]
        floor = float(np.mean([one.floor for one in used])) ** 0.5
        found = chain_misfit([one.vector for one in used], angles, [one.sitting for one in used], floor_um=floor)
        if found is not None and not math.isclose(found.as_said_um2, found.other_way_um2, rel_tol=1e-9):
            test = judge_sense([found])
            code = " and ".join(body for body, _ in parse_clocking(series[0].clocking))
            yield place.revision_id, Body(code, sense_of(test.sense), len(used), test.ratio, _logged(used))


def _clampings(connection: sa.Connection, series: dict[int, Series]) -> dict[int, list[_Clamping]]:
    """The clampings of some series that have an eccentricity, by the series."""
    figures = read_figures(connection, list(series))
    clampings: dict[int, list[_Clamping]] = defaultdict(list)
    for row in np.lexsort((figures.clamping, figures.series)).tolist():
        vector, within = complex(figures.vector[row]), float(figures.within_rad[row])
        if np.isnan(vector):
            continue
        one = series[int(figures.series[row])]
        rounding, by_eye = rounding_sd(float(figures.step_um[row])), abs(vector) * within / 3**0.5
        clampings[one.id].append(
            _Clamping(
                id=int(figures.clamping[row]),
                item=one.item,
                sitting=int(figures.sitting[row]),
                vector=vector,
                floor=(rounding**2 + by_eye**2) / 2,
            )
        )
    return clampings


def _misfits(places: list[list[_Clamping]]) -> tuple[list[Misfit], list[_Clamping]] | None:
    """What both senses leave of one body's clampings, place by place, and the clampings that tell; None if none do.

    A clamping counts once, however many distances it was read at. A sitting in which the body stood at three or more
    clockings is fitted by itself. Of sittings with one clocking each the means are fitted together, for what changes
    from day to day is common to all clampings of one; each such sitting serves one place.
    """
    parts: list[Misfit] = []
    used: dict[int, _Clamping] = {}
    spent: set[int] = set()
    for place in sorted(places, key=len, reverse=True):
        sittings: dict[int, list[_Clamping]] = defaultdict(list)
        for one in place:
            if one.id not in used:
                sittings[one.sitting].append(one)
        single = [each for sitting, each in sittings.items() if _angles(each) == 1 and sitting not in spent]
        for together in [each for each in sittings.values() if _angles(each) >= FEWEST_ANGLES]:
            parts.append(_misfit(together))
            used |= {one.id: one for one in together}
        means = [dataclasses.replace(each[0], vector=complex(np.mean([one.vector for one in each]))) for each in single]
        if _angles(means) >= FEWEST_ANGLES:
            parts.append(_misfit(means))
            used |= {one.id: one for each in single for one in each}
            spent |= {each[0].sitting for each in single}
    return (parts, list(used.values())) if parts else None


def _angles(clampings: list[_Clamping]) -> int:
    return len({one.angle_deg for one in clampings})


def _misfit(clampings: list[_Clamping]) -> Misfit:
    floor = float(np.mean([one.floor for one in clampings]))
    return misfit([one.vector for one in clampings], [one.angle_deg for one in clampings], floor_um=floor**0.5)


def _logged(used: list[_Clamping]) -> tuple[Logged, ...]:
    items: dict[str, list[int]] = defaultdict(list)
    for one in used:
        items[one.item].append(one.id)
    return tuple(Logged(item, tuple(sorted(numbers))) for item, numbers in sorted(items.items()))
