"""What go and no-go pins told of a bore: both ends of it, for no middle was ever read."""

import re
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

import sqlalchemy as sa

from qclog.characteristics import combined
from qclog.logbook import schema

_PM_PER_UM: Final = 1e6
_NAMES: Final = re.compile(r" \((?:go (?P<go>.+?))?(?:, )?(?:no-go (?P<no_go>.+))?\)")
Ends = tuple[float, float]


class PinsNamed(NamedTuple):
    """The codes of the pins that told a bore, '' where one was named by its size alone, and when they were used."""

    go: str
    no_go: str
    taken_at: str


def written_names(go: str, no_go: str) -> str:
    """The codes of the pins as they stand behind the text of a reading: " (go P-648, no-go P-649)"; '' without any."""
    named = ", ".join(f"{word} {code}" for word, code in (("go", go), ("no-go", no_go)) if code)
    return f" ({named})" if named else ""


def read_pins_named(connection: sa.Connection, series: Sequence[int]) -> dict[tuple[int, int], list[PinsNamed]]:
    """Of clampings of some series that pins told the pins of each turn, by series and clamping."""
    f, r, c = schema.figure, schema.reading, schema.clamping
    query = (
        sa.select(f.c.series_id, f.c.clamping_id, r.c.text, c.c.taken_at)
        .join(r, r.c.turn_id == f.c.turn_id)
        .join(c, c.c.id == f.c.clamping_id)
        .where(f.c.series_id.in_(series), r.c.low_pm.is_not(None))
    )
    found: dict[tuple[int, int], list[PinsNamed]] = defaultdict(list)
    for series_id, clamping_id, text, taken_at in connection.execute(query):
        go, no_go = _names_in(text)
        found[series_id, clamping_id].append(PinsNamed(go, no_go, taken_at))
    return dict(found)


def read_told_with(connection: sa.Connection, code: str) -> list[int]:
    """The clampings that a pin of this code told something in."""
    r, t = schema.reading, schema.turn
    query = sa.select(t.c.clamping_id, r.c.text).join(t, t.c.id == r.c.turn_id)
    query = query.where(t.c.kind == "value", r.c.low_pm.is_not(None), r.c.text.contains(code, autoescape=True))
    return [clamping for clamping, text in connection.execute(query) if code in _names_in(text)]


def _names_in(text: str) -> tuple[str, str]:
    """The codes behind what two pins told, '' where there are none."""
    sizes, opened, names = text.partition(" (")
    found = _NAMES.fullmatch(f"{opened}{names}") if sizes else None
    return (found["go"] or "", found["no_go"] or "") if found else ("", "")


def read_turn_ends(connection: sa.Connection, which: sa.ColumnElement[bool]) -> dict[int, Ends]:
    """The ends, µm, of the turns that pins told, by turn; ``which``: a condition on turns.

    Of a gap the ends are those of the bore, its first reading, less the pin.
    """
    r, t, end = schema.reading, schema.turn, schema.reading.alias()
    told = sa.exists().where(end.c.turn_id == t.c.id, end.c.low_pm.is_not(None))
    query = (
        sa.select(r.c.turn_id, t.c.characteristic, r.c.value_pm, r.c.low_pm, r.c.high_pm)
        .join(t, t.c.id == r.c.turn_id)
        .where(t.c.kind == "value", told, which)
        .order_by(r.c.turn_id, r.c.rank)
    )
    readings: dict[tuple[int, str], list[Any]] = defaultdict(list)
    for row in connection.execute(query):
        readings[row.turn_id, row.characteristic].append(row)
    found = {}
    for (turn, characteristic), (bore, *others) in readings.items():
        rest = [row.value_pm for row in others]
        low, high = (combined(characteristic, [end, *rest]) / _PM_PER_UM for end in (bore.low_pm, bore.high_pm))
        found[turn] = (low, high)
    return found


def read_value_ends(connection: sa.Connection, series: Sequence[int]) -> dict[tuple[int, int], Ends]:
    """The ends, µm, of clampings of some series of which pins told a turn, by series and clamping.

    Turns of one clamping are averaged first, one that was read to a number with both of its ends there.
    """
    f, t = schema.figure, schema.turn
    ends = read_turn_ends(connection, t.c.id.in_(sa.select(f.c.turn_id).where(f.c.series_id.in_(series))))
    if not ends:
        return {}
    turns: dict[tuple[int, int], list[Ends]] = defaultdict(list)
    query = sa.select(f.c.series_id, f.c.clamping_id, f.c.turn_id, f.c.value_um).where(f.c.series_id.in_(series))
    for row in connection.execute(query.order_by(f.c.turn_id)):
        turns[row.series_id, row.clamping_id].append(ends.get(row.turn_id, (row.value_um, row.value_um)))
    return {
        key: (sum(low for low, _ in found) / len(found), sum(high for _, high in found) / len(found))
        for key, found in turns.items()
    }
