"""Which key position is right for all that is held in a chuck, or is it to be chosen item by item?

The key pushes the closing centre towards the position it is turned at. Whether that helps an item depends on where
its own run-out lies: over many items that is a share, not a difference of means. With the high spot of every
clamping the push itself is found, and what may be said of the chuck; swings alone count which position was better.
"""

import dataclasses
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from qclog.logbook.engine import Store
from qclog.logbook.figures import Series
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, read_owned
from qclog.notation import format_clocking, parse_clocking
from qclog.questions.codes import Caveat, KeyStatement
from qclog.questions.comparing.directions import Shift, shift_of
from qclog.questions.comparing.sets import Measured, diameter_mm, high_spots_missing, read_measured
from qclog.questions.judging.alike import size_class
from qclog.statistics.comparing.key_positions import (
    FEWEST_CLAMPINGS,
    FEWEST_COLLETS,
    RISK,
    Statement,
    key_shift,
    key_swings,
)

CONFIDENCE: Final = 0.95
VECTORS, SWINGS = "vectors of many items", "swings of many items"
_STATEMENTS: Final = {
    Statement.NO_EFFECT_SHOWN: KeyStatement.NO_EFFECT,
    Statement.HOLE_A: KeyStatement.ONE_POSITION,
    Statement.HOLE_B: KeyStatement.ONE_POSITION,
    Statement.PER_COLLET: KeyStatement.PER_ITEM,
    Statement.NO_WINNER_SHOWN: KeyStatement.NO_WINNER,
}
_SETTLED: Final = (KeyStatement.ONE_POSITION, KeyStatement.PER_ITEM)

_Pair = tuple[Measured, Measured]


@dataclass(frozen=True, slots=True)
class ItemAtBoth:
    """One item at the first and the second position: clampings, and the TIR of its mean vector, or from swings
    alone its mean swing. ``better``: the position of the smaller one, None where they are equal."""

    item: str
    diameter_mm: float | None
    clampings: tuple[int, int]
    tir_um: tuple[float, float]
    better: str | None


@dataclass(frozen=True, slots=True)
class Chance:
    """The chance that the first position is the better one for a further item, and its interval."""

    value: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Size:
    """Bounds on the TIR that the shift causes, from swings alone; its direction stays unknown.

    ``mean_low``, ``mean_high``: as the mean swings stand; ``low``, ``high``: with their scatter counted.
    """

    mean_low: float
    mean_high: float
    low: float
    high: float
    confidence: float


@dataclass(frozen=True, slots=True)
class Diameters:
    """The smallest and the largest diameter of the pins, or of the items where no pin is known."""

    smallest: float
    largest: float


@dataclass(frozen=True, slots=True)
class Answer:
    """Two key positions of one setup, over the items measured at both.

    ``kind``: of all these items, "item" where they are of several kinds. ``shift``: what the first position does to
    the axis of the work; the second does the opposite. ``p_value`` of no shift, ``p_depends`` of its effect being
    the same for all items, which ``depends`` denies at 5 %. ``better`` names a position only with the statement
    "one_position". ``wins``: how many of the measured items run better at the first. ``chance`` is None where no
    effect is shown, ``size_um`` where no single size fits the swings of all items.
    """

    setup: str
    setup_revision: int
    positions: tuple[str, str]
    distance_mm: float
    diameter_mm: Diameters | None
    clocking: str
    characteristic: str
    kind: str
    items: tuple[ItemAtBoth, ...]
    statement: KeyStatement
    better: str | None
    wins: int
    chance: Chance | None
    shift: Shift | None
    size_um: Size | None
    p_value: float | None
    p_depends: float
    depends: bool
    method: str
    caveats: tuple[Caveat, ...]


class _Place(NamedTuple):
    """What the items of one answer share. ``clocking``: of what stays in the setup when the item goes."""

    setup: str
    first: str
    second: str
    distance_tenths: int
    characteristic: str
    clocking: str
    diameter_class: int


def key_positions(store: Store, *, setup: str | None = None) -> list[Answer]:
    """One answer for every two key positions of a setup, distance, characteristic and class of diameters.

    Of all items as they are now, two or more, with two clampings or more at both; in the setup named or in all. What
    is in doubt is left out.
    The classes are the bore ranges of the collet standard. Raises NotFoundError for a setup that is not registered.
    """
    with store.reading() as connection:
        register = Register(connection)
        if setup is not None:
            setup = register.need(setup, "setup").text
        owned = read_owned(connection)
        measured = [one for one in read_measured(connection, owned, None, setup) if not one.in_doubt]
        pins = frozenset(pin.text.casefold() for pin in register.names("pin"))
    at_both = _at_both(measured, owned, pins)
    answers = {
        place: _answer(place, list(at_both[place].values()), owned)
        for place in sorted(at_both)
        if len(at_both[place]) >= FEWEST_COLLETS
    }
    return _by_diameter(answers)


def _at_both(
    measured: Sequence[Measured], owned: Mapping[int, Owned], pins: frozenset[str]
) -> dict[_Place, dict[int, _Pair]]:
    """By place and item: the clampings at two positions.

    An item that was measured with several pins of a class, or clocked in several ways, counts once, with those it
    was clamped on most.
    """
    alike: dict[tuple[Any, ...], list[Measured]] = {}
    for one in measured:
        s = one.series
        if s.position and one.swings.size >= FEWEST_CLAMPINGS:
            key = (s.item_id, s.setup_id, s.clocking, s.diameter_tenths, s.distance_tenths, s.characteristic)
            alike.setdefault(key, []).append(one)
    found: dict[_Place, dict[int, _Pair]] = {}
    for members in alike.values():
        for first, second in itertools.combinations(sorted(members, key=lambda one: one.series.position), 2):
            s, diameter = first.series, _diameter(first.series, owned)
            place = _Place(
                setup=s.setup,
                first=s.position,
                second=second.series.position,
                distance_tenths=s.distance_tenths,
                characteristic=s.characteristic,
                clocking=_shared_clocking(s, pins),
                diameter_class=-1 if diameter is None else size_class(diameter),
            )
            kept = found.setdefault(place, {})
            if s.item_id not in kept or _fewest(kept[s.item_id]) < _fewest((first, second)):
                kept[s.item_id] = (first, second)
    return found


def _fewest(pair: _Pair) -> int:
    return min(one.swings.size for one in pair)


def _diameter(one: Series, owned: Mapping[int, Owned]) -> float | None:
    """The diameter held, mm: of the pin, else of the item."""
    size = owned[one.item_id].size_pm
    return diameter_mm(one) if one.diameter_tenths >= 0 or size is None else size / 1e9


def _shared_clocking(one: Series, pins: frozenset[str]) -> str:
    """How the bodies were turned that stay in the setup when the item and its pin go."""
    going = pins | {one.item.casefold()}
    return format_clocking(tuple(pair for pair in parse_clocking(one.clocking) if pair[0].casefold() not in going))


def _answer(place: _Place, pairs: list[_Pair], owned: Mapping[int, Owned]) -> Answer:
    """From vectors where half of the items or more have them, else from the swings of all."""
    directed = [pair for pair in pairs if all(one.has_directions for one in pair)]
    by_vectors = len(directed) >= FEWEST_COLLETS and 2 * len(directed) >= len(pairs)
    caveats = high_spots_missing(one for pair in pairs for one in pair)
    pairs = directed if by_vectors else pairs
    if any(first.sittings != second.sittings for first, second in pairs):
        caveats.append(Caveat.DIFFERENT_DAYS)
    if any(one.check_failed for pair in pairs for one in pair):
        caveats.append(Caveat.CHECK_FAILED)
    holders = [owned[first.series.item_id] for first, _ in pairs]
    first = pairs[0][0].series
    if any(one.married_setup == first.setup and one.married_position in place[1:3] for one in holders):
        caveats.append(Caveat.BORED_IN_PLACE)
    kinds = {one.kind for one in holders}
    diameters = [diameter for one, _ in pairs if (diameter := _diameter(one.series, owned)) is not None]
    told = (_from_vectors if by_vectors else _from_swings)(place, pairs)
    items = tuple(_item(pair, owned, by_vectors=by_vectors) for pair in pairs)
    return Answer(
        setup=first.setup,
        setup_revision=first.revision,
        positions=(place.first, place.second),
        distance_mm=first.distance_tenths / 10,
        diameter_mm=Diameters(min(diameters), max(diameters)) if diameters else None,
        clocking=place.clocking,
        characteristic=first.characteristic,
        kind=kinds.pop() if len(kinds) == 1 and "other" not in kinds else "item",
        items=items,
        wins=sum(item.better == place.first for item in items),
        depends=told["p_depends"] <= RISK,
        caveats=tuple(caveats),
        **told,
    )


def _item(pair: _Pair, owned: Mapping[int, Owned], *, by_vectors: bool) -> ItemAtBoth:
    first, second = (2 * abs(one.vectors.mean()) if by_vectors else one.swings.mean() for one in pair)
    better = None if first == second else pair[bool(second < first)].series.position
    series = pair[0].series
    return ItemAtBoth(
        series.item,
        _diameter(series, owned),
        (pair[0].swings.size, pair[1].swings.size),
        (float(first), float(second)),
        better,
    )


def _from_vectors(place: _Place, pairs: list[_Pair]) -> dict[str, Any]:
    found = key_shift([a.vectors for a, _ in pairs], [b.vectors for _, b in pairs], resolution_um=_step(pairs))
    statement = _STATEMENTS[found.statement]
    better = {Statement.HOLE_A: place.first, Statement.HOLE_B: place.second}.get(found.statement)
    chance = Chance(found.p_a_wins, found.p_a_low, found.p_a_high, CONFIDENCE)
    return {
        "statement": statement,
        "better": better,
        "chance": None if statement is KeyStatement.NO_EFFECT else chance,
        "shift": shift_of(found.shift_um, found.radius_um),
        "size_um": None,
        "p_value": found.p_value,
        "p_depends": found.p_depends,
        "method": VECTORS,
    }


def _from_swings(_: _Place, pairs: list[_Pair]) -> dict[str, Any]:
    """Never a winner for the chuck: how many of those measured run better, and how large the shift may be."""
    found = key_swings([a.swings for a, _ in pairs], [b.swings for _, b in pairs], resolution_um=_step(pairs))
    size = Size(2 * found.narrow_low_um, 2 * found.narrow_high_um, 2 * found.low_um, 2 * found.high_um, CONFIDENCE)
    return {
        "statement": KeyStatement.PER_ITEM if found.crossing_proven else KeyStatement.COUNTED,
        "better": None,
        "chance": Chance(found.next_a_wins, found.wins_low, found.wins_high, CONFIDENCE),
        "shift": None,
        "size_um": size if size.low <= size.high else None,
        "p_value": None,
        "p_depends": found.p_depends,
        "method": SWINGS,
    }


def _step(pairs: list[_Pair]) -> float:
    return max(one.step_um for pair in pairs for one in pair)


def _by_diameter(answers: Mapping[_Place, Answer]) -> list[Answer]:
    """The answers, with a caveat where those of several classes of diameters do not agree."""
    told: dict[_Place, list[Answer]] = {}
    for place, answer in answers.items():
        told.setdefault(place._replace(diameter_class=0), []).append(answer)
    return [
        dataclasses.replace(one, caveats=(*one.caveats, Caveat.DIAMETER_MATTERS)) if _disagree(alike) else one
        for alike in told.values()
        for one in alike
    ]


def _disagree(answers: Sequence[Answer]) -> bool:
    settled = all(one.statement in _SETTLED for one in answers)
    return len(answers) > 1 and (not settled or len({(one.statement, one.better) for one in answers}) > 1)
