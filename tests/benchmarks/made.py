"""Logbooks and files of any size from a known truth, the same every time: readings of collets on a chuck.

Every collet has a run-out vector of its own at each key position and is clamped anew with a repeat of 0.4 µm on each
axis; a reading has 0.1 µm of noise. A logbook is written by the program's own way of writing, in batches; ``direct``
writes the same rows much faster.
"""

import csv
import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.items import add_item
from qclog.logbook.lookup import Register
from qclog.logbook.setups import add_setup
from qclog.records import Card, Clamping, Limit, Reading, Turn

Ints = npt.NDArray[np.int64]
Vectors = npt.NDArray[np.complex128]

UM: Final = 10**6
MM: Final = 10**9
_BATCH: Final = 2_000
_AT_ONCE: Final = 20_000
_POINTS: Final = 12
HEADER: Final = ["taken_at", "item", "setup", "position", "clamping", "distance", "kind", "angle_deg", "value", "unit"]


def items_for(clampings: int) -> int:
    """200 clampings an item: 5,000 items at a million."""
    return max(1, clampings // 200)


def clamped(clampings: int, items: int) -> Iterator[tuple[str, str, str, int, complex]]:
    """Time, item, position, number and run-out vector in µm of each clamping, day after day."""
    for numbers, vectors in vectors_of(clampings, items):
        for number, vector in zip(numbers.tolist(), vectors.tolist(), strict=True):
            item, day, place = number % items, number // items // 4, number // items % 2
            yield f"{day_of(day)}T10:00", f"C-{item:05d}", "AB"[place], number, vector


def vectors_of(clampings: int, items: int) -> Iterator[tuple[Ints, Vectors]]:
    """Numbers and run-out vectors in µm of clampings, in the order of time, some thousand at once: arrays (n,)."""
    rng = np.random.default_rng(1)
    own = rng.normal(0, 2.0, (items, 2, 2))
    for start in range(0, clampings, _AT_ONCE):
        number = np.arange(start, min(start + _AT_ONCE, clampings))
        x, y = rng.normal(own[number % items, number // items % 2], 0.4).T
        yield number, x + 1j * y


def day_of(day: int) -> str:
    """The day with this number, in months of 28 days."""
    return f"{2020 + day // 336}-{day // 28 % 12 + 1:02d}-{day % 28 + 1:02d}"


def swings(count: int) -> Iterator[list[str | int]]:
    """Rows of the exchange form, each a swing and a clamping."""
    for taken_at, item, position, number, vector in clamped(count, items_for(count)):
        yield [taken_at, item, "L1", position, number, 25, "tir", "", f"{2 * abs(vector):.1f}", "um"]


def turns(count: int) -> Iterator[list[str | int]]:
    """Rows of the exchange form, twelve of which are the turn of a clamping."""
    rng = np.random.default_rng(2)
    angles = np.arange(_POINTS) * 360 // _POINTS
    for taken_at, item, position, number, vector in clamped(count // _POINTS, items_for(count // _POINTS)):
        read = (vector * np.exp(-1j * np.radians(angles))).real + rng.normal(0, 0.1, _POINTS)
        for angle, value in zip(angles.tolist(), read.tolist(), strict=True):
            yield [taken_at, item, "L1", position, number, 25, "point", angle, f"{value:.1f}", "um"]


def write_file(path: Path, rows: Iterator[list[str | int]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADER)
        writer.writerows(rows)


def write_items(book: str, items: int) -> Store:
    """A logbook of items on a chuck, every one made to a limit."""
    rng = np.random.default_rng(3)
    store = open_store(book, create=True)
    with new_entry(store, "benchmark") as entry:
        register = Register(entry.connection)
        add_setup(entry, register, "L1", positions=["A", "B"])
        for item in range(items):
            limit = Limit(int(rng.uniform(6, 30)) * UM, 25 * MM)
            add_item(entry, register, f"C-{item:05d}", Card(kind="collet", nominal_pm=7 * MM), [limit])
    return store


def write_logbook(book: str, clampings: int) -> Store:
    """A logbook of so many clampings, each a swing."""
    items = items_for(clampings)
    store = write_items(book, items)
    with new_entry(store, "benchmark") as entry:
        resolver = Resolver(Register(entry.connection))
        records = (one_swing(*one) for one in clamped(clampings, items))
        while batch := [resolver.resolve(record) for record in itertools.islice(records, _BATCH)]:
            write_clampings(entry, batch)
    return store


def one_swing(taken_at: str, item: str, position: str, number: int, vector: complex) -> Clamping:
    tenths = round(20 * abs(vector))
    reading = Reading(tenths * UM // 10, f"{tenths / 10}", UM // 10)
    return Clamping(item, "L1", taken_at, (Turn("tir", (reading,), 25 * MM),), position=position, label=str(number))
