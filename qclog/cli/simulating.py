"""A simulated indicator on a line of its own, to practise with."""

import contextlib
import dataclasses
import random
import re
import signal
import sys
import threading
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Final

import typer

from qclog.cli.common import angle, say, seconds_typed

if TYPE_CHECKING:
    from types import FrameType

    from instruments.profile import Mode
    from instruments.serving import Serving
    from instruments.simulated import Fault, Spindle

_MARK_WAIT: Final = 0.02
_PRESSED_WAIT: Final = 0.4
_JOINING: Final = ("", "pin", "key", "at")


def add_to(app: typer.Typer) -> None:
    app.command("simulate")(simulate)


def simulate(
    profile: Annotated[
        str, typer.Argument(metavar="PROFILE", help="How it talks: a shipped profile, or a file.")
    ] = "ascii-button",
    swing: Annotated[str, typer.Option(metavar="LENGTH", help="Once-per-turn TIR of the pin.")] = "5um",
    high_spot: Annotated[str, typer.Option(metavar="DEGREES", help="Where its high spot stands.")] = "120",
    repeat: Annotated[str, typer.Option(metavar="LENGTH", help="How much each new clamping moves it, in TIR.")] = "1um",
    lobes: Annotated[
        str, typer.Option(metavar="NUMBER:LENGTH", help='Form of the pin: "3:1um" is three lobes that swing 1 um.')
    ] = "",
    noise: Annotated[str, typer.Option(metavar="LENGTH", help="Noise of one reading.")] = "0.2um",
    turn: Annotated[
        float, typer.Option(metavar="SECONDS", callback=seconds_typed, help="How slowly the hand turns once round.")
    ] = 20.0,
    drift: Annotated[str, typer.Option(metavar="LENGTH", help="Drift in a minute.")] = "0um",
    second: Annotated[
        str, typer.Option(metavar="SWING@DEGREES", help='Another key position, in the order A B B A: "11um@200".')
    ] = "",
    body: Annotated[
        list[str] | None,
        typer.Option(
            metavar="CODE=SWING@DEGREES",
            help='A body that is turned, its run-out with its mark at 0: "C-046=8um@140"; as often as wanted. What '
            'stays runs --swing at --high-spot. "C-046=120 P-3=180" typed turns bodies and clamps anew.',
        ),
    ] = None,
    changed: Annotated[
        list[str] | None,
        typer.Option(
            "--with",
            metavar="NAME=SWING@DEGREES",
            help="A pin or a person that changes from clamping to clamping, and what it adds, "
            '"P-2=3um@200"; as often as wanted. "B P-2 MO" typed clamps anew so; from then on it is clamped as typed.',
        ),
    ] = None,
    steps: Annotated[
        int,
        typer.Option(metavar="NUMBER", min=1, max=360, help="Button: readings a turn, before it comes back to zero."),
    ] = 4,
    every: Annotated[
        float | None,
        typer.Option(
            metavar="SECONDS",
            callback=seconds_typed,
            help="Button: pressed by itself from Enter on; Enter stops it, and lets it go on. "
            "With --with or --body it stops when a clamping is whole, so that the next can be typed.",
        ),
    ] = None,
    fault: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KIND:READING",
            help='What goes wrong, and at which readings: "hold:7", "silence:40-60"; as often as wanted. Kinds: cut, '
            "noise, freeze, unit, hold, max, low battery, over range, burst, double, silence, disconnect.",
        ),
    ] = None,
    seed: Annotated[int, typer.Option(metavar="NUMBER", help="Another seed, other readings.")] = 0,
) -> None:
    """Put a simulated indicator on a line, to practise with.

    It turns a pin of known run-out: measure it from another terminal, and see whether the answer is right.
    """
    from instruments.profile_files import load_profile
    from instruments.serving import Serving
    from instruments.simulated import SimulatedIndicator, Spindle
    from qclog.errors import UsageError
    from reports import indicators

    stands = (angle(high_spot) or 0) / 1000
    repeat_um = _size("--repeat", repeat) / 2
    first = Spindle(_size("--swing", swing) / 2, stands, _lobes(lobes), _size("--noise", noise), _um(drift), turn)
    positions = {"A": first, "B": _moved(first, second)} if second else {"": first}
    known = load_profile(profile)
    bodies, changing = _bodies("--body", body or []), _bodies("--with", changed or [])
    if bodies and second:
        raise UsageError("--second is another key position, --body what is turned.", "Give one of them.")
    indicator = SimulatedIndicator(known, first, faults=tuple(_faults(fault or [])), seed=seed)
    with _ended_from_outside(), Serving(indicator, at_once=False) as served:
        hands = _Hands(served, positions, bodies, changing, repeat_um, steps, seed)
        hands.clamp()
        served.begin()
        with contextlib.suppress(KeyboardInterrupt):
            for line in indicators.simulated(
                profile,
                served.address,
                known.mode,
                by_itself=every is not None,
                bodies=tuple(bodies),
                changing=tuple(changing),
            ):
                say(line)
            _follow(hands, served, known.mode, every)
        hands.stop.set()
    for position, place in positions.items():
        say(indicators.truth(position, place, repeat_um))
    for code, vector in bodies.items():
        say(indicators.truth_of_body(code, vector))
    for name, vector in changing.items():
        say(indicators.truth_of_what_changes(name, vector))


def _follow(hands: "_Hands", served: "Serving", mode: "Mode", every: float | None) -> None:
    """What is typed: Enter, out, in, q. ``every``: seconds between presses of a button from the first Enter on, None
    for one press at each: Enter stops it and lets it go on. When the keyboard has ended, what needs no hand goes on."""
    from reports import indicators

    if mode != "button":
        threading.Thread(target=hands.watch_the_mark, daemon=True).start()
    by_itself = threading.Thread(target=hands.press_by_itself, args=(every or 0.0,), daemon=True)
    for line in sys.stdin:
        word = line.strip().casefold()
        if word == "q":
            return
        if word in ("out", "in"):
            (served.pull_out if word == "out" else served.put_back)()
            say(indicators.CABLE[word])
        elif word == "again" and mode == "button":
            hands.press_again()
        elif "=" in word:
            say(hands.turn(line.strip()))
        elif word and (so := hands.clamp_as(line.strip())):
            say(so)
        elif word:
            say(indicators.typed_to_simulated(mode, hands.unknown(line)))
        elif mode == "button" and every is None:
            hands.press()
        elif mode == "button":
            if said := hands.stop_or_go_on():
                say(said)
            if by_itself.ident is None:
                by_itself.start()
        else:
            hands.clamp()
            say(hands.clamped())
    if mode == "button" and every is None:
        say(indicators.NOBODY_PRESSES)
        return
    if mode == "button":
        hands.go_on_without_a_keyboard()
        if by_itself.ident is None:
            by_itself.start()
    hands.stop.wait()


@contextlib.contextmanager
def _ended_from_outside() -> Iterator[None]:
    """Whoever ends this program, or closes its terminal, ends it as an exit does, so that the line is taken away."""

    def leave(number: int, frame: "FrameType | None") -> None:
        del frame
        sys.exit(128 + number)

    before = {}
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            before[number] = signal.signal(number, leave)
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


class _Hands:
    """The hands at the simulated spindle: they clamp, turn to the next angle, and press."""

    def __init__(
        self,
        served: "Serving",
        positions: "dict[str, Spindle]",
        bodies: "dict[str, complex]",
        changing: "dict[str, complex]",
        repeat_um: float,
        steps: int,
        seed: int,
    ) -> None:
        self._served, self._positions, self._repeat_um = served, positions, repeat_um
        self._bodies, self._turned = bodies, dict.fromkeys(bodies, 0.0)
        self._changing = changing
        self._there: list[str] = []
        self._as_told = False
        self._stops_when_whole = bool(bodies or changing)
        self._going = threading.Event()
        self._position = ""
        self._angles = [*(360 * step / steps for step in range(steps)), 0.0] if steps > 1 else [0.0]
        self._chance = random.Random(seed)
        self._pressed = 0
        self._clamped = 0
        self.stop = threading.Event()

    def clamp(self, position: str | None = None) -> None:
        """A new clamping, at a position or the next of A B B A, moved by the repeat on both axes."""
        import cmath
        import math

        order = [*self._positions, *reversed(self._positions)]
        self._position = order[self._clamped % len(order)] if position is None else position
        place = self._positions[self._position]
        moved = complex(self._chance.gauss(0, self._repeat_um), self._chance.gauss(0, self._repeat_um))
        vector = cmath.rect(place.eccentricity_um, math.radians(place.high_spot_deg)) + moved
        for code, at in self._turned.items():
            vector += self._bodies[code] * cmath.rect(1.0, math.radians(at))
        vector += sum(self._changing[name] for name in self._there)
        self._served.indicator.spindle = dataclasses.replace(
            place, eccentricity_um=abs(vector), high_spot_deg=math.degrees(cmath.phase(vector)) % 360
        )
        self._clamped += 1

    def turn(self, text: str) -> str:
        """Bodies turned as typed, "C-046=120 P-3=180", and clamped anew, also in the middle of a turn; in words."""
        from qclog.errors import QclogError
        from qclog.notation import parse_clocking
        from reports import indicators

        known = {code.casefold(): code for code in self._bodies}
        try:
            typed = parse_clocking(text)
        except QclogError as error:
            return str(error)
        if unknown := [code for code, _ in typed if code.casefold() not in known]:
            return indicators.no_such_body(unknown, tuple(self._bodies))
        self._turned |= {known[code.casefold()]: angle / 1000 for code, angle in typed}
        self._pressed = 0
        self.clamp()
        return indicators.turned(self._clamped, self._turned)

    def clamp_as(self, text: str) -> str:
        """Clamped anew as typed, "B P-2 MO", or as ``measure`` says it, "MO, pin P-2, key at B"; in words, '' where
        something in it is not known here. What is not named is not there; the key position stays."""
        from reports import indicators

        known, words = self._known(), _words(text)
        if not words or self.unknown(text):
            return ""
        named = [known[word.casefold()] for word in words]
        self._as_told = self._stops_when_whole = True
        self._there = [name for name in named if name in self._changing]
        self._pressed = 0
        self.clamp(next((name for name in named if name in self._positions), self._position))
        return indicators.clamped(self._clamped, self._position, self._there)

    def unknown(self, text: str) -> list[str]:
        """The words of what was typed that name nothing here, as they were typed."""
        return [word for word in _words(text) if word.casefold() not in self._known()]

    def _known(self) -> dict[str, str]:
        return {name.casefold(): name for name in (*self._positions, *self._changing)}

    def press(self) -> None:
        from reports import indicators

        step = self._pressed % len(self._angles)
        if self._pressed and step == 0 and not self._as_told:
            self.clamp()
        self._served.press(self._angles[step])
        self._pressed += 1
        say(indicators.pressed(self._clamped, self._position, self._angles[step]))

    def press_again(self) -> None:
        """Once more where it was pressed last."""
        from reports import indicators

        angle_deg = self._angles[max(self._pressed - 1, 0) % len(self._angles)]
        self._served.press(angle_deg)
        say(indicators.pressed(self._clamped, self._position, angle_deg))

    def clamped(self) -> str:
        """Which clamping it is now, in words."""
        from reports import indicators

        return indicators.clamped(self._clamped, self._position)

    def watch_the_mark(self) -> None:
        """Says each time the spindle's mark passes, for those who tap."""
        from reports import indicators

        turns = 0
        while not self.stop.wait(_MARK_WAIT):
            if self._served.turned_deg // 360 > turns:
                turns += 1
                say(indicators.MARK_PASSES)

    def stop_or_go_on(self) -> str:
        """Enter, where the button is pressed by itself: what that did, in words; '' where it goes on."""
        from reports import indicators

        if self._going.is_set():
            self._going.clear()
            return indicators.STOPPED
        self._going.set()
        return ""

    def go_on_without_a_keyboard(self) -> None:
        """Nobody can type the next clamping, nor that it goes on."""
        self._stops_when_whole = False
        self._going.set()

    def press_by_itself(self, every: float) -> None:
        while not self.stop.wait(max(every, _PRESSED_WAIT)):
            if self._going.is_set():
                self.press_until_whole()

    def press_until_whole(self) -> None:
        """A press; with the last of a clamping it stops, where the next clamping is typed."""
        from reports import indicators

        whole = self._stops_when_whole and (self._pressed + 1) % len(self._angles) == 0
        if whole:
            self._going.clear()
        self.press()
        if whole:
            say(indicators.WHOLE)


def _words(text: str) -> list[str]:
    """What is named in "MO, pin P-2, key at B": without the words that join."""
    return [word for word in re.split(r"[\s,;]+", text) if word.casefold() not in _JOINING]


def _um(text: str) -> float:
    from qclog.lengths import parse_length

    return parse_length(text, bare="um").picometres / 1e6


def _size(option: str, text: str) -> float:
    """A length that has no sign, in um. Raises UsageError."""
    from qclog.errors import UsageError

    um = _um(text)
    if um < 0:
        raise UsageError(f"{option} {text!r} is below zero.", f"Write it without a sign, as {option} 2um.")
    return um


def _bodies(option: str, texts: list[str]) -> dict[str, complex]:
    """ "C-046=8um@140" as eccentricity in um by code, the mark of the body at 0. Raises UsageError."""
    import cmath
    import math

    from qclog.errors import UsageError
    from qclog.notation import parse_swing

    found: dict[str, complex] = {}
    for text in texts:
        code, equals, swing = (part.strip() for part in text.partition("="))
        if not (code and equals and swing) or code.casefold() in {known.casefold() for known in found}:
            raise UsageError(f"{option} {text!r} does not say whose run-out.", 'Write each once, as "C-046=8um@140".')
        typed = parse_swing(swing, bare="um", graduation_pm=None)
        found[code] = cmath.rect(typed.picometres / 2e6, math.radians((typed.angle_mdeg or 0) / 1000))
    return found


def _moved(first: "Spindle", text: str) -> "Spindle":
    """The other position: "11um@200"; without degrees the high spot stands where it did."""
    from qclog.notation import parse_swing

    typed = parse_swing(text, bare="um", graduation_pm=None)
    stands = first.high_spot_deg if typed.angle_mdeg is None else typed.angle_mdeg / 1000
    return dataclasses.replace(first, eccentricity_um=typed.picometres / 2e6, high_spot_deg=stands)


def _lobes(text: str) -> tuple[tuple[int, float, float], ...]:
    """ "3:1um" as (number, amplitude, angle of a top)."""
    from qclog.errors import UsageError

    if not text:
        return ()
    number, _, size = (part.strip() for part in text.partition(":"))
    if not size or not number.isdecimal() or int(number) < 2:
        raise UsageError(
            f"--lobes {text!r} does not say how many, two or more, and how large.", 'Write --lobes "3:1um".'
        )
    return ((int(number), _size("--lobes", size) / 2, 0.0),)


def _faults(texts: list[str]) -> "list[Fault]":
    """ "hold:7" is the seventh reading, "hold:7-9" three of them."""
    from typing import get_args

    from instruments.simulated import Fault, FaultKind
    from qclog.errors import UsageError

    found = []
    kinds: dict[str, FaultKind] = {kind: kind for kind in get_args(FaultKind)}
    for text in texts:
        kind, _, readings = (part.strip() for part in text.partition(":"))
        first, dash, last = (part.strip() for part in readings.partition("-"))
        if not dash:
            last = first
        if kind not in kinds or not first.isdecimal() or not last.isdecimal() or not 1 <= int(first) <= int(last):
            raise UsageError(
                f"--fault {text!r} is none.", f'Write "hold:7" or "hold:7-9"; there are: {", ".join(kinds)}.'
            )
        found.append(Fault(kinds[kind], int(first) - 1, int(last) - int(first) + 1))
    return found
