"""The reverse of listening: what an indicator sends for a value, in the words of a profile.

For simulated indicators. The example of the profile is the form: its number, sign, unit and status are replaced. What
is said is listened to before it is sent, so a simulated indicator never says another value than it means.
"""

import struct
from collections.abc import Mapping
from decimal import Context, Decimal
from fractions import Fraction
from typing import Final

from instruments.errors import SimulationError
from instruments.meaning import interpret
from instruments.profile import Profile, Registers
from instruments.records import Frame, Reading
from instruments.registers import FORMATS, number_of

IDENTITY: Final = "SIMULATED,INDICATOR,0,1"
NO_ERROR: Final = '0,"No error"'

_END: Final = {"CR": b"\r", "LF": b"\n", "CRLF": b"\r\n", "any": b"\r\n"}


def said(profile: Profile, value: Decimal, unit: str, *, angle_deg: float = 0.0, index: bool = False) -> bytes:
    """The frame for ``value`` in ``unit``; where the profile has places for them, also where the spindle stands, to the
    nearest count, and whether its mark passes. Raises SimulationError if the profile has no way to say it exactly."""
    if profile.registers is not None:
        number = _number(profile, value)
        frame = _registers(profile.registers, number)
        words = struct.unpack(f">{len(frame) // 2}H", frame)
        text = number_of(words, profile.registers, profile.decimals.get(unit, 0)) if frame else str(number)
    else:
        text = _filled(profile, value, unit, _spindle(profile, angle_deg, index))
        frame = bytes(int(digit, 16) for digit in text) if profile.frames == "bcd" else ended(profile, text)
    heard = interpret(Frame(frame, text.strip(), 0.0), profile)
    meant = (value, unit, index if profile.index else None)
    if not isinstance(heard, Reading) or (heard.value, heard.unit, heard.index) != meant:
        raise SimulationError(
            f'{value} {unit} cannot be said in the profile {profile.name} ("{text}").',
            "Take a coarser resolution, a smaller value, or a unit it knows.",
        )
    return frame


def ended(profile: Profile, text: str) -> bytes:
    """A line of ``text`` with its end."""
    return text.encode("utf-8") + _END[profile.terminator]


def status_line(profile: Profile, meaning: str, value: Decimal, unit: str, *, angle_deg: float = 0.0) -> bytes:
    """The line that says ``meaning`` (a word of ``instruments.profile.STATUS``): beside the value if the pattern has a
    place for it, else alone. Raises SimulationError if the profile has no word for it."""
    words = [sent for sent, meant in profile.status.items() if meant == meaning]
    if not words or profile.pattern is None or profile.frames != "lines":
        raise SimulationError(
            f'The profile {profile.name} has no word for "{meaning}".', f'Write one below [status], as H = "{meaning}".'
        )
    if "status" in profile.pattern.groupindex:
        beside = _filled(profile, value, unit, _spindle(profile, angle_deg, False) | {"status": words[0]})
        if profile.pattern.fullmatch(beside):
            return ended(profile, beside)
    return ended(profile, words[0])


def answered(profile: Profile, request: bytes, value: Decimal, unit: str) -> bytes | None:
    """The answer to ``request``, or None if it is none of the profile's."""
    if profile.registers is not None:
        return _reply(profile, request, said(profile, value, unit))
    if request == profile.request:
        return said(profile, value, unit)
    if request == profile.identify:
        return ended(profile, IDENTITY)
    return ended(profile, NO_ERROR) if request == profile.error_query else None


def check_sum(frame: bytes) -> bytes:
    """CRC-16 of Modbus over serial line (specification V1.02, 6.2.2): polynomial A001, low byte first."""
    crc = 0xFFFF
    for byte in frame:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0xA001 if crc & 1 else 0)
    return crc.to_bytes(2, "little")


def _number(profile: Profile, value: Decimal) -> Decimal:
    """The number sent for ``value``; one that has no end is rounded, and then cannot be said."""
    return Context(prec=60, traps=[]).divide(-value if profile.reversed else value, profile.scale)


def _spindle(profile: Profile, angle_deg: float, index: bool) -> dict[str, str]:
    """The texts for the places that tell where the spindle stands."""
    assert profile.pattern is not None
    match = profile.pattern.fullmatch(profile.example)
    assert match is not None
    parts = {}
    if profile.counts_per_turn is not None:
        like = match["count"]
        places = len(like.replace(",", ".").partition(".")[2])
        steps = round(Fraction(angle_deg) * profile.counts_per_turn * 10**places / 360)
        count = Decimal(steps % (abs(profile.counts_per_turn) * 10**places)).scaleb(-places)
        sign = "+" if "+" in like else ""
        filled = f"{count:f}".rjust(len(like) - len(sign), " " if like.startswith(" ") else "0")
        parts["count"] = sign + filled.replace(".", "," if "," in like else ".")
    if profile.index:
        if match["index"] is None:
            raise SimulationError(
                f"The example of the profile {profile.name} has no place for the index.",
                "Let the group match nothing instead of leaving it out, as (?P<index>[*]?).",
            )
        parts["index"] = _word(profile.index, "mark") if index else _no_mark(profile)
    return parts


def _no_mark(profile: Profile) -> str:
    """The text of an index that does not mark the turn: nothing, unless the profile has a text for it."""
    return next((sent for sent, meant in profile.index.items() if meant == "no mark"), "")


def _filled(profile: Profile, value: Decimal, unit: str, parts: dict[str, str]) -> str:
    """The example with its number, sign and unit replaced, and with ``parts``."""
    assert profile.pattern is not None
    match = profile.pattern.fullmatch(profile.example)
    assert match is not None
    groups = match.groupdict()
    number = _number(profile, value)
    if "sign" in groups:
        parts["sign"] = _word(profile.signs, "-" if number < 0 else "+")
        number = abs(number)
    if groups.get("unit"):
        parts["unit"] = groups["unit"] if profile.units[groups["unit"]] == unit else _word(profile.units, unit)
    if "places" in groups:
        own = -int(number.as_tuple().exponent) if number else 0
        places = profile.decimals.get(unit, max(int(groups["places"]), own))
        parts |= {"places": str(places), "number": f"{number.scaleb(places):.0f}".rjust(len(groups["number"]), "0")}
    else:
        parts["number"] = _written(groups["number"], number, profile, unit)
    text = profile.example
    for name in sorted(parts, key=match.start, reverse=True):
        start, end = match.span(name)
        text = text[:start] + parts[name] + text[end:]
    return text


def _written(like: str, number: Decimal, profile: Profile, unit: str) -> str:
    """``number`` in the form of ``like``: its decimals, exponent, plus sign and filling."""
    mantissa, power_mark, _ = like.replace(",", ".").upper().partition("E")
    power = number.adjusted() if power_mark and number else 0
    own = 0 if power_mark or not number else -int(number.as_tuple().exponent)
    places = profile.decimals.get(unit, max(len(mantissa.partition(".")[2]), own))
    body = f"{abs(number.scaleb(-power)):.{places}f}"
    sign = "-" if number < 0 else "+" if "+" in mantissa else ""
    digits = mantissa.lstrip(" ").lstrip("+-")
    if digits.startswith((" ", "00")):  # filled between sign and digits
        body = body.rjust(len(mantissa) - len(sign), digits[0])
    text = (sign + body).rjust(len(mantissa) if mantissa.startswith(" ") else 0)
    return text.replace(".", "," if "," in like else ".") + (f"E{power:+03d}" if power_mark else "")


def _word(words: Mapping[str, str], meaning: str) -> str:
    for sent, meant in words.items():
        if meant == meaning:
            return sent
    raise SimulationError(f'The profile has no text for "{meaning}".', f'Write one in it, as M = "{meaning}".')


def _registers(place: Registers, number: Decimal) -> bytes:
    """The bytes of the registers for ``number``; none if it does not fit."""
    code = FORMATS[place.type]
    try:
        packed = struct.pack(code, float(number) if place.type == "float32" else int(number))
    except (struct.error, OverflowError):
        return b""
    pairs = [packed[at : at + 2] for at in range(0, len(packed), 2)]
    return b"".join(pairs if place.words == "high first" else pairs[::-1])


def _reply(profile: Profile, request: bytes, registers: bytes) -> bytes | None:
    """The reply of a Modbus RTU device to a request to read registers (application protocol V1.1b3, 6.3 and 6.4)."""
    place = profile.registers
    assert place is not None
    if len(request) != 8 or check_sum(request[:6]) != request[6:] or request[0] != place.device:
        return None
    code = 3 if place.kind == "holding" else 4
    if request[1] != code:
        body = bytes((place.device, request[1] | 0x80, 1))  # illegal function
    elif request[2:6] != struct.pack(">HH", place.address, len(registers) // 2):
        body = bytes((place.device, code | 0x80, 2))  # illegal data address
    else:
        body = bytes((place.device, code, len(registers))) + registers
    return body + check_sum(body)
