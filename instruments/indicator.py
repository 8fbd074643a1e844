"""An indicator that talks in frames: a source of bytes, a framer and a profile put together."""

from collections.abc import Sequence
from typing import Final, Self

from instruments.lines import QUIET_SECONDS, LineFramer
from instruments.listening import Heard, State
from instruments.meaning import interpret
from instruments.nibbles import NibbleFramer
from instruments.profile import Profile
from instruments.records import Blank, Bytes, Change, Frame, Outcome, Refused, Said, Sent, Typed, Why
from instruments.sources import Source

SILENT_SECONDS: Final = 2.0
"""A stream that says nothing for so long is silent."""

DOUBLE_SECONDS: Final = 0.3
"""A second press so soon is the same press: no hand turns a spindle to the next mark in this time."""


class Indicator:
    """An indicator that talks in frames over a source of bytes.

    In mode "request" a frame counts only as the answer to a request: what comes unasked is refused, and after a request
    without an answer no new one is sent until the time for the answer has passed once more, so that a late answer is
    not taken for the next one. The first is sent when the line has been open for QUIET_SECONDS, for the same reason.
    """

    def __init__(self, profile: Profile, source: Source) -> None:
        self.profile = profile
        self._source = source
        self._framer = NibbleFramer() if profile.frames == "bcd" else LineFramer(profile.terminator)
        self._sends = {profile.request: "reading", profile.identify: "identity", profile.error_query: "error"}
        self._lost = False
        self._heard_at = source.now()
        self._awaited: str | None = None
        self._until = source.now() + QUIET_SECONDS
        self._answer_seconds = float(profile.answer_seconds)
        self._unanswered = False
        self._pressed_at = float("-inf")

    @property
    def state(self) -> State:
        """Connected, silent (a stream that stopped, a request without an answer), or lost."""
        if self._lost:
            return "lost"
        quiet = self.profile.mode == "stream" and self._source.now() - self._heard_at > SILENT_SECONDS
        return "silent" if quiet or self._unanswered else "connected"

    @property
    def ended(self) -> bool:
        """Whether the source has ended and everything was read."""
        return self._source.ended

    def ask(self) -> bool:
        """Asks for one reading: False while an answer is waited for. Raises PortLostError."""
        return self._send(self.profile.request)

    def identify(self) -> bool:
        """Asks who it is, where the profile has a question for that; the answer is a Said."""
        return self._send(self.profile.identify)

    def ask_for_error(self) -> bool:
        """Asks for the oldest error in its queue, where the profile has a question for that; the answer is a Said."""
        return self._send(self.profile.error_query)

    def poll(self, timeout: float) -> Heard:
        """The next arrival and what came of it; after ``timeout`` seconds what silence tells."""
        arrival = self._source.read(timeout)
        time = self._source.now() if arrival is None else arrival.time
        outcomes = [self._outcome(item) for item in self._framer.idle(time)] + self._overdue(time)
        found: Sequence[Frame | Refused | Blank] = ()
        match arrival:
            case Bytes(data, _):
                self._heard_at = time
                found = self._framer.feed(data, time)
                if self._awaited and any(isinstance(item, Refused) for item in found):
                    self._awaited, self._until = None, time  # answered, but not to be used: ask again
            case Sent(data, _):
                found = self._framer.cut()
                self._awaited, self._until = self._sends.get(data), time + self._answer_seconds
            case Change(state, _, _):
                self._lost = state == "lost"
                self._until = time + QUIET_SECONDS
                found = self._framer.interrupted(time)
            case Typed() | None:
                pass
        return Heard(arrival, (*outcomes, *(self._outcome(item) for item in found)))

    def close(self) -> tuple[Outcome, ...]:
        """Stops listening; what was still pending is refused."""
        self._source.close()
        return tuple(self._outcome(item) for item in self._framer.interrupted(self._source.now()))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _send(self, data: bytes) -> bool:
        if not data or self._source.now() < self._until:
            return False
        self._until = self._source.now() + self._answer_seconds
        self._source.write(data)
        return True

    def _overdue(self, time: float) -> list[Outcome]:
        """A request whose time is up; the time for its answer begins once more, for a late one to pass by."""
        if self._awaited is None or time < self._until:
            return []
        due, self._awaited, self._until = self._until, None, time + self._answer_seconds
        self._unanswered = True
        return [*map(self._outcome, self._framer.cut()), Refused(b"", due, Why.NO_ANSWER)]

    def _outcome(self, item: Frame | Refused | Blank) -> Outcome:
        if not isinstance(item, Frame):
            return item
        if self.profile.mode == "request":
            awaited, self._awaited = self._awaited, None
            if awaited is None:
                return Refused(item.raw, item.time, Why.UNASKED, item.text)
            self._until = item.time
            self._unanswered = False
            if awaited in ("identity", "error"):
                return Said("identity" if awaited == "identity" else "error", item.text, item.time, item.raw)
        elif self.profile.mode == "button":
            since, self._pressed_at = item.time - self._pressed_at, item.time
            if since < DOUBLE_SECONDS:
                return Refused(item.raw, item.time, Why.DOUBLE, item.text)
        return interpret(item, self.profile)
