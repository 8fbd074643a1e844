"""Logbook and judge of workholding.

For a notebook: ``qclog.open("workshop.sqlite")`` gives a logbook with the questions as methods and its readings
as a pandas frame. Nothing heavy is loaded before it is used.
"""

from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    import pandas as pd

    from qclog.logbook.engine import Store
    from qclog.questions.assess import Answer
    from qclog.questions.chain import Answer as Chain
    from qclog.questions.pick import Picked

__all__ = ["Logbook", "open"]


class Logbook:
    """A logbook to ask. Close it, or use it in a ``with`` block."""

    def __init__(self, store: "Store") -> None:
        self._store = store

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._store.close()

    def assess(
        self, code: str | None = None, *, setup: str | None = None, position: str | None = None
    ) -> "list[Answer]":
        """Does it hold what it was made to? One answer an item; see ``qclog.questions.assess``."""
        from qclog.questions.assess import assess

        return assess(self._store, code, setup=setup, position=position)

    def chain(self, code: str | None = None, *, setup: str | None = None, at_mm: float | None = None) -> "list[Chain]":
        """Who owns the run-out, and how to clock it? One answer a chain; see ``qclog.questions.chain``."""
        from qclog.questions.chain import chain

        return chain(self._store, code, setup=setup, at_mm=at_mm)

    def pick(
        self,
        diameter_mm: float,
        runout_um: float,
        distance_mm: float,
        *,
        grip_mm: float | None = None,
        now: bool = False,
    ) -> "Picked":
        """Which of mine will hold this part? The choices, good enough first; see ``qclog.questions.pick``."""
        from qclog.questions.pick import pick
        from qclog.questions.picking.fitting import part_of

        return pick(self._store, part_of(diameter_mm, runout_um, distance_mm, grip_mm), now=now)

    def readings(self, code: str | None = None) -> "pd.DataFrame":
        """One row a reading that counts, of one item or of all: what it was read on, where, when and its value.

        Values in µm, distances in mm, angles in degrees (NaN where there is none).
        """
        from qclog.frames import readings

        return readings(self._store, code)


def open(target: str) -> Logbook:  # noqa: A001 - qclog.open is what a notebook calls
    """Open the logbook at a path or URL for questions. Raises NotFoundError where there is none."""
    from qclog.logbook.engine import open_store

    return Logbook(open_store(target))
