"""The sections of an item's page with pictures: run-out at each place, those compared, wear."""

from dataclasses import dataclass

from qclog.questions.assess import Group
from qclog.questions.codes import Caveat
from qclog.questions.compare import Answer as Compared
from qclog.questions.dossier import Dossier, Place
from reports import comparison, wear, wording
from reports.numbers import NumberStyle, angle, micrometres
from reports.pictures.canvas import Picture
from reports.pictures.over_time import over_time
from reports.pictures.polar import polar
from reports.pictures.positions import positions


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


def place_sections(dossier: Dossier) -> list[Section]:
    """One section a place: run-out over time, and where the high spots are known which way."""
    changes = [(change.done_at, change.what) for change in dossier.life.modifications if change.number]
    outermost = _outermost(dossier)
    found = []
    for i, place in enumerate(dossier.places):
        shown = [Shown("Over time", over_time(place, changes, f"time {i}"), _caption_over_time(place))]
        for k, group in enumerate(place.groups):
            if group.eccentricity is not None:
                picture = polar(group, place.points_of(group), outermost, f"polar {i} {k}")
                shown.append(Shown("Which way, facing the nose", picture, _caption_polar(group)))
        found.append(Section(f"Run-out: {_name(place)}", (), tuple(shown)))
    return found


def _outermost(dossier: Dossier) -> float:
    """The TIR at the rim of the pictures of directions, the same for all, so that they can be held side by side."""
    known = [(place, group) for place in dossier.places for group in place.groups if group.eccentricity is not None]
    swings = [p.eccentricity.tir_um for place, group in known for p in place.points_of(group) if p.eccentricity]
    return 1.12 * max([*swings, *(group.limit_um or 0.0 for _, group in known), 1.0])


def _caption_over_time(place: Place) -> str:
    """What the signs in the picture mean; only of those that are in it."""
    newest = place.stretches[-1]
    parts = []
    if place.groups and any(point.counts for point in newest.points):
        parts.append("Filled: a clamping of the item as it is now.")
    if len(place.stretches) > 1 or not place.groups:
        parts.append("Rings: before it was worked on or the setup was changed.")
    if any(not point.counts for stretch in place.stretches for point in stretch.points):
        parts.append("Triangles: recalled or read with a steep lever; no verdict rests on them.")
    if any(stretch.limit_um is not None for stretch in place.stretches):
        parts.append("Heavy line, hatched beyond: what it was made to.")
    if any(group.bound and wording.is_useful(group) for group in place.groups):
        parts.append("Dashed: 19 clampings in 20 stay under.")
    return " ".join(parts)


def _caption_polar(group: Group) -> str:
    parts = ["Degrees clockwise from the spindle's mark; how far out a dot stands is its TIR."]
    if group.eccentricity is not None:
        size = micrometres(group.eccentricity.tir_um, step_um=0.1)
        parts.append(f"On the mean {size} with the high spot at {angle(group.eccentricity.high_spot_deg)} (the line).")
        if group.repeat_um is not None:
            parts.append(f"Dotted ring about its end: the repeat, {micrometres(group.repeat_um, step_um=0.1)}.")
    if group.limit_um is not None:
        parts.append("Heavy circle: the limit.")
    if group.bound is not None and wording.is_useful(group):
        parts.append("Dashed circle: 19 clampings in 20 stay inside.")
    return " ".join(parts)


def compared_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    if not dossier.compared:
        return None
    shown, lines = [], []
    for i, answer in enumerate(dossier.compared):
        swings = _swings_of(dossier, answer)
        limits = {place.stretches[-1].limit_um for place in _places_of(dossier, answer)}
        limit_um = limits.pop() if len(limits) == 1 else None
        title = f"{answer.setup}, {answer.distance_mm:g} mm out"
        lines.append(f"{title}: {comparison.sentence(answer, style)}")
        caption = "Dots: clampings. Tall stroke: their mean. Dashed stroke: 19 in 20 stay under."
        if limit_um is not None:
            caption += " Heavy line: the limit."
        shown.append(Shown(title, positions(answer, swings, limit_um, f"positions {i}"), caption))
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
    if not dossier.worn:
        return None
    lines = tuple(wear.sentence(answer, style) for answer in dossier.worn)
    said = {wording.CAVEATS[code] for code in Caveat}
    notes = tuple(
        f"{answer.setup} {answer.position}, {answer.distance_mm:g} mm out: {figure}"
        for answer in dossier.worn
        for figure in wear.figures(answer, style)
        if figure not in said
    )
    return Section("Is it getting worse?", lines, (), notes)


def _name(place: Place) -> str:
    parts = [place.setup, place.position and f"position {place.position}"]
    parts += [place.clocking and f"clocked {place.clocking}", f"{place.distance_mm:g} mm out"]
    parts.append("" if place.characteristic == "runout" else place.characteristic)
    return ", ".join(part for part in parts if part)
