"""A simulated indicator on a line that any program can open, talking in a thread of its own.

with Serving(SimulatedIndicator(load_profile("ascii-button"))) as served:
    print(served.address)
    served.press()
"""

import queue
import threading
import time
from typing import Final, Self

from instruments.line_ends import LineEnd, new_end
from instruments.profile import Profile
from instruments.simulated import Saying, SimulatedIndicator

_TICK_SECONDS: Final = 0.002
_IDLE_SECONDS: Final = 0.02


class Serving:
    """``indicator`` at ``address`` until ``close``. ``said`` counts its readings, ``unheard`` those not taken whole.

    The spindle begins to turn, and a stream to speak, at once or with ``begin``; a button is pressed by ``press``;
    requests are answered as they come. What is said before anybody listens may be unheard, as in life. Parity or 7 data
    bits, which no pseudo-terminal has, are spoken over a network port unless ``pseudo_terminal`` says otherwise.
    """

    def __init__(
        self, indicator: SimulatedIndicator, *, pseudo_terminal: bool | None = None, at_once: bool = True
    ) -> None:
        self.indicator = indicator
        self.said = 0
        self.unheard = 0
        settings = indicator.profile.settings
        if pseudo_terminal is None and (settings.parity != "none" or settings.bytesize == 7):
            pseudo_terminal = False
        self._end: LineEnd = new_end(pseudo_terminal=pseudo_terminal)
        self._pressed: queue.SimpleQueue[float | None] = queue.SimpleQueue()
        self._pulled = threading.Event()
        self._begun = threading.Event()
        self._stop = threading.Event()
        self._since = time.monotonic()
        self._unplugged_by_fault = False
        self._thread = threading.Thread(target=self._run, name="simulated indicator", daemon=True)
        if at_once:
            self.begin()
        self._thread.start()

    @property
    def address(self) -> str:
        """What a listener opens."""
        return self._end.address

    @property
    def turned_deg(self) -> float:
        """How far the spindle has turned since it began, without going back to 0."""
        return self.indicator.spindle.angle_deg(time.monotonic() - self._since)

    def begin(self) -> None:
        """The spindle begins to turn, and a stream to speak."""
        self._since = time.monotonic()
        self._begun.set()

    def press(self, angle_deg: float | None = None) -> None:
        """The data button: one reading, with the spindle at ``angle_deg`` or where it has turned to by now."""
        self._pressed.put(angle_deg)

    def pull_out(self) -> None:
        """Somebody pulls the cable; what is said from now on is unheard."""
        self._pulled.set()

    def put_back(self) -> None:
        """The cable is put back, at the same address."""
        self._pulled.clear()

    def close(self) -> None:
        """Falls silent and takes the line away."""
        self._stop.set()
        self._thread.join()
        self._end.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _run(self) -> None:
        heard = b""
        streaming = self.indicator.profile.mode == "stream"
        while not self._stop.is_set():
            if self._pulled.is_set():
                self._end.pull()
                heard = b""
            elif not self._unplugged_by_fault:
                self._end.put_back()
            heard += self._end.read(_TICK_SECONDS if streaming else _IDLE_SECONDS)
            if streaming:
                self._stream()
            elif self.indicator.profile.mode == "button":
                self._presses()
            else:
                heard = self._answers(heard)

    def _stream(self) -> None:
        """Says what is due by now."""
        while self._begun.is_set() and not self._stop.is_set():
            saying = self.indicator.saying(self.said)
            elapsed = time.monotonic() - self._since
            if saying.seconds > elapsed:
                return
            if not self._say(saying, saying.data):  # nobody listens: go on with what is due now
                missed = max(0, int(elapsed * self.indicator.per_second) - self.said)
                self.said += missed
                self.unheard += missed

    def _presses(self) -> None:
        while not self._pressed.empty():
            angle = self._pressed.get()
            saying = self.indicator.saying(self.said, seconds=time.monotonic() - self._since, angle_deg=angle)
            self._say(saying, saying.data)

    def _answers(self, heard: bytes) -> bytes:
        """Answers every whole request in ``heard``; what is left of it."""
        while request := _first_request(heard, self.indicator.profile):
            heard = heard[len(request) :]
            seconds = time.monotonic() - self._since
            saying = self.indicator.saying(self.said, seconds=seconds)
            answer = self.indicator.answer(request, self.said, seconds)
            if answer is not None:
                self._say(saying, answer)
        return heard

    def _say(self, saying: Saying, data: bytes) -> bool:
        """Sends ``data``; whether it was taken whole."""
        self._unplugged_by_fault = saying.fault == "disconnect"
        if self._unplugged_by_fault:
            self._end.pull()
        elif not self._pulled.is_set():
            self._end.put_back()
        self.said += 1
        taken = self._end.write(data) == len(data)
        self.unheard += not taken
        return taken


def _first_request(heard: bytes, profile: Profile) -> bytes:
    """The first whole request: eight bytes for registers, else up to the end that the profile's own request has."""
    if profile.registers is not None:
        return heard[:8] if len(heard) >= 8 else b""
    line, end, _ = heard.partition(profile.request[-1:])
    return line + end if end else b""
