"""Frames of 13 digits, one a byte: complete or refused, and every byte accounted for."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from instruments.nibbles import SETTLED_SECONDS, NibbleFramer
from instruments.records import Frame, Why

F4 = b"\x0f\x0f\x0f\x0f"
FRAME = F4 + bytes([0, 0, 0, 1, 2, 3, 4, 4, 0])
NEXT = F4 + bytes([8, 0, 0, 0, 0, 0, 5, 3, 0])

DIGITS = st.one_of(
    st.binary(max_size=30),
    st.lists(st.integers(0, 15), max_size=30).map(bytes),
    st.just(FRAME),
    st.just(NEXT),
)


@given(pieces=st.lists(st.tuples(DIGITS, st.sampled_from([0.0, 0.01, 0.1]), st.sampled_from(["", "", "idle", "cut"]))))
def test_every_byte_is_in_a_frame_refused_or_pending_and_in_order(pieces: list[tuple[bytes, float, str]]) -> None:
    framer, time, sent, found = NibbleFramer(), 0.0, b"", []
    for data, pause, event in pieces:
        time += pause
        found += framer.feed(data, time)
        sent += data
        found += framer.idle(time + 1.0) if event == "idle" else framer.cut() if event == "cut" else []
    assert b"".join(item.raw for item in found) + framer.pending == sent
    for item in found:
        if isinstance(item, Frame):
            assert len(item.raw) == 13
            assert item.raw.startswith(F4)
            assert max(item.raw[4:]) <= 9
            assert item.text == "".join(f"{digit:X}" for digit in item.raw)


def test_a_frame_is_seen_by_the_one_behind_it_or_by_silence() -> None:
    framer = NibbleFramer()
    assert framer.feed(FRAME, 0.0) == []
    first = framer.feed(NEXT, 0.01)
    second = framer.idle(0.01 + SETTLED_SECONDS + 0.01)
    assert [item.text for item in first + second if isinstance(item, Frame)] == ["FFFF000123440", "FFFF800000530"]


@pytest.mark.parametrize(
    ("damaged", "why"),
    [
        (FRAME[1:], Why.PARTIAL),
        (FRAME[:-1], Why.PARTIAL),
        (b"\x0f" + FRAME, Why.NOT_BCD),
        (FRAME + b"\x00", Why.NOT_BCD),
        (FRAME[:6] + FRAME[7:], Why.PARTIAL),
        (FRAME[:6] + b"\x00" + FRAME[6:], Why.NOT_BCD),
        (FRAME[:6] + b"\x0a" + FRAME[7:], Why.NOT_BCD),
        (FRAME[:6] + b"\x80" + FRAME[7:], Why.NOT_BCD),
    ],
)
def test_a_byte_too_few_or_too_many_or_foreign_is_refused_and_the_next_frame_is_read(damaged: bytes, why: Why) -> None:
    framer = NibbleFramer()
    found = framer.feed(damaged + NEXT, 0.0) + framer.idle(1.0)
    assert [item.text if isinstance(item, Frame) else item.why for item in found] == [why, "FFFF800000530"]


def test_a_frame_that_stands_still_in_the_middle_is_refused_in_two_parts() -> None:
    framer = NibbleFramer()
    framer.feed(FRAME[:7], 0.0)
    found = framer.feed(FRAME[7:], 0.2) + framer.idle(1.0)
    assert not any(isinstance(item, Frame) for item in found)


def test_a_flood_without_any_frame_is_refused_and_does_not_grow() -> None:
    framer = NibbleFramer()
    found = [item for _ in range(100) for item in framer.feed(b"\x01" * 50, 0.0)]
    assert {item.why for item in found if not isinstance(item, Frame)} == {Why.TOO_LONG}
    assert len(framer.pending) <= 256
