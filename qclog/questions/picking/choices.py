"""One item in one place for a part, and the order in which they are offered: good enough first."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from qclog.questions.codes import Caveat, Ground
from qclog.questions.judging.values import HOLDS
from qclog.statistics.grips import Regripped

FORECAST: Final = "forecast"


@dataclass(frozen=True, slots=True)
class Choice:
    """One item in one place for the part.

    ``told``: holds, does not hold or cannot tell where it was read just so, else forecast; ``ground``: what that rests
    on, read at ``distances_mm`` on ``diameter_mm``, and of a forecast at which other places (``from_places``).
    ``mounted``: it is in that setup now. ``median_um``, ``p95_um``: half, and 95 %, of the next clampings stay under;
    ``bound_um``: 95 % of all, with 95 % confidence. ``chance``: that the first grip is inside the run-out as the
    indicator reads; ``regripped``: gripped again while it is over, three times in all; None where not known,
    and what ``pick`` leaves out after the first.
    ``pin``: the one it was read on last, ``pin_mm`` its diameter. ``torque``: as logged last; ``holder``: what is noted
    of the setup, ``picture`` of the item.
    ``more_clampings``: days with one clamping each that would tell whether it holds.
    """

    item: str
    kind: str
    size_mm: float | None
    kept_at: str
    worked: bool
    mounted: bool
    setup: str
    setup_revision: int
    position: str
    clocking: str
    told: str
    ground: Ground
    distances_mm: tuple[float, ...]
    diameter_mm: float | None
    from_places: tuple[str, ...]
    clampings: int
    sittings: int
    last_measured: str
    median_um: float | None
    p95_um: float | None
    bound_um: float | None
    resolution_um: float
    chance: float | None
    regripped: Regripped | None
    more_clampings: int | None
    torque: str
    holder: dict[str, str]
    picture: str
    pin: str
    pin_mm: float | None
    instrument: str
    findings: tuple[str, ...]
    caveats: tuple[Caveat, ...]


def in_order(choices: Iterable[Choice]) -> list[Choice]:
    """Good enough first: what holds, each item at its best place, what is mounted first, then the least true; then
    its other places; then the rest by chance."""
    holding = sorted((one for one in choices if one.told == HOLDS), key=lambda one: one.p95_um or 0.0)
    best: dict[str, Choice] = {}
    for one in holding:
        known = best.setdefault(one.item, one)
        if one.mounted and not known.mounted:
            best[one.item] = one
    first = sorted(best.values(), key=lambda one: (not one.mounted, -(one.median_um or 0.0), one.item.casefold()))
    further = [one for one in holding if one is not best[one.item]]
    rest = sorted(
        (one for one in choices if one.told != HOLDS),
        key=lambda one: (-(-1.0 if one.chance is None else one.chance), bool(one.findings), one.item.casefold()),
    )
    return [*first, *further, *rest]
