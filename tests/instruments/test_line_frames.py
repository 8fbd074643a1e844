"""Lines: complete or refused, and every byte accounted for."""

from collections.abc import Sequence

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from instruments.lines import LONGEST, PAUSE_SECONDS, QUIET_SECONDS, TERMINATORS, LineFramer, Terminator
from instruments.records import Blank, Frame, Refused, Why

END = {"CR": b"\r", "LF": b"\n", "CRLF": b"\r\n", "any": b"\r"}
PIECES = st.lists(
    st.tuples(
        st.one_of(st.binary(max_size=40), st.sampled_from([b"\r", b"\n", b"\r\n", b"+0.0123 mm\r\n", b"x" * 300])),
        st.sampled_from([0.0, 0.01, 0.6, 1.5]),
        st.sampled_from(["", "", "", "idle", "cut", "interrupted"]),
    ),
    max_size=30,
)


def texts(found: Sequence[Frame | Refused | Blank]) -> list[str]:
    return [
        item.text if isinstance(item, Frame) else item.why.value if isinstance(item, Refused) else "" for item in found
    ]


@given(terminator=st.sampled_from(TERMINATORS), pieces=PIECES)
def test_every_byte_is_in_a_frame_refused_or_pending_and_in_order(
    terminator: Terminator, pieces: list[tuple[bytes, float, str]]
) -> None:
    framer, time, sent, found = LineFramer(terminator), 0.0, b"", []
    for data, pause, event in pieces:
        time += pause
        found += framer.feed(data, time)
        sent += data
        match event:
            case "idle":
                found += framer.idle(time + pause)
            case "cut":
                found += framer.cut()
            case "interrupted":
                found += framer.interrupted(time)
    assert b"".join(item.raw for item in found) + framer.pending == sent
    assert len(framer.pending) <= LONGEST
    for item in found:
        assert bool(item.raw.strip(b"\r\n")) is not isinstance(item, Blank), "a blank, and only a blank, says nothing"


@given(terminator=st.sampled_from(TERMINATORS), pieces=PIECES)
@example(terminator="CRLF", pieces=[(b"x" * 300, 0.0, ""), (b"\n", 0.0, ""), (b"1\r\n", 0.0, "")])
@example(terminator="CRLF", pieces=[(b"x" * 300 + b"\r", 0.0, ""), (b"\n", 0.0, ""), (b"1\r\n", 0.0, "")])
def test_a_frame_always_ends_with_its_terminator_and_began_behind_one(
    terminator: Terminator, pieces: list[tuple[bytes, float, str]]
) -> None:
    framer = LineFramer(terminator)
    sent = b"".join(data for data, _, _ in pieces)
    at = 0
    for data, _, _ in pieces:
        for item in framer.feed(data, 0.0):
            if isinstance(item, Frame):
                ends = (b"\r", b"\n") if terminator == "any" else (END[terminator],)
                assert item.raw.endswith(ends)
                assert at == 0 or sent[:at].endswith(ends)
            at += len(item.raw)


@given(terminator=st.sampled_from(TERMINATORS), data=st.binary(max_size=200), cuts=st.lists(st.integers(0, 200)))
def test_how_the_bytes_are_split_into_reads_changes_nothing(
    terminator: Terminator, data: bytes, cuts: list[int]
) -> None:
    whole = LineFramer(terminator).feed(data, 0.0)
    framer, split, at = LineFramer(terminator), [], 0
    for cut in sorted({*cuts, len(data)}):
        split += framer.feed(data[at:cut], 0.0)
        at = max(at, min(cut, len(data)))
    assert [(type(item), item.raw) for item in split] == [(type(item), item.raw) for item in whole]


@pytest.mark.parametrize(
    ("terminator", "data", "expected"),
    [
        ("CR", b"+0.1\r+0.2\r", ["+0.1", "+0.2"]),
        ("LF", b"+0.1\n+0.2\n", ["+0.1", "+0.2"]),
        ("CRLF", b"+0.1\r\n+0.2\r\n", ["+0.1", "+0.2"]),
        ("any", b"+0.1\r\n+0.2\r+0.3\n", ["+0.1", "+0.2", "+0.3"]),
        ("CR", b"+0.1\r\n+0.2\r\n", ["+0.1", "+0.2"]),
        ("LF", b"+0.1\r\n+0.2\r\n", ["+0.1", "+0.2"]),
        ("CRLF", b"+0.1\r+0.2\r\n", ["+0.1\r+0.2"]),
        ("any", b"\r\n\r\n+0.1\r\n\r\n", ["+0.1"]),
        ("LF", "−0.1 µm\n".encode(), ["−0.1 µm"]),
        ("LF", b"\xff\xfe\n+0.1\n", ["not_text", "+0.1"]),
        ("LF", b"+0.1", []),
    ],
)
def test_lines_as_senders_end_them(terminator: Terminator, data: bytes, expected: list[str]) -> None:
    assert texts(LineFramer(terminator).feed(data, 0.0)) == expected


def test_a_line_begun_before_listening_began_is_refused_with_its_bytes() -> None:
    framer = LineFramer("LF")
    framer.interrupted(0.0)
    found = framer.feed(b"23 mm\n+0.0124 mm\n", 0.01)
    assert texts(found) == ["partial", "+0.0124 mm"]
    assert found[0].raw == b"23 mm\n"


def test_the_first_line_counts_if_the_line_was_quiet_before_it() -> None:
    framer = LineFramer("LF")
    framer.interrupted(0.0)
    assert texts(framer.feed(b"+0.0123 mm\n", QUIET_SECONDS)) == ["+0.0123 mm"]


def test_a_line_that_is_cut_never_joins_what_comes_later() -> None:
    """The rest of a cut line must not be taken for a line of its own, however late it comes."""
    framer = LineFramer("LF")
    assert framer.feed(b"+0.01", 0.0) == []
    assert texts(framer.idle(PAUSE_SECONDS + 0.1)) == ["partial"]
    assert texts(framer.feed(b"23 mm\n+0.5 mm\n", 60.0)) == ["partial", "+0.5 mm"]


def test_a_pause_within_a_line_is_seen_without_a_call_in_between() -> None:
    framer = LineFramer("LF")
    framer.feed(b"+0.01", 0.0)
    assert texts(framer.feed(b"23 mm\n", PAUSE_SECONDS + 0.1)) == ["partial", "partial"]


def test_a_slow_line_is_not_cut() -> None:
    framer = LineFramer("LF")
    for at, byte in enumerate(b"+0.0123 mm"):
        assert framer.feed(bytes([byte]), at * 0.9 * PAUSE_SECONDS) == []
    assert texts(framer.feed(b"\n", 10 * 0.9 * PAUSE_SECONDS)) == ["+0.0123 mm"]


def test_a_lost_line_is_refused_and_the_first_after_it_is_not_trusted() -> None:
    framer = LineFramer("LF")
    framer.feed(b"+0.01", 0.0)
    assert texts(framer.interrupted(0.1)) == ["partial"]
    assert texts(framer.feed(b"1 mm\n+0.5 mm\n", 0.2)) == ["partial", "+0.5 mm"]


def test_a_new_question_cuts_an_unfinished_answer() -> None:
    framer = LineFramer("CR")
    framer.feed(b"+0.5\r\n+0.0", 0.0)
    assert texts(framer.cut()) == ["partial"]
    assert texts(framer.feed(b"1\r+0.7\r", 0.1)) == ["partial", "+0.7"]


def test_the_end_of_the_line_before_is_not_an_unfinished_answer() -> None:
    framer = LineFramer("CR")
    framer.feed(b"+0.5\r\n", 0.0)
    assert framer.cut() == []
    assert texts(framer.feed(b"+0.6\r\n", 0.1)) == ["+0.6"]


@pytest.mark.parametrize(("terminator", "left"), [("CR", b"\n"), ("any", b"\n"), ("any", b"\r\n"), ("LF", b"\r")])
def test_the_end_of_a_line_that_stands_alone_where_the_line_is_lost_is_no_refused_line(
    terminator: Terminator, left: bytes
) -> None:
    framer = LineFramer(terminator)
    framer.feed(b"+0.5 mm" + END[terminator] + left, 0.0)
    (blank,) = framer.interrupted(0.1)
    assert (type(blank), blank.raw) == (Blank, left)


@pytest.mark.parametrize(
    ("terminator", "data", "expected"),
    [
        ("any", b"\n+0.5 mm\r\n", ["", "+0.5 mm"]),
        ("LF", b"\n+0.5 mm\n", ["", "+0.5 mm"]),
        ("CRLF", b"\n+0.5 mm\r\n", ["", "+0.5 mm"]),
        ("CRLF", b"\r\n+0.5 mm\r\n", ["", "+0.5 mm"]),
        ("CR", b"\r+0.5 mm\r", ["", "+0.5 mm"]),
        ("CR", b"\n+0.5 mm\r", ["partial"]),
        ("LF", b"\r+0.5 mm\n", ["partial"]),
        ("CRLF", b"\r+0.5 mm\r\n", ["partial"]),
        ("any", b"m\r\n+0.5 mm\r\n", ["partial", "+0.5 mm"]),
    ],
)
def test_the_end_of_a_line_that_comes_first_is_no_line_and_the_next_line_counts(
    terminator: Terminator, data: bytes, expected: list[str]
) -> None:
    for cut in range(len(data) + 1):
        framer = LineFramer(terminator)
        framer.interrupted(0.0)
        found = framer.feed(data[:cut], 0.01) + framer.feed(data[cut:], 0.02)
        assert texts(found) == expected
        assert b"".join(item.raw for item in found) + framer.pending == data


def test_a_flood_of_empty_lines_is_no_line_and_does_not_grow() -> None:
    framer = LineFramer("LF")
    found = [item for _ in range(100) for item in framer.feed(b"\r\n" * 10, 0.0)]
    assert {type(item) for item in found} == {Blank}
    assert len(framer.pending) <= LONGEST
    assert texts(framer.feed(b"+0.5 mm\n", 0.1)) == ["+0.5 mm"]


def test_a_line_without_end_is_refused_up_to_the_next_terminator() -> None:
    framer = LineFramer("LF")
    found = framer.feed(b"9" * (LONGEST + 50), 0.0) + framer.feed(b"9" * 20 + b"\n+0.5 mm\n", 0.1)
    assert [item.why for item in found if isinstance(item, Refused)] == [Why.TOO_LONG, Why.PARTIAL]
    assert texts(found)[-1] == "+0.5 mm"


def test_the_time_of_a_line_is_that_of_its_first_byte() -> None:
    framer = LineFramer("CR")
    framer.feed(b"+0.1\r\n", 1.0)
    framer.feed(b"+0.", 5.0)
    (frame,) = framer.feed(b"2\r\n", 5.2)
    assert frame.time == 5.0
