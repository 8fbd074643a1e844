"""What an occasion is to measure, and in which order."""

from dataclasses import dataclass

from qclog.errors import RefusedError

MOST_CLAMPINGS = 50
STEPS = (1, 4, 6, 8, 12)
"""Readings a turn: 1 is the swing as watched, the others are read at even steps from the spindle's mark."""


@dataclass(frozen=True, slots=True)
class Stop:
    """How one clamping is made: at a key position and a clocking, '' where there is none."""

    position: str
    clocking: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """One item in one setup, tried at some key positions ('' where it has none).

    ``modification``: the one it is measured at. ``check``: the item that is read at the start and at the end, to see
    that nothing has moved; '' for none. ``clampings``: of each position, at the most. ``steps``: readings a turn.
    ``clockings``: how bodies are turned, as typed, one after the other; ``clampings`` is then the number of rounds.
    ``until_settled``: stop as soon as the question is answered. ``profile`` and ``port``: how the indicator talks and
    where, to go on with. Everything else as in ``records.Clamping``.
    """

    item: str
    setup: str
    positions: tuple[str, ...]
    distance_pm: int
    clampings: int = 6
    steps: int = 4
    until_settled: bool = True
    pin: str = ""
    instrument: str = ""
    operator: str = ""
    modification: int = 0
    check: str = ""
    profile: str = ""
    port: str = ""
    note: str = ""
    clockings: tuple[str, ...] = ()
    torque: str = ""
    conditions: str = ""

    def __post_init__(self) -> None:
        if not 1 <= self.clampings <= MOST_CLAMPINGS:
            raise RefusedError(f"{self.clampings} clampings cannot be planned.", f"Say 1 to {MOST_CLAMPINGS}.")
        if self.steps not in STEPS:
            raise RefusedError(
                f"A turn cannot be read in {self.steps} steps.", f"Say one of {', '.join(map(str, STEPS))}."
            )
        if len(set(self.positions)) < len(self.positions) or not self.positions:
            raise RefusedError("The same key position stands twice in the plan.", "Name each once.")
        if self.clockings and len(self.positions) > 1:
            raise RefusedError("Bodies are turned at one key position.", "Name one with --positions.")

    @property
    def angles_deg(self) -> tuple[int, ...]:
        """Where to read, the return to zero last; nothing for a swing, which is watched over the whole turn."""
        if self.steps == 1:
            return ()
        return (*range(0, 360, 360 // self.steps), 0)

    def order(self) -> tuple[Stop, ...]:
        """Every clamping: there and back, "A B B A", so that a steady drift favours none."""
        round_ = tuple(Stop(position, clocking) for position in self.positions for clocking in self.clockings or ("",))
        return tuple(stop for i in range(self.clampings) for stop in (round_, round_[::-1])[i % 2])
