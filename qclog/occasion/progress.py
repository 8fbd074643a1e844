"""How far an occasion has come: what its journal says, line after line."""

import dataclasses
from dataclasses import dataclass, field
from typing import Final

from qclog.errors import DamagedError
from qclog.occasion.changes import Change, change_of
from qclog.occasion.journal import Event
from qclog.occasion.plan import Stop

READING: Final = "reading"
"""A reading was accepted; its text."""
MISREAD: Final = "misread"
"""The last reading does not count."""
BADLY_CLAMPED: Final = "badly clamped"
"""The clamping under way does not count as measured, but as one of those that happen."""
WHOLE: Final = "whole"
"""The clamping under way was read to its end; "item", or "check" for one of the check piece, then its key position, how
bodies were turned, the pin and who read, with tabs between them."""
LOGGED: Final = "logged"
"""The first that waited is in the logbook; its number there."""
STRUCK: Final = "struck"
"""A clamping was struck out; its number."""
LAST_MISREAD: Final = "last misread"
"""A clamping was struck out for its last reading; its number. The others of it stand, under way again."""
CHANGED: Final = "changed"
"""Another pin or person than planned (``changes.Change``)."""
WITHDRAWN: Final = "withdrawn"
"""The clamping under way was doubtful and is read again."""
NOT_TAKEN: Final = "not taken"
"""Something was sent that is no reading; why, and its text."""
CHECKED: Final = "checked"
"""What was answered about the check piece."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A clamping that was read to its end. ``attempt`` names it for good; ``number`` is the logbook's, None while the
    logbook does not have it."""

    of_check_piece: bool
    stop: Stop
    readings: tuple[Event, ...]
    attempt: int
    number: int | None = None


@dataclass(slots=True)
class Progress:
    """``readings`` of the clamping under way; ``whole``: the clampings that count, in their order; ``changes`` for all
    that are left, ``alone`` for the clamping under way; ``taken_up``: how that was made, where it was whole before."""

    readings: list[Event] = field(default_factory=list)
    whole: list[Whole] = field(default_factory=list)
    not_taken: list[Event] = field(default_factory=list)
    attempts: int = 0
    badly_clamped: int = 0
    check_answer: str = ""
    changes: list[Change] = field(default_factory=list)
    alone: list[Change] = field(default_factory=list)
    taken_up: Stop | None = None

    def add(self, event: Event) -> None:
        """What one line of the journal changes. Raises DamagedError for a line that says nothing known."""
        match event.what:
            case "reading":
                self.readings.append(event)
            case "whole":
                piece, *stop = event.text.split("\t")
                if len(stop) != len(dataclasses.fields(Stop)):
                    raise DamagedError(f"A journal says {event.text!r} of a clamping.", "Move it away to begin anew.")
                self.whole.append(Whole(piece == "check", Stop(*stop), tuple(self.readings), self.attempts))
                self._next_attempt()
                self.alone.clear()
            case "logged":
                at = next(i for i, one in enumerate(self.whole) if one.number is None)
                self.whole[at] = dataclasses.replace(self.whole[at], number=int(event.text))
            case "struck":
                self.whole = [one for one in self.whole if one.number != int(event.text)]
            case "last misread":
                again = next(one for one in self.whole if one.number == int(event.text))
                self.whole.remove(again)
                self.readings, self.taken_up = list(again.readings[:-1]), again.stop
            case "changed":
                change = change_of(event.text)
                (self.alone if change.alone else self.changes).append(change)
            case "withdrawn":
                self._next_attempt()
            case "not taken":
                self.not_taken.append(event)
            case "checked":
                self.check_answer = event.text
            case "misread" | "badly clamped":
                self._take_back(event.what)
            case _:
                raise DamagedError(f"A journal says {event.what!r}.", "Go on with the qclog that wrote it.")

    @property
    def waiting(self) -> list[Whole]:
        """What the logbook does not have yet."""
        return [one for one in self.whole if one.number is None]

    @property
    def logged(self) -> list[int]:
        """The clampings in the logbook, also those of the check piece."""
        return [one.number for one in self.whole if one.number is not None]

    def count(self, *, of_check_piece: bool) -> int:
        """How many clampings count, in the logbook or on the way to it."""
        return sum(one.of_check_piece == of_check_piece for one in self.whole)

    def numbers(self, *, of_check_piece: bool) -> tuple[int, ...]:
        """Those in the logbook."""
        return tuple(
            one.number for one in self.whole if one.number is not None and one.of_check_piece == of_check_piece
        )

    def _next_attempt(self) -> None:
        self._give_up()
        self.attempts += 1

    def _give_up(self) -> None:
        self.readings.clear()
        self.taken_up = None

    def _take_back(self, why: str) -> None:
        self.badly_clamped += why == BADLY_CLAMPED
        if self.readings:
            if why == MISREAD and len(self.readings) > 1:
                self.readings.pop()
            else:
                self._give_up()
            if why == BADLY_CLAMPED:
                self.alone.clear()
        elif self.whole and self.whole[-1].number is None:
            self.whole.pop()
