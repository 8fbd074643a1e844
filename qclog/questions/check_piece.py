"""Did the check piece, read at the start and at the end of an occasion, still read the same?"""

from dataclasses import dataclass
from typing import Final

from qclog.logbook.engine import Store
from qclog.logbook.figures import LaidOut, read_laid_out, read_series
from qclog.logbook.lookup import Register
from qclog.statistics.changing.repeated_reading import most_apart

FEWEST_EARLIER: Final = 4
"""Earlier clampings of the piece from which on its own scatter says what it may move."""
STEPS: Final = 3
"""Before that, as many steps of the indicator are allowed (common practice)."""


@dataclass(frozen=True, slots=True)
class CheckPiece:
    """``change_um``: between its two clampings, on the TIR; as the way from one vector to the other where the high
    spots are known (``directions``), which also shows what turned. ``allowed_um``: what it may move by itself, from
    ``earlier`` clampings, or with fewer than FEWEST_EARLIER from the steps of the indicator."""

    item: str
    start_um: float
    end_um: float
    change_um: float
    allowed_um: float
    earlier: int
    directions: bool

    @property
    def moved(self) -> bool:
        return self.change_um > self.allowed_um


def check_piece(store: Store, item: str, start: int, end: int, *, step_um: float) -> CheckPiece | None:
    """Compares the clampings ``start`` and ``end`` of ``item``; None where they do not stand at one place.

    ``step_um``: what the indicator shows; less than one step is never a change.
    """
    with store.reading() as connection:
        owner = Register(connection).need(item, "item")
        laid_out = read_laid_out(connection, [one.id for one in read_series(connection, items=[owner.id])])
    first, last = (next((one for one in laid_out if one.clamping == number), None) for number in (start, end))
    if first is None or last is None or first.series != last.series:
        return None
    earlier = [one for one in laid_out if one.series == first.series and one.counts and one.clamping < start]
    vectors = [one.vector for one in (first, last, *earlier) if one.vector is not None]
    directions = len(vectors) == len(earlier) + 2
    change = 2 * abs(vectors[1] - vectors[0]) if directions else abs(last.value_um - first.value_um)
    return CheckPiece(
        item=owner.text,
        start_um=first.value_um,
        end_um=last.value_um,
        change_um=change,
        allowed_um=_allowed(earlier, directions=directions, step_um=step_um),
        earlier=len(earlier),
        directions=directions,
    )


def _allowed(earlier: list[LaidOut], *, directions: bool, step_um: float) -> float:
    if len(earlier) < FEWEST_EARLIER:
        return STEPS * step_um
    if directions:
        return max(2 * most_apart([one.vector for one in earlier if one.vector is not None]), step_um)
    return max(most_apart([one.value_um for one in earlier]), step_um)
