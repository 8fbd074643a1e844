"""One indicator: requests and their answers, double presses, silence, loss."""

from collections import deque
from decimal import Decimal

import pytest

from instruments.errors import PortNotFoundError
from instruments.indicator import DOUBLE_SECONDS, SILENT_SECONDS, Indicator
from instruments.lines import QUIET_SECONDS
from instruments.opening import open_indicator
from instruments.profile_files import load_profile, read_profile
from instruments.records import Arrival, Blank, Bytes, Change, Outcome, Reading, Refused, Said, Sent, Why


class ScriptedSource:
    """A source whose clock and arrivals the test sets."""

    name = "script"

    def __init__(self) -> None:
        self.time = 100.0
        self.arrivals: deque[Arrival] = deque()
        self.sent: list[bytes] = []
        self.closed = False

    def read(self, timeout: float) -> Arrival | None:
        if self.arrivals:
            return self.arrivals.popleft()
        self.time += timeout
        return None

    def write(self, data: bytes) -> None:
        self.sent.append(data)
        self.arrivals.append(Sent(data, self.time))

    def now(self) -> float:
        return self.time

    @property
    def ended(self) -> bool:
        return self.closed

    def close(self) -> None:
        self.closed = True

    def says(self, data: bytes, after: float = 0.0) -> None:
        self.time += after
        self.arrivals.append(Bytes(data, self.time))

    def changes(self, state: str) -> None:
        self.arrivals.append(Change("lost" if state == "lost" else "connected", self.time, "script"))


def opened(name: str) -> tuple[ScriptedSource, Indicator]:
    source = ScriptedSource()
    return source, Indicator(load_profile(name), source)


def state(indicator: Indicator) -> str:
    return indicator.state


def told(indicator: Indicator, steps: int = 1, timeout: float = 0.0) -> list[object]:
    """Values of the readings, reasons of the refusals and words of the next steps."""
    outcomes: list[Outcome] = [one for _ in range(steps) for one in indicator.poll(timeout).outcomes]
    return [
        outcome.value
        if isinstance(outcome, Reading)
        else outcome.why
        if isinstance(outcome, Refused)
        else outcome.words
        for outcome in outcomes
        if not isinstance(outcome, Blank)
    ]


def test_a_request_is_answered_and_may_be_followed_by_the_next() -> None:
    source, indicator = opened("ascii-request")
    source.time += QUIET_SECONDS
    for value in ("0.0123", "-0.0045"):
        assert indicator.ask()
        assert not indicator.ask(), "one at a time"
        source.says(f"{float(value):+08.4f},MM\r\n".encode(), after=0.05)
        assert told(indicator, 2) == [Decimal(value)]
    assert source.sent == [b"R\r", b"R\r"]


def test_the_first_request_waits_until_old_bytes_have_passed() -> None:
    source, indicator = opened("ascii-request")
    source.changes("connected")
    source.says(b"+00.0777,MM\r\n", after=0.1)
    assert not indicator.ask()
    assert told(indicator, 2) == [Why.PARTIAL]
    source.time += QUIET_SECONDS
    assert indicator.ask()


def test_what_comes_unasked_in_request_mode_is_stale_and_refused() -> None:
    source, indicator = opened("ascii-request")
    source.says(b"+00.0777,MM\r\n")
    assert told(indicator) == [Why.UNASKED]


def test_a_request_without_an_answer_is_told_and_a_late_answer_is_not_taken_for_the_next() -> None:
    source, indicator = opened("ascii-request")
    source.time += QUIET_SECONDS
    assert indicator.ask()
    assert told(indicator, 3, timeout=0.6) == [Why.NO_ANSWER]
    assert state(indicator) == "silent"
    assert not indicator.ask()
    source.says(b"+00.0111,MM\r\n", after=0.5)
    assert told(indicator) == [Why.UNASKED]
    source.time += 1.0
    assert indicator.ask()
    source.says(b"+00.0222,MM\r\n")
    assert told(indicator, 2) == [Decimal("0.0222")]
    assert state(indicator) == "connected"


def test_an_answer_that_is_cut_is_refused_and_its_rest_is_never_an_answer() -> None:
    source, indicator = opened("ascii-request")
    source.time += QUIET_SECONDS
    indicator.ask()
    source.says(b"+00.01")
    assert told(indicator, 2) == []
    assert told(indicator, 2, timeout=1.2) == [Why.PARTIAL, Why.NO_ANSWER]
    source.time += 1.0
    assert indicator.ask()
    source.says(b"11,MM\r\n")
    assert told(indicator, 2) == [Why.PARTIAL]
    assert indicator.ask(), "a bad answer need not be waited for"
    source.says(b"+00.0333,MM\r\n")
    assert told(indicator, 2) == [Decimal("0.0333")]


def test_a_new_request_cuts_what_came_of_the_last_answer() -> None:
    text = "about = 'x'\nmode = 'request'\nrequest = '?'\nanswer_seconds = '0.2'\nunit = 'mm'\n"
    quick = read_profile(text + "pattern = '(?P<number>[0-9.]+)'\nexample = '0.1'\n", "quick.toml")
    source = ScriptedSource()
    indicator = Indicator(quick, source)
    source.time += QUIET_SECONDS
    indicator.ask()
    source.says(b"0.1")
    assert told(indicator, 4, timeout=0.12) == [Why.PARTIAL, Why.NO_ANSWER]
    source.time += 0.2
    assert indicator.ask()
    source.says(b"0.2\n")
    assert told(indicator, 2) == [Why.PARTIAL], "it may be the rest of the first"


def test_a_missing_answer_is_told_with_the_time_it_was_due_at() -> None:
    source, indicator = opened("ascii-request")
    source.time += QUIET_SECONDS
    indicator.ask()
    due = source.time + 1.0
    outcomes = [one for _ in range(4) for one in indicator.poll(0.7).outcomes]
    assert outcomes == [Refused(b"", due, Why.NO_ANSWER)]


def test_an_answer_that_comes_too_late_is_refused_whenever_it_is_looked_at() -> None:
    source, indicator = opened("ascii-request")
    source.time += QUIET_SECONDS
    indicator.ask()
    source.says(b"+00.0111,MM\r\n", after=1.1)
    assert told(indicator, 2) == [Why.NO_ANSWER, Why.UNASKED]


def test_an_indicator_tells_who_it_is_and_what_its_errors_are() -> None:
    source, indicator = opened("scpi-query")
    source.time += QUIET_SECONDS
    assert indicator.identify()
    source.says(b"SHOP,INDICATOR,1,2\n")
    said = [one for _ in range(2) for one in indicator.poll(0.0).outcomes]
    assert isinstance(said[0], Said)
    assert (said[0].about, said[0].words) == ("identity", "SHOP,INDICATOR,1,2")
    assert indicator.ask_for_error()
    source.says(b'-113,"Undefined header"\n')
    assert told(indicator, 2) == ['-113,"Undefined header"']
    assert source.sent == [b"*IDN?\n", b"SYST:ERR?\n"]


def test_a_profile_without_such_questions_sends_nothing() -> None:
    source, indicator = opened("ascii-lines")
    assert (indicator.ask(), indicator.identify(), indicator.ask_for_error()) == (False, False, False)
    assert source.sent == []


def test_a_second_press_right_behind_the_first_is_the_same_press() -> None:
    source, indicator = opened("ascii-button")
    source.says(b"N +0.012 mm\r", after=1.0)
    source.says(b"N +0.012 mm\r", after=DOUBLE_SECONDS - 0.05)
    source.says(b"N +0.012 mm\r", after=DOUBLE_SECONDS + 0.05)
    assert told(indicator, 3) == [Decimal("0.012"), Why.DOUBLE, Decimal("0.012")]


def test_two_lines_in_one_read_of_a_stream_are_two_readings() -> None:
    source, indicator = opened("ascii-lines")
    source.says(b"+0.0120 mm\r\n+0.0130 mm\r\n")
    assert told(indicator) == [Decimal("0.0120"), Decimal("0.0130")]


def test_a_stream_that_stops_is_silent_and_a_button_that_waits_is_not() -> None:
    source, indicator = opened("ascii-lines")
    assert state(indicator) == "connected"
    source.time += SILENT_SECONDS + 0.1
    assert state(indicator) == "silent"
    source.says(b"+0.0120 mm\r\n")
    indicator.poll(0.0)
    assert state(indicator) == "connected"
    source, indicator = opened("ascii-button")
    source.time += 3600.0
    assert state(indicator) == "connected"


def test_a_lost_line_refuses_what_was_begun_and_shows_until_it_is_back() -> None:
    source, indicator = opened("ascii-button")
    source.says(b"N +0.01")
    source.changes("lost")
    assert told(indicator, 2) == [Why.PARTIAL]
    assert state(indicator) == "lost"
    source.changes("connected")
    assert told(indicator) == []
    assert state(indicator) == "connected"
    source.says(b"N +0.013 mm\r", after=QUIET_SECONDS)
    assert told(indicator) == [Decimal("0.013")]


def test_closing_refuses_what_is_pending_and_closes_the_source() -> None:
    source, indicator = opened("ascii-button")
    source.says(b"N +0.01")
    indicator.poll(0.0)
    (refused,) = indicator.close()
    assert isinstance(refused, Refused)
    assert refused.raw == b"N +0.01"
    assert source.closed


def test_a_frame_of_digits_is_read_when_the_line_is_quiet_behind_it() -> None:
    source, indicator = opened("bcd-13-digits-bytes")
    source.says(bytes([15, 15, 15, 15, 8, 0, 0, 1, 2, 3, 4, 4, 0]))
    assert told(indicator) == []
    assert told(indicator, 1, timeout=0.1) == [Decimal("-0.1234")]


def test_an_indicator_without_a_port_is_told() -> None:
    with pytest.raises(PortNotFoundError, match="ascii-lines names no port"):
        open_indicator(load_profile("ascii-lines"))
