"""Everything that has a budget, measured beside its yardstick in one run, as a table to paste.

    python -m tests.benchmarks [--largest 100000] [--pairs 5] [--stream 5] [--files-only] [WORK ...]

Run it from the clone. Ratios are medians of pairs taken in turn, by processor time; of commits, and with a server, by
the clock on the wall. Works that grow are measured at a hundredth, a tenth and all of the largest size; "x 10" is what
ten times the data took. Without a WORK named a stream of readings is counted too.
"""

import argparse
import contextlib
import dataclasses
import datetime
import json
import os
import platform
import statistics
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.measuring import Measured, in_a_process_of_its_own, table
from tests.benchmarks.server import empty_databases
from tests.benchmarks.works import WORKS, measure

_LEAST = 10_000
HEADER = ("work", "on", "beside", "size", "ms", "beside, ms", "ratio", "budget", "time x 10", "MB", "memory x 10")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("works", nargs="*", metavar="WORK", help=f"some of {', '.join(WORKS)}; without it all")
    parser.add_argument("--largest", type=int, default=100_000, help="clampings, rows or turns")
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--stream", type=float, default=5.0, help="so many seconds of a stream of readings")
    parser.add_argument("--files-only", action="store_true", help="without a server")
    parser.add_argument("--one", nargs=4, metavar=("WORK", "SIZE", "PAIRS", "BOOK"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        work, size, pairs, book = given.one
        print(json.dumps(dataclasses.asdict(measure(work, int(size), int(pairs), book))))
        return
    if given.largest < _LEAST or given.pairs < 1:
        parser.error(f"--largest is {_LEAST} or more, --pairs 1 or more")
    if unknown := set(given.works) - set(WORKS):
        parser.error(f"no such work: {', '.join(sorted(unknown))}")
    print(f"{platform.machine()} {_processor()}, {platform.system()}, Python {platform.python_version()}; ", end="")
    print(f"{datetime.date.today()}, load {_load()} at the beginning", flush=True)
    names = given.works or list(WORKS)
    rows = [row for name in names for row in _rows(name, given.largest, given.pairs, lambda: "")]
    if not given.files_only and any(WORKS[name].served for name in names):
        with contextlib.ExitStack() as stack:
            server = stack.enter_context(empty_databases())
            if isinstance(server, str):
                print(f"Nothing on PostgreSQL: no server can be started here ({server}).")
            else:
                served = [name for name in names if WORKS[name].served]
                rows += [row for name in served for row in _rows(name, given.largest, given.pairs, server)]
    print(f"load {_load()} at the end\n\n{table(HEADER, rows)}")
    if not given.works:
        print("\nstream of 2,000 readings a second: ", end="", flush=True)
        subprocess.run([sys.executable, str(Path(__file__).parent / "stream.py"), str(given.stream)], check=False)


def _rows(name: str, largest: int, pairs: int, new_book: Callable[[], str]) -> list[tuple[str, ...]]:
    """``new_book``: gives where each logbook is kept, '' for a file."""
    work = WORKS[name]
    rows: list[tuple[str, ...]] = []
    before: Measured | None = None
    for size in (largest // 100, largest // 10, largest) if work.grows else (20,):
        book = new_book()
        found = in_a_process_of_its_own(name, size, pairs, book)
        on = "" if not work.served else "PostgreSQL" if book else "SQLite"
        print(f"{name} {on} {size}: {found.ratio:.2f}", file=sys.stderr)
        took, beside = statistics.median(found.work), statistics.median(found.yardstick)
        grown = ("", "")
        if before:
            more = found.peak_mb / before.peak_mb if before.peak_mb else 0.0
            grown = (f"{took / statistics.median(before.work):.1f}", f"{more:.1f}")
        shown = (f"{size:,}" if work.grows else "", f"{1e3 * took:.0f}", f"{1e3 * beside:.0f}", f"{found.ratio:.2f}")
        memory = f"{found.peak_mb:.0f}" if work.grows else ""
        rows.append((work.name, on, work.yardstick, *shown, f"{work.budget:g}", grown[0], memory, grown[1]))
        before = found
    return rows


def _load() -> str:
    """How many programs want a processor, on average of a minute, where the system says it."""
    return f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "not told"


def _processor() -> str:
    """The name of the processor, where the system says it."""
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
        named = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
        return f"{len(named)} x {named[0]}"
    except (OSError, IndexError):
        return platform.processor()


if __name__ == "__main__":
    main()
