"""A simulated indicator on a line of its own, to practise with."""

import contextlib
import dataclasses
import random
import sys
import threading
from typing import TYPE_CHECKING, Annotated, Final

import typer

from qclog.cli.common import say

if TYPE_CHECKING:
    from instruments.serving import Serving
    from instruments.simulated import Fault, Spindle

_PRESSED_WAIT: Final = 0.4


def add_to(app: typer.Typer) -> None:
    app.command("simulate")(simulate)


def simulate(
    profile: Annotated[str, typer.Argument(metavar="[PROFILE]", help="How it talks.")] = "ascii-button",
    swing: Annotated[str, typer.Option(metavar="LENGTH", help="Once-per-turn TIR of the pin.")] = "5um",
    high_spot: Annotated[float, typer.Option(metavar="DEGREES", help="Where its high spot stands.")] = 120.0,
    repeat: Annotated[str, typer.Option(metavar="LENGTH", help="How much each new clamping moves it, in TIR.")] = "1um",
    lobes: Annotated[str, typer.Option(help='Form of the pin: "3:1um" is three lobes that swing 1 um.')] = "",
    noise: Annotated[str, typer.Option(metavar="LENGTH", help="Noise of one reading.")] = "0.2um",
    turn: Annotated[float, typer.Option(metavar="SECONDS", help="How slowly the hand turns once round.")] = 20.0,
    drift: Annotated[float, typer.Option(metavar="UM", help="Drift in um a minute.")] = 0.0,
    second: Annotated[
        str, typer.Option(metavar="SWING@DEGREES", help='Another key position, in the order A B B A: "11um@200".')
    ] = "",
    steps: Annotated[int, typer.Option(help="Button: readings a turn, before it comes back to zero.")] = 4,
    every: Annotated[
        float, typer.Option(metavar="SECONDS", help="Button: pressed by itself from the first Enter on.")
    ] = 0.0,
    fault: Annotated[
        list[str] | None, typer.Option(metavar="KIND:READING", help='What goes wrong, and at which: "hold:7". Repeat.')
    ] = None,
    seed: Annotated[int, typer.Option(help="Another seed, other readings.")] = 0,
) -> None:
    """Put a simulated indicator on a line, to practise with.

    It turns a pin of known run-out: measure it from another terminal, and see whether the answer is right.
    """
    from instruments.profile_files import load_profile
    from instruments.serving import Serving
    from instruments.simulated import SimulatedIndicator, Spindle
    from reports import indicators

    first = Spindle(_um(swing) / 2, high_spot, _lobes(lobes), _um(noise), drift, turn)
    places = [first]
    if second:
        at, _, where = second.partition("@")
        places.append(dataclasses.replace(first, eccentricity_um=_um(at) / 2, high_spot_deg=float(where or 0)))
    known = load_profile(profile)
    indicator = SimulatedIndicator(known, first, faults=tuple(_faults(fault or [])), seed=seed)
    with Serving(indicator) as served:
        for line in indicators.simulated(profile, served.address, known.mode):
            say(line)
        hands = _Hands(served, places, _um(repeat) / 2, steps, seed)
        hands.clamp()
        with contextlib.suppress(KeyboardInterrupt):
            _follow(hands, served, every if known.mode == "button" else None)
        hands.stop.set()
    for one in places:
        say(indicators.truth(one, _um(repeat) / 2))


def _follow(hands: "_Hands", served: "Serving", every: float | None) -> None:
    """What is typed: Enter, out, in, q. ``every``: seconds between presses from the first Enter on, 0 for one press
    at each; None without a button."""
    begun = False
    for line in sys.stdin:
        word = line.strip().casefold()
        if word == "q":
            return
        if word in ("out", "in"):
            (served.pull_out if word == "out" else served.put_back)()
        elif every and not begun:
            begun = True
            threading.Thread(target=hands.press_by_itself, args=(every,), daemon=True).start()
        elif every == 0.0:
            hands.press()
    hands.stop.wait()


class _Hands:
    """The hands at the simulated spindle: they clamp, turn to the next angle, and press."""

    def __init__(self, served: "Serving", places: "list[Spindle]", repeat_um: float, steps: int, seed: int) -> None:
        self._served, self._places, self._repeat_um = served, places, repeat_um
        self._angles = [*range(0, 360, 360 // steps), 0] if steps > 1 else [0]
        self._chance = random.Random(seed)
        self._pressed = 0
        self._clamped = 0
        self.stop = threading.Event()

    def clamp(self) -> None:
        """A new clamping, at the next position of A B B A, moved by the repeat on both axes."""
        import cmath
        import math

        order = [*self._places, *reversed(self._places)]
        place = order[self._clamped % len(order)]
        moved = complex(self._chance.gauss(0, self._repeat_um), self._chance.gauss(0, self._repeat_um))
        vector = cmath.rect(place.eccentricity_um, math.radians(place.high_spot_deg)) + moved
        self._served.indicator.spindle = dataclasses.replace(
            place, eccentricity_um=abs(vector), high_spot_deg=math.degrees(cmath.phase(vector)) % 360
        )
        self._clamped += 1

    def press(self) -> None:
        if self._pressed and self._pressed % len(self._angles) == 0:
            self.clamp()
        self._served.press(self._angles[self._pressed % len(self._angles)])
        self._pressed += 1

    def press_by_itself(self, every: float) -> None:
        while not self.stop.wait(max(every, _PRESSED_WAIT)):
            self.press()


def _um(text: str) -> float:
    from qclog.lengths import parse_length

    return parse_length(text, bare="um").picometres / 1e6


def _lobes(text: str) -> tuple[tuple[int, float, float], ...]:
    """ "3:1um" as (number, amplitude, angle of a top)."""
    from qclog.errors import UsageError

    if not text:
        return ()
    number, colon, size = text.partition(":")
    if not colon or not number.strip().isdecimal():
        raise UsageError(f"--lobes {text!r} does not say how many and how large.", 'Write --lobes "3:1um".')
    return ((int(number), _um(size) / 2, 0.0),)


def _faults(texts: list[str]) -> "list[Fault]":
    from typing import get_args

    from instruments.simulated import Fault, FaultKind
    from qclog.errors import UsageError

    found = []
    kinds: dict[str, FaultKind] = {kind: kind for kind in get_args(FaultKind)}
    for text in texts:
        kind, _, first = text.partition(":")
        if kind.strip() not in kinds or not first.strip().isdecimal():
            raise UsageError(f"--fault {text!r} is none.", f'Write "hold:7"; there are: {", ".join(kinds)}.')
        found.append(Fault(kinds[kind.strip()], int(first)))
    return found
