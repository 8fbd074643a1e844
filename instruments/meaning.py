"""What a frame means: a reading with an exact value and a known unit, or a refusal with the reason.

Nothing that is not a number with a known unit, live and within range becomes a reading.
"""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Final

from instruments.profile import Profile
from instruments.records import Frame, Reading, Refused, Why
from instruments.units import EXACT, UNITS, picometres

LARGEST_PM: Final = UNITS["m"]
"""No indicator reads more than a metre: a larger value is a wrong scale, unit or line, or the sign of an overload."""

_NUMBER: Final = re.compile(
    r"(?P<sign>[+-]?) *(?P<whole>[0-9]{0,15}+)(?:(?P<mark>[.,])(?P<places>[0-9]{0,15}+))?"
    r"(?:[eE](?P<power>[+-]?[0-9]{1,2}))?"
)
_NOT_LIVE: Final = {
    "hold": Why.HOLD,
    "max": Why.MAX,
    "min": Why.MIN,
    "preset": Why.PRESET,
    "over range": Why.OVER_RANGE,
    "error": Why.ERROR,
}
_SAME_MINUS: Final = str.maketrans("\u2212\u2013", "--")
_MARKS: Final = {"point": ".", "comma": ",", "either": ".,"}


def interpret(frame: Frame, profile: Profile) -> Reading | Refused:
    """What ``frame`` means in ``profile``."""
    groups = _groups(frame.text, profile)
    if groups is None:
        return _message(frame, profile)
    status = groups.get("status") or ""
    meant = profile.status.get(status, "" if status else "live")
    if not meant:
        return Refused(frame.raw, frame.time, Why.UNKNOWN_STATUS, status)
    if meant in _NOT_LIVE:
        return Refused(frame.raw, frame.time, _NOT_LIVE[meant], status)
    sent_unit = groups.get("unit") or None
    unit = profile.unit if sent_unit is None else profile.units.get(sent_unit)
    if unit is None:
        why = Why.NO_UNIT if sent_unit is None else Why.UNKNOWN_UNIT
        return Refused(frame.raw, frame.time, why, sent_unit or "")
    value = _value(groups, unit, profile)
    if isinstance(value, Why):
        return Refused(frame.raw, frame.time, value, groups["number"] or "")
    if not _within(value, unit, profile):
        return Refused(frame.raw, frame.time, Why.OUT_OF_RANGE, f"{value} {unit}")
    angle = _angle(groups.get("count"), profile)
    if isinstance(angle, Why):
        return Refused(frame.raw, frame.time, angle, groups["count"] or "")
    passes = _mark_passes(groups.get("index"), profile)
    if isinstance(passes, Why):
        return Refused(frame.raw, frame.time, passes, groups["index"] or "")
    return Reading(value, unit, frame.time, frame.raw, () if meant == "live" else (meant,), angle, passes)


def _groups(text: str, profile: Profile) -> dict[str, str | None] | None:
    if profile.pattern is None:
        return {"number": text}
    match = profile.pattern.fullmatch(text)
    return match.groupdict() if match else None


def _message(frame: Frame, profile: Profile) -> Refused:
    """A line of another form: one of the status texts alone, or nothing known."""
    meant = profile.status.get(frame.text, "")
    if meant == "low battery":
        return Refused(frame.raw, frame.time, Why.LOW_BATTERY, frame.text)
    return Refused(frame.raw, frame.time, _NOT_LIVE.get(meant, Why.NO_MATCH), frame.text)


def _value(groups: dict[str, str | None], unit: str, profile: Profile) -> Decimal | Why:
    number = _NUMBER.fullmatch((groups["number"] or "").translate(_SAME_MINUS).strip())
    if number is None or not (number["whole"] or number["places"]):
        return Why.NOT_A_NUMBER
    if number["mark"] and number["mark"] not in _MARKS[profile.decimal]:
        return Why.NOT_A_NUMBER
    sign = profile.signs.get((groups.get("sign") or "").translate(_SAME_MINUS).strip())
    if sign is None:
        return Why.UNKNOWN_SIGN
    places = number["places"] or ""
    shift = int(number["power"] or 0) - len(places)
    counted = len(places)
    if (sent_places := groups.get("places")) is not None:
        if places or not sent_places.isdecimal():
            return Why.NOT_A_NUMBER
        counted = int(sent_places)
        shift -= counted
    if profile.decimals and profile.decimals.get(unit) != counted:
        return Why.DECIMALS
    minus = (number["sign"] == "-") ^ (sign == "-") ^ profile.reversed
    digits = Decimal(f"{'-' if minus else ''}{number['whole']}{places}E{shift}")
    return EXACT.plus(EXACT.multiply(digits, profile.scale))  # no minus before a zero


def _angle(count: str | None, profile: Profile) -> Fraction | Why | None:
    """Where the spindle stands in degrees, by its encoder's ``count``; None if the profile has no place for one."""
    if profile.counts_per_turn is None:
        return None
    number = _NUMBER.fullmatch((count or "").translate(_SAME_MINUS).strip())
    if number is None or number["power"] or not number["whole"]:
        return Why.NO_COUNT
    if number["mark"] and number["mark"] not in _MARKS[profile.decimal]:
        return Why.NO_COUNT
    counts = Fraction(f"{number['sign']}{number['whole']}.{number['places'] or 0}")
    return counts * 360 / profile.counts_per_turn % 360


def _mark_passes(text: str | None, profile: Profile) -> bool | Why | None:
    """Whether the spindle's mark passes; None if the profile has no place for it, no text means that it does not."""
    if not profile.index:
        return None
    meant = profile.index.get(text or "", "" if text else "no mark")
    return meant == "mark" if meant else Why.UNKNOWN_INDEX


def _within(value: Decimal, unit: str, profile: Profile) -> bool:
    size = picometres(value, unit)
    if profile.range is not None:
        low, high, of = profile.range
        return picometres(low, of) <= size <= picometres(high, of)
    return abs(size) <= LARGEST_PM
