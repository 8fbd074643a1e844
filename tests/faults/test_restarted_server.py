"""Stations at a PostgreSQL server that crashes and comes back: each keeps what it accepted, and delivers it once.

QCLOG_TEST_RESTARTS says how often the server is stopped as by a crash while three stations measure (2 unless told).
"""

import os
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from qclog.logbook import schema
from qclog.logbook.engine import Store, open_store
from qclog.occasion.guided import Guided
from qclog.occasion.journal import Journal
from qclog.occasion.plan import Plan

RESTARTS = int(os.environ.get("QCLOG_TEST_RESTARTS", "2"))
STATIONS = ("C-046", "C-047", "C-048")
BETWEEN_SECONDS = 0.5


class Station:
    """Measures one item without end, each reading unlike every other; ``accepted`` what was taken."""

    def __init__(self, url: str, item: str, folder: Path) -> None:
        self.accepted: list[str] = []
        self.waited = 0
        self.failed: BaseException | None = None
        self._url, self._item, self._folder = url, item, folder
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._measure, name=item)
        self._thread.start()

    def finish(self) -> None:
        """Ends the occasion at its next clamping, and delivers what waits."""
        self._over.set()
        self._thread.join()
        if self.failed is not None:
            raise self.failed

    def _measure(self) -> None:
        store = open_store(self._url)
        try:
            while not self._over.is_set():
                self._one_occasion(store)
        except BaseException as error:
            self.failed = error
        finally:
            store.close()

    def _one_occasion(self, store: Store) -> None:
        plan = Plan(
            self._item, "LATHE", ("A",), 16_000_000_000, clampings=50, steps=1, until_settled=False, instrument="D-1"
        )
        guided = Guided(store, Journal.begin(self._folder, self._item, plan))
        while not self._over.is_set() and guided.wanted() is not None:
            text = f"{5 + len(self.accepted) * 1e-4:.4f}"
            taken = guided.take(text)
            self.accepted.append(text)
            self.waited += taken.waits
        while guided.waiting:
            guided.complete()
            time.sleep(0.05)
        guided.close()


def test_a_server_stopped_again_and_again_loses_and_doubles_nothing(
    postgresql: Any, workshop: Callable[[Store], None], tmp_path: Path
) -> None:
    url = postgresql.new_database()
    store = open_store(url)
    workshop(store)
    store.close()
    stations = [Station(url, item, tmp_path) for item in STATIONS]
    for _ in range(RESTARTS):
        time.sleep(BETWEEN_SECONDS)
        postgresql.restart()
    time.sleep(BETWEEN_SECONDS)
    for station in stations:
        station.finish()
    store = open_store(url)
    name, clamping, turn, reading = schema.name, schema.clamping, schema.turn, schema.reading
    with store.reading() as connection:
        rows = connection.execute(
            sa.select(name.c.text, reading.c.text)
            .join(clamping, clamping.c.item_id == name.c.id)
            .join(turn, turn.c.clamping_id == clamping.c.id)
            .join(reading, reading.c.turn_id == turn.c.id)
        ).all()
    store.close()
    accepted = Counter((item, text) for item, one in zip(STATIONS, stations, strict=True) for text in one.accepted)
    assert Counter((row[0], row[1]) for row in rows) == accepted
    assert set(accepted.values()) == {1}
    assert sum(station.waited for station in stations) > 0
    postgresql.drop_database(url)
