"""What can be measured beside run-out: sizes, differences and gaps, and what a number of each means.

A *swing* (run-out, face run-out) runs from zero upward. Everything else is a plain value with a sign, held against one
limit or two. Readings of a value that belong together are kept together in one turn: of a pair the difference counts,
of slots the spread. Words are common practice; proud is plus, below is minus.
"""

import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

from qclog.errors import RefusedError
from qclog.lengths import PICOMETRES, Unit, quoted
from qclog.records import FACE_RUNOUT, RUNOUT, SWINGS

FLUSHNESS: Final = "flushness"
BORE: Final = "bore"
PAIR_DIFFERENCE: Final = "pair difference"
SLOT_DIFFERENCE: Final = "slot difference"
DIAMETRAL_GAP: Final = "diametral gap"
RADIAL_GAP: Final = "radial gap"
JAW_LIFT: Final = "jaw lift"
SIZE_FROM_PM: Final = PICOMETRES["mm"]
"""From 1 mm on a value is shown as a size in mm, below as a difference in µm."""

Joined = Literal["", "difference", "half difference", "spread"]
Alone = Literal["", "upper", "either way"]


@dataclass(frozen=True, slots=True)
class Characteristic:
    """What one is.

    ``size``: a bare number is in mm, and it is above zero; else a small length in the unit of the indicator or of the
    logbook. ``joined``: what counts of up to ``most`` readings kept together. ``alone``: what a limit of one number
    means; '' where it might be either end. ``by_pins``: go and no-go pins may tell it. ``once``: it can be read only
    until it is bonded.
    """

    name: str
    size: bool = False
    joined: Joined = ""
    most: int = 1
    alone: Alone = ""
    by_pins: bool = False
    once: bool = False


_KNOWN: Final = {
    one.name: one
    for one in (
        Characteristic(RUNOUT, alone="upper"),
        Characteristic(FACE_RUNOUT, alone="upper"),
        Characteristic(BORE, size=True, by_pins=True),
        Characteristic("depth", size=True),
        Characteristic("height", size=True),
        Characteristic(FLUSHNESS),
        Characteristic(PAIR_DIFFERENCE, joined="difference", most=2, alone="either way"),
        Characteristic(SLOT_DIFFERENCE, joined="spread", most=48, alone="upper"),
        Characteristic(DIAMETRAL_GAP, joined="difference", most=2, by_pins=True, once=True),
        Characteristic(RADIAL_GAP, joined="half difference", most=2, by_pins=True, once=True),
        Characteristic(JAW_LIFT, alone="upper"),
        Characteristic("parallelism", alone="upper"),
    )
}
NAMES: Final = tuple(_KNOWN)
"""All that are known here."""
_ALSO_CALLED: Final = {
    "run out": RUNOUT,
    **dict.fromkeys(("tir", "fim", "fir", "clock", "concentricity", "coaxiality"), RUNOUT),
    "face run out": FACE_RUNOUT,
    "bore size": BORE,
    "bore diameter": BORE,
    "lift": "jaw lift",
}
_JOINT: Final = re.compile(r"(?<=[^\W\d_])[-_](?=[^\W\d_])")
"""Between letters, where a blank would stand."""
_HALVES: Final = ("eccentricity", "eccentric", "ecc")
"""Words for half of a swing (ISO 1101 run-out is the whole of it)."""


def named(text: str) -> str:
    """A characteristic by the name it goes by here, with blanks, hyphens and underscores alike; one that is not known
    stays as it is written.

    Raises RefusedError for a gap of which nobody says whether it is diametral or radial, and for an eccentricity.
    """
    folded = " ".join(_JOINT.sub(" ", text).split()).casefold()
    if folded in _HALVES:
        raise RefusedError(
            "An eccentricity is half of the swing an indicator shows over a turn, and limits here are on the swing.",
            "Type twice the figure of the drawing, as run-out: 10um for an eccentricity of 5um.",
        )
    if folded in ("gap", "bond gap"):
        raise RefusedError(
            "A gap has two meanings, diametral (bore less pin) or radial (half of that).",
            f'Say which one your compound\'s sheet means: "{DIAMETRAL_GAP}" or "{RADIAL_GAP}".',
        )
    known = _ALSO_CALLED.get(folded, folded)
    return known if known in _KNOWN else " ".join(text.split())


def meant(text: str) -> str:
    """As ``named``, for what was typed by hand; a colon behind it says that it is a name of its own ("heigth:").

    Raises RefusedError also for what looks like a slip of the pen.
    """
    own, colon, rest = text.rstrip().rpartition(":")
    if own and colon and not rest:
        return named(own)
    name = named(text)
    _refuse_slip(name)
    return name


def _refuse_slip(name: str) -> None:
    if close := _nearest(name):
        raise RefusedError(
            f"{quoted(name)} is no characteristic known here.",
            f'Did you mean "{named(close)}"? If it is a name of its own, end it with a colon: "{name}:".',
        )


def told_apart(name: str) -> str:
    """A name as ``meant`` takes it: one that looks like a slip of another with a colon behind it."""
    return f"{name}:" if _nearest(name) else name


@lru_cache
def _nearest(name: str) -> str:
    """The name a characteristic looks like a slip of; '' where it is known, or like none."""
    if name in _KNOWN:
        return ""
    folded, names = name.casefold(), (*_KNOWN, *_ALSO_CALLED)
    turned = [one for one in names if len(one) > 3 and sorted(one) == sorted(folded)]
    return next(iter([*turned, *difflib.get_close_matches(folded, names, 1, 0.85)]), "")


def split_name(text: str) -> tuple[str, str]:
    """A text that may begin with a characteristic, and the rest: "depth 12.00..12.05mm"; '' where it does not.

    A name that is not known here ends with a colon: "stroke: 5..6mm". Raises as ``meant``.
    """
    typed = " ".join(text.split())
    tidy = _JOINT.sub(" ", typed)
    for name in sorted((*_KNOWN, *_ALSO_CALLED, *_HALVES, "gap", "bond gap"), key=len, reverse=True):
        if tidy.casefold().startswith((f"{name} ", f"{name}:")):
            return named(name), typed[len(name) + 1 :].strip()
    name, colon, rest = typed.partition(":")
    if colon:
        return named(name), rest.strip()
    words = tidy.split()
    for end in range(1, len(words)):
        _refuse_slip(" ".join(words[:end]))
    return "", text


def known(name: str) -> Characteristic:
    """What a characteristic is; one that is not known is a plain value whose unit has to be typed."""
    return _KNOWN.get(name, Characteristic(name))


def unit_of(name: str, instrument: Unit | None, logbook: Unit) -> Unit | None:
    """The unit of a bare number of a characteristic; None where it must be typed.

    Sizes, and sizes kept together, are in mm, or in inches where the instrument counts in them.
    """
    one = _KNOWN.get(name)
    if one is None:
        return None
    if one.size or one.joined:
        return "in" if instrument == "in" else "mm"
    return instrument or logbook


def combined(name: str, values: Sequence[int]) -> float:
    """What readings kept together amount to, in their own unit: first less second, half of that, or their spread."""
    joined = known(name).joined
    if len(values) == 1:
        return values[0]
    if joined == "spread":
        return max(values) - min(values)
    difference = values[0] - values[1]
    return difference / 2 if joined == "half difference" else difference


def check_value(name: str, values: Sequence[int], text: str) -> None:
    """Raises RefusedError for readings in picometres that no such characteristic can have."""
    one = known(name)
    if len(values) > one.most:
        wanted = "one number" if one.most == 1 else f"at most {one.most}"
        raise RefusedError(f"{quoted(text)}: a {name} is {wanted}, not {len(values)}.", "Give each its own clamping.")
    if one.joined and len(values) == 1 and abs(values[0]) >= SIZE_FROM_PM:
        both = {PAIR_DIFFERENCE: "10.002/10.004", SLOT_DIFFERENCE: "1.502/1.503/1.501"}.get(name, "8.052/7.998")
        unit = ", or the difference with its sign and unit, as -2um" if name == PAIR_DIFFERENCE else ""
        raise RefusedError(f"{quoted(text)} is one size, a {name} takes all of them.", f"Type them as {both}{unit}.")
    if name in (DIAMETRAL_GAP, RADIAL_GAP) and len(values) > 1 and values[0] <= values[1]:
        raise RefusedError(
            f"{quoted(text)}: the pin is not smaller than the bore.", "Type the bore first: 8.052/7.998."
        )
    if (one.size or len(values) > 1) and min(values) <= 0:
        raise RefusedError(f"{quoted(text)}: a {name} is measured above zero.", "Type the size, as 12.031.")


def check_limits(name: str, lower_pm: int | None, upper_pm: int | None, text: str) -> None:
    """Raises RefusedError for limits that no such characteristic can have."""
    if lower_pm is not None and upper_pm is not None and lower_pm >= upper_pm:
        raise RefusedError(f"{quoted(text)}: the lower limit is not below the upper one.", "Type it as 12.00..12.05mm.")
    if name in SWINGS and (lower_pm is not None or (upper_pm or 0) <= 0):
        raise RefusedError(f"{quoted(text)}: a limit of {name} is one length above zero.", "Type it as 8um@16mm.")
    if name == FLUSHNESS and (upper_pm is None or upper_pm > 0):
        raise RefusedError(
            f"{quoted(text)}: proud is plus, and it must never stand proud.", 'Type it as "0..-0.05mm", or "max 0mm".'
        )
    if known(name).size and min(limit for limit in (lower_pm, upper_pm) if limit is not None) <= 0:
        raise RefusedError(f"{quoted(text)}: a limit of {name} is above zero.", "Type it as 12.00..12.05mm.")
    if known(name).alone == "upper" and upper_pm is not None and upper_pm <= 0:
        raise RefusedError(f"{quoted(text)}: a limit of {name} is above zero.", "Type it as 10um.")
