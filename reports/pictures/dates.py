"""The axis of dates: few ticks, each a date as the logbook writes it."""

import datetime
from collections.abc import Iterable
from typing import Final

from matplotlib.axes import Axes

_MOST_TICKS: Final = 3
_MARGIN: Final = 0.05
_STEPS_DAYS: Final = (1, 2, 5, 10, 20)
_STEPS_MONTHS: Final = (1, 2, 3, 6, 12, 24, 60, 120, 240)


def day_of(written: str) -> float:
    """The place on the axis of a time as written, its day; a month or a year alone stands at its beginning."""
    whole = written[:10] + "0000-01-01"[len(written[:10]) :]
    return float(datetime.date.fromisoformat(whole).toordinal())


def lay_out(axes: Axes, days: Iterable[float]) -> None:
    """Give the axis of dates its ends and its ticks; at least two days, so that a single sitting has room."""
    low, high = min(days := list(days)), max(days)
    room = max((high - low) * _MARGIN, 1.0)
    axes.set_xlim(low - room, high + room)
    first, last = datetime.date.fromordinal(int(low)), datetime.date.fromordinal(int(high))
    ticks = _days(first, last) or _months(first, last)
    axes.set_xticks([float(day.toordinal()) for day, _ in ticks], [text for _, text in ticks])


def _days(first: datetime.date, last: datetime.date) -> list[tuple[datetime.date, str]]:
    """Every so many days; nothing where that is too many."""
    for step in _STEPS_DAYS:
        if (last - first).days // step < _MOST_TICKS:
            days = [first + datetime.timedelta(i) for i in range(0, (last - first).days + 1, step)]
            return [(day, day.isoformat() if day in (days[0], days[-1]) else "") for day in days]
    return []


def _months(first: datetime.date, last: datetime.date) -> list[tuple[datetime.date, str]]:
    """The first of every so many months within; years alone where all are Januaries."""
    begin, end = 12 * first.year + first.month - (first.day == 1), 12 * last.year + last.month - 1
    for step in _STEPS_MONTHS:
        months = [month for month in range(begin, end + 1) if month % step == 0]
        if len(months) <= _MOST_TICKS + 1:
            break
    form = "%Y" if step >= 12 else "%Y-%m"
    dates = [datetime.date(month // 12, month % 12 + 1, 1) for month in months]
    return [(date, date.strftime(form)) for date in dates]
