"""Dates and times as written: ISO 8601 on the wall clock, an offset kept if one was given."""

import contextlib
import datetime
import functools
import re
from typing import Final

from qclog.errors import RefusedError

_FORM: Final = re.compile(
    r"(?P<year>\d{4})(-(?P<month>\d\d)(-(?P<day>\d\d)"
    r"([T ](?P<hour>\d\d):(?P<minute>\d\d)(:(?P<second>\d\d)(\.\d{1,6})?)?"
    r"(?P<offset>Z|[+-]\d\d:?\d\d)?)?)?)?",
    re.ASCII,
)
_WALL_CLOCK: Final = re.compile(r"[0-9-]{4,10}([T ][0-9:]{5,8})?")
_SLASHED: Final = re.compile(r"(\d{1,4})[./](\d{1,2})([./](\d{1,4}))?")
LONGEST: Final = 40
_CLOCKS_DIFFER: Final = datetime.timedelta(minutes=10)


@functools.lru_cache(maxsize=1024)
def taken_at(text: str, *, recalled: bool = False) -> str:
    """``text`` checked as a date or date-time; a blank between date and time becomes T.

    Only a recalled reading may leave out the day or the month ("2019-05", "2019"). Raises RefusedError saying
    what is wrong, also for dates as spreadsheets write them, whose day and month cannot be told apart.
    """
    stripped = text.strip()
    if _SLASHED.fullmatch(stripped):
        raise RefusedError(
            f"The date {stripped!r} can be read in more than one way (day and month).",
            f"Write it as year-month-day: {_meant(stripped)}.",
        )
    match = _FORM.fullmatch(stripped) if len(stripped) <= LONGEST else None
    if match is None:
        raise RefusedError(
            f"{stripped[:LONGEST]!r} is not a date.", "Write 2026-03-04, or 2026-03-04T10:30 with the time."
        )
    if match["day"] is None and not recalled:
        raise RefusedError(
            f"The date {stripped!r} has no day.",
            "Write 2026-03-04; month or year alone only with --recalled.",
        )
    try:
        datetime.datetime(
            int(match["year"]),
            int(match["month"] or 1),
            int(match["day"] or 1),
            int(match["hour"] or 0),
            int(match["minute"] or 0),
            int(match["second"] or 0),
        )
    except ValueError as error:
        raise RefusedError(f"There is no date {stripped!r}.", f"Check it: {error}.") from error
    return stripped.replace(" ", "T")


def _meant(slashed: str) -> str:
    """What a date as spreadsheets write it may mean, the day first where it may; another one where it is none."""
    parts = re.split(r"[./]", slashed)
    first, second, *rest = (int(part) for part in parts)
    year = rest[0] if rest else 0
    orders = [(year, second, first), (year, first, second)]
    if len(parts[0]) == 4:
        orders = [(first, second, year)]
    possible = []
    for in_order in orders:
        with contextlib.suppress(ValueError):
            possible.append(datetime.date(*in_order).isoformat())
    return " or ".join(dict.fromkeys(one for one in possible if one >= "1000")) or "2026-03-04"


def now() -> str:
    """The wall clock now, to the second, with its offset."""
    return datetime.datetime.now().astimezone().isoformat(timespec="seconds")


def days_ahead(written: str) -> float:
    """How many days a time as written lies ahead of the clock, 0 where it does not; ten minutes are none.

    Of a day alone, how many days after today it begins.
    """
    clock = datetime.datetime.now().astimezone()
    if not has_time(written):
        day_ = datetime.date.fromisoformat(f"{written}-01-01"[:10]) if len(written) < 10 else None
        start = day_ or datetime.date.fromisoformat(written)
        return float(max((start - clock.date()).days, 0))
    at = datetime.datetime.fromisoformat(written)
    ahead = at - (clock if at.tzinfo else clock.replace(tzinfo=None))
    return ahead / datetime.timedelta(days=1) if ahead > _CLOCKS_DIFFER else 0.0


def utc_stamp() -> str:
    """The program's own stamp: UTC to the millisecond."""
    stamp = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
    return stamp.replace("+00:00", "Z")


def day(written: str) -> str:
    """The day of a time as written (the month or year, if that is all there is)."""
    return written[:10]


def has_time(written: str) -> bool:
    """Whether a time as written says more than the day."""
    return "T" in written


def day_of(number: int) -> str:
    """The day of a time as ``order`` gives it."""
    digits = f"{number:014d}"
    return f"{digits[:4]}-{digits[4:6]}-{digits[6:8]}"


@functools.lru_cache(maxsize=1024)
def order(written: str) -> int:
    """A number that sorts times as written on the wall clock: YYYYMMDDhhmmss, missing places zero."""
    wall_clock = _WALL_CLOCK.match(written)
    digits = "".join(c for c in wall_clock[0] if c.isdigit()) if wall_clock else ""
    return int(digits.ljust(14, "0")[:14] or "0")
