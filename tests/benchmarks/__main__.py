"""Everything that has a budget, measured beside its yardstick in one run.

    python -m tests.benchmarks [--largest 100000] [--pairs 5] [--stream 5] [WORK ...]

Run it from the clone. Ratios are medians of pairs taken in turn, by processor time but for the commits, which wait for
the disk. Works that grow are measured at a hundredth, a tenth and all of the largest size; "x 10" is what ten times the
data took. ``--largest 10000 --pairs 3`` takes two minutes on a quiet machine. Without a WORK named a stream of readings
is counted too.
"""

import argparse
import dataclasses
import json
import platform
import statistics
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.measuring import Measured, in_a_process_of_its_own, table
from tests.benchmarks.works import WORKS, measure

_LEAST = 10_000
HEADER = ("work", "yardstick", "size", "work ms", "yardstick ms", "ratio", "budget", "x 10", "memory MB")


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("works", nargs="*", metavar="WORK", help=f"some of {', '.join(WORKS)}; without it all")
    parser.add_argument("--largest", type=int, default=100_000, help="clampings, rows or turns")
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--stream", type=float, default=5.0, help="so many seconds of a stream of readings")
    parser.add_argument("--one", nargs=3, metavar=("WORK", "SIZE", "PAIRS"), help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.one:
        work, size, pairs = given.one
        print(json.dumps(dataclasses.asdict(measure(work, int(size), int(pairs)))))
        return
    if given.largest < _LEAST or given.pairs < 1:
        parser.error(f"--largest is {_LEAST} or more, --pairs 1 or more")
    if unknown := set(given.works) - set(WORKS):
        parser.error(f"no such work: {', '.join(sorted(unknown))}")
    rows = [row for work in given.works or WORKS for row in _rows(work, given.largest, given.pairs)]
    print(f"{platform.machine()} {_processor()}, {platform.system()}, Python {platform.python_version()}\n")
    print(table(HEADER, rows))
    if not given.works:
        print("\nstream of 2,000 readings a second: ", end="", flush=True)
        subprocess.run([sys.executable, str(Path(__file__).parent / "stream.py"), str(given.stream)], check=False)


def _rows(name: str, largest: int, pairs: int) -> list[tuple[str, ...]]:
    work = WORKS[name]
    sizes = (largest // 100, largest // 10, largest) if work.grows else (20,)
    rows: list[tuple[str, ...]] = []
    before: Measured | None = None
    for size in sizes:
        found = in_a_process_of_its_own(name, size, pairs)
        print(f"{name} {size}: {found.ratio:.2f}", file=sys.stderr)
        took = statistics.median(found.work)
        grown = f"{took / statistics.median(before.work):.1f}" if before else ""
        memory = f"{found.peak_mb:.0f}" if work.grows else ""
        milliseconds = (f"{1e3 * took:.0f}", f"{1e3 * statistics.median(found.yardstick):.0f}")
        shown = (f"{size}" if work.grows else "", *milliseconds, f"{found.ratio:.2f}", f"{work.budget:g}")
        rows.append((work.name, work.yardstick, *shown, grown, memory))
        before = found
    return rows


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
