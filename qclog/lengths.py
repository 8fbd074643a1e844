"""Lengths as a shop writes them, read without rounding into whole picometres.

A picometre holds a tenth of a microinch exactly, so no reading is ever rounded: all arithmetic here is in
integers and fractions. 1 in = 25.4 mm exactly (ISO 80000-3). What a word means in the workshop ("tenth",
"thou", "hundredth", "mike") is common practice. A word with two meanings is refused with both named,
unless the shop's own unit settles it.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from qclog import texts
from qclog.errors import LengthError

Unit = Literal["um", "mm", "in", "thou", "tenths"]

PICOMETRES: dict[str, int] = {
    "um": 10**6,
    "mm": 10**9,
    "in": 25_400_000_000,
    "thou": 25_400_000,
    "tenths": 2_540_000,
    "nm": 10**3,
    "cm": 10**10,
    "m": 10**12,
    "uin": 25_400,
    "hundredths of a mm": 10**7,
    "tenths of a mm": 10**8,
    "hundredths of an inch": 254_000_000,
}
"""Exact size of each unit; the first five are the units of bare numbers and of the exchange form."""

LONGEST_PM = 100 * PICOMETRES["m"]
LONGEST_TEXT = 64

_SPELLINGS: dict[str, tuple[str, ...]] = {
    "um": (
        "um",
        "micron",
        "microns",
        "mic",
        "mics",
        "micrometre",
        "micrometres",
        "micrometer",
        "micrometers",
    ),
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "in": ("in", "inch", "inches", '"', "''"),
    "thou": ("thou", "thous"),
    "nm": ("nm",),
    "cm": ("cm",),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "uin": ("uin", 'u"', "microinch", "microinches", "millionth", "millionths"),
}
_FRACTIONAL_SPELLINGS = {  # "tenths of a thou", "hundredths mm": the words "of", "a", "an" are left out
    ("tenth", "thou"): "tenths",
    ("tenth", "mm"): "tenths of a mm",
    ("hundredth", "mm"): "hundredths of a mm",
    ("hundredth", "in"): "hundredths of an inch",
    ("thousandth", "mm"): "um",
    ("thousandth", "in"): "thou",
    ("millionth", "in"): "uin",
}
_UNIT_OF_WORD = {word: unit for unit, words in _SPELLINGS.items() for word in words} | {
    f"{part}{plural} {word}": unit
    for (part, whole), unit in _FRACTIONAL_SPELLINGS.items()
    for plural in ("", "s")
    for word in _SPELLINGS[whole]
}


@dataclass(frozen=True, slots=True)
class _TwoMeanings:
    """A word that means ``taken`` in one kind of shop (``None``: in none) and is refused elsewhere.

    ``first`` and ``second``: what one of it is, as a decimal and a unit that can be typed instead.
    """

    shop: Literal["inch", "metric"] | None
    taken: str
    first: tuple[str, str]
    second: tuple[str, str]
    said: str


_TENTH = _TwoMeanings("inch", "tenths", ("0.1", "thou"), ("0.1", "mm"), "0.0001 in (2.54 um) or 0.1 mm")
_HUNDREDTH = _TwoMeanings("metric", "hundredths of a mm", ("0.01", "mm"), ("0.01", "in"), "0.01 mm or 0.01 in (254 um)")
_THOUSANDTH = _TwoMeanings("inch", "thou", ("1", "thou"), ("1", "um"), "0.001 in (25.4 um) or 0.001 mm")
_MU = _TwoMeanings("metric", "um", ("1", "um"), ("1", "uin"), "a micron or a microinch (0.0254 um)")
_MIKE = _TwoMeanings(None, "", ("1", "um"), ("1", "uin"), "a micron or a microinch (0.0254 um)")
_MIL = _TwoMeanings(None, "", ("1", "thou"), ("1", "mm"), "0.001 in (25.4 um) or a millimetre")
_DOUBTFUL = {
    "tenth": _TENTH,
    "tenths": _TENTH,
    "hundredth": _HUNDREDTH,
    "hundredths": _HUNDREDTH,
    "thousandth": _THOUSANDTH,
    "thousandths": _THOUSANDTH,
    "u": _MU,
    "mu": _MU,
    "my": _MU,
    "mike": _MIKE,
    "mikes": _MIKE,
    "mil": _MIL,
    "mils": _MIL,
}

_SAME_CHARACTER = {
    ord(character): same
    for characters, same in {
        "\u2212\u2010\u2011\u2012\u2013\uff0d": "-",
        "\uff0b": "+",
        "\u00a0\u2007\u2009\u202f": " ",
        "\u00b5\u03bc": "u",
        "\u2033\u201c\u201d": '"',
        "\u2032\u2018\u2019": "'",
        "\uff0e": ".",
        "\uff0c": ",",
        "\u2044": "/",
        "\u00bd": " 1/2 ",
        "\u00bc": " 1/4 ",
        "\u00be": " 3/4 ",
        **{chr(0xFF10 + digit): str(digit) for digit in range(10)},
    }.items()
    for character in characters
}
_ONE_TO_TEN = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_COUNTS = {
    "half an": Fraction(1, 2),
    "half a": Fraction(1, 2),
    "half": Fraction(1, 2),
    "quarter": Fraction(1, 4),
    "an": Fraction(1),
    "a": Fraction(1),
    **{word: Fraction(count) for count, word in enumerate(_ONE_TO_TEN, start=1)},
}
_NUMBER = re.compile(
    r"(?P<sign>[+-]?) ?(?:"
    r"(?P<top>[0-9]+)/(?P<bottom>[0-9]+)"
    r"|(?P<whole>[0-9]+)(?:[.,](?P<places>[0-9]*))?(?:e(?P<power>[+-]?[0-9]{1,2})(?![0-9]))?"
    r"|[.,](?P<only_places>[0-9]+)(?:e(?P<only_power>[+-]?[0-9]{1,2})(?![0-9]))?"
    rf"|(?P<count>{'|'.join(_COUNTS)})[ -](?=.)"
    r")"
)


@dataclass(frozen=True, slots=True)
class Length:
    """A length in whole picometres, and the text it was typed as, untouched."""

    picometres: int
    text: str


def quoted(text: str) -> str:
    """``text`` in quotation marks on one line, for messages: shortened, unprintable characters as ``?``."""
    return f'"{texts.shown(text, LONGEST_TEXT)}"'


def plain(text: str) -> str:
    """``text`` with one sort of blank, minus, quotation mark, digit and micro sign (``u``), in lower case.

    Raises LengthError for nothing typed, more than 64 characters, or unprintable characters.
    """
    text = text.strip(" \t\r\n")
    if not text:
        raise LengthError("There is no length here.", 'Type a number and its unit, as "5um".')
    if len(text) > LONGEST_TEXT:
        raise LengthError(f"{quoted(text)} is too long for a length.", 'Type a number and its unit, as "5um".')
    tidy = text.translate(_SAME_CHARACTER)
    if not tidy.isprintable():
        raise LengthError(f"{quoted(text)} has unprintable characters in it.", "Type it again without them.")
    return re.sub(" +", " ", tidy).strip().lower()


def split_number(text: str) -> tuple[Fraction, Fraction, str]:
    """The number at the front of ``text``, the finest place it was typed to, and what follows it.

    "0.50 mm" gives 1/2, 1/100, "mm"; "2/10 thou" gives 1/5, 1/10, "thou"; "half a thou" gives 1/2, 1/2,
    "thou". Comma and point are both decimal signs. Raises LengthError where there is no number, or blanks
    or thousands separators stand in it.
    """
    tidy = plain(text)
    found = _NUMBER.match(tidy)
    if found is None:
        raise LengthError(f"{quoted(text)} is not a length.", 'Type a number and its unit, as "5um".')
    rest = tidy[found.end() :].strip()
    if re.search("[0-9]", rest) or rest.startswith((".", ",")):
        raise LengthError(
            f"{quoted(text)} is not one number and one unit.",
            'Comma and point are both decimal signs: leave out blanks and thousands marks, as "1234.5mm".',
        )
    if found["top"]:
        if int(found["bottom"]) == 0:
            raise LengthError(f"{quoted(text)} divides by nothing.", 'Type a fraction as "1/2 thou".')
        place = Fraction(1, int(found["bottom"]))
        value = int(found["top"]) * place
    elif found["count"]:
        value = _COUNTS[found["count"]]
        place = Fraction(1, value.denominator)
    else:
        places = found["only_places"] or found["places"] or ""
        place = Fraction(10) ** (int(found["power"] or found["only_power"] or 0) - len(places))
        value = int((found["whole"] or "") + places) * place
    return -value if found["sign"] == "-" else value, place, rest


def exact(value: Fraction | Decimal, unit: str, *, text: str = "") -> int:
    """``value`` of ``unit`` (a key of PICOMETRES) in picometres; ``text``: what was typed, for the message.

    Raises LengthError for what is finer than a picometre, not finite, or longer than 100 m.
    """
    shown = quoted(text or f"{value} {unit}")
    if isinstance(value, Decimal) and not value.is_finite():
        raise LengthError(f"{shown} is not a length.", 'Type a number and its unit, as "5um".')
    picometres = Fraction(value) * PICOMETRES[unit]
    if abs(picometres) > LONGEST_PM:
        raise LengthError(f"{shown} is longer than 100 m.", "Check the number and its unit.")
    if picometres.denominator != 1:
        raise LengthError(f"{shown} is finer than a picometre.", "Type a decimal number with fewer places.")
    return picometres.numerator


def step_of(place: Fraction, unit: str) -> int:
    """A finest place of ``place`` in ``unit`` as whole picometres, at least one and at most 100 m."""
    return min(max(round(place * PICOMETRES[unit]), 1), LONGEST_PM)


def parse_length(text: str, *, bare: Unit | None, where: str = "") -> Length:
    """The length typed as ``text``.

    ``bare``: the unit of a bare number, which also tells the shop: inch for "in", "thou" and "tenths",
    metric for "um" and "mm"; with ``None`` a bare number is refused. ``where`` (a column, a line) opens
    the message. Raises LengthError for anything that is no length, or has two meanings.
    """
    return Length(_read(text, bare, where)[0], text)


def finest_place(text: str, *, bare: Unit | None, where: str = "") -> int:
    """The finest place typed, in picometres: "5um" is 1 um, "0.0050mm" is 0.1 um, "1/2 thou" is half a thou.

    ``bare``, ``where`` and errors as in ``parse_length``.
    """
    return _read(text, bare, where)[1]


def as_typed(value: Decimal, unit: str) -> str:
    """``value`` in the ``unit`` of an indicator, so that every shop reads the same: tenths alone have two meanings."""
    return f"{value:f}{'tenths of a thou' if unit == 'tenths' else unit}"


def parse_unit(text: str) -> Unit:
    """One of the five units of the exchange form, in any case and with either micro sign.

    Here "tenths" is always 0.0001 in. Raises LengthError for any other unit.
    """
    try:
        word = plain(text)
    except LengthError:
        word = ""
    match "tenths" if word in ("tenth", "tenths") else _UNIT_OF_WORD.get(word):
        case "um" | "mm" | "in" | "thou" | "tenths" as unit:
            return unit
        case _:
            raise LengthError(f"{quoted(text)} is not a unit.", "Type um, mm, in, thou or tenths.")


def _read(text: str, bare: Unit | None, where: str) -> tuple[int, int]:
    """Length and finest place typed, in picometres; ``where`` opens the message of a refusal."""
    try:
        return _read_once(text, bare)
    except LengthError as refusal:
        if where:
            raise LengthError(f"{where}: {refusal.what}", refusal.remedy) from None
        raise


@lru_cache(maxsize=4096)  # the same few readings come again and again in an import
def _read_once(text: str, bare: Unit | None) -> tuple[int, int]:
    value, place, word = split_number(text)
    unit = _unit(text, value, word, bare)
    return exact(value, unit, text=text), step_of(place, unit)


def _unit(text: str, value: Fraction, word: str, bare: Unit | None) -> str:
    """The key of PICOMETRES meant by ``word`` behind the number ``value``."""
    word = re.sub(r" of( an?)? ", " ", word.removesuffix("."))
    if word in _UNIT_OF_WORD:
        return _UNIT_OF_WORD[word]
    if not word:
        if bare is not None:
            return bare
        number = text.strip()
        raise LengthError(f"{quoted(number)} has no unit.", f'Type "{number}um", "{number}mm" or "{number}in".')
    doubtful = _DOUBTFUL.get(word)
    if doubtful is None:
        raise LengthError(
            f"{quoted(text)} has no unit known here.", "Type um, mm, in, thou, nm or uin behind the number."
        )
    shop = None if bare is None else "metric" if bare in ("um", "mm") else "inch"
    if doubtful.taken and shop == doubtful.shop:
        return doubtful.taken
    first, second = (f'"{_decimal(value * Fraction(size))}{unit}"' for size, unit in (doubtful.first, doubtful.second))
    raise LengthError(f'{quoted(text)}: "{word}" has two meanings, {doubtful.said}.', f"Type {first} or {second}.")


def _decimal(value: Fraction) -> str:
    """``value`` as a plain decimal number."""
    digits = format(Decimal(value.numerator) / Decimal(value.denominator), "f")
    return digits.rstrip("0").rstrip(".") if "." in digits else digits
