"""Everything that is known of an item, for its page: what the questions answer, and the readings behind it.

Asks nothing of its own; it gathers the answers of ``assess``, ``compare``, ``wear`` and ``chart`` and lays the
clampings beside them, by place and history.
"""

import dataclasses
import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import sqlalchemy as sa

from qclog.logbook.engine import Store
from qclog.logbook.figures import LaidOut, Series, read_laid_out, read_series
from qclog.logbook.life import Life, read_life
from qclog.logbook.lookup import Register
from qclog.logbook.owned import Owned, OwnedSetup, read_owned, read_parts, read_setups
from qclog.logbook.told_by_pins import read_value_ends
from qclog.questions import assess, chain, chart, compare, due, sense, turns, wear
from qclog.questions.changing.course import Course, courses
from qclog.questions.judging.groups import Eccentricity, Group, eccentricity_of
from qclog.questions.judging.limits import governing
from qclog.questions.judging.systematic import Systematic, systematic
from qclog.questions.judging.values import ValueGroup
from qclog.questions.newest_turns import NewestTurn, newest_turns
from qclog.records import SWINGS
from qclog.statistics.changing.gaining import Gain, gain

_AT_ONCE: Final = 20
"""Items whose readings are in memory together."""
_AboutItem = TypeVar("_AboutItem", compare.Answer, wear.Answer, Course, chart.Answer)


@dataclass(frozen=True, slots=True)
class Point:
    """One clamping at one place: its swing or plain value, and its once-per-turn part where that is known.

    ``counts`` is false for what no figure rests on: recalled readings and those with a steep lever, and those in doubt
    where there are others. No verdict rests on what is in doubt.
    """

    clamping: int
    sitting: int
    taken_at: str
    value_um: float
    counts: bool
    in_doubt: bool
    vector: complex | None
    eccentricity: Eccentricity | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """The clampings of one history at one place, in the order of time, and the limit in force then, and whose it
    is: the "item"'s or the "setup"'s."""

    modification: int
    what: str
    revision: int
    diameter_mm: float | None
    limit_um: float | None
    limit_from: str | None
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Where an item was measured. ``groups``: as assessed now, one for each pin diameter; empty if not measured
    since it was last modified."""

    setup: str
    position: str
    clocking: str
    distance_mm: float
    characteristic: str
    stretches: tuple[Stretch, ...]
    groups: tuple[Group, ...]

    def points_of(self, group: Group | ValueGroup) -> tuple[Point, ...]:
        """The clampings that stand behind a group."""
        newest = max(stretch.modification for stretch in self.stretches)
        return tuple(
            point
            for stretch in self.stretches
            if (stretch.modification, stretch.revision, stretch.diameter_mm)
            == (newest, group.setup_revision, group.diameter_mm)
            for point in stretch.points
            if point.counts
        )

    def gained_of(self, group: Group | ValueGroup) -> "Gained | None":
        """What the last modification gained at the place of a group; None where nothing was read here before it, or
        some of it is in doubt. Of several pins before, the one read last."""
        since, number = self.points_of(group), max(stretch.modification for stretch in self.stretches)
        older = [stretch for stretch in self.stretches if stretch.modification < number and _sound(stretch)]
        if not since or not older or any(point.in_doubt for point in since):
            return None
        before = max(older, key=lambda stretch: (stretch.modification, stretch.revision, stretch.points[-1].taken_at))
        points = _sound(before)
        found = gain(
            [point.value_um for point in points],
            [point.sitting for point in points],
            [point.value_um for point in since],
            [point.sitting for point in since],
            resolution_um=group.resolution_um,
            swings=self.characteristic in SWINGS,
        )
        return Gained(before, points, since, found, setup_changed=before.revision != group.setup_revision)

    def systematic_of(self, group: Group) -> Systematic | None:
        """How well the mean vector of a group is known; None where a clamping has no direction."""
        points = self.points_of(group)
        vectors = [point.vector for point in points if point.vector is not None]
        if group.eccentricity is None or len(vectors) < len(points):
            return None
        return systematic(vectors, [point.sitting for point in points], group.resolution_um)


@dataclass(frozen=True, slots=True)
class Gained:
    """The clampings before a modification and those since, and what it gained. ``setup_changed``: the setup was too,
    so that the gain is not of the modification alone."""

    stretch: Stretch
    before: tuple[Point, ...]
    since: tuple[Point, ...]
    gain: Gain
    setup_changed: bool


@dataclass(frozen=True, slots=True)
class ValueGained:
    """What the last modification changed of a plain value, as it is assessed now, where it was read before too."""

    group: ValueGroup
    place: Place
    gained: Gained


@dataclass(frozen=True, slots=True)
class Dossier:
    """One item: its life as logged, the answers about it, and its clampings by place. ``due``: what is due of it and of
    the gauges it was measured with as it is now; ``part_of``: the setups it is a part of, which what sits in them
    measures."""

    life: Life
    assessed: assess.Answer
    places: tuple[Place, ...]
    values_gained: tuple[ValueGained, ...]
    compared: tuple[compare.Answer, ...]
    worn: tuple[wear.Answer, ...]
    courses: tuple[Course, ...]
    charts: tuple[chart.Answer, ...]
    turns: turns.Answer
    newest_turns: tuple[NewestTurn, ...]
    chains: tuple[chain.Answer, ...]
    senses: tuple[sense.Answer, ...]
    due: tuple[due.Due, ...]
    part_of: tuple[str, ...]


def dossiers(store: Store, codes: Sequence[str] = ()) -> list[Dossier]:
    """The items named, or all, in the order of their codes. Raises NotFoundError."""
    return list(one_by_one(store, codes))


def one_by_one(store: Store, codes: Sequence[str] = ()) -> Iterator[Dossier]:
    """As ``dossiers``, each when it is wanted: of all that was read only a few items are in memory at once."""
    with store.reading() as connection:
        register = Register(connection)
        items = [register.need(code, "item").id for code in codes] or None
        owned, setups = read_owned(connection, items), read_setups(connection)
        waiting, parts = due.due_in(connection, items), read_parts(connection)
    named = [item.code for item in owned.values()] if codes else []
    answers = [a for code in named for a in assess.assess(store, code)] if codes else assess.assess(store)
    assessed = {answer.item: answer for answer in answers if answer.item}
    compared, worn = _by_item(compare.compare(store, named)), _by_item(wear.wear(store, named))
    chained, senses = chain.chain(store), tuple(sense.sense(store))
    due_of: dict[str, list[tuple[int, due.Due]]] = defaultdict(list)
    for place, one in enumerate(waiting):
        due_of[one.code].append((place, one))
    noises: dict[int, turns.Noise] = {}
    every = list(owned.values())
    for start in range(0, len(every), _AT_ONCE):
        some = every[start : start + _AT_ONCE]
        with store.reading() as connection:
            lives = {item.id: read_life(connection, item.code) for item in some}
            places = {item.id: _places(connection, item, lives[item.id], setups) for item in some}
            of_values = {item.id: _value_places(connection, item, lives[item.id]) for item in some}
        names = [item.code for item in some]
        went, charted = _by_item(courses(store, names)), _by_item(chart.chart(store, names))
        for item in some:
            answer = assessed.get(item.code) or assess.unmeasured(item)
            read = turns.turns(store, item.code, noises)
            yield Dossier(
                life=lives[item.id],
                assessed=answer,
                places=tuple(_with_groups(place, answer.groups) for place in places[item.id]),
                values_gained=tuple(_values_gained(of_values[item.id], answer.values)),
                compared=tuple(compared[item.code]),
                worn=tuple(worn[item.code]),
                courses=tuple(went[item.code]),
                charts=tuple(charted[item.code]),
                turns=read,
                newest_turns=newest_turns(read.turns),
                chains=tuple(one for one in chained if _takes_part(item.code, one)),
                senses=senses,
                due=_due_of(lives[item.id], due_of),
                part_of=parts.get(item.id, ()),
            )


def _due_of(life: Life, due_of: Mapping[str, Sequence[tuple[int, due.Due]]]) -> tuple[due.Due, ...]:
    """What is due of an item, and of the gauges it was measured with as it is now, the most urgent first.

    ``due_of``: by code what is due, each with its place among all that is.
    """
    now = life.modifications[-1].number
    codes = {life.code} | {
        code
        for clamping in life.clampings
        if clamping.modification == now and not clamping.struck
        for code in (clamping.instrument, clamping.pin)
        if code
    }
    found = [one for code in codes for one in due_of.get(code, ())]
    return tuple(one for _, one in sorted(found, key=lambda one: one[0]))


def _by_item(answers: Iterable[_AboutItem]) -> dict[str, list[_AboutItem]]:
    found: dict[str, list[_AboutItem]] = defaultdict(list)
    for one in answers:
        if one.item is not None:
            found[one.item].append(one)
    return found


def _takes_part(code: str, one: chain.Answer) -> bool:
    """Whether an item is what was clamped in a chain, or one of the bodies that were turned."""
    return code.casefold() in {part.casefold() for part in (one.item, *one.bodies)}


def _with_groups(place: Place, groups: Sequence[Group]) -> Place:
    here = tuple(group for group in groups if _key_of(group) == _key_of(place))
    return dataclasses.replace(place, groups=here)


def _values_gained(places: Sequence[Place], groups: Sequence[ValueGroup]) -> Iterator[ValueGained]:
    """Of what was told by pins no middle was read, and a gap is not read again once it is bonded."""
    for group in groups:
        place = next((place for place in places if _key_of(place) == _key_of(group)), None)
        if place is not None and not group.by_pins and group.before_bonding is None:
            gained = place.gained_of(group)
            if gained is not None:
                yield ValueGained(group, place, gained)


def _key_of(one: Place | Group | ValueGroup) -> tuple[Any, ...]:
    return (one.setup, one.position, one.clocking, one.distance_mm, one.characteristic)


def _places(connection: sa.Connection, item: Owned, life: Life, setups: dict[int, OwnedSetup]) -> list[Place]:
    swings = [one for one in read_series(connection, items=[item.id]) if one.characteristic in SWINGS and not one.tried]
    limits = {}
    for one in swings:
        as_it_was = dataclasses.replace(item, modification=one.modification)
        (limit,), (limit_from,) = governing([one], {item.id: as_it_was}, setups)
        limits[one.id] = (None if math.isnan(limit) else float(limit), limit_from)
    return _laid_out(connection, swings, life, limits)


def _value_places(connection: sa.Connection, item: Owned, life: Life) -> list[Place]:
    """Where plain values were read, without those told by pins."""
    values = [one for one in read_series(connection, items=[item.id]) if one.characteristic not in SWINGS]
    ends = read_value_ends(connection, [one.id for one in values]) if values else {}
    by_pins = {series for (series, _), (low, high) in ends.items() if low < high}
    return _laid_out(connection, [one for one in values if one.id not in by_pins], life, {})


def _laid_out(
    connection: sa.Connection,
    series: Sequence[Series],
    life: Life,
    limits: Mapping[int, tuple[float | None, str | None]],
) -> list[Place]:
    """The clampings of series by place; ``limits``, and whose they are, by the id of the series."""
    points: dict[int, list[Point]] = {}
    for laid_out in read_laid_out(connection, [one.id for one in series]):
        points.setdefault(laid_out.series, []).append(_point(laid_out))
    what = {change.number: change.what for change in life.modifications}
    found: dict[tuple[str, str, str, float, str], list[Stretch]] = {}
    for one in series:
        if one.id in points:
            place = (one.setup, one.position, one.clocking, one.distance_tenths / 10, one.characteristic)
            limit, limit_from = limits.get(one.id, (None, None))
            stretch = Stretch(
                modification=one.modification,
                what=what[one.modification],
                revision=one.revision,
                diameter_mm=None if one.diameter_tenths < 0 else one.diameter_tenths / 10,
                limit_um=limit,
                limit_from=limit_from,
                points=tuple(points[one.id]),
            )
            found.setdefault(place, []).append(stretch)
    return [Place(*place, tuple(stretches), ()) for place, stretches in found.items()]


def _sound(stretch: Stretch) -> tuple[Point, ...]:
    """The clampings that count and are not in doubt."""
    return tuple(point for point in stretch.points if point.counts and not point.in_doubt)


def _point(one: LaidOut) -> Point:
    vector = None if one.vector is None else eccentricity_of(one.vector)
    return Point(one.clamping, one.sitting, one.taken_at, one.value_um, one.counts, one.in_doubt, one.vector, vector)
