"""Simulated indicators on pseudo-terminals: every way of talking, unplugged and back, floods, a wrong speed."""

import itertools
import random
import time
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from instruments.indicator import Indicator
from instruments.opening import open_indicator
from instruments.port import PortSource
from instruments.profile import Profile
from instruments.profile_files import load_profile
from instruments.records import Outcome, Reading, Refused, Said, Why
from instruments.serving import Serving
from instruments.simulated import SimulatedIndicator, Spindle

Serve = Callable[..., Serving]
Hear = Callable[..., list[Outcome]]

STEADY = Spindle(eccentricity_um=30.0, noise_um=0.0, seconds_per_turn=2.0, unevenness=0.0)


def quick(profile: Profile, address: str) -> Indicator:
    """Listening that tries a lost port again at once."""
    return Indicator(profile, PortSource(address, profile.settings, retry_seconds=0.02))


def values(outcomes: list[Outcome]) -> list[Decimal]:
    return [outcome.value for outcome in outcomes if isinstance(outcome, Reading)]


def why(outcomes: list[Outcome]) -> list[Why]:
    return [outcome.why for outcome in outcomes if isinstance(outcome, Refused)]


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


def test_two_thousand_readings_a_second_are_heard_one_by_one(serve: Serve, hear: Hear) -> None:
    """A count, not a clock: all that is said is heard, in order, each once. ``tests/benchmarks/stream.py`` goes on for
    a minute."""
    profile = load_profile("ascii-lines")
    served = serve(Counting(profile, per_second=2000), at_once=False)
    with open_indicator(profile, served.address) as indicator:
        hear(indicator, 0)
        time.sleep(0.6)  # the line is quiet before the first line, so that this one counts too
        served.begin()
        outcomes = hear(indicator, 4_000, seconds=60.0)
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


@pytest.mark.parametrize(
    ("bytesize", "parity", "network"), [(8, "none", False), (7, "none", True), (8, "even", True), (7, "odd", True)]
)
def test_what_no_pseudo_terminal_has_is_spoken_over_a_network_port(
    serve: Serve, bytesize: int, parity: str, network: bool
) -> None:
    profile = load_profile("ascii-lines")
    settings = replace(profile.settings, bytesize=bytesize, parity=parity)
    served = serve(SimulatedIndicator(replace(profile, settings=settings)))
    assert served.address.startswith("socket://") is network


def test_a_wrong_speed_looks_like_noise_and_is_refused_whole(serve: Serve, hear: Hear) -> None:
    """Bytes as a receiver at half the speed makes them: each bit of the line is read for two (constructed case)."""
    profile = load_profile("ascii-lines")
    served = serve(Garbled(profile, STEADY, per_second=400))
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
