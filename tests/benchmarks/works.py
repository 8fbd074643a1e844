"""The works that are measured, each beside its yardstick. ``WORKS`` has them with their budgets."""

import itertools
import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np

from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.exchange import import_readings
from qclog.logbook.items import add_item
from qclog.logbook.lookup import Register
from qclog.logbook.setups import add_setup
from qclog.questions.assess import assess
from qclog.questions.drawer import drawer
from qclog.questions.due import due
from qclog.questions.wear import wear
from qclog.records import Card
from qclog.statistics.harmonics import design, grid_waves
from qclog.statistics.turns import fit_turns
from tests.benchmarks import direct, made
from tests.benchmarks.measuring import Measured, in_turn, of_children

_WRITTEN: Final = ("entry", "sitting", "clamping", "turn", "reading", "series", "figure", "entry_digest")
_BLOCK: Final = 4_096
_AGGREGATE: Final = """
SELECT series_id, sitting_id, count(*), sum(value_um), sum(value_um * value_um), min(value_um), max(value_um)
FROM figure WHERE recalled = 0 GROUP BY series_id, sitting_id
"""


class Work(NamedTuple):
    """``budget``: at most so many times the yardstick; ``grows``: it is measured at three sizes."""

    name: str
    yardstick: str
    budget: float
    run: Callable[[Path, int, int], Measured]
    grows: bool = True


def _qclog(environment: dict[str, str], *arguments: str) -> None:
    run = "from qclog.cli.main import run; run()"
    subprocess.run([sys.executable, "-c", run, *arguments], env=environment, check=True, capture_output=True)


def logging(folder: Path, size: int, pairs: int) -> Measured:
    """``qclog log`` of a swing as a whole process, its verdict included."""
    del size
    environment = {**os.environ, "QCLOG_LOGBOOK": str(folder / "book.sqlite")}
    _qclog(environment, "setup", "add", "L2", "--positions", "A")
    _qclog(environment, "item", "add", "C-735", "--kind", "collet", "--made-to", "9um@25mm")
    values = itertools.cycle(("4.0", "4.3", "4.1", "4.4", "4.2"))
    bare = [sys.executable, str(Path(__file__).parent / "bare.py"), str(folder / "bare.sqlite"), "C-735", "4.2"]
    return in_turn(
        lambda: _qclog(environment, "log", "C-735", next(values), "--position", "A", "--accept"),
        lambda: subprocess.run(bare, check=True, capture_output=True),
        pairs=pairs,
        clock=of_children,
    )


def helping(folder: Path, size: int, pairs: int) -> Measured:
    """``qclog --help`` beside that of a typer program of one command."""
    del folder, size
    bare = [sys.executable, str(Path(__file__).parent / "bare.py"), "--help"]
    return in_turn(
        lambda: _qclog(dict(os.environ), "--help"),
        lambda: subprocess.run(bare, check=True, capture_output=True),
        pairs=pairs,
        clock=of_children,
    )


def committing(folder: Path, size: int, pairs: int) -> Measured:
    """One commit a clamping, beside bare sqlite3 that commits the same rows, both synced to the disk.

    By the clock on the wall, in many short turns: what the disk takes counts, and other programs disturb both alike.
    """
    size = min(size, 20)
    store = open_store(str(folder / "book.sqlite"), create=True)
    with new_entry(store, "benchmark") as entry:
        add_setup(entry, Register(entry.connection), "L1", positions=["A", "B"])
        for item in range(made.items_for(size)):
            add_item(entry, Register(entry.connection), f"C-{item:05d}", Card(kind="collet"))
    records = (made.one_swing(*one) for one in made.clamped(10**9, made.items_for(size)))

    def write() -> None:
        for record in itertools.islice(records, size):
            with new_entry(store, "log") as entry:
                write_clampings(entry, [Resolver(Register(entry.connection)).resolve(record)])

    write()
    bare, rows = _bare_tables(store, folder)

    def write_bare() -> None:
        for number in range(size):
            bare.execute("BEGIN IMMEDIATE")
            for table in ("entry", "clamping", "turn", "reading", "figure", "entry_digest"):
                row = rows[table][number % len(rows[table])]
                bare.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
            bare.execute("COMMIT")

    return in_turn(write, write_bare, pairs=10 * pairs, clock=time.perf_counter)


def fitting(folder: Path, size: int, pairs: int) -> Measured:
    """The fit of twelve-point turns, both swings and the residual, beside the plain products of matrices it needs:
    the coefficients, the curve at the angles, the curve at the half degrees on which its swing is defined."""
    del folder
    rng = np.random.default_rng(1)
    angles = np.arange(12) * 30.0
    readings = 3 * np.cos(np.radians(angles)) + rng.normal(0, 0.3, (size, 12))
    found = design(tuple(angles.tolist()), 3)
    assert found is not None
    grid = np.ascontiguousarray(grid_waves(3).T)

    def products() -> None:
        for start in range(0, size, _BLOCK):
            turn = np.ascontiguousarray(readings[start : start + _BLOCK].T)
            coefficients = found.solve @ turn
            residual = turn - found.curve @ coefficients
            np.einsum("ij,ij->j", residual, residual)
            np.dot(grid, coefficients[1:])

    return in_turn(lambda: fit_turns(readings, angles), products, pairs=pairs)


def _importing(rows: Callable[[int], Any]) -> Callable[[Path, int, int], Measured]:
    def run(folder: Path, size: int, pairs: int) -> Measured:
        path, book = folder / "readings.csv", folder / "book.sqlite"
        made.write_file(path, rows(size))
        stores: list[Store] = []

        def take_in() -> None:
            for store in stores:
                store.close()
            stores.clear()
            for old in folder.glob("book.sqlite*"):
                old.unlink()
            stores.append(open_store(str(book), create=True))
            import_readings(stores[0], path, create=True)

        kept: dict[str, list[tuple[Any, ...]]] = {}

        def read_and_insert() -> None:
            import pandas as pd

            pd.read_csv(path)
            if not kept:
                bare, found = _bare_tables(stores[0], folder)
                bare.close()
                kept.update(found)
            bare = _bare(folder, kept)
            bare.execute("BEGIN")
            for table, some in kept.items():
                bare.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * len(some[0]))})", some)
            bare.execute("COMMIT")
            bare.close()

        return in_turn(take_in, read_and_insert, pairs=pairs)

    return run


def _bare_tables(store: Store, folder: Path) -> tuple[sqlite3.Connection, dict[str, list[tuple[Any, ...]]]]:
    """Tables without keys and rules beside those of a logbook, and the rows of the logbook."""
    with store.reading() as connection:
        rows = {
            table: [tuple(row) for row in connection.exec_driver_sql(f"SELECT * FROM {table}")] for table in _WRITTEN
        }
    return _bare(folder, rows), rows


def _bare(folder: Path, rows: dict[str, list[tuple[Any, ...]]]) -> sqlite3.Connection:
    for old in folder.glob("bare.sqlite*"):
        old.unlink()
    bare = sqlite3.connect(folder / "bare.sqlite", isolation_level=None)
    bare.execute("PRAGMA journal_mode=WAL")
    bare.execute("PRAGMA synchronous=FULL")
    for table, some in rows.items():
        bare.execute(f"CREATE TABLE {table} ({', '.join(f'c{i}' for i in range(len(some[0])))})")
    return bare


def _asking(question: Callable[[Store], object]) -> Callable[[Path, int, int], Measured]:
    def run(folder: Path, size: int, pairs: int) -> Measured:
        store = direct.write_logbook(folder / "book.sqlite", size)

        def aggregate() -> None:
            with store.reading() as connection:
                connection.exec_driver_sql(_AGGREGATE).fetchall()

        return in_turn(lambda: question(store), aggregate, pairs=pairs)

    return run


WORKS: Final = {
    "log": Work("qclog log of a swing, whole process", "bare program, same inserts", 1.3, logging, grows=False),
    "help": Work("qclog --help, whole process", "bare typer program", 1.3, helping, grows=False),
    "commits": Work("20 clampings, one commit each", "bare sqlite3, same rows", 2.0, committing, grows=False),
    "fit": Work("fit of turns of 12 (turns)", "the plain products it needs", 2.0, fitting),
    "import-turns": Work("import, turns of 12 (rows)", "read_csv + executemany", 3.0, _importing(made.turns)),
    "import-swings": Work("import, swings (rows)", "read_csv + executemany", 3.0, _importing(made.swings)),
    "assess": Work("assess everything (clampings)", "SQL aggregate", 3.0, _asking(assess)),
    "drawer": Work("drawer (clampings)", "SQL aggregate", 3.0, _asking(drawer)),
    "wear": Work("wear of everything (clampings)", "SQL aggregate", 3.0, _asking(wear)),
    "due": Work("due (clampings)", "SQL aggregate", 3.0, _asking(due)),
}


def measure(work: str, size: int, pairs: int) -> Measured:
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        return WORKS[work].run(Path(folder), size, pairs)
