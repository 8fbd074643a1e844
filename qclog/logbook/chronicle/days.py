"""The clampings of a day as one event: where there are many in a setup or with a gauge no line each is read."""

from bisect import bisect
from collections.abc import Iterable, Sequence
from typing import Any, Final

from qclog import times
from qclog.logbook.chronicle.events import Event, Happened, in_time

MOST_SINGLY: Final = 100
"""More events of clampings than these are put together by day."""
_Key = tuple[tuple[bool, int, int], int]


def by_day(clamped: Iterable[tuple[int, Event]], before: Sequence[Event], after: Sequence[Event]) -> list[Event]:
    """All events in the order of time, the clampings of a day that follow each other as one where there are many.

    ``clamped``: as ``measured.clamped`` gives them, never held together; ``before``, ``after``: others, which at the
    same time come before or after them.
    """
    others = sorted(
        [*((in_time(one), 0, one) for one in before), *((in_time(one), 2, one) for one in after)], key=_place
    )
    places = [_place(one) for one in others]
    days: dict[tuple[int, str], _Day] = {}
    singly: list[tuple[_Key, Event]] = []
    count = 0
    for first, event in clamped:
        at, count = in_time(event), count + 1
        if count <= MOST_SINGLY:
            singly.append(((at, first), event))
        following = bisect(places, (at, 1))
        days.setdefault((following, times.day(event.at or event.written)), _Day()).add((at, first), event)
    clampings = [(day.first, day.event(name)) for (_, name), day in days.items()] if count > MOST_SINGLY else singly
    found = others + [(at, 1, event) for (at, _), event in sorted(clampings, key=lambda one: one[0])]
    return [event for _, _, event in sorted(found, key=_place)]


def _place(one: tuple[tuple[bool, int, int], int, Event]) -> tuple[tuple[bool, int, int], int]:
    return one[:2]


class _Day:
    """Clampings of one day between two other events: nothing is kept but what is told of them together."""

    def __init__(self) -> None:
        self.first: _Key = ((True, 0, 0), 0)
        self._only: Event | None = None
        self._entries = self._clampings = self._items = 0
        self._item = ""
        self._stations: set[str] = set()
        self._who: dict[str, _Key] = {}
        self._read: dict[tuple[str, int], tuple[_Key, dict[str, Any]]] = {}

    def add(self, key: _Key, event: Event) -> None:
        """An event of clampings, with what sorts it; those of one item follow each other."""
        facts = event.facts
        self._only = None if self._entries else event
        self.first = min(self.first, key) if self._entries else key
        self._entries += 1
        self._clampings += facts["clampings"]
        self._items += facts["item"] != self._item
        self._item = facts["item"]
        self._stations.add(event.station)
        who = facts["operator"] or event.who
        self._who[who] = min(self._who.get(who, key), key)
        for one in facts["read"]:
            place = one["characteristic"], one["distance_pm"]
            known = self._read.get(place)
            if known is None:
                self._read[place] = key, dict(one)
                continue
            at, read = known
            ends = _joined(read, one)
            if key < at:
                at, read = key, dict(one)
            read["least_um"], read["most_um"] = ends
            self._read[place] = at, read

    def event(self, day: str) -> Event:
        if self._only is not None:
            return self._only
        facts = {
            "entries": self._entries,
            "clampings": self._clampings,
            "items": self._items,
            "item": self._item,
            "stations": sorted(self._stations),
            "who": sorted(self._who, key=self._who.__getitem__),
            "read": [read for _, read in sorted(self._read.values(), key=lambda told: told[0])],
        }
        return Event(Happened.CLAMPED_ON_A_DAY, day, "", "", "", 0, facts)


def _joined(one: dict[str, Any], other: dict[str, Any]) -> tuple[float | None, float | None]:
    """The least and the most of both; None where all of it was struck out."""
    if one["least_um"] is None or other["least_um"] is None:
        known = other if one["least_um"] is None else one
        return known["least_um"], known["most_um"]
    return min(one["least_um"], other["least_um"]), max(one["most_um"], other["most_um"])
