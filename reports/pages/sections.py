"""The sections of an item's page with pictures: run-out at each place, those compared, wear."""

from dataclasses import dataclass

from qclog.questions.assess import Group
from qclog.questions.compare import Answer as Compared
from qclog.questions.course import Course
from qclog.questions.dossier import Dossier, Place
from qclog.questions.values import ValueGroup
from qclog.questions.wear import Answer as Worn
from reports import comparison, values, wear, wording
from reports.advice import told
from reports.numbers import NumberStyle, angle, micrometres
from reports.pages.stamps import changing
from reports.pictures.canvas import Picture
from reports.pictures.course import course_picture
from reports.pictures.over_time import over_time
from reports.pictures.polar import polar
from reports.pictures.positions import positions
from reports.pictures.values_over_time import points_of, values_over_time
from reports.turns import turn_notes

_ALL_CAVEATS = frozenset(wording.CAVEATS.values())
"""Said once, beside the figures at the top."""


@dataclass(frozen=True, slots=True)
class Shown:
    title: str
    picture: Picture
    caption: str


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    lines: tuple[str, ...]
    pictures: tuple[Shown, ...] = ()
    notes: tuple[str, ...] = ()


def sections(dossier: Dossier, style: NumberStyle) -> list[Section]:
    """All of an item's page, in its order."""
    found = [
        *place_sections(dossier),
        *value_sections(dossier),
        turns_section(dossier, style),
        compared_section(dossier, style),
        worn_section(dossier, style),
    ]
    return [section for section in found if section is not None]


def place_sections(dossier: Dossier) -> list[Section]:
    """One section a place: run-out over time, and where the high spots are known which way."""
    changes = [(change.done_at, change.what) for change in dossier.life.modifications if change.number]
    outermost = _outermost(dossier)
    found = []
    for i, place in enumerate(dossier.places, start=1):
        steady = not any(changing(dossier.worn, group) for group in place.groups)
        picture = over_time(place, changes, f"over time {i}", bounds_hold=steady)
        shown = [Shown("Over time", picture, _caption_over_time(place, steady=steady))]
        for k, group in enumerate(place.groups, start=1):
            if group.eccentricity is not None:
                picture = polar(group, place.points_of(group), outermost, f"high spots {i} {k}")
                shown.append(Shown("Which way, facing the nose", picture, _caption_polar(place, group)))
        found.append(Section(f"Run-out: {_place_name(place)}", (), tuple(shown)))
    return found


def value_sections(dossier: Dossier) -> list[Section]:
    """One section a size, a gap or a difference."""
    found = []
    for i, group in enumerate(dossier.assessed.values, start=1):
        points = points_of(dossier.life, group)
        if points:
            name = values.place(group)
            shown = Shown("Over time", values_over_time(group, points, f"value over time {i}"), _caption_value(group))
            found.append(Section(f"{name[:1].upper()}{name[1:]}", (), (shown,)))
    return found


def _caption_value(group: ValueGroup) -> str:
    parts = ["Dots: readings." if not group.by_pins else "Bars: between what goes and what does not. Dots: readings."]
    if group.limits_um is not None:
        parts.append("Heavy line, hatched beyond: what it was made to.")
    return " ".join([*parts, "Readings of one day stand side by side."])


def _outermost(dossier: Dossier) -> float:
    """The TIR at the rim of the pictures of directions, the same for all, so that they can be held side by side."""
    known = [(place, group) for place in dossier.places for group in place.groups if group.eccentricity is not None]
    swings = [p.eccentricity.tir_um for place, group in known for p in place.points_of(group) if p.eccentricity]
    return 1.12 * max([*swings, *(group.limit_um or 0.0 for _, group in known), 1.0])


def _caption_over_time(place: Place, *, steady: bool) -> str:
    """What the signs in the picture mean; only of those that are in it."""
    newest = place.stretches[-1]
    parts = []
    if place.groups and any(point.counts and not point.in_doubt for point in newest.points):
        parts.append("Filled: a clamping of the item as it is now.")
    if len(place.stretches) > 1 or not place.groups:
        parts.append("Rings: before it was worked on or the setup was changed.")
    if any(point.in_doubt or not point.counts for stretch in place.stretches for point in stretch.points):
        parts.append("Triangles: recalled, in doubt or read with a steep lever; no verdict rests on them.")
    if any(stretch.limit_um is not None for stretch in place.stretches):
        parts.append("Heavy line, hatched beyond: what it was made to.")
    if steady and any(group.bound and wording.is_useful(group) for group in place.groups):
        parts.append("Dashed: 19 clampings in 20 stay under.")
    return " ".join([*parts, "Clampings of one day stand side by side."])


def _caption_polar(place: Place, group: Group) -> str:
    parts = ["Degrees clockwise from the spindle's mark; how far out a dot stands is its TIR."]
    if group.eccentricity is not None:
        size = micrometres(group.eccentricity.tir_um, step_um=0.1)
        known = place.systematic_of(group)
        ends = "" if known is None else f", from {_um(known.low_um)} to {_um(known.high_um)} with 95 % confidence,"
        high = angle(group.eccentricity.high_spot_deg)
        parts.append(f"On the mean {size}{ends} with the high spot at {high} (the line).")
        if group.repeat_um is not None:
            parts.append(f"Dotted ring about its end: the repeat, {micrometres(group.repeat_um, step_um=0.1)}.")
    if group.limit_um is not None:
        parts.append("Heavy circle: the limit.")
    if group.bound is not None and wording.is_useful(group):
        parts.append("Dashed circle: 19 clampings in 20 stay inside.")
    return " ".join(parts)


def turns_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    """What the turns read at known angles tell beside their swing."""
    notes = turn_notes(dossier.turns, dossier.senses, style)
    return Section("What the turns tell", (), (), tuple(notes)) if notes else None


def _um(value: float) -> str:
    return micrometres(value, step_um=0.1)


def compared_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    if not dossier.compared:
        return None
    shown, lines = [], []
    for i, answer in enumerate(dossier.compared, start=1):
        swings = _swings_of(dossier, answer)
        limits = {place.stretches[-1].limit_um for place in _places_of(dossier, answer)}
        limit_um = limits.pop() if len(limits) == 1 else None
        title = f"{answer.setup}, {answer.distance_mm:g} mm out"
        lines.append(f"{title}: {comparison.sentence(answer, style)}")
        caption = "Dots: clampings. Tall stroke: their mean. Dashed stroke: 19 in 20 stay under."
        if limit_um is not None:
            caption += " Heavy line: the limit."
        shown.append(Shown(title, positions(answer, swings, limit_um, f"key positions {i}"), caption))
    codes = dict.fromkeys(code for answer in dossier.compared for code in answer.caveats)
    notes = tuple(wording.CAVEATS[code] for code in codes)
    return Section("Key positions compared", tuple(lines), tuple(shown), notes)


def _places_of(dossier: Dossier, answer: Compared) -> list[Place]:
    return [
        place
        for place in dossier.places
        if place.groups
        and (place.setup, place.clocking, place.distance_mm, place.characteristic)
        == (answer.setup, answer.clocking, answer.distance_mm, answer.characteristic)
    ]


def _swings_of(dossier: Dossier, answer: Compared) -> dict[str, list[float]]:
    return {
        place.position: [point.swing_um for point in place.points_of(group)]
        for place in _places_of(dossier, answer)
        for group in place.groups
        if group.diameter_mm == answer.diameter_mm
    }


def worn_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    """What is advised, why, and how each place with sittings enough went."""
    if not dossier.worn:
        return None
    limits = {_place_of(answer): answer.limit_um for answer in dossier.worn}
    shown = tuple(
        Shown(_place_name(course), course_picture(course, limits.get(_place_of(course)), f"wear {i}"), caption)
        for i, course in enumerate(dossier.courses, start=1)
        if (caption := _caption_course(course)) and course.band
    )
    several = len(dossier.worn) > 1
    notes = tuple(
        f"{_place_name(answer)}: {figure}" if several else figure
        for answer in dossier.worn
        for figure in wear.figures(answer, style)
        if figure not in _ALL_CAVEATS
    )
    return Section("Is it getting worse?", tuple(told(dossier.worn, style)), shown, notes)


def _place_of(one: Worn | Course) -> tuple[object, ...]:
    return (one.setup, one.position, one.clocking, one.distance_mm, one.diameter_mm, one.characteristic)


def _caption_course(course: Course) -> str:
    parts = ["Rings: clampings. Diamonds: means of sittings, with the line through them, dashed where it lies ahead."]
    parts.append("The line above it: 19 clampings in 20 stay under.")
    if course.step is not None:
        parts.append("Thick stroke: a step.")
    return " ".join(parts)


def _place_name(one: Worn | Course | Place) -> str:
    parts = [one.setup, one.position and f"position {one.position}"]
    parts += [one.clocking and f"clocked {one.clocking}", f"{one.distance_mm:g} mm out"]
    parts.append("" if one.characteristic == "runout" else one.characteristic)
    return ", ".join(part for part in parts if part)
