"""Practising with a simulated indicator: what each option does, the cable, the keyboard, what is typed wrong."""

import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import get_args

import pytest

from instruments.indicator import Indicator
from instruments.port import PortSource
from instruments.profile_files import load_profile
from instruments.records import Bytes, Change, Reading
from instruments.serving import Serving
from instruments.simulated import FaultKind, SimulatedIndicator, Spindle
from qclog.cli import simulating
from qclog.cli.main import main

Capture = pytest.CaptureFixture[str]
EXACT = ("--repeat", "0", "--noise", "0")
posix = pytest.mark.skipif(os.name == "nt", reason="signals and pseudo-terminals are POSIX")


class Keys:
    """A keyboard whose lines come from ``hands``, a generator that is told where the indicator speaks."""

    def __init__(self, capsys: Capture, hands: Callable[[str], Iterator[str]]) -> None:
        self._capsys, self._hands = capsys, hands
        self.told = ""

    def __iter__(self) -> Iterator[str]:
        self.told += self._capsys.readouterr().err
        yield from self._hands(self.told.split("speaks at ")[1].split()[0])


def simulated(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, hands: Callable[[str], Iterator[str]], *arguments: str
) -> tuple[int, str]:
    keys = Keys(capsys, hands)
    monkeypatch.setattr("sys.stdin", keys)
    code = main(["simulate", *arguments])
    out, err = capsys.readouterr()
    assert out == ""
    return code, keys.told + err


def quits(address: str) -> Iterator[str]:
    del address
    yield "q\n"


def lines(source: PortSource, count: int = 1) -> list[bytes]:
    """The next lines, with their end."""
    data, end = b"", time.monotonic() + 20.0
    while data.count(b"\r") < count:
        assert time.monotonic() < end, data
        arrival = source.read(0.1)
        data += arrival.data if isinstance(arrival, Bytes) else b""
    return data.splitlines()[:count]


def test_the_hands_press_at_each_angle_come_back_to_zero_and_clamp_again(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """40 um at 90 degrees, 20 um at 0 in the other position, in the order A B B A."""
    heard: list[bytes] = []

    def hands(address: str) -> Iterator[str]:
        source = PortSource(address, load_profile("ascii-button").settings)
        for _ in range(15):
            yield "\n"
            heard.extend(lines(source))
        source.close()
        yield "q\n"

    arguments = ("--swing", "40um", "--high-spot", "3 o'clock", "--second", "20um@0", "--steps", "4", *EXACT)
    code, told = simulated(monkeypatch, capsys, hands, *arguments)
    assert code == 0
    a, b = [0, 20, 0, -20, 0], [10, 0, -10, 0, 10]
    assert [round(float(line.split()[1]) * 1000) for line in heard] == [*a, *b, *b]
    pressed = re.findall(r"pressed: clamping (\d+), position (.), (\d+)°", told)
    assert pressed[:5] == [("1", "A", angle) for angle in ("0", "90", "180", "270", "0")]
    assert [press[:2] for press in pressed[5::5]] == [("2", "B"), ("3", "B")]
    assert told.splitlines()[-2:] == [
        "The truth, position A: 40.0 µm TIR, once per turn 40.0 µm at 90°, repeat 0.0 µm.",
        "The truth, position B: 20.0 µm TIR, once per turn 20.0 µm at 0°, repeat 0.0 µm.",
    ]


def test_a_clamping_is_moved_by_the_repeat_and_another_seed_moves_it_otherwise(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    def first_value(*arguments: str) -> bytes:
        heard: list[bytes] = []

        def hands(address: str) -> Iterator[str]:
            source = PortSource(address, load_profile("ascii-button").settings)
            yield "\n"
            heard.extend(lines(source))
            source.close()
            yield "q\n"

        simulated(monkeypatch, capsys, hands, "--swing", "0", "--noise", "0", "--repeat", "90um", *arguments)
        return heard[0]

    assert first_value() == first_value()
    assert len({first_value(), first_value("--seed", "1"), first_value("--seed", "2")}) == 3


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> list[SimulatedIndicator]:
    """The indicators that were put on a line."""
    found: list[SimulatedIndicator] = []
    begin = Serving.__init__

    def noted(serving: Serving, indicator: SimulatedIndicator, **options: bool) -> None:
        found.append(indicator)
        begin(serving, indicator, **options)

    monkeypatch.setattr(Serving, "__init__", noted)
    return found


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        ((), Spindle(2.5, 120.0, (), 0.2, 0.0, 20.0)),
        (("--swing", "0.012mm"), Spindle(6.0, 120.0, (), 0.2, 0.0, 20.0)),
        (("--high-spot", "40"), Spindle(2.5, 40.0, (), 0.2, 0.0, 20.0)),
        (("--lobes", "3:1um"), Spindle(2.5, 120.0, ((3, 0.5, 0.0),), 0.2, 0.0, 20.0)),
        (("--noise", "1"), Spindle(2.5, 120.0, (), 1.0, 0.0, 20.0)),
        (("--drift", "-6um"), Spindle(2.5, 120.0, (), 0.2, -6.0, 20.0)),
        (("--turn", "7.5"), Spindle(2.5, 120.0, (), 0.2, 0.0, 7.5)),
    ],
)
def test_each_option_sets_the_spindle(
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
    served: list[SimulatedIndicator],
    arguments: tuple[str, ...],
    expected: Spindle,
) -> None:
    assert simulated(monkeypatch, capsys, quits, *arguments, "--repeat", "0")[0] == 0
    found = served[0].spindle
    assert found.eccentricity_um == pytest.approx(expected.eccentricity_um)
    assert found.high_spot_deg == pytest.approx(expected.high_spot_deg)
    assert (found.lobes, found.noise_um, found.drift_um_per_minute, found.seconds_per_turn) == (
        expected.lobes,
        expected.noise_um,
        expected.drift_um_per_minute,
        expected.seconds_per_turn,
    )


def test_every_fault_can_be_asked_for_at_a_reading_or_at_some(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, served: list[SimulatedIndicator]
) -> None:
    kinds = get_args(FaultKind)
    faults = [part for at, kind in enumerate(kinds) for part in ("--fault", f"{kind}:{10 * at + 1}")]
    code, told = simulated(monkeypatch, capsys, quits, *faults, "--fault", "silence: 200 - 203")
    assert code == 0, told
    said = [served[0].saying(number).fault for number in range(210)]
    assert said[: 10 * len(kinds) : 10] == list(kinds)
    assert [number for number, fault in enumerate(said[150:], start=150) if fault] == [199, 200, 201, 202]


def test_the_help_names_every_kind_of_fault(capsys: Capture) -> None:
    assert main(["simulate", "--help"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"Kinds: {', '.join(get_args(FaultKind))}." in told


def test_the_cable_is_pulled_and_put_back_by_hand(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    states: list[str] = []

    def hands(address: str) -> Iterator[str]:
        profile = load_profile("ascii-lines")
        source = PortSource(address, profile.settings, retry_seconds=0.05)
        with Indicator(profile, source) as indicator:

            def listen(state: str) -> None:
                end = time.monotonic() + 20.0
                while state not in states[-1:]:
                    assert time.monotonic() < end, states
                    step = indicator.poll(0.05)
                    states.extend([step.arrival.state] if isinstance(step.arrival, Change) else [])
                    states.extend(
                        "heard" for one in step.outcomes if isinstance(one, Reading) and states[-1] != "heard"
                    )

            listen("heard")
            yield "OUT\n"
            listen("lost")
            yield " in \n"
            listen("heard")
        yield "q\n"

    code, told = simulated(monkeypatch, capsys, hands, "ascii-lines", "--turn", "2")
    assert code == 0
    assert states == ["connected", "heard", "lost", "connected", "heard"]
    assert "  The cable is out.\n" in told
    assert "  The cable is in again.\n" in told


def test_another_word_is_answered_by_what_may_be_typed(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    def hands(address: str) -> Iterator[str]:
        del address
        yield "help\n"
        yield "q\n"

    _, told = simulated(monkeypatch, capsys, hands)
    enter = "\nNot known here: help. Enter: press the button. again: press it once more at the same angle. "
    assert f"{enter}out: pull the cable. in: put it back. q: end, and see the truth.\n" in told
    assert "pressed" not in told
    _, told = simulated(monkeypatch, capsys, hands, "ascii-lines")
    assert "\nNot known here: help. Enter: clamp it anew. out: pull the cable. in: put it back. q: end" in told


def test_in_a_stream_enter_clamps_anew_and_each_pass_of_the_mark_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, served: list[SimulatedIndicator]
) -> None:
    stood: list[Spindle] = []

    def hands(address: str) -> Iterator[str]:
        del address
        stood.append(served[0].spindle)
        yield "\n"
        stood.append(served[0].spindle)
        time.sleep(0.7)
        yield "q\n"

    _, told = simulated(monkeypatch, capsys, hands, "ascii-lines", "--turn", "0.3", "--second", "11um@200")
    assert "  clamped anew: clamping 2, position B\n" in told
    assert told.count("  the spindle's mark passes\n") in (1, 2, 3)
    assert stood[1].eccentricity_um == pytest.approx(5.5, abs=3.0)
    assert stood[0].eccentricity_um != stood[1].eccentricity_um


def nothing(address: str) -> Iterator[str]:
    del address
    return iter(())


def test_a_keyboard_that_has_ended_ends_what_needs_a_hand(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    code, told = simulated(monkeypatch, capsys, nothing)
    assert code == 0
    assert "The keyboard has ended, so nobody presses its button; --every 2 presses by itself.\nThe truth: " in told


@pytest.mark.parametrize("steered", [("--with", "P-1=6um@0", "--with", "P-2=20um@0"), ()], ids=["named", "by itself"])
def test_a_button_pressed_by_itself_waits_for_the_next_clamping_where_that_is_typed(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, steered: tuple[str, ...]
) -> None:
    """4 um on its own at 0 degrees; with pins, 6 and 20 um more, each there for the clamping it was typed for."""
    heard: list[bytes] = []

    def hands(address: str) -> Iterator[str]:
        source = PortSource(address, load_profile("ascii-button").settings)
        for pin in ("P-1", "P-2") if steered else ():
            yield f"{pin}\n"
            yield "\n"
            heard.extend(lines(source))
        if not steered:
            yield "\n"
            heard.extend(lines(source, 3))
            yield "\n"
        source.close()
        yield "q\n"

    arguments = ("--swing", "4um", "--high-spot", "0", "--steps", "1", "--every", "0.01", *steered, *EXACT)
    code, told = simulated(monkeypatch, capsys, hands, *arguments)
    assert code == 0
    assert [round(float(line.split()[1]) * 1000) for line in heard] == ([5, 12] if steered else [2, 2, 2])
    if steered:
        assert "It stops by itself when a clamping is whole." in told
        assert told.count("pressed: clamping") == 2
    else:
        assert "Enter stops it." in told
        assert "stopped; Enter lets it go on." in told


@posix
@pytest.mark.parametrize("arguments", [("ascii-lines",), ("ascii-request",), ("--every", "0.01")])
def test_without_a_keyboard_what_needs_no_hand_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, served: list[SimulatedIndicator], arguments: tuple[str, ...]
) -> None:
    interrupts: list[bool] = []

    def interrupt() -> None:
        interrupts.append(True)
        os.kill(os.getpid(), signal.SIGINT)

    def nothing_and_then_ctrl_c(address: str) -> Iterator[str]:
        threading.Timer(1.0, interrupt).start()
        return nothing(address)

    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # a program in the background is given none
    try:
        code, told = simulated(monkeypatch, capsys, nothing_and_then_ctrl_c, *arguments)
    finally:
        signal.signal(signal.SIGINT, before)
    assert (code, interrupts, len(served)) == (0, [True], 1), "it goes on until somebody ends it"
    assert ("pressed: clamping 1, 0°" in told) is (arguments[0] == "--every")
    assert "The truth: " in told


def test_a_device_with_parity_is_served_over_a_network_port(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    _, told = simulated(monkeypatch, capsys, quits, "modbus-rtu-registers")
    assert "A simulated indicator speaks at socket://127.0.0.1:" in told


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("nobody",), 7, 'There is no profile "nobody".'),
        (("--swing", "-5um"), 2, "--swing '-5um' is below zero. Write it without a sign, as --swing 2um."),
        (("--swing", "much"), 4, '"much" is not a length.'),
        (("--swing", "9000mm"), 7, "cannot be said in the profile ascii-button"),
        (("--high-spot", "nan"), 4, '"nan" is not an angle.'),
        (("--high-spot", "500"), 4, '"500" is not within a turn.'),
        (("--repeat", "-1"), 2, "--repeat '-1' is below zero."),
        (("--noise", "-1um"), 2, "--noise '-1um' is below zero."),
        (("--drift", "nan"), 4, '"nan" is not a length.'),
        (("--turn", "0"), 2, "'--turn': Type seconds above 0, as 20."),
        (("--turn", "nan"), 2, "'--turn'"),
        (("--every", "-1"), 2, "'--every'"),
        (("--second", "11um@x"), 4, '"x" is not an angle.'),
        (("--second", "-11um"), 4, "a swing cannot be negative"),
        (("--second", "@200"), 4, "no length here"),
        (("--lobes", "0:1um"), 2, "--lobes '0:1um' does not say how many, two or more, and how large."),
        (("--lobes", "1:1um"), 2, "--lobes '1:1um' does not say how many"),
        (("--lobes", "3"), 2, "--lobes '3' does not say how many"),
        (("--lobes", "3:-1um"), 2, "--lobes '-1um' is below zero."),
        (("--steps", "0"), 2, "'--steps'"),
        (("--steps", "1000"), 2, "'--steps'"),
        (("--seed", "x"), 2, "'--seed'"),
        (("--fault", "foo:1"), 2, '--fault \'foo:1\' is none. Write "hold:7" or "hold:7-9"; there are: cut, noise'),
        (("--fault", "hold"), 2, "--fault 'hold' is none."),
        (("--fault", "hold:0"), 2, "--fault 'hold:0' is none."),
        (("--fault", "hold:x"), 2, "--fault 'hold:x' is none."),
        (("--fault", "hold:5-2"), 2, "--fault 'hold:5-2' is none."),
        (("--fault", "hold:2-"), 2, "--fault 'hold:2-' is none."),
        (("ascii-request", "--fault", "disconnect:2"), 7, "hears no request"),
        (("keyboard-wedge", "--fault", "unit:2"), 7, "has one unit only"),
        (("keyboard-wedge", "--fault", "hold:2"), 7, 'has no word for "hold"'),
    ],
)
def test_what_cannot_be_simulated_is_one_clear_line_before_anything_speaks(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture, arguments: tuple[str, ...], code: int, words: str
) -> None:
    monkeypatch.setattr("sys.stdin", iter(()))
    assert main(["simulate", *arguments]) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("qclog: ")
    assert err.count("\n") == 1
    assert words in err


def _as_at_a_terminal() -> None:
    """What is started from a program in the background ignores Ctrl-C, under nohup also that the terminal is gone."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


@posix
@pytest.mark.parametrize(("name", "code"), [("SIGTERM", 143), ("SIGHUP", 129), ("SIGINT", 0)])
def test_whoever_ends_it_from_outside_leaves_no_line_behind(tmp_path: Path, name: str, code: int) -> None:
    run = "from qclog.cli.main import run; run()"
    running = subprocess.Popen(
        [sys.executable, "-c", run, "simulate", "ascii-lines"],
        stdin=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "TMPDIR": str(tmp_path)},
        preexec_fn=_as_at_a_terminal,
    )
    assert running.stderr is not None
    told = ""
    while "see the truth" not in told:
        told += running.stderr.readline()
    assert len(list(tmp_path.iterdir())) == 1
    running.send_signal(getattr(signal, name))
    _, rest = running.communicate(timeout=30)
    assert running.returncode == code
    assert list(tmp_path.iterdir()) == []
    assert ("The truth: " in rest) is (name == "SIGINT")
    assert "Traceback" not in rest
    assert "defect" not in rest


@posix
def test_a_signal_that_is_ignored_stays_so_and_the_handlers_are_given_back() -> None:
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with simulating._ended_from_outside():
            assert signal.getsignal(signal.SIGHUP) is signal.SIG_IGN
            assert signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL
        assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL
    finally:
        signal.signal(signal.SIGHUP, before)


def test_a_pin_or_a_person_typed_is_clamped_so_and_stays_until_the_next_is_typed(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """40 um at 0 degrees, 20 um in the other position; P-2 adds 10 um, MO takes 4 um away. Half of it is read at 0."""
    heard: list[bytes] = []

    def hands(address: str) -> Iterator[str]:
        source = PortSource(address, load_profile("ascii-button").settings)
        for so in ("A P-1", "MO, pin P-2, key at B", "P-2", "P-9"):
            yield f"{so}\n"
            for _ in range(6):
                yield "\n"
                heard.extend(lines(source))
        source.close()
        yield "q\n"

    code, told = simulated(
        monkeypatch, capsys, hands, *EXACT, "--swing", "40um", "--high-spot", "0", "--second", "20um@0", "--steps", "1",
        "--with", "P-1=0um@0", "--with", "P-2=10um@0", "--with", "MO=4um@180",
    )  # fmt: skip
    assert code == 0
    read = [int(re.sub(rb"[^0-9]", b"", line)) for line in heard]
    assert read == [*6 * [20], *6 * [13], *12 * [15]]
    assert "clamped anew: clamping 3, position B, MO, P-2" in told
    assert "Before each clamping type what goes in, and who clamps" in told
    assert "Not known here: P-9. Enter: press the button." in told
    assert "The truth of MO: adds 4.0 µm TIR at 180°." in told


def test_what_changes_is_typed_once_each(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    code, told = simulated(monkeypatch, capsys, quits, "--with", "P-1=2um@0", "--with", "p-1=3um@0")
    assert code == 2
    assert "--with 'p-1=3um@0' does not say whose run-out" in told
