"""Listening to an indicator: ports, bytes, frames and meaning, recordings, a profile proposed, what is typed wrong."""

import contextlib
import itertools
import json
import os
import re
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from instruments.ports import Port
from instruments.profile import LineSettings
from instruments.profile_files import load_profile, read_profile, shipped_profiles
from instruments.recordings import read_recording, write_recording
from instruments.records import Arrival, Bytes, Change, Sent
from instruments.serial_line import SerialLine, open_line
from instruments.serving import Serving
from instruments.simulated import Fault, SimulatedIndicator, Spindle
from qclog.cli.main import main

Capture = pytest.CaptureFixture[str]
Served = Callable[..., Serving]
SPINDLE = Spindle(eccentricity_um=30.0, noise_um=0.0, seconds_per_turn=1.0, unevenness=0.0)


@pytest.fixture
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """A simulated indicator on a line, from the moment its port is opened to the end of the test; its button is
    ``pressed`` every so many seconds."""
    stop, begun = threading.Event(), threading.Event()
    with contextlib.ExitStack() as stack:

        def serve(name: str, *faults: Fault, pressed: float = 0.0) -> Serving:
            indicator = SimulatedIndicator(load_profile(name), SPINDLE, faults=faults, per_second=100.0)
            serving = stack.enter_context(Serving(indicator, at_once=False))

            def opened(address: str, settings: LineSettings) -> SerialLine:
                line = open_line(address, settings)
                if not begun.is_set():
                    begun.set()
                    serving.begin()
                return line

            monkeypatch.setattr("instruments.port.open_line", opened)

            def press() -> None:
                begun.wait()
                while not stop.wait(pressed):
                    serving.press()

            if pressed:
                threading.Thread(target=press, daemon=True).start()
            return serving

        yield serve
        stop.set()
        begun.set()


def listened(capsys: Capture, *arguments: str) -> tuple[int, str, str]:
    code = main(["listen", *arguments])
    return code, *capsys.readouterr()


def test_the_ports_are_listed_with_what_they_are_and_how_to_go_on(
    monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    here = [
        Port("/dev/ttyUSB0", "adapter for gauges", 0x1234, 0x5678, "A1B2"),
        Port("/dev/ttyS0", "n/a"),
    ]
    monkeypatch.setattr("instruments.ports.list_ports", lambda: here)
    code, out, err = listened(capsys)
    assert (code, err) == (0, "")
    assert out.splitlines() == [
        "/dev/ttyUSB0: adapter for gauges; wherever it is plugged in: usb:1234:5678:A1B2",
        "/dev/ttyS0: not described",
        "Hear what it says: qclog listen usb:1234:5678:A1B2",
    ]
    here.clear()
    assert listened(capsys)[1] == "No port here. Plug the indicator or its adapter in and look again.\n"


def test_bytes_frames_and_meaning_of_a_stream_are_shown_and_counted(served: Served, capsys: Capture) -> None:
    address = served("ascii-lines").address
    code, out, err = listened(capsys, address, "--profile", "ascii-lines", "--seconds", "0.8")
    assert code == 0
    assert out.startswith(f"-- connected: {address}\n")
    assert "\n< +0.0" in out
    shown = [line.split() for line in out.splitlines() if " = " in line]
    assert len(shown) > 10
    assert all(float(line[0]) == float(line[3]) and line[1] == line[4] == "mm" for line in shown)
    assert f"{len(shown)} readings, in mm, " in err
    assert re.search(r" in mm, \d+ a second\.\n", err)


def test_where_the_spindle_stands_is_shown_beside_the_reading(served: Served, capsys: Capture) -> None:
    address = served("ascii-encoder").address
    _, out, _ = listened(capsys, address, "--profile", "ascii-encoder", "--seconds", "0.8")
    line = next(line for line in out.splitlines() if " mm at " in line)
    count, degrees = int(line.split(",")[1].split()[0]), float(line.split(" at ")[1].removesuffix("°"))
    assert degrees == pytest.approx(count * 360 / 4096, abs=0.0006)


def recorded(path: Path, name: str, *faults: Fault, count: int = 20) -> str:
    """A recording of the first readings of a simulated indicator, two a second."""
    said = SimulatedIndicator(load_profile(name), SPINDLE, faults=faults, per_second=2.0)
    write_recording(path, (Bytes(saying.data, saying.seconds) for saying in itertools.islice(said.stream(), count)))
    return str(path)


def test_a_refused_line_is_shown_with_its_text_the_reason_and_what_to_do(tmp_path: Path, capsys: Capture) -> None:
    faults = (Fault("hold", 1), Fault("noise", 2), Fault("hold", 3))
    path = recorded(tmp_path / "refused.jsonl", "ascii-button", *faults)
    _, out, err = listened(capsys, path, "--profile", "ascii-button")
    told = [line for line in out.splitlines() if "NOT taken" in line]
    assert len(told) == 3
    assert told[0].split("NOT taken: ")[1] == "the indicator is on hold (H). Release it."
    assert told[0].startswith("  H ")
    assert "it is no text. Check baud, bytesize and parity" in told[1]
    assert told[2].endswith("the indicator is on hold (H)."), "what to do is said once"
    assert "2 not taken: the indicator is on hold. Release it.\n" in err
    assert "1 not taken: it is no text." in err


def test_an_indicator_that_waits_to_be_asked_is_asked_one_question_at_a_time(served: Served, capsys: Capture) -> None:
    address = served("ascii-request").address
    _, out, err = listened(capsys, address, "--profile", "ascii-request", "--seconds", "1.3")
    signs = "".join(line[0] for line in out.splitlines() if line[0] in "<>")
    assert signs.startswith("><><")
    assert signs.count(">") < 10, "asked when it is quiet, not all the time"
    assert "NOT taken" not in out
    assert f"{signs.count('<')} readings, in mm" in err


def test_silence_is_told_with_what_to_look_at(served: Served, capsys: Capture) -> None:
    address = served("ascii-button").address
    assert listened(capsys, address, "--profile", "ascii-button", "--seconds", "0.3") == (
        0,
        f"-- connected: {address}\n",
        "Nothing came. Is it on, the cable in, and does it wait for its data button?\n",
    )
    _, out, err = listened(capsys, address, "--seconds", "0.3")
    assert out == ""
    assert "Nothing came. Is it on, and does it wait for its button or to be asked (--request)?\n" in err


def test_a_switched_unit_and_a_low_battery_are_told_at_the_end(tmp_path: Path, capsys: Capture) -> None:
    path = recorded(tmp_path / "switched.jsonl", "ascii-button", Fault("unit", 1), Fault("low battery", 2))
    _, out, err = listened(capsys, path, "--profile", "ascii-button")
    assert " in\n" in out
    assert " mm, low battery\n" in out
    assert err.startswith("20 readings, in mm and in, 2.0 a second.\n")
    assert "Somebody switched its unit: a reading is taken in the unit that came with it.\n" in err
    assert "Its battery is low. Change it.\n" in err


def test_a_stream_that_never_changes_is_told(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "kept.jsonl"
    write_recording(path, (Bytes(b"+0.0123 mm\r\n", float(second)) for second in range(30)))
    _, _, err = listened(capsys, str(path), "--profile", "ascii-lines")
    assert "The last readings are all the same: on hold, or not touching?\n" in err


@pytest.mark.parametrize(
    ("name", "seconds", "faults"),
    [
        ("ascii-lines", 1.8, (Fault("noise", 20), Fault("cut", 25), Fault("disconnect", 30, 20), Fault("hold", 160))),
        ("ascii-encoder", 0.6, (Fault("cut", 20), Fault("burst", 25, 5))),
        ("ascii-request", 2.2, (Fault("cut", 1), Fault("double", 2))),
        ("bcd-13-digits-bytes", 1.4, (Fault("cut", 1), Fault("double", 2))),
    ],
)
def test_a_recording_replays_byte_for_byte_to_the_same_outcomes(
    served: Served, capsys: Capture, tmp_path: Path, name: str, seconds: float, faults: tuple[Fault, ...]
) -> None:
    address = served(name, *faults, pressed=0.32 if load_profile(name).mode == "button" else 0.0).address
    first, second = tmp_path / "first.jsonl", tmp_path / "second.jsonl"
    live = listened(capsys, address, "--profile", name, "--seconds", str(seconds), "--record", str(first))
    again = listened(capsys, str(first), "--profile", name, "--record", str(second))
    assert first.read_bytes() == second.read_bytes()
    arrived, meant = ([line for line in live[1].splitlines() if line.startswith(" ") is told] for told in (False, True))
    again_arrived, again_meant = (
        [line for line in again[1].splitlines() if line.startswith(" ") is told] for told in (False, True)
    )
    assert again_arrived == [*arrived, "-- listening ended"]
    assert again_meant == meant
    assert again[2] == live[2]
    assert "= " in live[1]
    assert "NOT taken" in live[1]
    if name == "ascii-lines":
        lost = live[1].index("-- lost; when the cable is in again it goes on by itself\n")
        assert " = " in live[1][live[1].index("-- connected: ", lost) :]


HEARD_WITHOUT_PROFILE = [name for name in shipped_profiles() if name not in ("modbus-rtu-registers", "keyboard-wedge")]


@pytest.mark.parametrize("name", HEARD_WITHOUT_PROFILE)
def test_a_profile_is_proposed_from_a_line_and_hears_it_at_once(
    served: Served, capsys: Capture, tmp_path: Path, name: str
) -> None:
    profile = load_profile(name)
    address = served(name, pressed=0.1 if profile.mode == "button" else 0.0).address
    options = (
        ["--request", profile.request.decode().replace("\r", "\\r").replace("\n", "\\n")] if profile.request else []
    )
    options += ["--unit", profile.unit] if profile.unit else []
    code, toml, err = listened(capsys, address, "--seconds", "1.2" if profile.request else "0.7", *options)
    assert code == 0
    assert "A profile for it follows" in err
    proposed = read_profile(toml, "mine.toml")
    assert proposed.mode == (profile.mode if profile.mode == "request" else "stream")
    mine = tmp_path / "mine.toml"
    mine.write_text(toml, encoding="utf-8")
    code, out, err = listened(capsys, address, "--profile", str(mine), "--seconds", "1" if profile.request else "0.5")
    assert code == 0
    assert out.count(" = ") >= 2
    assert " not taken" not in err.replace("not taken: only a part of a line came", "")


def test_a_unit_that_is_not_sent_is_asked_for_and_then_written(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "typed.jsonl"
    write_recording(path, (Bytes(f"{at - 5:+d}.123\n".encode(), at + at % 3 * 0.2) for at in range(12)))
    _, toml, err = listened(capsys, str(path))
    assert '# unit = "mm"  # not sent: write the unit of the display' in toml
    assert "No unit is sent: say it with --unit mm or --unit in. (+6.123)\n" in err
    assert 'It speaks now and then: mode = "button".' in err
    _, toml, _ = listened(capsys, str(path), "--unit", "in")
    assert (read_profile(toml, "x.toml").unit, read_profile(toml, "x.toml").mode) == ("in", "button")


def test_the_request_of_a_recording_is_that_of_the_proposed_profile(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "asked.jsonl"
    arrivals: list[Arrival] = []
    for at in range(9):
        arrivals += [Sent(b"?\r", at * 1.0), Bytes(f"{at - 5:+.3f} mm\r\n".encode(), at + 0.1)]
    write_recording(path, arrivals)
    _, toml, err = listened(capsys, str(path))
    assert read_profile(toml, "x.toml").request == b"?\r"
    assert 'It speaks when it is asked: mode = "request".' in err


def test_what_was_begun_as_listening_ends_is_told_and_the_end_of_a_line_alone_is_not(
    tmp_path: Path, capsys: Capture
) -> None:
    path = tmp_path / "cut.jsonl"
    arrivals: list[Arrival] = [
        Bytes(b"+0.0123 mm\r\n", 1.0),
        Change("lost", 1.1, "unplugged"),
        Change("connected", 5.0, "port"),
        Bytes(b"\n+0.0124 mm\r\n+0.01", 5.1),
    ]
    write_recording(path, arrivals)
    _, out, err = listened(capsys, str(path), "--profile", "ascii-lines")
    meant = [line for line in out.splitlines() if line.startswith("  ")]
    assert [line.split()[0] for line in meant[:3]] == ["+0.0123", "+0.0124", "+0.01"]
    assert "+0.01                NOT taken: only a part of a line came." in meant[2]
    assert "the end of a line" not in out
    assert err.startswith("2 readings, in mm.\n1 not taken: only a part of a line came.")


def test_a_recording_of_registers_is_no_text(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "registers.jsonl"
    reply = bytes.fromhex("010304fffffff3fba2")
    write_recording(path, [one for at in range(9) for one in (Sent(reply[:8], at * 1.0), Bytes(reply, at + 0.1))])
    code, out, err = listened(capsys, str(path))
    assert (code, out) == (0, "")
    assert "No text: a wrong speed, or frames of another kind. Try another --baud." in err


def test_a_recording_tells_where_listening_ended(served: Served, capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "ended.jsonl"
    listened(
        capsys, served("ascii-button").address, "--profile", "ascii-button", "--seconds", "0.2", "--record", str(path)
    )
    *_, last = read_recording(path)
    assert isinstance(last, Change)
    assert (last.state, last.what) == ("lost", "listening ended")
    assert json.loads(path.read_text("ascii").splitlines()[0])["connected"]


def test_what_is_typed_is_heard_to_its_end(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    reading, writing = os.pipe()
    with os.fdopen(reading, encoding="utf-8") as keys:

        def type_slowly() -> None:
            for line in (b"-0,012\n", b"hello\n", b"0.5\n"):
                time.sleep(0.4)
                os.write(writing, line)
            os.close(writing)

        threading.Thread(target=type_slowly).start()
        monkeypatch.setattr("sys.stdin", keys)
        began = time.monotonic()
        code, out, err = listened(capsys, "--profile", "keyboard-wedge", "--seconds", "60")
    assert code == 0
    assert time.monotonic() - began < 30.0, "the end of the keyboard is the end of listening"
    assert "-0,012               = -0.012 mm\n" in out
    assert "hello                NOT taken: it is not of the form its profile gives." in out
    assert "1 not taken" in err


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["/dev/none-such"], 7, "There is no port /dev/none-such. Plug the indicator in, and list the ports."),
        (["COMX", "--profile", "ascii-lines"], 7, "There is no port COMX."),
        (["usb:12"], 7, '"usb:12" is no USB address. Write usb: with vendor and product'),
        (["nonsense://x"], 7, "nonsense://x cannot be opened"),
        (["loop://", "--profile", "nobody"], 7, 'There is no profile "nobody". Name a file that ends in .toml'),
        (["loop://", "--profile", "none.toml"], 7, "none.toml cannot be read: No such file or directory."),
        (["--profile", "ascii-lines"], 7, "The profile ascii-lines names no port."),
        (["none.jsonl"], 7, "none.jsonl cannot be read: No such file or directory. Check the path."),
        (["none.jsonl", "--profile", "ascii-lines"], 7, "none.jsonl cannot be read"),
        (["x.jsonl", "--profile", "modbus-rtu-registers"], 7, "cannot be replayed with registers"),
        (["loop://", "--seconds", "-1"], 2, "'--seconds': Type seconds above 0, as 20."),
        (["loop://", "--seconds", "nan"], 2, "'--seconds': Type seconds above 0, as 20."),
        (["loop://", "--seconds", "0"], 2, "'--seconds': Type seconds above 0, as 20."),
        (["loop://", "--seconds", "soon"], 2, "'--seconds'"),
        (["loop://", "--baud", "0"], 2, "'--baud'"),
        (["loop://", "--request", "R\\x"], 2, r"--request 'R\\x' cannot be sent. Write ASCII, its end as \r or \n"),
        (["loop://", "--request", "é"], 2, "cannot be sent"),
        (["loop://", "--unit", "cubit"], 2, "--unit 'cubit' is none. Take one of um, mm, in"),
        (["loop://", "--profile", "ascii-lines", "--unit", "mm"], 2, "--unit is not used with --profile."),
        (["loop://", "--profile", "ascii-lines", "--baud", "50"], 2, "--baud is not used with --profile."),
        (["loop://", "--record", "no-folder/x.jsonl"], 4, "cannot be written: No such file or directory. Name a new"),
        (["loop://", "--record", "there.jsonl"], 4, "there.jsonl cannot be written: File exists. Name a new file"),
    ],
)
def test_what_cannot_be_listened_to_is_one_clear_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Capture, arguments: list[str], code: int, words: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there.jsonl").write_text("mine\n", encoding="ascii")
    found, out, err = listened(capsys, *arguments)
    assert (found, out) == (code, "")
    assert err.startswith("qclog: ")
    assert err.count("\n") == 1
    assert words in err
    assert Path("there.jsonl").read_text("ascii") == "mine\n"


@pytest.mark.parametrize("options", [[], ["--profile", "ascii-lines"]])
def test_a_port_that_is_not_there_leaves_no_empty_recording(
    tmp_path: Path, capsys: Capture, options: list[str]
) -> None:
    path = tmp_path / "new.jsonl"
    assert listened(capsys, "/dev/none-such", "--record", str(path), *options)[0] == 7
    assert not path.exists()


def test_a_wrong_key_of_a_profile_is_named_with_its_file(tmp_path: Path, capsys: Capture) -> None:
    mine = tmp_path / "mine.toml"
    mine.write_text("about = 'x'\npatern = '(?P<number>[0-9]+)'\nexample = '1'\nunit = 'um'\n", encoding="utf-8")
    code, _, err = listened(capsys, "loop://", "--profile", str(mine))
    assert code == 7
    assert (
        err
        == f'qclog: {mine}: the key "pattern" is missing. Write a regular expression with a group (?P<number>...).\n'
    )


def test_a_damaged_recording_is_told_with_its_line(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "damaged.jsonl"
    path.write_text('{"at": 1.0, "bytes": "+0.1 mm\\r\\n"}\n{"at": 2.0}\n', encoding="ascii")
    for options in ([], ["--profile", "ascii-lines"]):
        code, _, err = listened(capsys, str(path), *options)
        assert code == 7
        assert "damaged.jsonl, line 2: this is no arrival. Take the recording as it was written.\n" in err


def test_ctrl_c_ends_listening_with_its_count(monkeypatch: pytest.MonkeyPatch, served: Served, capsys: Capture) -> None:
    from instruments.indicator import Indicator

    address = served("ascii-lines").address
    polled, times = Indicator.poll, [0]

    def interrupted(indicator: Indicator, timeout: float) -> object:
        times[0] += 1
        if times[0] > 20:
            raise KeyboardInterrupt
        return polled(indicator, timeout)

    monkeypatch.setattr(Indicator, "poll", interrupted)
    code, _, err = listened(capsys, address, "--profile", "ascii-lines", "--seconds", "60")
    assert code == 0
    assert "readings, in mm" in err


def test_a_profile_of_seven_bits_and_parity_is_heard_over_a_line(capsys: Capture, tmp_path: Path) -> None:
    text = "about = 'x'\nbytesize = 7\nparity = 'even'\nunit = 'mm'\n"
    text += "pattern = '(?P<number>[+-][0-9.]+)'\nexample = '+0.01'\n"
    mine = tmp_path / "mine.toml"
    mine.write_text(text, encoding="utf-8")
    profile = replace(read_profile(text, "mine.toml"), name="mine")
    with Serving(SimulatedIndicator(profile, SPINDLE, per_second=50)) as serving:
        _, out, _ = listened(capsys, serving.address, "--profile", str(mine), "--seconds", "0.6")
    assert out.count(" = ") > 3
