"""Assessing everything against the bare SQL aggregate over the derived table, in one process.

    python tests/benchmarks/assess_everything.py [CLAMPINGS] [ITEMS]

Budget: at most 3 times the aggregate, median of five, taken in turn.
"""

import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import new_entry
from qclog.logbook.items import add_item
from qclog.logbook.lookup import Register
from qclog.logbook.setups import add_setup
from qclog.questions.assess import assess
from qclog.records import Card, Clamping, Limit, Reading, Turn

AGGREGATE = """
SELECT series_id, sitting_id, count(*), sum(value_um), sum(value_um * value_um), min(value_um), max(value_um)
FROM figure WHERE recalled = 0 GROUP BY series_id, sitting_id
"""


UM, MM = 10**6, 10**9


def build(path: Path, *, clampings: int, items: int) -> Store:
    """A logbook of so many clampings, spread evenly over items, twenty a sitting and item at most."""
    rng = np.random.default_rng(1)
    store = open_store(str(path), create=True)
    with new_entry(store, "benchmark") as entry:
        register = Register(entry.connection)
        add_setup(entry, register, "L1", positions=["A", "B"])
        for i in range(items):
            limit = Limit(int(rng.uniform(6, 30)) * UM, 25 * MM)
            add_item(entry, register, f"C-{i:05d}", Card(kind="collet", nominal_pm=7 * MM), [limit])
        resolver = Resolver(Register(entry.connection))
        batch = []
        for k in range(clampings):
            swing = int(rng.gamma(20, 0.25) * 10) * UM // 10
            day = (k // items) % 28 + 1
            month = (k // items) // 28 % 12 + 1
            batch.append(
                resolver.resolve(
                    Clamping(
                        item=f"C-{k % items:05d}",
                        setup="L1",
                        taken_at=f"2026-{month:02d}-{day:02d}T10:00:00",
                        position="AB"[k % 2],
                        label=str(k),
                        turns=(Turn("tir", (Reading(swing, f"{swing / UM:.1f}", UM // 10),), 25 * MM),),
                    )
                )
            )
            if len(batch) == 2000:
                write_clampings(entry, batch)
                batch = []
        if batch:
            write_clampings(entry, batch)
    return store


def main() -> None:
    clampings = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    items = int(sys.argv[2]) if len(sys.argv) > 2 else 1_000
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        store = build(Path(folder) / "book.sqlite", clampings=clampings, items=items)
        print(f"{clampings} clampings of {items} items written in {time.perf_counter() - start:.1f} s")
        aggregate, question = [], []
        for _ in range(6):
            start = time.perf_counter()
            with store.reading() as connection:
                rows = connection.exec_driver_sql(AGGREGATE).fetchall()
            aggregate.append(time.perf_counter() - start)
            start = time.perf_counter()
            answers = assess(store)
            question.append(time.perf_counter() - start)
        pairs = [q / a for q, a in zip(question[1:], aggregate[1:], strict=True)]
        print(f"aggregate ({len(rows)} rows) {statistics.median(aggregate[1:]) * 1e3:.0f} ms, ", end="")
        print(f"assess ({len(answers)} answers) {statistics.median(question[1:]) * 1e3:.0f} ms, ", end="")
        print(f"ratio {statistics.median(pairs):.2f} (budget 3)")
        store.close()


if __name__ == "__main__":
    main()
