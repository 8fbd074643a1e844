"""The yardstick of ``qclog log``: a program that does the same inserts with the same libraries and nothing else.

python tests/benchmarks/bare.py DATABASE ITEM VALUE...
"""

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
    with engine.connect() as connection:
        connection.exec_driver_sql("PRAGMA journal_mode=WAL")
        connection.exec_driver_sql("PRAGMA synchronous=FULL")
        metadata.create_all(connection)
        connection.exec_driver_sql("BEGIN IMMEDIATE")
        for value in values:
            for table in tables:
                connection.execute(table.insert().values(a=item, b=1, c=value))
        connection.exec_driver_sql("COMMIT")
    typer.echo(np.mean(values))


if __name__ == "__main__":
    app()
