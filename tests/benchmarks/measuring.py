"""Taking a work and its yardstick in turn, and what each took."""

import dataclasses
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

if sys.platform != "win32":
    import resource


@dataclasses.dataclass(frozen=True, slots=True)
class Measured:
    """``work`` and ``yardstick`` in seconds, one of each a pair; ``peak_mb``: the most memory the work held, 0 where
    the system does not tell."""

    work: list[float]
    yardstick: list[float]
    peak_mb: float

    @property
    def ratio(self) -> float:
        """The median of the ratios of the pairs."""
        return statistics.median(w / y for w, y in zip(self.work, self.yardstick, strict=True))


def in_turn(
    work: Callable[[], object],
    yardstick: Callable[[], object],
    *,
    pairs: int,
    clock: Callable[[], float] = time.process_time,
) -> Measured:
    """Run both once to warm up, the work first so that its memory is its own, then in pairs."""
    work()
    peak = peak_mb()
    yardstick()
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(pairs):
        for which, run in zip(taken, (work, yardstick), strict=True):
            start = clock()
            run()
            which.append(clock() - start)
    return Measured(*taken, peak)


def peak_mb() -> float:
    """The most memory this process ever held; 0 on Windows, which does not tell."""
    if sys.platform == "win32":
        return 0.0
    unit = 1e6 if sys.platform == "darwin" else 1e3
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def of_children() -> float:
    """Processor time of all child processes that have ended; on Windows, which does not tell, the clock on the wall."""
    if sys.platform == "win32":
        return time.perf_counter()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def in_a_process_of_its_own(work: str, size: int, pairs: int, book: str) -> Measured:
    """One work at one size, with memory and caches of its own and one thread for the products of matrices.

    Byte code is kept, whatever the environment says, as an installation has it. ``book``: the URL of an empty database
    on a server, or '' for a file.
    """
    own = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": ""}
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks", "--one", work, str(size), str(pairs), book],
        env={**os.environ, **own},
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
        check=True,
    )
    return Measured(**json.loads(done.stdout.splitlines()[-1]))


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Columns as wide as they must be, as a table of Markdown."""
    wide = [max(len(row[i]) for row in (header, *rows)) for i in range(len(header))]
    lines = [" | ".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True)) for row in (header, *rows)]
    lines.insert(1, " | ".join("-" * width for width in wide))
    return "\n".join(f"| {line} |" for line in lines)
