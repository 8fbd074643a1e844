"""The cells of the exchange form, one function a sort of cell. Each raises RefusedError for what will not do."""

import re
from typing import Final, NamedTuple

from qclog import texts, times
from qclog.errors import LengthError, RefusedError
from qclog.lengths import Unit, finest_place, parse_length, parse_unit, plain, quoted
from qclog.notation import parse_angle, parse_recalled

_MONTH: Final = "(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_MADE_A_DATE: Final = re.compile(
    rf"(\d{{1,4}}[-/. ]{_MONTH}([-/. ]\d{{1,4}})?|{_MONTH}[-/. ]?\d{{1,4}}|\d{{1,4}}[-/]\d{{1,2}}([-/]\d{{1,4}})?)"
    r"([T ]\d{1,2}:\d\d(:\d\d)?)?",
    re.IGNORECASE,
)
_MADE_A_POWER: Final = re.compile(r"\d+([.,]\d+)?e[+-]?\d+", re.IGNORECASE)
_NUMBER: Final = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d{1,2})?", re.ASCII)
_THOUSANDS: Final = re.compile(
    r"[+-]?\d{1,3}(?:(?:[ ']\d{3})+(?:[.,]\d*)?|(?:,\d{3})+\.\d*|(?:\.\d{3})+,\d*|(?:,\d{3}){2,}|(?:\.\d{3}){2,})",
    re.ASCII,
)
_OWN_UNIT: Final = re.compile(r"(?<=[0-9.,]) ?(?!e[+-]?[0-9])(?P<unit>[a-z\"'].*)", re.ASCII)
_ABOUT: Final = re.compile(r"(?:~|\u2248|about |ca\.? ?)")
_WITHIN: Final = re.compile(r"[<\u2264].+|[0-9.,]+ ?-.+")
_BREAKS: Final = re.compile(r"[ \t]*[\r\n\t]+[ \t]*")
_NOT_FINITE: Final = re.compile(r"[+-]?(nan|inf(inity)?)|#[a-z0-9/]+[!?]?", re.IGNORECASE)


class Value(NamedTuple):
    """A value cell with its unit. ``recalled``: written as out of an old notebook ("6-8", "<5", "~6")."""

    picometres: int
    step_pm: int
    low_pm: int | None
    high_pm: int | None
    recalled: bool


class DecimalSign:
    """Holds a file to one decimal sign. Between commas it is the point; else the first one that comes."""

    def __init__(self, delimiter: str) -> None:
        self._sign = "." if delimiter == "," else ""
        self._settled_by_delimiter = delimiter == ","

    def check(self, cell: str) -> None:
        """Raises RefusedError for thousands marks and for another decimal sign than the file's."""
        if _THOUSANDS.fullmatch(cell.strip().translate({0xA0: " ", 0x202F: " ", 0x2019: "'"})):
            raise RefusedError("The number has thousands separators.", "Write it without, as 1234.5.")
        signs = {sign for sign in ".," if sign in cell}
        if not signs:
            return
        if not self._sign and len(signs) == 1:
            self._sign = next(iter(signs))
        if signs - {self._sign}:
            if self._settled_by_delimiter:
                raise RefusedError(
                    "A comma in a number may be a decimal or a thousands sign.", "Write a decimal point, as 0.5."
                )
            raise RefusedError("Some numbers of the file have a decimal comma and some a point.", "Use one of them.")


def read_code(cell: str) -> str:
    """A code as written. Whether it is known is looked up elsewhere."""
    code = cell.strip()
    if code[:1] in ("=", "+", "@", "-", "#"):
        raise RefusedError("This looks like a spreadsheet's formula or error, not a code.", "Type the code as text.")
    return code


def refuse_spreadsheet_damage(code: str) -> None:
    """Raises RefusedError for an unknown code that a spreadsheet seems to have made of another."""
    for pattern, made in ((_MADE_A_DATE, "date"), (_MADE_A_POWER, "number")):
        if pattern.fullmatch(code):
            raise RefusedError(
                f"A spreadsheet seems to have turned a code into the {made} {code!r}.",
                "Format the column as text and type the code again.",
            )


def read_label(cell: str) -> str:
    """A label, name or characteristic."""
    return texts.name(cell.strip(), "text")


def read_note(cell: str) -> str:
    """A note; a spreadsheet's line breaks inside a cell become blanks."""
    return texts.note(_BREAKS.sub(" ", cell.strip()), "note")


def read_date(cell: str) -> tuple[str, bool]:
    """The date or time as it is kept, and whether it can only be recalled: no day is given."""
    written = times.taken_at(cell, recalled=True)
    return written, len(times.day(written)) < len("2026-03-04")


def read_modification(cell: str) -> int | None:
    number = cell.strip()
    if not number:
        return None
    if not re.fullmatch(r"\d{1,4}", number, re.ASCII):
        raise RefusedError("A modification is a whole number.", "0 is the item as received; leave it empty if unsure.")
    return int(number)


def read_length(cell: str, bare: Unit | None, sign: DecimalSign) -> int:
    """A distance, diameter or limit in picometres. Raises RefusedError also for a negative one."""
    sign.check(cell)
    picometres = parse_length(cell, bare=bare).picometres
    if picometres < 0:
        raise RefusedError("This cannot be negative.", "A distance is counted outward from the item's front face.")
    return picometres


def read_value(cell: str, unit_cell: str) -> Value:
    """A value in the unit beside it. A unit inside the cell must be the same one.

    "6-8", "<5" and "~6" are values recalled from an old notebook. Raises LengthError, RefusedError.
    """
    unit = parse_unit(unit_cell)
    tidy = plain(cell)
    if _NOT_FINITE.fullmatch(tidy):
        raise RefusedError("This is not a number that can be measured.", "Leave the row out if nothing was read.")
    if own := _OWN_UNIT.search(tidy):
        _refuse_other_unit(cell, own["unit"], unit)
        tidy = tidy[: own.start()]
    about = _ABOUT.match(tidy)
    number = tidy[about.end() :].strip() if about else tidy
    if _NUMBER.fullmatch(number):
        picometres = parse_length(number, bare=unit).picometres
        return Value(picometres, finest_place(number, bare=unit), None, None, about is not None)
    if _WITHIN.fullmatch(tidy):
        read = parse_recalled(tidy, bare=unit)
        if read.low_pm is not None and read.angle_mdeg is None:
            return Value(read.picometres, read.step_pm, read.low_pm, read.high_pm, True)
    raise LengthError(
        f"{quoted(cell)} is not a number.", "Write one number, as 4.5; its unit stands in the column unit."
    )


def read_pins(cell: str, unit_cell: str) -> Value:
    """What pins tell of a bore, "6.48..6.49": the first goes, the second does not. Raises LengthError, RefusedError."""
    goes, _, does_not = cell.partition("..")
    first, second = read_value(goes, unit_cell), read_value(does_not, unit_cell)
    if first.recalled or second.recalled or not 0 < first.picometres < second.picometres:
        raise LengthError(f"{quoted(cell)} is not what pins tell.", "Write what goes and what does not, as 6.48..6.49.")
    middle = (first.picometres + second.picometres) // 2
    return Value(middle, min(first.step_pm, second.step_pm), first.picometres, second.picometres, False)


def _refuse_other_unit(cell: str, word: str, unit: Unit) -> None:
    try:
        own = parse_unit(word)
    except LengthError:
        raise LengthError(
            f"{quoted(cell)} is not a number.", "Write one number, as 4.5; its unit stands in the column unit."
        ) from None
    if own != unit:
        raise LengthError(f"The value is in {own}, the column unit says {unit}.", "Write the number alone.")


def read_angle(cell: str, kind: str, sign: DecimalSign) -> tuple[int | None, int]:
    """Angle in thousandths of a degree and the half width it was said to; None where the cell is empty.

    A high spot may be said by the clock ("4 o'clock"), a reading on a turn may not.
    """
    if not cell.strip():
        return None, 0
    sign.check(cell)
    angle, within = parse_angle(cell)
    if within and kind != "tir":
        raise RefusedError(f"{quoted(cell)} is not an angle in degrees.", "Write degrees, as 120.")
    return angle, within
