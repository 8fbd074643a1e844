"""Fixtures for the tests of the questions: a small workshop and short ways to log and ask in it."""

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from qclog.logbook import registering
from qclog.logbook.engine import Store
from qclog.logbook.entries import Entry, new_entry
from qclog.logbook.lookup import Register
from qclog.questions.assess import Answer, Group, assess
from qclog.records import Clamping, Limit, Reading, Turn

UM = 1_000_000
MM = 1_000_000_000
DAYS = tuple(f"2026-03-{day:02d}" for day in range(1, 9))
Log = Callable[..., list[int]]


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
        days: Sequence[str] = DAYS[:4],
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

    def log_turns(self, *turns: Turn) -> None:
        base = Clamping("C-046", "LATHE", DAYS[0], turns, position="A", instrument="D-1", lever_mdeg=0)
        self._log(self.store, base)

    def do(self, change: Callable[[Entry, Register], object]) -> None:
        with new_entry(self.store, "change") as entry:
            change(entry, Register(entry.connection))

    def limit(self, body: str, limit: Limit, modification: int = 0) -> None:
        def change(entry: Entry, register: Register) -> None:
            name = register.find(body)
            assert name is not None
            registering.set_limit(entry, register, name, modification, limit)

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
