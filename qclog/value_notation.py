"""Values and limits with one end or two, as a shop writes them: sizes, differences, pairs, pins, tolerances.

Words and forms are common practice: "12.00..12.05mm", "12.02 \u00b10.02mm", "12 +0.05/0 mm", "max 10um". What has two
meanings is refused with both named. Lengths are read by ``qclog.lengths``.
"""

import re
from collections.abc import Sequence
from typing import Final

from qclog.characteristics import FLUSHNESS, PAIR_DIFFERENCE, SIZE_FROM_PM, check_limits, check_value, known
from qclog.errors import LengthError
from qclog.lengths import LONGEST_TEXT, Unit, finest_place, parse_length, plain, quoted, split_number
from qclog.notation import TypedReading

_MAX: Final = re.compile(r"(?:max(?:imum)?\.?|at most|up to|not over|<=|\u2264|<)(?P<end>.+)")
_MIN: Final = re.compile(r"(?:min(?:imum)?\.?|at least|not under|>=|\u2265|>)(?P<end>.+)")
_FROM_TO: Final = re.compile(r"(?:from )?(?P<first>.+?)(?: ?(?<!\.)\.\.(?!\.) ?| to )(?P<second>.+)")
_BETWEEN: Final = re.compile(r"between (?P<first>.+?) and (?P<second>.+)")
_PLUS_MINUS: Final = re.compile(r"(?P<nominal>.*?[^ ]) ?(?:\u00b1|\+/-|\+-) ?(?P<by>[0-9.,].*)")
_DEVIATIONS: Final = re.compile(
    r"(?:(?P<nominal>[0-9.,].*?)(?: ?(?=[+-])| (?=0 ?/)))?(?P<first>[+-] ?[0-9.,]+|0)(?: ?/ ?| |(?=[+-]))"
    r"(?P<second>(?:[+-] ?[0-9.,]|0).*)"
)
_HYPHEN: Final = re.compile(r"[0-9.,]+ ?[a-z\"' ]* ?- ?[0-9.,]+.*")
_GOES: Final = re.compile(r"(?P<first>.+?) goes?,? (?:and )?(?P<second>.+?) (?:does not|doesn't|not|no)(?: go)?")
_PAIR: Final = re.compile(r"[0-9]+[.,][0-9]+ ?[a-z]* ?/ ?[0-9]+[.,][0-9]+ ?[a-z]*")
_FIT: Final = re.compile(r"[0-9]+(?:[.,][0-9]+)? ?(?:mm)? ?[a-z]{1,2}(?:1[0-8]|[1-9])")
_PROUD: Final = re.compile(r"(?P<size>[+-]?[0-9.,].*?) ?(?P<word>proud|above|below|under|deep)")


def parse_value(text: str, name: str, *, bare: Unit | None) -> tuple[TypedReading, ...]:
    """One value of a characteristic: a number; readings kept together, "8.052/7.998"; what pins tell, "6.48..6.49".

    What only pins tell keeps both ends, what goes and what does not; ``picometres`` is then the middle. Of flushness
    also "0.02 below", "0.01 proud", "flush". ``bare``: the unit of a bare number, None where it must be typed. Raises
    LengthError, RefusedError.
    """
    tidy = plain(text)
    one = known(name)
    if name == FLUSHNESS:
        tidy = _signed(tidy, text)
    parts = [part.strip() for part in tidy.split("/")] if one.joined else [tidy]
    if len(parts) > 1:
        _refuse_fraction(parts, text)
    _refuse_fit(tidy, text)
    if not one.joined and _PAIR.fullmatch(tidy):
        raise LengthError(
            f"{quoted(text)} is two sizes, a {name} is one.",
            f'Log each by itself; their difference is a "{PAIR_DIFFERENCE}".',
        )
    ends = [_ends_of(part, text, one.by_pins) for part in parts]
    with_unit = iter(_with_units([end for both in ends for end in both], text))
    if name == PAIR_DIFFERENCE and len(ends) == 1 and tidy[0] not in "+-":
        _refuse_unsigned(tidy, text, bare)
    found = tuple(_read([next(with_unit) for _ in both], text, bare) for both in ends)
    check_value(name, [reading.picometres for reading in found], text)
    if len(found) > 1 and any(reading.low_pm is not None for reading in found[1:]):
        raise LengthError(f"{quoted(text)}: only the bore may be told by pins.", "Type it as 8.05..8.06/7.998.")
    return found


def pins_text(goes: str, does_not: str) -> str:
    """What the largest pin that goes and the smallest that does not tell, as it is kept."""
    return f"{goes.strip()} goes, {does_not.strip()} does not"


def parse_limits(text: str, name: str, *, bare: Unit | None) -> tuple[int | None, int | None, int | None]:
    """Lower and upper limit of a characteristic and the distance they are for, in picometres, None where not given.

    "12.00..12.05mm", "12.02 \u00b10.02mm", "12 +0.05/0 mm", "max 12.05mm", "min 12.00mm"; a lone length where it has
    one meaning: "8um@16mm" of a swing, "3um" of a pair, either way. Raises LengthError, RefusedError.
    """
    limits, at, distance_text = text.partition("@")
    _refuse_fit(plain(limits), text)
    lower, upper = _ends(plain(limits), name, text, bare)
    check_limits(name, lower, upper, text)
    if not at:
        return lower, upper, None
    distance = parse_length(distance_text.strip(), bare="mm", where="distance").picometres
    if distance < 0:
        raise LengthError(
            f"{quoted(text)}: a distance is counted outward from the front face.", "Type it without sign."
        )
    return lower, upper, distance


def _ends(tidy: str, name: str, text: str, bare: Unit | None) -> tuple[int | None, int | None]:
    if one := _MAX.fullmatch(tidy):
        return None, _length(one["end"], bare)
    if one := _MIN.fullmatch(tidy):
        return _length(one["end"], bare), None
    if two := _BETWEEN.fullmatch(tidy) or _FROM_TO.fullmatch(tidy):
        first, second = _lengths([two["first"], two["second"]], text, bare)
        return min(first, second), max(first, second)
    if two := _PLUS_MINUS.fullmatch(tidy):
        nominal, by = _lengths([two["nominal"], two["by"]], text, bare)
        return nominal - by, nominal + by
    if two := _DEVIATIONS.fullmatch(tidy):
        nominal, first, second = _lengths([two["nominal"] or "0", two["first"], two["second"]], text, bare)
        return nominal + min(first, second), nominal + max(first, second)
    if _HYPHEN.fullmatch(tidy):
        raise LengthError(
            f"{quoted(text)} has two meanings, from one to the other or a size with a minus.",
            'Type "12.00..12.05mm", or "12.05 +0/-0.05 mm".',
        )
    alone, length = known(name).alone, _length(tidy, bare)
    if not alone:
        both = "0..-0.05mm" if name == FLUSHNESS else "12.00..12.05mm"
        raise LengthError(
            f"{quoted(text)} may be the upper or the lower limit of {name}.",
            f'Type both, as "{both}", or "max ..." or "min ..." where there is one.',
        )
    return (-length if alone == "either way" else None), length


def _signed(tidy: str, text: str) -> str:
    """A flushness with its sign: proud is plus."""
    if tidy == "flush":
        return "0.00mm"
    said = _PROUD.fullmatch(tidy)
    if said is None:
        if tidy[0] not in "+-" and split_number(tidy)[0]:
            raise LengthError(
                f"{quoted(text)} has two meanings, proud or below.", 'Type the sign, as -0.02mm, or "0.02mm below".'
            )
        return tidy
    if said["size"][0] in "+-":
        raise LengthError(f"{quoted(text)} says it twice.", 'Type the sign or the word, as -0.02mm or "0.02mm below".')
    return said["size"] if said["word"] in ("proud", "above") else f"-{said['size']}"


def _ends_of(part: str, text: str, by_pins: bool) -> tuple[str, ...]:
    """A number as it is typed, or the pin that goes and the one that does not."""
    pins = _GOES.fullmatch(part) or _FROM_TO.fullmatch(part)
    if pins is None:
        return (part,)
    if not by_pins:
        raise LengthError(f"{quoted(text)} is a range, no value that was read.", "Type the value alone.")
    return pins["first"], pins["second"]


def _read(ends: Sequence[str], text: str, bare: Unit | None) -> TypedReading:
    lengths = [parse_length(end, bare=bare).picometres for end in ends]
    step = min(finest_place(end, bare=bare) for end in ends)
    if len(lengths) == 1:
        return TypedReading(lengths[0], ends[0] if "/" in text else text.strip(), step)
    goes, does_not = lengths
    if goes <= 0:
        raise LengthError(f"{quoted(text)}: a pin is larger than nought.", "Type it as 6.48..6.49: goes, does not.")
    if goes >= does_not:
        first, second = (end.strip() for end in ends)
        said = text.strip() == pins_text(first, second)
        swapped = f"--go {second} --no-go {first}" if said else f"{second}..{first}: goes, does not"
        raise LengthError(
            f"{quoted(text)}: the pin that goes has to be the smaller of the two.",
            "No pin does both: try the next larger." if goes == does_not else f"If they are swapped, type {swapped}.",
        )
    kept = "..".join(ends) if "/" in text else text.strip()
    return TypedReading((goes + does_not) // 2, kept, step, goes, does_not)


def _refuse_unsigned(tidy: str, text: str, bare: Unit | None) -> None:
    """A difference alone says by its sign which of the two is the larger."""
    if 0 < parse_length(tidy, bare=bare).picometres < SIZE_FROM_PM:
        raise LengthError(
            f"{quoted(text)} does not say which of the two is the larger.",
            "Type both sizes, as 10.002/10.004, or the sign: + where it is the first.",
        )


def _refuse_fit(tidy: str, text: str) -> None:
    """A tolerance by its letter has limits that no table here knows."""
    if _FIT.fullmatch(tidy):
        raise LengthError(
            f"{quoted(text)} is a fit by its letter, and what it allows is not known here.",
            "Give its two limits from your table, as 12.000..12.018mm.",
        )


def _refuse_fraction(parts: Sequence[str], text: str) -> None:
    if not any(sign in part for part in parts for sign in ".,"):
        raise LengthError(
            f"{quoted(text)} has two meanings, a fraction or sizes kept together.",
            "Type the sizes with their places, as 10.000/10.002.",
        )


def _lengths(parts: Sequence[str], text: str, bare: Unit | None) -> list[int]:
    return [_length(part, bare) for part in _with_units(parts, text)]


def _length(part: str, bare: Unit | None) -> int:
    return parse_length(re.sub(r"^([+-]) ", r"\1", part.strip()), bare=bare).picometres


def _with_units(parts: Sequence[str], text: str) -> list[str]:
    """Each part with its unit; one behind the last only is for all. A nought needs none."""
    if len(parts) == 1 or len(text) > LONGEST_TEXT:
        return list(parts)
    numbers = [split_number(re.sub(r"^([+-]) ", r"\1", part.strip())) for part in parts]
    last = numbers[-1][2] or next((unit for _, _, unit in numbers if unit and not numbers[-1][0]), "")
    if not last and any(unit for _, _, unit in numbers):
        raise LengthError(f"{quoted(text)} has a unit behind some numbers only.", "Type it once at the end, or twice.")
    return [
        part if unit or not last else f"{part.strip()} {last}"
        for part, (_, _, unit) in zip(parts, numbers, strict=True)
    ]
