"""Logging one swing as a whole process, its verdict included, against a bare program that inserts the same rows.

    python tests/benchmarks/log_command.py [RUNS]

The bare program uses typer, SQLAlchemy and numpy and does nothing else. Budget: at most 1.3 times, median of pairs.
Run it on an installed copy with byte code, on a quiet machine.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

BARE = """
import sys
from typing import Annotated
import typer
app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)

@app.command()
def log(path: str, item: str, values: Annotated[list[float], typer.Argument()]) -> None:
    import numpy as np
    import sqlalchemy as sa
    engine = sa.create_engine(f"sqlite:///{path}", connect_args={"isolation_level": None})
    metadata = sa.MetaData()
    tables = [
        sa.Table(name, metadata, sa.Column("id", sa.Integer, primary_key=True), sa.Column("a", sa.Text),
                 sa.Column("b", sa.Integer), sa.Column("c", sa.Float))
        for name in ("entry", "sitting", "clamping", "turn", "reading", "figure")
    ]
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode=WAL")
        connection.exec_driver_sql("PRAGMA synchronous=FULL")
        metadata.create_all(connection)
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        for value in values:
            for table in tables:
                connection.execute(table.insert().values(a=item, b=1, c=value))
        connection.exec_driver_sql("COMMIT")
    print(np.mean(values))

app()
"""


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 11
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        environment = {**os.environ, "QCLOG_LOGBOOK": str(folder / "book.sqlite")}
        qclog = [sys.executable, "-c", "import sys; from qclog.cli.main import main; sys.exit(main(sys.argv[1:]))"]
        (folder / "bare.py").write_text(BARE, encoding="utf-8")
        for command in (
            ["setup", "add", "L2", "--positions", "A"],
            ["item", "add", "C-735", "--kind", "collet", "--made-to", "9um@25mm"],
        ):
            subprocess.run([*qclog, *command], env=environment, check=True, capture_output=True)
        times: dict[str, list[float]] = {"qclog": [], "bare": []}
        for run in range(runs + 1):
            value = f"{4 + run % 7 * 0.1:.1f}"
            for which, command in (
                ("qclog", [*qclog, "log", "C-735", value, "--position", "A"]),
                ("bare", [sys.executable, str(folder / "bare.py"), str(folder / "bare.sqlite"), "C-735", value]),
            ):
                start = time.perf_counter()
                subprocess.run(command, env=environment, check=True, capture_output=True)
                times[which].append(time.perf_counter() - start)
        pairs = [q / b for q, b in zip(times["qclog"][1:], times["bare"][1:], strict=True)]
        print(f"log {statistics.median(times['qclog'][1:]) * 1e3:.0f} ms, ", end="")
        print(f"bare program {statistics.median(times['bare'][1:]) * 1e3:.0f} ms, ", end="")
        print(f"ratio {statistics.median(pairs):.2f} (budget 1.3)")


if __name__ == "__main__":
    main()
