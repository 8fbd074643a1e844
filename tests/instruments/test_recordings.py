"""Recordings are what came, byte for byte, and replay to the same outcomes."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.errors import PortRefusedError, RecordingError
from instruments.indicator import Indicator
from instruments.profile_files import load_profile
from instruments.recordings import Recorder, Replay, read_recording, recorded, write_recording
from instruments.records import Arrival, Bytes, Change, Outcome, Sent, Typed

TIMES = st.floats(0, 1e6)
ARRIVALS: st.SearchStrategy[Arrival] = st.one_of(
    st.builds(Bytes, st.binary(), TIMES),
    st.builds(Sent, st.binary(), TIMES),
    st.builds(Change, st.sampled_from(["connected", "lost"]), TIMES, st.text()),
    st.builds(Typed, st.text(), TIMES),
)


@given(arrivals=st.lists(ARRIVALS))
def test_a_recording_gives_back_what_was_written_byte_for_byte(
    tmp_path_factory: pytest.TempPathFactory, arrivals: list[Arrival]
) -> None:
    path = tmp_path_factory.mktemp("recording") / "session.jsonl"
    write_recording(path, arrivals)
    assert list(read_recording(path)) == arrivals
    again = path.with_name("again.jsonl")
    write_recording(again, read_recording(path))
    assert again.read_bytes() == path.read_bytes()


def test_a_line_of_a_recording_can_be_read_by_eye() -> None:
    assert recorded(Bytes(b"+0.012 mm\r\n", 0.5)) == '{"at": 0.5, "bytes": "+0.012 mm\\r\\n"}'
    assert recorded(Change("lost", 1.0, "unplugged")) == '{"at": 1.0, "lost": "unplugged"}'


@pytest.mark.parametrize(
    "line",
    [
        "",
        "x",
        "[]",
        '{"at": 1}',
        '{"bytes": "x"}',
        '{"at": 1, "bytes": 5}',
        '{"at": 1, "bytes": "\\u0100"}',
        '{"at": 1, "said": "x"}',
        '{"at": 1, "bytes": "x", "sent": "y"}',
        '{"at": "soon", "bytes": "x"}',
        '{"at": 1, "lost": 3}',
        '{"at": 1, "typed": "\\ud800"}',
        '{"at": NaN, "typed": "4"}',
        '{"at": ' + "[" * 90_000,
    ],
)
def test_a_damaged_line_is_told_with_its_number(tmp_path: Path, line: str) -> None:
    path = tmp_path / "session.jsonl"
    path.write_text(recorded(Bytes(b"x", 0.0)) + "\n" + line + "\n", encoding="utf-8")
    with pytest.raises(RecordingError, match="line 2: this is no arrival"):
        list(read_recording(path))


def test_a_file_that_is_not_there_or_no_text_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be read: No such file"):
        list(read_recording(tmp_path / "none"))
    path = tmp_path / "picture"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RecordingError, match="is no recording"):
        list(read_recording(path))


def outcomes(arrivals: list[Arrival], name: str) -> list[Outcome]:
    indicator = Indicator(load_profile(name), Replay(arrivals))
    found: list[Outcome] = []
    while not indicator.ended:
        found += indicator.poll(0.0).outcomes
    return [*found, *indicator.close()]


def test_a_recorded_session_replays_to_the_same_outcomes(tmp_path: Path) -> None:
    arrivals: list[Arrival] = [
        Change("connected", 0.0, "port"),
        Bytes(b"23 mm\r\n+0.0", 0.1),
        Bytes(b"124 mm\r\n", 0.2),
        Change("lost", 0.3, "unplugged"),
        Change("connected", 5.0, "port"),
        Bytes(b"+0.0130 mm\r\n+0.01", 6.0),
    ]
    path = tmp_path / "session.jsonl"
    write_recording(path, arrivals)
    replayed = outcomes(list(read_recording(path)), "ascii-lines")
    assert replayed == outcomes(arrivals, "ascii-lines")
    assert [outcome.raw for outcome in replayed] == [
        b"23 mm\r",
        b"\n+0.0124 mm\r",
        b"\n",
        b"+0.0130 mm\r",
        b"\n+0.01",
    ]


def test_a_file_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "session.jsonl"
    path.write_text("kept", encoding="utf-8")
    with pytest.raises(RecordingError, match="cannot be written: File exists"):
        Recorder(path)
    assert path.read_text(encoding="utf-8") == "kept"


def test_nothing_can_be_sent_to_a_recording() -> None:
    with pytest.raises(PortRefusedError, match="cannot be sent to a recording"):
        Replay([]).write(b"?\r")
