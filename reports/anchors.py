"""The names by which the parts of a page lead to each other: a verdict, a table of readings, a row of it, a dot."""

from qclog.records import RUNOUT


def row_of(clamping: int, distance_mm: float, characteristic: str) -> str:
    """The readings of a clamping at one place of the item."""
    what = "" if characteristic == RUNOUT else f"-{characteristic}"
    return _plain(f"c{clamping}-{distance_mm:g}{what}")


def dot_of(row: str) -> str:
    """The dot of a clamping in the picture over time, by the name of its row."""
    return f"dot-{row}"


def table_of(
    modification: int,
    setup: str,
    revision: int,
    position: str,
    clocking: str,
    distance_mm: float,
    diameter_mm: float | None,
    characteristic: str,
) -> str:
    """The table of the readings of one history at one place with one pin."""
    place = (modification, setup, revision, position, clocking, f"{distance_mm:g}", diameter_mm or "", characteristic)
    return _plain(f"r-{'-'.join(map(str, place))}")


def verdict_of(table: str) -> str:
    """The verdict that rests on a table of readings."""
    return f"verdict-{table}"


def _plain(text: str) -> str:
    return "".join(c if c.isalnum() or c in "-." else f"_{ord(c):x}" for c in text)
