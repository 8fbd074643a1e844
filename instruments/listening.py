"""What every indicator that is listened to has in common, however it talks."""

from dataclasses import dataclass
from typing import Literal, Protocol, Self

from instruments.records import Arrival, Outcome

State = Literal["connected", "silent", "lost"]


@dataclass(frozen=True, slots=True)
class Heard:
    """One step: what arrived, if anything, and what came of it (together with what had been pending)."""

    arrival: Arrival | None
    outcomes: tuple[Outcome, ...]


class Listening(Protocol):
    """What every indicator does, however it talks."""

    @property
    def state(self) -> State:
        """Connected, silent (a stream that stopped, a request without an answer), or lost."""

    @property
    def ended(self) -> bool:
        """Whether nothing can come any more."""

    def poll(self, timeout: float) -> Heard:
        """The next step, after at most about ``timeout`` seconds."""

    def ask(self) -> bool:
        """Asks for one reading (mode "request"): False while an answer is waited for. Raises PortLostError."""

    def close(self) -> tuple[Outcome, ...]:
        """Stops listening; what was still pending is refused."""

    def __enter__(self) -> Self:
        """Itself."""

    def __exit__(self, *_: object) -> None:
        """Closes."""
