"""Every shipped way of talking with every fault, over a real pseudo-terminal: every byte accounted for, no wrong value.

Each reading says its own number, so that a lost, doubled or wrong one shows. Times are short here, and nothing depends
on how fast this computer is.
"""

import contextlib
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
    return replace(shipped, answer_seconds=Decimal("0.3"), settings=replace(shipped.settings, parity="none"))


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
    """What was heard of ``served`` until it has said ``count`` readings and the last of them was heard."""

    def __init__(self, served: Serving, count: int) -> None:
        profile = served.indicator.profile
        self.outcomes: list[Outcome] = []
        self.received = b""
        self.states: list[str] = []
        pressed, heard, end = 0.0, 0, time.monotonic() + 20.0
        with opened(profile, served.address) as indicator:
            self._until(indicator, lambda: self.states == ["connected"])
            time.sleep(2 * QUIET)  # the first line counts too
            served.begin()
            while not self._heard_last(served, count):
                assert time.monotonic() < end, self.outcomes
                if profile.mode == "request":
                    indicator.ask()
                elif profile.mode == "button":
                    since = time.monotonic() - pressed
                    if since > 3 * QUIET or (since > QUIET and len(self.outcomes) > heard):
                        served.press()
                        pressed, heard = time.monotonic(), len(self.outcomes)
                self._step(indicator)
            rest = indicator.close()
        self.outcomes += rest

    def _until(self, indicator: Listening, done: Callable[[], bool]) -> None:
        end = time.monotonic() + 20.0
        while not done():
            assert time.monotonic() < end
            self._step(indicator)

    def _step(self, indicator: Listening) -> None:
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
    simulated = counting(name, Fault(kind, first, count))
    heard = Session(serve(simulated, at_once=False), all_said)
    numbers, why = heard.numbers(simulated), heard.why
    faulty = set(range(first, first + count))
    assert b"".join(one.raw for one in heard.outcomes) == heard.received
    assert set(numbers) <= {Decimal(number) for number in range(10_000)}, "no other value than those that were shown"
    assert numbers == sorted(numbers)
    assert heard.states == (["connected", "lost", "connected"] if kind == "disconnect" else ["connected"])
    heard_whole = [number for number in numbers if number < first]
    assert heard_whole == [0, 1]
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
        assert (len(set(units[2:4])), len(set(units[:6]))) == ((1, 2) if kind == "unit" else (1, 1))


LINES = [name for name in shipped_profiles() if load_profile(name).registers is None]


class Wire:
    """A pseudo-terminal whose other end is in the hand of the test, and an indicator that listens to it."""

    def __init__(self, profile: Profile) -> None:
        self.profile = profile
        self.end = new_end(pseudo_terminal=True)
        self._said = counting(profile.name)
        self.received = b""

    def data(self, number: int) -> bytes:
        """What reading ``number`` is said as."""
        return self._said.saying(number).data

    def opened(self) -> Indicator:
        """Listening that begins with a quiet line."""
        indicator = Indicator(self.profile, PortSource(self.end.address, self.profile.settings, retry_seconds=0.02))
        self.heard(indicator, lambda _, states: states == ["connected"])
        time.sleep(2 * QUIET)
        return indicator

    def asked(self, indicator: Indicator) -> None:
        """Asks, where the way of talking wants it, and waits until that has gone out."""
        if self.profile.mode == "request":
            end = time.monotonic() + 20.0
            while not indicator.ask():
                assert time.monotonic() < end
                assert not indicator.poll(0.01).outcomes
            while self.end.read(0.01) != self.profile.request:
                assert time.monotonic() < end
            assert indicator.poll(1.0).arrival is not None

    def heard(
        self, indicator: Indicator, done: Callable[[list[Outcome], list[str]], bool], seconds: float = 20.0
    ) -> list[Outcome]:
        """What is heard until ``done`` is content with the outcomes and the changes of the line."""
        outcomes: list[Outcome] = []
        states: list[str] = []
        end = time.monotonic() + seconds
        while not done(outcomes, states):
            assert time.monotonic() < end, (outcomes, states)
            step = indicator.poll(0.01)
            outcomes += step.outcomes
            self.received += step.arrival.data if isinstance(step.arrival, Bytes) else b""
            states += [step.arrival.state] if isinstance(step.arrival, Change) else []
        return outcomes

    def read(self, outcomes: list[Outcome]) -> list[Decimal]:
        return [_number(one, self._said) for one in outcomes if isinstance(one, Reading)]


@pytest.fixture
def wire(request: pytest.FixtureRequest) -> Iterator[Wire]:
    if not hasattr(os, "openpty"):
        pytest.skip("this system has no pseudo-terminals")
    wire = Wire(short(request.param))
    yield wire
    wire.end.close()


def some(outcomes: list[Outcome], states: list[str]) -> bool:
    del states
    return any(isinstance(one, Reading) for one in outcomes)


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_a_reading_that_comes_in_parts_is_one(wire: Wire) -> None:
    with wire.opened() as indicator:
        wire.asked(indicator)
        data = wire.data(7)
        outcomes: list[Outcome] = []
        for at in range(0, len(data), 4):
            wire.end.write(data[at : at + 4])
            step = indicator.poll(1.0)
            outcomes += step.outcomes
        outcomes += wire.heard(indicator, some) if not wire.read(outcomes) else []
    assert wire.read(outcomes) == [7]


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_two_readings_in_one_read_are_never_mixed(wire: Wire) -> None:
    with wire.opened() as indicator:
        wire.asked(indicator)
        wire.end.write(wire.data(7) + wire.data(8))
        outcomes = wire.heard(indicator, lambda outcomes, _: len(outcomes) >= 2)
    second = {"stream": None, "button": Why.DOUBLE, "request": Why.UNASKED}[wire.profile.mode]
    assert wire.read(outcomes) == ([7, 8] if second is None else [7])
    assert [one.why for one in outcomes if isinstance(one, Refused)] == ([] if second is None else [second])


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_what_was_said_before_listening_began_is_no_reading(wire: Wire) -> None:
    """An old value in the buffer of the port, and the rest of a line that was begun before."""
    wire.end.write(wire.data(7))
    indicator = Indicator(wire.profile, PortSource(wire.end.address, wire.profile.settings))
    with indicator:
        wire.end.write(wire.data(8)[5:])
        time.sleep(2 * QUIET)
        wire.asked(indicator)
        wire.end.write(wire.data(9))
        outcomes = wire.heard(indicator, some)
    assert wire.read(outcomes) == [9]


@pytest.mark.parametrize("wire", [name for name in LINES if load_profile(name).mode == "request"], indirect=True)
def test_an_old_answer_in_the_line_is_not_taken_for_the_one_that_is_asked_for(wire: Wire) -> None:
    with wire.opened() as indicator:
        wire.end.write(wire.data(7))
        (old,) = wire.heard(indicator, lambda outcomes, _: bool(outcomes))
        assert isinstance(old, Refused)
        assert old.why is Why.UNASKED
        wire.asked(indicator)
        wire.end.write(wire.data(8))
        assert wire.read(wire.heard(indicator, some)) == [8]


@pytest.mark.parametrize("wire", LINES, indirect=True)
def test_a_cable_pulled_out_within_a_line_never_joins_two_halves(wire: Wire) -> None:
    """Also where the halves together would be a line."""
    whole = wire.data(7)
    with wire.opened() as indicator:
        wire.asked(indicator)
        wire.end.write(whole[:4])
        wire.heard(indicator, lambda *_: wire.received == whole[:4])
        wire.end.pull()
        lost = wire.heard(indicator, lambda _, states: states == ["lost"])
        wire.end.put_back()
        lost += wire.heard(indicator, lambda _, states: states == ["connected"])
        wire.end.write(whole[4:])
        lost += wire.heard(indicator, lambda *_: wire.received == whole)
        time.sleep(2 * QUIET)
        lost += indicator.poll(0.01).outcomes
        assert wire.read(lost) == []
        with contextlib.suppress(AssertionError):
            wire.asked(indicator)
        wire.end.write(wire.data(8) + wire.data(9) if wire.profile.mode == "stream" else wire.data(9))
        outcomes = wire.heard(indicator, some)
        rest = list(indicator.close())
    assert wire.read(outcomes)[-1] in (8, 9)
    assert b"".join(one.raw for one in [*lost, *outcomes, *rest]) == wire.received


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
