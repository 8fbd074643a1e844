"""The sections of an item's page with pictures: run-out at each place, those compared, wear."""

from collections.abc import Sequence
from dataclasses import replace

from qclog.questions.changing.course import Course
from qclog.questions.codes import Caveat
from qclog.questions.compare import Answer as Compared
from qclog.questions.dossier import Dossier, Place, Point
from qclog.questions.judging.groups import Group
from qclog.questions.judging.values import ValueGroup
from qclog.questions.newest_turns import ENOUGH
from qclog.questions.turns import ReadTurn
from qclog.questions.wear import Answer as Worn
from reports import chain, comparison, values, wear, words_used
from reports.advice import told
from reports.anchors import row_of
from reports.gained import of_value as gained_of_value
from reports.gained import told as gained_told
from reports.numbers import NumberStyle, angle, micrometres
from reports.pages import item_words
from reports.pages.parts import Section, Shown
from reports.pages.readings import Link, anchor_of, link_to
from reports.pages.stamps import changing, retired_in_words
from reports.pages.steady import steady_section
from reports.pictures.before_after import before_after, value_before_after
from reports.pictures.chain import chain_pictures
from reports.pictures.course import course_picture
from reports.pictures.over_time import over_time
from reports.pictures.polar import polar
from reports.pictures.positions import positions
from reports.pictures.turn import turn_picture
from reports.pictures.values_over_time import values_over_time
from reports.turns import lobes_of, turn_notes
from reports.value_points import Point as ValuePoint
from reports.value_points import points_of
from reports.wording import places
from reports.wording.caveats import CAVEATS
from reports.wording.steps import shown_step
from reports.wording.verdicts import counted, is_useful

_WHOSE_LIMIT = {"item": "what it was made to", "setup": "what the setup must hold"}
_ALL_CAVEATS = frozenset(CAVEATS.values())
"""Said once, beside the figures at the top."""


def sections(dossier: Dossier, style: NumberStyle) -> list[Section]:
    """All of an item's page, in its order."""
    found = [
        *place_sections(dossier, style),
        *value_sections(dossier, style),
        turns_section(dossier, style),
        *chain_sections(dossier, style),
        compared_section(dossier, style),
        worn_section(dossier, style),
        steady_section(dossier, style),
    ]
    return [section for section in found if section is not None]


def place_sections(dossier: Dossier, style: NumberStyle) -> list[Section]:
    """One section a place: run-out over time, and where the high spots are known which way."""
    changes = [(change.done_at, change.what) for change in dossier.life.modifications if change.number]
    outermost = _outermost(dossier)
    found = []
    for i, place in enumerate(dossier.places, start=1):
        steady = not any(changing(dossier.worn, group) for group in place.groups)
        picture = over_time(place, changes, f"over time {i}", bounds_hold=steady)
        readings = tuple(link_to(place, stretch) for stretch in place.stretches)
        shown = [Shown("Over time", picture, _caption_over_time(place, steady=steady), readings)]
        for k, group in enumerate(place.groups, start=1):
            if group.eccentricity is not None:
                picture = polar(place, group, outermost, f"high spots {i} {k}")
                caption = _caption_polar(place, group, outermost)
                shown.append(Shown("Which way, facing the nose", picture, caption, (_behind(dossier, group),)))
        for k, group in enumerate(place.groups, start=1):
            if (gained := place.gained_of(group)) is not None:
                picture = before_after(place, gained, group, f"before and after {i} {k}")
                readings = (link_to(place, gained.stretch), _behind(dossier, group))
                told_gain = gained_told(gained, dossier.life.modifications[-1].what, style)
                caption = _caption_gained(told_gain, limited=group.limit_um is not None)
                shown.append(Shown("Before and after", picture, caption, readings))
        drawn = [turn for turn in dossier.newest_turns if any(_is_of(turn.read, group) for group in place.groups)]
        for k, turn in enumerate(drawn, start=1):
            title = f"The newest turn of {turn.read.readings} readings"
            picture = turn_picture(turn, f"turn {i} {k}")
            shown.append(Shown(title, picture, _caption_turn(turn.read), _row_of(turn.read)))
        words = item_words.of_place(place, [turn.read for turn in drawn])
        title = ", ".join(part for part in (_where(place), places.out(place.distance_mm, place.characteristic)) if part)
        name = places.named(place.characteristic).capitalize()
        found.append(Section(f"{name}: {title}", (), tuple(shown), words=tuple(words)))
    return found


def value_sections(dossier: Dossier, style: NumberStyle) -> list[Section]:
    """One section a size, a gap or a difference."""
    found = []
    for i, group in enumerate(dossier.assessed.values, start=1):
        points = points_of(dossier.life, group)
        if points:
            name = values.place(group)
            behind = (Link(values.counted(group), anchor_of(dossier.assessed.modification, group)),)
            picture = values_over_time(group, points, f"value over time {i}")
            shown = [Shown("Over time", picture, _caption_value(group, points), behind)]
            for gained in (one for one in dossier.values_gained if one.group == group):
                picture = value_before_after(gained, f"value before and after {i}")
                what = dossier.life.modifications[-1].what
                caption = _caption_gained(gained_of_value(gained, what, style), limited=group.limits_um is not None)
                readings = (link_to(gained.place, gained.gained.stretch, "reading"), *behind)
                shown.append(Shown("Before and after", picture, caption, readings))
            words = ["made to"] if group.limits_um is not None else []
            words += [Caveat.BY_PINS] if Caveat.BY_PINS in group.caveats else []
            found.append(Section(f"{name[:1].upper()}{name[1:]}", (), tuple(shown), words=tuple(words)))
    return found


def _caption_value(group: ValueGroup, points: Sequence[ValuePoint]) -> str:
    """What the signs in the picture mean; only of those that are in it."""
    parts = []
    if any(point.low_um < point.high_um for point in points):
        parts.append("Bars: between what goes and what does not.")
    if any(point.low_um == point.high_um and not point.in_doubt for point in points):
        parts.append("Dots: readings.")
    if any(point.in_doubt for point in points):
        parts.append("Triangles and pale bars: in doubt; no verdict rests on them.")
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
    whose = [stretch.limit_from for stretch in place.stretches if stretch.limit_um is not None]
    if whose:
        limit = " or ".join(dict.fromkeys(_WHOSE_LIMIT[one or "item"] for one in whose))
        parts.append(f"Heavy line, hatched beyond: {limit}.")
    if steady and any(group.bound and is_useful(group) for group in place.groups):
        parts.append("Dashed: 19 clampings in 20 stay under.")
    return " ".join([*parts, "Clampings of one day stand side by side."])


def _caption_polar(place: Place, group: Group, outermost_um: float) -> str:
    parts = ["Degrees clockwise from the spindle's mark; how far out a dot stands is its TIR."]
    if group.eccentricity is not None:
        size = micrometres(group.eccentricity.tir_um, step_um=0.1)
        known = place.systematic_of(group)
        ends = "" if known is None else f", from {_um(known.low_um)} to {_um(known.high_um)} with 95 % confidence,"
        high = angle(group.eccentricity.high_spot_deg)
        parts.append(f"The mean of the once-per-turn parts: {size}{ends} with the high spot at {high} (the line).")
        if group.repeat_um is not None:
            parts.append(f"Dotted ring about its end: the repeat, {micrometres(group.repeat_um, step_um=0.1)}.")
    if group.limit_um is not None:
        parts.append("Heavy circle: the limit.")
    if group.bound is not None and is_useful(group):
        bound = micrometres(group.bound.value_um, step_um=shown_step(group), round_up=True)
        inside = group.bound.value_um <= outermost_um
        parts.append(
            "Dashed circle: 19 clampings in 20 stay inside."
            if inside
            else f"Outside the picture: 19 clampings in 20 stay under {bound}."
        )
    return " ".join(parts)


def _caption_gained(told_gain: str, *, limited: bool) -> str:
    parts = [told_gain, "Rings: before. Filled: since. Long strokes: the means."]
    if limited:
        parts.append("Heavy line, hatched beyond: the limit since.")
    return " ".join(parts)


def _is_of(turn: ReadTurn, group: Group) -> bool:
    """Whether a turn was read where a group was."""
    place = (turn.setup, turn.setup_revision, turn.position, turn.clocking, turn.characteristic)
    here = (group.setup, group.setup_revision, group.position, group.clocking, group.characteristic)
    return place == here and round(turn.distance_mm, 1) == group.distance_mm


def _row_of(turn: ReadTurn) -> tuple[Link, ...]:
    row = row_of(turn.clamping, round(turn.distance_mm, 1), turn.characteristic)
    return (Link(f"clamping {turn.clamping}, {turn.taken_at[:10]}", row),)


def _caption_turn(turn: ReadTurn) -> str:
    """What the signs in the picture of a turn mean, and what its lobes are."""
    parts = [f"Dots: {turn.readings} readings. Line: the curve through them; dashed: its once-per-turn part."]
    parts.append("Below, on a scale of its own: what the once-per-turn part leaves, lobes and noise.")
    if turn.noise_um:
        parts.append(f"Dotted: twice the noise of a reading ({_um(turn.noise_um)}); within it may be nothing else.")
    if seen := lobes_of(turn):
        parts.append(f"Seen: {seen}.")
    elif turn.noise_um and not (turn.readings < ENOUGH and turn.lobes_as_runout):
        parts.append("No lobes are seen.")
    return " ".join(parts)


def turns_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    """What the turns read at known angles tell beside their swing."""
    notes = turn_notes(dossier.turns, dossier.senses, style)
    if not notes:
        return None
    words = ["lobes", *(["noise"] if dossier.turns.noise else [])]
    return Section("What the turns tell", (), (), tuple(notes), tuple(words))


def chain_sections(dossier: Dossier, style: NumberStyle) -> list[Section]:
    """Who owns the run-out: one section for each chain in which bodies were clocked."""
    said = {code for group in dossier.assessed.groups for code in group.caveats}
    return [
        Section(
            f"Who owns the run-out: {answer.setup}, {answer.at_mm:g} mm out",
            (
                chain.headline(answer, style),
                chain.advice(answer, style),
                *((chain.CONFIRM,) if chain.confirming(answer) else ()),
            ),
            tuple(Shown(*drawn, readings=()) for drawn in chain_pictures(answer, f"chain {i}")),
            (*chain.in_lines(answer, style), *(CAVEATS[code] for code in answer.caveats if code not in said)),
            tuple(words_used.of_chain([answer])),
            chain.confirming(answer),
        )
        for i, answer in enumerate(dossier.chains, start=1)
    ]


def _um(value: float) -> str:
    return micrometres(value, step_um=0.1)


def compared_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    if not dossier.compared:
        return None
    shown, lines = [], []
    for i, answer in enumerate(dossier.compared, start=1):
        clampings = _clampings_of(dossier, answer)
        limits = {place.stretches[-1].limit_um for place in _places_of(dossier, answer)}
        limit_um = limits.pop() if len(limits) == 1 else None
        title = f"{answer.setup}, {answer.distance_mm:g} mm out"
        lines.append(f"{title}: {comparison.sentence(answer, style)}")
        caption = "Dots: clampings. Tall stroke: their mean. Dashed stroke: 19 in 20 stay under."
        if limit_um is not None:
            caption += " Heavy line: the limit."
        picture = positions(answer, clampings, limit_um, f"key positions {i}")
        readings = tuple(
            replace(_behind(dossier, group), text=f"position {place.position}")
            for place in _places_of(dossier, answer)
            for group in place.groups
            if group.diameter_mm == answer.diameter_mm
        )
        shown.append(Shown(title, picture, caption, readings))
    codes = dict.fromkeys(code for answer in dossier.compared for code in answer.caveats)
    notes = tuple(CAVEATS[code] for code in codes)
    words = (*words_used.of_compare(dossier.compared), "difference", "better next")
    return Section("Key positions compared", tuple(lines), tuple(shown), notes, words)


def _places_of(dossier: Dossier, answer: Compared) -> list[Place]:
    return [
        place
        for place in dossier.places
        if place.groups
        and (place.setup, place.clocking, place.distance_mm, place.characteristic)
        == (answer.setup, answer.clocking, answer.distance_mm, answer.characteristic)
    ]


def _clampings_of(dossier: Dossier, answer: Compared) -> dict[str, tuple[Place, Sequence[Point]]]:
    return {
        place.position: (place, place.points_of(group))
        for place in _places_of(dossier, answer)
        for group in place.groups
        if group.diameter_mm == answer.diameter_mm
    }


def worn_section(dossier: Dossier, style: NumberStyle) -> Section | None:
    """What is advised, why, and how each place with sittings enough went."""
    if not dossier.worn:
        return None
    limits = {answer.place: answer.limit_um for answer in dossier.worn}
    stepped = {answer.place for answer in dossier.worn if answer.stepped}
    shown = tuple(
        Shown(
            _place_name(course),
            course_picture(course, limits.get(course.place), f"wear {i}", stepped=course.place in stepped),
            caption,
            tuple(_behind(dossier, group) for group in dossier.assessed.groups if group.place == course.place),
        )
        for i, course in enumerate(dossier.courses, start=1)
        if (caption := _caption_course(course, limits.get(course.place), stepped=course.place in stepped))
        and course.band
    )
    several = len(dossier.worn) > 1
    notes = tuple(
        f"{_place_name(answer)}: {figure}" if several else figure
        for answer in dossier.worn
        for figure in wear.figures(answer, style)
        if figure not in _ALL_CAVEATS
    )
    lines = told(dossier.worn, style)
    said = retired_in_words(dossier, style) != ""
    words = (*words_used.of_wear(dossier.worn), *_words_of_figures(dossier.worn))
    return Section("Is it getting worse?", tuple(lines[1:] if said else lines), shown, notes, words)


def _words_of_figures(worn: Sequence[Worn]) -> list[str]:
    """Of the figures below the advice, those that are there."""
    having = {
        "change": any(answer.trend is not None for answer in worn),
        "not before": any(answer.crosses is not None for answer in worn),
        "holds from": any(answer.good_for_um is not None for answer in worn),
    }
    return ["level", *(word for word, is_so in having.items() if is_so)]


def _behind(dossier: Dossier, group: Group) -> Link:
    """What leads to the readings of a group."""
    return Link(counted(group), anchor_of(dossier.assessed.modification, group))


def _caption_course(course: Course, limit_um: float | None, *, stepped: bool) -> str:
    if stepped and course.step is not None:
        parts = ["Rings: clampings. Diamonds: means of sittings, with the level before the step and since."]
    else:
        parts = ["Rings: clampings. Diamonds: means of sittings, with the line through them."]
        parts.append("Upper edge of the band: with 95 % confidence 19 clampings in 20 stay under.")
        parts.append("Dashed: ahead, to where the next check will be if it comes as those before.")
    if limit_um is not None:
        parts.append("Heavy line, hatched beyond: the limit.")
    if course.step is not None:
        parts.append("Thick stroke: a step.")
    return " ".join(parts)


def _place_name(one: Worn | Course) -> str:
    parts = [_where(one), places.out(one.distance_mm, one.characteristic), places.what(one.characteristic)]
    return ", ".join(part for part in parts if part)


def _where(one: Worn | Course | Place) -> str:
    parts = [one.setup, one.position and f"position {one.position}", one.clocking and f"clocked {one.clocking}"]
    return ", ".join(part for part in parts if part)
