"""A logbook that cannot be reached in the middle of an occasion: nothing is lost, nothing is there twice."""

import contextlib
import dataclasses
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from qclog.errors import BusyError
from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.logbook.life import read_life
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal, interrupted, stopped
from qclog.occasion.plan import Plan
from qclog.occasion.progress import BADLY_CLAMPED, MISREAD

PLAN = Plan("C-046", "LATHE", ("A", "B"), 16_000_000_000, clampings=2, steps=1, instrument="D-1", operator="tester")


class Away(Store):
    """A store that can go away: before anything is written, or as a lost reply right behind the commit."""

    def __init__(self, store: Store) -> None:
        super().__init__(store.engine, store.target)
        self.gone = ""

    @contextlib.contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        if self.gone == "before":
            raise BusyError("The database does not answer.", "Try again.")
        with super().reading() as connection:
            yield connection

    @contextlib.contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        if self.gone == "before":
            raise BusyError("The database does not answer.", "Try again.")
        with super().writing() as connection:
            yield connection
        if self.gone == "reply":
            self.gone = "before"
            raise BusyError("The database does not answer.", "Try again.")


@pytest.fixture
def away(sqlite_book: Store) -> Away:
    return Away(sqlite_book)


def _logged(store: Store) -> list[tuple[str, ...]]:
    """Position and swing as typed of what counts, in the order logged."""
    with store.reading() as connection:
        life = read_life(connection, "C-046")
    return [(c.position, *c.turns[0].texts) for c in life.clampings if not c.struck]


@pytest.mark.parametrize("how", ["before", "reply"])
def test_clampings_wait_and_are_logged_once_in_their_order(away: Away, tmp_path: Path, how: str) -> None:
    guided = Guided(away, Journal.begin(tmp_path, "book", PLAN))
    assert len(guided.take("4").logged) == 1
    away.gone = how
    taken = guided.take("9")
    assert (taken.logged, taken.waits, guided.waiting) == ((), True, 1)
    assert guided.take("10").waits
    wanted = guided.wanted()
    assert wanted is not None
    assert (wanted.clamping, wanted.position) == (4, "A")
    away.gone = ""
    assert len(guided.take("5").logged) == 3
    assert _logged(away) == [("A", "4"), ("B", "9"), ("B", "10"), ("A", "5")]
    assert (guided.waiting, len(guided.logged), guided.wanted()) == (0, 4, None)


def test_what_waits_is_delivered_after_an_interruption_too(away: Away, tmp_path: Path) -> None:
    guided = Guided(away, Journal.begin(tmp_path, "book", PLAN))
    away.gone = "before"
    for text in ("4", "9", "10", "5"):
        guided.take(text)
    assert guided.wanted() is None
    guided.journal.leave()
    assert list(stopped(tmp_path, "book", "C-046")) == []  # what the logbook lacks is not given up
    away.gone = ""
    (path,) = interrupted(tmp_path, "book")
    again = Guided(away, Journal.resume(path))
    assert len(again.complete().logged) == 4
    assert _logged(away) == [("A", "4"), ("B", "9"), ("B", "10"), ("A", "5")]
    again.journal.leave()
    assert Guided(away, Journal.resume(path)).complete().logged == ()


def test_what_waits_is_taken_back_without_the_logbook(away: Away, tmp_path: Path) -> None:
    guided = Guided(away, Journal.begin(tmp_path, "book", PLAN))
    away.gone = "before"
    guided.take("4")
    guided.undo(MISREAD)
    guided.take("5")
    guided.take("9")
    guided.undo(BADLY_CLAMPED)
    guided.take("10")
    away.gone = ""
    guided.take("11")
    assert _logged(away) == [("A", "5"), ("B", "10"), ("B", "11")]
    assert guided.badly_clamped == 1


def test_a_doubtful_clamping_read_while_the_logbook_is_away_is_kept_with_its_doubt(away: Away, tmp_path: Path) -> None:
    guided = Guided(away, Journal.begin(tmp_path, "book", PLAN))
    away.gone = "before"
    assert guided.take("90").doubts == ()
    away.gone = ""
    guided.complete()
    with away.reading() as connection:
        assert connection.execute(sa.select(schema.doubt.c.why, schema.doubt.c.answer)).all() == [("ten_times", "kept")]


def test_two_readings_of_a_turn_never_wait_for_the_logbook(away: Away, tmp_path: Path) -> None:
    guided = Guided(away, Journal.begin(tmp_path, "book", dataclasses.replace(PLAN, steps=4)))
    away.gone = "before"
    for text in ("0", "3", "5", "2"):
        assert guided.take(text).waits is False


def test_a_server_that_hangs_up_and_comes_back(
    postgresql: Any, workshop: Callable[[Store], None], tmp_path: Path
) -> None:
    url = postgresql.new_database()
    store = open_store(url)
    workshop(store)
    guided = Guided(store, Journal.begin(tmp_path, "book", PLAN))
    guided.take("4")
    name = sa.engine.make_url(url).database
    with postgresql.admin.connect() as connection:
        connection.exec_driver_sql(f"ALTER DATABASE {name} ALLOW_CONNECTIONS false")
        connection.exec_driver_sql(f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")
    assert guided.take("9").waits
    assert guided.take("10").waits
    with postgresql.admin.connect() as connection:
        connection.exec_driver_sql(f"ALTER DATABASE {name} ALLOW_CONNECTIONS true")
    assert len(guided.take("5").logged) == 3
    assert _logged(store) == [("A", "4"), ("B", "9"), ("B", "10"), ("A", "5")]
    store.close()
    postgresql.drop_database(url)
