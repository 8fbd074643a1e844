"""Readings as they are typed at the machine: swings, turns, angles, clocking, limits.

Every number keeps the text it was typed as. Angles are in whole millidegrees, clockwise from the spindle's
mark as seen facing the nose; 12 o'clock is 0 and 4 o'clock is 120 degrees. How a dial is written down
("+3/-2", "from -2 to 3", "12 div") is common practice.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from qclog.errors import LengthError, RefusedError
from qclog.lengths import (
    LONGEST_TEXT,
    PICOMETRES,
    Length,
    Unit,
    exact,
    finest_place,
    parse_length,
    plain,
    quoted,
    split_number,
    step_of,
)

FULL_TURN_MDEG = 360_000
HOUR_MDEG = 30_000

_AT = re.compile(r"\s*@\s*|\s+(?:(?:max|high)\s+)?at\s+", re.IGNORECASE)
_CLOCK = re.compile(r"(?P<half>half past )?(?P<hour>[0-9]{1,2}) ?(?P<word>o ?'? ?clock)?")
_DEGREES = re.compile(
    r"(?P<sign>[+-]?)(?P<number>[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
    r"(?: ?(?:\u00b1|\+/-|\+-) ?(?P<within>[0-9]+(?:[.,][0-9]*)?))? ?(?:\u00b0|deg|degrees?)?"
)
_DIVISION = re.compile(r"(?:divs?|divisions?|graduations?)\.?")
_FROM_TO = re.compile(r"(?P<said>from )?(?P<first>.+?)(?: ?(?<!\.)\.\.(?!\.) ?| to )(?P<second>.+)")
_OVER = re.compile(r"(?:from )?(?P<first>.+?) over (?P<top>.+?) to (?P<second>.+)")
_SLASH = re.compile(r"(?P<first>.+?) ?/ ?(?P<second>[+-].+)")
_BOTH_SIGNED = re.compile(r"(?P<first>[+-].+?) (?P<second>[+-].+)")
_ABOUT = re.compile(r"(?:~|\u2248|about|ca\.?)(?P<middle>.+)")
_UNDER = re.compile("[<\u2264](?P<high>.+)")
_SEPARATOR = re.compile(r"[;\s]+|,\s+")
_SWING_NAMES = "tir|fim|fir|run[ -]?out|concentricity"
_NAMED_SWING = re.compile(rf"^(?:{_SWING_NAMES}|clock)[ :=]+|[ ]*\b(?:{_SWING_NAMES})$", re.IGNORECASE)
_HALF = re.compile(r"^ecc(?:entric(?:ity)?)?\b|\becc(?:entric(?:ity)?)?\.?$")
_DIALS = (100, 50)
"""Graduations once round a dial (common practice)."""
_READ_FOR = re.compile(r"(?P<read>[0-9.,].*?) (?:on|for) (?P<true>[0-9.,].*)")
_RANGE = re.compile(r"(?P<first>[0-9.,/]++(?: ?+(?!e-)[^0-9 -]+)?)(?: - |-)(?P<second>[0-9.,].*)")


@dataclass(frozen=True, slots=True)
class TypedReading:
    """One reading as typed.

    ``step_pm``: the finest place typed. ``low_pm``, ``high_pm``: the ends of what was only recalled within
    limits ("6-8", "<5"); ``picometres`` is then their middle. ``angle_mdeg``: where the high spot stood;
    ``angle_within_mdeg``: half width of what was said, 15 degrees for a clock hour, 7.5 for a half hour, as typed
    behind \u00b1, else 0 for degrees.
    """

    picometres: int
    text: str
    step_pm: int
    low_pm: int | None = None
    high_pm: int | None = None
    angle_mdeg: int | None = None
    angle_within_mdeg: int = 0


def parse_swing(text: str, *, bare: Unit, graduation_pm: int | None) -> TypedReading:
    """A swing over one turn: "5", "5um@120", "5um @ 4 o'clock", "5um TIR", "+3/-2", "-2..+3", "from -2 to 3", "12 div",
    and "95 over 100 to 5" where the pointer passed the top of the dial.

    ``graduation_pm``: one division of the indicator's dial, ``None`` if no indicator is named. Raises
    LengthError for a negative swing, divisions without a graduation and whatever ``parse_length`` refuses;
    RefusedError for a bad angle.
    """
    swing, angle, within = _split_angle(text)
    picometres, step = _swing(without_name(swing), bare, graduation_pm)
    return TypedReading(picometres, text.strip(), step, None, None, angle, within)


def without_name(text: str) -> str:
    """A swing without the word for what it is: "5um TIR", "FIM 5", "run-out 0.01mm".

    Raises LengthError for an eccentricity, which is half of a swing.
    """
    folded = text.strip().casefold()
    if _HALF.search(folded):
        raise LengthError(
            f"{quoted(text)}: an eccentricity is half of the swing an indicator shows over a turn.",
            'Type the whole swing, twice as much, as "10um" for an eccentricity of 5um.',
        )
    return _NAMED_SWING.sub("", text.strip()) if _NAMED_SWING.search(text.strip()) else text


def parse_recalled(text: str, *, bare: Unit) -> TypedReading:
    """A swing out of an old notebook: as ``parse_swing`` takes it, or "6-8", "<5", "~6".

    Errors as ``parse_swing``.
    """
    swing, angle, within = _split_angle(text)
    tidy = plain(swing)
    if under := _UNDER.fullmatch(tidy):
        low, (high, step) = 0, _swing(under["high"], bare, None)
    elif between := _RANGE.fullmatch(tidy):
        low, high, step = _two_lengths(between["first"], between["second"], bare, None)
    else:
        about = _ABOUT.fullmatch(tidy)
        picometres, step = _swing(about["middle"] if about else swing, bare, None)
        return TypedReading(picometres, text.strip(), step, None, None, angle, within)
    return TypedReading((low + high) // 2, text.strip(), step, low, high, angle, within)


def turn_words(text: str) -> list[str]:
    """The readings of a turn as they were typed, each with its unit if one stands behind it."""
    readings: list[str] = []
    for word in _SEPARATOR.sub(" ", text).split():
        if readings and not re.search(r"[\d+-]", word):
            readings[-1] += f" {word}"
        else:
            readings.append(word)
    return readings


def parse_turn(text: str, *, bare: Unit, graduation_pm: int | None) -> tuple[TypedReading, ...]:
    """The readings of one turn in their order: "4 1 -3 0", "4; 1; -3; 0", "4, 1, -3, 0 um", "0,5 1,0 -0,5 0".

    Blanks, semicolons and commas followed by a blank separate; a comma inside a number is a decimal sign. A
    unit (or "div") stands behind every reading or once at the end, and is then kept in the text of each.
    Raises LengthError for fewer than three readings and whatever ``parse_length`` refuses.
    """
    readings = turn_words(text)
    if len(readings) < 3:
        raise LengthError(
            f"{quoted(text)} is no turn: it takes at least three readings.",
            'Type them with blanks between, as "4 1 -3 0 um"; a comma inside a number is a decimal sign.',
        )
    units = [split_number(reading)[2] for reading in readings]
    if units[-1] and not any(units[:-1]):
        readings = [*(f"{reading} {units[-1]}" for reading in readings[:-1]), readings[-1]]
    elif any(units) and not all(units):
        raise LengthError(
            f"{quoted(text)} has a unit behind some readings only.", "Type it once at the end, or behind every reading."
        )
    return tuple(TypedReading(*_length(reading, bare, graduation_pm)) for reading in readings)


def parse_reading(text: str, *, bare: Unit, graduation_pm: int | None) -> TypedReading:
    """One reading of a turn: "4", "-3 um", "12 div". Raises whatever ``parse_length`` refuses."""
    return TypedReading(*_length(plain(text), bare, graduation_pm))


def parse_angle(text: str) -> tuple[int, int]:
    """Angle in millidegrees, 0 to under 360 000, and the half width of what was said.

    "120", "120 deg", "4 o'clock" (120 degrees within 15), "half past 4" (135 within 7.5), "120\u00b125". 360 is 0.
    Raises RefusedError for anything else.
    """
    tidy = _plain_angle(text)
    clock = _CLOCK.fullmatch(tidy)
    if clock and (clock["half"] or clock["word"]):
        hour = int(clock["hour"])
        if not 1 <= hour <= 12:
            raise RefusedError(f"{quoted(text)} is not on a clock.", "Type an hour from 1 to 12, or degrees.")
        angle = hour % 12 * HOUR_MDEG
        return (angle + HOUR_MDEG // 2, HOUR_MDEG // 4) if clock["half"] else (angle, HOUR_MDEG // 2)
    degrees = _DEGREES.fullmatch(tidy)
    if degrees is None:
        raise RefusedError(f"{quoted(text)} is not an angle.", 'Type degrees, as "120", or "4 o\'clock".')
    mdeg = 1000 * Fraction(degrees["number"].replace(",", "."))
    if (degrees["sign"] == "-" and mdeg) or mdeg > FULL_TURN_MDEG:
        raise RefusedError(
            f"{quoted(text)} is not within a turn.",
            "Angles run from 0 to under 360 degrees, clockwise from the mark facing the nose.",
        )
    within = 1000 * Fraction((degrees["within"] or "0").replace(",", "."))
    if within > FULL_TURN_MDEG // 2:
        raise RefusedError(f"{quoted(text)} says no direction at all.", "Leave the angle out.")
    if mdeg.denominator != 1 or within.denominator != 1:
        raise RefusedError(f"{quoted(text)} is finer than 0.001 degree.", "Type it with fewer places.")
    return mdeg.numerator % FULL_TURN_MDEG, within.numerator


def parse_clocking(text: str) -> tuple[tuple[str, int], ...]:
    """How bodies were turned: "C-046=120 P-3=180" as (code, millidegrees), ordered by code without case.

    Nothing typed is an empty clocking. Raises RefusedError for what is not code=degrees, or a code twice.
    """
    angles: dict[str, tuple[str, int]] = {}
    for pair in _SEPARATOR.sub(" ", re.sub(r"\s*=\s*", "=", text)).split():
        code, equals, typed = pair.partition("=")
        if not (code and equals and typed) or not code.isprintable():
            raise RefusedError(f"{quoted(pair)} is no clocking.", 'Type code=degrees, as "C-046=120 P-3=180".')
        angle, within = parse_angle(typed)
        if within:
            raise RefusedError(f"{quoted(pair)}: a clocking is set by degrees.", 'Type it as "C-046=120".')
        if code.casefold() in angles:
            raise RefusedError(f"{quoted(code)} stands twice in the clocking.", "Give each code one angle.")
        angles[code.casefold()] = (code, angle)
    return tuple(angles[key] for key in sorted(angles))


def format_clocking(clocking: tuple[tuple[str, int], ...]) -> str:
    """The one way a clocking is written, "C-046=120 P-3=180.5"; ``parse_clocking`` reads it back."""
    if not clocking:
        return ""
    ordered = sorted(clocking, key=lambda pair: pair[0].casefold())
    return " ".join(f"{code}={Decimal(angle).scaleb(-3).normalize():f}" for code, angle in ordered)


def parse_turnable(text: str) -> tuple[tuple[str, tuple[int, ...]], ...]:
    """Bodies that may be turned, "S-1=0/180, C-046, P-3", in their order: code and millidegrees, none for any angle.

    Raises RefusedError for what is no code with angles, a single angle, or a code twice.
    """
    found: dict[str, tuple[str, tuple[int, ...]]] = {}
    for one in _SEPARATOR.sub(" ", re.sub(r"\s*([=/])\s*", r"\1", text.replace(",", " "))).split():
        code, equals, typed = one.partition("=")
        angles = tuple(parse_angle(angle)[0] for angle in typed.split("/")) if equals else ()
        if not code or not code.isprintable() or (equals and len(set(angles)) < 2):
            raise RefusedError(
                f"{quoted(one)} does not say what can be turned.",
                'Type codes, with angles where not every one is possible: "S-1=0/180, C-046".',
            )
        if code.casefold() in found:
            raise RefusedError(f"{quoted(code)} stands twice among what is turned.", "Name each body once.")
        found[code.casefold()] = (code, angles)
    return tuple(found.values())


def parse_limit(text: str, *, bare: Unit | None) -> tuple[Length, Length | None]:
    """What something is made to, and its distance if given: "8um", "8um@16mm"; a bare distance is in mm.

    Raises LengthError for a limit that is not above zero, a negative distance, and as ``parse_length``.
    """
    limit_text, at, distance_text = text.partition("@")
    limit = parse_length(without_name(limit_text).strip(), bare=bare)
    if limit.picometres <= 0:
        raise LengthError(f"{quoted(text)}: a limit is above zero.", 'Type it as "8um" or "8um@16mm".')
    if not at:
        return limit, None
    distance = parse_length(distance_text.strip(), bare="mm", where="distance")
    if distance.picometres < 0:
        raise LengthError(
            f"{quoted(text)}: a distance is counted outward from the front face.", "Type it without sign."
        )
    return limit, distance


def parse_read_on_true(text: str, *, bare: Unit) -> tuple[int, int] | None:
    """What an indicator showed and for what, in picometres: "23 on 20"; None for a finding in words, or at zero.

    A unit said with one of the two goes for both. Raises LengthError as ``parse_length``.
    """
    found = _READ_FOR.fullmatch(plain(text)) if len(text) <= LONGEST_TEXT else None
    if found is None:
        return None
    parts = [found["read"].strip(), found["true"].strip()]
    units = [split_number(part)[2] for part in parts]
    if any(units) and not all(units):
        parts = [part if unit else f"{part} {units[0] or units[1]}" for part, unit in zip(parts, units, strict=True)]
    read, true = (parse_length(part, bare=bare).picometres for part in parts)
    return (read, true) if read > 0 and true > 0 else None


def _split_angle(text: str) -> tuple[str, int | None, int]:
    """The part before "@" or "at", and the angle behind it with its half width."""
    reading, *angles = _AT.split(text.strip(), maxsplit=1)
    return (reading, *parse_angle(angles[0])) if angles else (reading, None, 0)


def _swing(text: str, bare: Unit, graduation_pm: int | None) -> tuple[int, int]:
    """A swing without its angle, and the finest place typed, in picometres."""
    tidy = plain(text)
    if over := _OVER.fullmatch(tidy):
        return _over_the_top(over, bare, graduation_pm)
    pair = _FROM_TO.fullmatch(tidy) or _SLASH.fullmatch(tidy) or _BOTH_SIGNED.fullmatch(tidy)
    if pair:
        if pair.re is _FROM_TO:
            _refuse_round_the_dial(text, pair["first"], pair["second"])
            if not pair["said"]:
                _refuse_two_swings(text, pair["first"], pair["second"])
        low, high, step = _two_lengths(pair["first"], pair["second"], bare, graduation_pm)
        return high - low, step
    if _RANGE.fullmatch(tidy):
        raise LengthError(
            f"{quoted(text)} is a range, no swing that was read.",
            'Type the swing alone, or both ends of the dial as "from 6 to 8".',
        )
    if "/" in tidy and not split_number(tidy)[2]:
        raise LengthError(
            f"{quoted(text)} has two meanings, a fraction or a dial that went both ways.",
            'Type the dial with its signs, as "+3/-2", or the fraction with its unit, as "1/2 thou".',
        )
    picometres, _, step = _length(text, bare, graduation_pm)
    if picometres < 0:
        raise LengthError(
            f"{quoted(text)}: a swing cannot be negative; a reading with a sign belongs to a turn.",
            'Type the full swing, or both ends as "+3/-2".',
        )
    return picometres, step


def _refuse_two_swings(text: str, first: str, second: str) -> None:
    """Refuse "6 to 8", which may be one dial's ends or two swings: neither has a sign, neither is zero."""
    if all(end[0] not in "+-" and split_number(end)[0] for end in (first, second)):
        raise LengthError(
            f"{quoted(text)} has two meanings, a dial that went from one to the other or a swing between them.",
            f'Type "from {first} to {second}" for the dial, or the swing alone.',
        )


def _refuse_round_the_dial(text: str, first: str, second: str) -> None:
    """Refuse "from 95 to 5", which on a dial of 100 may have gone the short way, over its top."""
    high, low = split_number(first)[0], split_number(second)[0]
    for top in _DIALS if low >= 0 and first[0] != "+" else ():
        if high <= top and 2 * (high - low) > top and high != top:
            raise LengthError(
                f"{quoted(text)} has two meanings, a pointer that went back {high - low} or one that went on "
                f"{top - high + low}, over the top of the dial.",
                f'Type "from {second} to {first}" for the first, "{first} over {top} to {second}" for the other.',
            )


def _over_the_top(said: re.Match[str], bare: Unit, graduation_pm: int | None) -> tuple[int, int]:
    """ "95 over 100 to 5": the pointer went on over the top of the dial."""
    unit = split_number(said["second"])[2]
    parts = [part if split_number(part)[2] else f"{part} {unit}" for part in (said["first"], said["top"])]
    (first, _, one_step), (top, _, _) = (_length(part, bare, graduation_pm) for part in parts)
    second, _, other_step = _length(said["second"], bare, graduation_pm)
    if not 0 <= second <= first <= top:
        raise LengthError(
            f"{quoted(said[0])} does not go over the top of a dial.",
            'Type it as "95 over 100 to 5", or the swing alone.',
        )
    return top - first + second, min(one_step, other_step)


def _two_lengths(first: str, second: str, bare: Unit, graduation_pm: int | None) -> tuple[int, int, int]:
    """Lower and higher of two readings, and the finest place; a unit behind the second only is for both."""
    first_unit, second_unit = split_number(first)[2], split_number(second)[2]
    if first_unit and not second_unit:
        raise LengthError(
            f"{quoted(second)} has no unit, {quoted(first)} has one.", "Type the unit once, at the end, or twice."
        )
    one, _, one_step = _length(first if first_unit else f"{first} {second_unit}", bare, graduation_pm)
    other, _, other_step = _length(second, bare, graduation_pm)
    return min(one, other), max(one, other), min(one_step, other_step)


def _length(text: str, bare: Unit, graduation_pm: int | None) -> tuple[int, str, int]:
    """One reading in a unit or in divisions of the dial: picometres, its text, finest place typed."""
    value, place, word = split_number(text)
    if not _DIVISION.fullmatch(word):
        return parse_length(text, bare=bare).picometres, text, finest_place(text, bare=bare)
    if graduation_pm is None:
        raise LengthError(
            f"{quoted(text)}: how much a division is depends on the indicator.",
            "Name the instrument and its graduation, or type the reading in um.",
        )
    graduation_um = Fraction(graduation_pm, PICOMETRES["um"])
    return exact(value * graduation_um, "um", text=text), text, step_of(place * graduation_um, "um")


def _plain_angle(text: str) -> str:
    """``text`` tidied as lengths are; a refusal names an angle."""
    try:
        return plain(text)
    except LengthError:
        raise RefusedError(f"{quoted(text)} is not an angle.", 'Type degrees, as "120", or "4 o\'clock".') from None
