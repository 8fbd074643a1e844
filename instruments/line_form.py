"""The form that lines of text have in common, as a pattern: where their number stands, its width, its unit."""

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

UNIT_TEXTS: Final = {
    "mm": "mm",
    "um": "um",
    "µm": "um",
    "μm": "um",
    "in": "in",
    "inch": "in",
    '"': "in",
    "thou": "thou",
}
"""Spellings of units that are understood without asking, in small letters (common practice)."""

_NUMBER: Final = re.compile(r"[+\-−]?\s*(?:[0-9]+(?:[.,][0-9]+)?|(?<![^\W_])[.,][0-9]+)(?:[eE][+-][0-9]{1,2})?")
_WORD: Final = re.compile(r"[^\W\d_]+|\"")


@dataclass(frozen=True, slots=True)
class LineForm:
    """``pattern`` with its groups number and, if one is sent, unit; ``units``: the unit texts seen; ``behind``: what
    stands behind the number. ``places``: the numbers of decimals seen; ``signs``: the signs seen, "" for none.
    ``others``: a number of the last line that changes too, and is passed over; empty if there is none."""

    alike: tuple[str, ...]
    pattern: str
    units: dict[str, str]
    behind: str
    places: frozenset[int]
    signs: frozenset[str]
    others: str
    comma: bool
    power: bool


def form_of(lines: Sequence[str]) -> LineForm | int:
    """The form of most of ``lines``; if there is not one number that tells a length, how many numbers could be it.

    Of several that change it is the one with a unit behind it."""
    shape, _ = Counter(map(_shape, lines)).most_common(1)[0]
    alike = [line for line in lines if _shape(line) == shape]
    rows = [list(_NUMBER.finditer(line)) for line in alike]
    places = range(len(rows[0]))
    changing = [at for at in places if len({row[at][0] for row in rows}) > 1]
    with_mark = [at for at in places if re.search("[.,]", rows[0][at][0])]
    gaps = [_gaps(line, row) for line, row in zip(alike, rows, strict=True)]
    candidates = changing or with_mark or list(places)
    if len(candidates) > 1:
        candidates = [at for at in candidates if _unit([gap[at + 1] for gap in gaps])[1]] or candidates
    if len(candidates) != 1:
        return len(candidates)
    at = candidates[0]
    numbers = [row[at][0] for row in rows]
    behind = [gap[at + 1] for gap in gaps]
    unit_pattern, units = _unit(behind)
    pattern = _literal(gaps[0][0])
    for place in places:
        if place == at:
            pattern += f"(?P<number>{_number(numbers)}){unit_pattern}"
        else:
            other = _number([row[place][0] for row in rows]) if place in changing else _literal(rows[0][place][0])
            pattern += other + _literal(gaps[0][place + 1])
    return LineForm(
        alike=tuple(alike),
        pattern=pattern,
        units=units,
        behind=behind[0].strip(),
        others=next((rows[-1][place][0] for place in changing if place != at), ""),
        places=frozenset(_places(number) for number in numbers),
        signs=frozenset(_sign(number) for number in numbers),
        comma=any("," in number for number in numbers),
        power=any("E" in number.upper() for number in numbers),
    )


def _gaps(line: str, row: Sequence[re.Match[str]]) -> list[str]:
    """What stands before, between and behind the numbers."""
    edges = [0, *(edge for number in row for edge in number.span()), len(line)]
    return [line[start:end] for start, end in zip(edges[::2], edges[1::2], strict=True)]


def _shape(line: str) -> str:
    """A line with its numbers taken out, and its unit words made alike."""
    return _WORD.sub(lambda word: "u" if word[0].lower() in UNIT_TEXTS else word[0], _NUMBER.sub("0", line))


def _sign(number: str) -> str:
    return "-" if number[0] in "-−" else "+" if number[0] == "+" else ""


def _places(number: str) -> int:
    return len(re.split("[.,]", re.split("[eE]", number)[0] + ".")[1])


def _number(numbers: Sequence[str]) -> str:
    """A pattern for all of ``numbers``: as wide as they are, where they are all as wide."""
    sign = "[+-]" if all(map(_sign, numbers)) else "[+-]?"
    blanks = r"\s*" if any(re.search(r"\s", number) for number in numbers) else ""
    widths = {len(re.split("[.,eE]", number.lstrip("+-− "))[0]) for number in numbers}
    least, most = min(widths), max(widths)
    whole = f"[0-9]{{{least}}}" if least == most > 1 else "[0-9]+" if least else "[0-9]*"
    places = {_places(number) for number in numbers}
    mark = "," if any("," in number for number in numbers) else r"\."
    some = f"{{{min(places)}}}" if len(places) == 1 else f"{{{max(min(places), 1)},{max(places)}}}"
    fraction = f"{mark}[0-9]{some}" if max(places) else ""
    if fraction and not min(places):
        fraction = f"(?:{fraction})?"
    return sign + blanks + whole + fraction + ("[eE][+-][0-9]+" if any("E" in n.upper() for n in numbers) else "")


def _unit(behind: Sequence[str]) -> tuple[str, dict[str, str]]:
    """The pattern behind the number, and the unit texts in it; none if a word there is no unit."""
    parts = [re.fullmatch(rf"(\s*,?\s*)({_WORD.pattern})(.*)", text, re.DOTALL) for text in behind]
    words = {part[2] for part in parts if part}
    first = parts[0]
    if first is None or None in parts or any(word.lower() not in UNIT_TEXTS for word in words):
        return _literal(behind[0]), {}
    choice = "|".join(re.escape(word) for word in sorted(words))
    units = {word: UNIT_TEXTS[word.lower()] for word in sorted(words)}
    return f"{_literal(first[1])}(?P<unit>{choice}){_literal(first[3])}", units


def _literal(text: str) -> str:
    """``text`` as a pattern, however many blanks stand in it."""
    return r"\s*".join(re.escape(part) for part in re.split(r"\s+", text))
