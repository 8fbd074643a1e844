"""A profile proposed from bytes reads them; what they do not tell is asked."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.indicator import Indicator
from instruments.profile import Profile
from instruments.profile_files import load_profile, read_profile, shipped_profiles
from instruments.proposing import Proposal, Puzzle, mode_of, propose
from instruments.recordings import Replay
from instruments.records import Arrival, Bytes, Reading, Sent
from instruments.simulated import SimulatedIndicator, Spindle

TEXT = [name for name in shipped_profiles() if name != "modbus-rtu-registers"]


def spoken(name: str, count: int = 60) -> tuple[Profile, list[bytes]]:
    profile = load_profile(name)
    indicator = SimulatedIndicator(profile, Spindle(eccentricity_um=15.0, seconds_per_turn=3.0))
    return profile, [indicator.saying(number).data for number in range(count)]


def read_with(profile: Profile, frames: list[bytes]) -> list[Reading]:
    arrivals: list[Arrival] = []
    for at, data in enumerate(frames):
        arrivals += [Sent(profile.request, at * 1.0)] if profile.mode == "request" else []
        arrivals.append(Bytes(data, at * 1.0 + 0.1))
    indicator = Indicator(profile, Replay(arrivals))
    outcomes = [one for _ in range(len(arrivals) + 1) for one in indicator.poll(0.0).outcomes]
    return [one for one in outcomes if isinstance(one, Reading)]


@pytest.mark.parametrize("name", TEXT)
def test_what_a_shipped_profile_says_is_proposed_so_that_it_reads_the_same_values(name: str) -> None:
    profile, frames = spoken(name)
    heard = b"".join(frames)[3:]  # listening begins in the middle of a line
    unit = None if profile.units else profile.unit
    proposal = propose(heard, mode=profile.mode, request=profile.request.decode(), unit=unit)
    assert proposal.profile is not None, proposal
    assert proposal.understood == proposal.lines == 59
    assert proposal.puzzles == ((Puzzle.OTHER_NUMBER,) if name == "ascii-encoder" else ())
    expected, proposed = read_with(profile, frames), read_with(proposal.profile, frames)
    assert [(one.value, one.unit) for one in proposed] == [(one.value, one.unit) for one in expected]
    assert read_profile(proposal.toml, "proposed.toml") == proposal.profile


@pytest.mark.parametrize("name", ["keyboard-wedge", "scpi-query"])
def test_a_unit_that_is_not_sent_is_asked_and_never_guessed(name: str) -> None:
    profile, frames = spoken(name)
    proposal = propose(b"".join(frames), mode=profile.mode, request=profile.request.decode())
    assert proposal.puzzles == (Puzzle.UNIT_NOT_SENT,)
    assert proposal.profile is None
    assert '# unit = "mm"  # not sent' in proposal.toml
    assert proposal.understood == proposal.lines


def lines(*texts: str, end: str = "\r\n") -> bytes:
    return ("rest" + end + end.join(texts) + end).encode()


@pytest.mark.parametrize(
    ("data", "pattern", "value"),
    [
        (lines("+0.012 mm", "-0.003 mm", "+0.100 mm"), r"(?P<number>[+-][0-9]+\.[0-9]{3})\s*(?P<unit>mm)", "0.100"),
        (lines("X+00.12mm", "X-11.34mm", "X+00.00mm"), r"X(?P<number>[+-][0-9]{2}\.[0-9]{2})(?P<unit>mm)", "0.00"),
        (lines("- 0,5 mm", "  0,7 mm", "- 1,1 mm"), r"(?P<number>[+-]?\s*[0-9]+,[0-9]{1})\s*(?P<unit>mm)", "-1.1"),
        (lines('-.0005"', '.0010"', '.0000"'), r'(?P<number>[+-]?[0-9]*\.[0-9]{4})(?P<unit>")', "0.0000"),
        (
            lines("7 +1.5um 12", "8 -2.5um 12", "9 +0.5um 12"),
            r"[+-]?[0-9]+\s*(?P<number>[+-][0-9]+\.[0-9]{1})(?P<unit>um)\s*12",
            "0.5",
        ),
        (
            lines("+0.5 mm,0017", "-0.7 mm,0512", "+1.1 mm,4095"),
            r"(?P<number>[+-][0-9]+\.[0-9]{1})\s*(?P<unit>mm),[+-]?[0-9]{4}",
            "1.1",
        ),
        (lines("01 +1.5um", "01 -2.5um", "01 +0.5um"), r"01\s*(?P<number>[+-][0-9]+\.[0-9]{1})(?P<unit>um)", "0.5"),
    ],
)
def test_the_form_of_lines_is_found_with_its_decimals_width_and_sign(data: bytes, pattern: str, value: str) -> None:
    proposal = propose(data)
    assert proposal.profile is not None
    assert f"pattern = '{pattern}'" in proposal.toml
    readings = read_with(proposal.profile, [data])
    assert readings[-1].value == Decimal(value)
    assert str(readings[-1].value) == value


@pytest.mark.parametrize(
    ("times", "mode"),
    [
        ([], "stream"),
        ([0.0, 5.0], "stream"),
        ([0.0, 1.0, 2.6, 3.4, 5.2], "button"),
        ([0.0, 0.01, 1.0, 1.02, 2.5, 2.51], "button"),
        ([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "stream"),
        ([0.0, 1.05, 1.95, 3.0, 4.1, 5.0], "stream"),
        ([0.0, 0.25, 1.5, 2.0, 3.5], "stream"),
        ([0.0, 0.01, 0.05, 0.09, 0.1, 0.15], "stream"),
    ],
)
def test_a_hand_on_a_button_is_told_from_a_stream_by_its_uneven_pace(times: list[float], mode: str) -> None:
    assert mode_of(times) == mode


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n"])
def test_the_terminator_is_found(end: str) -> None:
    proposal = propose(lines("+0.012 mm", "-0.003 mm", "+0.100 mm", end=end))
    assert proposal.profile is not None
    assert proposal.profile.terminator == {"\r": "CR", "\n": "LF", "\r\n": "CRLF"}[end]


def puzzles(proposal: Proposal) -> tuple[Puzzle, ...]:
    return proposal.puzzles


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", (Puzzle.NOTHING_CAME,)),
        (b"+0.012 mm+0.013 mm+0.014 mm", (Puzzle.NO_LINES,)),
        (b"\r\n+0.012 mm\r\n", (Puzzle.FEW_LINES,)),
        (bytes(range(0x80, 0xC0)) * 3, (Puzzle.NOT_TEXT,)),
        (bytes([0, 1, 2, 3]) * 20, (Puzzle.NOT_TEXT,)),
        (lines("one", "two", "three", "four"), (Puzzle.NO_NUMBER,)),
        (lines("1 +0.1", "2 +0.2", "3 -0.3"), (Puzzle.SEVERAL_NUMBERS,)),
        (lines("+0.1 mm +0.3 mm", "-0.2 mm +0.2 mm"), (Puzzle.FEW_LINES,)),
        (lines("+0.1 mm +0.3 mm", "-0.2 mm +0.2 mm", "+0.3 mm -0.3 mm"), (Puzzle.SEVERAL_NUMBERS,)),
        (lines("1 +0.1 mm", "2 +0.2 mm", "3 -0.3 mm"), (Puzzle.OTHER_NUMBER,)),
        (lines("+0.1 V", "-0.2 V", "+0.3 V"), (Puzzle.UNIT_UNKNOWN,)),
        (lines("+0.1 mm", "+0.2 mm", "+0.3 mm"), (Puzzle.SIGN_NOT_SEEN,)),
        (lines("+0.1 mm", "-0.25 mm", "+0.3 mm"), (Puzzle.DECIMALS_DIFFER,)),
        (lines("+0.1 mm", "-0.2 mm", "ERR", "+0.3 mm", "+0.4 mm"), (Puzzle.OTHER_LINES,)),
    ],
)
def test_what_is_not_understood_is_named(data: bytes, expected: tuple[Puzzle, ...]) -> None:
    proposal = propose(data)
    assert puzzles(proposal) == expected
    assert set(proposal.detail) <= set(expected)


@pytest.mark.parametrize(("parity", "extra"), [("even", 0), ("odd", 1)])
def test_a_parity_bit_that_shows_as_the_highest_bit_is_recognised(parity: str, extra: int) -> None:
    data = lines("+0.012 mm", "-0.003 mm", "+0.100 mm")
    shown = bytes(byte | ((byte.bit_count() + extra) % 2) << 7 for byte in data)
    proposal = propose(shown)
    assert proposal.puzzles == (Puzzle.PARITY_SHOWS,)
    assert proposal.profile is not None
    assert (proposal.profile.settings.bytesize, proposal.profile.settings.parity) == (7, parity)


@given(
    data=st.one_of(
        st.binary(max_size=300),
        st.lists(st.text("+-.,0123456789eE mMiI\"'HFV\x02\t", max_size=14), max_size=12)
        .map("\r\n".join)
        .map(str.encode),
    )
)
def test_any_bytes_give_a_proposal_or_a_puzzle_and_never_an_error(data: bytes) -> None:
    proposal = propose(data)
    assert proposal.profile is not None or proposal.puzzles
    assert proposal.understood <= proposal.lines
    if proposal.profile is not None:
        assert read_profile(proposal.toml, "proposed.toml") == proposal.profile
