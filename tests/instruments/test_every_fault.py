"""Every shipped way of talking with every fault, over a real pseudo-terminal: every byte accounted for, no wrong value.

Each reading says its own number, so that a lost, doubled or wrong one shows. Times are short here, and nothing depends
on how fast this computer is.
"""

import os
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import get_args

import pytest

from instruments.errors import SimulationError
from instruments.indicator import Indicator
from instruments.line_ends import new_end
from instruments.listening import Listening
from instruments.port import PortSource
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile, shipped_profiles
from instruments.records import Bytes, Change, Outcome, Reading, Refused, Why
from instruments.registers import RegisterIndicator
from instruments.serving import Serving
from instruments.simulated import Fault, FaultKind, SimulatedIndicator

Serve = Callable[..., Serving]
QUIET = 0.05
WORDS: dict[str, Why] = {"hold": Why.HOLD, "max": Why.MAX, "over range": Why.OVER_RANGE}
DAMAGED = {Why.PARTIAL, Why.NO_MATCH, Why.NOT_TEXT, Why.NOT_BCD, Why.DECIMALS, Why.GARBLED, Why.NO_ANSWER, Why.UNASKED}


class Counting(SimulatedIndicator):
    """An indicator whose n-th reading is n of its last places."""

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        del seconds, angle_deg
        return self.resolution.scaleb(-1 if unit != self.unit and self.profile.name != "ascii-lines" else 0) * number


def short(name: str) -> Profile:
    """A shipped profile with a short time for answers; a pseudo-terminal has no parity."""
    shipped = load_profile(name)
    return replace(shipped, answer_seconds=Decimal("0.6"), settings=replace(shipped.settings, parity="none"))


def counting(name: str, *faults: Fault) -> Counting:
    return Counting(short(name), per_second=400.0, faults=faults)


def can_be_said(name: str, kind: FaultKind) -> bool:
    try:
        counting(name, Fault(kind, 3))
    except SimulationError:
        return False
    return True


CASES = [(name, kind) for name in shipped_profiles() for kind in get_args(FaultKind) if can_be_said(name, kind)]


def test_a_fault_is_left_out_only_where_the_way_of_talking_has_no_word_for_it() -> None:
    left_out: dict[str, set[str]] = {name: set(get_args(FaultKind)) for name in shipped_profiles()}
    for name, kind in CASES:
        left_out[name].remove(kind)
    words = {"hold", "max", "low battery", "over range"}
    assert left_out == {
        "ascii-button": set(),
        "ascii-encoder": {"max", "over range"},
        "ascii-lines": {"max", "over range"},
        "ascii-request": {"max", "disconnect"},
        "bcd-13-digits": words,
        "bcd-13-digits-bytes": words,
        "keyboard-wedge": {"unit", *words},
        "modbus-rtu-registers": {"unit", "disconnect", *words},
        "scpi-query": {"unit", "disconnect", *words},
    }


@pytest.fixture(autouse=True)
def _short_times(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("instruments.indicator.DOUBLE_SECONDS", 0.02)
    monkeypatch.setattr("instruments.indicator.QUIET_SECONDS", QUIET)
    monkeypatch.setattr("instruments.lines.QUIET_SECONDS", QUIET)
    monkeypatch.setattr("instruments.lines.PAUSE_SECONDS", QUIET)
    monkeypatch.setattr("instruments.serial_line.READ_SECONDS", 0.02)


def opened(profile: Profile, address: str) -> Listening:
    if profile.registers is not None:
        return RegisterIndicator(profile, address)
    return Indicator(profile, PortSource(address, profile.settings, retry_seconds=0.02))


class Session:
    """What was heard of ``served`` until the last of ``count`` readings was heard. A button is pressed again when the
    press before was said and heard, so that two presses never run together on a busy computer."""

    def __init__(self, served: Serving, count: int) -> None:
        profile = served.indicator.profile
        self.outcomes: list[Outcome] = []
        self.received = b""
        self.states: list[str] = []
        end = time.monotonic() + 20.0
        with opened(profile, served.address) as indicator:
            while self.states != ["connected"]:
                self._step(indicator, end)
            time.sleep(2 * QUIET)  # the first line counts too
            served.begin()
            while not self._heard_last(served, count):
                if profile.mode == "request":
                    indicator.ask()
                elif profile.mode == "button":
                    self._press(served, indicator, end)
                self._step(indicator, end)
            self.outcomes += indicator.close()

    def _press(self, served: Serving, indicator: Listening, end: float) -> None:
        number, before = served.said, len(self.outcomes)
        served.press()
        while served.said == number:
            self._step(indicator, end)
        mute = served.indicator.saying(number).fault in ("silence", "disconnect")
        lost = time.monotonic() + 0.5  # a cable that is just being put back loses what is said
        while len(self.outcomes) == before and not mute and time.monotonic() < lost:
            self._step(indicator, end)
        time.sleep(QUIET)

    def _step(self, indicator: Listening, end: float) -> None:
        assert time.monotonic() < end, self.outcomes
        step = indicator.poll(0.01)
        self.outcomes += step.outcomes
        self.received += step.arrival.data if isinstance(step.arrival, Bytes) else b""
        self.states += [step.arrival.state] if isinstance(step.arrival, Change) else []

    def _heard_last(self, served: Serving, count: int) -> bool:
        return any(isinstance(one, Reading) and _number(one, served.indicator) >= count - 1 for one in self.outcomes)

    def numbers(self, indicator: SimulatedIndicator) -> list[Decimal]:
        return [_number(one, indicator) for one in self.outcomes if isinstance(one, Reading)]

    @property
    def why(self) -> list[Why]:
        return [one.why for one in self.outcomes if isinstance(one, Refused)]


def _number(reading: Reading, indicator: SimulatedIndicator) -> Decimal:
    """Which reading it is, by its value."""
    return reading.value / indicator._value(1, 0.0, 0.0, reading.unit)


@pytest.mark.parametrize(("name", "kind"), CASES)
def test_each_fault_is_heard_as_what_it_is_and_the_readings_go_on(serve: Serve, name: str, kind: FaultKind) -> None:
    first, count, all_said = 2, 2, 6
    if kind == "disconnect" and load_profile(name).mode == "stream":
        count, all_said = 30, 35
    elif load_profile(name).mode == "request" and kind != "freeze":
        count, all_said = 1, 5
    simulated = counting(name, Fault(kind, first, count))
    heard = Session(serve(simulated, at_once=False), all_said)
    numbers, why = heard.numbers(simulated), heard.why
    faulty = set(range(first, first + count))
    assert b"".join(one.raw for one in heard.outcomes) == heard.received
    assert set(numbers) <= {Decimal(number) for number in range(10_000)}, "no other value than those that were shown"
    assert numbers == sorted(numbers)
    assert heard.states == (["connected", "lost", "connected"] if kind == "disconnect" else ["connected"])
    before = [number for number in numbers if number < first]
    assert before == [0, 1][: len(before)], "what was still under way is lost with the cable"
    assert kind == "disconnect" or len(before) == 2
    if kind in ("cut", "noise"):
        assert set(why) <= DAMAGED
        assert why
        assert max(numbers) >= all_said - 1, "at most the line behind it is lost too"
    elif kind in WORDS:
        assert why == [WORDS[kind]] * count
        assert not faulty & set(numbers)
    elif kind == "low battery":
        told = [one.status for one in heard.outcomes if isinstance(one, Reading) and _number(one, simulated) in faulty]
        assert (told, why) in (([("low battery",)] * count, []), ([], [Why.LOW_BATTERY] * count))
    elif kind == "double":
        again = {"stream": [], "button": [Why.DOUBLE] * count, "request": [Why.UNASKED] * count}
        if name == "modbus-rtu-registers":  # the library throws away what comes behind the reply
            assert numbers[:all_said] == list(range(all_said))
        else:
            assert [one for one in why if one is not Why.PARTIAL] == again[load_profile(name).mode]
            assert set(numbers) >= faulty
    elif kind in ("silence", "disconnect"):
        asked = load_profile(name).mode == "request"
        assert set(why) <= ({Why.NO_ANSWER} if asked else {Why.PARTIAL} if kind == "disconnect" else set())
        assert not faulty & set(numbers)
        assert bool(why) or not asked
    elif kind == "freeze":
        assert numbers[:all_said] == [0, 1, 2, 2, 4, 5]
        assert why == []
    else:  # a switched unit, a burst
        assert numbers[:all_said] == list(range(all_said))
        assert why == []
        units = [one.unit for one in heard.outcomes if isinstance(one, Reading)]
        assert (len(set(units[first : first + count])), len(set(units[:all_said]))) == (
            (1, 2) if kind == "unit" else (1, 1)
        )


LINES = [name for name in shipped_profiles() if load_profile(name).registers is None]


class Wire:
    """A pseudo-terminal whose other end is in the hand of the test, and an indicator that listens to it."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.end = new_end(pseudo_terminal=True)
        self.outcomes: list[Outcome] = []
        self.received = b""
        self.states: list[str] = []
        self._said = counting(profile.name)
        self._listener: Indicator | None = None

    def data(self, number: int) -> bytes:
        """What reading ``number`` is said as."""
        return self._said.saying(number).data

    def open(self) -> None:
        """Listening begins."""
        source = PortSource(self.end.address, self.profile.settings, retry_seconds=0.02)
        self._listener = Indicator(self.profile, source)
        self.until(lambda: self.states == ["connected"])

    def ask(self) -> None:
        """The line is quiet for a while; then it asks, where the way of talking wants it, and the request is out."""
        assert self._listener is not None
        time.sleep(2 * QUIET)
        if self.profile.mode == "request":
            while not self._listener.ask():
                self.step()
            asked = b""
            while not asked.endswith(self.profile.request):
                asked += self.end.read(0.01)
            self.step()

    def step(self) -> None:
        assert self._listener is not None
        step = self._listener.poll(0.01)
        self.outcomes += step.outcomes
        self.received += step.arrival.data if isinstance(step.arrival, Bytes) else b""
        self.states += [step.arrival.state] if isinstance(step.arrival, Change) else []

    def until(self, done: Callable[[], bool]) -> None:
        end = time.monotonic() + 20.0
        while not done():
            assert time.monotonic() < end, (self.outcomes, self.states)
            self.step()

    @property
    def read(self) -> list[Decimal]:
        """The numbers of the readings that were heard."""
        return [_number(one, self._said) for one in self.outcomes if isinstance(one, Reading)]

    @property
    def why(self) -> list[Why]:
        return [one.why for one in self.outcomes if isinstance(one, Refused)]

    def close(self) -> None:
        if self._listener is not None:
            self.outcomes += self._listener.close()
            self._listener = None


@pytest.fixture
def wire(request: pytest.FixtureRequest) -> Iterator[Wire]:
    if not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals")
    wire = Wire(short(request.param))
    yield wire
    wire.close()
    wire.end.close()


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_a_reading_that_comes_in_parts_is_one(monkeypatch: pytest.MonkeyPatch, wire: Wire) -> None:
    monkeypatch.setattr("instruments.lines.PAUSE_SECONDS", 5.0)  # however slowly the parts come here
    monkeypatch.setattr("instruments.nibbles.SETTLED_SECONDS", 1.0)
    wire.open()
    wire.ask()
    data = wire.data(7)
    for at in range(0, len(data), 4):
        wire.end.write(data[at : at + 4])
        sent = data[: at + 4]
        wire.until(lambda: wire.received == sent)  # noqa: B023 - called before the next part is sent
    wire.until(lambda: bool(wire.outcomes))
    assert wire.read == [7]
    assert wire.why == []


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_two_readings_in_one_read_are_never_mixed(wire: Wire) -> None:
    wire.open()
    wire.ask()
    wire.end.write(wire.data(7) + wire.data(8))
    wire.until(lambda: len(wire.outcomes) >= 2)
    second = {"stream": [], "button": [Why.DOUBLE], "request": [Why.UNASKED]}[wire.profile.mode]
    assert wire.read == ([7] if second else [7, 8])
    assert wire.why == second


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_what_was_said_before_listening_began_is_no_reading(wire: Wire) -> None:
    """An old value in the buffer of the port, and the rest of a line that was begun before."""
    wire.end.write(wire.data(7))
    wire.open()
    rest = wire.data(8)[5:]
    wire.end.write(rest)
    wire.until(lambda: wire.received == rest)
    wire.ask()
    wire.step()
    wire.end.write(wire.data(9))
    wire.until(lambda: bool(wire.read))
    assert wire.read == [9]


@pytest.mark.parametrize("wire", [name for name in LINES if load_profile(name).mode == "request"], indirect=True)
def test_an_old_answer_in_the_line_is_not_taken_for_the_one_that_is_asked_for(wire: Wire) -> None:
    wire.open()
    time.sleep(2 * QUIET)
    wire.end.write(wire.data(7))
    wire.until(lambda: bool(wire.outcomes))
    assert wire.why == [Why.UNASKED]
    wire.ask()
    wire.end.write(wire.data(8))
    wire.until(lambda: bool(wire.read))
    assert wire.read == [8]


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_a_cable_pulled_out_within_a_line_never_joins_two_halves(wire: Wire) -> None:
    """Also where the halves together would be a line."""
    whole = wire.data(7)
    wire.open()
    wire.ask()
    wire.end.write(whole[:4])
    wire.until(lambda: wire.received == whole[:4])
    wire.end.pull()
    wire.until(lambda: wire.states[-1] == "lost")
    wire.end.put_back()
    wire.until(lambda: wire.states[-1] == "connected")
    wire.end.write(whole[4:])
    wire.until(lambda: wire.received == whole)
    wire.ask()
    wire.step()
    wire.end.write(wire.data(8))
    time.sleep(2 * QUIET)
    wire.step()
    wire.ask()
    wire.end.write(wire.data(9))
    wire.until(lambda: wire.read[-1:] == [9])
    wire.close()
    assert wire.read in ([8, 9], [9])
    assert b"".join(one.raw for one in wire.outcomes) == wire.received


def test_a_decimal_comma_is_taken_only_where_the_profile_says_so(serve: Serve) -> None:
    text = "about = 'x'\nunit = 'mm'\npattern = '(?P<number>[+-][0-9]+[.,][0-9]{3})'\n"
    comma = read_profile(text + "example = '+0,012'\ndecimal = 'comma'\n", "comma.toml")
    point = read_profile(text + "example = '+0.012'\n", "point.toml")
    for said, heard, readings in ((comma, comma, True), (comma, point, False), (point, comma, False)):
        served = serve(Counting(said, per_second=200.0))
        with opened(heard, served.address) as indicator:
            outcomes: list[Outcome] = []
            while len(outcomes) < 20:
                outcomes += indicator.poll(0.05).outcomes
        assert any(isinstance(one, Reading) for one in outcomes) is readings
        assert {one.why for one in outcomes if isinstance(one, Refused)} <= {Why.PARTIAL, Why.NOT_A_NUMBER}
