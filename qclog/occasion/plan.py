"""What an occasion is to measure, and in which order."""

from dataclasses import dataclass

from qclog.errors import RefusedError

MOST_CLAMPINGS = 50
STEPS = (1, 4, 6, 8, 12)
"""Readings a turn: 1 is the swing as watched, the others are read at even steps from the spindle's mark."""
MOST_READINGS = 10
"""Turns of one clamping, before it is opened."""


@dataclass(frozen=True, slots=True)
class Stop:
    """How one clamping is made: at a key position and a clocking, on a pin, by whom; '' where there is none."""

    position: str
    clocking: str = ""
    pin: str = ""
    operator: str = ""


@dataclass(frozen=True, slots=True)
class Plan:
    """One item in one setup, tried at some key positions ('' where it has none).

    ``modification``: the one it is measured at. ``check``: the item that is read at the start and at the end, to see
    that nothing has moved; '' for none. ``clampings``: of each position, at the most. ``steps``: readings a turn.
    ``clockings``: how bodies are turned, as typed, one after the other; ``clampings`` is then the number of rounds.
    ``until_settled``: stop as soon as the question is answered. ``profile`` and ``port``: how the indicator talks and
    where, to go on with. ``stops``: of a study of the measuring all clampings, in the order drawn; ``readings``: how
    many turns of each before it is opened, at ``distance_pm`` and then at each of ``also_pm``. Everything else as in
    ``records.Clamping``.
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
    stops: tuple[Stop, ...] = ()
    readings: int = 1
    also_pm: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.clampings <= MOST_CLAMPINGS:
            raise RefusedError(f"{self.clampings} clampings cannot be planned.", f"Say 1 to {MOST_CLAMPINGS}.")
        if self.steps not in STEPS:
            raise RefusedError(
                f"A turn cannot be read in {self.steps} steps.", f"Say one of {', '.join(map(str, STEPS))}."
            )
        if len(set(self.positions)) < len(self.positions) or not self.positions:
            raise RefusedError("The same key position stands twice in the plan.", "Name each once.")
        if not 1 <= self.readings <= MOST_READINGS:
            raise RefusedError(
                f"A clamping cannot be read {self.readings} times before it is opened.", f"Say 1 to {MOST_READINGS}."
            )
        if len(set(self.distances_pm)) < len(self.distances_pm):
            raise RefusedError("The same distance stands twice in the plan.", "Name each once.")
        if self.clockings and len(self.positions) > 1:
            raise RefusedError("Bodies are turned at one key position.", "Name one with --positions.")

    @property
    def distances_pm(self) -> tuple[int, ...]:
        """Where each clamping is read, in this order."""
        return (self.distance_pm, *self.also_pm)

    @property
    def turns(self) -> int:
        """Turns of each clamping, before it is opened."""
        return self.readings * len(self.distances_pm)

    @property
    def angles_deg(self) -> tuple[int, ...]:
        """Where to read, the return to zero last; nothing for a swing, which is watched over the whole turn."""
        if self.steps == 1:
            return ()
        return (*range(0, 360, 360 // self.steps), 0)

    def order(self) -> tuple[Stop, ...]:
        """Every clamping: those of a study as drawn, else there and back, "A B B A", so that a steady drift favours
        none."""
        if self.stops:
            return self.stops
        round_ = tuple(
            Stop(position, clocking, self.pin, self.operator)
            for position in self.positions
            for clocking in self.clockings or ("",)
        )
        return tuple(stop for i in range(self.clampings) for stop in (round_, round_[::-1])[i % 2])
