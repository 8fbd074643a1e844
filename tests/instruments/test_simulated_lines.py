"""Simulated indicators on pseudo-terminals: every way of talking, every fault, unplugged and back."""

import itertools
import random
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from instruments.indicator import Indicator
from instruments.listening import Heard
from instruments.opening import open_indicator
from instruments.port import PortSource
from instruments.profile import Profile
from instruments.profile_files import load_profile, shipped_profiles
from instruments.records import Bytes, Change, Outcome, Reading, Refused, Said, Why
from instruments.serving import Serving
from instruments.simulated import Fault, FaultKind, SimulatedIndicator, Spindle

Serve = Callable[..., Serving]
Hear = Callable[..., list[Outcome]]

LINES = [name for name in shipped_profiles() if name != "modbus-rtu-registers"]
STEADY = Spindle(eccentricity_um=30.0, noise_um=0.0, seconds_per_turn=2.0, unevenness=0.0)


def quick(profile: Profile, address: str) -> Indicator:
    """Listening that tries a lost port again at once."""
    return Indicator(profile, PortSource(address, profile.settings, retry_seconds=0.02))


def values(outcomes: list[Outcome]) -> list[Decimal]:
    return [outcome.value for outcome in outcomes if isinstance(outcome, Reading)]


def why(outcomes: list[Outcome]) -> list[Why]:
    return [outcome.why for outcome in outcomes if isinstance(outcome, Refused)]


class Presses:
    """Presses the button a while after each reading was heard."""

    def __init__(self, served: Serving) -> None:
        self.served = served
        self.at = time.monotonic()

    def __call__(self, heard: Heard) -> None:
        del heard
        if time.monotonic() > self.at:
            self.served.press()
            self.at = time.monotonic() + 0.35


@pytest.mark.parametrize("name", LINES)
def test_every_way_of_talking_is_heard_over_a_serial_line(serve: Serve, hear: Hear, name: str) -> None:
    profile = load_profile(name)
    served = serve(SimulatedIndicator(profile, STEADY, per_second=50))
    with open_indicator(profile, served.address) as indicator:
        each = Presses(served) if profile.mode == "button" else None
        heard = hear(indicator, 3, ask=profile.mode == "request", each=each)
        assert indicator.state == "connected"
    said = {served.indicator.saying(n).value for n in range(2000)} if profile.mode == "stream" else None
    for value in values(heard):
        assert abs(value) <= Decimal("0.031")
        assert said is None or value in said
    assert set(why(heard)) <= {Why.PARTIAL}


@pytest.mark.parametrize("angle", [120.0, 210.0, 300.0])
def test_the_button_reads_the_angle_the_spindle_was_turned_to(serve: Serve, hear: Hear, angle: float) -> None:
    profile = load_profile("ascii-button")
    served = serve(SimulatedIndicator(profile, STEADY))
    with open_indicator(profile, served.address) as indicator:
        hear(indicator, 0)
        time.sleep(0.6)  # the line is quiet before the press
        served.press(angle)
        assert values(hear(indicator)) == [{120.0: Decimal("0.030"), 210.0: 0, 300.0: Decimal("-0.030")}[angle]]


def test_a_meter_tells_who_it_is_and_that_it_has_no_error(serve: Serve, hear: Hear) -> None:
    profile = load_profile("scpi-query")
    served = serve(SimulatedIndicator(profile))
    with quick(profile, served.address) as indicator:
        while not indicator.identify():
            indicator.poll(0.05)
        (identity,) = (one for one in hear(indicator, kind=Said) if isinstance(one, Said))
        assert (identity.about, identity.words) == ("identity", "SIMULATED,INDICATOR,0,1")
        assert indicator.ask_for_error()
        (error,) = (one for one in hear(indicator, kind=Said) if isinstance(one, Said))
        assert (error.about, error.words) == ("error", '0,"No error"')


FAULTS: list[tuple[str, FaultKind, Why | None]] = [
    ("ascii-lines", "cut", Why.NO_MATCH),
    ("ascii-lines", "noise", Why.NOT_TEXT),
    ("ascii-lines", "freeze", None),
    ("ascii-lines", "unit", None),
    ("ascii-lines", "hold", Why.HOLD),
    ("ascii-lines", "low battery", Why.LOW_BATTERY),
    ("ascii-lines", "burst", None),
    ("ascii-lines", "double", None),
    ("ascii-lines", "silence", None),
    ("ascii-lines", "disconnect", None),
    ("ascii-request", "over range", Why.OVER_RANGE),
    ("ascii-request", "hold", Why.HOLD),
    ("ascii-request", "cut", Why.NO_ANSWER),
    ("ascii-request", "noise", Why.NOT_TEXT),
    ("ascii-request", "silence", Why.NO_ANSWER),
    ("ascii-request", "double", Why.UNASKED),
    ("ascii-request", "unit", None),
    ("scpi-query", "cut", Why.NO_ANSWER),
    ("scpi-query", "noise", Why.NOT_TEXT),
    ("ascii-button", "max", Why.MAX),
    ("ascii-button", "double", Why.DOUBLE),
    ("ascii-button", "cut", Why.NO_MATCH),
    ("ascii-button", "noise", Why.NOT_TEXT),
    ("ascii-button", "disconnect", None),
    ("bcd-13-digits", "cut", Why.NO_MATCH),
    ("bcd-13-digits", "noise", Why.NOT_TEXT),
    ("bcd-13-digits-bytes", "cut", Why.PARTIAL),
    ("bcd-13-digits-bytes", "noise", Why.NOT_BCD),
    ("keyboard-wedge", "noise", Why.NOT_TEXT),
    ("keyboard-wedge", "double", Why.DOUBLE),
]


@pytest.mark.parametrize(("name", "kind", "expected"), FAULTS)
def test_a_fault_on_the_line_is_told_and_the_readings_go_on(
    serve: Serve, hear: Hear, name: str, kind: FaultKind, expected: Why | None
) -> None:
    profile = load_profile(name)
    first = 40 if profile.mode == "stream" else 1
    count = 20 if kind in ("disconnect", "silence") and profile.mode == "stream" else 1
    simulated = SimulatedIndicator(profile, STEADY, per_second=50, faults=(Fault(kind, first, count),), seed=4)
    served = serve(simulated, at_once=False)
    received, changes = b"", []

    def each(heard: Heard) -> None:
        nonlocal received
        received += heard.arrival.data if isinstance(heard.arrival, Bytes) else b""
        changes.extend([heard.arrival.state] if isinstance(heard.arrival, Change) else [])
        if presses is not None:
            presses(heard)

    presses = Presses(served) if profile.mode == "button" else None
    with quick(profile, served.address) as indicator:
        hear(indicator, 0)
        served.begin()
        outcomes: list[Outcome] = []
        while served.said < first + count + 3 or not isinstance(outcomes[-1] if outcomes else None, Reading):
            outcomes += hear(indicator, 1, ask=profile.mode == "request", each=each)
        rest = indicator.close()
    assert b"".join(outcome.raw for outcome in [*outcomes, *rest]) == received
    if expected is not None:
        assert expected in why(outcomes)
    assert changes == (["connected", "lost", "connected"] if kind == "disconnect" else ["connected"])
    true = {simulated.saying(n).value for n in range(served.said)}
    if profile.mode == "stream":
        assert set(values(outcomes)) <= true
    assert all(abs(value) <= Decimal("0.031") for value in values(outcomes))


def test_a_port_pulled_out_and_put_back_many_times_loses_nothing_accepted_and_doubles_nothing(
    serve: Serve, hear: Hear
) -> None:
    """Every reading says its own number, so a lost or doubled one would show."""
    profile = load_profile("ascii-lines")
    simulated = Counting(profile)
    served = serve(simulated, at_once=False)
    chance = random.Random(5)
    with quick(profile, served.address) as indicator:
        hear(indicator, 0)
        served.begin()
        outcomes: list[Outcome] = []
        lost = 0
        for _ in range(8):
            outcomes += hear(indicator, chance.randrange(5, 40))
            served.pull_out()
            while indicator.state != "lost":
                outcomes += indicator.poll(0.02).outcomes
            lost += 1
            served.put_back()
            while indicator.state == "lost":
                outcomes += indicator.poll(0.02).outcomes
        outcomes += hear(indicator, 5)
    numbers = [int(value * 10_000) for value in values(outcomes)]
    assert numbers == sorted(set(numbers))
    assert lost == 8
    assert set(why(outcomes)) <= {Why.PARTIAL}
    assert len(why(outcomes)) <= 2 * 8 + 1


class Counting(SimulatedIndicator):
    """An indicator whose n-th reading is n ten-thousandths of a millimetre."""

    def __init__(self, profile: Profile, **options: Any) -> None:
        super().__init__(profile, per_second=options.pop("per_second", 200), **options)

    def _value(self, number: int, seconds: float, angle_deg: float, unit: str) -> Decimal:
        del seconds, angle_deg, unit
        return Decimal(number % 1_000_000).scaleb(-4)


def test_two_thousand_readings_a_second_for_five_seconds_are_heard_one_by_one(serve: Serve, hear: Hear) -> None:
    """A count, not a clock: all that is said is heard, in order, each once. ``tests/benchmarks/stream.py`` goes on for
    a minute."""
    profile = load_profile("ascii-lines")
    served = serve(Counting(profile, per_second=2000), at_once=False)
    with open_indicator(profile, served.address) as indicator:
        hear(indicator, 0)
        time.sleep(0.6)  # the line is quiet before the first line, so that this one counts too
        served.begin()
        outcomes = hear(indicator, 10_000, seconds=60.0)
    assert why(outcomes) == []
    assert served.unheard == 0
    numbers = [int(value * 10_000) for value in values(outcomes)]
    assert numbers == list(range(len(numbers)))


def test_a_network_port_serves_where_there_is_no_pseudo_terminal(hear: Hear) -> None:
    profile = load_profile("ascii-lines")
    with (
        Serving(SimulatedIndicator(profile, STEADY, per_second=50), pseudo_terminal=False) as served,
        open_indicator(profile, served.address) as indicator,
    ):
        assert served.address.startswith("socket://127.0.0.1:")
        assert len(values(hear(indicator, 10))) == 10


def test_a_wrong_speed_looks_like_noise_and_is_refused_whole(serve: Serve, hear: Hear) -> None:
    """Bytes as a receiver at half the speed makes them: each bit of the line is read for two (constructed case)."""
    profile = load_profile("ascii-lines")
    served = serve(Garbled(profile, STEADY, per_second=50))
    with open_indicator(profile, served.address) as indicator:
        outcomes = hear(indicator, 3, kind=Refused)
    assert values(outcomes) == []


class Garbled(SimulatedIndicator):
    """What an indicator says, received at half its speed."""

    def saying(self, number: int, **at: Any) -> Any:
        import dataclasses

        whole = super().saying(number, **at)
        bits = [bit for byte in whole.data for bit in (0, *(byte >> k & 1 for k in range(8)), 1)]
        slow = [bits[k] for k in range(0, len(bits), 2)]
        frames = itertools.batched(slow, 10) if hasattr(itertools, "batched") else zip(*[iter(slow)] * 10, strict=False)
        data = bytes(sum(bit << k for k, bit in enumerate(tuple(frame)[1:9])) for frame in frames)
        return dataclasses.replace(whole, data=data)
