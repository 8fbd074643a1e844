"""Logbooks of any size with their rows put straight into the tables: for works that only read.

In them is what the program's own way of writing (``made.write_logbook``) leaves, but for the names of clampings, which
are counted here, and the digest of the entry, which is left out; ``test_direct.py`` holds the two against each other.
"""

import sqlite3
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import numpy as np

from qclog.logbook.deriving import METHOD
from qclog.logbook.engine import Store, open_store
from qclog.statistics.turn.turns import fit_turns
from tests.benchmarks import made

_FAST: Final = ("journal_mode=OFF", "synchronous=OFF", "cache_size=-200000", "foreign_keys=OFF")
_DISTANCE_TENTHS: Final = 250
_TENTH_UM: Final = made.UM // 10
_ENTRY, _REVISION = 1, 1


def write_logbook(path: Path, clampings: int, points: int = 1) -> Store:
    """A logbook of so many clampings, each a swing or, with 4 ``points`` or more, a turn of so many readings."""
    items = made.items_for(clampings)
    made.write_items(str(path), items).close()
    book = sqlite3.connect(path, isolation_level=None)
    for setting in _FAST:
        book.execute(f"PRAGMA {setting}")
    triggers = book.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    book.execute("BEGIN")
    for name, _ in triggers:
        book.execute(f"DROP TRIGGER {name}")
    _write(book, clampings, items, points)
    for _, statement in triggers:
        book.execute(statement)
    book.execute("COMMIT")
    book.execute("PRAGMA optimize")
    book.close()
    return open_store(str(path))


def _write(book: sqlite3.Connection, clampings: int, items: int, points: int) -> None:
    """The clampings of each block of numbers, from 0; ids count from 1, so that all of a swing have the same."""
    known = book.execute("SELECT item_id, id FROM modification ORDER BY item_id").fetchall()
    item_id, modification_id = (np.array(column) for column in zip(*known, strict=True))
    days = -(-clampings // items // 4) if clampings else 0
    _insert(book, "sitting", ((day + 1, _ENTRY, made.day_of(day)) for day in range(days)))
    _insert(
        book,
        "series",
        (
            (2 * i + place + 1, item, modification, _REVISION, "AB"[place], "", -1, _DISTANCE_TENTHS, "runout")
            for i, (item, modification) in enumerate(known)
            for place in (0, 1)
        ),
    )
    _insert(book, "gauging", [(1, 0, 0, 0, -1)])
    noise = np.random.default_rng(2)
    angles = np.arange(points) * 360 // points
    for number, vector in made.vectors_of(clampings, items):
        which, place, day = number % items, number // items % 2, number // items // 4
        ids = (number + 1).tolist()
        dates = [made.day_of(one) for one in day.tolist()]
        _insert(
            book,
            "clamping",
            (
                (one, _ENTRY, f"{one:036d}", item, modification, _REVISION, "AB"[at], "", sitting, f"{one - 1}",
                 f"{date}T10:00", None, None, None, None, None, "", "", "", "", 0, "")
                for one, item, modification, at, sitting, date in zip(
                    ids, item_id[which].tolist(), modification_id[which].tolist(), place.tolist(),
                    (day + 1).tolist(), dates, strict=True,
                )
            ),
        )  # fmt: skip
        kind = "tir" if points == 1 else "point"
        _insert(book, "turn", ((one, _ENTRY, one, "", 25 * made.MM, "runout", kind, None) for one in ids))
        if points == 1:
            tenths = np.rint(20 * np.abs(vector)).astype(np.int64)[:, None]
            value, eccentricity, residual, df = tenths[:, 0] * _TENTH_UM / 1e6, None, None, 0
        else:
            read = (vector[:, None] * np.exp(-1j * np.radians(angles))).real + noise.normal(
                0, 0.1, (ids[-1] + 1 - ids[0], points)
            )
            tenths = np.rint(10 * read).astype(np.int64)
            fit = fit_turns(tenths * _TENTH_UM / 1e6, angles)
            value, eccentricity, residual, df = fit.full_swing_um, fit.eccentricity, fit.residual_sd_um, fit.residual_df
        _insert(
            book,
            "reading",
            (
                (points * (one - 1) + rank + 1, _ENTRY, one, rank, None if points == 1 else 1000 * angle, 0,
                 tenth * _TENTH_UM, None, None, _TENTH_UM, f"{tenth / 10}")
                for one, row in zip(ids, tenths.tolist(), strict=True)
                for rank, (angle, tenth) in enumerate(zip(angles.tolist(), row, strict=True))
            ),
        )  # fmt: skip
        step = np.where(tenths % 10 == 5, 5 * _TENTH_UM, _TENTH_UM).min(axis=1)
        nothing = [None] * len(ids)
        _insert(
            book,
            "figure",
            (
                (one, series, one, sitting, 1, int(date.replace("-", "")) * 10**6 + 100_000, 0, step_pm, swing, x, y,
                 0, sd, df, METHOD)
                for one, series, sitting, date, step_pm, swing, x, y, sd in zip(
                    ids, (2 * which + place + 1).tolist(), (day + 1).tolist(), dates, step.tolist(), value.tolist(),
                    nothing if eccentricity is None else eccentricity.real.tolist(),
                    nothing if eccentricity is None else eccentricity.imag.tolist(),
                    nothing if residual is None else residual.tolist(), strict=True,
                )
            ),
        )  # fmt: skip


def _insert(book: sqlite3.Connection, table: str, rows: Iterable[tuple[Any, ...]]) -> None:
    columns = len(book.execute(f"SELECT * FROM {table} LIMIT 0").description)
    book.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * columns)})", rows)
