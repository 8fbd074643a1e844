"""The works that are measured, each beside its yardstick. ``WORKS`` has them with their budgets."""

import itertools
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple
from unittest import mock

import numpy as np

from qclog import config
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
from qclog.statistics.turn.harmonics import design, grid_waves
from qclog.statistics.turn.turns import fit_turns
from tests.benchmarks import direct, made
from tests.benchmarks.bare_tables import Rows, bare_tables, emptied, rows_of
from tests.benchmarks.measuring import Measured, in_turn, of_children

_BLOCK: Final = 4_096
_AGGREGATE: Final = """
SELECT series_id, sitting_id, count(*), sum(value_um), sum(value_um * value_um), min(value_um), max(value_um)
FROM figure WHERE recalled = 0 GROUP BY series_id, sitting_id
"""


class Work(NamedTuple):
    """``budget``: at most so many times the yardstick; ``grows``: it is measured at three sizes; ``served``: also on a
    server. ``run`` gets a folder, the size, the pairs, and where the logbook is kept."""

    name: str
    yardstick: str
    budget: float
    run: Callable[[Path, int, int, str], Measured]
    grows: bool = True
    served: bool = False


def _qclog(environment: dict[str, str], *arguments: str) -> None:
    run = "from qclog.cli.main import run; run()"
    subprocess.run(
        [sys.executable, "-c", run, *arguments],
        env=environment,
        check=True,
        capture_output=True,
        stdin=subprocess.DEVNULL,
    )


def _as_processes(work: Sequence[str], yardstick: Sequence[str]) -> Callable[[Path, int, int, str], Measured]:
    """A command beside ``bare.py``, each as a whole process; "{}" in the arguments stands for the folder."""

    def run(folder: Path, size: int, pairs: int, book: str) -> Measured:
        del size
        environment = {**os.environ, "QCLOG_LOGBOOK": book}
        _qclog(environment, "setup", "add", "L2", "--positions", "A")
        _qclog(environment, "item", "add", "C-735", "--kind", "collet", "--made-to", "9um@25mm")
        for day in range(1, 5):
            swings = ("4.0", "4.3", "4.1")
            _qclog(environment, "log", "C-735", *swings, "--position", "A", "--accept", "--on", f"2026-03-0{day}T10:00")
        own = [one.replace("{}", str(folder)) for one in work]
        bare = [
            sys.executable,
            str(Path(__file__).parent / "bare.py"),
            *(one.replace("{}", str(folder)) for one in yardstick),
        ]
        return in_turn(
            lambda: _qclog(environment, *own),
            lambda: subprocess.run(bare, check=True, capture_output=True, stdin=subprocess.DEVNULL),
            pairs=pairs,
            clock=of_children,
        )

    return run


def committing(folder: Path, size: int, pairs: int, book: str) -> Measured:
    """One commit a clamping, beside the bare driver that commits the same rows, both synced to the disk.

    By the clock on the wall, in many short turns: what the disk takes counts, and other programs disturb both alike.
    """
    size = min(size, 20)
    store = open_store(book, create=True)
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
    rows = rows_of(store)
    bare = bare_tables(book, folder, rows)

    def write_bare() -> None:
        for number in range(size):
            bare.connection.execute("BEGIN")
            for table in ("entry", "clamping", "turn", "reading", "figure", "entry_digest"):
                bare.write(table, [rows[table][number % len(rows[table])]])
            bare.connection.execute("COMMIT")

    return in_turn(write, write_bare, pairs=10 * pairs, clock=time.perf_counter)


def fitting(folder: Path, size: int, pairs: int, book: str) -> Measured:
    """The fit of twelve-point turns, both swings and the residual, beside the plain products of matrices it needs:
    the coefficients, the curve at the angles, the curve at the half degrees on which its swing is defined."""
    del folder, book
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


def _importing(rows: Callable[[int], Any]) -> Callable[[Path, int, int, str], Measured]:
    def run(folder: Path, size: int, pairs: int, book: str) -> Measured:
        path = folder / "readings.csv"
        made.write_file(path, rows(size))
        stores: list[Store] = []

        def take_in() -> None:
            for store in stores:
                store.close()
            stores.clear()
            emptied(book, folder)
            stores.append(open_store(book, create=True))
            import_readings(stores[0], path, create=True)

        kept: Rows = {}

        def read_and_insert() -> None:
            import pandas as pd

            pd.read_csv(path)
            if not kept:
                kept.update(rows_of(stores[0]))
            bare = bare_tables(book, folder, kept)
            bare.connection.execute("BEGIN")
            for table, some in kept.items():
                bare.write(table, some)
            bare.connection.execute("COMMIT")
            bare.connection.close()

        return in_turn(take_in, read_and_insert, pairs=pairs, clock=_clock(book))

    return run


def _asking(question: Callable[[Store], object], *, anew: bool = False) -> Callable[[Path, int, int, str], Measured]:
    """A question about everything. What is kept of a large logbook is there, as after a look into the drawer; ``anew``:
    it never is."""

    def run(folder: Path, size: int, pairs: int, book: str) -> Measured:
        store = made.write_logbook(book, size) if "://" in book else direct.write_logbook(Path(book), size)
        kept = folder / "sums"

        def ask() -> None:
            if anew:
                shutil.rmtree(kept, ignore_errors=True)
            question(store)

        def aggregate() -> None:
            with store.reading() as connection:
                connection.exec_driver_sql(_AGGREGATE).fetchall()

        with mock.patch.object(config, "sums", return_value=kept):
            if not anew:
                drawer(store)
            return in_turn(ask, aggregate, pairs=pairs, clock=_clock(book))

    return run


def _clock(book: str) -> Callable[[], float]:
    """Processor time; with a server, which does much of the work in processes of its own, the clock on the wall."""
    return time.perf_counter if "://" in book else time.process_time


_LOG: Final = ("log", "C-735", "4.2", "--position", "A", "--accept")
_BARE: Final = "{}/bare.sqlite"
WORKS: Final = {
    "help": Work("`--help`", "bare typer program", 1.3, _as_processes(["--help"], ["--help"]), grows=False),
    "log": Work(
        "`log` of a swing",
        "bare program, same inserts",
        1.3,
        _as_processes(_LOG, ["log", _BARE, "C-735", "4.2"]),
        grows=False,
    ),
    "assess-one": Work(
        "`assess` of one item",
        "bare program, reads as many rows",
        1.3,
        _as_processes(["assess", "C-735"], ["assess", _BARE]),
        grows=False,
    ),
    "measure": Work(
        "`measure`, up to its first question",
        "bare program that asks",
        1.3,
        _as_processes(["measure", "C-735", "--setup", "L2", "--positions", "A"], ["measure", _BARE]),
        grows=False,
    ),
    "report": Work(
        "`report` of one item",
        "bare program, as many pictures",
        1.3,
        _as_processes(["report", "C-735", "--to", "{}/page.html"], ["report", _BARE, "{}/bare.html"]),
        grows=False,
    ),
    "commits": Work(
        "20 clampings, one commit each", "bare driver, same rows", 2.0, committing, grows=False, served=True
    ),
    "fit": Work("fit of turns of 12 (turns)", "the plain products it needs", 2.0, fitting),
    "import-turns": Work(
        "import, turns of 12 (rows)", "read_csv + executemany", 3.0, _importing(made.turns), served=True
    ),
    "import-swings": Work("import, swings (rows)", "read_csv + executemany", 3.0, _importing(made.swings), served=True),
    "drawer-anew": Work(
        "drawer, nothing kept (clampings)", "SQL aggregate", 3.0, _asking(drawer, anew=True), served=True
    ),
    "assess": Work("assess everything (clampings)", "SQL aggregate", 3.0, _asking(assess), served=True),
    "drawer": Work("drawer (clampings)", "SQL aggregate", 3.0, _asking(drawer), served=True),
    "wear": Work("wear of everything (clampings)", "SQL aggregate", 3.0, _asking(wear), served=True),
    "due": Work("due (clampings)", "SQL aggregate", 3.0, _asking(due), served=True),
}


def measure(work: str, size: int, pairs: int, book: str) -> Measured:
    """``book``: the URL of an empty database, or '' for a file."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        return WORKS[work].run(Path(folder), size, pairs, book or str(Path(folder) / "book.sqlite"))
