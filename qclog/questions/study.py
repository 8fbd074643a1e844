"""How good is the way of measuring: what of the scatter is the reading's, the clamping's, the pin's, the person's?

Whatever the logbook holds is taken: readings repeated in a clamping, clampings repeated on a day, days, persons, pins
and indicators, nested or crossed. Places (item, key position, clocking, diameter) have means of their own.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.figures import Series, read_series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import read_owned, read_setups
from qclog.logbook.read_turns import ReadTurn, read_turns
from qclog.questions.codes import Cause, Caveat, NotTold
from qclog.questions.judging.alike import is_current
from qclog.questions.judging.gauging import Gauges, read_gauges_of
from qclog.questions.studying.model import Labels, Missing, labels, model_of, named
from qclog.statistics.samples import rounding_sd
from qclog.statistics.studying.components import Components, degrees_of_freedom, variance_components
from qclog.statistics.studying.mean_squares import Estimate

QUESTION: Final = "study"
VECTORS, SWINGS, POWERS = "vectors", "swings", "powers of swings"
_NEAR_NORMAL: Final = 3.0
"""Swings are normal enough on their own scale where the mean is this many standard deviations."""
_POWER: Final = 2.0 / 3.0
_FEW_LEVELS: Final = 5
_MIDDLE: Final = 1.959964
"""Standard deviations from the mean within which 19 in 20 of a normal distribution lie."""


@dataclass(frozen=True, slots=True)
class Part:
    """What one cause adds to the scatter, as a standard deviation in µm TIR with its 95 % interval.

    ``share``: of the variance of all causes together. ``levels``: how many of it there are (persons, pins, clampings,
    readings); ``df``: the degrees of freedom it was told by. ``together_with``: causes that were always changed with
    it, so that the figure is theirs together.
    """

    cause: Cause
    sd_um: float
    low_um: float
    high_um: float
    share: float
    levels: int
    df: int
    together_with: tuple[Cause, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """A standard deviation in µm TIR with its 95 % interval."""

    sd_um: float
    low_um: float
    high_um: float


@dataclass(frozen=True, slots=True)
class PlaceMean:
    """The mean swing of a place; places differ by more than the measuring, and are no part of its scatter.
    ``pins_mm``: the diameters of the pins used, the smallest first, where ``diameter_mm`` tells pins to a tenth."""

    item: str
    position: str
    clocking: str
    diameter_mm: float | None
    pins_mm: tuple[float, ...]
    clampings: int
    mean_um: float


@dataclass(frozen=True, slots=True)
class Answer:
    """One setup at one distance, over ``items``.

    ``parts``: the largest first, empty where nothing is repeated; ``missing``: the causes that were not told apart.
    ``repeatability``: of reading the same clamping again, None where it was not told apart. ``one_clamping``: clamped
    anew and read once, by the same person on the same day with the same pin. ``reproducibility``: all causes together;
    ``without_largest_um``: what would be left of it without the largest part. ``places``: the means, which are no part
    of the scatter. ``scale``: "vectors" (both axes of the once-per-turn part, told as the TIR they cause), "swings", or
    "powers of swings" (T^(2/3), brought back at the mean swing: the swings are small against their scatter and skewed).
    ``method``: "mean squares" or "restricted likelihood", the latter where not ``balanced``: not everything was
    repeated equally often. ``resolution_um``: the finest step read. ``confidence``: of all intervals.
    """

    setup: str
    setup_revision: int
    distance_mm: float
    characteristic: str
    items: tuple[str, ...]
    clampings: int
    readings: int
    mean_um: float
    parts: tuple[Part, ...]
    missing: tuple[Missing, ...]
    repeatability: Spread | None
    one_clamping: Spread | None
    reproducibility: Spread | None
    without_largest_um: float | None
    places: tuple[PlaceMean, ...]
    scale: str
    method: str
    balanced: bool
    resolution_um: float
    confidence: float
    caveats: tuple[Caveat, ...]


def study(store: Store, codes: Sequence[str], *, setup: str | None = None) -> list[Answer]:
    """One answer for each setup and distance, over the items named together, as they are now.

    Raises NotFoundError.
    """
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in dict.fromkeys(codes)]
        if setup is not None:
            setup = register.need(setup, "setup").text
        return _answers(connection, items, setup)


def within_um(sd_um: float) -> float:
    """How far 19 readings in 20 lie from their mean at the most, above or below, by a standard deviation in µm."""
    return _MIDDLE * sd_um


def document(answers: Iterable[Answer]) -> dict[str, Any]:
    """The answers as plain values for JSON."""
    return {"question": QUESTION, "answers": [dataclasses.asdict(answer) for answer in answers]}


def _answers(connection: sa.Connection, items: Sequence[int], setup: str | None) -> list[Answer]:
    owned, setups = read_owned(connection, items), read_setups(connection)
    series = {
        one.id: one
        for one in read_series(connection, items=items)
        if is_current(one, owned)
        and one.setup_id
        and one.revision == setups[one.setup_id].revision
        and (setup is None or one.setup == setup)
    }
    gathered: dict[tuple[Any, ...], list[ReadTurn]] = {}
    for turn in read_turns(connection, list(series)):
        one = series[turn.series]
        key = (one.setup, one.revision, one.distance_tenths, one.characteristic)
        gathered.setdefault(key, []).append(turn)
    gauges = read_gauges_of(connection)
    return [_answer(key, turns, series, gauges) for key, turns in sorted(gathered.items())]


def _answer(key: tuple[Any, ...], turns: list[ReadTurn], series: dict[int, Series], gauges: Gauges) -> Answer:
    place = labels([_place(series[turn.series]) for turn in turns])
    clamping = labels([turn.clamping for turn in turns])
    values, scale, slope = _values(turns, place)
    factors, together, missing = model_of(turns, place, clamping)
    found = _components(values, factors, place, clamping, missing)
    swings = np.array([turn.value_um for turn in turns])
    step = min(turn.step_um for turn in turns)
    parts = _parts(found, factors, together, clamping, slope) if found else ()
    spread_of = None if found is None else lambda causes: _spread(found.sum_of(causes), slope)
    reading = [part for part in parts if part.cause == Cause.READING]
    largest = parts[0].sd_um if parts else 0.0
    whole = None if found is None else _spread(found.total, slope)
    caveats = []
    if reading and reading[0].sd_um < rounding_sd(step):
        caveats.append(Caveat.RESOLUTION_FLOOR)
    if any(part.levels < _FEW_LEVELS for part in parts):
        caveats.append(Caveat.FEW_LEVELS)
    if gauges.unsure(np.array([turn.gauging for turn in turns]), np.array([turn.order for turn in turns])).any():
        caveats.append(Caveat.CHECK_FAILED)
    return Answer(
        setup=key[0],
        setup_revision=key[1],
        distance_mm=key[2] / 10,
        characteristic=key[3],
        items=tuple(dict.fromkeys(series[turn.series].item for turn in turns)),
        clampings=int(clamping.max()) + 1,
        readings=len(turns),
        mean_um=float(swings.mean()),
        parts=parts,
        missing=tuple(missing),
        repeatability=spread_of([Cause.READING]) if spread_of and reading else None,
        one_clamping=spread_of([Cause.CLAMPING, Cause.READING]) if spread_of else None,
        reproducibility=whole,
        without_largest_um=None if whole is None else float(np.sqrt(max(whole.sd_um**2 - largest**2, 0.0))),
        places=_means(turns, series, place),
        scale=scale,
        method="restricted likelihood" if found and found.by_likelihood else "mean squares",
        balanced=bool(found and found.balanced),
        resolution_um=step,
        confidence=0.95,
        caveats=tuple(caveats),
    )


def _values(turns: Sequence[ReadTurn], place: Labels) -> tuple[npt.NDArray[Any], str, float]:
    """What is analysed, on which scale, and how many µm TIR a unit of it is."""
    if all(turn.vector is not None for turn in turns):
        return np.array([turn.vector for turn in turns], dtype=np.complex128), VECTORS, 2.0
    swings = np.array([turn.value_um for turn in turns])
    mean = np.bincount(place, swings) / np.bincount(place)
    df = len(turns) - len(mean)
    sd = float(np.sqrt(np.sum((swings - mean[place]) ** 2) / max(df, 1)))
    if mean.min() >= _NEAR_NORMAL * sd:
        return swings, SWINGS, 1.0
    return swings**_POWER, POWERS, float(swings.mean() ** (1.0 - _POWER) / _POWER)


def _components(
    values: npt.NDArray[Any],
    factors: dict[Cause, Labels],
    place: Labels,
    clamping: Labels,
    missing: list[Missing],
) -> Components | None:
    """The components, or None where nothing is left to tell them by. Says where readings were not repeated."""
    count = int(clamping.max()) + 1
    df = degrees_of_freedom(named(factors, clamping), fixed=place)
    repeated = count < len(values)
    if not repeated:
        missing.append(Missing(Cause.READING, NotTold.NOT_REPEATED, Cause.CLAMPING))
    if df[Cause.CLAMPING] == 0:
        missing.append(Missing(Cause.CLAMPING, NotTold.NOT_REPEATED, None))
        return None
    if repeated:
        return variance_components(values, named(factors, clamping), fixed=place, rest=Cause.READING.value)
    return variance_components(values, named(factors), fixed=place, rest=Cause.CLAMPING.value)


def _parts(
    found: Components,
    factors: dict[Cause, Labels],
    together: dict[Cause, list[Cause]],
    clamping: Labels,
    slope: float,
) -> tuple[Part, ...]:
    levels = {cause: int(label.max()) + 1 for cause, label in factors.items()}
    levels |= {Cause.CLAMPING: int(clamping.max()) + 1, Cause.READING: len(clamping)}
    df = {stratum.name: stratum.df for stratum in found.strata}
    whole = sum(estimate.variance for estimate in found.estimates)
    parts = []
    for name, estimate in zip(found.names, found.estimates, strict=True):
        cause, spread = Cause(name), _spread(estimate, slope)
        also = tuple(together.get(cause, ()))
        if cause == Cause.CLAMPING and Cause.READING not in found.names:
            also = (Cause.READING, *also)
        share = estimate.variance / whole if whole else 0.0
        parts.append(Part(cause, spread.sd_um, spread.low_um, spread.high_um, share, levels[cause], df[name], also))
    return tuple(sorted(parts, key=lambda part: -part.sd_um))


def _means(turns: Sequence[ReadTurn], series: dict[int, Series], place: Labels) -> tuple[PlaceMean, ...]:
    found = []
    for number in range(int(place.max()) + 1):
        here = [turn for turn, label in zip(turns, place.tolist(), strict=True) if label == number]
        one = series[here[0].series]
        found.append(
            PlaceMean(
                item=one.item,
                position=one.position,
                clocking=one.clocking,
                diameter_mm=None if one.diameter_tenths < 0 else one.diameter_tenths / 10,
                pins_mm=tuple(sorted({turn.diameter_mm for turn in here if turn.diameter_mm is not None})),
                clampings=len({turn.clamping for turn in here}),
                mean_um=float(np.mean([turn.value_um for turn in here])),
            )
        )
    return tuple(found)


def _spread(estimate: Estimate, slope: float) -> Spread:
    return Spread(*(slope * float(np.sqrt(v)) for v in (estimate.variance, estimate.low, estimate.high)))


def _place(one: Series) -> tuple[Any, ...]:
    return (one.item, one.position, one.clocking, one.diameter_tenths)
