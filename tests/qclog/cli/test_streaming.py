"""A stream while the spindle is turned by hand: what is taken, and what stops it."""

import dataclasses
import itertools
import re
from collections.abc import Iterator

import pytest

from instruments.meaning import interpret
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile
from instruments.records import Frame, Reading
from instruments.simulated import SimulatedIndicator, Spindle
from qclog.cli.screen import Screen
from qclog.cli.streaming import NEAR_DEG, Stream
from qclog.notation import parse_reading, parse_swing

SPINDLE = Spindle(eccentricity_um=6.0, high_spot_deg=250.0, noise_um=0.1, seconds_per_turn=12.0, unevenness=0.2)

INDEXED = r"""
about = "Lines with an index once a turn: +0.0123 mm*"
mode = "stream"
terminator = "CRLF"
pattern = '(?P<number>[+-][0-9]\.[0-9]{4}) (?P<unit>mm)(?P<index>[*]?)'
example = "+0.0123 mm*"
[decimals]
mm = 4
[units]
mm = "mm"
[index]
"*" = "mark"
"""


def _readings(profile: Profile, spindle: Spindle = SPINDLE, *, per_second: float = 10.0) -> Iterator[Reading]:
    for saying in SimulatedIndicator(profile, spindle, per_second=per_second).stream():
        reading = interpret(Frame(saying.data, saying.data.decode().strip(), saying.seconds), profile)
        assert isinstance(reading, Reading)
        yield reading


def _stream(*, whole_turns: bool) -> Stream:
    return Stream(Screen(), whole_turns=whole_turns)


def _first(stream: Stream, readings: Iterator[Reading], most: int = 1_000) -> str:
    return next(text for one in itertools.islice(readings, most) if (text := stream.add(one, None)) is not None)


def _um(text: str) -> float:
    return parse_reading(text, bare="um", graduation_pm=None).picometres / 1e6


def test_without_an_encoder_a_press_takes_what_stands_there() -> None:
    stream, readings = _stream(whole_turns=False), _readings(load_profile("ascii-lines"))
    newest = next(readings)
    assert stream.add(newest, 90) is None
    assert stream.press(newest.time) == f"{newest.value:f}mm"


def test_a_press_long_after_the_last_reading_takes_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    stream, readings = _stream(whole_turns=False), _readings(load_profile("ascii-lines"))
    assert stream.press(0.0) is None
    newest = next(readings)
    stream.add(newest, None)
    assert stream.press(newest.time + 0.6) is None
    assert capsys.readouterr().err.count("The indicator is silent") == 2


def test_with_an_encoder_the_readings_are_taken_at_their_angles_in_one_turn() -> None:
    profile = load_profile("ascii-encoder")
    stream, readings = _stream(whole_turns=False), _readings(profile, per_second=20.0)
    first = next(readings)
    stream.add(first, 0)
    assert stream.press(first.time) is None
    taken: list[tuple[int, float]] = []
    at: list[float] = []
    for wanted in (0, 90, 180, 270, 0):
        for one in itertools.islice(readings, 1_000):
            if (text := stream.add(one, wanted)) is not None:
                taken.append((wanted, _um(text)))
                at.append(float(one.angle_deg or 0))
                break
    assert [wanted for wanted, _ in taken] == [0, 90, 180, 270, 0]
    for (wanted, value), where in zip(taken, at, strict=True):
        assert value == pytest.approx(SPINDLE.form_um(wanted), abs=6.0 * 0.0524 + 0.4)  # 3 degrees, and the noise
        assert abs((where - wanted + 180) % 360 - 180) < 2 * NEAR_DEG


def test_before_a_press_an_encoder_takes_nothing() -> None:
    stream = _stream(whole_turns=False)
    for one in itertools.islice(_readings(load_profile("ascii-encoder"), per_second=20.0), 600):
        assert stream.add(one, 0) is None


def test_once_round_with_an_encoder_gives_swing_and_high_spot() -> None:
    spindle = dataclasses.replace(SPINDLE, lobes=((3, 1.0, 0.0),))
    stream, readings = _stream(whole_turns=True), _readings(load_profile("ascii-encoder"), spindle, per_second=20.0)
    first = next(readings)
    stream.add(first, None)
    stream.press(first.time)
    typed = parse_swing(_first(stream, readings), bare="um", graduation_pm=None)
    assert typed.picometres / 1e6 == pytest.approx(spindle.swing_um, abs=0.3)
    assert typed.angle_mdeg is not None
    assert abs(typed.angle_mdeg / 1000 - 250.0) <= typed.angle_within_mdeg / 1000 + 1


def test_an_index_line_marks_the_turn_by_itself() -> None:
    profile = read_profile(INDEXED, "indexed")
    stream, readings = _stream(whole_turns=True), _readings(profile, per_second=20.0)
    first = next(readings)
    stream.add(first, None)
    stream.press(first.time)
    typed = parse_swing(_first(stream, readings), bare="um", graduation_pm=None)
    assert typed.picometres / 1e6 == pytest.approx(12.0, abs=0.4)
    assert typed.angle_mdeg is not None
    off = (typed.angle_mdeg / 1000 - 250.0 + 180.0) % 360.0 - 180.0
    assert abs(off) <= typed.angle_within_mdeg / 1000


@pytest.mark.parametrize("per_second", [10.0, 2_000.0])
def test_a_spindle_faster_than_a_hand_stops_it(per_second: float, capsys: pytest.CaptureFixture[str]) -> None:
    spindle = dataclasses.replace(SPINDLE, seconds_per_turn=0.4, unevenness=0.0)
    stream, readings = _stream(whole_turns=True), _readings(load_profile("ascii-lines"), spindle, per_second=per_second)
    newest = next(readings)
    stream.add(newest, None)
    stream.press(newest.time)
    for newest in itertools.islice(readings, round(8 * per_second)):
        assert stream.add(newest, None) is None
    assert stream.press(newest.time) is None
    assert capsys.readouterr().err.count("STOP: the spindle turns faster than a hand") == 2


def test_an_encoder_tells_power_within_half_a_second(capsys: pytest.CaptureFixture[str]) -> None:
    spindle = dataclasses.replace(SPINDLE, seconds_per_turn=0.4, unevenness=0.0)
    stream, readings = _stream(whole_turns=False), _readings(load_profile("ascii-encoder"), spindle, per_second=100.0)
    newest = next(readings)
    stream.add(newest, 0)
    stream.press(newest.time)
    assert [stream.add(one, 90) for one in itertools.islice(readings, 60)][50:] == [None] * 10
    assert "STOP: the spindle turns faster than a hand" in capsys.readouterr().err


def test_readings_that_come_in_bunches_are_no_power(capsys: pytest.CaptureFixture[str]) -> None:
    stream, readings = _stream(whole_turns=False), _readings(load_profile("ascii-encoder"), per_second=50.0)
    for _ in range(100):
        bunch = list(itertools.islice(readings, 10))
        for one in bunch:
            stream.add(dataclasses.replace(one, time=bunch[-1].time), None)
    assert "STOP" not in capsys.readouterr().err


def test_a_reading_that_never_moves_is_noticed_while_a_turn_is_wanted(capsys: pytest.CaptureFixture[str]) -> None:
    still = Spindle(eccentricity_um=0.0, noise_um=0.0)
    stream, readings = _stream(whole_turns=True), _readings(load_profile("ascii-lines"), still)
    newest = next(readings)
    stream.add(newest, None)
    stream.press(newest.time)
    for one in itertools.islice(readings, 130):
        assert stream.add(one, None) is None
    assert "on hold, or does it not touch" in capsys.readouterr().err


def test_tenths_are_those_of_a_thou_also_in_a_metric_shop() -> None:
    from decimal import Decimal

    stream = _stream(whole_turns=False)
    stream.add(Reading(Decimal("0.5"), "tenths", 1.0, b""), None)
    text = stream.press(1.0)
    assert text is not None
    assert _um(text) == pytest.approx(1.27)


def test_the_bar_follows_the_reading_on_a_terminal_only(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    stream, readings = _stream(whole_turns=True), _readings(load_profile("ascii-lines"))
    first = next(readings)
    stream.add(first, None)
    stream.press(first.time)
    monkeypatch.setattr("qclog.cli.screen.time.monotonic", itertools.count(10**9).__next__)
    for one in itertools.islice(readings, 60):
        stream.add(one, None)
    said = capsys.readouterr().err
    assert re.search(r"\r +[+-]\d+\.\d µm  ─+(┼─*)?█[─┼]* ±\d+  turn [█·]{4} \d+ readings", said)
