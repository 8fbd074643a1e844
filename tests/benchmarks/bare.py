"""The yardsticks of whole commands: programs that read, write, ask and draw as much with the same libraries, and
nothing else.

    python tests/benchmarks/bare.py log DATABASE ITEM VALUE...
    python tests/benchmarks/bare.py assess DATABASE
    python tests/benchmarks/bare.py measure DATABASE
    python tests/benchmarks/bare.py report DATABASE PAGE
"""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    import sqlalchemy as sa

app = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, add_completion=False)


def _opened(path: str) -> "tuple[sa.Connection, list[sa.Table]]":
    import sqlalchemy as sa

    engine = sa.create_engine(f"sqlite:///{path}", connect_args={"isolation_level": None})
    metadata = sa.MetaData()
    tables = [
        sa.Table(
            name,
            metadata,
            sa.Column("id", sa.Integer, primary_key=True),
            sa.Column("a", sa.Text),
            sa.Column("b", sa.Integer),
            sa.Column("c", sa.Float),
        )
        for name in ("entry", "sitting", "clamping", "turn", "reading", "figure")
    ]
    connection = engine.connect()
    connection.exec_driver_sql("PRAGMA journal_mode=WAL")
    connection.exec_driver_sql("PRAGMA synchronous=FULL")
    metadata.create_all(connection)
    return connection, tables


def _values(path: str) -> list[float]:
    """What is read of all tables, a dozen readings at least."""
    connection, tables = _opened(path)
    found = [row.c for table in tables for row in connection.execute(table.select().limit(12))]
    return found or [float(n) for n in range(12)]


def _bound(values: list[float]) -> float:
    """What nineteen in twenty further values stay under, by Student's t."""
    import numpy as np
    from scipy.special import stdtrit

    return float(np.mean(values) + stdtrit(len(values) - 1, 0.95) * np.std(values, ddof=1))


@app.command()
def log(path: str, item: str, values: Annotated[list[float], typer.Argument()]) -> None:
    import numpy as np

    connection, tables = _opened(path)
    connection.exec_driver_sql("BEGIN IMMEDIATE")
    for value in values:
        for table in tables:
            connection.execute(table.insert().values(a=item, b=1, c=value))
    connection.exec_driver_sql("COMMIT")
    typer.echo(np.mean(values))


@app.command()
def assess(path: str) -> None:
    typer.echo(_bound(_values(path)))


@app.command()
def measure(path: str) -> None:
    import sys

    import numpy as np

    typer.echo(f"{np.mean(_values(path))}? ")
    sys.stdin.readline()


@app.command()
def report(path: str, page: Path) -> None:
    """The two pictures that a page of one item has where no turns were read."""
    import io

    import jinja2
    import numpy as np
    from matplotlib.figure import Figure

    values = _values(path)
    pictures = []
    for _ in range(2):
        figure = Figure(figsize=(4, 3))
        axes = figure.subplots()
        axes.plot(np.arange(len(values)), values, "o")
        written = io.StringIO()
        figure.savefig(written, format="svg")
        pictures.append(written.getvalue())
    template = jinja2.Environment(autoescape=True).from_string(
        "<!doctype html>{% for one in pictures %}{{ one|safe }}{% endfor %}<p>{{ bound }}</p>"
    )
    page.write_text(template.render(pictures=pictures, bound=_bound(values)), encoding="utf-8")


if __name__ == "__main__":
    app()
